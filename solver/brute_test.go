package solver

import (
	"fmt"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// An enumerator finds the best plan of a small plant by trying them all. It knows when work
// may start, how long it lasts and what bays there are; what is right, and what it costs, it
// asks the judge.
type enumerator struct {
	p     *plant.Plant
	bench *check.Bench
	grid  *calendar.Grid
	hours map[string]*calendar.Hours // by department
	left  int                        // plans that may still be judged
}

// A choice is a row of the plan to be, and where it may stand.
type choice struct {
	stage *plant.Stage
	wish  *plant.Wish
	rows  []plant.Planned
}

// A course is all rows of one truck, and what they cost more than none.
type course struct {
	rows  []plant.Planned
	costs []int64
}

// tooMany ends an enumeration.
type tooMany struct{}

// everyPlan returns the least values of the tiers of all plans, nil when there is none, and
// false when there are too many plans for most judgements.
func everyPlan(t *testing.T, p *plant.Plant, conditions []Condition, most int) (least []int64, ok bool) {
	t.Helper()
	p = Under(p, conditions)
	e := &enumerator{p: p, hours: map[string]*calendar.Hours{}, left: most}
	defer func() {
		if x := recover(); x != nil {
			if _, is := x.(tooMany); !is {
				panic(x)
			}
			least, ok = nil, false
		}
	}()
	var err error
	if e.bench, err = check.Open(p); err != nil {
		t.Fatal(err)
	}
	from := p.AsOf.Date() - 7
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			from = min(from, r.Started.Date()-1)
		}
	}
	if e.grid, err = p.Grid(from, p.Horizon.Through+20); err != nil {
		t.Fatal(err)
	}
	for _, d := range p.Departments {
		if e.hours[d.ID], err = p.DepartmentHours(d.ID, e.grid); err != nil {
			t.Fatal(err)
		}
	}
	var base []plant.Planned // what runs anyway
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			row, ends := e.underWay(&p.Trucks[i], &r)
			if !ends {
				return nil, true
			}
			base = append(base, row)
		}
	}
	nothing, right, _ := e.judge(base)
	if !right {
		return nil, true
	}
	all := []course{{base, nothing}}
	for i := range p.Trucks {
		list := e.courses(&p.Trucks[i], base, nothing)
		var more []course
		for _, a := range all {
			for _, b := range list {
				if len(more) > 400_000 {
					return nil, false
				}
				more = append(more, course{slices.Concat(a.rows, b.rows), sum(a.costs, b.costs, 1)})
			}
		}
		all = more
	}
	slices.SortFunc(all, func(a, b course) int { return slices.Compare(a.costs, b.costs) })
	for _, c := range all {
		costs, right, complete := e.judge(c.rows)
		if !right || !complete || len(conditions) > 0 && len(check.Conditions(p, e.plan(c.rows), conditions)) > 0 {
			continue
		}
		if !slices.Equal(costs, c.costs) {
			t.Errorf("a plan costs %v, and the sum over its trucks is %v", costs, c.costs)
		}
		return costs, true
	}
	return nil, true
}

// sum adds b, so many times, to a.
func sum(a, b []int64, times int64) []int64 {
	out := slices.Clone(a)
	for i := range out {
		out[i] += times * b[i]
	}
	return out
}

// plan makes rows a plan that declares what they make of the visits.
func (e *enumerator) plan(rows []plant.Planned) *plant.Plan {
	plan := &plant.Plan{Stages: rows}
	for i := range e.p.Visits {
		v := &e.p.Visits[i]
		if !v.Planned() {
			continue
		}
		said := plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
		for _, r := range rows {
			s := e.p.FindStage(r.Stage)
			if r.Truck != v.Truck || s == nil || s.Visit != v.Kind {
				continue
			}
			said.Day, said.Bay, said.Outcome = r.Start.Date(), r.Bay, plant.Moved
			if v.Booking.State == plant.Requested {
				said.Outcome = plant.Placed
			} else if said.Day == v.Booking.Day {
				said.Outcome = plant.Kept
			}
		}
		plan.Visits = append(plan.Visits, said)
	}
	return plan
}

