package solver

import (
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// losses lists the days that may be lost: of trucks, bays and crews, in the plant's order.
func (w *weigher) losses() (list []Stake) {
	wanted := func(ids []string, id string) bool { return !w.sc.some() || slices.Contains(ids, id) }
	none := func(format string, args ...any) {
		w.worth.None = append(w.worth.None, fmt.Sprintf(format, args...))
	}
	add := func(s plant.Slip) {
		s.ID, s.Known = "a day", w.p.AsOf.Date()
		after, err := w.p.Apply([]plant.Slip{s})
		if err != nil {
			none("%v", err)
			return
		}
		list = append(list, Stake{Slip: &s, Price: -1, after: after})
	}
	noDays := plant.Range{From: calendar.None, Through: calendar.None}
	for n := range w.p.Trucks {
		t := &w.p.Trucks[n]
		if !wanted(w.sc.Trucks, t.ID) {
			continue
		}
		if w.q.first[n] == w.q.first[n+1] {
			none("%s has nothing left to be planned.", t.ID)
		} else if t.Line.Off == calendar.None {
			add(plant.Slip{Kind: plant.LineOffMoved, Truck: t.ID, Days: 1, Over: noDays})
		} else if i := w.current(n); i < 0 {
			none("%s has nothing left that could take a day longer: visits, drives and work within one shift cannot.", t.ID)
		} else if minutes := w.dayOf(&w.q.work[i]); minutes == 0 {
			none("%s: %s has no working day left in the horizon.", t.ID, w.q.work[i].stage.Name)
		} else {
			add(plant.Slip{Kind: plant.StageOverran, Truck: t.ID, Stage: w.q.work[i].stage.ID, Minutes: minutes, Over: noDays})
		}
	}
	for n := range w.p.Bays {
		b := &w.p.Bays[n]
		if !wanted(w.sc.Bays, b.ID) {
			continue
		}
		day := w.firstDay(func(i int, s calendar.Slot) bool {
			m := w.q.work[i].moves[w.answer.Start[i]]
			return w.answer.Machine[i] == n && m.hold <= s && s <= m.finish && w.q.house.WorksDay(w.q.grid.Date(s))
		})
		if day == calendar.None {
			none("Bay %s has no work to come in the plan.", b.ID)
			continue
		}
		add(plant.Slip{Kind: plant.BayDown, Bay: b.ID, Over: plant.Range{From: day, Through: day}})
	}
	for n := range w.p.Crews {
		c := &w.p.Crews[n]
		if !wanted(w.sc.Crews, c.ID) {
			continue
		}
		day := w.firstDay(func(i int, s calendar.Slot) bool {
			k := &w.q.work[i]
			return k.needs(c.ID) > 0 && k.moves[w.answer.Start[i]].begin <= s && k.hours.Work(s) > 0 && w.q.heads(c.ID, s) > 0
		})
		if day == calendar.None {
			none("%s has no work to come in the plan.", crewName(w.p, c.ID))
			continue
		}
		add(plant.Slip{Kind: plant.CrewAway, Crew: c.ID, Heads: 1, Over: plant.Range{From: day, Through: day}})
	}
	return list
}

// current is the task of a truck past the line that an overrun would lengthen: of the
// stages under way the one that ends last, else the next to begin. Only work counted in hours
// is asked, and of what has not begun only what may run over the end of a shift: no plan could hold the
// rest with a day more. -1 when there is none.
func (w *weigher) current(truck int) (best int) {
	best = -1
	for i := w.q.first[truck]; i < w.q.first[truck+1]; i++ {
		k := &w.q.work[i]
		if k.wish != nil || k.stage.Length != plant.LengthHours || w.answer.Start[i] < 0 ||
			k.run == nil && !slices.Contains(k.stage.Crosses, plant.CrossShift) {
			continue
		}
		if best < 0 || w.sooner(i, best) {
			best = i
		}
	}
	return best
}

// sooner reports whether task i comes before task j in the order of current.
func (w *weigher) sooner(i, j int) bool {
	a, b := &w.q.work[i], &w.q.work[j]
	x, y := a.moves[w.answer.Start[i]], b.moves[w.answer.Start[j]]
	switch {
	case (a.run != nil) != (b.run != nil):
		return a.run != nil
	case a.run != nil:
		return x.end > y.end
	}
	return x.start < y.start
}

// dayOf is how many minutes the department of the work works on its next working day
// after today; 0 when there is none in the horizon.
func (w *weigher) dayOf(k *work) int {
	day, ok := k.hours.NextWorkDay(w.p.AsOf.Date())
	if !ok || day > w.p.Horizon.Through {
		return 0
	}
	return k.hours.Between(day.At(0), (day + 1).At(0))
}

// firstDay is the first day, from now on, of a part of the day that work of the plan takes
// which has not begun; calendar.None when there is none.
func (w *weigher) firstDay(takes func(task int, s calendar.Slot) bool) calendar.Date {
	first := w.q.grid.Slots()
	for i := range w.q.work {
		k := &w.q.work[i]
		if k.run != nil || w.answer.Start[i] < 0 {
			continue
		}
		m := k.moves[w.answer.Start[i]]
		for s := max(m.hold, w.q.now); s <= m.finish && s < first; s++ {
			if takes(i, s) {
				first = s
			}
		}
	}
	if first == w.q.grid.Slots() {
		return calendar.None
	}
	return w.q.grid.Date(first)
}

// needs is how many heads of a crew the work needs.
func (w *work) needs(crew string) (heads int) {
	list := w.stage.Crews
	if w.wish != nil {
		list = w.wish.Crews
	}
	for _, n := range list {
		if n.Crew == crew {
			heads += n.Heads
		}
	}
	return heads
}

// purchases lists what may be bought, in three groups: one more bay of each kind that the
// route or a wish needs, one more head of each crew that they need, both from today through
// the horizon, and for each department the Saturdays on which it may work, of which one is
// chosen.
func (w *weigher) purchases() (groups [3][][]Stake, err error) {
	var kinds, crews []string
	need := func(bay string, heads []plant.Need) {
		if bay != "" && !slices.Contains(kinds, bay) {
			kinds = append(kinds, bay)
		}
		for _, n := range heads {
			if !slices.Contains(crews, n.Crew) {
				crews = append(crews, n.Crew)
			}
		}
	}
	for i := range w.p.Route {
		need(w.p.Route[i].Bay, w.p.Route[i].Crews)
	}
	for i := range w.p.Wishes {
		need(w.p.Wishes[i].Bay, w.p.Wishes[i].Crews)
	}
	listed, err := w.p.Actions()
	if err != nil {
		return groups, err
	}
	from, through := w.p.AsOf.Date(), w.p.Horizon.Through
	add := func(group int, a plant.Action) {
		s := Stake{Action: &a, after: w.p.With([]plant.Action{a})}
		s.Price, s.Times = w.price(a, listed)
		if s.Price >= 0 {
			a.Dollars = s.Price
		}
		groups[group] = append(groups[group], []Stake{s})
	}
	for _, k := range kinds {
		add(0, plant.Action{Kind: plant.HiredBay, BayKind: k, From: from, Through: through})
	}
	for i := range w.p.Crews {
		if c := &w.p.Crews[i]; slices.Contains(crews, c.ID) {
			add(1, plant.Action{Kind: plant.ExtraHeads, Crew: c.ID, Heads: 1, From: from, Through: through})
		}
	}
	groups[2], err = w.saturdays(listed)
	return groups, err
}

// price is what a bay or a head costs by the price list: the cheapest measure that buys it,
// taken again and again until it covers every working day of the plant; and how often.
// -1: the list has none.
func (w *weigher) price(a plant.Action, listed []plant.Action) (dollars int64, times int) {
	dollars = -1
	for i := range listed {
		m := &listed[i]
		if m.Kind != a.Kind || m.BayKind != a.BayKind || m.Crew != a.Crew {
			continue
		}
		n := 0
		day, ok := a.From, w.q.house.WorksDay(a.From)
		if !ok {
			day, ok = w.q.house.NextWorkDay(day)
		}
		for ok && day <= a.Through {
			n++
			day, ok = w.q.house.NextWorkDay(day + m.Through - m.From)
		}
		if sum := m.Dollars * int64(n); dollars < 0 || sum < dollars {
			dollars, times = sum, n
		}
	}
	return dollars, times
}

// saturdays lists the Saturdays of each department, in the plant's order. Departments
// that the price list does not name have no price.
func (w *weigher) saturdays(listed []plant.Action) (choices [][]Stake, err error) {
	free := *w.p
	free.Measures = []plant.Measure{{Kind: plant.SaturdayShift}}
	for _, m := range plant.DefaultMeasures() {
		if m.Kind == plant.SaturdayShift {
			free.Measures[0].LeadDays, free.Measures[0].Weeks = m.LeadDays, m.Weeks
		}
	}
	unlisted, err := free.Actions()
	if err != nil {
		return nil, err
	}
	for i := range w.p.Departments {
		d := w.p.Departments[i].ID
		var list []Stake
		for _, from := range [][]plant.Action{listed, unlisted} {
			for _, a := range from {
				if a.Kind != plant.SaturdayShift || a.Department != d || slices.ContainsFunc(list, func(s Stake) bool { return s.Action.From == a.From }) {
					continue
				}
				s := Stake{Action: &a, Price: a.Dollars, Times: 1, after: w.p.With([]plant.Action{a})}
				if a.Measure == "" {
					s.Price, s.Times = -1, 0
				}
				list = append(list, s)
			}
			if len(list) > 0 {
				break
			}
		}
		if len(list) > 0 {
			choices = append(choices, list)
		}
	}
	return choices, nil
}

// crewName is the name of a crew for people.
func crewName(p *plant.Plant, id string) string {
	if c := p.FindCrew(id); c != nil && c.Name != "" {
		return c.Name
	}
	return id
}
