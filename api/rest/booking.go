package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/solver/plant"
)

// A wireBooking is what was agreed about the day of a visit, and what the plan makes of
// it.
type wireBooking struct {
	Visit        string  `json:"visit"`
	Truck        string  `json:"truck"`
	State        string  `json:"state"`
	Day          *string `json:"day"`
	HoldUntil    *string `json:"hold_until"`
	TravelBought bool    `json:"travel_bought"`
	Frozen       bool    `json:"frozen"`
	PlannedDay   *string `json:"planned_day"` // in the plan in force
	Position     *string `json:"position"`
	Revision     int64   `json:"revision"` // of the plant that says so
}

func toBooking(s *api.State, v *plant.Visit) wireBooking {
	b := v.Booking
	w := wireBooking{
		Visit: v.ID, Truck: v.Truck, State: b.State, Day: wire.Day(b.Day), HoldUntil: wire.Day(b.HoldUntil), TravelBought: b.TravelBought,
		Frozen: s.Plant.Frozen(v), Revision: s.Revision.Number,
	}
	if o := planned(s.Plant, v.ID); o != nil {
		w.PlannedDay, w.Position = wire.Day(o.Day), wire.Text(o.Bay)
	}
	return w
}

func getBooking(x *exchange) error {
	t, err := x.app.Thing(x.Request().Context(), x.who, "visits/"+x.Param("id"))
	if err != nil {
		return err
	}
	s, err := x.app.State(x.Request().Context(), api.Service, 0)
	if err != nil {
		return err
	}
	v := s.Plant.FindVisit(x.Param("id"))
	if v == nil {
		return &api.Problem{Kind: api.NotFound, Title: "There is no such visit", Next: "Look it up in the list."}
	}
	// The tag is that of the visit. The plan may move without it, so nobody is told
	// that nothing has changed.
	x.Response().Header().Set("ETag", tag(t.Changed))
	return x.JSON(http.StatusOK, toBooking(s, v))
}

func putBooking(x *exchange) error {
	var in struct {
		State        string `json:"state"`
		Day          string `json:"day"`
		HoldUntil    string `json:"hold_until"`
		TravelBought bool   `json:"travel_bought"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	o := api.BookingOrder{State: in.State, TravelBought: in.TravelBought}
	var err error
	if o.Day, err = aDay("day", in.Day); err != nil {
		return err
	}
	if o.HoldUntil, err = aDay("hold_until", in.HoldUntil); err != nil {
		return err
	}
	i, err := x.intent("visits/" + x.Param("id"))
	if err != nil {
		return err
	}
	s, err := x.app.Book(x.Request().Context(), x.who, i, x.Param("id"), o)
	if err != nil {
		return x.asItIs(err)
	}
	x.detail = s.Revision.What
	x.Response().Header().Set("ETag", tag(s.Revision.Number))
	return x.JSON(http.StatusOK, toBooking(s, s.Plant.FindVisit(x.Param("id"))))
}

// asItIs adds to a booking that was not made how the booking is now.
func (x *exchange) asItIs(err error) error {
	p := api.AsProblem(err)
	if p.Kind != api.Conflict && p.Kind != api.Stale && p.Kind != api.Refused {
		return err
	}
	s, failed := x.app.State(x.Request().Context(), api.Service, 0)
	if failed != nil {
		return err
	}
	v := s.Plant.FindVisit(x.Param("id"))
	if v == nil {
		return err
	}
	with := *p
	with.Extra = map[string]any{"booking": toBooking(s, v)}
	for _, name := range extraNames(p) {
		with.Extra[name] = p.Extra[name]
	}
	return &with
}
