package solver

import (
	"context"
	"fmt"
	"slices"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A sitting is a plant with its plan in force, and what has been worked out about
// the two so far. Nothing in it depends on who asked before, or on a call that was
// cancelled.
type sitting struct {
	p        *plant.Plant
	q        *question // nil until it is asked for
	lost     []stuck   // stages that no plan holds; q is then of no use
	standing *schedule.Answer
	values   []int64
	probing  *probing
	live     []int // the limits of the prober that are promises of this plan, in order

	from *question // what q may take over from
	warm *probing  // what probing may take over
	work *DeskCounts
}

// A probing is a warm session with the promises it knows as limits. It outlives a
// sitting when the next plant has the same right plans.
type probing struct {
	problem  *schedule.Problem
	prober   *schedule.Prober
	promises []promise // by limit
}

// mostWaived is how many promises that stand no more a session keeps beside once more
// as many as there are. A desk may be open for months.
const mostWaived = 50

// newSitting begins with nothing.
func newSitting(p *plant.Plant) *sitting { return &sitting{p: p, work: &DeskCounts{}} }

// then is a sitting about a plant that follows from this one, or about another plan.
func (s *sitting) then(p *plant.Plant) *sitting {
	n := &sitting{p: p, from: s.from, warm: s.warm, work: s.work}
	if s.q != nil {
		n.from = s.q
	}
	if s.probing != nil {
		n.warm = s.probing
	}
	return n
}

// question compiles the plant, once.
func (s *sitting) question() (*question, []stuck, error) {
	if s.q != nil || len(s.lost) > 0 {
		s.work.QuestionsKept++
		return s.q, s.lost, nil
	}
	q, lost, err := askAfter(s.p, s.from)
	if err != nil {
		return nil, nil, err
	}
	s.work.Questions++
	s.work.Stages += len(q.work)
	if q.heir != nil {
		s.work.StagesKept += q.heir.stages
		s.work.RoutesKept += q.heir.routes
	}
	if s.lost = lost; len(lost) == 0 {
		s.q, s.from = q, nil
	}
	return q, lost, nil
}

// stand makes the plan in force an answer. A plan that does not answer the plant is
// left aside, and the best one made.
func (s *sitting) stand(ctx context.Context, truck string) error {
	if s.p.FindTruck(truck) == nil {
		return &NoVisit{truck, "there is no such truck in the plant file: look for its shop order number under trucks"}
	}
	q, lost, err := s.question()
	if err != nil {
		return err
	}
	if len(lost) > 0 {
		return &NoVisit{lost[0].Truck, fmt.Sprintf("no plan holds its stage %s, so nothing can be said about other days: %s", lost[0].Stage, lost[0].Why)}
	}
	if s.standing != nil {
		return nil
	}
	a, err := q.standing(ctx, s.p)
	if err != nil {
		return err
	}
	if a == nil || ctx.Err() != nil && !s.inForce(a) {
		return &NoVisit{truck, "there is no finished plan to start from: give more time with --limit, or make one with wetdown plan"}
	}
	s.standing = a
	s.values, _ = schedule.Verify(&q.problem, a)
	return nil
}

// sit stands, and makes the session in which questions are asked.
func (s *sitting) sit(ctx context.Context, truck string) error {
	if err := s.stand(ctx, truck); err != nil {
		return err
	}
	q := s.q
	if s.probing != nil {
		s.work.ProbersKept++
		return nil
	}
	promises := q.promises(s.standing, "", false)
	if w := s.warm; w != nil && len(w.promises) <= 2*len(promises)+mostWaived && sameMeaning(w.problem, &q.problem) && sameCosts(&w.problem.Tiers[tierOfDamages], &q.problem.Tiers[tierOfDamages]) {
		s.work.ProbersKept++
		s.probing = w
		w.prober.From(s.standing)
	} else {
		prober, err := schedule.NewProber(&q.problem, limitsOf(promises), s.standing)
		if err != nil {
			return err
		}
		s.work.Probers++
		s.probing = &probing{&q.problem, prober, promises}
	}
	s.warm, s.live = nil, nil
	for _, pr := range promises {
		s.live = append(s.live, s.probing.limit(pr))
	}
	return nil
}

// inForce reports whether the answer is the plan in force.
func (s *sitting) inForce(a *schedule.Answer) bool {
	return s.p.Plan != nil && slices.Equal(s.q.recall(s.p.Plan).Start, a.Start)
}

// limit is the index of the limit that a promise is; it adds one that is new.
func (w *probing) limit(pr promise) int {
	n := slices.IndexFunc(w.promises, func(known promise) bool {
		return known.limit == pr.limit && known.pays == pr.pays && (known.visit == nil) == (pr.visit == nil)
	})
	if n < 0 {
		w.promises = append(w.promises, pr)
		return w.prober.Limit(pr.limit)
	}
	w.promises[n] = pr // the same in the words of this plant
	return n
}

// tierOfDamages is the index of the tier.
var tierOfDamages = slices.Index(plant.TierNames, plant.TierDamages)

// sameCosts compares what starts cost in two tiers.
func sameCosts(a, b *schedule.Tier) bool {
	return slices.EqualFunc(a.Costs, b.Costs, func(x, y schedule.Cost) bool {
		return x.Task == y.Task && x.Skip == y.Skip && slices.Equal(x.At, y.At)
	})
}

// desk is a place at a sitting for questions about one truck's visit.
type desk struct {
	*sitting
	task     int       // of the visit
	promises []promise // by limit of the prober
	prober   *schedule.Prober
}

// NoVisit is the error for a truck whose visit cannot be asked about.
type NoVisit struct{ Truck, Why string }

func (e *NoVisit) Error() string { return fmt.Sprintf("truck %s: %s", e.Truck, e.Why) }

// at prepares the answers about one truck's visit. What stands for others, and for
// the truck's delivery and its other visits, is held.
func (s *sitting) at(ctx context.Context, truck string) (*desk, error) {
	if err := s.sit(ctx, truck); err != nil {
		return nil, err
	}
	task, ok := s.q.inspection(truck)
	if !ok {
		return nil, &NoVisit{truck, "it has no visit that still has to take place: add one under visits"}
	}
	d := &desk{sitting: s, task: task, promises: s.probing.promises, prober: s.probing.prober}
	d.hold(true)
	return d, nil
}

// hold makes the session ask for the promises, with or without those of each truck
// alone to pay no more damages.
func (d *desk) hold(each bool) {
	var waived []int
	for n, pr := range d.promises {
		if !slices.Contains(d.live, n) || pr.visit != nil && pr.limit.Task == d.task || pr.pays && !each {
			waived = append(waived, n)
		}
	}
	d.prober.Waive(waived...)
}

// decide tells whether the visit can start at a move in [lo, hi] while every promise
// is kept and damages do not grow in all. It asks first for a plan in which they grow
// for nobody.
func (d *desk) decide(ctx context.Context, lo, hi int) (*schedule.Answer, schedule.Status, error) {
	a, status, err := d.prober.Possible(ctx, d.task, lo, hi)
	if status != schedule.Infeasible || err != nil {
		return a, status, err
	}
	d.hold(false)
	defer d.hold(true)
	return d.prober.Within(ctx, d.task, lo, hi, tierOfDamages, d.values[tierOfDamages])
}

func (d *desk) visit() *plant.Visit { return d.q.work[d.task].visit }
