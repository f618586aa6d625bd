package plant

import "wetdown/calendar"

// Kinds of visit.
const (
	PrePaint        = "pre_paint"
	GraphicsLayout  = "graphics_layout"
	FinalInspection = "final_inspection"
	ReInspection    = "re_inspection"
)

// States of a booking. The words tentative, confirmed and cancelled are those of
// RFC 5545.
const (
	Requested = "requested"
	Tentative = "tentative"
	Confirmed = "confirmed"
	Held      = "done"
	Cancelled = "cancelled"
	NoShow    = "no_show"
)

// A Visit is a delegation that comes to see one truck.
type Visit struct {
	ID         string
	Truck      string
	Kind       string
	Heads      int                // people in the delegation
	Halves     int                // length in working parts of the day
	Windows    []Range            // days the customer can come; every visit day lies in one of them
	Blackouts  []Range            // days on which neither visit nor travel may fall
	Weekdays   []calendar.Weekday // preferred days of the week to start; empty: no preference
	TravelDays int                // days of travel before and after, each free of blackouts and the customer's holidays
	Wishes     []string           // ids of wishes: drive, pump
	Booking    Booking
}

// A Booking is what was agreed about the day of a visit.
type Booking struct {
	State        string
	Day          calendar.Date // first day of the visit; calendar.None while only requested
	HoldUntil    calendar.Date // last day a tentative day is held
	TravelBought bool          // the customer has bought travel: frozen whatever the ladder says
}

// A Notice is a rung of the notice ladder: what must have happened by so many
// days before a visit.
type Notice struct {
	ID         string // window, week, tentative, confirmed, roster, frozen, go_no_go
	Name       string
	DaysBefore int
}

// Planned reports whether the visit still has to take place in a plan.
func (v *Visit) Planned() bool {
	switch v.Booking.State {
	case Requested, Tentative, Confirmed:
		return true
	}
	return false
}

// Frozen reports whether the visit is confirmed and travel is bought, said so or
// by the ladder's rung "frozen".
func (p *Plant) Frozen(v *Visit) bool {
	if v.Booking.State != Confirmed {
		return false
	}
	if v.Booking.TravelBought {
		return true
	}
	for _, n := range p.Notice {
		if n.ID == "frozen" {
			return v.Booking.Day-p.AsOf.Date() <= calendar.Date(n.DaysBefore)
		}
	}
	return false
}
