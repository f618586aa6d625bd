package calendar

import "sort"

// Hours are Rules compiled on a Grid: working time and back in O(1) or O(log n).
//
// Working minutes are minutes of the wall clock. A night shift from 22:00 to
// 06:00 has 480 of them also in the nights in which the clocks change, when 420
// or 540 minutes of real time pass. Waits in real time are the Grid's business:
// see Grid.Elapsed.
//
// Working time outside the grid is not known and counts as none.
type Hours struct {
	grid     *Grid
	stretch  []stretch // of uninterrupted work, in order
	minutes  int64     // working minutes in all
	first    []int32   // by slot, and Slots(): first stretch that ends after the slot's begin
	before   []int64   // by slot, and Slots(): working minutes before it
	next     []Slot    // by slot, and Slots(): first slot at or after it with work
	prev     []Slot    // by slot, and Slots(): last slot at or before it with work, -1 for none
	workDays []Date    // days with work, in order
	days     []int32   // by day, and the day after the last: number of workDays before it
	closed   []string  // by day: why, "" for not closed
	pattern  [7]bool   // weekdays on which the week alone has work
}

// A stretch is a run of working minutes without a break.
type stretch struct {
	from, to Moment
	before   int64 // working minutes before it
	shift    int32
}

// Grid returns the grid.
func (h *Hours) Grid() *Grid { return h.grid }

// Work returns the working minutes in the slot.
func (h *Hours) Work(s Slot) int { return int(h.before[s+1] - h.before[s]) }

// Before returns the working minutes before the slot; Before(Slots()) is all.
func (h *Hours) Before(s Slot) int64 { return h.before[s] }

// First returns the first working minute of the slot, NoMoment if it has none.
func (h *Hours) First(s Slot) Moment {
	if h.Work(s) == 0 {
		return NoMoment
	}
	return max(h.stretch[h.first[s]].from, h.grid.Begin(s))
}

// Last returns the end, exclusive, of the last working minute of the slot,
// NoMoment if it has none.
func (h *Hours) Last(s Slot) Moment {
	if h.Work(s) == 0 {
		return NoMoment
	}
	end := h.grid.End(s)
	i := h.first[s+1]
	if int(i) < len(h.stretch) && h.stretch[i].from < end {
		return end
	}
	return h.stretch[i-1].to
}

// Next returns the first slot at or after s that has work, Slots() if none has.
// Next(Slots()) is Slots().
func (h *Hours) Next(s Slot) Slot { return h.next[s] }

// Prev returns the last slot at or before s that has work, -1 if none has.
// Prev(-1) is -1.
func (h *Hours) Prev(s Slot) Slot {
	if s < 0 {
		return -1
	}
	return h.prev[s]
}

// Finish returns when so many working minutes are done if work starts at
// First(s): the end, exclusive, and the slot in which the last minute lies. For
// 0 minutes these are First(s) and s. It returns false if the slot has no work,
// if the grid ends before the work does, and for negative minutes.
func (h *Hours) Finish(s Slot, minutes int) (end Moment, last Slot, ok bool) {
	switch {
	case h.Work(s) == 0 || minutes < 0:
		return NoMoment, 0, false
	case minutes == 0:
		return h.First(s), s, true
	}
	end, ok = h.done(h.before[s] + int64(minutes))
	if !ok {
		return NoMoment, 0, false
	}
	last, _ = h.grid.At(end - 1)
	return end, last, true
}

// Add returns the moment at which so many working minutes have been done after
// m, exclusive; m itself for 0 minutes. It returns false if the grid ends before
// that or begins after m, and for negative minutes.
func (h *Hours) Add(m Moment, minutes int) (Moment, bool) {
	begin, end := h.grid.Begin(0), h.grid.Begin(h.grid.Slots())
	switch {
	case m < begin || m > end || minutes < 0:
		return NoMoment, false
	case minutes == 0:
		return m, true
	}
	return h.done(h.at(m) + int64(minutes))
}

// Between returns the working minutes from a to b, a in it, b not; 0 if b comes
// before a.
func (h *Hours) Between(a, b Moment) int {
	if b <= a {
		return 0
	}
	return int(h.at(b) - h.at(a))
}

// Shift returns a number for the shift to which the working minute belongs that
// begins at m; -1 if none does. Two minutes are in one shift exactly if their
// numbers are equal. Numbers ascend with time.
func (h *Hours) Shift(m Moment) int {
	i := h.after(m)
	if i == len(h.stretch) || m < h.stretch[i].from {
		return -1
	}
	return int(h.stretch[i].shift)
}

// after returns the first stretch that ends after m.
func (h *Hours) after(m Moment) int {
	s, inside := h.grid.At(m)
	if !inside {
		if m < h.grid.Begin(0) {
			return 0
		}
		return len(h.stretch)
	}
	i := int(h.first[s])
	for i < len(h.stretch) && h.stretch[i].to <= m {
		i++
	}
	return i
}

// at returns the working minutes before m.
func (h *Hours) at(m Moment) int64 {
	i := h.after(m)
	if i == len(h.stretch) {
		return h.minutes
	}
	t := h.stretch[i]
	return t.before + max(0, int64(m-t.from))
}

// done returns the end of the working minute with which n > 0 of them are done.
func (h *Hours) done(n int64) (Moment, bool) {
	if n > h.minutes {
		return NoMoment, false
	}
	i := sort.Search(len(h.stretch), func(i int) bool { return h.stretch[i].before >= n }) - 1
	t := h.stretch[i]
	return t.from + Moment(n-t.before), true
}
