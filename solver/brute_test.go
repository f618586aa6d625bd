package solver

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
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
	base  course                     // what runs anyway
	ways  [][]course                 // by truck, what is left of it
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
	ok = enumerate(t, p, most, func(e *enumerator) {
		all := e.together()
		slices.SortFunc(all, func(a, b course) int { return slices.Compare(a.costs, b.costs) })
		for _, c := range all {
			costs, right, complete := e.judge(c.rows)
			if !right || !complete || len(conditions) > 0 && len(check.Conditions(p, e.plan(c.rows), conditions)) > 0 {
				continue
			}
			if !slices.Equal(costs, c.costs) {
				t.Errorf("a plan costs %v, and the sum over its trucks is %v", costs, c.costs)
			}
			least = costs
			return
		}
	})
	return least, ok
}

// enumerate lists the ways of every truck through its stages and has do look at them, unless
// there are none for what runs anyway. It returns false when there were too many plans for most judgements.
func enumerate(t *testing.T, p *plant.Plant, most int, do func(e *enumerator)) (ok bool) {
	t.Helper()
	e := &enumerator{p: p, hours: map[string]*calendar.Hours{}, left: most}
	defer func() {
		if x := recover(); x != nil {
			if _, is := x.(tooMany); !is {
				panic(x)
			}
			ok = false
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
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			row, ends := e.underWay(&p.Trucks[i], &r)
			if !ends {
				return true
			}
			e.base.rows = append(e.base.rows, row)
		}
	}
	var right bool
	if e.base.costs, right, _ = e.judge(e.base.rows); !right {
		return true
	}
	for i := range p.Trucks {
		e.ways = append(e.ways, e.courses(&p.Trucks[i], e.base.rows, e.base.costs))
	}
	do(e)
	return true
}

// together puts the ways of all trucks together.
func (e *enumerator) together() []course {
	all := []course{e.base}
	for _, list := range e.ways {
		var more []course
		for _, a := range all {
			for _, b := range list {
				if len(more) > 400_000 {
					panic(tooMany{})
				}
				more = append(more, course{slices.Concat(a.rows, b.rows), sum(a.costs, b.costs, 1)})
			}
		}
		all = more
	}
	return all
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
				r.Start, ok = meeting(h, e.hours[s.Department], e.grid, slot)
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

// meeting is the first minute of a part of the day that works by both.
func meeting(a, b *calendar.Hours, g *calendar.Grid, slot calendar.Slot) (calendar.Moment, bool) {
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
			conditions := s.conditions
			if seed%4 == 0 {
				conditions = contrary(seed, p)
			}
			want, ok := everyPlan(t, p, conditions, 6000)
			if !ok {
				met.add("too large")
				return ""
			}
			got, err := least(p, conditions...)
			if err != nil {
				return err.Error()
			}
			if !slices.Equal(got, want) {
				return fmt.Sprintf("%v by the planner, %v of all plans under %v", got, want, conditions)
			}
			met.costs(want)
			met.add(fmt.Sprintf("trucks: %d", len(p.Trucks)))
			if len(conditions) > 0 {
				met.add("under conditions")
			}
			if len(conditions) > 0 && seed%4 == 0 {
				met.add("under conditions against the best plan")
			}
			return ""
		})
	})
	met.met(t, 10, append(everyTier, "under conditions", "under conditions against the best plan", "trucks: 2")...)
}

// offered is the days for the next visit of each truck, by all plans that there are, as OfferList
// has it: beside the plan in force, every other confirmed visit keeps its day, every other visit is
// still held, damages do not grow in all and no truck misses its hard deadline that does not miss it now.
func (e *enumerator) offered(next map[string]string) map[string][]calendar.Date {
	damages, deadlines := slices.Index(plant.TierNames, plant.TierDamages), slices.Index(plant.TierNames, plant.TierDeadlines)
	now := e.p.Plan
	values, _, _ := e.judge(now.Stages)
	runs := func(r plant.Planned) bool { return isRunning(e.p.FindTruck(r.Truck), r.Stage) }
	for i := range e.ways {
		rows := slices.DeleteFunc(slices.Clone(now.Stages), func(r plant.Planned) bool { return r.Truck != e.p.Trucks[i].ID || runs(r) })
		costs, _, _ := e.judge(slices.Concat(e.base.rows, rows))
		missed := costs[deadlines] - e.base.costs[deadlines]
		e.ways[i] = slices.DeleteFunc(e.ways[i], func(c course) bool { return c.costs[deadlines] > missed })
	}
	days := map[string][]calendar.Date{}
	for _, c := range e.together() {
		if c.costs[damages] > values[damages] {
			continue
		}
		plan := e.plan(c.rows)
		var other []string // visits that are not left in peace
		for i := range e.p.Visits {
			v := &e.p.Visits[i]
			was, is := now.Day(v.ID), plan.Day(v.ID)
			if v.Planned() && was != calendar.None && was != is && (is == calendar.None || v.Booking.State == plant.Confirmed) {
				other = append(other, v.ID)
			}
		}
		var shown []string // trucks whose visit is on a day that could be offered
		for i := range e.p.Trucks {
			truck := e.p.Trucks[i].ID
			visit := next[truck]
			day := plan.Day(visit)
			if visit != "" && day != calendar.None && !slices.Contains(days[truck], day) && (len(other) == 0 || len(other) == 1 && other[0] == visit) {
				shown = append(shown, truck)
			}
		}
		if len(shown) == 0 {
			continue
		}
		if _, right, complete := e.judge(c.rows); right && complete {
			for _, truck := range shown {
				days[truck] = append(days[truck], plan.Day(next[truck]))
			}
		}
	}
	for _, list := range days {
		slices.Sort(list)
	}
	return days
}

