package solver

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// An OfferList says which days a truck's visit can take while everybody else is
// left in peace: every other confirmed visit keeps its day, every other visit is
// still held, damages do not grow in all and no truck newly misses a hard deadline.
// It is exact: a day is offered if and only if such a plan exists.
type OfferList struct {
	Truck   string
	Visit   string
	Status  plant.Status // optimal when every day was decided; feasible when time ran out
	Offers  []Offer
	Refused []Refused
	Given   []string // what the conditions change in the plan in force, whatever day is chosen; in sentences
}

// An Offer is a day that can be offered.
type Offer struct {
	Day  calendar.Date
	Bay  string // where the truck can stand
	Kept bool   // it is the day already booked
	// Trades are the trucks that pay more damages for the day, and those that pay less,
	// in one plan that holds it. Empty where a plan exists in which nobody pays more.
	Trades []Trade
}

// Refused is a day within the customer's windows that cannot be offered.
type Refused struct {
	Day     calendar.Date
	Decided bool // false: time ran out before it was known
	Reason  string
	// Costs are the best values with the visit on that day; a value over its
	// bound, the value without, is the price of the day. Empty when no plan at
	// all holds the day or the price was not worked out.
	Costs []plant.TierValue
}

// Offers decides every day for the visit of a truck. With o.Prices, it also works
// out what each refused day would cost. With o.Conditions, the plan that holds a day
// obeys these as well; when no plan does, the error is a Contradiction.
func Offers(ctx context.Context, p *plant.Plant, truck string, o Options) (*OfferList, error) {
	at, err := insist(ctx, p, truck, o.Conditions)
	if err != nil {
		return nil, err
	}
	d, err := at.at(ctx, truck)
	if err != nil {
		return nil, err
	}
	return d.offers(ctx, o)
}

// offers decides every day.
func (d *desk) offers(ctx context.Context, o Options) (*OfferList, error) {
	p, truck := d.p, d.q.work[d.task].truck.ID
	list := &OfferList{Truck: truck, Visit: d.visit().ID, Status: plant.Optimal, Given: d.given()}
	w := &d.q.work[d.task]
	for day := p.AsOf.Date(); day <= d.q.grid.Through(); day++ {
		if !w.hours.PatternWorks(day) || !slices.ContainsFunc(w.visit.Windows, func(r plant.Range) bool { return r.Contains(day) }) ||
			slices.ContainsFunc(w.moves, func(m move) bool { return m.day() == day }) {
			continue
		}
		reasons, _ := d.q.unsuited(w, day)
		list.Refused = append(list.Refused, Refused{Day: day, Decided: true, Reason: strings.TrimSuffix(strings.Join(reasons, " "), ".")})
	}
	for k := 0; k < len(w.moves); {
		lo, hi := w.sameDay(k)
		day := w.moves[k].day()
		k = hi + 1
		a, status, err := d.decide(ctx, lo, hi)
		if err != nil {
			return nil, err
		}
		switch status {
		case schedule.Feasible:
			offer := Offer{Day: day, Kept: d.booked(day)}
			if b := a.Machine[d.task]; b >= 0 {
				offer.Bay = p.Bays[b].ID
			}
			if trades := d.trades(a); slices.ContainsFunc(trades, func(t Trade) bool { return t.To > t.From }) {
				offer.Trades = trades
			}
			list.Offers = append(list.Offers, offer)
		case schedule.Infeasible:
			r := Refused{Day: day, Decided: true}
			if r.Reason, err = d.refusal(ctx, lo, hi, day); err != nil {
				return nil, err
			}
			if o.Prices {
				if r.Costs, err = d.price(ctx, lo, hi); err != nil {
					return nil, err
				}
			}
			list.Refused = append(list.Refused, r)
		default:
			list.Status = plant.Feasible
			list.Refused = append(list.Refused, Refused{Day: day, Reason: "not decided in the time given"})
		}
	}
	slices.SortStableFunc(list.Refused, func(x, y Refused) int { return cmp.Compare(x.Day, y.Day) })
	return list, nil
}

// refusal says why a day cannot be offered. Under conditions it is explained as Why
// does, since what a condition does is no promise of the session.
func (d *desk) refusal(ctx context.Context, lo, hi int, day calendar.Date) (string, error) {
	if len(d.q.conditions) > 0 {
		s, err := d.explained(ctx, d.q.work[d.task].truck.ID)
		if err != nil {
			return "", err
		}
		x, err := s.why(ctx, day)
		if err != nil || len(x.Reasons) > 0 {
			return strings.TrimSuffix(strings.Join(x.Reasons, " "), "."), err
		}
	}
	return d.because(d.prober.Conflict(ctx, d.task, lo, hi), day), nil
}

func (d *desk) booked(day calendar.Date) bool {
	b := d.visit().Booking
	return b.State != plant.Requested && b.Day == day
}

// price works out the best values with the visit on one day: what it would cost
// to offer the day all the same. Nothing when no plan holds the day.
func (d *desk) price(ctx context.Context, lo, hi int) ([]plant.TierValue, error) {
	p := d.q.problem
	p.Tiers = nil
	// Promises come before comfort: the last two tiers are left aside. The visit's
	// own price for being moved is left out of its tier; the coordinator asks.
	for _, t := range d.q.problem.Tiers[:5] {
		var costs []schedule.Cost
		for _, c := range t.Costs {
			if c.Task != d.task {
				costs = append(costs, c)
			}
		}
		p.Tiers = append(p.Tiers, schedule.Tier{Name: t.Name, Costs: costs})
	}
	without, _ := schedule.Verify(&p, d.standing)
	with, err := pinned(ctx, p, d.task, lo, hi, d.standing)
	if err != nil || with == nil {
		return nil, err
	}
	list := tierValues(append(with.Values, 0, 0), append(without, 0, 0))
	return list[:5], nil
}

// pinned solves the problem with one task kept to the starts in [lo, hi].
func pinned(ctx context.Context, p schedule.Problem, task, lo, hi int, near *schedule.Answer) (*schedule.Result, error) {
	p.Tasks = slices.Clone(p.Tasks)
	p.Arcs = slices.Clone(p.Arcs)
	t := p.Tasks[task]
	a := &schedule.Answer{Start: slices.Clone(near.Start), Machine: near.Machine}
	sub := t
	sub.Skip = false
	sub.Starts, sub.Ends = t.Starts[lo:hi+1], t.Ends[lo:hi+1]
	p.Tasks[task] = sub
	a.Start[task] = 0
	for i := range p.Arcs {
		if arc := &p.Arcs[i]; arc.From == task {
			if arc.Earliest != nil {
				arc.Earliest = arc.Earliest[lo : hi+1]
			}
			if arc.Latest != nil {
				arc.Latest = arc.Latest[lo : hi+1]
			}
		}
	}
	p.Resources = slices.Clone(p.Resources)
	for r := range p.Resources {
		uses := slices.Clone(p.Resources[r].Uses)
		for u := range uses {
			if uses[u].Task == task && uses[u].From != nil {
				uses[u].From = uses[u].From[lo : hi+1]
			}
		}
		p.Resources[r].Uses = uses
	}
	var together [][2]int
	for _, pair := range p.Together { // what is left out with it takes place as well
		switch {
		case pair[0] == task:
			p.Tasks[pair[1]].Skip = false
		case pair[1] == task:
			p.Tasks[pair[0]].Skip = false
		default:
			together = append(together, pair)
		}
	}
	p.Together = together
	r, err := schedule.Solve(ctx, &p, schedule.Options{Prefer: a})
	if err != nil || r.Answer == nil {
		return nil, err
	}
	return r, nil
}
