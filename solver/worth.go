package solver

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A Worth says what would hurt most if it slipped next, and what would help most if there
// were one more of it: each is made a fact by itself, planned, and held against the best
// plan for the plant as it stands.
type Worth struct {
	Status plant.Status      // of the best plan for the plant as it stands
	Before []plant.TierValue // its values, with the bounds proven of them
	Better bool              // it is better than the plan in force: planning anew would gain that alone
	Days   []Stake           // a working day lost, the one that hurts most first; those not worked out last
	More   []Stake           // one more bay, head or Saturday, the one that helps most first
	None   []string          // trucks, bays and crews without a day to lose, sentences
	Asked  int               // plannings of the whole plant
	Ended  bool              // time ran out before everything was worked out

	Reasons []string // when there is no plan for the plant as it stands: why
}

// A Stake is one thing that may happen, or may be bought, and what it would change.
type Stake struct {
	Slip   *plant.Slip   // what would happen; nil for what would be bought
	Action *plant.Action // what would be bought; nil for what would happen

	// Status of the plan with it. Optimal: the differences are exact. Feasible: they are
	// bounds. Infeasible: no plan would obey the rules any more. Unknown: nothing is known.
	Status    plant.Status
	Solved    bool        // a planning was made for it; else it was seen without, or left out
	Less      bool        // of a day lost that was not planned: it hurts no more than the Top worst, which is proven
	Untouched bool        // the plan stays as it is
	Tiers     []TierStake // in order of the tiers; none when Infeasible or Unknown
	Impact    *Impact     // what the plan with it moves, from the best one as it stands; nil when Untouched, or when there is none
	Reasons   []string    // when Infeasible: why

	Price  int64 // dollars by the price list of what would be bought; -1: it has no price there
	Times  int   // how often the measure of the list is taken for that
	Choice int   // it is the best that was found of so many Saturdays; 0: there was nothing to choose
	Best   bool  // and none of them is better: proven

	after  *plant.Plant // with it a fact
	values []int64      // of a plan with it; nil while none is known
	bounds []int64
	plan   *plant.Plan
	sure   int // 1: no plan with it is better than one without; -1: none without is better than one with it; 0: not seen
}

// A TierStake is how one tier changes: After less Before are what the best plans found
// cost, AtLeast and AtMost what is proven of the difference of the best there are. They are equal when it is
// exact.
type TierStake struct {
	Name            string
	Before, After   int64
	AtLeast, AtMost int64
	Open            bool // a tier before it is not exact, so that nothing is proven of this one: AtLeast and AtMost are 0
}

// Exact reports whether the difference is known.
func (t TierStake) Exact() bool { return !t.Open && t.AtLeast == t.AtMost }

// A Scope says what a Worth is about. The zero value asks about everything.
type Scope struct {
	// Trucks, Bays and Crews are ids. With any of them, only a day of these is asked about,
	// and nothing that might be bought.
	Trucks, Bays, Crews []string
	// Top is how many of the days lost are worked out, the worst ones; 0: all of them. Those
	// left out are proven to hurt no more than these.
	Top int
	// Each makes the context of one planning; nil: that of the call.
	Each func(context.Context) (context.Context, context.CancelFunc)
	// Report is called before each look and each planning.
	Report func(Weighing)
}

// Weighing is how far a Weigh is.
type Weighing struct {
	About    string // what is looked at, or planned
	Planning bool
	Looked   int // at so many days lost, of Looks, without a planning
	Looks    int
	Planned  int // plannings begun, of at most Plans; 0: that is not known yet
	Plans    int
}

func (s *Scope) some() bool { return len(s.Trucks)+len(s.Bays)+len(s.Crews) > 0 }

func (s *Scope) each(ctx context.Context) (context.Context, context.CancelFunc) {
	if s.Each == nil {
		return ctx, func() {}
	}
	return s.Each(ctx)
}

