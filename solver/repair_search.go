package solver

import (
	"cmp"
	"container/heap"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A search looks for the cheapest sets of actions with which all vows can be kept.
//
// It is best first: sets come in order of their price, and the first with which a plan
// exists is the cheapest. Sets that cannot help are not asked about: a *need* is a list
// of actions of which at least one has to be taken, since with all others together
// (loosened, so that this says something of every part of them) there is no plan. Needs
// are found when a set fails, and are made short by adding to the set whatever does not
// help either.
type search struct {
	ctx        context.Context
	p, before  *plant.Plant
	nothing    *plant.Plan
	vows       []vow
	wanted     string // visit that the goal is about
	conditions []Condition

	actions []plant.Action
	costs   []int64         // by action; damages are among them
	only    map[string]bool // trucks that failing is shown by
	needs   []need
	ledger  *ledger
	known   map[string]verdict
	plans   map[string]*plant.Plan     // of sets that work
	shown   map[string]map[string]bool // by set that does not: few trucks that show it; nil: all do
	asks    map[string]verdict
	least   map[string]int64 // damages that a truck cannot do without; nil: not worked out
	sums    int              // questions about damages in sum
	asked   int
	floor   int64 // of the present search: no set that works costs less
	spent   int   // stages in all questions, and questionStages for each
	budget  int
	found   int
	proven  int
	drafts  []draft       // ways out that are not proven to be the cheapest
	seek    func(Seeking) // nil: nobody watches
}

// Seeking is how far a search for ways out is.
type Seeking struct {
	Asked  int      // questions answered
	Found  int      // sets with which a plan exists
	Proven int      // of these, proven to be the cheapest of their kind
	Trying []Action // the set that the next question is about
	Part   bool     // it asks whether any part of these could help, not whether all do
	// Way is a way out just found, nil in between: it works and needs all of its measures
	// as far as that was looked into, and cheaper ones may exist. Its plan is passed by the
	// judge and not the best for it.
	Way *Repair
}

// tell tells who watches what is asked next.
func (s *search) tell(set []int, part bool) {
	if s.seek != nil {
		s.seek(Seeking{Asked: s.asked, Found: s.found, Proven: s.proven, Trying: s.taken(set), Part: part})
	}
}

// A need is met by a set that has one of its actions. Only sets with all that is given
// must meet it.
type need struct{ given, one []int } // ascending

// verdict is what is known of a set of actions.
type verdict int

const (
	undecided verdict = iota
	helps             // there is a plan
	fails             // there is none
)

// taken are the actions of a set.
func (s *search) taken(set []int) (list []plant.Action) {
	for _, a := range set {
		list = append(list, s.actions[a])
	}
	return list
}

func key(set []int) string { return strings.Trim(fmt.Sprint(set), "[]") }

// over reports whether the search has to end.
func (s *search) over() bool { return s.spent >= s.budget || s.ctx.Err() != nil }

// judge counts a question and says what its answer means.
func (s *search) judge(q *question, status schedule.Status, err error) (verdict, error) {
	s.asked++
	if q != nil {
		s.spent += questionStages + len(q.work)
	}
	switch status {
	case schedule.Feasible:
		return helps, err
	case schedule.Infeasible:
		return fails, err
	}
	return undecided, err
}

// works asks whether there is a plan with exactly these actions taken. Few trucks can
// show that there is none; if they do not, what they did is tried around all the
// others as these stand, by hand and then with them pinned, before all are asked.
func (s *search) works(set []int, few map[string]bool) (verdict, error) {
	k := key(set)
	if v := s.known[k]; v != undecided {
		return v, nil
	}
	small, around, v, err := s.exact(set, few)
	if err != nil || v == fails || v == undecided && small != nil {
		return v, err
	}
	s.tell(set, false)
	p, demands := s.exactly(set)
	q, lost, err := poseSome(p, nil, s.ledger, nil, nil, demands(s.vows)...)
	if err != nil {
		return undecided, err
	}
	status := schedule.Infeasible
	var a *schedule.Answer
	if len(lost) == 0 {
		q.problem.Tiers = []schedule.Tier{{Name: "any"}}
		a, status, err = q.near(s.ctx, s.nothing, small, around, few)
	}
	if status == schedule.Infeasible && err == nil {
		var sum *question
		if sum, a, status, err = s.sum(p, s.taken(set), nil, demands); sum != nil {
			q = sum
		}
	}
	v, err = s.judge(q, status, err)
	s.known[k] = v
	if v == helps {
		s.plans[k] = q.plan(a)
	}
	return v, err
}

// exactly is the plant with the actions of a set taken, and what vows ask of it.
func (s *search) exactly(set []int) (*plant.Plant, func([]vow) []demand) {
	actions := s.taken(set)
	p := Under(s.p.With(actions), s.conditions)
	return p, func(list []vow) []demand { return demands(p, append(under(s.p, list, actions), s.conditions...)) }
}

// exact asks whether there is a plan of few trucks with exactly these actions taken. If
// not, there is none of all. small is nil when they are all there are.
func (s *search) exact(set []int, few map[string]bool) (small *question, a *schedule.Answer, v verdict, err error) {
	if len(few) == 0 || len(few) >= len(s.p.Trucks) {
		return nil, nil, undecided, nil
	}
	p, demands := s.exactly(set)
	small, a, status, err := s.possible(p, s.taken(set), few, demands)
	if v, err = s.judge(small, status, err); v == fails {
		s.known[key(set)], s.shown[key(set)] = fails, few
	}
	return small, a, v, err
}

// near looks for an answer near to a plan, which may be nil, first where only few
// trucks differ from it; of these, small has an answer.
func (q *question) near(ctx context.Context, plan *plant.Plan, small *question, around *schedule.Answer, few map[string]bool) (*schedule.Answer, schedule.Status, error) {
	var o schedule.Options
	if plan != nil {
		as := q.recall(plan)
		o.Prefer = &schedule.Answer{Start: slices.Clone(as.Start), Machine: slices.Clone(as.Machine)}
		if small != nil {
			for i := range small.work {
				at := q.at[rowKey{small.work[i].truck.ID, small.work[i].row()}]
				// small may be about damages in sum, and have starts beyond those of q
				o.Prefer.Start[at], o.Prefer.Machine[at] = min(around.Start[i], len(q.work[at].moves)-1), around.Machine[i]
			}
		}
		for _, x := range []*schedule.Answer{as, o.Prefer} {
			if a := schedule.Mended(&q.problem, x); a != nil {
				return a, schedule.Feasible, nil
			}
		}
		if small != nil {
			pinned, back := schedule.Pinned(&q.problem, as, func(job int) bool { return few[q.p.Trucks[job].ID] })
			r, err := schedule.Solve(ctx, pinned, schedule.Options{})
			if err != nil {
				return nil, schedule.Unknown, err
			}
			if r.Answer != nil {
				return back(r.Answer), schedule.Feasible, nil
			}
		}
	}
	r, err := schedule.Solve(ctx, &q.problem, o)
	switch {
	case err != nil:
		return nil, schedule.Unknown, err
	case r.Answer != nil:
		return r.Answer, schedule.Feasible, nil
	}
	return nil, r.Status, nil
}

// mayWork asks whether there is a plan when what is given is taken and the actions of a
// set are loosened, for some trucks or, nil, for all. If not, no part of the set works
// with what is given.
func (s *search) mayWork(given, set []int, only map[string]bool) (verdict, error) {
	k := key(given) + "/" + key(set) + "/" + fmt.Sprint(len(only))
	if v := s.asks[k]; v != undecided {
		return v, nil
	}
	s.tell(append(slices.Clone(given), set...), true)
	p, ds := loosened(s.p, s.taken(given), s.taken(set))
	p = Under(p, s.conditions)
	q, _, status, err := s.possible(p, s.taken(append(slices.Clone(given), set...)), only, func(list []vow) []demand {
		return append(ds(list), demands(p, s.conditions)...)
	})
	v, err := s.judge(q, status, err)
	s.asks[k] = v
	return v, err
}

// fewTrucks is up to how many trucks a set is asked about before all are.
const fewTrucks = 20

// fail asks whether a set cannot help, by as few trucks as show it. It tells which
// these are; when the loosened set works, they are those to look at first.
func (s *search) fail(set []int) (verdict, map[string]bool, error) {
	few := s.only
	for {
		v, err := s.mayWork(nil, set, few)
		if err != nil || v == undecided {
			return v, few, err
		}
		if v == fails {
			s.only = few
			return v, few, nil
		}
		if s.over() {
			return undecided, few, nil
		}
		if len(few) >= len(s.p.Trucks) {
			return helps, few, nil
		}
		if _, _, v, err = s.exact(set, few); err != nil || v == fails {
			return helps, few, err // but not it: a need under what it has will do
		}
		if len(few) >= fewTrucks {
			if v, err = s.works(set, few); err != nil || v != fails {
				return v, few, err
			}
			if v, err = s.mayWork(nil, set, nil); err != nil || v != fails {
				return v, few, err
			}
		}
		few = s.more(few)
	}
}

// more adds trucks to those that failing is shown by: those that share the most bays
// and crews with them, at the same time, in the plans that are known.
func (s *search) more(few map[string]bool) map[string]bool {
	plan := s.nothing
	if plan == nil {
		plan = s.before.Plan
	}
	type claim struct {
		what     string
		from, to calendar.Moment
	}
	claims := func(r *plant.Planned) (list []claim) {
		g := s.p.FindStage(r.Stage)
		if g == nil {
			return nil
		}
		for _, what := range []string{g.Bay, g.Department} {
			if what != "" {
				list = append(list, claim{what, r.Hold, r.End})
			}
		}
		return list
	}
	var ours []claim
	for i := range plan.Stages {
		if few[plan.Stages[i].Truck] {
			ours = append(ours, claims(&plan.Stages[i])...)
		}
	}
	shared := map[string]int{}
	for i := range plan.Stages {
		if few[plan.Stages[i].Truck] {
			continue
		}
		for _, c := range claims(&plan.Stages[i]) {
			for _, o := range ours {
				if c.what == o.what && c.from < o.to && o.from < c.to {
					shared[plan.Stages[i].Truck]++
				}
			}
		}
	}
	var rest []string
	for i := range s.p.Trucks {
		if id := s.p.Trucks[i].ID; !few[id] {
			rest = append(rest, id)
		}
	}
	slices.SortStableFunc(rest, func(a, b string) int { return cmp.Compare(shared[b], shared[a]) })
	grown := maps.Clone(few)
	for _, id := range rest[:min(len(rest), len(few)+2)] {
		grown[id] = true
	}
	return grown
}

// need finds a need that the failing set does not meet. given is nil, or all of the set.
func (s *search) need(given, set []int, only map[string]bool) ([]int, error) {
	g := []int{} // with given it fails, and grows
	if given == nil {
		g = slices.Clone(set)
	}
	flies := func(a int) bool { // again
		return s.actions[a].Kind == plant.FlyLater && slices.ContainsFunc(given, func(b int) bool {
			return s.actions[b].Kind == plant.FlyLater && s.actions[b].Visit == s.actions[a].Visit
		})
	}
	var left, again []int
	for a := range s.actions {
		if slices.Contains(set, a) {
			continue
		}
		if t := s.actions[a].Truck; flies(a) {
			again = append(again, a) // the later flight would do alone
		} else if t != "" && only != nil && !only[t] {
			g = insert(g, a) // says nothing of these trucks
		} else {
			left = append(left, a)
		}
	}
	var grow func(list []int) error
	grow = func(list []int) error {
		if len(list) == 0 || s.over() {
			return nil
		}
		try := slices.Clone(g)
		for _, a := range list {
			try = insert(try, a)
		}
		v, err := s.mayWork(given, try, only)
		switch {
		case err != nil:
			return err
		case v == fails:
			g = try
			return nil
		case len(list) == 1:
			return nil
		}
		if err := grow(list[:len(list)/2]); err != nil {
			return err
		}
		return grow(list[len(list)/2:])
	}
	// What the last need left out will mostly be left out again.
	var usual, last []int
	for _, a := range left {
		if n := len(s.needs); n > 0 && !slices.Contains(s.needs[n-1].one, a) {
			usual = append(usual, a)
		} else {
			last = append(last, a)
		}
	}
	for _, list := range [][]int{usual, last} {
		if err := grow(list); err != nil {
			return nil, err
		}
	}
	one := []int{}
	for a := range s.actions {
		if !slices.Contains(g, a) && !slices.Contains(given, a) && !slices.Contains(again, a) {
			one = append(one, a)
		}
	}
	return one, nil
}

func insert(set []int, a int) []int {
	i, _ := slices.BinarySearch(set, a)
	return slices.Insert(slices.Clone(set), i, a)
}

// A node stands for all sets with the actions in it and without those out.
type node struct {
	in   []int
	out  []bool
	cost int64
}

type frontierHeap []node

func (h frontierHeap) Len() int { return len(h) }
func (h frontierHeap) Less(i, j int) bool {
	return cmp.Or(cmp.Compare(h[i].cost, h[j].cost), cmp.Compare(len(h[i].in), len(h[j].in)), slices.Compare(h[i].in, h[j].in)) < 0
}
func (h frontierHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *frontierHeap) Push(x any)   { *h = append(*h, x.(node)) }
func (h *frontierHeap) Pop() any {
	last := (*h)[len(*h)-1]
	*h = (*h)[:len(*h)-1]
	return last
}

// cheapest finds the cheapest set that works among those without the actions out and
// below a price; negative: any. whole: that is proven, or that there is none.
func (s *search) cheapest(out []bool, below int64) (best []int, cost int64, whole bool, err error) {
	s.floor = 0
	h := &frontierHeap{{in: []int{}, out: out}}
	for h.Len() > 0 {
		n := heap.Pop(h).(node)
		s.floor = max(s.floor, n.cost)
		if below >= 0 && n.cost >= below {
			return nil, 0, true, nil
		}
		open := s.unmet(n)
		if open == nil {
			if s.over() {
				return nil, 0, false, nil
			}
			v, only, err := s.fail(n.in)
			if err != nil {
				return nil, 0, false, err
			}
			if v == fails {
				one, err := s.need(nil, n.in, only)
				if err != nil {
					return nil, 0, false, err
				}
				s.needs = append(s.needs, need{one: one})
				heap.Push(h, n)
				continue
			}
			switch v, err = s.works(n.in, only); {
			case err != nil:
				return nil, 0, false, err
			case v == helps:
				return n.in, n.cost, true, nil
			case v == undecided:
				return nil, 0, false, nil
			}
			// It fails, though loosened it would not.
			one, err := s.need(n.in, n.in, s.shown[key(n.in)])
			if err != nil {
				return nil, 0, false, err
			}
			s.needs = append(s.needs, need{n.in, one})
			open = one
		}
		without := n.out
		for _, a := range open {
			if n.out[a] {
				continue
			}
			heap.Push(h, node{insert(n.in, a), without, n.cost + s.costs[a]})
			without = slices.Clone(without)
			without[a] = true
		}
	}
	return nil, 0, true, nil
}

// unmet is the need that the node does not meet and that leaves it the fewest ways;
// nil when it meets all.
func (s *search) unmet(n node) (best []int) {
	least := len(s.actions) + 1
	for _, need := range s.needs {
		in := func(a int) bool { _, ok := slices.BinarySearch(n.in, a); return ok }
		if slices.ContainsFunc(need.given, func(a int) bool { return !in(a) }) || slices.ContainsFunc(need.one, in) {
			continue
		}
		ways := 0
		for _, a := range need.one {
			if !n.out[a] {
				ways++
			}
		}
		if ways < least {
			best, least = need.one, ways
		}
	}
	return best
}

// next finds the cheapest set that does without at least one of what each set found
// before is of, kinds or matters.
func (s *search) next(sets [][]int, of func(*plant.Action) string) (best []int, whole bool, err error) {
	whole = true
	cost := int64(-1)
	tried := map[string]bool{}
	var choose func(i int, without []string) error
	choose = func(i int, without []string) error {
		if i < len(sets) {
			var own []string
			for _, a := range sets[i] {
				name := of(&s.actions[a])
				if slices.Contains(without, name) {
					return choose(i+1, without)
				}
				if !slices.Contains(own, name) {
					own = append(own, name)
				}
			}
			for _, name := range own {
				if err := choose(i+1, append(slices.Clone(without), name)); err != nil {
					return err
				}
			}
			return nil
		}
		slices.Sort(without)
		k := strings.Join(without, "\n")
		if tried[k] {
			return nil
		}
		tried[k] = true
		out := make([]bool, len(s.actions))
		for a := range s.actions {
			out[a] = slices.Contains(without, of(&s.actions[a]))
		}
		set, c, proven, err := s.cheapest(out, cost)
		whole = whole && proven
		if set != nil {
			best, cost = set, c
		}
		return err
	}
	if err = choose(0, nil); best != nil {
		s.found++
		if whole {
			s.proven++
		}
	}
	return best, whole, err
}
