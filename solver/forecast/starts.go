package forecast

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A startKey names what starts depend on: the stage and how long it is.
type startKey struct {
	stage  string
	length int32
}

// A startTable says when work may start as far as the rules about it alone go.
type startTable struct {
	starts []int32
	holds  []int32 // nil: from the start
	ends   []int32 // nil: by minutes
}

// begins sets when the op of a stage may start. Visits have days of their own.
func (m *model) begins(o *op, ti *title) error {
	key := startKey{ti.stage.ID, o.likely}
	switch ti.stage.Length {
	case plant.LengthVisit:
		key.length = int32(halves(ti.visit))
	case plant.LengthDrive:
		key.length = int32(m.p.DriveDays(ti.truck))
	}
	t, ok := m.starts[key]
	if !ok {
		t = m.table(o, ti.stage, int(key.length))
		m.starts[key] = t
	}
	o.starts, o.holds, o.ends = t.starts, t.holds, t.ends
	if ti.visit == nil {
		return nil
	}
	return m.receives(o, ti, t)
}

func halves(v *plant.Visit) int {
	if v == nil {
		return 1
	}
	return max(1, v.Halves)
}

// table works the starts of a stage out: calendar, parts of the day, line-up, crossing
// by its likely length, and crews that are large enough at all.
func (m *model) table(o *op, s *plant.Stage, length int) *startTable {
	t := &startTable{starts: make([]int32, m.slots+1)}
	if s.Length != plant.LengthHours {
		t.ends = make([]int32, m.slots)
	}
	if s.HoldBefore > 0 {
		t.holds = make([]int32, m.slots)
	}
	parts := make([]bool, m.parts)
	for i := range m.p.Parts {
		parts[i] = len(s.StartIn) == 0 || slices.Contains(s.StartIn, m.p.Parts[i].ID)
	}
	cross := [3]bool{slices.Contains(s.Crosses, plant.CrossShift), slices.Contains(s.Crosses, plant.CrossWeekend), slices.Contains(s.Crosses, plant.CrossClosure)}
	c := o.clock
	t.starts[m.slots] = m.slots
	for slot := m.slots - 1; slot >= 0; slot-- {
		t.starts[slot] = t.starts[slot+1]
		if t.ends != nil {
			t.ends[slot] = m.slots
		}
		if !c.works(slot) || !parts[slot%m.parts] {
			continue
		}
		if t.holds != nil {
			h := slot
			for range s.HoldBefore {
				h = c.hours.Prev(h - 1)
			}
			if h < 0 {
				continue
			}
			t.holds[slot] = h
		}
		start := c.hours.First(slot)
		var end calendar.Moment
		var last int32
		switch s.Length {
		case plant.LengthVisit:
			last = m.partsOn(c, slot, length)
		case plant.LengthDrive:
			last = m.daysOn(c, slot, length)
		default:
			last = c.finish(slot, int32(length))
			if last < m.slots {
				end, _, _ = c.hours.Finish(slot, length)
			}
		}
		if last >= m.slots {
			continue
		}
		if t.ends != nil {
			t.ends[slot] = last
			end = c.hours.Last(last)
		}
		if cross != [3]bool{true, true, true} {
			shift, weekend, closure := c.crosses(start, end)
			if shift && !cross[0] || weekend && !cross[1] || closure && !cross[2] {
				continue
			}
		}
		if m.staffed(o, slot, last) {
			t.starts[slot] = slot
		}
	}
	return t
}

// partsOn is the n-th working part from the slot on.
func (m *model) partsOn(c *clock, slot int32, n int) int32 {
	for ; n > 1 && slot < m.slots; n-- {
		slot = c.hours.Next(slot + 1)
	}
	return slot
}

// daysOn is the last working part of the n-th working day from that of the slot on.
func (m *model) daysOn(c *clock, slot int32, n int) int32 {
	day := m.grid.Date(slot)
	for ; n > 1; n-- {
		next, ok := c.hours.NextWorkDay(day)
		if !ok {
			return m.slots
		}
		day = next
	}
	return c.hours.Prev(m.grid.Slot(day, int(m.parts)-1))
}

// staffed reports whether every crew alone has the heads in every part in which the
// department works.
func (m *model) staffed(o *op, start, last int32) bool {
	for _, n := range o.needs {
		for s := start; s <= last; s++ {
			if o.clock.works(s) && (n.crew < 0 || m.heads[n.crew*m.slots+s] < int16(n.heads)) {
				return false
			}
		}
	}
	return true
}