// Weigh works out what a day is worth now: for each truck (a working day later off the
// line; past the line, its stage under way, else its next one that may run over the end
// of a shift, a working day longer), each bay (closed on its next working day with work in it)
// and each crew (one head away on its next day with work). Then what one more bay of each
// kind and one more head of each crew from now on, and one Saturday of each department,
// would gain.
//
// The plant needs a plan in force. Slips that it records have not happened. A stake
// costs nothing without a planning only where that is proven: what is right with it is right
// without it, at no more cost (schedule.Harder), and a plan with it costs what the best one without it does.
// When ctx ends, what is not worked out yet has the bounds known of it.
func Weigh(ctx context.Context, p *plant.Plant, sc Scope) (*Worth, error) {
	if p.Plan == nil {
		return nil, errors.New("there is no plan in force: make one with wetdown plan first")
	}
	w := &weigher{ctx: ctx, p: p, sc: sc, worth: &Worth{}}
	if w.sc.Report == nil {
		w.sc.Report = func(Weighing) {}
	}
	if ok, err := w.stand(); err != nil || !ok {
		return w.worth, err
	}
	if err := w.days(); err != nil {
		return nil, err
	}
	if !sc.some() {
		if err := w.more(); err != nil {
			return nil, err
		}
	}
	w.worth.Ended = ctx.Err() != nil
	return w.worth, nil
}

// A weigher is the state of one Weigh.
type weigher struct {
	ctx    context.Context
	p      *plant.Plant
	sc     Scope
	worth  *Worth
	q      *question    // of the plant as it stands
	before *plant.Plant // with its best plan in force: the one that is, where that is as good
	answer *schedule.Answer
	values []int64 // of that plan
	bounds []int64
	proven int // how many of the first tiers are proven
	told   Weighing
}

func (w *weigher) tell(about string, planning bool) {
	w.told.About, w.told.Planning = about, planning
	w.sc.Report(w.told)
}

// stand plans the plant as it stands. It is false when there is no plan.
func (w *weigher) stand() (bool, error) {
	w.tell("the plant as it stands", true)
	q, lost, err := ask(w.p)
	if err != nil {
		return false, err
	}
	r, err := w.best(q, lost)
	if err != nil {
		return false, err
	}
	w.worth.Status, w.worth.Reasons = r.Status, r.Reasons
	if r.Plan == nil {
		return false, nil
	}
	stay := w.p.Plan
	w.q, w.answer = q, q.recall(stay)
	var faults []string
	if w.values, faults = schedule.Verify(&q.problem, w.answer); len(faults) > 0 || compareValues(w.values, r.Tiers) > 0 {
		w.worth.Better = true
		stay = r.Plan
		w.answer = q.recall(stay)
		if w.values, faults = schedule.Verify(&q.problem, w.answer); len(faults) > 0 {
			return false, ErrJudge
		}
	}
	for t := range r.Tiers {
		w.bounds = append(w.bounds, r.Tiers[t].Bound)
	}
	w.proven = provenTiers(w.values, w.bounds)
	w.worth.Before = tierValues(w.values, w.bounds)
	with := *w.p
	with.Plan = stay
	w.before = &with
	return true, nil
}

// compareValues orders values before those of a result: negative when they are lower.
func compareValues(values []int64, tiers []plant.TierValue) int {
	return slices.CompareFunc(values, tiers, func(v int64, t plant.TierValue) int { return cmp.Compare(v, t.Value) })
}

// provenTiers counts the first tiers whose bound is met.
func provenTiers(values, bounds []int64) (n int) {
	for n < len(values) && values[n] == bounds[n] {
		n++
	}
	return n
}

// best answers a question in the time of one planning.
func (w *weigher) best(q *question, lost []stuck) (*Result, error) {
	ctx, cancel := w.sc.each(w.ctx)
	defer cancel()
	w.worth.Asked++
	w.told.Planned++
	return q.best(ctx, lost, Options{}, true, stopwatch(nil))
}

// pose compiles the plant with a stake a fact. Where that leaves stages without any start, no
// plan holds it, and the question is nil.
func (w *weigher) pose(s *Stake) (*question, error) {
	q, lost, err := askAfter(s.after, w.q)
	if err != nil {
		return nil, err
	}
	if len(lost) > 0 {
		none := &question{p: s.after}
		r, err := none.best(w.ctx, lost, Options{}, true, stopwatch(nil))
		if err != nil {
			return nil, err
		}
		s.Status, s.Reasons = r.Status, r.Reasons
		return nil, nil
	}
	return q, nil
}

