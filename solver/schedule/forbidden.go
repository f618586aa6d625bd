package schedule

import (
	"slices"

	"wetdown/solver/sat"
)

// project reports whether the problem is one as those of the published sets: there are
// tasks, every one takes place, takes time at all of its starts or at none, and needs no machine;
// and a pool has the same room in every slot and is used from start to end.
func (p *Problem) project() bool {
	if len(p.Tasks) == 0 {
		return false
	}
	for _, t := range p.Tasks {
		if t.Skip || len(t.Able) > 0 {
			return false
		}
		for k, s := range t.Starts {
			if (t.Ends[k] > s) != (t.Ends[0] > t.Starts[0]) {
				return false
			}
		}
	}
	for _, r := range p.Resources {
		if len(r.Capacity) == 0 || slices.Max(r.Capacity) != slices.Min(r.Capacity) ||
			slices.ContainsFunc(r.Uses, func(u Use) bool { return u.From != nil || u.On != nil }) {
			return false
		}
	}
	return true
}

// surely tells, by tasks, which the windows or the arcs alone let end before another
// starts.
func (p *Problem) surely(g graph, w windows) [][]bool {
	n := len(p.Tasks)
	before := make([][]bool, n)
	for i := range before {
		before[i] = make([]bool, n)
		for j := range before[i] {
			before[i][j] = i != j && p.Tasks[i].Ends[w.hi[i]] <= p.Tasks[j].Starts[w.lo[j]]
		}
		for _, o := range g.out[i] {
			a := &p.Arcs[o]
			wait := a.Earliest != nil
			for k := w.lo[i]; k <= w.hi[i] && wait; k++ {
				wait = a.Earliest[k] >= p.Tasks[i].Ends[k]
			}
			before[i][a.To] = before[i][a.To] || wait
		}
	}
	for m := range n { // Invariant: chains whose inner tasks are among the first m are in.
		for i := range n {
			for j := range n {
				before[i][j] = before[i][j] || before[i][m] && before[m][j]
			}
		}
	}
	return before
}

// walks is how many steps the search for forbidden sets may take.
const walks = 4_000_000

// forbidden lists the minimal forbidden sets of a project: tasks that together need
// more of a pool than there is, while without any one of them they fit every pool.
// Sets with two tasks of which one is surely before the other are left out. It
// returns false when that takes more steps than walks.
func (p *Problem) forbidden(before [][]bool, walks int) (sets [][]int, few bool) {
	need := make([][]int32, len(p.Resources)) // by resource and task
	for r := range need {
		need[r] = make([]int32, len(p.Tasks))
		for _, u := range p.Resources[r].Uses {
			if t := &p.Tasks[u.Task]; t.Ends[0] > t.Starts[0] {
				need[r][u.Task] = u.Need
			}
		}
	}
	fits := func(set []int) bool {
		for r := range need {
			var sum int32
			for _, i := range set {
				sum += need[r][i]
			}
			if sum > p.Resources[r].Capacity[0] {
				return false
			}
		}
		return true
	}
	minimal := func(set []int) bool {
		for n := range set {
			if !fits(slices.Delete(slices.Clone(set), n, n+1)) {
				return false
			}
		}
		return true
	}
	left := walks
	for r := range need {
		var users []int
		for i, n := range need[r] {
			if n > 0 {
				users = append(users, i)
			}
		}
		// The greatest first: a set that has grown too large by its last task fits
		// this pool without any one of the others.
		slices.SortStableFunc(users, func(x, y int) int { return int(need[r][y] - need[r][x]) })
		var grow func(set, users []int, room int32)
		grow = func(set, users []int, room int32) {
			for n, i := range users {
				if left--; left < 0 {
					return
				}
				with := append(slices.Clone(set), i)
				if need[r][i] > room {
					if slices.Sort(with); minimal(with) {
						sets = append(sets, with)
					}
					continue
				}
				var rest []int
				var sum int32
				for _, j := range users[n+1:] {
					if !before[i][j] && !before[j][i] {
						rest = append(rest, j)
						sum += need[r][j]
					}
				}
				if sum > room-need[r][i] {
					grow(with, rest, room-need[r][i])
				}
			}
		}
		grow(nil, users, p.Resources[r].Capacity[0])
	}
	slices.SortFunc(sets, slices.Compare)
	return slices.CompactFunc(sets, slices.Equal), left >= 0
}

// forbid writes that of every set two tasks do not overlap, which is all that the
// pools ask for: tasks of which any two overlap share a slot. A literal for every
// pair, "the one ends before the other starts", is told by the starts and tells
// them; a proof speaks of orders where counters would have it speak of every slot.
// Windows are whole.
func (e *encoding) forbid(sets [][]int) {
	ends := map[[2]int]sat.Lit{}
	first := func(i, j int) sat.Lit {
		l, ok := ends[[2]int{i, j}]
		if !ok {
			l = e.precedes(i, j)
			ends[[2]int{i, j}] = l
			if m, ok := ends[[2]int{j, i}]; ok {
				e.clause(-l, -m)
			}
		}
		return l
	}
	for _, set := range sets {
		var lits []sat.Lit
		for n, i := range set {
			for _, j := range set[n+1:] {
				lits = append(lits, first(i, j), first(j, i))
			}
		}
		e.clause(lits...)
	}
}

// precedes is the literal "task i ends before task j starts".
func (e *encoding) precedes(i, j int) sat.Lit {
	a, b := &e.p.Tasks[i], &e.p.Tasks[j]
	lo, hi := e.w.lo[i], e.w.hi[i]
	if a.Ends[lo] > b.Starts[e.w.hi[j]] {
		return -e.top
	}
	l := e.sink.Lit()
	at := e.w.lo[j] // the first index of j that starts when i has ended
	for k := lo; k <= hi; k++ {
		n := max(at, min(b.first(a.Ends[k]), e.w.hi[j]+1))
		if n > at {
			e.clause(-l, -e.from(i, k), e.from(j, n))
		}
		at = n
	}
	for n := e.w.lo[j]; n <= e.w.hi[j]; n++ {
		k := lo // the first index of i that ends when j has started
		for k <= hi && a.Ends[k] <= b.Starts[n] {
			k++
		}
		if k > lo {
			e.clause(l, -e.from(j, n), e.from(i, k))
		}
		if k > hi {
			break
		}
	}
	return l
}
