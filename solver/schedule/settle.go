package schedule

import "slices"

// settle moves every task to its earliest place that costs no more in any tier,
// in the order of starts, until nothing moves. Starts that nothing asks for are
// a solver's accident; a plan that does things early has room when a day is
// lost. What is at home stays.
func settle(p *Problem, g graph, w windows, a, home *Answer) {
	b := newBoard(p, g, w)
	b.take(a)
	apart := make([]bool, len(p.Tasks)) // earlier is worse: the far end of a gap
	for _, t := range p.Tiers {
		for _, gap := range t.Gaps {
			apart[gap.From] = true
		}
	}
	order := make([]int, 0, len(p.Tasks))
	for i := range p.Tasks {
		if b.Start[i] > 0 && !apart[i] && (home == nil || b.Start[i] != home.Start[i]) {
			order = append(order, i)
		}
	}
	for moved := true; moved; {
		moved = false
		slices.SortStableFunc(order, func(x, y int) int {
			return int(p.Tasks[x].Starts[b.Start[x]]) - int(p.Tasks[y].Starts[b.Start[y]])
		})
		for _, i := range order {
			k, m := b.Start[i], b.Machine[i]
			b.set(i, k, m, -1)
			lo, _ := b.bounds(i)
			to, on := k, m
			for c := lo; c < k; c++ {
				if b.dearer(i, c, k) {
					continue
				}
				if r, ok := b.room(i, c, m); ok {
					to, on, moved = c, r, true
					break
				}
			}
			b.set(i, to, on, 1)
		}
	}
	a.Start, a.Machine = b.Start, b.Machine
}

// dearer reports whether task i costs more at start c than at start k in any tier.
func (b *board) dearer(i, c, k int) bool {
	for _, t := range b.cost[i] {
		if t.at[c] > t.at[k] {
			return true
		}
	}
	return false
}