// TestForeign_Offers has the best plan in force and asks for days for every visit: a day is on offer when there is a
// plan that leaves everybody else in peace, of all that the judge finds right, and no other day is. Asked why, the
// planner says the same of one day on offer and of one that is not.
func TestForeign_Offers(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 320**foreign, func(t *testing.T, seed uint64) {
		s := littleOf(t, seed)
		s.complain(t, "offers", func(p *plant.Plant) string {
			in, err := inBest(p)
			if err != nil {
				return err.Error()
			}
			if in == nil {
				return ""
			}
			next, lists := map[string]string{}, map[string]*OfferList{}
			for i := range in.Trucks {
				truck := in.Trucks[i].ID
				list, err := Offers(context.Background(), in, truck, Options{})
				if no := (*NoVisit)(nil); errors.As(err, &no) {
					continue
				}
				if err != nil {
					return err.Error()
				}
				next[truck], lists[truck] = list.Visit, list
			}
			var want map[string][]calendar.Date
			if len(next) == 0 || !enumerate(t, in, 6000, func(e *enumerator) { want = e.offered(next) }) {
				met.add("without a visit, or too large")
				return ""
			}
			met.add("plants")
			if len(next) > 1 {
				met.add("plants with two visits")
			}
			for i := range in.Trucks {
				truck := in.Trucks[i].ID
				if lists[truck] == nil {
					continue
				}
				if wrong := offers(in, lists[truck], want[truck], &met); wrong != "" {
					return wrong
				}
			}
			return ""
		})
	})
	met.met(t, 5, "plants with two visits", "days offered", "days refused by the plan", "kept days", "days asked about, possible", "days asked about, impossible")
}

// offers compares what is on offer with the days that there are.
func offers(in *plant.Plant, list *OfferList, want []calendar.Date, met *tally) string {
	var got []calendar.Date
	for _, o := range list.Offers {
		got = append(got, o.Day)
		if met.add("days offered"); o.Kept {
			met.add("kept days")
		}
	}
	if list.Status != plant.Optimal || !slices.Equal(got, want) {
		return fmt.Sprintf("%s of %s: %v on offer (%s), %v by all plans", list.Visit, list.Truck, got, list.Status, want)
	}
	ask := func(day calendar.Date, possible bool) string {
		x, err := Why(context.Background(), in, list.Truck, day, Options{})
		switch {
		case err != nil:
			return err.Error()
		case x.Status != plant.Optimal || x.Possible != possible || possible == (len(x.Reasons) > 0):
			return fmt.Sprintf("why %s on %s: %s, possible %t for %t, reasons %v", list.Visit, day, x.Status, x.Possible, possible, x.Reasons)
		case possible:
			met.add("days asked about, possible")
		default:
			met.add("days asked about, impossible")
		}
		return ""
	}
	for _, r := range list.Refused {
		met.add("days refused by the plan")
		if r.Reason == "" {
			return fmt.Sprintf("%s on %s is refused without a reason", list.Visit, r.Day)
		}
	}
	wrong := ""
	if len(list.Offers) > 0 {
		wrong = ask(list.Offers[len(list.Offers)-1].Day, true)
	}
	if len(list.Refused) > 0 && wrong == "" {
		wrong = ask(list.Refused[0].Day, false)
	}
	return wrong
}

// would draws a truck that might be ordered, of the kind of one that is there.
func would(r *rand.Rand, p *plant.Plant) Order {
	t := deep(p).FindTruck(pick(r, p.Trucks).ID)
	day := p.AsOf.Date()
	t.ID, t.Done, t.Running, t.Overruns = "Q1", nil, nil, nil
	t.Standing, t.Ready, t.Reserved = plant.Standing{}, plant.Ready{}, plant.Reserved{}
	t.Contract = plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1}
	t.Line = plant.Place{Since: calendar.None, Off: day + calendar.Date(r.IntN(4)-2), Enters: calendar.None}
	if oneIn(r, 3) {
		t.Line.Off, t.Line.Enters = calendar.None, day+calendar.Date(r.IntN(3))
	}
	o := Order{Truck: *t}
	for _, s := range p.Route {
		if s.Visit != "" && o.Visit.ID == "" && !oneIn(r, 3) {
			o.Visit = plant.Visit{ID: "QV1", Truck: "Q1", Kind: s.Visit, Heads: 1 + r.IntN(3), Halves: 1 + r.IntN(2), TravelDays: r.IntN(2)}
		}
	}
	return o
}