// look finds what can be said of a stake without planning the whole plant: a plan with it,
// made from the one before, and whether that costs nothing for certain.
func (w *weigher) look(s *Stake) (*question, error) {
	q, err := w.pose(s)
	if q == nil || err != nil {
		return nil, err
	}
	if schedule.Harder(&w.q.problem, &q.problem) {
		s.sure = 1
	} else if schedule.Harder(&q.problem, &w.q.problem) {
		s.sure = -1
	}
	s.Status = plant.Unknown
	near := q.recall(w.before.Plan)
	values, faults := schedule.Verify(&q.problem, near)
	stays := len(faults) == 0
	if !stays {
		mended := schedule.Mended(&q.problem, near)
		if mended == nil {
			return q, nil
		}
		if near, err = w.polish(q, near, mended); err != nil {
			return nil, err
		}
		values, _ = schedule.Verify(&q.problem, near)
	}
	plan, err := q.judged(near, values)
	if err != nil {
		return nil, err
	}
	s.Status = plant.Feasible
	s.values, s.bounds, s.plan = values, make([]int64, len(values)), plan
	s.Untouched = stays && sameRows(plan, w.before.Plan)
	w.squeeze(s)
	return q, nil
}

// polish is the best answer to the question in which only trucks move that the mended
// answer moves from where they were.
func (w *weigher) polish(q *question, was, mended *schedule.Answer) (*schedule.Answer, error) {
	free := map[int]bool{}
	for i := range mended.Start {
		if mended.Start[i] != was.Start[i] || mended.Machine[i] != was.Machine[i] {
			free[q.problem.Tasks[i].Job] = true
		}
	}
	pinned, back := schedule.Pinned(&q.problem, mended, func(job int) bool { return free[job] })
	ctx, cancel := w.sc.each(w.ctx)
	defer cancel()
	r, err := schedule.Solve(ctx, pinned, schedule.Options{})
	if err != nil || r.Answer == nil {
		return mended, err
	}
	a := back(r.Answer)
	better, _ := schedule.Verify(&q.problem, a)
	if before, _ := schedule.Verify(&q.problem, mended); slices.Compare(better, before) < 0 {
		return a, nil
	}
	return mended, nil
}

// sameRows reports whether two plans have all work at the same time in the same bays.
func sameRows(a, b *plant.Plan) bool {
	return slices.EqualFunc(a.Stages, b.Stages, func(x, y plant.Planned) bool {
		return x.Truck == y.Truck && x.Stage == y.Stage && x.Start == y.Start && x.Bay == y.Bay
	})
}

// squeeze raises the bounds of a stake to what is proven without it, where nothing can be
// better with it.
func (w *weigher) squeeze(s *Stake) {
	if s.sure <= 0 {
		return
	}
	for t := 0; t < len(s.values) && t <= w.proven; t++ {
		s.bounds[t] = max(s.bounds[t], w.bounds[t])
		if s.values[t] != s.bounds[t] || t < w.proven && s.values[t] != w.values[t] {
			break
		}
	}
	if provenTiers(s.values, s.bounds) == len(s.values) {
		s.Status = plant.Optimal
	}
}

// solve plans with the stake a fact.
func (w *weigher) solve(s *Stake, q *question) error {
	r, err := w.best(q, nil)
	if err != nil {
		return err
	}
	s.Solved = true
	if r.Plan == nil {
		if r.Status == plant.Infeasible {
			s.Status, s.Reasons, s.values = r.Status, r.Reasons, nil
		}
		return nil
	}
	if s.values == nil || compareValues(s.values, r.Tiers) >= 0 {
		s.plan, s.Untouched, s.values = r.Plan, false, nil
		for _, t := range r.Tiers {
			s.values = append(s.values, t.Value)
		}
	}
	s.Status, s.bounds = plant.Feasible, nil
	for _, t := range r.Tiers {
		s.bounds = append(s.bounds, t.Bound)
	}
	if r.Status == plant.Optimal {
		s.Status = plant.Optimal
	}
	w.squeeze(s)
	return nil
}

// finish says of a stake what its plan changes.
func (w *weigher) finish(s *Stake) (err error) {
	if s.values == nil {
		return nil
	}
	s.Tiers = w.tiers(s)
	if s.Untouched {
		return nil
	}
	var slips []plant.Slip
	if s.Slip != nil {
		slips = []plant.Slip{*s.Slip}
	}
	s.Impact, err = Compare(w.before, s.after, slips, s.plan)
	return err
}

