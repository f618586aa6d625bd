package rest

import (
	"net/http"

	"wetdown/api/wire"
)

// A wireOnTime is what came when it was said.
type wireOnTime struct {
	AsOf   *string       `json:"as_of"` // what came before it counts
	Counts []wire.OnTime `json:"counts"`
}

func getOnTime(x *exchange) error {
	o, err := x.app.OnTime(x.Request().Context(), x.who, x.QueryParam("by"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, wireOnTime{wire.Day(o.AsOf), wire.ToOnTime(o.Groups)})
}
