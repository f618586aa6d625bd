package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
)

// A rebuilder makes an answer better by taking a few jobs out of it that lie near each other in
// time, and placing them again in another order ("ruin and recreate": Schrimpf,
// Schneider, Stamm-Wilbrandt and Dueck, Journal of Computational Physics 159, 2000).
type rebuilder struct {
	*constructor
	b     *board
	wants []Slot // by job: when it wants to begin
	near  []int  // jobs in the order in which they want to begin
	at    []int  // by job: its place in near
	costs [][]jobCost
	gaps  [][]jobGap
	dice  *rand.Rand
	left  int     // places that may still be looked at
	home  *Answer // what answers that cost the same should be like, or nil
}

type jobCost struct {
	tier int
	*Cost
}

type jobGap struct {
	tier int
	*Gap
}

// newRebuilder begins with the answer. Of answers that cost the same it likes those that are like home, if that is
// not nil. Each seed of the dice takes other jobs out. It returns nil if the answer cannot be taken apart job by job.
func newRebuilder(c *constructor, a, home *Answer, left int, seed uint64) *rebuilder {
	r := &rebuilder{constructor: c, home: home, b: c.empty.clone(), near: c.urgent(), at: make([]int, len(c.jobs)),
		costs: make([][]jobCost, len(c.jobs)), gaps: make([][]jobGap, len(c.jobs)),
		dice: rand.New(rand.NewPCG(uint64(len(c.jobs)), seed)), left: left}
	for n, tasks := range c.jobs {
		r.wants = append(r.wants, c.empty.wanted(tasks))
		if !r.b.putBack(tasks, a) {
			return nil
		}
		r.at[r.near[n]] = n
	}
	job := c.empty.jobOf(c.jobs)
	for t := range c.p.Tiers {
		for n := range c.p.Tiers[t].Costs {
			cost := &c.p.Tiers[t].Costs[n]
			r.costs[job[cost.Task]] = append(r.costs[job[cost.Task]], jobCost{t, cost})
		}
		for n := range c.p.Tiers[t].Gaps {
			gap := &c.p.Tiers[t].Gaps[n]
			r.gaps[job[gap.From]] = append(r.gaps[job[gap.From]], jobGap{t, gap})
		}
	}
	return r
}

// value adds what a job costs, by tier, and then how many of its tasks are not at home.
func (r *rebuilder) value(job int, sum []int64) {
	start := r.b.Start
	for _, c := range r.costs[job] {
		if k := start[c.Task]; k >= 0 {
			sum[c.tier] += c.At[k]
		} else {
			sum[c.tier] += c.Skip
		}
	}
	for _, g := range r.gaps[job] {
		if from, to := start[g.From], start[g.To]; from >= 0 && to >= 0 {
			sum[g.tier] += g.of(from, to)
		}
	}
	if r.home == nil {
		return
	}
	for _, i := range r.jobs[job] {
		if start[i] != r.home.Start[i] {
			sum[len(sum)-1]++
		}
	}
}

// few is how many jobs are taken out together at the most, around how far they are from the
// first, in jobs or in slots.
const (
	few    = 6
	around = 12
)

// rebuild considers what comes of an answer by rebuilding. It goes on while a pass saves something in the tiers
// up to the present one, at least up to the first that costs anything, and these still cost more than their bounds.
func (s *solving) rebuild(ctx context.Context, c *constructor, a *Answer) {
	values := s.p.values(a)
	tier := slices.IndexFunc(values, func(v int64) bool { return v > 0 })
	if tier < 0 {
		return
	}
	tier = max(tier, s.tier)
	for range passes {
		if a = s.pass(ctx, c, a, 1); a == nil || s.err != nil {
			return
		}
		s.consider(a)
		was := values
		values = s.p.values(a)
		if compare(values[:tier+1], was[:tier+1]) >= 0 || compare(values[:tier+1], s.bounds[:tier+1]) <= 0 {
			return
		}
	}
}

// rebuildMore rebuilds the best answer before a round, with dice that were not thrown before, when there is a
// preferred one: what disturbs a plan in force leaves answers to begin with that cost far more than they must.
func (s *solving) rebuildMore(ctx context.Context) {
	if s.best == nil || s.o.Prefer == nil || s.project {
		return
	}
	for n := range more {
		if s.err != nil || ctx.Err() != nil || compare(s.values, s.bounds) == 0 {
			return
		}
		c := newConstructor(s.p, s.g, s.wide, s.best)
		if a := s.pass(ctx, c, s.best, uint64(more*s.counts.Rounds+n)); a != nil {
			s.consider(a)
		}
	}
}

// pass is one pass of rebuilding, settled; nil if the answer cannot be taken apart job by job.
func (s *solving) pass(ctx context.Context, c *constructor, a *Answer, seed uint64) *Answer {
	r := newRebuilder(c, a, s.o.Prefer, glances*len(s.p.Tasks), seed)
	if r == nil {
		return nil
	}
	if a = r.run(ctx); a != nil {
		settle(s.p, s.g, s.wide, a, s.o.Prefer)
	}
	return a
}

