package schedule

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
	roles := make([]role, len(p.Tasks))
	w := windows{lo: make([]int, len(p.Tasks)), hi: make([]int, len(p.Tasks))}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		w.hi[i] = len(t.Starts) - 1
		roles[i] = held
		if free(t.Job) || near.Start[i] < 0 && !t.Skip {
			roles[i] = moves
		}
	}
	q, _, back := p.excerpt(near, w, roles)
	return q, back
}
