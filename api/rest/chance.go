package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
)

// wireChances are how likely a truck is ready for its visit on each day.
type wireChances struct {
	Plant int64   `json:"plant_revision"`
	Visit string  `json:"visit"`
	Truck string  `json:"truck"`
	State string  `json:"state"`
	Date  *string `json:"date"` // by the plan in force
	wire.DayChances
}

func toChances(c *api.VisitChances) wireChances {
	return wireChances{c.Revision, c.Visit, c.Truck, c.State, wire.Day(c.Day), wire.ToChances(c.Basis, c.SafeFrom, wire.Each(c.Days, func(d api.DayChance) wire.DayChance {
		return wire.ToDayChance(d.Day, d.Chance)
	}))}
}

func getChances(x *exchange) error {
	c, err := x.app.VisitChances(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toChances(c))
}
