package schedule

import "slices"

// windows holds, per task, the range of start indices [lo, hi] that a search
// looks at. Invariant: 0 <= lo; hi < len(Starts); lo > hi only for a task that
// must be left out.
type windows struct {
	lo, hi []int
}

// graph is the arcs by task.
type graph struct {
	out, in [][]int // indices into Problem.Arcs
}

func newGraph(p *Problem) graph {
	g := graph{out: make([][]int, len(p.Tasks)), in: make([][]int, len(p.Tasks))}
	for n, a := range p.Arcs {
		g.out[a.From] = append(g.out[a.From], n)
		g.in[a.To] = append(g.in[a.To], n)
	}
	return g
}

// first returns the least index whose start is at least s, len(Starts) if none.
func (t *Task) first(s Slot) int {
	k, _ := slices.BinarySearch(t.Starts, s)
	return k
}

// last returns the greatest index whose start is at most s, -1 if none.
func (t *Task) last(s Slot) int {
	k, ok := slices.BinarySearch(t.Starts, s)
	if ok {
		return k
	}
	return k - 1
}

// allWindows is the widest windows: every start that the arcs alone leave
// possible. It returns ok false when a task that must take place has none.
// Tasks that may be left out bound nobody.
func allWindows(p *Problem, g graph) (w windows, ok bool) {
	w = windows{lo: make([]int, len(p.Tasks)), hi: make([]int, len(p.Tasks))}
	for i := range p.Tasks {
		w.hi[i] = len(p.Tasks[i].Starts) - 1
	}
	return w, w.tighten(p, g)
}

// tighten narrows the windows until every arc between tasks that must take place
// is consistent at the bounds, and tasks that may be left out are consistent
// with their neighbours. It returns false when a task that must take place has
// no start left.
func (w windows) tighten(p *Problem, g graph) bool {
	queue := make([]int, len(p.Tasks))
	queued := make([]bool, len(p.Tasks))
	for i := range queue {
		queue[i], queued[i] = i, true
	}
	push := func(i int) {
		if !queued[i] {
			queued[i] = true
			queue = append(queue, i)
		}
	}
	for len(queue) > 0 {
		i := queue[0]
		queue = queue[1:]
		queued[i] = false
		if w.lo[i] > w.hi[i] {
			if p.Tasks[i].Skip {
				continue
			}
			return false
		}
		if p.Tasks[i].Skip {
			continue // it binds nobody; its neighbours bind it below
		}
		for _, n := range g.out[i] {
			a := &p.Arcs[n]
			to := &p.Tasks[a.To]
			if a.Earliest != nil {
				if k := to.first(a.Earliest[w.lo[i]]); k > w.lo[a.To] {
					w.lo[a.To] = k
					push(a.To)
				}
			}
			if a.Latest != nil {
				if k := to.last(a.Latest[w.hi[i]]); k < w.hi[a.To] {
					w.hi[a.To] = k
					push(a.To)
				}
			}
		}
		for _, n := range g.in[i] {
			a := &p.Arcs[n]
			to := &p.Tasks[i]
			if a.Earliest != nil {
				// The latest start of From that still lets To start in time.
				s := to.Starts[w.hi[i]]
				k, _ := slices.BinarySearchFunc(a.Earliest, s, func(e, s Slot) int {
					if e <= s {
						return -1
					}
					return 1
				})
				if k-1 < w.hi[a.From] {
					w.hi[a.From] = k - 1
					push(a.From)
				}
			}
			if a.Latest != nil {
				s := to.Starts[w.lo[i]]
				k, _ := slices.BinarySearch(a.Latest, s)
				if k > w.lo[a.From] {
					w.lo[a.From] = k
					push(a.From)
				}
			}
		}
	}
	return true
}
