package api

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// bookingSteps says which state of a booking may follow which, by the words of the
// plant file. What is not here is refused with what may follow.
var bookingSteps = map[string][]string{
	plant.Requested: {plant.Tentative, plant.Confirmed, plant.Cancelled},
	plant.Tentative: {plant.Tentative, plant.Confirmed, plant.Requested, plant.Cancelled},
	plant.Confirmed: {plant.Confirmed, plant.Tentative, plant.Held, plant.NoShow, plant.Cancelled},
	plant.NoShow:    {plant.Requested},
	plant.Cancelled: {plant.Requested},
	plant.Held:      nil,
}

// A BookingOrder is what is to become of the booking of a visit.
type BookingOrder struct {
	State        string
	Day          calendar.Date // for tentative and confirmed; calendar.None: as it is now
	HoldUntil    calendar.Date // for tentative; calendar.None: no end
	TravelBought bool          // for confirmed
}

// patience is how long a booking waits for the planner.
const patience = 20 * time.Second

// Book takes the booking of a visit to another state or day. A day that the plan does
// not have for the visit is booked only if a plan holds it that leaves everybody else
// in peace, and that plan is then in force. A day that cannot be had is a problem that
// says why.
func (a *App) Book(ctx context.Context, who Actor, i Intent, visit string, o BookingOrder) (*State, error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	return a.change(ctx, who, ActBook, i, func(s *State) (*next, error) { return a.rebook(s, visit, o) })
}

// Foresee says what a booking would do to everybody, and changes nothing. A booking that
// would be refused is refused in the same words.
func (a *App) Foresee(ctx context.Context, who Actor, visit string, o BookingOrder) (*solver.Impact, error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	f := func(s *State) (*next, error) { return a.rebook(s, visit, o) }
	s, n, err := a.step(ctx, f)
	if err != nil {
		return nil, err
	}
	if n.plan != nil {
		leave, err := a.desk.sit(ctx)
		if err != nil {
			return nil, err
		}
		defer leave()
		if s, n, err = a.planned(ctx, f); err != nil {
			return nil, err
		}
	}
	if s.Plant.Plan == nil {
		return &solver.Impact{}, nil
	}
	return solver.Compare(s.Plant, n.plant, nil, n.plant.Plan)
}

// rebook makes the plant with another booking of a visit.
func (a *App) rebook(s *State, visit string, o BookingOrder) (*next, error) {
	v := s.Plant.FindVisit(visit)
	if v == nil {
		return nil, noSuch("visit", visit, visitNames(s.Plant))
	}
	b, err := a.booking(s.Plant, v, o)
	if err != nil {
		return nil, err
	}
	n := &next{what: bookingSentence(s.Plant, v, b)}
	switch {
	case !planned(b.State) || !v.Planned():
		n.plant, err = rested(s.Plant, visit, b)
	case b.State == plant.Requested || s.Plant.Plan == nil || s.Plant.Plan.Day(visit) == b.Day:
		n.plant, err = solver.Booked(s.Plant, visit, b)
		if err == nil && b.State == plant.Requested && complains(n.plant, visit) {
			n.plant, err = rested(s.Plant, visit, b)
		}
	default:
		n.plan = func(ctx context.Context) (*plant.Plant, error) { return a.take(ctx, s, visit, b) }
	}
	return n, err
}

// booking is the booking that an order makes of a visit's, or a problem.
func (a *App) booking(p *plant.Plant, v *plant.Visit, o BookingOrder) (plant.Booking, error) {
	none := plant.Booking{}
	may, known := bookingSteps[v.Booking.State], bookingSteps[o.State]
	switch {
	case known == nil && o.State != plant.Held:
		return none, invalid("state", fmt.Sprintf("%q is no state of a booking.", o.State), "Write one of: "+strings.Join(bookingStates(), ", ")+".")
	case !slices.Contains(may, o.State):
		next := "Nothing can follow it: add another visit if the delegation comes again."
		if len(may) > 0 {
			next = "What can follow: " + strings.Join(may, ", ") + "."
		}
		return none, &Problem{Kind: Conflict, Title: "The booking does not go that way", Detail: fmt.Sprintf("Visit %s is %s, which %s cannot follow.", v.ID, spoken(v.Booking.State), spoken(o.State)), Next: next, Extra: map[string]any{"state": v.Booking.State, "may_follow": may}}
	}
	b := plant.Booking{State: o.State, Day: v.Booking.Day, HoldUntil: calendar.None}
	today := a.today(p)
	switch o.State {
	case plant.Requested:
		b.Day = calendar.None
	case plant.Tentative, plant.Confirmed:
		if o.Day != calendar.None {
			b.Day = o.Day
		}
		b.TravelBought = o.State == plant.Confirmed && o.TravelBought
		if o.State == plant.Tentative {
			b.HoldUntil = o.HoldUntil
		}
		switch {
		case b.Day == calendar.None:
			return none, invalid("day", "A booking that is "+o.State+" needs a day.", "Give the first day of the visit.")
		case b.Day < today && b.Day != v.Booking.Day:
			return none, invalid("day", fmt.Sprintf("%s has passed.", b.Day), "Give a day to come.")
		case b.HoldUntil != calendar.None && (b.HoldUntil < today || b.HoldUntil > b.Day):
			return none, invalid("hold_until", fmt.Sprintf("The day cannot be held until %s.", b.HoldUntil), fmt.Sprintf("Give a day from today, %s, to the day of the visit, %s.", today, b.Day))
		}
	case plant.Held, plant.NoShow:
		if v.Booking.Day > today {
			return none, &Problem{Kind: Conflict, Title: "The visit is still to come", Detail: fmt.Sprintf("Visit %s is on %s.", v.ID, v.Booking.Day), Next: "Say so when its day has come, or cancel it."}
		}
	}
	return b, nil
}

