package check

import (
	"cmp"
	"slices"

	"wetdown/calendar"
)

// place: a truck is in one place at a time: two of its stages that each need a
// bay never occupy the same part of the day. Wishes have their own rule.
func place(h *hearing) {
	groups := map[string][]*row{}
	for _, r := range h.rows {
		if r.wish == nil && r.stage.Bay != "" && r.sound {
			groups[r.Truck] = append(groups[r.Truck], r)
		}
	}
	for _, d := range h.dockets {
		clashes(groups[d.truck.ID], func(holds, comes *row, s calendar.Slot) {
			h.about(comes, h.grid.Begin(s), "%s takes its bay on %s, and %s holds the truck through %s. Start one of them when the other is over.",
				comes.name(), h.inPart(s), named(holds.stage.Name, holds.stage.ID), h.inPart(holds.last))
		})
		delete(groups, d.truck.ID)
	}
}

// bay: a bay holds one truck at a time: rows in one bay, wishes included, never
// occupy the same part of the day.
func bay(h *hearing) {
	groups := map[string][]*row{}
	for _, r := range h.rows {
		if r.Bay != "" && r.sound {
			groups[r.Bay] = append(groups[r.Bay], r)
		}
	}
	for _, id := range sortedKeys(groups) {
		clashes(groups[id], func(holds, comes *row, s calendar.Slot) {
			v := comes.subject(h.grid.Begin(s))
			v.Bay = id
			h.report(v, "%s is taken twice on %s: by %s, through %s, and by %s. Give one of them another bay or another time.",
				h.bayName(id), h.inPart(s), holds.name(), h.inPart(holds.last), comes.name())
		})
	}
}

// clashes calls found for every row that begins to occupy a part of the day while
// an earlier one still does, with the first part that they share.
func clashes(rows []*row, found func(holds, comes *row, s calendar.Slot)) {
	slices.SortStableFunc(rows, func(a, b *row) int { return cmp.Compare(a.first, b.first) })
	var holds *row // of those before, the one that stays longest
	for _, r := range rows {
		if holds != nil && r.first <= holds.last {
			found(holds, r, r.first)
		}
		if holds == nil || r.last > holds.last {
			holds = r
		}
	}
}

// bayName names a bay for people.
func (h *hearing) bayName(id string) string {
	if b := h.bays[id]; b != nil {
		return named(b.Name, id)
	}
	return id
}

// sortedKeys returns the keys of the groups in order.
func sortedKeys[T any](groups map[string]T) []string {
	keys := make([]string, 0, len(groups))
	for k := range groups {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
