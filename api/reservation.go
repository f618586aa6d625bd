package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A ReserveQuestion asks to hold a place for what was quoted.
type ReserveQuestion struct {
	Quote string
	Truck string        // number of the truck to be
	Until calendar.Date // last day on which it holds its place
	Why   string
}

// A Reservation is a place held for an order to come: a truck of the plant, with its visit
// and its work in the plan, so that nobody else is promised the same.
type Reservation struct {
	Quote    string
	Truck    string
	Visit    string // "" without one
	Until    calendar.Date
	Enters   calendar.Date // the line
	Day      calendar.Date // of the visit, held tentatively; calendar.None without one
	Delivery calendar.Date
	Revision int64 // in which it began
}

// AskReservation asks to hold a place for a quote, as a job. The order is planned for anew,
// in the plant as it is by then: when the day of the quote cannot be had any more, nothing
// is held.
func (a *App) AskReservation(ctx context.Context, who Actor, q ReserveQuestion) (*Job, error) {
	if err := who.must(ActQuote); err != nil {
		return nil, err
	}
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	quote, err := a.Quote(ctx, Service, q.Quote)
	if err != nil {
		return nil, err
	}
	order, today := quote.Order, s.Plant.AsOf.Date()
	switch {
	case quote.Result.Delivery == calendar.None:
		return nil, &Problem{Kind: Conflict, Title: "There is nothing to hold", Detail: "The quote found no day of delivery.", Next: "Ask for another quote."}
	case q.Until < today || q.Until > quote.Result.Delivery:
		return nil, invalid("until", fmt.Sprintf("A place cannot be held until %s.", q.Until), fmt.Sprintf("Give a day from today, %s, to the day of delivery, %s.", today, quote.Result.Delivery))
	case s.Plant.FindTruck(q.Truck) != nil:
		return nil, takenNumber(q.Truck)
	case len(q.Why) > maxWhy:
		return nil, invalid("why", "The reason is too long.", "Say it more briefly.")
	}
	numbered(&order, q.Truck)
	with := *s.Plant
	with.Trucks = append(slices.Clone(with.Trucks), order.Truck)
	with.Trucks[len(with.Trucks)-1].Line.Enters = today
	if order.Visit.ID != "" {
		with.Visits = append(slices.Clone(with.Visits), order.Visit)
	}
	if faults := plant.Validate(&with); len(faults) > 0 {
		return nil, faulty(faults)
	}
	return a.ask(ctx, who, JobReserve, q)
}

// numbered gives a would-be order the number of its truck.
func numbered(o *solver.Order, truck string) {
	o.Truck.ID = truck
	if o.Visit.ID != "" {
		o.Visit.ID, o.Visit.Truck = truck+"-F", truck
	}
}

// reserve holds the place. Somebody who changes the plant while the planner looks for it
// makes it look again.
func (a *App) reserve(ctx context.Context, j *Job, q ReserveQuestion) (*Reservation, error) {
	who := Actor{Name: j.Who, Acts: []string{ActRead, ActQuote}}
	quote, err := a.Quote(ctx, who, q.Quote)
	if err != nil {
		return nil, err
	}
	order := quote.Order
	numbered(&order, q.Truck)
	hold := plant.Reserved{Until: q.Until, For: "quote " + q.Quote}
	if quote.Note != "" {
		hold.For = quote.Note
	}
	for range tries {
		s, err := a.head(ctx)
		if err != nil {
			return nil, err
		}
		if s.Plant.FindTruck(q.Truck) != nil {
			made, err := a.holds(ctx, j.ID)
			switch {
			case err != nil:
				return nil, err
			case made: // by a process that died before it could say so
				return reservation(s, q), nil
			}
			return nil, takenNumber(q.Truck) // added since it was asked
		}
		r, p, err := solver.Reserve(ctx, s.Plant, order, hold, solver.Options{Clock: a.clock})
		if err != nil {
			return nil, quoting(err)
		}
		if p == nil || r.Delivery > quote.Result.Delivery {
			return nil, notHeld(quote, r)
		}
		s, err = a.change(ctx, who, ActQuote, Intent{Why: q.Why}, func(now *State) (*next, error) {
			if now.Revision.Number != s.Revision.Number {
				return nil, errOvertaken
			}
			held := func(tx Tx, rev Revision) error {
				e := entry[Hold]{Record{Kind: KindHold, ID: j.ID, State: "made", Ref: q.Quote}, Hold{Quote: q.Quote, Truck: q.Truck, Revision: rev.Number, On: p.AsOf.Date()}}
				return e.keep(tx)
			}
			return &next{plant: p, what: fmt.Sprintf("A place was held for truck %s until %s: delivery on %s.", q.Truck, q.Until, r.Delivery), follow: held}, nil
		})
		if errors.Is(err, errOvertaken) {
			continue
		}
		if err != nil {
			return nil, err
		}
		return reservation(s, q), nil
	}
	return nil, &Problem{Kind: Busy, Title: manyChange, Next: "Try again in a moment.", Wait: time.Second}
}

// holds reports whether a job has held its place already.
func (a *App) holds(ctx context.Context, job string) (made bool, err error) {
	err = a.store.View(ctx, func(tx Tx) error {
		_, err := tx.Get(KindHold, job)
		if errors.Is(err, ErrNone) {
			return nil
		}
		made = err == nil
		return err
	})
	return made, err
}

var errOvertaken = errors.New("somebody changed the plant meanwhile")

func takenNumber(truck string) *Problem {
	return invalid("truck", fmt.Sprintf("There is a truck %s already.", truck), "Give the order a number of its own.")
}

