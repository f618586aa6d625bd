package forecast

import (
	"math"

	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// stayOn is by how many minutes work may take longer than is likely and still be over at the likely
// time: people stay on to finish it. Common practice, no source.
const stayOn = 60

// A take says how many minutes an op takes.
type take struct {
	law    chance.Law // nil: always the same
	key    uint64
	likely int32   // without chance
	base   int32   // minutes before those drawn: since the begin of the slot in which it started
	scale  float64 // running work with so much left: that over the likely length; 0: not
	past   float64 // running work: share of outcomes that are ruled out by now
	least  int32
}

// A wait says for how many working days others keep an op waiting.
type wait struct {
	law chance.Law
	key uint64
}

// An off says when a truck comes off the line.
type off struct {
	day     int32 // projected; -1: it is off, slot says since when
	slot    int32 // without chance: the first slot after
	slip    chance.Law
	key     uint64
	shared  uint64 // of the supplier whose delays it shares; 0: none
	choice  uint64
	feeders []feed
}

// A feed is a delivery that the line waits for.
type feed struct {
	law                 chance.Law
	key, shared, choice uint64
	slack               int32 // working days of the line by which it may be late and nothing moves
}

// take works out how long an op takes.
func (m *model) take(o *op, ti *title, run *plant.Running) take {
	t := take{likely: o.likely, least: 1}
	hours := o.clock.hours
	if run != nil {
		at := m.grid.Begin(o.first)
		now := int32(hours.Between(at, m.p.AsOf))
		t.least = now + 1
		switch {
		case run.RemainingMinutes >= 0:
			t.base, t.likely = now, int32(max(1, run.RemainingMinutes))
			t.scale = float64(t.likely) / float64(max(1, o.likely))
		case ti.stage.Length == plant.LengthHours:
			t.base = int32(hours.Between(at, run.Started))
		default:
			last := m.partsOn(o.clock, hours.Next(o.first), halves(ti.visit))
			if ti.stage.Length == plant.LengthDrive {
				last = m.daysOn(o.clock, hours.Next(o.first), m.p.DriveDays(ti.truck))
			}
			if last < m.slots {
				t.likely = int32(hours.Between(at, hours.Last(last)))
			}
		}
		t.likely = max(t.base+t.likely, t.least)
	}
	if ti.stage.Length != plant.LengthHours {
		return t
	}
	low, high := m.points(ti)
	if high <= low {
		return t
	}
	t.law, t.key = m.pert(float64(low), float64(o.likely), float64(high)), key(m.seed, "stage", ti.truck.ID, ti.stage.ID)
	if run != nil && run.RemainingMinutes < 0 {
		t.past = t.law.CDF(float64(t.least - 1 - t.base))
	}
	return t
}

// points are the least and the most minutes of a stage, by the same extras and overruns as
// its likely ones.
func (m *model) points(ti *title) (low, high int32) {
	e := ti.stage.Hours.Of(ti.truck.Content)
	more := m.p.StageMinutes(ti.truck, ti.stage) - e.LikelyMinutes
	return int32(max(1, e.MinMinutes+more)), int32(e.MaxMinutes + more)
}

// minutes draws how long an op takes in a run.
func (t *take) minutes(run int) int32 {
	if t.law == nil {
		return t.likely
	}
	u := t.past + (1-t.past)*uniform(run, t.key)
	x := t.law.Quantile(u)
	if t.scale > 0 {
		x *= t.scale
	}
	drawn := t.base + int32(math.Floor(x+0.5))
	return max(min(drawn, t.likely), drawn-stayOn, t.least)
}

// waitFor works out who keeps a stage waiting.
func (m *model) waitFor(ti *title, run *plant.Running) wait {
	if run != nil || m.laws.Wait == nil {
		return wait{}
	}
	return wait{m.laws.Wait(ti.truck, ti.stage).Law, key(m.seed, "wait", ti.truck.ID, ti.stage.ID)}
}

// lineOff works out when a truck comes off the line.
func (m *model) lineOff(t *plant.Truck) off {
	day := m.line.LineOff(t.ID)
	f := off{day: -1}
	if day != calendar.None && day >= m.grid.From() {
		f.slot = min(m.slots, (int32(day-m.grid.From())+1)*m.parts)
	}
	if t.Line.Off != calendar.None || day < m.grid.From() || day > m.grid.Through() {
		return f
	}
	f.day = int32(day - m.grid.From())
	known := false
	if m.laws.LineOff != nil {
		var l Law
		l, known = m.laws.LineOff(t, day)
		f.slip = l.Law
	}
	if !known {
		f.slip = m.lineLaw(t, m.lead(day))
	}
	f.key, f.choice = key(m.seed, "line", t.ID), key(m.seed, "line choice", t.ID)
	for i := range t.Line.Feeders {
		e := &t.Line.Feeders[i]
		stay, ok := m.line.Stay(t.ID, e.Station)
		if !ok || e.Expected < m.p.AsOf.Date() {
			continue // it is past
		}
		if known { // the slips that were seen have the suppliers' in them
			f.shared = key(m.seed, "supplier", e.Name)
			continue
		}
		f.feeders = append(f.feeders, feed{
			law: m.feederLaw(e, m.lead(e.Expected)), key: key(m.seed, "feeder", t.ID, e.Name), shared: key(m.seed, "supplier", e.Name), choice: key(m.seed, "feeder choice", t.ID, e.Name),
			slack: max(0, m.lead(stay.From)-m.lead(e.Expected)),
		})
	}
	return f
}

// lead is how many working days of the line a day is ahead.
func (m *model) lead(day calendar.Date) int32 {
	at := func(d calendar.Date) int32 {
		return m.days[min(max(int32(d-m.grid.From()), 0), m.shop.days)]
	}
	return max(0, at(day)-at(m.p.AsOf.Date()))
}

// whole is a draw in whole days.
func whole(l chance.Law, u float64) int32 { return int32(math.Floor(l.Quantile(u) + 0.5)) }

// freeze says what has no chance in it. What is frozen goes as the plan has it.
type freeze struct {
	line, suppliers bool
	op              int32 // one op; -1: none
	ops             bool  // all of them
}

var (
	free = &freeze{op: -1}                                         // nothing is frozen
	calm = &freeze{line: true, suppliers: true, op: -1, ops: true} // everything is
)

// mixed is the uniform number of one outcome that in some runs is that of others as well: for a share
// together of the runs, whatever the outcome's own number is.
func mixed(run int, own, shared, choice uint64) float64 {
	if shared != 0 && uniform(run, choice) < Together {
		return uniform(run, shared)
	}
	return uniform(run, own)
}

// lineOffIn draws the first slot after line-off.
func (m *model) lineOffIn(f *off, run int, still *freeze) int32 {
	if f.day < 0 {
		return f.slot
	}
	n, late := int32(0), int32(0)
	if f.slip != nil && !still.line {
		n = whole(f.slip, mixed(run, f.key, f.shared, f.choice))
	}
	for i := range f.feeders {
		if e := &f.feeders[i]; e.law != nil && !still.suppliers {
			late = max(late, whole(e.law, mixed(run, e.key, e.shared, e.choice))-e.slack)
		}
	}
	if n += late; n == 0 {
		return f.slot
	}
	day := m.now
	switch k := m.days[f.day] + n; {
	case n > 0:
		k = m.days[f.day+1] + n - 1
		if int(k) >= len(m.nth) {
			return m.slots
		}
		day = m.nth[k]
	case k >= 0:
		day = max(day, m.nth[k])
	}
	return (day + 1) * m.parts
}

// draw sets what chance decides in a run.
func (m *model) draw(r *room, run int, still *freeze) {
	for t := range m.offs {
		r.off[t] = m.lineOffIn(&m.offs[t], run, still)
	}
	for i := range m.takes {
		t, w := &m.takes[i], &m.waits[i]
		r.wait[i], r.took[i] = 0, t.likely
		if still.ops || still.op == int32(i) {
			continue
		}
		if t.law != nil {
			r.took[i] = t.minutes(run)
		}
		if w.law != nil {
			r.wait[i] = max(0, whole(w.law, uniform(run, w.key)))
		}
	}
}

// moment is the end of an op in the room.
func (r *room) moment(i int32) calendar.Moment {
	o := &r.ops[i]
	if o.ends != nil {
		return o.clock.hours.Last(r.last[i])
	}
	end, _, _ := o.clock.hours.Finish(r.begin[i], int(r.took[i]))
	return end
}
