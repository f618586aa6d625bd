package forecast

import (
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

func done(t *plant.Truck, stage string) *plant.Done {
	for i := range t.Done {
		if t.Done[i].Stage == stage {
			return &t.Done[i]
		}
	}
	return nil
}

func running(t *plant.Truck, stage string) *plant.Running {
	for i := range t.Running {
		if t.Running[i].Stage == stage {
			return &t.Running[i]
		}
	}
	return nil
}

// truck makes the ops of one truck, in an order of its route.
func (m *model) truck(t *plant.Truck, rows map[titleKey]*plant.Planned, broken map[string]bool, loose bool) error {
	n := m.trucks
	m.trucks++
	m.offs = append(m.offs, m.lineOff(t))
	for _, s := range m.inOrder() {
		if !m.p.Applies(t, s) || done(t, s.ID) != nil {
			continue
		}
		ti := title{truck: t, stage: s}
		run := running(t, s.ID)
		if s.Visit != "" {
			ti.visit = m.p.VisitOf(t, s.Visit)
			if !loose && broken[ti.visit.ID] && run == nil && rows[titleKey{t.ID, s.ID}] == nil {
				continue // it is to be agreed anew, and nothing waits for it
			}
		}
		i, err := m.stage(n, ti, run, rows[titleKey{t.ID, s.ID}])
		if err != nil {
			return err
		}
		if ti.visit == nil {
			continue
		}
		m.ops[i].visit = m.guest(i, &ti)
		if run == nil {
			if err := m.wishes(n, i, ti, rows); err != nil {
				return err
			}
		}
	}
	return nil
}

// inOrder lists the stages of the route, each after those that come before it.
func (m *model) inOrder() (list []*plant.Stage) {
	in := make([]bool, len(m.p.Route))
	for len(list) < len(in) {
		before := len(list)
		for i := range m.p.Route {
			s := &m.p.Route[i]
			if !in[i] && !slices.ContainsFunc(s.After, func(a plant.After) bool {
				b := m.p.FindStage(a.Stage)
				return b != nil && !slices.Contains(list, b)
			}) {
				in[i] = true
				list = append(list, s)
			}
		}
		if len(list) == before {
			break // a ring, which a validated plant has not
		}
	}
	return list
}

// stage adds the op of a stage.
func (m *model) stage(n int, ti title, run *plant.Running, row *plant.Planned) (int32, error) {
	t, s := ti.truck, ti.stage
	c, err := m.department(s.Department)
	if err != nil {
		return 0, err
	}
	o := op{truck: int32(n), clock: c, turn: -1, planStart: -1, planHold: -1, planBay: -1, likely: int32(m.p.StageMinutes(t, s)), onLine: s.Station != ""}
	now := c.from(m.p.AsOf)
	o.first = now
	for _, need := range s.Crews {
		o.needs = append(o.needs, m.need(need))
	}
	if run != nil {
		o.fixed, o.starts = true, nil
		if o.first, o.planBay = m.slot(run.Started), m.bayNamed(run.Bay); o.planBay >= 0 {
			o.able = []int32{o.planBay}
		}
	} else {
		if row != nil {
			o.planStart, o.planHold, o.planBay = m.slot(row.Start), m.slot(row.Hold), m.bayNamed(row.Bay)
			o.turn = o.planStart
		}
		if o.able, err = m.able(t, s, o.planBay); err != nil {
			return 0, err
		}
		if t.Standing.Stage == s.ID && t.Standing.Bay != "" { // it stands there already
			o.first, o.start, o.able = 0, now, []int32{m.bayNamed(t.Standing.Bay)}
		}
		if s.Station != "" {
			if stay, ok := m.line.Stay(t.ID, s.Station); ok {
				o.first = max(o.first, m.slot(stay.From.At(0)))
			}
		}
		if err := m.begins(&o, &ti); err != nil {
			return 0, err
		}
		o.ahead = o.able != nil && ti.visit == nil && o.planStart >= 0 && !m.keepsShort(s)
	}
	i := int32(len(m.ops))
	if run == nil {
		m.follow(&o, t, s)
	}
	m.ops = append(m.ops, o)
	m.titles = append(m.titles, ti)
	m.at[titleKey{t.ID, s.ID}] = i
	m.takes = append(m.takes, m.take(&o, &ti, run))
	m.waits = append(m.waits, m.waitFor(&ti, run))
	return i, nil
}

// slot is that of a moment, the first or the last of the grid outside it.
func (m *model) slot(at calendar.Moment) int32 {
	s, ok := m.grid.At(at)
	if !ok && at >= m.grid.Begin(m.slots) {
		return m.slots - 1
	}
	return s
}

func (m *model) bayNamed(id string) int32 {
	return int32(slices.IndexFunc(m.p.Bays, func(b plant.Bay) bool { return b.ID == id }))
}

func (m *model) need(n plant.Need) need {
	c := slices.IndexFunc(m.p.Crews, func(c plant.Crew) bool { return c.ID == n.Crew })
	return need{int32(c), int32(n.Heads)}
}

// able lists the bays that take the truck for the stage, the planned one first.
func (m *model) able(t *plant.Truck, s *plant.Stage, planned int32) (list []int32, err error) {
	if s.Bay == "" {
		return nil, nil
	}
	for b := range m.p.Bays {
		if m.p.Bays[b].Takes(s.Bay, t) {
			list = append(list, int32(b))
		}
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("no bay takes truck %s for %s: add one, or correct its length, height or flow", t.ID, s.Name)
	}
	if k := slices.Index(list, planned); k > 0 {
		list = slices.Insert(slices.Delete(list, k, k+1), 0, planned)
	}
	return list, nil
}

// keepsShort reports whether what follows the stage has to follow within some time.
func (m *model) keepsShort(s *plant.Stage) bool {
	return slices.ContainsFunc(m.p.Route, func(f plant.Stage) bool {
		return slices.ContainsFunc(f.After, func(a plant.After) bool {
			return a.Stage == s.ID && (a.MaxWorkMinutes > 0 || a.MaxElapsedMinutes > 0)
		})
	})
}

// follow sets what comes before a stage, as the rule route has it: what does not apply
// is passed through for the order alone, and so are visits that the plan breaks. What is
// done or runs is passed through to what is open before it.
func (m *model) follow(o *op, t *plant.Truck, s *plant.Stage) {
	type way struct {
		stage string
		past  bool
	}
	seen, walked := map[string]bool{}, map[way]bool{}
	var walk func(s *plant.Stage, direct, past bool)
	walk = func(s *plant.Stage, direct, past bool) {
		if walked[way{s.ID, past}] {
			return
		}
		walked[way{s.ID, past}] = true
		for _, a := range s.After {
			b := m.p.FindStage(a.Stage)
			if b == nil {
				continue
			}
			beyond := past
			waits := plant.After{}
			if direct {
				waits = a
			}
			ended := done(t, b.ID)
			i, open := m.at[titleKey{t.ID, b.ID}]
			if ended != nil && !past && (direct || !seen[b.ID]) {
				m.after(o, ended.Ended, waits)
				seen[b.ID] = true
			}
			if open && (direct || !seen[b.ID]) {
				o.preds = append(o.preds, pred{i, int32(waits.MinElapsedMinutes), int32(waits.MinWorkMinutes)})
				if waits.MinElapsedMinutes > 0 || waits.MinWorkMinutes > 0 {
					m.ops[i].timed = true
				}
				seen[b.ID] = true
			}
			switch {
			case ended != nil || running(t, b.ID) != nil:
				beyond = true
			case open:
				continue
			}
			walk(b, false, beyond)
		}
	}
	walk(s, true, false)
}

// after has an op follow what ended at a moment.
func (m *model) after(o *op, ended calendar.Moment, a plant.After) {
	if last, ok := m.grid.At(ended - 1); ok {
		o.first = max(o.first, last+1)
	}
	o.start = max(o.start, o.clock.from(ended))
	if a.MinElapsedMinutes > 0 {
		o.start = max(o.start, o.clock.from(m.grid.Elapsed(ended, a.MinElapsedMinutes)))
	}
	if a.MinWorkMinutes > 0 {
		if at, ok := o.clock.hours.Add(ended, a.MinWorkMinutes); ok {
			o.start = max(o.start, o.clock.from(at))
		}
	}
}

// ancestors lists the stages that come before s in the route, however far.
func (m *model) ancestors(s *plant.Stage) (list []*plant.Stage) {
	for todo := []*plant.Stage{s}; len(todo) > 0; todo = todo[1:] {
		for _, a := range todo[0].After {
			if b := m.p.FindStage(a.Stage); b != nil && !slices.Contains(list, b) {
				list = append(list, b)
				todo = append(todo, b)
			}
		}
	}
	return list
}

// guest says what the op of a visit waits for beside its route.
func (m *model) guest(i int32, ti *title) *guest {
	v := &guest{op: i, notice: int32(m.p.Buffer.NoticeDays)}
	least := 0
	if ti.visit.Kind == plant.FinalInspection {
		least = m.p.ReadyWorkDays(ti.truck)
		for _, s := range m.ancestors(ti.stage) {
			if !s.Certifies {
				continue
			}
			if d := done(ti.truck, s.ID); d != nil {
				v.past = max(v.past, int32((d.Ended-1).Date()-m.grid.From()))
			}
			if c, ok := m.at[titleKey{ti.truck.ID, s.ID}]; ok {
				v.certs = append(v.certs, c)
			}
		}
	}
	v.ready = m.buffer(least)
	v.known = make([]int32, m.shop.days)
	d := int32(0)
	for day := range v.known {
		for d < m.shop.days && v.ready[d] <= int32(day) {
			d++
		}
		v.known[day] = d // a certificate of day d-1 is the last that comes in time
	}
	return v
}

// buffer says for every day of a last certificate from which day on a visit may be: the first
// with so many full working days of the plant between, for none that day itself.
func (m *model) buffer(least int) []int32 {
	if list, ok := m.ready[least]; ok {
		return list
	}
	list := make([]int32, m.shop.days)
	v := int32(0)
	for d := range list {
		v = max(v, int32(d)+int32(min(least, 1)))
		for v < m.shop.days && m.house.WorkDaysBetween(m.date(int32(d)), m.date(v)) < least {
			v++
		}
		list[d] = v
	}
	m.ready[least] = list
	return list
}

// date is that of a day of the grid.
func (m *model) date(day int32) calendar.Date { return m.grid.From() + calendar.Date(day) }
