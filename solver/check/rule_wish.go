package check

import "wetdown/calendar"

// wish: the work of a wish lies inside the visit, in the parts of the day from its
// start to its end and no longer than it, and two wishes of one visit do not share a part.
func wish(h *hearing) {
	groups := map[string][]*row{}
	for _, r := range h.rows {
		if r.wish == nil || !r.sound {
			continue
		}
		groups[r.visit.ID] = append(groups[r.visit.ID], r)
		v := r.visit.row
		if v != nil && v.sound && (r.begin < v.begin || v.last < r.last) {
			h.about(r, r.Start, "%s takes up %s; the visit takes up %s. Keep it inside the visit.",
				r.name(), h.inParts(r.begin, r.last), h.inParts(v.begin, v.last))
		} else if v != nil && v.sound && v.running == nil && v.End < r.End {
			h.about(r, r.End, "%s ends on %s, and the visit is over on %s. Keep it inside the visit.", r.name(), atTime(r.End), atTime(v.End))
		}
	}
	for _, v := range h.visits {
		clashes(groups[v.ID], func(holds, comes *row, s calendar.Slot) {
			h.about(comes, h.grid.Begin(s), "%s and %s share %s. Give each its own part of the day.",
				comes.name(), holds.name(), h.inPart(s))
		})
	}
}
