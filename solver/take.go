package solver

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// Take books a visit on a day that can be offered, and puts a plan in force that holds
// it and leaves everybody else in peace in the sense of OfferList. Where the plan in
// force has the visit on that day already, it is as Book. A day that cannot be offered
// changes nothing, and comes back with its reason.
//
// The plan is right and nothing more: that it is the best one is not proven, so that
// an answer on the telephone need not wait. Plan makes it so.
func (d *Desk) Take(ctx context.Context, visit string, b plant.Booking) (*Refused, error) {
	s, err := d.sitting()
	if err != nil {
		return nil, err
	}
	p, err := rebooked(s.p, visit, b)
	if err != nil || b.State == plant.Requested || s.p.Plan.Day(visit) == b.Day {
		d.mu.Unlock()
		if err != nil {
			return nil, err
		}
		return nil, d.Book(visit, b)
	}
	defer d.mu.Unlock()
	v := s.p.FindVisit(visit)
	at, err := s.at(ctx, v.Truck)
	if err != nil {
		return nil, err
	}
	at.task = slices.IndexFunc(s.q.work, func(w work) bool { return w.visit != nil && w.visit.ID == visit && w.wish == nil && w.run == nil })
	if at.task < 0 {
		return nil, &NoVisit{v.Truck, "its visit " + visit + " is under way: it can no longer be booked"}
	}
	at.hold(true)
	w := &s.q.work[at.task]
	k := slices.IndexFunc(w.moves, func(m move) bool { return m.day() == b.Day })
	if k < 0 {
		reasons, _ := s.q.unsuited(w, b.Day)
		return &Refused{Day: b.Day, Decided: true, Reason: strings.TrimSuffix(strings.Join(reasons, " "), ".")}, nil
	}
	lo, hi := w.sameDay(k)
	a, status, err := at.decide(ctx, lo, hi)
	switch {
	case err != nil:
		return nil, err
	case status == schedule.Infeasible:
		r := &Refused{Day: b.Day, Decided: true}
		r.Reason, err = at.refusal(ctx, lo, hi, b.Day)
		return r, err
	case status != schedule.Feasible:
		return &Refused{Day: b.Day, Reason: "not decided in the time given"}, nil
	}
	p.Plan = booked(p, s.q.plan(a), visit)
	if v := check.Plan(p, p.Plan); !v.Right() {
		return nil, fmt.Errorf("%w: with visit %s on %s: %s", ErrJudge, visit, b.Day, v.Broken[0].Sentence)
	}
	d.change(s.then(p), "the booking of "+visit)
	return nil, nil
}

// rebooked is the plant with another booking of one visit, and the plan as it was. A
// booking that the plant file could not hold is an error.
func rebooked(old *plant.Plant, visit string, b plant.Booking) (*plant.Plant, error) {
	v := old.FindVisit(visit)
	switch {
	case v == nil:
		return nil, fmt.Errorf("there is no visit %q: name one of the plant's visits", visit)
	case !v.Planned():
		return nil, fmt.Errorf("visit %s is %s: only a visit that has yet to take place can be booked", visit, v.Booking.State)
	case b.State != plant.Requested && b.Day > old.Horizon.Through:
		return nil, fmt.Errorf("visit %s: nothing after %s is planned: book an earlier day", visit, say(old.Horizon.Through))
	}
	p := *old
	p.Visits = slices.Clone(p.Visits)
	p.FindVisit(visit).Booking = b
	if !p.FindVisit(visit).Planned() {
		return nil, fmt.Errorf("%q is no state of a booking: it is %s, %s or %s", b.State, plant.Requested, plant.Tentative, plant.Confirmed)
	}
	if faults := plant.Validate(&p); len(faults) > 0 {
		return nil, fmt.Errorf("visit %s cannot be booked so: %s", visit, faults[0])
	}
	return &p, nil
}

// Booked is a plant with another booking of one visit whose day is that of the plan in
// force, or which has none: see Desk.Book. Without a plan it is the booking alone.
func Booked(p *plant.Plant, visit string, b plant.Booking) (*plant.Plant, error) {
	out, err := rebooked(p, visit, b)
	if err == nil && p.Plan != nil {
		out.Plan = booked(out, p.Plan, visit)
	}
	return out, err
}
