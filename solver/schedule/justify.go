package schedule

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// justify makes answers for a project, where placing job by job says little: task by
// task in an order that obeys the arcs, each at its earliest place, by several rules
// of which task comes next. Every answer is pushed to the right and back to the left
// for as long as that makes it shorter (Valls, Ballestín and Quintanilla,
// Justification and RCPSP, EJOR 165, 2005). It hands out every answer, begins so many,
// and ends early when take returns false. The dice have a fixed seed.
func (c *constructor) justify(answers int, take func(*Answer) bool) {
	var (
		tasks = c.p.topological(c.g, slices.Concat(c.jobs...))
		rules = c.rules(tasks)
		dice  = rand.New(rand.NewPCG(1, 1))
		key   = make([]float64, len(c.p.Tasks))
	)
	for n := range answers {
		rule := rules[n%len(rules)]
		for _, i := range tasks {
			key[i] = rule[i]
			if n >= len(rules) {
				key[i] += scatter * dice.Float64()
			}
		}
		a := c.list(tasks, key)
		for end := c.p.Slots + 1; a != nil; {
			if !take(a) {
				return
			}
			e := c.p.end(a)
			if e >= end {
				break
			}
			end = e
			if a = c.right(tasks, a); a != nil {
				for _, i := range tasks {
					key[i] = float64(c.p.Tasks[i].Starts[a.Start[i]])
				}
				a = c.list(tasks, key)
			}
		}
	}
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
		for k := lo; k <= hi && b.Start[i] == unplaced; k++ {
			if m, ok := b.room(i, k, -1); ok {
				b.set(i, k, m, 1)
			}
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
