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
	needs   [][]int         // ascending
	known   map[string]verdict
	asks    map[string]verdict
	asked   int
	budget  int
	found   int
	proven  int
	seek    func(Seeking) // nil: nobody watches
}

// Seeking is how far a search for ways out is.
type Seeking struct {
	Asked  int      // questions answered
	Found  int      // sets with which a plan exists
	Proven int      // of these, proven to be the cheapest of their kind
	Trying []Action // the set that the next question is about
	Part   bool     // it asks whether any part of these could help, not whether all do
}

// tell tells who watches what is asked next.
func (s *search) tell(set []int, part bool) {
	if s.seek != nil {
		s.seek(Seeking{s.asked, s.found, s.proven, s.taken(set), part})
	}
}

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
func (s *search) over() bool { return s.asked >= s.budget || s.ctx.Err() != nil }

func (s *search) judge(status schedule.Status, err error) (verdict, error) {
	s.asked++
	switch status {
	case schedule.Feasible:
		return helps, err
	case schedule.Infeasible:
		return fails, err
	}
	return undecided, err
}

// works asks whether there is a plan with exactly these actions taken.
func (s *search) works(set []int) (verdict, error) {
	k := key(set)
	if v := s.known[k]; v != undecided {
		return v, nil
	}
	s.tell(set, false)
	actions := s.taken(set)
	p := Under(s.p.With(actions), s.conditions)
	_, _, status, err := possible(s.ctx, p, nil, demands(p, append(under(s.p, s.vows, actions), s.conditions...)), s.nothing)
	v, err := s.judge(status, err)
	s.known[k] = v
	return v, err
}

// mayWork asks whether there is a plan when these actions are loosened, for some trucks
// or, nil, for all. If not, no part of them works.
func (s *search) mayWork(set []int, only map[string]bool) (verdict, error) {
	k := key(set) + "/" + fmt.Sprint(len(only))
	if v := s.asks[k]; v != undecided {
		return v, nil
	}
	s.tell(set, true)
	p, ds := loosened(s.p, s.vows, s.taken(set))
	p = Under(p, s.conditions)
	_, _, status, err := possible(s.ctx, p, only, append(ds, demands(p, s.conditions)...), s.nothing)
	v, err := s.judge(status, err)
	s.asks[k] = v
	return v, err
}

// fail asks whether a set cannot help, by as few trucks as show it. It tells which
// these are; undecided when the loosened set works.
func (s *search) fail(set []int) (verdict, map[string]bool, error) {
	for {
		v, err := s.mayWork(set, s.only)
		if err != nil || v != helps || len(s.only) >= len(s.p.Trucks) {
			return v, s.only, err
		}
		if s.over() {
			return undecided, nil, nil
		}
		if v, err = s.works(set); err != nil || v != fails {
			return v, nil, err
		}
		if v, err = s.mayWork(set, nil); err != nil || v != fails {
			return v, nil, err
		}
		s.more()
	}
}

// more adds trucks to those that failing is shown by: those that share the most bays
// and crews with them, at the same time, in the plans that are known.
func (s *search) more() {
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
		if s.only[plan.Stages[i].Truck] {
			ours = append(ours, claims(&plan.Stages[i])...)
		}
	}
	shared := map[string]int{}
	for i := range plan.Stages {
		if s.only[plan.Stages[i].Truck] {
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
		if id := s.p.Trucks[i].ID; !s.only[id] {
			rest = append(rest, id)
		}
	}
	slices.SortStableFunc(rest, func(a, b string) int { return cmp.Compare(shared[b], shared[a]) })
	grown := maps.Clone(s.only)
	for _, id := range rest[:min(len(rest), len(s.only)+2)] {
		grown[id] = true
	}
	s.only = grown
}

// need finds a need that the failing set does not meet.
func (s *search) need(set []int, only map[string]bool) ([]int, error) {
	g := slices.Clone(set) // fails, and grows
	var left []int
	for a := range s.actions {
		if slices.Contains(set, a) {
			continue
		}
		if t := s.actions[a].Truck; t != "" && only != nil && !only[t] {
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
		v, err := s.mayWork(try, only)
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
	if err := grow(left); err != nil {
		return nil, err
	}
	need := []int{}
	for a := range s.actions {
		if !slices.Contains(g, a) {
			need = append(need, a)
		}
	}
	return need, nil
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
	h := &frontierHeap{{in: []int{}, out: out}}
	for h.Len() > 0 {
		n := heap.Pop(h).(node)
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
				need, err := s.need(n.in, only)
				if err != nil {
					return nil, 0, false, err
				}
				s.needs = append(s.needs, need)
				heap.Push(h, n)
				continue
			}
			switch v, err = s.works(n.in); {
			case err != nil:
				return nil, 0, false, err
			case v == helps:
				return n.in, n.cost, true, nil
			case v == undecided:
				return nil, 0, false, nil
			}
			// It fails, though loosened it would not: every set with more in it is open.
			for a := range s.actions {
				if !n.out[a] && !slices.Contains(n.in, a) {
					open = append(open, a)
				}
			}
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
		ways := 0
		met := false
		for _, a := range need {
			if _, in := slices.BinarySearch(n.in, a); in {
				met = true
				break
			}
			if !n.out[a] {
				ways++
			}
		}
		if !met && ways < least {
			best, least = need, ways
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