// quoted is the first day on which the last truck of the plant, an order, can be delivered, by all
// plans that there are, as Quote has it: every other visit keeps its day, and nobody is delivered
// later than by contract or by the plan now, whichever is later, nor misses a deadline that is met
// now. The visit of the order is held if any of these plans holds it. calendar.None: there is no such plan.
func (e *enumerator) quoted(now *plant.Plan, visit string) (held bool, first calendar.Date) {
	first = calendar.None
	order := e.p.Trucks[len(e.p.Trucks)-1].ID
	by := map[string]calendar.Date{} // the last day of delivery
	for _, d := range Deliveries(e.p, now) {
		c := e.p.FindTruck(d.Truck).Contract
		by[d.Truck] = max(d.Day, c.Due)
		if c.Deadline != calendar.None && d.Day <= c.Deadline {
			by[d.Truck] = min(by[d.Truck], c.Deadline)
		}
	}
	for _, c := range e.together() {
		plan := e.plan(c.rows)
		alone := !slices.ContainsFunc(now.Visits, func(v plant.PlannedVisit) bool { return v.Day != calendar.None && plan.Day(v.Visit) != v.Day })
		day := calendar.None
		for _, d := range Deliveries(e.p, plan) {
			if d.Truck == order {
				day = d.Day
			} else if last, is := by[d.Truck]; is && d.Day > last && !isRunning(e.p.FindTruck(d.Truck), e.delivery()) {
				alone = false
			}
		}
		holds := visit != "" && plan.Day(visit) != calendar.None
		if !alone || day == calendar.None || first != calendar.None && (held && !holds || held == holds && day >= first) {
			continue
		}
		if _, right, complete := e.judge(c.rows); right && complete {
			held, first = holds, day
		}
	}
	return held, first
}

// delivery is the stage that delivers.
func (e *enumerator) delivery() string {
	return e.p.Route[slices.IndexFunc(e.p.Route, func(s plant.Stage) bool { return s.Delivers })].ID
}

// TestForeign_Quote has the best plan in force and asks when one truck more could be delivered:
// on the first day of all plans that leave everybody else in peace.
func TestForeign_Quote(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 250**foreign, func(t *testing.T, seed uint64) {
		s := littleOf(t, seed)
		s.complain(t, "a quote", func(p *plant.Plant) string {
			in, err := inBest(p)
			if err != nil {
				return err.Error()
			}
			if in == nil || len(in.Trucks) == 0 {
				return ""
			}
			o := would(rand.New(rand.NewPCG(seed, 37)), in)
			with := deep(in)
			truck := o.Truck
			if enter(with, &truck) != nil {
				met.add("no place on the line")
				return ""
			}
			with.Trucks = append(with.Trucks, truck)
			if v := o.Visit; v.ID != "" {
				v.Windows = []plant.Range{{From: in.AsOf.Date(), Through: in.Horizon.Through}}
				v.Booking = plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
				with.Visits = append(with.Visits, v)
			}
			if len(plant.Validate(with)) > 0 {
				return ""
			}
			held, want := false, calendar.None
			if !enumerate(t, with, 6000, func(e *enumerator) { held, want = e.quoted(in.Plan, o.Visit.ID) }) {
				met.add("too large")
				return ""
			}
			got, err := Quote(context.Background(), in, o, Options{})
			if err != nil {
				return err.Error()
			}
			switch {
			case want == calendar.None && got.Status == plant.Infeasible && len(got.Sentences) > 0:
				met.add("no day")
			case want != calendar.None && got.Status == plant.Optimal && got.Delivery == want && got.Bound == want:
				met.add("days")
				if o.Visit.Kind == plant.FinalInspection {
					met.add("with a visit")
					if held != (got.Visit != calendar.None) {
						return fmt.Sprintf("quoted with a visit on %v, and one can be held: %t", got.Visit, held)
					}
				}
			default:
				return fmt.Sprintf("quoted %v, bound %v (%s, %v), and %v by all plans", got.Delivery, got.Bound, got.Status, got.Sentences, want)
			}
			if len(with.Trucks) > 1 && len(in.Plan.Stages) > 0 {
				met.add("beside others")
			}
			return ""
		})
	})
	met.met(t, 5, "days", "no day", "with a visit", "beside others")
}