// tiers works the differences out. Up to the first tier that is not proven on both sides
// they are exact; of that one the bounds are known, of those after it nothing.
func (w *weigher) tiers(s *Stake) (list []TierStake) {
	own := provenTiers(s.values, s.bounds)
	exact, zero := true, true
	for t, name := range plant.TierNames {
		x := TierStake{Name: name, Before: w.values[t], After: s.values[t], Open: !exact}
		if exact {
			x.AtLeast, x.AtMost = s.bounds[t]-w.values[t], s.values[t]-w.bounds[t]
			if own > t {
				x.AtLeast = s.values[t] - w.values[t]
			}
			if zero && s.sure > 0 {
				x.AtLeast = max(x.AtLeast, 0)
			}
			if zero && s.sure < 0 {
				x.AtMost = min(x.AtMost, 0)
			}
			exact = x.Exact() && t < own && t < w.proven
			zero = zero && x.AtLeast == 0 && x.AtMost == 0
		}
		list = append(list, x)
	}
	return list
}

// days works out the days lost.
func (w *weigher) days() error {
	list := w.losses()
	w.told.Looks = len(list)
	var open []int
	for n := range list {
		s := &list[n]
		if w.ctx.Err() == nil {
			w.tell(s.Title(w.p), false)
			if _, err := w.look(s); err != nil {
				return err
			}
		}
		w.told.Looked++
		if s.Status == plant.Feasible || s.Status == plant.Unknown {
			open = append(open, n)
		}
	}
	// The worst by what is known so far are planned first, those of which no plan is known
	// before them.
	slices.SortStableFunc(open, func(a, b int) int { return compareCost(&list[b], &list[a]) })
	w.told.Plans = w.told.Planned + len(open)
	for n, at := range open {
		if w.ctx.Err() != nil {
			break
		}
		if w.enough(list, open[n:]) {
			for _, at := range open[n:] {
				list[at].Less = true
			}
			break
		}
		s := &list[at]
		w.tell(s.Title(w.p), true)
		q, err := w.pose(s)
		if err == nil {
			err = w.solve(s, q)
		}
		if err != nil {
			return err
		}
	}
	for n := range list {
		if err := w.finish(&list[n]); err != nil {
			return err
		}
	}
	slices.SortStableFunc(list, func(a, b Stake) int {
		return cmp.Or(order(!a.settled(), !b.settled()), compareCost(&b, &a))
	})
	w.worth.Days = list
	return nil
}

// settled reports whether the stake was worked out as far as the time given allowed.
func (s *Stake) settled() bool {
	return s.Solved || s.Status == plant.Optimal || s.Status == plant.Infeasible
}

