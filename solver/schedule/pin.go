package schedule

import "slices"

// Mended returns near, made to obey the problem by hand: jobs that are right stay, the
// others are placed anew around them. It is nil when that leaves somebody without a
// place, which proves nothing. Costs play no part.
func Mended(p *Problem, near *Answer) *Answer {
	g := newGraph(p)
	full, ok := allWindows(p, g)
	if !ok || len(near.Start) != len(p.Tasks) {
		return nil
	}
	a := newConstructor(p, g, full, near).mend(near, -1)
	if a == nil {
		return nil
	}
	if _, faults := Verify(p, a); len(faults) > 0 {
		return nil
	}
	return a
}

// Pinned is the problem in which every task whose job is not free stays where near has
// it, and a function that says an answer to that one in the starts of p. What the
// pinned problem allows p allows, at the same cost; what it refuses p may allow.
func Pinned(p *Problem, near *Answer, free func(job int) bool) (*Problem, func(*Answer) *Answer) {
	out := *p
	pinned := make([]bool, len(p.Tasks))
	out.Tasks = slices.Clone(p.Tasks)
	for i := range out.Tasks {
		t := &out.Tasks[i]
		k := near.Start[i]
		if free(t.Job) || k < 0 && !t.Skip {
			continue
		}
		pinned[i] = true
		t.Starts, t.Ends = only(t.Starts, k), only(t.Ends, k)
		if m := near.Machine[i]; k >= 0 && slices.Contains(t.Able, m) {
			t.Able = []int{m}
		}
		t.Skip = k < 0
	}
	out.Together = slices.DeleteFunc(slices.Clone(p.Together), func(pair [2]int) bool {
		return !out.Tasks[pair[0]].Skip || !out.Tasks[pair[1]].Skip
	})
	for _, pair := range p.Together { // who stays keeps the other
		for n, i := range pair {
			if j := pair[1-n]; !out.Tasks[i].Skip {
				out.Tasks[j].Skip = false
			}
		}
	}
	at := func(task int) int { return near.Start[task] }
	out.Arcs = slices.Clone(p.Arcs)
	for n := range out.Arcs {
		if a := &out.Arcs[n]; pinned[a.From] {
			a.Earliest, a.Latest = only(a.Earliest, at(a.From)), only(a.Latest, at(a.From))
		}
	}
	out.Resources = slices.Clone(p.Resources)
	for r := range out.Resources {
		uses := slices.Clone(p.Resources[r].Uses)
		for n := range uses {
			if u := &uses[n]; pinned[u.Task] {
				u.From = only(u.From, at(u.Task))
			}
		}
		out.Resources[r].Uses = uses
	}
	out.Tiers = slices.Clone(p.Tiers)
	for n := range out.Tiers {
		t := &out.Tiers[n]
		t.Costs, t.Gaps = slices.Clone(t.Costs), slices.Clone(t.Gaps)
		for c := range t.Costs {
			if x := &t.Costs[c]; pinned[x.Task] {
				x.At = only(x.At, at(x.Task))
			}
		}
		for c := range t.Gaps {
			x := &t.Gaps[c]
			if pinned[x.From] {
				x.FromDay = only(x.FromDay, at(x.From))
			}
			if pinned[x.To] {
				x.ToDay = only(x.ToDay, at(x.To))
			}
		}
	}
	return &out, func(a *Answer) *Answer {
		back := &Answer{slices.Clone(a.Start), slices.Clone(a.Machine)}
		for i := range back.Start {
			if pinned[i] {
				back.Start[i] = near.Start[i]
			}
		}
		return back
	}
}

// only is the k-th of a list with one value a start, none for a task that is left out.
// No list stays none.
func only[T any](list []T, k int) []T {
	switch {
	case list == nil:
		return nil
	case k < 0:
		return list[:0]
	}
	return list[k : k+1]
}
