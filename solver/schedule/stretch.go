package schedule

import (
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"slices"
)

// From so many jobs on, the best answer is looked through before each round, stretch by stretch: so
// many jobs that end at about the same time, half of them those of the stretch before, are planned
// anew while all others stay. There are at most so many sweeps at a time. Before the first round it is
// only where first answers are rebuilt: with fewer jobs that round has bounds, and better answers,
// sooner than a sweep.
const (
	stretchJobs   = 300
	stretchSize   = 40
	stretchSweeps = 3
)

// Tasks of a stretch stay so many slots around the time that its jobs take together, and so many propagations
// may be spent on it.
const (
	stretchReach  = 16
	stretchEffort = 1_500_000
	stretchNaming = 300 // conflicts, see naming
)

// replanStretches looks through the best answer.
func (s *solving) replanStretches(ctx context.Context) {
	if s.best == nil || s.project || s.effort > 0 {
		return
	}
	size := cmp.Or(s.o.stretch, stretchSize)
	for range stretchSweeps {
		jobs := s.byEnd()
		least := stretchJobs
		if s.counts.Rounds == 1 {
			least = rebuilt
		}
		if s.o.stretch == 0 && len(jobs) < least {
			return
		}
		s.settle() // so that what is asked again the next time begins from the same
		if s.err != nil {
			return
		}
		a, values := s.best, s.values
		jobs = s.byEnd()
		for from := 0; from == 0 || from+size/2 < len(jobs); from += max(1, size/2) {
			if s.err != nil || ctx.Err() != nil || compare(values, s.bounds) == 0 {
				break
			}
			part := jobs[from:min(len(jobs), from+size)]
			beside := jobs[max(0, from-size/2):min(len(jobs), from+size+size/2)]
			if key := s.key(a, part, beside); s.asked[key] {
				continue
			}
			if b := s.stretch(ctx, a, part); b != nil {
				a, values = b, s.p.values(b)
			}
			s.asked[s.key(a, part, beside)] = true
		}
		if s.err != nil || compare(values, s.values) == 0 {
			return
		}
		s.consider(a)
	}
}

// key stands for a stretch and where its jobs, and those beside it, start: as long as these stay,
// there is little to gain from asking again.
func (s *solving) key(a *Answer, jobs, beside []int) [16]byte {
	h := fnv.New128a()
	var b [8]byte
	for i := range s.p.Tasks {
		if job := s.p.Tasks[i].Job; slices.Contains(beside, job) {
			binary.LittleEndian.PutUint32(b[:], uint32(i))
			binary.LittleEndian.PutUint32(b[4:], uint32(a.Start[i]))
			h.Write(b[:])
			if slices.Contains(jobs, job) {
				h.Write(b[:1])
			}
		}
	}
	return [16]byte(h.Sum(nil))
}

// stretch plans the jobs anew while all others stay, and returns a better answer, or nil if
// none is found with the effort allowed.
func (s *solving) stretch(ctx context.Context, a *Answer, jobs []int) *Answer {
	w, roles := s.around(a, jobs)
	q, near, back := s.p.excerpt(a, w, roles)
	sub, ok := newSolving(q, Options{}, s.session)
	if !ok {
		s.err = fmt.Errorf("schedule: what stays in a stretch leaves no room for what was there")
		return nil
	}
	sub.effort, sub.likes = stretchEffort, s.likesNames()
	sub.project = false // it is planned as what it was taken from: descend knows no effort
	sub.consider(near)
	was := sub.values
	for again := true; again && sub.err == nil && sub.spent < sub.effort; {
		_, again = sub.round(ctx)
	}
	s.counts.Calls += sub.counts.Calls
	if sub.err != nil {
		s.err = sub.err
	}
	if s.err != nil || compare(sub.values, was) == 0 {
		return nil
	}
	return back(sub.best)
}

// around says what may move when these jobs do: they themselves, within reach of the time that they
// take in a; of the others, what is there at that time may change its machine, unless it begins before
// or ends after. What an arc or a pair ties to them is there too.
func (s *solving) around(a *Answer, jobs []int) (windows, []role) {
	p := s.p
	roles := make([]role, len(p.Tasks))
	reach := cmp.Or(s.o.reach, stretchReach)
	from, to := p.Slots, Slot(0)
	for i, k := range a.Start {
		if slices.Contains(jobs, p.Tasks[i].Job) {
			if roles[i] = moves; k >= 0 {
				from, to = min(from, s.taken(i, k)), max(to, p.Tasks[i].Ends[k])
			}
		}
	}
	tie := func(i, j int) {
		if roles[i] == moves && roles[j] == absent {
			roles[j] = held
		}
	}
	for _, c := range p.Arcs {
		tie(c.From, c.To)
		tie(c.To, c.From)
	}
	for _, pair := range p.Together {
		tie(pair[0], pair[1])
		tie(pair[1], pair[0])
	}
	from, to = max(0, from-reach), min(p.Slots, to+reach)
	w := windows{slices.Clone(s.full.lo), slices.Clone(s.full.hi)}
	for i, k := range a.Start {
		t := &p.Tasks[i]
		switch {
		case roles[i] == moves:
			lo, hi := &w.lo[i], &w.hi[i]
			for *lo <= *hi && *lo != k && s.taken(i, *lo) < from {
				*lo++
			}
			for *lo <= *hi && *hi != k && t.Ends[*hi] > to {
				*hi--
			}
		case k < 0 || s.taken(i, k) >= to || t.Ends[k] <= from:
		case s.taken(i, k) < from || t.Ends[k] > to:
			roles[i] = held
		case roles[i] == absent:
			roles[i] = stays
		}
	}
	return w, roles
}

// taken is the first slot that task i takes of anything when it starts at k.
func (s *solving) taken(i, k int) Slot {
	if s.uses == nil {
		s.uses = make([][]*Use, len(s.p.Tasks))
		for r := range s.p.Resources {
			for n := range s.p.Resources[r].Uses {
				u := &s.p.Resources[r].Uses[n]
				s.uses[u.Task] = append(s.uses[u.Task], u)
			}
		}
	}
	from := s.p.Tasks[i].Starts[k]
	for _, u := range s.uses[i] {
		from = min(from, u.from(&s.p.Tasks[i], k))
	}
	return from
}
