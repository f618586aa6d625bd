package calendar

import "errors"

// Compile works the rules out on the grid. Shifts that run into the grid from the
// day before are in it; what runs out of it is cut off. Rules with problems (see
// Rules.Check) are refused with all of them.
func Compile(g *Grid, r Rules) (*Hours, error) {
	var errs []error
	for _, p := range r.Check() {
		errs = append(errs, p)
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	closed := r.closedDays(g.from-1, g.Through())
	h := &Hours{grid: g, closed: closed[1:], pattern: r.Week.worked()}
	h.fill(r.expand(g.from-1, g.Through(), closed))
	h.index()
	h.indexDays()
	return h, nil
}

// worked returns the weekdays on which the week has working minutes.
func (w Week) worked() [7]bool {
	var worked [7]bool
	for d, shifts := range w {
		for _, s := range shifts {
			for _, t := range s.work() {
				worked[d] = worked[d] || t.From < minutesPerDay
				worked[(d+1)%7] = worked[(d+1)%7] || t.To > minutesPerDay
			}
		}
	}
	return worked
}

// fill cuts the instances at their breaks and at the ends of the grid.
func (h *Hours) fill(list []instance) {
	begin, end := h.grid.Begin(0), h.grid.Begin(h.grid.Slots())
	h.stretch = make([]stretch, 0, 2*len(list))
	shift := int32(-1)
	for i, n := range list {
		joins := i > 0 && n.from == list[i-1].to && (n.overtime >= 0) != (list[i-1].overtime >= 0)
		if !joins {
			shift++
		}
		for _, t := range n.work {
			from, to := max(n.day.At(t.From), begin), min(n.day.At(t.To), end)
			if from < to {
				h.stretch = append(h.stretch, stretch{from, to, h.minutes, shift})
				h.minutes += int64(to - from)
			}
		}
	}
}

// index fills what is looked up by slot.
func (h *Hours) index() {
	n := h.grid.Slots()
	h.first = make([]int32, n+1)
	h.before = make([]int64, n+1)
	h.next = make([]Slot, n+1)
	h.prev = make([]Slot, n+1)
	i, last := 0, Slot(-1)
	for s := Slot(0); s <= n; s++ {
		m := h.grid.Begin(s)
		for i < len(h.stretch) && h.stretch[i].to <= m {
			i++
		}
		h.first[s] = int32(i)
		h.before[s] = h.minutes
		if i < len(h.stretch) {
			h.before[s] = h.stretch[i].before + max(0, int64(m-h.stretch[i].from))
		}
		if s > 0 && h.before[s] > h.before[s-1] {
			last = s - 1
		}
		if s > 0 {
			h.prev[s-1] = last
		}
	}
	h.prev[n] = last
	h.next[n] = n
	for s := n - 1; s >= 0; s-- {
		h.next[s] = h.next[s+1]
		if h.Work(s) > 0 {
			h.next[s] = s
		}
	}
}

// indexDays fills what is looked up by day.
func (h *Hours) indexDays() {
	h.days = make([]int32, h.grid.days+1)
	for i := range h.grid.days {
		d := h.grid.from + Date(i)
		if h.before[h.grid.Slot(d+1, 0)] > h.before[h.grid.Slot(d, 0)] {
			h.workDays = append(h.workDays, d)
		}
		h.days[i+1] = int32(len(h.workDays))
	}
}
