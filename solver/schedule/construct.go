package schedule

import (
	"cmp"
	"slices"
)

// A board is a partly filled answer with what is still free: the load of every
// resource and the holder of every machine by slot.
type board struct {
	p    *Problem
	g    graph
	w    windows
	load [][]int32   // by resource and slot
	busy [][]bool    // by machine and slot; closed slots are busy
	uses [][]taskUse // by task
	pair [][]int     // by task: those left out together with it
	rank []int       // by machine: how many tasks could stand on it
	cost [][]taskCost
	Answer
}

type taskUse struct {
	resource int
	*Use
}

type taskCost struct {
	tier int
	at   []int64
}

func newBoard(p *Problem, g graph, w windows) *board {
	b := &board{p: p, g: g, w: w,
		load: make([][]int32, len(p.Resources)),
		busy: make([][]bool, len(p.Machines)),
		pair: make([][]int, len(p.Tasks)),
		uses: make([][]taskUse, len(p.Tasks)),
		rank: make([]int, len(p.Machines)),
		cost: make([][]taskCost, len(p.Tasks)),
	}
	for r := range p.Resources {
		b.load[r] = make([]int32, p.Slots)
		for n := range p.Resources[r].Uses {
			u := &p.Resources[r].Uses[n]
			b.uses[u.Task] = append(b.uses[u.Task], taskUse{r, u})
		}
	}
	for _, t := range p.Together {
		b.pair[t[0]] = append(b.pair[t[0]], t[1])
		b.pair[t[1]] = append(b.pair[t[1]], t[0])
	}
	for m := range p.Machines {
		b.busy[m] = make([]bool, p.Slots)
		for _, c := range p.Machines[m].Closed {
			for t := max(0, c.From); t < min(c.To, p.Slots); t++ {
				b.busy[m][t] = true
			}
		}
	}
	for i := range p.Tasks {
		for _, m := range p.Tasks[i].Able {
			b.rank[m]++
		}
	}
	for n := range p.Tiers {
		for _, c := range p.Tiers[n].Costs {
			b.cost[c.Task] = append(b.cost[c.Task], taskCost{n, c.At})
		}
	}
	b.Start = make([]int, len(p.Tasks))
	b.Machine = make([]int, len(p.Tasks))
	for i := range b.Start {
		b.Start[i], b.Machine[i] = unplaced, -1
	}
	return b
}

// unplaced marks a task without a decision; -1 marks one that is left out.
const unplaced = -2

// set writes (sign 1) or erases (sign -1) task i at start k on machine m.
func (b *board) set(i, k, m int, sign int32) {
	t := &b.p.Tasks[i]
	for _, u := range b.uses[i] {
		for s := u.from(t, k); s < t.Ends[k]; s++ {
			if u.On == nil || u.On[s] {
				b.load[u.resource][s] += sign * u.Need
			}
		}
	}
	if m >= 0 {
		for s := t.Starts[k]; s < t.Ends[k]; s++ {
			b.busy[m][s] = sign > 0
		}
	}
	if sign > 0 {
		b.Start[i], b.Machine[i] = k, m
	} else {
		b.Start[i], b.Machine[i] = unplaced, -1
	}
}

// room finds a machine on which task i can start at k, -1 if it needs none. It
// takes the wanted one if that is free, else the one that fewest tasks can use.
func (b *board) room(i, k, want int) (machine int, ok bool) {
	t := &b.p.Tasks[i]
	for _, u := range b.uses[i] {
		for s := u.from(t, k); s < t.Ends[k]; s++ {
			if (u.On == nil || u.On[s]) && b.load[u.resource][s]+u.Need > b.p.Resources[u.resource].Capacity[s] {
				return -1, false
			}
		}
	}
	if len(t.Able) == 0 {
		return -1, true
	}
	machine = -1
	for _, m := range t.Able {
		if slices.Contains(b.busy[m][t.Starts[k]:t.Ends[k]], true) {
			continue
		}
		if m == want {
			return m, true
		}
		if machine < 0 || b.rank[m] < b.rank[machine] {
			machine = m
		}
	}
	return machine, machine >= 0
}

// bounds narrows the window of task i to what its placed neighbours allow.
func (b *board) bounds(i int) (lo, hi int) {
	t := &b.p.Tasks[i]
	lo, hi = b.w.lo[i], b.w.hi[i]
	for _, n := range b.g.in[i] {
		a := &b.p.Arcs[n]
		if k := b.Start[a.From]; k >= 0 {
			if a.Earliest != nil {
				lo = max(lo, t.first(a.Earliest[k]))
			}
			if a.Latest != nil {
				hi = min(hi, t.last(a.Latest[k]))
			}
		}
	}
	for _, n := range b.g.out[i] {
		a := &b.p.Arcs[n]
		if k := b.Start[a.To]; k >= 0 {
			s := b.p.Tasks[a.To].Starts[k]
			for lo <= hi && a.Latest != nil && a.Latest[lo] < s {
				lo++
			}
			for lo <= hi && a.Earliest != nil && a.Earliest[hi] > s {
				hi--
			}
		}
	}
	return lo, hi
}

// tries bounds the search within one job of the constructor.
const tries = 4000

