package plant

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wetdown/calendar"
)

// time looks at what needs working time worked out: whether each stage can be
// done in the hours of its department at all, and whether each truck could get
// through its route within the horizon if it were alone. It wants a plant in
// which nothing else is wrong.
func (q *inquiry) time() {
	p := q.p
	line, err := p.Project()
	if err != nil {
		what, next, _ := strings.Cut(err.Error(), ": ")
		q.find(wrong{"the line does not say when trucks come off it: " + what, "", next}, key("line"))
		return
	}
	grid, err := p.Grid(p.AsOf.Date(), p.Horizon.Through)
	if err != nil {
		q.find(wrong{err.Error(), "", "correct the horizon"}, key("horizon"))
		return
	}
	w := &clockwork{inquiry: q, grid: grid, line: line, hours: map[string]*calendar.Hours{}, longest: map[string]int{}}
	for i := range p.Route {
		w.stage(i)
	}
	for i := range p.Wishes {
		w.wish(i)
	}
	if len(q.findings) > 0 {
		return
	}
	for i := range p.Trucks {
		w.horizon(i)
	}
}

// A clockwork is an inquiry with working time.
type clockwork struct {
	*inquiry
	grid    *calendar.Grid
	line    *Projection
	hours   map[string]*calendar.Hours // by department
	longest map[string]int             // by department, parts and crossings: see longestRun
}

// of returns the hours of a department.
func (w *clockwork) of(department string) *calendar.Hours {
	h, ok := w.hours[department]
	if !ok {
		h, _ = w.p.DepartmentHours(department, w.grid) // it has been checked
		w.hours[department] = h
	}
	return h
}

// starts reports whether a stage with these parts to start in may start in the
// slot.
func (w *clockwork) starts(h *calendar.Hours, s calendar.Slot, parts []string) bool {
	return h.Work(s) > 0 && (len(parts) == 0 || slices.Contains(parts, w.p.Parts[w.grid.Part(s)].ID))
}

// crosses reports whether work from start to end keeps within what it may cross;
// the rules are those of the judge.
func crosses(h *calendar.Hours, start, end calendar.Moment, may []string) bool {
	if !slices.Contains(may, CrossShift) && h.Shift(start) != h.Shift(end-1) {
		return false
	}
	for d := start.Date() + 1; d < (end - 1).Date(); d++ {
		weekend := d.Weekday() == time.Saturday || d.Weekday() == time.Sunday
		if weekend && !h.PatternWorks(d) && !slices.Contains(may, CrossWeekend) {
			return false
		}
		if _, closed := h.Closed(d); closed && h.PatternWorks(d) && !slices.Contains(may, CrossClosure) {
			return false
		}
	}
	return true
}

// possible reports whether there is a slot to start so many minutes of work.
func (w *clockwork) possible(h *calendar.Hours, minutes int, parts, may []string) bool {
	for s := calendar.Slot(0); s < w.grid.Slots(); s++ {
		if !w.starts(h, s, parts) {
			continue
		}
		if end, _, ok := h.Finish(s, minutes); ok && crosses(h, h.First(s), end, may) {
			return true
		}
	}
	return false
}

// longestRun returns the most minutes that can be worked from an allowed start
// without crossing what must not be crossed.
func (w *clockwork) longestRun(department string, parts, may []string) int {
	name := fmt.Sprint(department, parts, may)
	if m, ok := w.longest[name]; ok {
		return m
	}
	h := w.of(department)
	low, high := 0, int(h.Before(w.grid.Slots()))
	for low < high {
		if mid := (low + high + 1) / 2; w.possible(h, mid, parts, may) {
			low = mid
		} else {
			high = mid - 1
		}
	}
	w.longest[name] = low
	return low
}

// stage looks whether a stage can start at all, and whether it is short enough
// for the trucks that are to go through it.
func (w *clockwork) stage(i int) {
	s := &w.p.Route[i]
	if !w.applied[i] {
		return
	}
	at := place{key("route"), nth(i, s.ID)}
	h := w.of(s.Department)
	if !w.possible(h, 1, s.StartIn, s.Crosses) {
		if h.Next(0) == w.grid.Slots() {
			w.find(wrong{
				fmt.Sprintf("%s can never start: its department %s has no work from as_of to the end of the horizon", s.ID, s.Department),
				"", "look at the calendar of the department, or move the end of the horizon",
			}, at.key("department")...)
			return
		}
		w.find(wrong{
			fmt.Sprintf("%s can never start: its department %s does not work in the part of the day %s", s.ID, s.Department, strings.Join(s.StartIn, ", ")),
			strings.Join(w.working(h), ", "), "let it start in one of these, or change the calendar of the department",
		}, at.key("start_in")...)
		return
	}
	if s.Length != LengthHours {
		return
	}
	most, truck := 0, ""
	for j := range w.p.Trucks {
		if t := &w.p.Trucks[j]; w.facts[j].stage[i] == isOpen {
			if m := w.p.StageMinutes(t, s); m > most {
				most, truck = m, t.ID
			}
		}
	}
	if most == 0 || w.possible(h, most, s.StartIn, s.Crosses) {
		return
	}
	longest := w.longestRun(s.Department, s.StartIn, s.Crosses)
	w.find(wrong{
		fmt.Sprintf("%s takes %s hours for %s%s, and the longest run of %s%s has %s", s.ID, formatHours(most), truck, mayNot(s.Crosses), s.Department, from(s.StartIn), formatHours(longest)),
		"up to " + formatHours(longest) + " hours", "shorten it, let it cross more, or lengthen the shifts of the department",
	}, at.key("hours")...)
}

