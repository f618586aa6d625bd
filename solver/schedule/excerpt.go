package schedule

import "slices"

// A role is what becomes of a task in an excerpt.
type role int8

const (
	absent role = iota // it is not in it
	moves              // it may start wherever the windows allow
	stays              // it keeps its start, and may change its machine
	held               // it keeps both
)

// excerpt is the problem in which tasks have roles besides near, and of those that move only the
// starts in their windows are left. It returns the part of near that is in it as well, which is an
// answer to it when near is one and lies in the windows, and a function that says an answer to it in
// the starts of p. What the excerpt allows p allows, as far as those that are absent meet nobody who
// moves; it costs the same but for what they cost.
func (p *Problem) excerpt(near *Answer, w windows, roles []role) (q *Problem, part *Answer, back func(*Answer) *Answer) {
	q = &Problem{Slots: p.Slots, Machines: p.Machines}
	lo, hi := make([]int, len(p.Tasks)), make([]int, len(p.Tasks))
	at := make([]int, len(p.Tasks)) // task of the excerpt
	var of []int                    // task of p
	for i, t := range p.Tasks {
		k := near.Start[i]
		switch {
		case roles[i] == absent:
			continue
		case roles[i] == moves:
			lo[i], hi[i] = w.lo[i], w.hi[i]
		case k >= 0:
			lo[i], hi[i] = k, k
			t.Skip = false
			if m := near.Machine[i]; roles[i] == held && slices.Contains(t.Able, m) {
				t.Able = []int{m}
			}
		default:
			lo[i], hi[i] = 0, -1
			t.Skip = true
		}
		t.Starts, t.Ends = cut(t.Starts, lo[i], hi[i]), cut(t.Ends, lo[i], hi[i])
		at[i] = len(of)
		of = append(of, i)
		q.Tasks = append(q.Tasks, t)
	}
	in := func(i int) bool { return roles[i] != absent }
	for _, a := range p.Arcs {
		if in(a.From) && in(a.To) {
			q.Arcs = append(q.Arcs, Arc{at[a.From], at[a.To], cut(a.Earliest, lo[a.From], hi[a.From]), cut(a.Latest, lo[a.From], hi[a.From])})
		}
	}
	for more := true; more; { // who stays keeps the other
		more = false
		for _, pair := range p.Together {
			if !in(pair[0]) || !in(pair[1]) {
				continue
			}
			if x, y := &q.Tasks[at[pair[0]]], &q.Tasks[at[pair[1]]]; x.Skip != y.Skip {
				x.Skip, y.Skip, more = false, false, true
			}
		}
	}
	for _, pair := range p.Together {
		if in(pair[0]) && in(pair[1]) && q.Tasks[at[pair[0]]].Skip {
			q.Together = append(q.Together, [2]int{at[pair[0]], at[pair[1]]})
		}
	}
	for _, r := range p.Resources {
		var uses []Use
		for _, u := range r.Uses {
			if in(u.Task) {
				uses = append(uses, Use{at[u.Task], u.Need, cut(u.From, lo[u.Task], hi[u.Task]), u.On})
			}
		}
		q.Resources = append(q.Resources, Resource{r.Name, r.Capacity, uses})
	}
	for _, t := range p.Tiers {
		tier := Tier{Name: t.Name}
		for _, c := range t.Costs {
			if in(c.Task) {
				tier.Costs = append(tier.Costs, Cost{at[c.Task], cut(c.At, lo[c.Task], hi[c.Task]), c.Skip})
			}
		}
		for _, g := range t.Gaps {
			if in(g.From) && in(g.To) {
				g.FromDay, g.ToDay = cut(g.FromDay, lo[g.From], hi[g.From]), cut(g.ToDay, lo[g.To], hi[g.To])
				g.From, g.To = at[g.From], at[g.To]
				tier.Gaps = append(tier.Gaps, g)
			}
		}
		q.Tiers = append(q.Tiers, tier)
	}
	part = &Answer{make([]int, len(of)), make([]int, len(of))}
	for n, i := range of {
		if part.Start[n], part.Machine[n] = near.Start[i], near.Machine[i]; part.Start[n] >= 0 {
			part.Start[n] -= lo[i]
		}
	}
	return q, part, func(a *Answer) *Answer {
		all := &Answer{slices.Clone(near.Start), slices.Clone(near.Machine)}
		for n, i := range of {
			if all.Start[i], all.Machine[i] = a.Start[n], a.Machine[n]; a.Start[n] >= 0 {
				all.Start[i] += lo[i]
			}
		}
		return all
	}
}

// cut is [lo, hi] of a list with one value a start, nothing of it when lo is above hi. No list stays none.
func cut[T any](list []T, lo, hi int) []T {
	switch {
	case list == nil:
		return nil
	case lo > hi:
		return list[:0]
	}
	return list[lo : hi+1]
}