// construct places the jobs one after the other, each task at its cheapest, then
// earliest, place that is still free. Jobs come in the order of the slot by
// which their first costly task wants to be placed. With prefer, jobs come in
// the order of their preferred starts and tasks keep as near to those as they
// can. It returns false when some task found no place.
func construct(p *Problem, g graph, w windows, prefer *Answer) (*Answer, bool) {
	b := newBoard(p, g, w)
	jobs := map[int][]int{}
	var ids []int
	for i := range p.Tasks {
		j := p.Tasks[i].Job
		if jobs[j] == nil {
			ids = append(ids, j)
		}
		jobs[j] = append(jobs[j], i)
		if w.lo[i] == w.hi[i] && !p.Tasks[i].Skip { // fixed: it is there whatever we do
			if m, ok := b.room(i, w.lo[i], -1); ok {
				b.set(i, w.lo[i], m, 1)
			}
		}
	}
	key := map[int]Slot{}
	for _, j := range ids {
		key[j] = b.wanted(jobs[j])
	}
	slices.SortStableFunc(ids, func(x, y int) int { return cmp.Compare(key[x], key[y]) })
	all := true
	for _, j := range ids {
		left := tries
		if !b.place(p.topological(g, jobs[j]), prefer, &left) {
			all = false
		}
	}
	for i := range b.Start {
		if b.Start[i] == unplaced {
			if !p.Tasks[i].Skip {
				all = false
			}
			b.Start[i] = -1
		}
	}
	return &b.Answer, all
}

// wanted is the slot by which the job wants its costly tasks placed: the latest
// cheapest start of the first tier that has an opinion.
func (b *board) wanted(tasks []int) Slot {
	best, tier := b.p.Slots, len(b.p.Tiers)
	for _, i := range tasks {
		t := &b.p.Tasks[i]
		for _, c := range b.cost[i] {
			if len(c.at) == 0 {
				continue
			}
			low := slices.Min(c.at)
			if slices.Max(c.at) == low {
				continue
			}
			k := len(c.at) - 1
			for c.at[k] != low {
				k--
			}
			if c.tier < tier || c.tier == tier && t.Starts[k] < best {
				best, tier = t.Starts[k], c.tier
			}
		}
	}
	return best
}

// topological orders the tasks of one job so that arcs go forward; ties keep the
// given order.
func (p *Problem) topological(g graph, tasks []int) []int {
	in := map[int]int{}
	for _, i := range tasks {
		in[i] = 0
	}
	for _, i := range tasks {
		for _, n := range g.out[i] {
			if _, ok := in[p.Arcs[n].To]; ok && p.Arcs[n].To != i {
				in[p.Arcs[n].To]++
			}
		}
	}
	var order []int
	done := map[int]bool{}
	for len(order) < len(tasks) {
		found := false
		for _, i := range tasks {
			if done[i] || in[i] > 0 {
				continue
			}
			found, done[i] = true, true
			order = append(order, i)
			for _, n := range g.out[i] {
				in[p.Arcs[n].To]--
			}
			break
		}
		if !found { // a cycle of arcs: no order serves all
			for _, i := range tasks {
				if !done[i] {
					done[i] = true
					order = append(order, i)
				}
			}
		}
	}
	return order
}

// place places the tasks in order, going back on failure until left is used up.
func (b *board) place(tasks []int, prefer *Answer, left *int) bool {
	for len(tasks) > 0 && b.Start[tasks[0]] != unplaced {
		tasks = tasks[1:]
	}
	if len(tasks) == 0 {
		return true
	}
	i := tasks[0]
	t := &b.p.Tasks[i]
	want, wantMachine := -1, -1
	if prefer != nil {
		want, wantMachine = prefer.Start[i], prefer.Machine[i]
	}
	skip, place := t.Skip, true
	for _, j := range b.pair[i] {
		skip = skip && b.Start[j] < 0
		place = place && b.Start[j] != -1
	}
	for _, k := range b.candidates(i, want) {
		if !place {
			break
		}
		if *left--; *left < 0 {
			break
		}
		m, ok := b.room(i, k, wantMachine)
		if !ok {
			continue
		}
		b.set(i, k, m, 1)
		if b.place(tasks[1:], prefer, left) {
			return true
		}
		b.set(i, k, m, -1)
	}
	if !skip {
		return false
	}
	b.Start[i] = -1
	if b.place(tasks[1:], prefer, left) {
		return true
	}
	b.Start[i] = unplaced
	return false
}

// candidates lists the starts of task i in the order in which to try them.
func (b *board) candidates(i, want int) []int {
	lo, hi := b.bounds(i)
	var ks []int
	for k := lo; k <= hi; k++ {
		ks = append(ks, k)
	}
	if want >= lo && want <= hi {
		// The preferred start first; the rest in order.
		ks = append([]int{want}, slices.DeleteFunc(ks, func(k int) bool { return k == want })...)
	}
	if len(b.cost[i]) == 0 {
		return ks
	}
	slices.SortStableFunc(ks, func(x, y int) int {
		for _, c := range b.cost[i] { // tiers ascend
			if d := cmp.Compare(c.at[x], c.at[y]); d != 0 {
				return d
			}
		}
		return 0
	})
	return ks
}