// receives leaves of the starts of a visit those on which the customer can come; in later also
// those that its windows rule out, in floor all that suit the truck.
func (m *model) receives(o *op, ti *title, t *startTable) error {
	v := ti.visit
	var guest *calendar.Hours
	if c := m.p.FindCustomer(m.p.FindTruck(v.Truck).Customer); c != nil && c.Calendar != "" {
		k, err := m.clock(c.Calendar)
		if err != nil {
			return err
		}
		guest = k.hours
	}
	// Whole days first: windows, and blackouts and holidays with the days of travel around.
	window, away := make([]bool, m.shop.days), make([]bool, m.shop.days)
	for d := range window {
		day := m.date(int32(d))
		window[d] = slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(day) })
		out := slices.ContainsFunc(v.Blackouts, func(r plant.Range) bool { return r.Contains(day) })
		if guest != nil && !out {
			_, out = guest.Closed(day)
		}
		if out {
			for x := max(0, d-v.TravelDays); x <= min(len(away)-1, d+v.TravelDays); x++ {
				away[x] = true
			}
		}
	}
	o.starts, o.later, o.floor = make([]int32, m.slots+1), make([]int32, m.slots+1), make([]int32, m.slots+1)
	o.starts[m.slots], o.later[m.slots], o.floor[m.slots] = m.slots, m.slots, m.slots
	for s := m.slots - 1; s >= 0; s-- {
		o.starts[s], o.later[s], o.floor[s] = o.starts[s+1], o.later[s+1], o.floor[s+1]
		if t.starts[s] != s {
			continue
		}
		first, last := s/m.parts, t.ends[s]/m.parts
		if t.holds != nil {
			if before, ok := m.house.PrevWorkDay(m.date(first)); !ok || m.date(t.holds[s]/m.parts) < before {
				continue
			}
		}
		o.floor[s] = s
		if slices.Contains(away[first:last+1], true) {
			continue
		}
		o.later[s] = s
		inside := true
		for x := s; x <= t.ends[s]; x++ {
			inside = inside && (!o.clock.works(x) || window[x/m.parts])
		}
		if inside {
			o.starts[s] = s
		}
	}
	return nil
}

// wishes adds what a delegation wants to do inside its visit.
func (m *model) wishes(n int, visit int32, ti title, rows map[titleKey]*plant.Planned) error {
	for _, id := range ti.visit.Wishes {
		w := m.p.FindWish(id)
		if w == nil || !ti.truck.Has(w.Needs) {
			continue
		}
		c, err := m.department(w.Department)
		if err != nil {
			return err
		}
		wt := ti
		wt.wish = w
		o := op{truck: int32(n), clock: c, wish: true, turn: -1, visit: m.ops[visit].visit, likely: int32(max(1, w.Minutes)), planStart: -1, planHold: -1, planBay: -1}
		o.first = c.from(m.p.AsOf)
		for _, need := range w.Crews {
			o.needs = append(o.needs, m.need(need))
		}
		if row := rows[titleKey{ti.truck.ID, wt.row()}]; row != nil {
			o.planStart, o.planHold, o.planBay = m.slot(row.Start), m.slot(row.Hold), m.bayNamed(row.Bay)
			o.turn = o.planStart
		}
		if w.Bay != "" {
			if o.able, err = m.able(ti.truck, &plant.Stage{Name: w.Name, Bay: w.Bay}, o.planBay); err != nil {
				continue // it cannot be met here; the visit takes place without it
			}
		}
		key := startKey{ti.stage.ID + "." + id, 0}
		t, ok := m.starts[key]
		if !ok {
			t = m.within(&o, m.ops[visit].clock)
			m.starts[key] = t
		}
		o.starts, o.ends = t.starts, t.ends
		i := int32(len(m.ops))
		m.ops = append(m.ops, o)
		m.titles = append(m.titles, wt)
		m.at[titleKey{ti.truck.ID, wt.row()}] = i
		m.takes = append(m.takes, take{})
		m.waits = append(m.waits, wait{})
		o.visit.siblings = append(o.visit.siblings, i)
	}
	return nil
}

// within works out when a wish can start: at the first minute of a part in which its
// department and that of the visit both work.
func (m *model) within(o *op, visit *clock) *startTable {
	t := &startTable{starts: make([]int32, m.slots+1), ends: make([]int32, m.slots)}
	t.starts[m.slots] = m.slots
	for s := m.slots - 1; s >= 0; s-- {
		t.starts[s], t.ends[s] = t.starts[s+1], m.slots
		start, end, ok := both(o.clock, visit, s, int(o.likely))
		if !ok {
			continue
		}
		last, ok := m.grid.At(end - 1)
		if ok && start >= m.p.AsOf && visit.works(last) && end <= visit.hours.Last(last) && m.staffed(o, s, last) {
			t.starts[s], t.ends[s] = s, last
		}
	}
	return t
}

// both is when a wish that starts in the slot starts and ends.
func both(wish, visit *clock, s int32, minutes int) (start, end calendar.Moment, ok bool) {
	if !wish.works(s) || !visit.works(s) {
		return 0, 0, false
	}
	h := wish.hours
	from, to := max(h.First(s), visit.hours.First(s)), min(h.Last(s), visit.hours.Last(s))
	first, ok := h.Add(from, 1)
	if start = first - 1; !ok || start >= to {
		return 0, 0, false
	}
	end, ok = h.Add(start, minutes)
	return start, end, ok
}
