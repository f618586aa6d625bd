package schedule

import (
	"cmp"
	"math/rand/v2"
	"slices"

	"wetdown/solver/sat"
)

// A family is a group of machines that share tasks, directly or through others,
// and the tasks that stand on them.
type family struct {
	machines []int
	tasks    []int
	sets     [][]int // the machine sets that tasks are confined to, and the whole
}

// families groups the machines. Everything is in ascending order.
func families(p *Problem) []family {
	root := make([]int, len(p.Machines))
	for m := range root {
		root[m] = m
	}
	var find func(m int) int
	find = func(m int) int {
		if root[m] != m {
			root[m] = find(root[m])
		}
		return root[m]
	}
	for i := range p.Tasks {
		for _, m := range p.Tasks[i].Able {
			a, b := find(p.Tasks[i].Able[0]), find(m)
			root[max(a, b)] = min(a, b)
		}
	}
	var fs []family
	of := map[int]int{}
	for m := range p.Machines {
		r := find(m)
		n, ok := of[r]
		if !ok {
			n = len(fs)
			of[r] = n
			fs = append(fs, family{})
		}
		fs[n].machines = append(fs[n].machines, m)
	}
	for i := range p.Tasks {
		able := p.Tasks[i].Able
		if len(able) == 0 {
			continue
		}
		f := &fs[of[find(able[0])]]
		f.tasks = append(f.tasks, i)
		if !slices.ContainsFunc(f.sets, func(s []int) bool { return slices.Equal(s, able) }) {
			f.sets = append(f.sets, able)
		}
	}
	for n := range fs {
		f := &fs[n]
		if len(f.tasks) > 0 && !slices.ContainsFunc(f.sets, func(s []int) bool { return len(s) == len(f.machines) }) {
			f.sets = append(f.sets, f.machines)
		}
		slices.SortFunc(f.sets, slices.Compare)
	}
	return fs
}

// within reports whether every element of x is in set; both ascend.
func within(x, set []int) bool {
	for _, m := range x {
		if _, ok := slices.BinarySearch(set, m); !ok {
			return false
		}
	}
	return true
}

// openMachines counts the machines of the set that are open in slot t.
func (p *Problem) openMachines(set []int, t Slot) (n int32) {
	for _, m := range set {
		open := true
		for _, c := range p.Machines[m].Closed {
			if c.From <= t && t < c.To {
				open = false
			}
		}
		if open {
			n++
		}
	}
	return n
}

// sweeps is how often name tries, with other ties each time.
const sweeps = 200

// name gives every placed task of the family a machine, the preferred one where it
// can. It sweeps over the tasks in the order of their starts, gives each the least
// wanted machine that is free and open for all of its time, and makes room by
// moving one task where none is. It returns false when it finds no naming, which
// does not prove that there is none: the machines are then told apart in the
// clauses.
func (f *family) name(p *Problem, start []int, prefer []int, machine []int) bool {
	w := &sweep{p: p, start: start, prefer: prefer, rank: make([]int, len(p.Machines))}
	for _, i := range f.tasks {
		if start[i] >= 0 {
			w.order = append(w.order, i)
		}
		for _, m := range p.Tasks[i].Able {
			w.rank[m]++
		}
	}
	random := rand.New(rand.NewPCG(uint64(len(w.order)), 0))
	tie := make([]int, len(p.Tasks))
	for range sweeps {
		slices.SortStableFunc(w.order, func(x, y int) int {
			return cmp.Or(cmp.Compare(w.begin(x), w.begin(y)), cmp.Compare(tie[x], tie[y]),
				cmp.Compare(len(p.Tasks[x].Able), len(p.Tasks[y].Able)), cmp.Compare(w.end(y), w.end(x)))
		})
		if w.run() {
			for _, i := range w.order {
				machine[i] = w.on[i]
			}
			return true
		}
		w.prefer = nil // wishes stood in the way
		for _, i := range w.order {
			tie[i] = random.IntN(3)
		}
		for _, m := range f.machines {
			w.rank[m] += random.IntN(3)
		}
	}
	return false
}

