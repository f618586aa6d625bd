package sheet

import (
	"fmt"
	"slices"

	"wetdown/solver/plant"
)

type visit = plant.Visit

// bookingTable is the table of visits with their bookings. A row without the name
// of its visit is about the visit of its kind to its truck that is still to come;
// without a kind it is about the final inspection.
func bookingTable(p *plant.Plant, movePromises bool) *table[visit] {
	return &table[visit]{
		kind: Bookings, noun: "visit",
		columns: []column[visit]{
			id("visit", "id", func(v *visit) *string { return &v.ID }, "id", "visit id", "visit number", "visit no", "booking"),
			needed(id("truck", "truck", func(v *visit) *string { return &v.Truck }, "truck number", "truck no", "shop order", "shop order number", "shop order no", "order", "order number", "job", "job number", "job no", "unit")),
			word("kind", "kind", func(v *visit) *string { return &v.Kind }, visitKinds, "visit kind", "visit type", "type", "inspection"),
			needed(whole("heads", "heads", func(v *visit) *int { return &v.Heads }, 0, "people", "delegation", "delegation size", "visitors", "party", "party size", "guests")),
			needed(whole("halves", "halves", func(v *visit) *int { return &v.Halves }, 0, "half days", "length", "length half days", "length in half days")),
			needed(spans("windows", "windows", func(v *visit) *[]plant.Range { return &v.Windows }, "window", "available", "can come", "customer can come")),
			spans("blackouts", "blackouts", func(v *visit) *[]plant.Range { return &v.Blackouts }, "blackout", "blackout days", "not available", "cannot come"),
			weekdays("weekdays", "weekdays", func(v *visit) *[]weekday { return &v.Weekdays }, "preferred weekdays", "preferred days", "weekday"),
			whole("travel_days", "travel_days", func(v *visit) *int { return &v.TravelDays }, 0, "travel time", "days of travel"),
			ids("wishes", "wishes", func(v *visit) *[]string { return &v.Wishes }, "wish", "requests"),
			word("state", "booking.state", func(v *visit) *string { return &v.Booking.State }, states, "status", "booking state", "booking status"),
			day("day", "booking.day", func(v *visit) *date { return &v.Booking.Day }, "date", "visit day", "visit date", "inspection date", "booked", "booked for", "booked day"),
			day("hold_until", "booking.hold_until", func(v *visit) *date { return &v.Booking.HoldUntil }, "held until", "hold", "hold through"),
			yes("travel_bought", "booking.travel_bought", func(v *visit) *bool { return &v.Booking.TravelBought }, "travel", "travel booked", "flights bought", "flights booked", "tickets bought"),
		},
		fresh: func() visit {
			return visit{Kind: plant.FinalInspection, Booking: plant.Booking{State: plant.Requested, Day: none, HoldUntil: none}}
		},
		match: func(row *visit, given func(string) bool, _ []bool) int {
			if row.Kind == "" {
				row.Kind = plant.FinalInspection
			}
			if row.Booking.State == "" {
				row.Booking.State = plant.Requested
			}
			if given("visit") {
				return indexOf(p.Visits, row.ID, func(v *visit) string { return v.ID })
			}
			row.ID = row.Truck + "-" + row.Kind
			for i := range p.Visits {
				if v := &p.Visits[i]; v.Truck == row.Truck && v.Kind == row.Kind && v.Planned() {
					row.ID = v.ID
					return i
				}
			}
			return indexOf(p.Visits, row.ID, func(v *visit) string { return v.ID })
		},
		name:  func(v *visit) string { return v.ID },
		place: func(v *visit) string { return "visits[" + v.ID + "]" },
		refuse: func(had, row *visit) []trouble {
			if had == nil || movePromises || had.Booking.State != plant.Confirmed {
				return nil
			}
			return broken(p, had, row)
		},
	}
}

var (
	visitKinds = []string{plant.PrePaint, plant.GraphicsLayout, plant.FinalInspection, plant.ReInspection}
	states     = []string{plant.Requested, plant.Tentative, plant.Confirmed, plant.Held, plant.Cancelled, plant.NoShow}
)

// broken says what of a row takes back the promise of a confirmed visit: another
// day, truck or kind, a state in which the day may move, travel that is not bought
// any more, or days of the customer that leave the booked one out. That a visit
// was held, or that nobody came, is no promise broken.
func broken(p *plant.Plant, had, row *visit) (list []trouble) {
	state := plant.Confirmed
	if p.Frozen(had) {
		state = "frozen"
	}
	const next = "move it by a booking instead"
	day := had.Booking.Day
	say := func(column, cause string) {
		list = append(list, trouble{column, fmt.Sprintf("%s is %s for %v, and %s", had.ID, state, day, cause), next})
	}
	contains := func(runs []plant.Range) bool {
		return slices.ContainsFunc(runs, func(r plant.Range) bool { return r.Contains(day) })
	}
	after := row.Booking
	if after.Day != day {
		to := "no day"
		if after.Day != none {
			to = after.Day.String()
		}
		say("day", "the row moves it to "+to)
	}
	if !slices.Contains([]string{plant.Confirmed, plant.Held, plant.NoShow}, after.State) {
		say("state", "the row makes it "+after.State)
	}
	if had.Booking.TravelBought && !after.TravelBought && after.State == plant.Confirmed {
		say("travel_bought", "travel is bought, which the row takes back")
	}
	if row.Truck != had.Truck {
		say("truck", "the row gives it to "+row.Truck)
	}
	if row.Kind != had.Kind {
		say("kind", "the row makes it another kind of visit")
	}
	if contains(had.Windows) && !contains(row.Windows) {
		say("windows", "the row leaves no window for that day")
	}
	if !contains(had.Blackouts) && contains(row.Blackouts) {
		say("blackouts", "the row blacks that day out")
	}
	return list
}
