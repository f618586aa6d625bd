package schedule

import (
	"context"
	"slices"
)

// home takes the best answer back to where the preferred one has its tasks and machines, as far as
// that costs no more in any tier: a search, and everything that rebuilds, moves more than it must.
func (s *solving) home(ctx context.Context) {
	near := s.o.Prefer
	if s.err != nil || s.best == nil || s.project || near == nil || len(near.Start) != len(s.p.Tasks) {
		return
	}
	c := newConstructor(s.p, s.g, s.wide, s.best)
	if r := newRebuilder(c, s.best, near, glances*len(s.p.Tasks)); r != nil {
		if a := r.run(ctx); a != nil {
			settle(s.p, s.g, s.wide, a, near)
			if compare(s.p.values(a), s.values) <= 0 {
				s.keep(a, "rebuilding")
			}
		}
	}
	if s.err != nil {
		return
	}
	b := newBoard(s.p, s.g, s.wide)
	b.take(s.best)
	for moved := true; moved; {
		moved = false
		for _, tasks := range c.jobs {
			moved = b.jobHome(tasks, near) || moved
		}
		for i := range s.p.Tasks {
			moved = b.machineHome(i, near) || moved
		}
	}
	s.keep(&b.Answer, "going home")
}

// jobHome puts the tasks of a job where near has them: all of them, or else one after the other.
func (b *board) jobHome(tasks []int, near *Answer) (moved bool) {
	var away []int
	for _, i := range tasks {
		if b.Start[i] >= 0 && near.Start[i] >= 0 && b.Start[i] != near.Start[i] {
			away = append(away, i)
		}
	}
	if len(away) > 0 && b.move(away, near) {
		return true
	}
	for n := range away {
		moved = b.move(away[n:n+1], near) || moved
	}
	return moved
}

// move puts placed tasks where near has them, if that is possible and costs no more in any tier.
func (b *board) move(tasks []int, near *Answer) bool {
	was := b.p.values(&b.Answer)
	old := make([]int, 0, 2*len(tasks))
	for _, i := range tasks {
		old = append(old, b.Start[i], b.Machine[i])
		b.set(i, b.Start[i], b.Machine[i], -1)
	}
	ok, placed := true, 0
	for _, i := range tasks {
		k := near.Start[i]
		m := -1
		lo, hi := b.bounds(i)
		if ok = lo <= k && k <= hi; ok {
			m, ok = b.room(i, k, near.Machine[i])
		}
		if !ok {
			break
		}
		b.set(i, k, m, 1)
		placed++
	}
	if ok && compare(b.p.values(&b.Answer), was) <= 0 {
		return true
	}
	for _, i := range tasks[:placed] {
		b.set(i, b.Start[i], b.Machine[i], -1)
	}
	for n, i := range tasks {
		b.set(i, old[2*n], old[2*n+1], 1)
	}
	return false
}

// machineHome gives a task the machine that it has in near. Those who stand there and are not at home either
// change places with it.
func (b *board) machineHome(i int, near *Answer) bool {
	k, m, want := b.Start[i], b.Machine[i], near.Machine[i]
	t := &b.p.Tasks[i]
	if k < 0 || m < 0 || m == want || !slices.Contains(t.Able, want) {
		return false
	}
	var others []int
	for j, on := range b.Machine {
		if o := &b.p.Tasks[j]; on == want && o.Starts[b.Start[j]] < t.Ends[k] && t.Starts[k] < o.Ends[b.Start[j]] {
			if near.Machine[j] == want {
				return false
			}
			others = append(others, j)
		}
	}
	b.set(i, k, m, -1)
	at := make([]int, len(others))
	for n, j := range others {
		at[n] = b.Start[j]
		b.set(j, at[n], want, -1)
	}
	on, ok := b.room(i, k, want)
	if ok = ok && on == want; ok {
		b.set(i, k, want, 1)
	}
	placed := 0
	for ok && placed < len(others) {
		if on, free := b.room(others[placed], at[placed], m); free && on == m {
			b.set(others[placed], at[placed], m, 1)
			placed++
		} else {
			ok = false
		}
	}
	if ok {
		return true
	}
	for n, j := range others {
		if n < placed {
			b.set(j, at[n], m, -1)
		}
	}
	if b.Start[i] >= 0 {
		b.set(i, k, want, -1)
	}
	b.set(i, k, m, 1)
	for n, j := range others {
		b.set(j, at[n], want, 1)
	}
	return false
}