// A sweep is one attempt at naming.
type sweep struct {
	p      *Problem
	start  []int
	prefer []int
	rank   []int // by machine: how many tasks could stand on it
	order  []int
	on     map[int]int   // machine by task
	held   map[int][]int // tasks by machine, in the order of their starts
}

func (w *sweep) begin(i int) Slot { return w.p.Tasks[i].Starts[w.start[i]] }
func (w *sweep) end(i int) Slot   { return w.p.Tasks[i].Ends[w.start[i]] }

// run names the tasks in order; false when it gets stuck.
func (w *sweep) run() bool {
	w.on, w.held = map[int]int{}, map[int][]int{}
	for _, i := range w.order {
		if m := w.best(i, -1); m >= 0 {
			w.put(i, m)
		} else if !w.makeRoom(i) {
			return false
		}
	}
	return true
}

// put puts task i on machine m.
func (w *sweep) put(i, m int) {
	w.on[i] = m
	at := len(w.held[m])
	for at > 0 && w.begin(w.held[m][at-1]) > w.begin(i) {
		at--
	}
	w.held[m] = slices.Insert(w.held[m], at, i)
}

// best is the machine for task i that is free and open, -1 if none is: the
// preferred one, else the one that the fewest tasks could stand on, else the one
// that closes soonest after.
func (w *sweep) best(i, not int) int {
	best, gap := -1, Slot(0)
	for _, m := range w.p.Tasks[i].Able {
		if m == not || w.blocked(i, m) >= 0 || !w.open(i, m) {
			continue
		}
		if w.prefer != nil && w.prefer[i] == m {
			return m
		}
		g := w.until(m, w.end(i))
		if best < 0 || w.rank[m] < w.rank[best] || w.rank[m] == w.rank[best] && g < gap {
			best, gap = m, g
		}
	}
	return best
}

// open reports whether machine m is open for all of task i.
func (w *sweep) open(i, m int) bool {
	for _, c := range w.p.Machines[m].Closed {
		if c.From < w.end(i) && w.begin(i) < c.To {
			return false
		}
	}
	return true
}

// until is when machine m closes next at or after t.
func (w *sweep) until(m int, t Slot) Slot {
	for _, c := range w.p.Machines[m].Closed {
		if c.From >= t {
			return c.From
		}
	}
	return w.p.Slots
}

// blocked is a task on machine m that overlaps task i, -1 if there is none.
func (w *sweep) blocked(i, m int) int {
	for n := len(w.held[m]) - 1; n >= 0; n-- {
		j := w.held[m][n]
		if w.begin(j) < w.end(i) && w.begin(i) < w.end(j) {
			return j
		}
		if w.end(j) <= w.begin(i) {
			break // those before end earlier still
		}
	}
	return -1
}

// makeRoom moves one task to another machine so that task i fits.
func (w *sweep) makeRoom(i int) bool {
	for _, m := range w.p.Tasks[i].Able {
		if !w.open(i, m) {
			continue
		}
		j := w.blocked(i, m)
		if j < 0 {
			continue
		}
		if to := w.best(j, m); to >= 0 {
			w.held[m] = slices.DeleteFunc(w.held[m], func(x int) bool { return x == j })
			if w.blocked(i, m) >= 0 { // a second one is in the way
				w.put(j, m)
				continue
			}
			w.put(j, to)
			w.put(i, m)
			return true
		}
	}
	return false
}

// names reads the machines out of a model in which the family is told apart.
func (e *encoding) names(f family, start []int, value func(sat.Lit) bool, machine []int) {
	for _, i := range f.tasks {
		if start[i] < 0 {
			continue
		}
		for n, m := range e.p.Tasks[i].Able {
			if e.on[i][n] == e.top || value(e.on[i][n]) {
				machine[i] = m
				break
			}
		}
	}
}