// judge asks what the rows cost, whether they are right as far as they go, and whether no
// row is missing.
func (e *enumerator) judge(rows []plant.Planned) (costs []int64, right, complete bool) {
	if e.left--; e.left < 0 {
		panic(tooMany{})
	}
	v := e.bench.Plan(e.plan(rows))
	for _, t := range v.Tiers {
		costs = append(costs, t.Value)
	}
	missing := slices.ContainsFunc(v.Broken, func(b check.Violation) bool { return b.Rule == "complete" })
	wrong := slices.ContainsFunc(v.Broken, func(b check.Violation) bool { return b.Rule != "complete" })
	return costs, !wrong, !missing
}

// courses lists all ways of one truck through its stages beside what runs. A row that is
// wrong together with those chosen before it is wrong with any more.
func (e *enumerator) courses(t *plant.Truck, base []plant.Planned, nothing []int64) (list []course) {
	size := 1
	var order []choice // visits and their wishes first: what applies depends on them
	for _, visits := range []bool{true, false} {
		for i := range e.p.Route {
			s := &e.p.Route[i]
			if (s.Visit != "") != visits || !e.p.Applies(t, s) || isDone(t, s.ID) {
				continue
			}
			if !isRunning(t, s.ID) {
				c := choice{stage: s}
				for _, r := range e.rows(t, s, nil) {
					if _, right, _ := e.judge(append(slices.Clone(base), r)); right {
						c.rows = append(c.rows, r)
					}
				}
				order = append(order, c)
			}
			if v := e.p.VisitOf(t, s.Visit); visits && v != nil && !isRunning(t, s.ID) {
				for _, id := range v.Wishes {
					if w := e.p.FindWish(id); t.Has(w.Needs) {
						order = append(order, choice{s, w, e.rows(t, s, w)})
					}
				}
			}
		}
	}
	for _, c := range order {
		if size *= 1 + len(c.rows); size > 400_000 {
			panic(tooMany{})
		}
	}
	chosen := slices.Clone(base)
	at := map[string]plant.Planned{}
	var choose func(n int)
	choose = func(n int) {
		if n == len(order) {
			costs, right, _ := e.judge(chosen)
			if right {
				list = append(list, course{slices.Clone(chosen[len(base):]), sum(costs, nothing, -1)})
			}
			return
		}
		c := &order[n]
		visit, held := at[c.stage.ID]
		if c.stage.Visit != "" && (c.wish == nil || !held) {
			choose(n + 1) // broken
		}
		for _, r := range c.rows {
			if c.wish != nil && (!held || r.Start < visit.Start || r.End > visit.End) {
				continue
			}
			chosen = append(chosen, r)
			if _, right, _ := e.judge(chosen); right {
				if c.wish == nil {
					at[c.stage.ID] = r
				}
				choose(n + 1)
				delete(at, r.Stage)
			}
			chosen = chosen[:len(chosen)-1]
		}
	}
	choose(0)
	return list
}

// rows lists the starts of a stage or wish from today on, in every bay and in none.
func (e *enumerator) rows(t *plant.Truck, s *plant.Stage, w *plant.Wish) (list []plant.Planned) {
	h, id, kind := e.hours[s.Department], s.ID, s.Bay
	if w != nil {
		h, id, kind = e.hours[w.Department], s.ID+"."+w.ID, w.Bay
	}
	for d := e.p.AsOf.Date(); d <= e.p.Horizon.Through; d++ {
		for part := range e.grid.Parts() {
			slot := e.grid.Slot(d, part)
			if h.Work(slot) == 0 {
				continue
			}
			r := plant.Planned{Truck: t.ID, Stage: id, Start: h.First(slot)}
			ok := true
			if w != nil {
				r.Start, ok = together(h, e.hours[s.Department], e.grid, slot)
			}
			if !ok {
				continue
			}
			if r.End, ok = e.end(t, s, w, r.Start, r.Start); !ok {
				continue
			}
			r.Hold = r.Start
			if w == nil {
				hold := slot
				for range s.HoldBefore {
					hold = h.Prev(hold - 1)
				}
				if hold < 0 {
					continue
				}
				r.Hold = h.First(hold)
			}
			list = append(list, r)
			if kind == "" {
				continue
			}
			list = list[:len(list)-1]
			for i := range e.p.Bays {
				r.Bay = e.p.Bays[i].ID
				list = append(list, r)
			}
		}
	}
	return list
}

