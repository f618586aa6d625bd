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
	aim  []int // by task: starts before this index are tried last; nil: none
	all  bool  // nothing may be left out
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

// take writes an answer on an empty board.
func (b *board) take(a *Answer) {
	for i, k := range a.Start {
		if k >= 0 {
			b.set(i, k, a.Machine[i], 1)
		} else {
			b.Start[i] = k
		}
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

// A constructor places jobs one after the other, each task at its cheapest, then
// earliest, place that is still free.
type constructor struct {
	p      *Problem
	g      graph
	w      windows
	jobs   [][]int // the tasks of each job, so that arcs go forward
	empty  *board  // with what is fixed already placed
	prefer *Answer
}

func newConstructor(p *Problem, g graph, w windows, prefer *Answer) *constructor {
	c := &constructor{p: p, g: g, w: w, empty: newBoard(p, g, w), prefer: prefer}
	of := map[int]int{}
	for i := range p.Tasks {
		n, ok := of[p.Tasks[i].Job]
		if !ok {
			n = len(c.jobs)
			of[p.Tasks[i].Job] = n
			c.jobs = append(c.jobs, nil)
		}
		c.jobs[n] = append(c.jobs[n], i)
		if w.lo[i] == w.hi[i] && !p.Tasks[i].Skip { // fixed: it is there whatever we do
			want := -1
			if prefer != nil {
				want = prefer.Machine[i]
			}
			if m, ok := c.empty.room(i, w.lo[i], want); ok {
				c.empty.set(i, w.lo[i], m, 1)
			}
		}
	}
	c.empty.aim = make([]int, len(p.Tasks))
	for n := range c.jobs {
		c.jobs[n] = p.topological(g, c.jobs[n])
		c.empty.setAim(c.jobs[n])
	}
	return c
}

// setAim finds out how early the tasks of a job, in the order of their arcs, may
// start so that those that must follow soon after still find their first cheapest
// start in reach.
func (b *board) setAim(tasks []int) {
	for n := len(tasks) - 1; n >= 0; n-- {
		i := tasks[n]
		for _, c := range b.cost[i] {
			if len(c.at) > 0 && slices.Max(c.at) > slices.Min(c.at) {
				b.aim[i] = slices.Index(c.at, slices.Min(c.at))
				break
			}
		}
		for _, o := range b.g.out[i] {
			a := &b.p.Arcs[o]
			if a.Latest == nil || b.aim[a.To] == 0 || a.To == i {
				continue
			}
			k, _ := slices.BinarySearch(a.Latest, b.p.Tasks[a.To].Starts[b.aim[a.To]])
			b.aim[i] = max(b.aim[i], min(k, len(a.Latest)-1))
		}
	}
}

// urgent orders the jobs by the slot at which they have to begin so that nothing
// about them costs more than it must.
func (c *constructor) urgent() []int {
	order := make([]int, len(c.jobs))
	key := make([]Slot, len(c.jobs))
	for n := range order {
		order[n], key[n] = n, c.empty.wanted(c.jobs[n])
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(key[x], key[y]) })
	return order
}

// build places the jobs in the order. It returns nil when some task found no place.
func (c *constructor) build(order []int) *Answer {
	b := c.empty.clone()
	for _, n := range order {
		// Nobody is left out until every other way has been tried.
		b.all = true
		left := tries
		if !b.place(c.jobs[n], c.prefer, &left) {
			b.all = false
			left = tries
			if !b.place(c.jobs[n], c.prefer, &left) {
				return nil
			}
		}
	}
	return &b.Answer
}

// better rebuilds the answer so many times, each time with the jobs that cost most
// placed earlier than before, and hands out every answer (Joslin and Clements,
// "Squeaky wheel" optimization, JAIR 10, 1999).
func (c *constructor) better(order []int, rounds int, take func(*Answer)) {
	place := make([]float64, len(order))
	for range rounds {
		a := c.build(order)
		if a == nil {
			return
		}
		take(a)
		for at, n := range order {
			place[n] = float64(at)
		}
		cost := make([]int64, len(c.jobs))
		for t := range c.p.Tiers {
			for i := range cost {
				cost[i] = 0
			}
			c.p.Tiers[t].byJob(a, c.empty.jobOf(c.jobs), cost)
			var most int64 = 1
			for _, v := range cost {
				most = max(most, v)
			}
			for n, v := range cost {
				if v > 0 { // the earlier the tier, the further ahead
					place[n] -= float64(len(order)) * (0.1 + 0.4*float64(v)/float64(most)) / float64(int(1)<<t)
				}
			}
		}
		slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(place[x], place[y]) })
	}
}

