package solver

import (
	"context"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// Repairs judge damages as offers do, by their sum over all trucks: one may pay more
// where others pay as much less. What a set pays for a truck (pay_damages) covers that
// truck alone, up to the day paid for; beyond that it has to be made up for by others.
//
// Truck by truck comes first: a plan in which nobody pays more than that is one in sum,
// and is found sooner. The sum is asked about when there is none.

// was is what a truck with a vow about damages pays by it, in dollars.
func (w vow) was(p *plant.Plant) int64 {
	t := p.FindTruck(w.truck)
	if w.by == calendar.None {
		return int64(t.Contract.DamagesCap)
	}
	return contractDamages(t, w.by)
}

// pays reports whether the vow is about damages.
func (w vow) pays() bool { return w.visit == "" && w.due != calendar.None }

// summed leaves of vows about damages only the deadline that is kept.
func summed(p *plant.Plant, list []vow) (out []vow) {
	for _, w := range list {
		if w.pays() {
			d := p.FindTruck(w.truck).Contract.Deadline
			if d == calendar.None || w.by == calendar.None || w.by > d {
				continue
			}
			w.by, w.due = d, calendar.None
		}
		out = append(out, w)
	}
	return out
}

// A purse is what may be paid in damages while vows are kept and actions taken.
type purse struct {
	p        *plant.Plant
	most     int64            // dollars, of all trucks in it
	was      map[string]int64 // what a truck pays by its vow
	paid     map[string]int64 // what is paid for it beside
	unshared []string         // the trucks, in the order of the vows
}

// purseOf is what some vows leave to be paid.
func purseOf(p *plant.Plant, list []vow, actions []plant.Action) *purse {
	u := &purse{p: p, was: map[string]int64{}, paid: map[string]int64{}}
	for _, w := range list {
		if !w.pays() {
			continue
		}
		u.unshared = append(u.unshared, w.truck)
		u.was[w.truck] = w.was(p)
		u.most += u.was[w.truck]
		for i := range actions {
			if a := &actions[i]; w.by != calendar.None && a.Kind == plant.PayDamages && a.Truck == w.truck {
				u.paid[w.truck] = max(u.paid[w.truck], contractDamages(p.FindTruck(w.truck), w.later(p, a.Days))-u.was[w.truck])
			}
		}
	}
	return u
}

// charge is what a truck takes out of the purse if it is delivered on a day.
func (u *purse) charge(truck string, day calendar.Date) int64 {
	was, ok := u.was[truck]
	if !ok {
		return 0
	}
	d := contractDamages(u.p.FindTruck(truck), day)
	return min(d, max(was, d-u.paid[truck]))
}

// spent is what a plan takes out of the purse.
func (u *purse) spent(p *plant.Plant, plan *plant.Plan) (sum int64) {
	for _, d := range Deliveries(p, plan) {
		if d.Day != calendar.None {
			sum += u.charge(d.Truck, d.Day)
		}
	}
	return sum
}

// within reports whether the purse is enough for a plan.
func (u *purse) within(p *plant.Plant, plan *plant.Plan) bool { return u.spent(p, plan) <= u.most }

// tier is what the starts of q take out of the purse.
func (u *purse) tier(q *question) schedule.Tier {
	t := schedule.Tier{Name: plant.TierDamages}
	for i := range q.work {
		w := &q.work[i]
		if _, ok := u.was[w.truck.ID]; !ok || !w.stage.Delivers || w.wish != nil {
			continue
		}
		c := schedule.Cost{Task: i}
		for _, m := range w.moves {
			c.At = append(c.At, u.charge(w.truck.ID, m.last()))
		}
		t.Costs = append(t.Costs, c)
	}
	return t
}

// trade reports whether some truck could pay more because others pay less: what these
// can save together is enough for one day more of it.
func (s *search) trade(u *purse) (bool, error) {
	if s.least == nil {
		if err := s.spare(); err != nil {
			return false, err
		}
	}
	var spare int64
	for _, id := range u.unshared {
		spare += max(0, u.was[id]-s.least[id])
	}
	if spare == 0 {
		return false, nil
	}
	return slices.ContainsFunc(u.unshared, func(id string) bool {
		c := &s.p.FindTruck(id).Contract
		more := int64(c.DamagesPerDay)
		if c.DamagesCap > 0 {
			more = min(more, int64(c.DamagesCap)-u.was[id]-u.paid[id])
		}
		return more > 0 && more <= spare-max(0, u.was[id]-s.least[id])
	}), nil
}

// spare works out the least that each truck can pay in damages, whatever measures are
// taken: its earliest delivery, all others left aside.
func (s *search) spare() error {
	p, _ := loosened(s.p, nil, s.actions)
	q, lost, err := poseSome(Under(p, s.conditions), nil, s.ledger, nil, nil)
	if err != nil {
		return err
	}
	s.least = map[string]int64{}
	if len(lost) > 0 {
		return nil // no plan at all: nothing is to be known of what it costs
	}
	lo := q.earliest()
	for i := range q.work {
		if w := &q.work[i]; w.stage.Delivers && w.wish == nil && lo[i] < len(w.moves) {
			s.least[w.truck.ID] = contractDamages(w.truck, w.moves[lo[i]].last())
		}
	}
	return nil
}

// earliest is the first start of every task that the order of work alone leaves it.
func (q *question) earliest() []int {
	lo := make([]int, len(q.work))
	for again := true; again; {
		again = false
		for i := range q.problem.Arcs {
			a := &q.problem.Arcs[i]
			from, to := &q.problem.Tasks[a.From], &q.problem.Tasks[a.To]
			if from.Skip || to.Skip || a.Earliest == nil || lo[a.From] >= len(a.Earliest) {
				continue
			}
			for lo[a.To] < len(to.Starts) && to.Starts[lo[a.To]] < a.Earliest[lo[a.From]] {
				lo[a.To]++
				again = true
			}
		}
	}
	return lo
}

// rest is what the purse has for some trucks, nil for all, when the others spare what
// they can.
func (s *search) rest(u *purse, only map[string]bool) int64 {
	most := u.most
	for _, id := range u.unshared {
		if only != nil && !only[id] {
			most -= min(u.was[id], s.least[id])
		}
	}
	return most
}

// afford looks for an answer of q that takes no more than so much out of a purse.
func (q *question) afford(ctx context.Context, u *purse, most int64, near *schedule.Answer) (*schedule.Answer, schedule.Status, error) {
	within, cancel := context.WithCancel(ctx)
	defer cancel()
	problem := q.problem
	problem.Tiers = []schedule.Tier{u.tier(q)}
	var found *schedule.Answer
	over := false
	r, err := schedule.Solve(within, &problem, schedule.Options{Prefer: near, Report: func(g schedule.Progress) {
		if found == nil && g.Answer != nil && g.Values[0] <= most {
			found = &schedule.Answer{Start: slices.Clone(g.Answer.Start), Machine: slices.Clone(g.Answer.Machine)}
		}
		over = over || g.Bounds[0] > most
		if found != nil || over {
			cancel()
		}
	}})
	switch {
	case err != nil:
		return nil, schedule.Unknown, err
	case found != nil:
		return found, schedule.Feasible, nil
	case over || r.Status == schedule.Infeasible || r.Bounds != nil && r.Bounds[0] > most:
		return nil, schedule.Infeasible, nil
	case r.Answer != nil && r.Values[0] <= most:
		return r.Answer, schedule.Feasible, nil
	}
	return nil, schedule.Unknown, nil
}

// possible asks whether the vows can be kept in a plant with actions taken, by some
// trucks or, nil, all: first truck by truck, then in sum.
func (s *search) possible(p *plant.Plant, actions []plant.Action, only map[string]bool, demands func([]vow) []demand) (*question, *schedule.Answer, schedule.Status, error) {
	q, a, status, err := possible(s.ctx, p, s.ledger, only, demands(s.vows), s.nothing)
	if status != schedule.Infeasible || err != nil {
		return q, a, status, err
	}
	if sum, a, status, err := s.sum(p, actions, only, demands); sum != nil || err != nil {
		return sum, a, status, err
	}
	return q, nil, schedule.Infeasible, nil
}

// sum asks the same about damages in sum. The question is nil where the answer to that
// truck by truck, which was no, will do.
func (s *search) sum(p *plant.Plant, actions []plant.Action, only map[string]bool, demands func([]vow) []demand) (*question, *schedule.Answer, schedule.Status, error) {
	u := purseOf(s.p, s.vows, actions)
	if ok, err := s.trade(u); !ok || err != nil {
		return nil, nil, schedule.Infeasible, err
	}
	sum, lost, err := poseSome(p, nil, s.ledger, nil, only, demands(summed(s.p, s.vows))...)
	if err != nil || len(lost) > 0 {
		return nil, nil, schedule.Infeasible, err
	}
	s.sums++
	var near *schedule.Answer
	if s.nothing != nil {
		near = sum.recall(s.nothing)
	}
	a, status, err := sum.afford(s.ctx, u, s.rest(u, only), near)
	return sum, a, status, err
}

// broken lists what a plan that answers the plant without measures breaks of the vows.
// Damages are broken, by each truck that pays more, if they grow in sum.
func (s *search) broken(plan *plant.Plan) []check.Violation {
	if u := purseOf(s.p, s.vows, nil); u.within(s.p, plan) {
		return check.Conditions(s.p, plan, under(s.p, summed(s.p, s.vows), nil))
	}
	return check.Conditions(s.p, plan, under(s.p, s.vows, nil))
}

// trades lists the trucks that pay other damages in a plan of p than in the plan in
// force, when some pay more than is paid for them; in the order of the plant.
func (s *search) trades(p *plant.Plant, plan *plant.Plan, actions []plant.Action) (list []Trade) {
	u := purseOf(s.p, s.vows, actions)
	was, more := map[string]int64{}, false
	for _, d := range Deliveries(s.before, s.before.Plan) {
		was[d.Truck] = d.Damages
	}
	for _, d := range Deliveries(p, plan) {
		if from, ok := was[d.Truck]; ok && d.Day != calendar.None && d.Damages != from {
			list = append(list, Trade{d.Truck, customerName(p, p.FindTruck(d.Truck)), from, d.Damages})
			v, vowed := u.was[d.Truck]
			more = more || vowed && d.Damages > v+u.paid[d.Truck]
		}
	}
	if !more {
		return nil
	}
	return list
}