func order(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// compareCost orders stakes by what is known of their plans, the dearest last; those without a plan
// are dearer than all others.
func compareCost(a, b *Stake) int {
	if (a.values == nil) != (b.values == nil) {
		return order(a.values == nil, b.values == nil)
	}
	return slices.Compare(a.values, b.values)
}

// enough reports whether as many stakes as are wanted are known to cost at least as
// much as any of those that are left can: their plans made by hand say so.
func (w *weigher) enough(list []Stake, left []int) bool {
	if w.sc.Top == 0 || list[left[0]].values == nil {
		return false
	}
	var known []*Stake
	for n := range list {
		if s := &list[n]; s.Status == plant.Optimal || s.Status == plant.Infeasible {
			known = append(known, s)
		}
	}
	if len(known) < w.sc.Top {
		return false
	}
	slices.SortStableFunc(known, func(a, b *Stake) int { return compareCost(b, a) })
	return compareCost(&list[left[0]], known[w.sc.Top-1]) <= 0
}

// more works out what one more would buy.
func (w *weigher) more() error {
	groups, err := w.purchases()
	if err != nil {
		return err
	}
	w.told.Plans = w.told.Planned
	for _, g := range groups {
		for _, c := range g {
			w.told.Plans += 1 + len(c)
			if len(c) > 1 {
				w.told.Plans++
			}
		}
	}
	for _, g := range groups {
		if err := w.sift(g); err != nil {
			return err
		}
	}
	slices.SortStableFunc(w.worth.More, func(a, b Stake) int {
		return cmp.Or(order(!a.settled(), !b.settled()), compareCost(&a, &b), order(a.Price < 0, b.Price < 0), cmp.Compare(a.Price, b.Price))
	})
	return nil
}

// sift works out the choices of a group. Most gain nothing: where all of them together do not, none
// does, else each half is sifted by itself.
func (w *weigher) sift(group [][]Stake) error {
	if len(group) > 1 && w.ctx.Err() == nil {
		all := slices.Concat(group...)
		whole, gains, err := w.together(all, fmt.Sprintf("%s, and %d more", all[0].Title(w.p), len(group)-1))
		if err != nil {
			return err
		}
		if gains {
			n := len(group) / 2
			if err := w.sift(group[:n]); err != nil {
				return err
			}
			return w.sift(group[n:])
		}
		for _, c := range group {
			s, err := w.nothing(c, whole)
			if err == nil && s == nil {
				s, err = w.choose(c)
			}
			if err != nil {
				return err
			}
			w.worth.More = append(w.worth.More, *s)
		}
		return nil
	}
	for _, c := range group {
		s, err := w.choose(c)
		if err != nil {
			return err
		}
		w.worth.More = append(w.worth.More, *s)
	}
	return nil
}

// A bundle is all of a list bought at once.
type bundle struct {
	Stake
	q *question // nil when it was not worked out
}

// together plans with all of a list bought, and on Saturdays with as many heads as may be
// wanted: work that lasts over a weekend needs its crew on a Saturday only where its
// department works on it, so that more Saturdays would not be easier otherwise. gains is false
// only where that is proven to gain nothing.
func (w *weigher) together(list []Stake, about string) (b *bundle, gains bool, err error) {
	var actions []plant.Action
	for n := range list {
		actions = append(actions, *list[n].Action)
	}
	b = &bundle{Stake: Stake{after: w.p.With(actions)}}
	for i := range actions {
		a := &actions[i]
		if a.Kind != plant.SaturdayShift {
			continue
		}
		for n := range b.after.Crews {
			c := &b.after.Crews[n]
			c.Days = append(slices.Clone(c.Days), plant.CrewChange{Range: plant.Range{From: a.From, Through: a.From}, Size: 1 << 16})
		}
	}
	w.tell(about, true)
	if b.q, err = w.look(&b.Stake); err == nil && b.q != nil {
		err = w.solve(&b.Stake, b.q)
	}
	if err != nil {
		return nil, true, err
	}
	return b, b.q == nil || b.Status != plant.Optimal || w.proven < len(w.values) || !slices.Equal(b.values, w.values), nil
}

// choose is the best of what may be bought of one kind: the first of those that gain
// most. All of them together show what none alone can better.
func (w *weigher) choose(list []Stake) (best *Stake, err error) {
	var all *bundle
	if len(list) > 1 && w.ctx.Err() == nil {
		gains := true
		if all, gains, err = w.together(list, list[0].Title(w.p)+", and on all others"); err != nil {
			return nil, err
		}
		if !gains {
			if s, err := w.nothing(list, all); s != nil || err != nil {
				return s, err
			}
		}
	}
	proven := true
	for n := range list {
		s := &list[n]
		if w.ctx.Err() != nil {
			proven = false
			break
		}
		w.tell(s.Title(w.p), true)
		q, err := w.look(s)
		if err == nil && q != nil {
			err = w.solve(s, q)
		}
		if err != nil {
			return nil, err
		}
		proven = proven && s.Status == plant.Optimal
		if best == nil || compareCost(s, best) < 0 {
			best = s
		}
		if all != nil && all.q != nil && q != nil && s.Status == plant.Optimal && all.Status == plant.Optimal && slices.Equal(s.values, all.values) && schedule.Harder(&all.q.problem, &q.problem) {
			break // it alone does what all do
		}
	}
	if best == nil {
		best = &list[0]
	}
	if len(list) > 1 {
		best.Choice, best.Best = len(list), proven
	}
	return best, w.finish(best)
}

// nothing is the first of a list of which every one is proven to gain nothing, since a
// bundle that has them all gains nothing; nil when that is not seen of each.
func (w *weigher) nothing(list []Stake, all *bundle) (*Stake, error) {
	for n := range list {
		s := &list[n]
		q, err := w.look(s)
		if err != nil || q == nil || s.values == nil || !slices.Equal(s.values, w.values) || !schedule.Harder(&all.q.problem, &q.problem) {
			return nil, err
		}
	}
	s := &list[0]
	s.Status, s.bounds = plant.Optimal, slices.Clone(s.values)
	if len(list) > 1 {
		s.Choice, s.Best = len(list), true
	}
	return s, w.finish(s)
}