// jobOf is the index of each task's job.
func (b *board) jobOf(jobs [][]int) []int {
	of := make([]int, len(b.p.Tasks))
	for n, tasks := range jobs {
		for _, i := range tasks {
			of[i] = n
		}
	}
	return of
}

// byJob adds what each job costs in the tier.
func (t *Tier) byJob(a *Answer, job []int, cost []int64) {
	for _, c := range t.Costs {
		if k := a.Start[c.Task]; k >= 0 {
			cost[job[c.Task]] += c.At[k]
		} else {
			cost[job[c.Task]] += c.Skip
		}
	}
}

// clone copies what placing changes.
func (b *board) clone() *board {
	c := *b
	c.load = make([][]int32, len(b.load))
	for r := range b.load {
		c.load[r] = slices.Clone(b.load[r])
	}
	c.busy = make([][]bool, len(b.busy))
	for m := range b.busy {
		c.busy[m] = slices.Clone(b.busy[m])
	}
	c.Start, c.Machine = slices.Clone(b.Start), slices.Clone(b.Machine)
	return &c
}

// wanted is the latest slot at which some task of the job has to start so that no
// task of it costs more than it must: the latest cheapest starts, carried back
// along the arcs, which go forward in tasks.
func (b *board) wanted(tasks []int) Slot {
	hi := map[int]Slot{}
	for _, i := range tasks {
		hi[i] = b.p.Slots
		for _, c := range b.cost[i] {
			if len(c.at) == 0 {
				continue
			}
			low := slices.Min(c.at)
			k := len(c.at) - 1
			for c.at[k] != low {
				k--
			}
			if k < len(c.at)-1 {
				hi[i] = min(hi[i], b.p.Tasks[i].Starts[k])
			}
		}
	}
	key := b.p.Slots
	for n := len(tasks) - 1; n >= 0; n-- {
		i := tasks[n]
		for _, o := range b.g.out[i] {
			a := &b.p.Arcs[o]
			to, ok := hi[a.To]
			if !ok || a.Earliest == nil || to >= b.p.Slots {
				continue
			}
			k, _ := slices.BinarySearch(a.Earliest, to+1) // the starts before k leave To in time
			if k == 0 {
				k = 1
			}
			if k <= len(a.Earliest)-1 || a.Earliest[k-1] > to {
				hi[i] = min(hi[i], b.p.Tasks[i].Starts[k-1])
			}
		}
		key = min(key, hi[i])
	}
	return key
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
	skip, place := t.Skip && (!b.all || b.w.lo[i] > b.w.hi[i]), true
	for _, j := range b.pair[i] {
		skip = skip && b.Start[j] < 0
		place = place && b.Start[j] != -1
	}
	try := func(k int) bool {
		if *left--; *left < 0 {
			return false
		}
		m, ok := b.room(i, k, wantMachine)
		if !ok {
			return false
		}
		b.set(i, k, m, 1)
		if b.place(tasks[1:], prefer, left) {
			return true
		}
		b.set(i, k, m, -1)
		return false
	}
	if place {
		lo, hi := b.bounds(i)
		if len(b.cost[i]) > 0 {
			if slices.ContainsFunc(b.cheapest(i, lo, hi, want), try) {
				return true
			}
		} else {
			if want >= lo && want <= hi && try(want) {
				return true
			}
			from := lo
			if b.aim != nil {
				from = min(max(lo, b.aim[i]), hi+1)
			}
			for k := from; k <= hi && *left > 0; k++ {
				if k != want && try(k) {
					return true
				}
			}
			for k := from - 1; k >= lo && *left > 0; k-- {
				if k != want && try(k) {
					return true
				}
			}
		}
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

// cheapest lists the starts of task i in [lo, hi], the cheapest first, of equally
// cheap ones the wanted and then the earliest first.
func (b *board) cheapest(i, lo, hi, want int) []int {
	ks := make([]int, 0, max(0, hi-lo+1))
	for k := lo; k <= hi; k++ {
		ks = append(ks, k)
	}
	slices.SortStableFunc(ks, func(x, y int) int {
		for _, c := range b.cost[i] { // tiers ascend
			if d := cmp.Compare(c.at[x], c.at[y]); d != 0 {
				return d
			}
		}
		switch want {
		case x:
			return -1
		case y:
			return 1
		}
		return 0
	})
	return ks
}
