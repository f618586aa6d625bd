package schedule

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// A breeder makes answers for a project, where placing job by job says little: task by
// task in an order that obeys the arcs, each at its earliest place. Every answer is pushed to
// the right and back to the left for as long as that makes it shorter (Valls, Ballestín
// and Quintanilla, Justification and RCPSP, EJOR 165, 2005). It hands out every answer,
// and ends early when take returns false. The dice have a fixed seed.
type breeder struct {
	*constructor
	tasks []int // so that arcs go forward
	dice  *rand.Rand
	take  func(*Answer) bool
	kept  []bred // to breed from, no two the same
	key   []float64
	in    []bool
	left  int  // how many are still bred
	over  bool // take has said so
}

const (
	breeders = 60    // orders that are bred from
	children = 12000 // bred at most
	mutation = 0.05  // of two neighbours in an order to change places
)

func newBreeder(c *constructor, take func(*Answer) bool) *breeder {
	return &breeder{
		constructor: c, tasks: c.p.topological(c.g, slices.Concat(c.jobs...)), dice: rand.New(rand.NewPCG(1, 1)), take: take,
		key: make([]float64, len(c.p.Tasks)), in: make([]bool, len(c.p.Tasks)), left: children,
	}
}

// sow begins so many answers by several rules of which task comes next, and keeps the
// shortest to breed from.
func (b *breeder) sow(answers int) {
	rules := b.rules(b.tasks)
	for n := 0; n < answers && !b.over; n++ {
		rule := rules[n%len(rules)]
		for _, i := range b.tasks {
			b.key[i] = rule[i]
			if n >= len(rules) {
				b.key[i] += scatter * b.dice.Float64()
			}
		}
		if x := b.justify(); x.order != nil && !b.keeps(x) {
			b.kept = append(b.kept, x)
		}
	}
	slices.SortStableFunc(b.kept, func(x, y bred) int { return cmp.Compare(x.end, y.end) })
	b.kept = b.kept[:min(len(b.kept), breeders)]
}

// breed makes so many orders more, each out of two that are kept: a piece of the one, the tasks
// that are missing in the order of the other, and again of the one (Hartmann, A competitive
// genetic algorithm for resource-constrained project scheduling, Naval Research Logistics
// 45, 1998), here and there two neighbours changed. An order that is no longer than the
// first of its two takes the place of that one, so that they stay unlike for long.
func (b *breeder) breed(more int) {
	for ; more > 0 && b.left > 0 && !b.over && len(b.kept) > 1; more-- {
		b.left--
		one := b.dice.IntN(len(b.kept))
		two := (one + 1 + b.dice.IntN(len(b.kept)-1)) % len(b.kept)
		p, q := b.dice.IntN(len(b.tasks)), b.dice.IntN(len(b.tasks))
		p, q = min(p, q), max(p, q)
		order := make([]int, 0, len(b.tasks))
		clear(b.in)
		fill := func(from []int, upTo int) {
			for _, i := range from {
				if len(order) < upTo && !b.in[i] {
					b.in[i] = true
					order = append(order, i)
				}
			}
		}
		fill(b.kept[one].order, p)
		fill(b.kept[two].order, q)
		fill(b.kept[one].order, len(b.tasks))
		for n := 1; n < len(order); n++ {
			if b.dice.Float64() < mutation {
				order[n-1], order[n] = order[n], order[n-1] // list obeys the arcs in any case
			}
		}
		for n, i := range order {
			b.key[i] = float64(n)
		}
		if x := b.justify(); x.order != nil && x.end <= b.kept[one].end && !b.keeps(x) {
			b.kept[one] = x
		}
	}
}

// justify makes the answer of an order of the tasks, the least key first, pushes it to the
// right and back to the left for as long as that makes it shorter, and returns the order of
// the shortest.
func (b *breeder) justify() bred {
	best := bred{end: b.p.Slots + 1}
	for a := b.list(b.tasks, b.key); a != nil; a = b.list(b.tasks, b.key) {
		if b.over = !b.take(a); b.over {
			return best
		}
		e := b.p.end(a)
		if e >= best.end {
			break
		}
		best = bred{e, b.ordered(a)}
		if a = b.right(b.tasks, a); a == nil {
			break
		}
		for _, i := range b.tasks {
			b.key[i] = float64(b.p.Tasks[i].Starts[a.Start[i]])
		}
	}
	return best
}

// ordered lists the tasks of an answer in the order of their starts, which obeys the arcs.
func (b *breeder) ordered(a *Answer) []int {
	order := slices.Clone(b.tasks)
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Compare(b.p.Tasks[x].Starts[a.Start[x]], b.p.Tasks[y].Starts[a.Start[y]])
	})
	return order
}

// A bred order of tasks is known by the end of the answer that it makes.
type bred struct {
	end   Slot
	order []int // nil: it makes none
}