// working lists the parts of the day in which there is work.
func (w *clockwork) working(h *calendar.Hours) []string {
	var list []string
	for i, part := range w.p.Parts {
		for s := calendar.Slot(i); s < w.grid.Slots(); s += calendar.Slot(w.grid.Parts()) {
			if h.Work(s) > 0 {
				list = append(list, part.ID)
				break
			}
		}
	}
	return list
}

// mayNot says what work may not run over.
func mayNot(may []string) string {
	var list []string
	for i, c := range crossings {
		if !slices.Contains(may, c) {
			list = append(list, []string{"the end of a shift", "a weekend", "a closure"}[i])
		}
	}
	if len(list) == 0 {
		return ""
	}
	return " and may not run over " + strings.Join(list, " or ")
}

func from(parts []string) string {
	if len(parts) == 0 {
		return ""
	}
	return " that begins in the " + strings.Join(parts, " or ")
}

// wish looks whether a wish fits into a shift: it may cross nothing.
func (w *clockwork) wish(i int) {
	if !w.wished[i] {
		return
	}
	s := &w.p.Wishes[i]
	if w.possible(w.of(s.Department), s.Minutes, nil, nil) {
		return
	}
	longest := w.longestRun(s.Department, nil, nil)
	w.find(wrong{
		fmt.Sprintf("the wish %s takes %s hours, and the longest shift of %s has %s", s.ID, formatHours(s.Minutes), s.Department, formatHours(longest)),
		"up to " + formatHours(longest) + " hours", "shorten the wish, or lengthen the shifts of the department",
	}, key("wishes"), nth(i, s.ID), key("hours"))
}

// horizon looks whether a truck that had the whole house for itself would get
// through its route by the end of the horizon. Bays, crews, customers' days and
// what must not be crossed are left out: what fails here fails for certain.
func (w *clockwork) horizon(truck int) {
	t := &w.p.Trucks[truck]
	off := w.line.LineOff(t.ID)
	if off == calendar.None {
		return
	}
	ends := make([]calendar.Moment, len(w.p.Route))
	reached := make([]bool, len(w.p.Route))
	var walk func(i int) (calendar.Moment, bool)
	walk = func(i int) (calendar.Moment, bool) {
		if reached[i] {
			return ends[i], ends[i] != calendar.NoMoment
		}
		reached[i] = true
		ends[i] = calendar.NoMoment
		s := &w.p.Route[i]
		ready := w.p.AsOf
		if s.Station == "" {
			ready = max(ready, (off + 1).At(0))
		}
		for _, b := range w.before(truck, i) {
			if w.facts[truck].stage[b] != isOpen {
				continue
			}
			end, ok := walk(b)
			if !ok {
				return calendar.NoMoment, false
			}
			ready = max(ready, end)
		}
		if s.Visit != "" {
			ends[i] = ready
			return ready, true
		}
		end, ok := w.earliest(t, s, ready)
		if ok {
			ends[i] = end
		}
		return end, ok
	}
	for i := range w.p.Route {
		s := &w.p.Route[i]
		if w.facts[truck].stage[i] != isOpen {
			continue
		}
		if _, ok := walk(i); !ok {
			w.find(wrong{
				fmt.Sprintf("the horizon ends on %v, before %s could end for %s even if the truck were alone; it comes off the line on %v", w.p.Horizon.Through, s.ID, t.ID, off),
				"a horizon in which every truck can be delivered", "set a later last day of the horizon, or take the truck out of the file",
			}, key("trucks"), nth(truck, t.ID))
			return
		}
	}
}

// earliest returns the end of the stage if it starts as soon as it may at or
// after a moment.
func (w *clockwork) earliest(t *Truck, s *Stage, ready calendar.Moment) (calendar.Moment, bool) {
	h := w.of(s.Department)
	at, ok := w.grid.At(ready)
	if !ok {
		return calendar.NoMoment, false
	}
	for ; at < w.grid.Slots(); at++ {
		if w.starts(h, at, s.StartIn) && h.First(at) >= ready {
			return w.finish(t, s, h, at)
		}
	}
	return calendar.NoMoment, false
}

func (w *clockwork) finish(t *Truck, s *Stage, h *calendar.Hours, at calendar.Slot) (calendar.Moment, bool) {
	if s.Length == LengthHours {
		end, _, ok := h.Finish(at, w.p.StageMinutes(t, s))
		return end, ok
	}
	d := w.grid.Date(at)
	for range w.p.DriveDays(t) - 1 {
		next, ok := h.NextWorkDay(d)
		if !ok {
			return calendar.NoMoment, false
		}
		d = next
	}
	return h.Last(h.Prev(w.grid.Slot(d, w.grid.Parts()-1))), true
}