// A pass of rebuilding looks at so many places a task, and there are at most so many passes with the first dice, and
// so many more before a round. A first answer from nothing is rebuilt when there are so many jobs: with fewer the
// search itself is faster.
const (
	glances = 100
	passes  = 8
	more    = 2
	rebuilt = 600
)

// run takes jobs out and places them again until nothing is left of the places to be looked at,
// or ctx ends it.
func (r *rebuilder) run(ctx context.Context) *Answer {
	was, is := make([]int64, len(r.p.Tiers)+1), make([]int64, len(r.p.Tiers)+1)
	old := &Answer{slices.Clone(r.b.Start), slices.Clone(r.b.Machine)}
	for r.left > 0 && ctx.Err() == nil {
		jobs := r.pick()
		clear(was)
		clear(is)
		for _, n := range jobs {
			r.value(n, was)
			for _, i := range r.jobs[n] {
				old.Start[i], old.Machine[i] = r.b.Start[i], r.b.Machine[i]
			}
		}
		for _, n := range jobs {
			r.out(n)
		}
		placed := true
		for _, n := range jobs {
			if placed = placed && r.place(n); !placed {
				break
			}
		}
		for _, n := range jobs {
			r.value(n, is)
		}
		if placed && compare(is, was) <= 0 {
			continue
		}
		for _, n := range jobs {
			r.out(n)
		}
		for _, n := range jobs {
			if !r.b.putBack(r.jobs[n], old) {
				return nil
			}
		}
	}
	return &r.b.Answer
}

// pick chooses jobs: one that costs something in an early tier, and some that want to begin at
// about the same time, or that stand about where it stands or would like to.
func (r *rebuilder) pick() []int {
	first := r.dice.IntN(len(r.jobs))
	best := len(r.p.Tiers) + 1
	sum := make([]int64, len(r.p.Tiers)+1)
	for range 4 {
		n := r.dice.IntN(len(r.jobs))
		clear(sum)
		r.value(n, sum)
		if t := slices.IndexFunc(sum, func(v int64) bool { return v > 0 }); t >= 0 && t < best {
			first, best = n, t
		}
	}
	jobs := []int{first}
	add := func(n int) {
		if !slices.Contains(jobs, n) {
			jobs = append(jobs, n)
		}
	}
	most := 1 + r.dice.IntN(few)
	switch r.dice.IntN(4) {
	case 0:
		r.beside(r.wants[first], most, add)
	case 1:
		r.beside(r.begins(first), most, add)
	default:
		for range most - 1 {
			at := r.at[first] + r.dice.IntN(2*around+1) - around
			if at >= 0 && at < len(r.near) {
				add(r.near[at])
			}
		}
	}
	if r.dice.IntN(2) == 0 {
		r.dice.Shuffle(len(jobs), func(x, y int) { jobs[x], jobs[y] = jobs[y], jobs[x] })
	}
	return jobs
}

// beside adds so many jobs that begin around a slot.
func (r *rebuilder) beside(at Slot, most int, add func(job int)) {
	off := r.dice.IntN(len(r.jobs))
	for k := range r.jobs {
		n := (k + off) % len(r.jobs)
		if d := r.begins(n) - at; -around <= d && d <= around {
			add(n)
			if most--; most == 0 {
				return
			}
		}
	}
}

// begins is the start of the first task of the job that costs something, 0 if none does.
func (r *rebuilder) begins(job int) Slot {
	for _, c := range r.costs[job] {
		if k := r.b.Start[c.Task]; k >= 0 {
			return r.p.Tasks[c.Task].Starts[k]
		}
	}
	return 0
}

// out takes the tasks of a job out, those aside that are there whatever we do.
func (r *rebuilder) out(job int) {
	for _, i := range r.jobs[job] {
		switch {
		case r.w.lo[i] == r.w.hi[i] && !r.p.Tasks[i].Skip:
		case r.b.Start[i] >= 0:
			r.b.set(i, r.b.Start[i], r.b.Machine[i], -1)
		default:
			r.b.Start[i] = unplaced
		}
	}
}

// place places a job, and moves what comes before the end of a gap as late as costs nothing.
func (r *rebuilder) place(job int) bool {
	left := tries / 4
	r.b.all = r.dice.IntN(8) > 0
	ok := r.b.place(r.jobs[job], r.home, &left)
	r.left -= tries/4 - max(0, left)
	r.left -= len(r.jobs[job])
	if !ok {
		return false
	}
	for _, g := range r.gaps[job] {
		if r.b.Start[g.From] < 0 || r.b.Start[g.To] < 0 {
			continue
		}
		for _, i := range slices.Backward(r.jobs[job]) {
			if i == g.To || r.b.Start[i] < 0 || r.w.lo[i] == r.w.hi[i] || r.p.Tasks[i].Starts[r.b.Start[i]] > r.p.Tasks[g.To].Starts[r.b.Start[g.To]] {
				continue
			}
			k, m := r.b.Start[i], r.b.Machine[i]
			r.b.set(i, k, m, -1)
			_, hi := r.b.bounds(i)
			to, on := k, m
			for c := hi; c > k; c-- {
				if r.b.dearer(i, c, k) {
					continue
				}
				r.left--
				if free, ok := r.b.room(i, c, m); ok {
					to, on = c, free
					break
				}
			}
			r.b.set(i, to, on, 1)
		}
	}
	return true
}