// keeps reports whether an order is kept already.
func (b *breeder) keeps(x bred) bool {
	return slices.ContainsFunc(b.kept, func(y bred) bool { return y.end == x.end && slices.Equal(y.order, x.order) })
}

// scatter is how far the dice move a task in the order of a rule: rules go from 0 to 1.
const scatter = 0.3

// rules are orders of the tasks by what should come early, 0 first to 1 last: the
// latest start that the arcs leave, how many tasks follow, and how many slots they and
// the task itself take.
func (c *constructor) rules(tasks []int) [][]float64 {
	late := make([]float64, len(c.p.Tasks))
	follow := make([]float64, len(c.p.Tasks))
	length := make([]float64, len(c.p.Tasks))
	after := make([][]bool, len(c.p.Tasks))
	for _, i := range slices.Backward(tasks) {
		late[i] = float64(c.p.Tasks[i].Starts[c.w.hi[i]])
		after[i] = make([]bool, len(c.p.Tasks))
		after[i][i] = true
		for _, o := range c.g.out[i] {
			for j, yes := range after[c.p.Arcs[o].To] {
				after[i][j] = after[i][j] || yes
			}
		}
		for j, yes := range after[i] {
			if yes {
				follow[i]--
				length[i] -= float64(c.p.Tasks[j].Ends[0] - c.p.Tasks[j].Starts[0])
			}
		}
	}
	rules := [][]float64{late, follow, length}
	for _, r := range rules {
		low, high := slices.Min(r), slices.Max(r)
		for i := range r {
			r[i] = (r[i] - low) / max(1, high-low)
		}
	}
	return rules
}

// end is the last end of an answer.
func (p *Problem) end(a *Answer) (end Slot) {
	for i, k := range a.Start {
		if k >= 0 {
			end = max(end, p.Tasks[i].Ends[k])
		}
	}
	return end
}

// list places the tasks one after the other at their earliest place, always the one
// with the least key of those whose predecessors are placed. It returns nil when one
// finds no place.
func (c *constructor) list(tasks []int, key []float64) *Answer {
	b := c.empty.clone()
	wait := make([]int, len(c.p.Tasks))
	for _, i := range tasks {
		wait[i] = len(c.g.in[i])
	}
	var ready []int
	for _, i := range tasks {
		if wait[i] == 0 {
			ready = append(ready, i)
		}
	}
	for range tasks {
		if len(ready) == 0 {
			return nil // a cycle of arcs
		}
		n := 0
		for m := range ready {
			if key[ready[m]] < key[ready[n]] {
				n = m
			}
		}
		i := ready[n]
		ready = slices.Delete(ready, n, n+1)
		lo, hi := b.bounds(i)
		for k := lo; k <= hi && b.Start[i] == unplaced; {
			s, full := b.lastFull(i, k)
			if !full {
				b.set(i, k, -1, 1)
			}
			k = max(k+1, c.p.Tasks[i].first(s+1))
		}
		if b.Start[i] == unplaced {
			return nil
		}
		for _, o := range c.g.out[i] {
			j := c.p.Arcs[o].To
			if wait[j]--; wait[j] == 0 {
				ready = append(ready, j)
			}
		}
	}
	return &b.Answer
}

// lastFull is the last slot in which task i of a project, started at its k-th start, finds too
// little room; full is false when it finds enough. No start from the k-th up to that slot
// is possible either.
func (b *board) lastFull(i, k int) (last Slot, full bool) {
	t := &b.p.Tasks[i]
	last = -1
	for _, u := range b.uses[i] {
		load, most := b.load[u.resource], b.p.Resources[u.resource].Capacity[0]-u.Need
		for s := t.Ends[k] - 1; s >= t.Starts[k] && s > last; s-- {
			if load[s] > most {
				last, full = s, true
				break
			}
		}
	}
	return last, full
}

// right pushes every task of an answer, the last one first, to its latest place
// before the end of the answer.
func (c *constructor) right(tasks []int, a *Answer) *Answer {
	b := c.empty.clone()
	end := c.p.end(a)
	order := slices.Clone(tasks)
	slices.Reverse(order)
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Compare(c.p.Tasks[y].Ends[a.Start[y]], c.p.Tasks[x].Ends[a.Start[x]])
	})
	for _, i := range order {
		if b.Start[i] != unplaced {
			continue
		}
		lo, hi := b.bounds(i)
		for k := hi; k >= lo && b.Start[i] == unplaced; k-- {
			if c.p.Tasks[i].Ends[k] > end {
				continue
			}
			if m, ok := b.room(i, k, -1); ok {
				b.set(i, k, m, 1)
			}
		}
		if b.Start[i] == unplaced {
			return nil
		}
	}
	return &b.Answer
}
