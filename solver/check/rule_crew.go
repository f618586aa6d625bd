package check

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/calendar"
)

// A call is the heads of a crew that one row needs in one part of the day.
type call struct {
	at    calendar.Slot
	row   int // index into hearing.rows
	heads int
}

// crew: in every part of the day, the heads that the stages at work need of a
// crew are at most the heads it has: its size, or that of the change for that
// day, and none in a part in which its own calendar has no work. A stage is at
// work in the parts from its start to its end in which its department works.
// Running work is counted, but it alone is never too much.
func crew(h *hearing) {
	calls := h.calls()
	for _, id := range sortedKeys(calls) {
		list := calls[id]
		slices.SortFunc(list, func(a, b call) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.row, b.row)) })
		for len(list) > 0 {
			n := 1
			for n < len(list) && list[n].at == list[0].at {
				n++
			}
			h.enough(id, list[:n])
			list = list[n:]
		}
	}
}

// calls lists what all rows need, by crew.
func (h *hearing) calls() map[string][]call {
	calls := make(map[string][]call, len(h.crews))
	for i, r := range h.rows {
		if !r.sound {
			continue
		}
		for _, n := range r.needs {
			list := calls[n.Crew]
			for s := r.hours.Next(r.begin); s <= r.last; s = r.hours.Next(s + 1) {
				list = append(list, call{s, i, n.Heads})
			}
			calls[n.Crew] = list
		}
	}
	return calls
}

// enough asks whether the crew has the heads for the calls of one part of a day.
func (h *hearing) enough(id string, calls []call) {
	at := calls[0].at
	have := h.heads(id, at)
	need, running := 0, 0
	for _, c := range calls {
		need += c.heads
		if h.rows[c.row].running != nil {
			running += c.heads
		}
	}
	if need <= max(have, running) {
		return
	}
	var who []string
	for _, c := range calls {
		who = append(who, fmt.Sprintf("%s (%d)", h.rows[c.row].name(), c.heads))
	}
	name := id
	if c := h.crews[id]; c != nil {
		name = named(c.Name, id)
	}
	h.report(Violation{Crew: id, At: h.grid.Begin(at)}, "%s: %s needed on %s, %d there: %s. Move one of them, or find more people.",
		name, count(need, "head"), h.inPart(at), have, list(who, "and"))
}

// heads returns how many heads a crew has in a part of a day.
func (h *hearing) heads(id string, at calendar.Slot) int {
	c := h.crews[id]
	if c == nil {
		return 0
	}
	if hours := h.hours[c.Calendar]; hours == nil || hours.Work(at) == 0 {
		return 0
	}
	size := c.Size
	for _, change := range c.Days {
		if change.Contains(h.grid.Date(at)) {
			size = change.Size
		}
	}
	return size
}