// together is the first minute of a part of the day that works by both.
func together(a, b *calendar.Hours, g *calendar.Grid, slot calendar.Slot) (calendar.Moment, bool) {
	for m := g.Begin(slot); m < g.End(slot); m++ {
		if a.Between(m, m+1) > 0 && b.Between(m, m+1) > 0 {
			return m, true
		}
	}
	return 0, false
}

// end is the end of work that starts at a moment, of which what is left begins at from.
func (e *enumerator) end(t *plant.Truck, s *plant.Stage, w *plant.Wish, start, from calendar.Moment) (calendar.Moment, bool) {
	h := e.hours[s.Department]
	switch {
	case w != nil:
		return e.hours[w.Department].Add(start, max(1, w.Minutes))
	case s.Length != plant.LengthVisit && s.Length != plant.LengthDrive:
		return h.Add(from, max(1, e.p.StageMinutes(t, s)))
	case s.Length == plant.LengthDrive:
		last, days := calendar.NoMoment, 0
		for d := start.Date(); d <= e.grid.Through() && days < e.p.DriveDays(t); d++ {
			for part := range e.grid.Parts() {
				if slot := e.grid.Slot(d, part); h.Work(slot) > 0 {
					last = h.Last(slot)
				}
			}
			if h.WorksDay(d) {
				days++
			}
		}
		return last, days == e.p.DriveDays(t)
	}
	left, end := e.p.VisitOf(t, s.Visit).Halves, calendar.NoMoment
	slot, _ := e.grid.At(start)
	for ; slot < e.grid.Slots() && left > 0; slot++ {
		if h.Work(slot) > 0 {
			left, end = left-1, h.Last(slot)
		}
	}
	return end, left == 0
}

// underWay is the row of work that runs.
func (e *enumerator) underWay(t *plant.Truck, r *plant.Running) (row plant.Planned, ok bool) {
	s := e.p.FindStage(r.Stage)
	row = plant.Planned{Truck: t.ID, Stage: r.Stage, Hold: r.Started, Start: r.Started, Bay: r.Bay}
	h := e.hours[s.Department]
	if r.RemainingMinutes >= 0 {
		row.End, ok = h.Add(e.p.AsOf, max(1, r.RemainingMinutes))
		return row, ok
	}
	if row.End, ok = e.end(t, s, nil, r.Started, r.Started); ok && row.End <= e.p.AsOf {
		row.End, ok = h.Add(e.p.AsOf, 1)
	}
	return row, ok
}

// TestForeign_Brute compares with every plan that there is, as the judge sees them, for plants
// of one or two trucks and a few days.
func TestForeign_Brute(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 320**foreign, func(t *testing.T, seed uint64) {
		s := littleOf(t, seed)
		s.complain(t, "all plans", func(p *plant.Plant) string {
			want, ok := everyPlan(t, p, s.conditions, 6000)
			if !ok {
				met.add("too large")
				return ""
			}
			got, err := least(p, s.conditions...)
			if err != nil {
				return err.Error()
			}
			if !slices.Equal(got, want) {
				return fmt.Sprintf("%v by the planner, %v of all plans under %v", got, want, s.conditions)
			}
			met.costs(want)
			met.add(fmt.Sprintf("trucks: %d", len(p.Trucks)))
			if len(s.conditions) > 0 {
				met.add("under conditions")
			}
			return ""
		})
	})
	met.met(t, 10, append(everyTier, "under conditions", "trucks: 2")...)
}
