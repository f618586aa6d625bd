package solver

import (
	"context"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A Trade is a truck that pays other damages than in the plan in force, so that a
// day can be offered.
type Trade struct {
	Truck    string
	Customer string // name for people
	From, To int64  // dollars, before and then
}

// trades lists the trucks that pay other damages in a than in the plan in force, in
// the order of the plant.
func (d *desk) trades(a *schedule.Answer) (list []Trade) {
	for _, c := range d.q.problem.Tiers[tierOfDamages].Costs {
		was, is := d.standing.Start[c.Task], a.Start[c.Task]
		if was < 0 || is < 0 || c.At[was] == c.At[is] {
			continue
		}
		t := d.q.work[c.Task].truck
		list = append(list, Trade{t.ID, customerName(d.p, t), c.At[was], c.At[is]})
	}
	return list
}

// traded asks whether a day that would cost some truck more damages is possible all
// the same, because others pay so much less. It reports whether that settled x.
func (s *standing) traded(ctx context.Context, x *Explanation, day calendar.Date) (bool, error) {
	d, err := s.at.at(ctx, x.Truck)
	if err != nil {
		return false, err
	}
	k := slices.IndexFunc(d.q.work[d.task].moves, func(m move) bool { return m.day() == day })
	if k < 0 {
		return false, nil
	}
	lo, hi := d.q.work[d.task].sameDay(k)
	a, status, err := d.decide(ctx, lo, hi)
	if err != nil {
		return false, err
	}
	switch status {
	case schedule.Infeasible:
		return false, nil
	case schedule.Unknown:
		x.Status = plant.Unknown
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s without somebody paying more damages; whether others could pay so much less was not decided in the time given: give more with --limit.", x.Truck, say(day))
		return true, nil
	}
	*x = Explanation{About: x.About, Truck: x.Truck, Visit: x.Visit, Day: day, Possible: true, Status: plant.Optimal, Calls: x.Calls, Given: x.Given}
	x.Sentence = fmt.Sprintf("%s can be shown on %s: no other confirmed visit moves and damages do not grow in all. %s", x.Truck, say(day), TradeSentence(d.trades(a)))
	return true, nil
}

// TradeSentence says who would pay more damages and who less: "In one such plan T-1
// pays $500 more and T-2 $500 less."
func TradeSentence(list []Trade) string { return "In one such plan " + traded(list) + "." }

// traded says who pays more damages and who less.
func traded(list []Trade) string {
	var more, less []string
	for _, t := range list {
		if by := t.To - t.From; by > 0 {
			more = append(more, fmt.Sprintf("%s pays %s more", t.Truck, Dollars(by)))
		} else {
			less = append(less, fmt.Sprintf("%s pays %s less", t.Truck, Dollars(-by)))
		}
	}
	return joined(append(more, less...), "and")
}