// notHeld is why the day of a quote is not held, by what the planner finds now. What it had
// no time to find is not ruled out.
func notHeld(quote *Quote, r *solver.QuoteResult) *Problem {
	was := fmt.Sprintf("It was %s, by revision %d.", quote.Result.Delivery, quote.Revision)
	if r.Status != plant.Infeasible && r.Bound <= quote.Result.Delivery {
		return &Problem{Kind: Busy, Title: "The quoted day was not found again in time", Detail: was + " It is not ruled out.", Next: "Ask to hold it again when the planner is less busy.", Wait: 30 * time.Second}
	}
	return &Problem{
		Kind: Conflict, Title: "The quoted day cannot be had any more", Detail: was + " " + nowInstead(r),
		Next: "Ask for the quote again, tell the customer the new day, and hold that.",
	}
}

func nowInstead(r *solver.QuoteResult) string {
	if r.Delivery == calendar.None {
		return "By now no day within the horizon leaves every promise alone."
	}
	if r.Status == plant.Feasible {
		return fmt.Sprintf("By now none before %s can be had, and %s can.", r.Bound, r.Delivery)
	}
	return fmt.Sprintf("By now the earliest is %s.", r.Delivery)
}

// reservation is the place that a truck of the plant holds.
func reservation(s *State, q ReserveQuestion) *Reservation {
	t := s.Plant.FindTruck(q.Truck)
	r := &Reservation{Quote: q.Quote, Truck: t.ID, Until: t.Reserved.Until, Enters: t.Line.Enters, Day: calendar.None, Delivery: t.Contract.Due, Revision: s.Revision.Number}
	for _, v := range s.Plant.Visits {
		if v.Truck == t.ID {
			r.Visit, r.Day = v.ID, v.Booking.Day
		}
	}
	return r
}

// Ordered makes a truck that holds its place one that is ordered.
func (a *App) Ordered(ctx context.Context, who Actor, i Intent, truck string) (*State, error) {
	return a.change(ctx, who, ActQuote, i, func(s *State) (*next, error) {
		p, t, err := holding(s.Plant, truck)
		if err != nil {
			return nil, err
		}
		for n := range p.Visits {
			if v := &p.Visits[n]; v.Truck == truck && v.Booking.State == plant.Tentative { // the coordinator holds it now
				v.Booking.HoldUntil = calendar.None
			}
		}
		t.Reserved = plant.Reserved{Until: calendar.None}
		return &next{plant: p, what: fmt.Sprintf("Truck %s was ordered: it has the place that was held for it.", truck)}, nil
	})
}

// Release gives up the place that a truck holds, with its visits and its work in the plan.
func (a *App) Release(ctx context.Context, who Actor, i Intent, truck string) (*State, error) {
	return a.change(ctx, who, ActQuote, i, func(s *State) (*next, error) {
		p, _, err := holding(s.Plant, truck)
		if err != nil {
			return nil, err
		}
		released(p, func(t *plant.Truck) bool { return t.ID == truck })
		return &next{plant: p, what: fmt.Sprintf("The place of truck %s was given up.", truck)}, nil
	})
}

// holding is a copy of the plant, and the truck in it that holds its place.
func holding(old *plant.Plant, truck string) (*plant.Plant, *plant.Truck, error) {
	p := *old
	p.Trucks, p.Visits = slices.Clone(p.Trucks), slices.Clone(p.Visits)
	t := p.FindTruck(truck)
	switch {
	case t == nil:
		return nil, nil, noSuch("truck", truck, truckNames(old))
	case t.Reserved.For == "":
		return nil, nil, &Problem{Kind: Conflict, Title: "No place is held for the truck", Detail: fmt.Sprintf("Truck %s is ordered.", truck), Next: "Take it out of the plant by the page of the truck, if it is not."}
	}
	return &p, t, nil
}

// released takes trucks that hold their place out of a plant, and returns their numbers. A
// free place on the line is given back for each.
func released(p *plant.Plant, gone func(*plant.Truck) bool) (list []string) {
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if t.Reserved.For == "" || !gone(t) {
			continue
		}
		list = append(list, t.ID)
		p.Line.FreeSlots = given(p.Line.FreeSlots, t)
	}
	if len(list) == 0 {
		return nil
	}
	lost := func(truck string) bool { return slices.Contains(list, truck) }
	var visits []string
	for _, v := range p.Visits {
		if lost(v.Truck) {
			visits = append(visits, v.ID)
		}
	}
	p.Trucks = slices.DeleteFunc(slices.Clone(p.Trucks), func(t plant.Truck) bool { return lost(t.ID) })
	p.Visits = slices.DeleteFunc(slices.Clone(p.Visits), func(v plant.Visit) bool { return lost(v.Truck) })
	if p.Plan != nil {
		plan := *p.Plan
		plan.Stages = slices.DeleteFunc(slices.Clone(plan.Stages), func(r plant.Planned) bool { return lost(r.Truck) })
		plan.Visits = slices.DeleteFunc(slices.Clone(plan.Visits), func(v plant.PlannedVisit) bool { return slices.Contains(visits, v.Visit) })
		plan.Revision++
		plan.Status = plant.Feasible
		p.Plan = rescored(p, &plan)
	}
	return list
}

// given gives the place of a truck back to the week in which it would have entered the line.
func given(list []plant.FreeSlot, t *plant.Truck) []plant.FreeSlot {
	list = slices.Clone(list)
	for i := range list {
		if s := &list[i]; s.Content == t.Content && s.Week <= t.Line.Enters && t.Line.Enters <= s.Week.AddDays(6) {
			s.Count++
			return list
		}
	}
	return list
}
