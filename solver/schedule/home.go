package schedule

import (
	"context"
	"slices"
)

// home takes the best answer back to where the preferred one has its tasks and machines, as far as
// that costs no more in any tier: a search, and everything that rebuilds, moves more than it must.
func (s *solving) home(ctx context.Context) {
	near := s.o.Prefer
	if s.err != nil || s.best == nil || s.project || near == nil {
		return
	}
	c := newConstructor(s.p, s.g, s.wide, s.best)
	if a := s.pass(ctx, c, s.best, 1); a != nil && compare(s.p.values(a), s.values) <= 0 {
		s.keep(a, "rebuilding")
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
	var away []stand
	for _, i := range tasks {
		if b.Start[i] >= 0 && near.Start[i] >= 0 && b.Start[i] != near.Start[i] {
			away = append(away, stand{i, near.Start[i], near.Machine[i]})
		}
	}
	if len(away) > 0 && b.shift(away, false) {
		return true
	}
	for n := range away {
		moved = b.shift(away[n:n+1], false) || moved
	}
	return moved
}

// machineHome gives a task the machine that it has in near. Those who stand there and are not at home either
// change places with it.
func (b *board) machineHome(i int, near *Answer) bool {
	k, m, want := b.Start[i], b.Machine[i], near.Machine[i]
	t := &b.p.Tasks[i]
	if k < 0 || m < 0 || m == want || !slices.Contains(t.Able, want) {
		return false
	}
	to := []stand{{i, k, want}}
	for j, on := range b.Machine {
		if o := &b.p.Tasks[j]; on == want && o.Starts[b.Start[j]] < t.Ends[k] && t.Starts[k] < o.Ends[b.Start[j]] {
			if near.Machine[j] == want {
				return false
			}
			to = append(to, stand{j, b.Start[j], m})
		}
	}
	return b.shift(to, true)
}

// A stand is where a task may be.
type stand struct{ task, start, machine int }

// shift moves placed tasks to stands, unless that is impossible or costs more in any tier. It takes another machine
// where that of a stand is not free and it need not be exact.
func (b *board) shift(to []stand, exact bool) bool {
	was := b.p.values(&b.Answer)
	back := make([]stand, len(to))
	for n, x := range to {
		back[n] = stand{x.task, b.Start[x.task], b.Machine[x.task]}
		b.set(x.task, back[n].start, back[n].machine, -1)
	}
	placed := 0
	for _, x := range to {
		if lo, hi := b.bounds(x.task); x.start < lo || x.start > hi {
			break
		}
		m, ok := b.room(x.task, x.start, x.machine)
		if !ok || exact && m != x.machine {
			break
		}
		b.set(x.task, x.start, m, 1)
		placed++
	}
	if placed == len(to) && compare(b.p.values(&b.Answer), was) <= 0 {
		return true
	}
	for _, x := range to[:placed] {
		b.set(x.task, x.start, b.Machine[x.task], -1)
	}
	for _, x := range back {
		b.set(x.task, x.start, x.machine, 1)
	}
	return false
}
