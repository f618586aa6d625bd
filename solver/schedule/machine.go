package schedule

import (
	"cmp"
	"context"
	"math/rand/v2"
	"slices"

	"wetdown/solver/cdcl"
	"wetdown/solver/sat"
)

// A family is a group of machines that share tasks, directly or through others,
// and the tasks that stand on them.
type family struct {
	machines []int
	tasks    []int
	sets     [][]int // the machine sets that tasks are confined to, and the whole
	classes  [][]int // the machines, those together that no task and no closure tells apart
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
		f.classify(p)
	}
	return fs
}

// classify finds the classes. A task that has one machine from the first slot on
// which anybody of the family may be there tells nobody apart: it is the first on
// its machine whatever the names of the others.
func (f *family) classify(p *Problem) {
	first := p.Slots
	for _, i := range f.tasks {
		if s := p.Tasks[i].Starts; len(s) > 0 {
			first = min(first, s[0])
		}
	}
	var apart [][]int
	from := map[int]bool{} // machines with their first task
	for _, i := range f.tasks {
		t := &p.Tasks[i]
		if len(t.Able) == 1 && len(t.Starts) == 1 && t.Starts[0] == first && !t.Skip && !from[t.Able[0]] {
			from[t.Able[0]] = true
		} else {
			apart = append(apart, t.Able)
		}
	}
	alike := func(m, n int) bool {
		return slices.Equal(p.Machines[m].Closed, p.Machines[n].Closed) &&
			!slices.ContainsFunc(apart, func(set []int) bool { return slices.Contains(set, m) != slices.Contains(set, n) })
	}
	for _, m := range f.machines {
		n := slices.IndexFunc(f.classes, func(c []int) bool { return alike(c[0], m) })
		if n < 0 {
			n = len(f.classes)
			f.classes = append(f.classes, nil)
		}
		f.classes[n] = append(f.classes[n], m)
	}
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
		if !p.closed(m, t, t+1) {
			n++
		}
	}
	return n
}

// sweeps is how often name tries, with other ties each time.
const sweeps = 20

// name gives every placed task of the family a machine, the preferred one where it
// can. It sweeps over the tasks in the order of their starts, gives each the least
// wanted machine that is free and open for all of its time, and makes room by
// moving one task where none is. Where no sweep works, told is asked, unless it is nil: it may know
// a naming of all these tasks. Then a search decides: around each
// slot in which a sweep got stuck first, since no naming there is none at all, and is
// found out soon. It returns false when there is no naming, or ctx ended the search, or that took so
// many conflicts (0: any number), and the slot around which there is none, else the one in which the first sweep got stuck.
func (f *family) name(ctx context.Context, conflicts int64, p *Problem, start []int, prefer []int, machine []int, told func(machine []int) bool) (stuck Slot, ok bool) {
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
	var places []Slot
	for range sweeps {
		slices.SortStableFunc(w.order, func(x, y int) int {
			return cmp.Or(cmp.Compare(w.begin(x), w.begin(y)), cmp.Compare(tie[x], tie[y]),
				cmp.Compare(len(p.Tasks[x].Able), len(p.Tasks[y].Able)), cmp.Compare(w.end(y), w.end(x)))
		})
		at := w.run()
		if at < 0 {
			for _, i := range w.order {
				machine[i] = w.on[i]
			}
			return 0, true
		}
		if !slices.Contains(places, w.begin(at)) {
			places = append(places, w.begin(at))
		}
		w.prefer = nil // wishes stood in the way
		for _, i := range w.order {
			tie[i] = random.IntN(3)
		}
		for _, m := range f.machines {
			w.rank[m] += random.IntN(3)
		}
	}
	if told != nil && told(machine) {
		return 0, true
	}
	for reach := Slot(4 * days); reach <= 8*days; reach *= 2 {
		for _, at := range places {
			near := *f
			near.tasks = slices.DeleteFunc(slices.Clone(w.order), func(i int) bool {
				return w.end(i) <= at-reach || w.begin(i) > at+reach
			})
			slices.Sort(near.tasks)
			near.classes = nil
			near.classify(p) // fewer than in all: who is not here tells nobody apart
			if !near.search(ctx, conflicts, p, start, prefer, slices.Clone(machine)) {
				return at, false
			}
		}
	}
	return places[0], f.search(ctx, conflicts, p, start, prefer, machine)
}

// naming is how many conflicts a search for names may take as long as there are clauses that could answer
// in its place.
const naming = 5000

// search names the machines of given starts by clauses of their own.
func (f *family) search(ctx context.Context, conflicts int64, p *Problem, start, prefer, machine []int) bool {
	w := windows{slices.Clone(start), slices.Clone(start)}
	q := *p
	q.Arcs, q.Resources, q.Together, q.Tasks = nil, nil, nil, slices.Clone(p.Tasks)
	for i := range start {
		q.Tasks[i].Skip = !slices.Contains(f.tasks, i) || start[i] < 0
		if q.Tasks[i].Skip {
			w.lo[i], w.hi[i] = 0, -1
		}
	}
	s := cdcl.New()
	e := newEncoding(&q, w, w, s)
	e.named(*f, always)
	if s.Within(ctx, conflicts, nil) != sat.Sat {
		return false
	}
	return e.names(*f, start, prefer, s.Value, machine)
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

// run names the tasks in order; it returns the task at which it gets stuck, or -1.
func (w *sweep) run() int {
	w.on, w.held = map[int]int{}, map[int][]int{}
	for _, i := range w.order {
		if m := w.best(i, -1); m >= 0 {
			w.put(i, m)
		} else if !w.makeRoom(i) {
			return i
		}
	}
	return -1
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
func (w *sweep) open(i, m int) bool { return !w.p.closed(m, w.begin(i), w.end(i)) }

// closed reports whether machine m is closed somewhere in [from, to).
func (p *Problem) closed(m int, from, to Slot) bool {
	return slices.ContainsFunc(p.Machines[m].Closed, func(c Interval) bool { return c.From < to && from < c.To })
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

// names reads the classes out of a model in which the family is told apart, and
// gives each task a machine of its class: in the order of their starts the
// preferred one if that is free, else any. Where the family is told apart in some slots only,
// somebody may find none; then it returns false.
func (e *encoding) names(f family, start, prefer []int, value func(sat.Lit) bool, machine []int) bool {
	class := map[int][]int{} // machines, by task
	var order []int
	for _, i := range f.tasks {
		if start[i] < 0 {
			continue
		}
		for n, l := range e.on[i] {
			if l == e.top || l != 0 && value(l) {
				class[i] = f.classes[n]
				order = append(order, i)
				break
			}
		}
	}
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Or(cmp.Compare(e.p.Tasks[x].Starts[start[x]], e.p.Tasks[y].Starts[start[y]]), cmp.Compare(len(e.p.Tasks[x].Able), len(e.p.Tasks[y].Able)))
	})
	free := make([]Slot, len(e.p.Machines)) // from when on
	for _, i := range order {
		t := &e.p.Tasks[i]
		on := -1
		for _, m := range class[i] {
			if free[m] > t.Starts[start[i]] || !slices.Contains(t.Able, m) || e.p.closed(m, t.Starts[start[i]], t.Ends[start[i]]) {
				continue
			}
			if on < 0 || prefer != nil && prefer[i] == m {
				on = m
			}
		}
		if on < 0 {
			return false
		}
		machine[i], free[on] = on, t.Ends[start[i]]
	}
	return true
}
