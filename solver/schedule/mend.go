package schedule

import (
	"cmp"
	"slices"
)

// mend turns near, which may break the problem here and there, into an answer that
// keeps as many jobs as it can exactly where near has them: the jobs that are right
// by themselves are put back one after the other; those that break an order of their
// own, or find their places taken, are placed anew around the others. It returns nil
// when that leaves somebody without a place. The job of the task first, unless that is
// -1, is placed before all others if near does not have it right: who stands in its way
// gives way.
func (c *constructor) mend(near *Answer, first int) *Answer {
	b := c.empty.clone()
	var aside []int
	for _, tasks := range c.jobs {
		if first >= 0 && slices.Contains(tasks, first) && !c.orderly(tasks, near) && !b.fit(tasks, near) {
			return nil
		}
	}
	for n, tasks := range c.jobs {
		if !c.orderly(tasks, near) || !b.putBack(tasks, near) {
			aside = append(aside, n)
		}
	}
	key := make(map[int]Slot, len(aside))
	for _, n := range aside {
		key[n] = c.empty.wanted(c.jobs[n])
	}
	slices.SortStableFunc(aside, func(x, y int) int { return cmp.Compare(key[x], key[y]) })
	for _, n := range aside {
		if !b.fit(c.jobs[n], near) {
			return nil
		}
	}
	return &b.Answer
}

// fit places the tasks of a job, and leaves one out only when nothing else will do.
func (b *board) fit(tasks []int, near *Answer) bool {
	b.all = true
	left := tries
	if b.place(tasks, near, &left) {
		return true
	}
	b.all = false
	left = tries
	return b.place(tasks, near, &left)
}

// orderly reports whether near places the tasks of a job within their windows and
// in the order that its arcs ask for.
func (c *constructor) orderly(tasks []int, near *Answer) bool {
	for _, i := range tasks {
		k := near.Start[i]
		if k == unplaced || k < 0 && !c.p.Tasks[i].Skip || k >= 0 && (k < c.w.lo[i] || k > c.w.hi[i]) {
			return false
		}
		for _, n := range c.g.out[i] {
			a := &c.p.Arcs[n]
			to := near.Start[a.To]
			if k < 0 || to < 0 {
				continue
			}
			s := c.p.Tasks[a.To].Starts[to]
			if a.Earliest != nil && s < a.Earliest[k] || a.Latest != nil && s > a.Latest[k] {
				return false
			}
		}
	}
	return true
}

// putBack places the tasks of a job exactly as near has them, or none of them.
func (b *board) putBack(tasks []int, near *Answer) bool {
	for n, i := range tasks {
		k, m := near.Start[i], near.Machine[i]
		if b.Start[i] != unplaced { // fixed, and there already
			if b.Start[i] == k {
				continue
			}
		} else if k < 0 {
			if !slices.ContainsFunc(b.pair[i], func(j int) bool { return b.Start[j] >= 0 }) {
				b.Start[i] = -1
				continue
			}
		} else if at, ok := b.room(i, k, m); ok && !slices.ContainsFunc(b.pair[i], func(j int) bool { return b.Start[j] == -1 }) {
			b.set(i, k, at, 1)
			continue
		}
		for _, j := range tasks[:n] {
			switch {
			case b.w.lo[j] == b.w.hi[j] && !b.p.Tasks[j].Skip: // stays
			case b.Start[j] >= 0:
				b.set(j, b.Start[j], b.Machine[j], -1)
			default:
				b.Start[j] = unplaced
			}
		}
		return false
	}
	return true
}
