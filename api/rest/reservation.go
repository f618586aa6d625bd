package rest

import (
	"context"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/calendar"
)

// A wireReservation is a place held for an order to come.
type wireReservation struct {
	Quote    string  `json:"quote"`
	Truck    string  `json:"truck"`
	Visit    *string `json:"visit"`
	Until    *string `json:"until"`
	Enters   *string `json:"enters"` // the line
	Date     *string `json:"date"`   // of the visit, held tentatively
	Delivery *string `json:"delivery"`
	Revision int64   `json:"revision"` // in which it began
}

func toReservation(r *api.Reservation) wireReservation {
	return wireReservation{r.Quote, r.Truck, wire.Text(r.Visit), wire.Day(r.Until), wire.Day(r.Enters), wire.Day(r.Day), wire.Day(r.Delivery), r.Revision}
}

// postReservation asks to hold a place for what was quoted.
func postReservation(x *exchange) error {
	var in struct {
		Truck string `json:"truck"`
		Until string `json:"until"`
		Why   string `json:"why"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	q := api.ReserveQuestion{Quote: x.Param("id"), Truck: in.Truck, Why: in.Why}
	if in.Truck == "" {
		return invalid("truck", "The number of the truck is missing.", "Give the order a number of its own.")
	}
	var err error
	if q.Until, err = aDay("until", in.Until); err != nil {
		return err
	}
	if q.Until == calendar.None {
		return invalid("until", "Until when the place is to be held is missing.", "Give the last day of it, as YYYY-MM-DD.")
	}
	return x.asked(x.app.AskReservation(x.Request().Context(), x.who, q))
}

// orderTruck makes a truck that holds its place one that is ordered.
func orderTruck(x *exchange) error { return x.hold(x.app.Ordered) }

// dropReservation gives up the place of a truck.
func dropReservation(x *exchange) error { return x.hold(x.app.Release) }

// hold changes what is held for a truck.
func (x *exchange) hold(change func(context.Context, api.Actor, api.Intent, string) (*api.State, error)) error {
	truck := x.Param("id")
	i, err := x.intent("trucks/" + truck)
	if err != nil {
		return err
	}
	s, err := change(x.Request().Context(), x.who, i, truck)
	if err != nil {
		return err
	}
	return x.changed(s)
}