// planned reports whether a visit in that state still has to take place.
func planned(state string) bool {
	return (&plant.Visit{Booking: plant.Booking{State: state}}).Planned()
}

func bookingStates() []string {
	return []string{plant.Requested, plant.Tentative, plant.Confirmed, plant.Held, plant.Cancelled, plant.NoShow}
}

// spoken is a word of the plant file as people say it.
func spoken(word string) string { return strings.ReplaceAll(word, "_", " ") }

// rested is the plant with a visit that no longer takes place, or asks anew: the plan
// gives up its stages, and asks nothing new of anybody.
func rested(old *plant.Plant, visit string, b plant.Booking) (*plant.Plant, error) {
	p := *old
	p.Visits = slices.Clone(p.Visits)
	v := p.FindVisit(visit)
	was := v.Planned()
	v.Booking = b
	if p.Plan == nil {
		return &p, nil
	}
	plan := *p.Plan
	plan.Visits = slices.DeleteFunc(slices.Clone(plan.Visits), func(o plant.PlannedVisit) bool { return o.Visit == visit })
	if v.Planned() {
		plan.Visits = append(plan.Visits, plant.PlannedVisit{Visit: visit, Outcome: plant.Broken, Day: calendar.None})
		slices.SortFunc(plan.Visits, func(x, y plant.PlannedVisit) int { return strings.Compare(x.Visit, y.Visit) })
	}
	if was {
		plan.Stages = slices.DeleteFunc(slices.Clone(plan.Stages), func(r plant.Planned) bool {
			stage, _, _ := strings.Cut(r.Stage, ".")
			g := old.FindStage(stage)
			return r.Truck == v.Truck && g != nil && g.Visit == v.Kind
		})
	}
	plan.Revision++
	plan.Status = plant.Feasible
	p.Plan = rescored(&p, &plan)
	return &p, nil
}

// complains reports whether the plan in force breaks a rule about a visit. One that has
// given its day back may be too near to keep it: the customer would not have the notice that
// everybody gets.
func complains(p *plant.Plant, visit string) bool {
	return p.Plan != nil && slices.ContainsFunc(check.Plan(p, p.Plan).Broken, func(b check.Violation) bool { return b.Visit == visit })
}

// take books a day that the plan does not have for the visit. The caller sits at the desk.
func (a *App) take(ctx context.Context, s *State, visit string, b plant.Booking) (*plant.Plant, error) {
	d, err := a.onDesk(ctx, s)
	if err != nil {
		return nil, err
	}
	no, err := d.Take(ctx, visit, b)
	if err != nil {
		if ctx.Err() != nil {
			err = ctx.Err()
		}
		return nil, planning(err)
	}
	if no != nil {
		if !no.Decided {
			return nil, planning(context.DeadlineExceeded)
		}
		return nil, &Problem{
			Kind: Refused, Title: "This day cannot be had",
			Detail: fmt.Sprintf("Visit %s cannot be on %s. %s", visit, b.Day, sentence(no.Reason)),
			Next:   "Ask for the days on offer, or for the reasons and what would help.",
			Extra:  map[string]any{"visit": visit, "day": b.Day.String(), "revision": s.Revision.Number},
		}
	}
	return d.Plant()
}

func visitNames(p *plant.Plant) (names []string) {
	for i := range p.Visits {
		names = append(names, p.Visits[i].ID)
	}
	return names
}

// bookingSentence says what becomes of a booking.
func bookingSentence(p *plant.Plant, v *plant.Visit, b plant.Booking) string {
	was := v.Booking
	name := fmt.Sprintf("Visit %s to truck %s", v.ID, v.Truck)
	switch {
	case b.State == plant.Requested && was.State == plant.Tentative:
		return name + " gave back " + was.Day.String() + " and is requested again."
	case !planned(b.State) || b.Day == calendar.None:
		return name + " is " + spoken(b.State) + "."
	case was.Day != calendar.None && was.Day != b.Day:
		return fmt.Sprintf("%s moved from %s to %s and is %s.", name, was.Day, b.Day, b.State)
	case b.HoldUntil != calendar.None:
		return fmt.Sprintf("%s is %s on %s, held until %s.", name, b.State, b.Day, b.HoldUntil)
	case b.TravelBought:
		return fmt.Sprintf("%s is %s on %s, travel is bought.", name, b.State, b.Day)
	}
	return fmt.Sprintf("%s is %s on %s.", name, b.State, b.Day)
}

// Following lists the states that can follow a state of a booking.
func Following(state string) []string { return slices.Clone(bookingSteps[state]) }
