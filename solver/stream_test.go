package solver

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// A specimen is one plant of an endless stream of small, odd ones, which checks of the
// planner from outside are run on. Equal seeds give equal specimens.
type specimen struct {
	seed       uint64
	told       *plant.Plant // as a file tells it, slips included
	p          *plant.Plant // the slips made facts, the plan in force before them
	conditions []Condition  // what a person may insist on in p
}

func (s *specimen) String() string { return fmt.Sprintf("seed %d", s.seed) }

// specimenOf makes a plant of a few trucks, from the generator or by hand, changes it in
// some odd places, and now and then plans it and lets things happen. It is free of faults.
func specimenOf(t testing.TB, seed uint64) *specimen {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 31))
	var p *plant.Plant
	switch seed % 3 {
	case 0:
		p = generate.Generate(generate.Options{Trucks: 1 + r.IntN(3), Seed: seed, Load: 0.8 + 0.05*float64(r.IntN(5)), Slips: oneIn(r, 2), LinedUp: oneIn(r, 2)})
	default:
		p = workshop(r, 3)
	}
	for range r.IntN(6) {
		p = odder(r, p)
	}
	return happens(t, r, seed, p)
}

// littleOf is specimenOf for a plant by hand that is small enough for every plan there is.
func littleOf(t testing.TB, seed uint64) *specimen {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 32))
	p := workshop(r, 2)
	for range r.IntN(4) {
		p = odder(r, p)
	}
	return happens(t, r, seed, p)
}

// anyOf is specimenOf and littleOf in turns.
func anyOf(t testing.TB, seed uint64) *specimen {
	t.Helper()
	if seed%2 == 1 {
		return littleOf(t, seed/2)
	}
	return specimenOf(t, seed/2)
}

// inBest is a plant of its own with the best plan for p in force, and no slips on record; nil where
// there is no plan, or where that would be a fault.
func inBest(p *plant.Plant) (*plant.Plant, error) {
	r, err := Replan(context.Background(), p, Options{})
	if err != nil || r.Plan == nil {
		return nil, err
	}
	in := deep(p)
	if in.Plan, in.Slips = r.Plan, nil; len(plant.Validate(in)) > 0 {
		return nil, nil
	}
	return in, nil
}

// happens plans every second plant, and lets things happen to half of these.
func happens(t testing.TB, r *rand.Rand, seed uint64, p *plant.Plant) *specimen {
	t.Helper()
	if oneIn(r, 2) {
		with := deep(p)
		with.Slips = nil
		res, err := Plan(context.Background(), with, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if p.Plan = res.Plan; p.Plan != nil {
			p.Plan.Seed, p.Plan.Status = seed, either(r, plant.Optimal, plant.Feasible, plant.Infeasible, plant.Unknown) // nothing rests on these
			for range r.IntN(3) {
				p = told(r, p)
			}
		}
	}
	s := &specimen{seed: seed, told: p, p: p}
	if with, err := p.Apply(p.Slips); err == nil && len(plant.Validate(with)) == 0 {
		s.p = with
	} else {
		s.p = deep(p)
		s.p.Slips = nil
	}
	if oneIn(r, 3) {
		for range 1 + r.IntN(2) {
			if c := condition(r, s.p); len(s.p.Conditions([]Condition{c})) == 0 {
				s.conditions = append(s.conditions, c)
			}
		}
	}
	return s
}

func oneIn(r *rand.Rand, n int) bool { return r.IntN(n) == 0 }

// pick returns an element of a list that is not empty, at random.
func pick[T any](r *rand.Rand, list []T) *T { return &list[r.IntN(len(list))] }

// either picks one of several values.
func either[T any](r *rand.Rand, list ...T) T { return *pick(r, list) }

// deep is a plant that shares nothing with p.
func deep(p *plant.Plant) *plant.Plant {
	out := reflect.New(reflect.TypeFor[plant.Plant]()).Elem()
	copyInto(out, reflect.ValueOf(p).Elem())
	return out.Addr().Interface().(*plant.Plant)
}

func copyInto(to, from reflect.Value) {
	switch from.Kind() {
	case reflect.Struct:
		for i := range from.NumField() {
			copyInto(to.Field(i), from.Field(i))
		}
	case reflect.Array:
		for i := range from.Len() {
			copyInto(to.Index(i), from.Index(i))
		}
	case reflect.Slice:
		if !from.IsNil() {
			to.Set(reflect.MakeSlice(from.Type(), from.Len(), from.Len()))
			for i := range from.Len() {
				copyInto(to.Index(i), from.Index(i))
			}
		}
	case reflect.Pointer:
		if !from.IsNil() {
			to.Set(reflect.New(from.Type().Elem()))
			copyInto(to.Elem(), from.Elem())
		}
	default:
		to.Set(from)
	}
}

// workshop makes a plant of a handful of stages, up to most trucks and a week or two. It
// draws until the plant has no fault.
func workshop(r *rand.Rand, most int) *plant.Plant {
	for {
		if p := workshopOnce(r, most); len(plant.Validate(p)) == 0 {
			return p
		}
	}
}

func mustWeek(name string) calendar.Week {
	w, err := calendar.Pattern(name)
	if err != nil {
		panic(err)
	}
	return w
}

func workshopOnce(r *rand.Rand, most int) *plant.Plant {
	// Days on which clocks change in the zones below, a year's end, and plain ones.
	day := either(r, calendar.NewDate(2027, 3, 10), calendar.NewDate(2027, 3, 25), calendar.NewDate(2027, 11, 3), calendar.NewDate(2027, 12, 28), calendar.NewDate(2027, 6, 7)) + calendar.Date(r.IntN(7))
	p := &plant.Plant{
		Format:   plant.FormatVersion,
		Name:     "Quillmarsh Apparatus",
		Zone:     either(r, "America/Chicago", "America/Phoenix", "Europe/Dublin", "Australia/Lord_Howe"),
		AsOf:     day.At(either[calendar.Clock](r, 0, 6*60, 6*60, 6*60, 9*60+20, 13*60)),
		Horizon:  plant.Range{From: day - calendar.Date(r.IntN(3)), Through: day + calendar.Date(4+r.IntN(7))},
		Parts:    plant.DefaultParts(),
		Calendar: "plant",
		Wishes:   plant.DefaultWishes(),
		Notice:   []plant.Notice{{ID: "frozen", Name: "Travel bought", DaysBefore: r.IntN(4)}},
		Prices:   plant.DefaultPrices(),
		Buffer:   plant.Buffer{ReadyWorkDays: r.IntN(2), NoticeDays: r.IntN(3), NearDays: either(r, 3, 14), WaitCapDays: either(r, 2, 10)},
	}
	if oneIn(r, 4) {
		p.Parts = append(p.Parts, plant.Part{ID: "evening", From: 16 * 60})
	}
	cal := func(id, pattern string) plant.Calendar {
		return plant.Calendar{ID: id, Rules: calendar.Rules{Week: mustWeek(pattern)}}
	}
	p.Calendars = []plant.Calendar{cal("plant", "5x8"), cal("road", either(r, "5x8", "4x10", "two-shift", "half-friday", "three-shift")), cal("town", "5x8")}
	p.Departments = []plant.Department{{ID: "floor", Calendar: "plant"}, {ID: "shop", Calendar: either(r, "plant", "road")}, {ID: "testing", Calendar: "road"}}
	p.Crews = []plant.Crew{
		{ID: "hosts", Calendar: "plant", Size: 1 + r.IntN(2)},
		{ID: "pump_operators", Calendar: "road", Size: 1 + r.IntN(2)},
		{ID: "test_drivers", Calendar: either(r, "plant", "road"), Size: 1 + r.IntN(2)},
	}
	p.Bays = []plant.Bay{
		{ID: "hall-1", Kinds: []string{"floor"}},
		{ID: "hall-2", Kinds: either(r, []string{"floor", "shop"}, []string{"shop"}), MaxLengthFt: either(r, 0.0, 40)},
		{ID: "pit", Kinds: []string{"pump_test", "test_drive"}},
	}
	if oneIn(r, 2) {
		p.Bays = append(p.Bays, plant.Bay{ID: "hall-3", Kinds: []string{"shop", "floor"}, MaxHeightFt: either(r, 0.0, 11), MaxFlowGPM: either(r, 0, 1500), Needs: either(r, nil, nil, []string{"foam"}, []string{"rescue"})})
	}
	p.Line = plant.Line{Calendar: "plant"}
	if oneIn(r, 3) {
		takt := plant.Takt{LightMinutes: 120, MediumMinutes: 240, HeavyMinutes: 300}
		p.Line.Stations = []plant.Station{{ID: "body", Takt: takt}, {ID: "final", Takt: takt, Lanes: oneIn(r, 2)}}
	}
	p.Route = workshopRoute(r, p)
	for i := range 1 + r.IntN(2) {
		p.Customers = append(p.Customers, plant.Customer{ID: fmt.Sprintf("C%d", i+1), Name: "Tarnbeck Fire Department", Calendar: either(r, "", "town"), Miles: either(r, 0, 300, 900)})
	}
	for i := range 1 + r.IntN(most) {
		workshopTruck(r, p, i)
	}
	p.Measures = measuresOf(p)
	return p
}

// workshopRoute draws some of eight stages, the drive always among them, each after one or
// two before it.
func workshopRoute(r *rand.Rand, p *plant.Plant) []plant.Stage {
	hours := func(least, most int) plant.ByContent {
		m := 60*least + 30*r.IntN(2*(most-least)+1)
		e := plant.Estimate{MinMinutes: m, LikelyMinutes: m, MaxMinutes: m}
		return plant.ByContent{Light: e, Medium: e, Heavy: plant.Estimate{MinMinutes: m, LikelyMinutes: m + 60, MaxMinutes: m + 60}}
	}
	crossing := func() []string {
		return either(r, []string{plant.CrossShift}, []string{plant.CrossShift, plant.CrossWeekend}, []string{plant.CrossShift, plant.CrossWeekend, plant.CrossClosure})
	}
	anything := []string{plant.CrossShift, plant.CrossWeekend, plant.CrossClosure}
	all := []plant.Stage{
		{ID: "weigh", Department: "testing", Length: plant.LengthHours, Hours: hours(1, 4), Bay: "pump_test", Crews: []plant.Need{{Crew: "pump_operators", Heads: 1}}, Certifies: oneIn(r, 2)},
		{ID: "foam", Department: "testing", Length: plant.LengthHours, Hours: hours(1, 3), Bay: either(r, "", "pump_test"), Needs: []string{"foam"}, Certifies: oneIn(r, 2)},
		{ID: "stripes", Department: "shop", Length: plant.LengthHours, Hours: hours(3, 10), Extra: []plant.Extra{{Feature: "custom", Minutes: 120}}, Bay: "shop", Crosses: crossing(), Lasting: oneIn(r, 2)},
		{ID: "inspection", Department: "floor", Length: plant.LengthVisit, Visit: plant.FinalInspection, Bay: "floor", Crews: []plant.Need{{Crew: "hosts", Heads: 1}}, Crosses: crossing(), HoldBefore: r.IntN(3)},
		{ID: "mend", Department: "shop", Length: plant.LengthHours, Hours: hours(1, 6), Bay: either(r, "", "shop"), Crosses: crossing()},
		{ID: "second_look", Department: "floor", Length: plant.LengthVisit, Visit: plant.ReInspection, Bay: either(r, "", "floor"), Crews: []plant.Need{{Crew: "hosts", Heads: 1}}, Crosses: crossing()},
		{ID: "drive", Department: "floor", Length: plant.LengthDrive, Crews: []plant.Need{{Crew: "test_drivers", Heads: 1}}, Crosses: anything, StartIn: either(r, nil, []string{"morning"}), Delivers: true},
	}
	var route []plant.Stage
	if len(p.Line.Stations) > 0 {
		route = append(route, plant.Stage{ID: "first_look", Department: "floor", Length: plant.LengthVisit, Visit: plant.PrePaint, Station: "body", Crosses: crossing()})
	}
	for _, s := range all {
		if !s.Delivers && oneIn(r, 3) {
			continue
		}
		for range either(r, 1, 1, 2) {
			if len(route) == 0 {
				continue
			}
			a := plant.After{Stage: route[max(0, len(route)-1-r.IntN(2))].ID}
			switch r.IntN(9) {
			case 0:
				a.MinWorkMinutes = 60 * r.IntN(6)
			case 1:
				a.MinElapsedMinutes = 60 * r.IntN(30)
			case 2:
				a.MaxWorkMinutes = 60 * (4 + r.IntN(20))
			case 3:
				a.MaxElapsedMinutes = 60 * (12 + r.IntN(60))
			}
			if !slices.ContainsFunc(s.After, func(o plant.After) bool { return o.Stage == a.Stage }) {
				s.After = append(s.After, a)
			}
		}
		route = append(route, s)
	}
	return route
}

// workshopTruck adds the i-th truck with its visits, somewhere on its way.
func workshopTruck(r *rand.Rand, p *plant.Plant, i int) {
	today := p.AsOf.Date()
	days := int(p.Horizon.Through - today)
	t := plant.Truck{
		ID: fmt.Sprintf("T%d", i+1), Customer: pick(r, p.Customers).ID, Kind: either(r, "pumper", "rescue"),
		Content: either(r, plant.Light, plant.Medium, plant.Heavy), LengthFt: either(r, 30.0, 38), HeightFt: either(r, 10.0, 12), FlowGPM: either(r, 0, 1250, 2000),
		Graphics: either(r, "", "custom"), Reserved: plant.Reserved{Until: calendar.None},
		Contract: plant.Contract{Due: today + calendar.Date(r.IntN(days+3)-1), Deadline: calendar.None, Weight: 1 + r.IntN(2)},
		Line:     plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None},
	}
	if oneIn(r, 2) {
		t.Options = []string{"foam"}
	}
	if oneIn(r, 2) {
		t.Contract.DamagesPerDay, t.Contract.DamagesCap = 100*(1+r.IntN(3)), either(r, 0, 250)
	}
	if oneIn(r, 4) {
		t.Contract.Deadline = today + calendar.Date(r.IntN(days+1))
	}
	switch {
	case len(p.Line.Stations) == 0 || oneIn(r, 2):
		t.Line.Off = today - calendar.Date(1+r.IntN(4))
	case oneIn(r, 2):
		t.Line.Station, t.Line.Since = pick(r, p.Line.Stations).ID, today-calendar.Date(r.IntN(2))
	default:
		t.Line.Enters = today + calendar.Date(r.IntN(2))
		if oneIn(r, 2) {
			t.Reserved = plant.Reserved{Until: today + 3, For: "a customer who thinks about it"}
		}
	}
	p.Trucks = append(p.Trucks, t)
	for _, s := range p.Route {
		if s.Visit == "" || oneIn(r, 5) {
			continue
		}
		v := plant.Visit{
			ID: t.ID + "-" + s.ID, Truck: t.ID, Kind: s.Visit, Heads: 1 + r.IntN(3), Halves: either(r, 1, 1, 2, 2, 3), TravelDays: either(r, 0, 0, 1),
			Windows: []plant.Range{{From: today + calendar.Date(r.IntN(3)), Through: today + calendar.Date(2+r.IntN(days))}},
			Booking: plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None},
		}
		if v.Windows[0].Through < v.Windows[0].From {
			v.Windows[0].Through = v.Windows[0].From
		}
		if oneIn(r, 2) {
			v.Booking = plant.Booking{State: either(r, plant.Tentative, plant.Confirmed), Day: today + calendar.Date(r.IntN(days)), HoldUntil: calendar.None}
			v.Booking.TravelBought = v.Booking.State == plant.Confirmed && oneIn(r, 3)
			if v.Booking.State == plant.Tentative {
				v.Booking.HoldUntil = today + calendar.Date(r.IntN(5))
			}
		}
		if oneIn(r, 3) {
			v.Weekdays = []calendar.Weekday{either[calendar.Weekday](r, 1, 2), either[calendar.Weekday](r, 3, 4)}
		}
		if s.Visit == plant.FinalInspection && oneIn(r, 2) {
			v.Wishes = []string{"drive"}
			if t.FlowGPM > 0 && v.Halves > 1 && oneIn(r, 2) {
				v.Wishes = append(v.Wishes, "pump")
			}
		}
		p.Visits = append(p.Visits, v)
	}
	for range r.IntN(4) {
		further(r, p)
	}
}

// try makes a change on a copy, and returns p itself where that would be a fault.
func try(p *plant.Plant, change func(*plant.Plant)) *plant.Plant {
	q := deep(p)
	change(q)
	if len(plant.Validate(q)) > 0 {
		return p
	}
	return q
}

// further finishes, begins, or lines up for, the next stage of a truck, where that can be.
func further(r *rand.Rand, p *plant.Plant) {
	if len(p.Trucks) == 0 {
		return
	}
	n := r.IntN(len(p.Trucks))
	done := func(t *plant.Truck, s string) bool {
		return isDone(t, s) || isRunning(t, s)
	}
	for i := range p.Route {
		s := &p.Route[i]
		if !p.Applies(&p.Trucks[n], s) || done(&p.Trucks[n], s.ID) {
			continue
		}
		ago := func(most int) calendar.Moment { return p.AsOf - calendar.Moment(60*(1+r.IntN(most))) }
		bay := ""
		if s.Bay != "" {
			bay = pick(r, p.Bays).ID
		}
		kind := r.IntN(3)
		q := try(p, func(q *plant.Plant) {
			t := &q.Trucks[n]
			switch {
			case kind == 0 && s.Visit == "":
				t.Done = append(t.Done, plant.Done{Stage: s.ID, Ended: ago(either(r, 60, 900))})
			case kind < 2:
				t.Running = append(t.Running, plant.Running{Stage: s.ID, Started: ago(20), Bay: bay, RemainingMinutes: either(r, -1, 30*(1+r.IntN(12)))})
			default:
				t.Standing = plant.Standing{Stage: s.ID, Bay: bay}
			}
		})
		if q != p {
			*p = *q
			return
		}
		if kind < 2 {
			return
		}
	}
}

// someDays is a run of one to three days around the first days of the plan.
func someDays(r *rand.Rand, p *plant.Plant) plant.Range {
	from := p.AsOf.Date() + calendar.Date(r.IntN(12)-2)
	return plant.Range{From: from, Through: from + calendar.Date(r.IntN(3)), Reason: "stocktaking"}
}

// oddities change one thing each about a plant with trucks.
var oddities = []func(r *rand.Rand, p *plant.Plant){
	func(r *rand.Rand, p *plant.Plant) { // bays
		b := pick(r, p.Bays)
		b.Closures = append(b.Closures, someDays(r, p))
	},
	func(r *rand.Rand, p *plant.Plant) {
		b := pick(r, p.Bays)
		b.Closures = append(b.Closures, someDays(r, p))
	},
	func(r *rand.Rand, p *plant.Plant) {
		b := pick(r, p.Bays)
		b.Kinds = append(b.Kinds, *pick(r, pick(r, p.Bays).Kinds))
	},
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Bays).MaxLengthFt = pick(r, p.Trucks).LengthFt },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Bays).MaxHeightFt = pick(r, p.Trucks).HeightFt },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Bays).MaxFlowGPM = pick(r, p.Trucks).FlowGPM },
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Bays).Needs = []string{either(r, "pump", "foam", "custom", pick(r, p.Trucks).Kind)}
	},
	func(r *rand.Rand, p *plant.Plant) {
		p.Bays = slices.Delete(p.Bays, 0, 1)
		pick(r, p.Bays).Name = "Old hall"
	},
	func(r *rand.Rand, p *plant.Plant) { // a bay in which a truck is
		for i := range p.Trucks {
			at := p.Trucks[i].Standing.Bay
			for _, w := range p.Trucks[i].Running {
				at = cmp.Or(at, w.Bay)
			}
			if b := p.FindBay(at); b != nil {
				b.Closures = append(b.Closures, someDays(r, p))
			}
		}
	},
	func(r *rand.Rand, p *plant.Plant) { // crews
		c := pick(r, p.Crews)
		c.Name = "Day crew"
		c.Days = append(c.Days, plant.CrewChange{Range: someDays(r, p), Size: r.IntN(3)})
	},
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Crews).Size = r.IntN(3) },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Crews).Calendar = pick(r, p.Calendars).ID },
	func(r *rand.Rand, p *plant.Plant) { // calendars
		pick(r, p.Calendars).Rules.Week = mustWeek(*pick(r, calendar.PatternNames()))
	},
	func(r *rand.Rand, p *plant.Plant) { // by hand: an early Friday, a Sunday, a night from Saturday on
		w := mustWeek("5x8")
		shift := func(from, to calendar.Clock) []calendar.Shift {
			return []calendar.Shift{{Span: calendar.Span{From: from, To: to}}}
		}
		w[5], w[0] = shift(6*60, 11*60), either(r, nil, shift(9*60, 12*60))
		w[6] = either(r, nil, shift(20*60, 28*60))
		pick(r, p.Calendars).Rules.Week = w
	},
	func(r *rand.Rand, p *plant.Plant) { // a shutdown that has just ended
		for i := range p.Calendars {
			p.Calendars[i].Rules.Closures = []calendar.Closure{{From: p.AsOf.Date() - 14, Through: p.AsOf.Date() - 1, Reason: "shutdown"}}
		}
		further(r, p)
	},
	func(r *rand.Rand, p *plant.Plant) {
		d, c := someDays(r, p), pick(r, p.Calendars)
		c.Rules.Closures = append(c.Rules.Closures, calendar.Closure{From: d.From, Through: d.Through, Reason: d.Reason})
	},
	func(r *rand.Rand, p *plant.Plant) {
		c := pick(r, p.Calendars)
		c.Rules.Overtime = append(c.Rules.Overtime, calendar.Overtime{Day: someDays(r, p).From, Note: "catching up", Shifts: []calendar.Shift{{
			Span: calendar.Span{From: 16 * 60, To: 20 * 60}, Breaks: []calendar.Span{{From: 17 * 60, To: 17*60 + 30}},
		}}})
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Calendars).Rules.Holidays = []calendar.HolidaySet{{Set: *pick(r, calendar.HolidaySets())}}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Calendars).Rules.Holidays = []calendar.HolidaySet{{
			Set: "us-federal", Add: []string{"good-friday", "friday-after-thanksgiving", "christmas-eve"}, Drop: []string{"veterans-day"},
		}}
	},
	func(r *rand.Rand, p *plant.Plant) { p.Departments[0].Calendar = pick(r, p.Calendars).ID },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Departments).Calendar = pick(r, p.Calendars).ID },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Departments).Name = "Hall" },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Route).HoldBefore = r.IntN(4) }, // stages
	func(r *rand.Rand, p *plant.Plant) {
		s := pick(r, p.Route)
		s.Crosses, s.Mark, s.Name = nil, either(r, "V", "M", "P", "D"), "Work"
		for _, c := range []string{plant.CrossShift, plant.CrossWeekend, plant.CrossClosure} {
			if oneIn(r, 2) {
				s.Crosses = append(s.Crosses, c)
			}
		}
	},
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Route).StartIn = []string{pick(r, p.Parts).ID} },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Route).Certifies = !oneIn(r, 4) },
	func(r *rand.Rand, p *plant.Plant) {
		if s := pick(r, p.Route); s.Length == plant.LengthHours {
			m := 30 * (1 + r.IntN(20))
			s.Hours = plant.ByContent{Light: plant.Estimate{MinMinutes: 1, LikelyMinutes: max(30, m/2), MaxMinutes: m}, Medium: plant.Estimate{MinMinutes: 10, LikelyMinutes: m, MaxMinutes: m + 30}, Heavy: plant.Estimate{MinMinutes: m, LikelyMinutes: m + 60, MaxMinutes: m + 90}}
			s.Extra = append(s.Extra, plant.Extra{Feature: either(r, "foam", "pump", "pumper"), Minutes: 30 * (1 + r.IntN(4))})
		}
	},
	func(r *rand.Rand, p *plant.Plant) {
		if s := pick(r, p.Route); len(s.After) > 0 {
			a, wait := pick(r, s.After), 60*r.IntN(60)
			switch r.IntN(4) {
			case 0:
				a.MinElapsedMinutes = wait
			case 1:
				a.MaxElapsedMinutes = 600 + wait
			case 2:
				a.MinWorkMinutes = wait / 4
			default:
				a.MaxWorkMinutes = 240 + wait/4
			}
		}
	},
	func(r *rand.Rand, p *plant.Plant) { // two branches side by side
		if s := pick(r, p.Route); len(s.After) > 0 {
			s.After = s.After[1:]
		}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Route).Needs = []string{either(r, "pump", "foam", "custom", "rescue")}
	},
	func(r *rand.Rand, p *plant.Plant) {
		s := pick(r, p.Route)
		s.Crews = []plant.Need{{Crew: pick(r, p.Crews).ID, Heads: 1 + r.IntN(2)}}
	},
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Route).Lasting = true },
	func(r *rand.Rand, p *plant.Plant) { // wishes
		w := pick(r, p.Wishes)
		w.Minutes, w.Name, w.Caution = 30*(1+r.IntN(8)), "Try it", "C6"
		w.Department, w.Bay = pick(r, p.Departments).ID, either(r, "", pick(r, p.Bays).Kinds[0])
		w.Crews = []plant.Need{{Crew: pick(r, p.Crews).ID, Heads: 1}}
		w.Needs = either(r, nil, []string{"pump"}, []string{"foam"})
	},
	func(r *rand.Rand, p *plant.Plant) { // the line
		p.Line.Calendar = pick(r, p.Calendars).ID
		p.Line.FreeSlots = append(p.Line.FreeSlots, plant.FreeSlot{Week: p.AsOf.Date() + 7, Content: either(r, plant.Light, plant.Medium, plant.Heavy), Count: r.IntN(3)})
	},
	func(r *rand.Rand, p *plant.Plant) {
		if len(p.Line.Stations) > 0 {
			s := pick(r, p.Line.Stations)
			s.Name, s.Lanes = "Station", !s.Lanes
			s.Takt.MediumMinutes += 60
		}
	},
	func(r *rand.Rand, p *plant.Plant) {
		t := pick(r, p.Trucks)
		if t.Line.Off == calendar.None {
			t.Line.Feeders = append(t.Line.Feeders, plant.Feeder{Name: "chassis", Station: pick(r, p.Line.Stations).ID, Expected: someDays(r, p).From})
		}
	},
	func(r *rand.Rand, p *plant.Plant) {
		t := pick(r, p.Trucks)
		t.Line.Overrides = append(t.Line.Overrides, plant.Override{On: p.AsOf.Date() - calendar.Date(r.IntN(3)), Off: someDays(r, p).From, By: "line lead", Reason: "parts", Cause: "parts"})
	},
	func(r *rand.Rand, p *plant.Plant) { // trucks
		pick(r, p.Trucks).Overruns = []plant.Overrun{{Stage: pick(r, p.Route).ID, Minutes: 30 * (r.IntN(16) - 4)}}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Trucks).Ready = plant.Ready{WorkDays: r.IntN(2), Approver: "head of quality"}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Trucks).Reserved = plant.Reserved{Until: p.AsOf.Date() + 3, For: "a customer who thinks about it"}
	},
	func(r *rand.Rand, p *plant.Plant) {
		c := &pick(r, p.Trucks).Contract
		*c = plant.Contract{Due: someDays(r, p).From, Deadline: someDays(r, p).From, Weight: 1 + r.IntN(4), DamagesPerDay: 50 * r.IntN(4), DamagesCap: 100 * r.IntN(4)}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Trucks).Options = either(r, nil, []string{"foam"}, []string{"aerial", "generator"})
	},
	further,
	further,
	further,
	func(r *rand.Rand, p *plant.Plant) { // visits
		v := pick(r, p.Visits)
		v.Windows = append([]plant.Range{someDays(r, p)}, either(r, nil, v.Windows)...)
	},
	func(r *rand.Rand, p *plant.Plant) {
		v := pick(r, p.Visits)
		v.Blackouts = append(v.Blackouts, someDays(r, p))
	},
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Visits).TravelDays = r.IntN(3) },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Visits).Halves = 1 + r.IntN(5) },
	func(r *rand.Rand, p *plant.Plant) { pick(r, p.Visits).Heads = 1 + r.IntN(9) },
	func(r *rand.Rand, p *plant.Plant) {
		d := r.IntN(7)
		pick(r, p.Visits).Weekdays = []calendar.Weekday{calendar.Weekday(d), calendar.Weekday((d + 1 + r.IntN(6)) % 7)}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Visits).Booking = plant.Booking{State: either(r, plant.Held, plant.Cancelled, plant.NoShow), Day: p.AsOf.Date() - 1, HoldUntil: calendar.None}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Visits).Booking = plant.Booking{State: plant.Confirmed, Day: someDays(r, p).From, HoldUntil: calendar.None, TravelBought: oneIn(r, 2)}
	},
	func(r *rand.Rand, p *plant.Plant) {
		pick(r, p.Visits).Booking = plant.Booking{State: plant.Tentative, Day: someDays(r, p).From, HoldUntil: p.AsOf.Date() + 2}
	},
	func(r *rand.Rand, p *plant.Plant) {
		if len(p.Wishes) > 0 {
			pick(r, p.Visits).Wishes = []string{pick(r, p.Wishes).ID}
		}
	},
	func(r *rand.Rand, p *plant.Plant) { // a kind of visit that the truck has not yet
		t, s := pick(r, p.Trucks), pick(r, p.Route)
		if s.Visit != "" {
			p.Visits = append(p.Visits, plant.Visit{
				ID: t.ID + "-more", Truck: t.ID, Kind: s.Visit, Heads: 2, Halves: 1, Windows: []plant.Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}},
				Booking: plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None},
			})
		}
	},
	func(r *rand.Rand, p *plant.Plant) { // the house
		p.Buffer = plant.Buffer{ReadyWorkDays: r.IntN(4), NoticeDays: r.IntN(8), NearDays: 1 + r.IntN(20), WaitCapDays: 1 + r.IntN(6)}
	},
	func(r *rand.Rand, p *plant.Plant) {
		v := reflect.ValueOf(&p.Prices).Elem()
		for i := range v.NumField() {
			if name := v.Type().Field(i).Name; name != "DriveMilesPerDay" && name != "DelegationWarnOver" {
				v.Field(i).SetInt(int64(1 + r.IntN(7)))
			}
		}
		p.Prices.DelegationWarnOver, p.Prices.DriveMilesPerDay = 3, 200
	},
	func(r *rand.Rand, p *plant.Plant) {
		p.Notice = []plant.Notice{{ID: "week", Name: "Week named", DaysBefore: 30}, {ID: "frozen", DaysBefore: r.IntN(9)}}
	},
	func(r *rand.Rand, p *plant.Plant) { p.Calendar = pick(r, p.Calendars).ID },
	func(r *rand.Rand, p *plant.Plant) {
		p.Horizon.Through -= calendar.Date(r.IntN(5))
		p.Horizon.Reason = "the next weeks"
	},
	func(r *rand.Rand, p *plant.Plant) { p.Horizon.Through -= calendar.Date(r.IntN(60)) },
	func(r *rand.Rand, p *plant.Plant) {
		p.Parts = either(r, p.Parts[:1], append(plant.DefaultParts(), plant.Part{ID: "evening", From: 16 * 60}))
	},
	func(r *rand.Rand, p *plant.Plant) {
		c := pick(r, p.Customers)
		c.Miles, c.Calendar, c.Town = r.IntN(1500), pick(r, p.Calendars).ID, "Tarnbeck"
	},
	func(r *rand.Rand, p *plant.Plant) {
		p.Zone = either(r, "UTC", "America/Chicago", "Australia/Lord_Howe")
	},
	func(r *rand.Rand, p *plant.Plant) {
		p.Trucks, p.Visits, p.Slips, p.Plan = nil, nil, nil, nil
		if oneIn(r, 2) {
			p.Bays, p.Crews, p.Measures = nil, nil, nil
		}
	},
	func(r *rand.Rand, p *plant.Plant) { p.Measures = measuresOf(p) },
}

// measuresOf is a price list with every key of it.
func measuresOf(p *plant.Plant) []plant.Measure {
	kind := ""
	for _, s := range p.Route {
		kind = cmp.Or(kind, s.Bay)
	}
	for _, w := range p.Wishes {
		kind = cmp.Or(kind, w.Bay)
	}
	day := []calendar.Shift{{Span: calendar.Span{From: 8 * 60, To: 12 * 60}}}
	return []plant.Measure{
		{ID: "a", Kind: plant.SaturdayShift, Name: "Half a Saturday", Department: p.Departments[0].ID, Shifts: day, Heads: 1, Days: 1, LeadDays: 1, Weeks: 2, Dollars: 900},
		{ID: "b", Kind: plant.ExtraHeads, Crew: p.Crews[0].ID, Heads: 2, Days: 2, LeadDays: 2, Weeks: 4, PerDay: 100, PerHead: 50},
		{ID: "c", Kind: plant.HiredBay, BayKind: kind, Heads: 1, Days: 3, LeadDays: 2, Weeks: 4},
		{ID: "d", Kind: plant.AskCustomer, Customer: p.Customers[0].ID, Heads: 1, Days: 1, LeadDays: 2, Weeks: 4, PerHead: 20},
		{ID: "e", Kind: plant.ShorterBuffer, Approver: "head of quality", WorkDays: 1, Heads: 1, Days: 1, LeadDays: 2, Weeks: 4},
		{ID: "f", Kind: plant.FlyLater, Heads: 1, Days: 2, LeadDays: 2, Weeks: 4},
		{ID: "g", Kind: plant.PayDamages, Heads: 1, Days: 4, LeadDays: 2, Weeks: 4},
	}
}

// odder is p with one oddity, or p where that would be a fault, or there is nothing to change.
func odder(r *rand.Rand, p *plant.Plant) *plant.Plant {
	change := *pick(r, oddities)
	if len(p.Trucks) == 0 || len(p.Visits) == 0 || len(p.Bays) < 2 {
		return p
	}
	return try(p, func(q *plant.Plant) { change(r, q) })
}

// told is p with a slip that can have happened, or p.
func told(r *rand.Rand, p *plant.Plant) *plant.Plant {
	if len(p.Trucks) == 0 {
		return p
	}
	none := plant.Range{From: calendar.None, Through: calendar.None}
	s := plant.Slip{ID: fmt.Sprintf("X%d", len(p.Slips)+1), Over: none, Known: p.AsOf.Date(), Cause: "parts", Clock: either(r, "plant", "supplier", "customer")}
	switch r.IntN(6) {
	case 0:
		s.Kind, s.Truck, s.Days = plant.LineOffMoved, pick(r, p.Trucks).ID, either(r, -1, 1, 2)
	case 1:
		s.Kind, s.Truck, s.Stage, s.Minutes = plant.StageOverran, pick(r, p.Trucks).ID, pick(r, p.Route).ID, 60*either(r, -1, 2, 5)
	case 2:
		t := pick(r, p.Trucks)
		s.Kind, s.Truck, s.Stage = plant.TestFailed, t.ID, pick(r, p.Route).ID
		if len(t.Done) > 0 {
			s.Stage = pick(r, t.Done).Stage
		}
	case 3:
		s.Kind, s.Bay, s.Over = plant.BayDown, pick(r, p.Bays).ID, someDays(r, p)
	case 4:
		s.Kind, s.Crew, s.Heads, s.Over = plant.CrewAway, pick(r, p.Crews).ID, 1, someDays(r, p)
	default:
		if len(p.Visits) == 0 {
			return p
		}
		s.Kind, s.Visit, s.Over = plant.CustomerMoves, pick(r, p.Visits).ID, someDays(r, p)
	}
	q := try(p, func(q *plant.Plant) { q.Slips = append(q.Slips, s) })
	if _, err := q.Apply(q.Slips); err != nil {
		return p
	}
	return q
}

// condition draws something that a person may insist on.
func condition(r *rand.Rand, p *plant.Plant) Condition {
	c := Condition{Day: calendar.None, Over: plant.Range{From: calendar.None, Through: calendar.None}}
	c.Kind = either(r, plant.KeepVisit, plant.KeepDelivery, plant.HoldVisit, plant.NoOvertime, plant.NotBefore, plant.MoveRather, plant.NoVisits)
	truck, visit, other := "", "", ""
	if len(p.Trucks) > 0 {
		truck, other = pick(r, p.Trucks).ID, pick(r, p.Trucks).ID
	}
	if len(p.Visits) > 0 {
		visit = pick(r, p.Visits).ID
	}
	switch c.Kind {
	case plant.KeepVisit:
		if oneIn(r, 2) {
			c.Truck = truck
		} else if c.Visit = visit; oneIn(r, 2) {
			c.Day = someDays(r, p).From
		}
	case plant.KeepDelivery:
		if c.Truck = truck; oneIn(r, 2) {
			c.Day = someDays(r, p).Through + 2
		}
	case plant.HoldVisit:
		c.Visit = visit
	case plant.NoOvertime:
		c.Department = pick(r, p.Departments).ID
	case plant.NotBefore:
		c.Customer, c.Day = pick(r, p.Customers).ID, someDays(r, p).From
	case plant.MoveRather:
		c.Truck, c.Than = truck, other
	case plant.NoVisits:
		c.Over = someDays(r, p)
	}
	return c
}

// contrary draws one or two things to insist on that the best plan does not do. There are none
// where no plan is right, and where nothing is planned.
func contrary(seed uint64, p *plant.Plant) (list []Condition) {
	res, err := Replan(context.Background(), p, Options{})
	if err != nil || res.Plan == nil {
		return nil
	}
	none := plant.Range{From: calendar.None, Through: calendar.None}
	for _, row := range res.Plan.Visits {
		v := p.FindVisit(row.Visit)
		if row.Day == calendar.None {
			list = append(list, Condition{Kind: plant.HoldVisit, Visit: v.ID, Day: calendar.None, Over: none})
			continue
		}
		list = append(list,
			Condition{Kind: plant.KeepVisit, Visit: v.ID, Day: row.Day - 1, Over: none},
			Condition{Kind: plant.KeepVisit, Visit: v.ID, Day: row.Day + 1, Over: none},
			Condition{Kind: plant.NotBefore, Customer: p.FindTruck(v.Truck).Customer, Day: row.Day + 1, Over: none},
			Condition{Kind: plant.NoVisits, Day: calendar.None, Over: plant.Range{From: row.Day, Through: row.Day}})
	}
	for _, d := range Deliveries(p, res.Plan) {
		list = append(list, Condition{Kind: plant.KeepDelivery, Truck: d.Truck, Day: d.Day + 1, Over: none})
	}
	list = slices.DeleteFunc(list, func(c Condition) bool {
		one := []Condition{c}
		return len(p.Conditions(one)) > 0 || len(check.Conditions(p, res.Plan, one)) == 0
	})
	r := rand.New(rand.NewPCG(seed, 35))
	r.Shuffle(len(list), reflect.Swapper(list))
	return list[:min(len(list), 1+r.IntN(2))]
}

// traits are what the stream must have beside every word of a file.
var traits = []struct {
	name string
	has  func(s *specimen) bool
}{
	{"no trucks", func(s *specimen) bool { return len(s.p.Trucks) == 0 }},
	{"at most a week to plan", func(s *specimen) bool { return s.p.Horizon.Through-s.p.AsOf.Date() < 7 }},
	{"a plan in force", func(s *specimen) bool { return s.p.Plan != nil }},
	{"slips answered", func(s *specimen) bool { return len(s.told.Slips) > len(s.p.Slips) }},
	{"a bay closed now or soon", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Bays, func(b plant.Bay) bool {
			return slices.ContainsFunc(b.Closures, func(c plant.Range) bool {
				return c.Through >= s.p.AsOf.Date() && c.From <= s.p.Horizon.Through
			})
		})
	}},
	{"a hall for some trucks only", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Bays, func(b plant.Bay) bool { return len(b.Needs) > 0 })
	}},
	{"a bay of several kinds", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Bays, func(b plant.Bay) bool { return len(b.Kinds) > 1 })
	}},
	{"a truck that no bay but one takes", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool {
			return slices.ContainsFunc(s.p.Route, func(g plant.Stage) bool {
				fit, all := 0, 0
				for i := range s.p.Bays {
					if b := &s.p.Bays[i]; slices.Contains(b.Kinds, g.Bay) {
						all++
						if b.Takes(g.Bay, t) {
							fit++
						}
					}
				}
				return fit == 1 && all > 1
			})
		})
	}},
	{"a visit with the hall held before", func(s *specimen) bool {
		return someOpen(s, func(t *plant.Truck, g *plant.Stage) bool { return g.Visit != "" && g.HoldBefore > 0 })
	}},
	{"a truck that stands lined up", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool { return t.Standing.Stage != "" })
	}},
	{"a truck in a bay that closes", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool {
			at := []string{t.Standing.Bay}
			for _, r := range t.Running {
				at = append(at, r.Bay)
			}
			return slices.ContainsFunc(s.p.Bays, func(b plant.Bay) bool { return slices.Contains(at, b.ID) && len(b.Closures) > 0 })
		})
	}},
	{"work under way", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool { return len(t.Running) > 0 })
	}},
	{"a visit under way", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool {
			return slices.ContainsFunc(t.Running, func(r plant.Running) bool { return s.p.FindStage(r.Stage).Visit != "" })
		})
	}},
	{"work that is repeated", func(s *specimen) bool {
		return someOpen(s, func(t *plant.Truck, g *plant.Stage) bool {
			return slices.ContainsFunc(s.p.Route, func(f plant.Stage) bool {
				return isDone(t, f.ID) && slices.ContainsFunc(f.After, func(a plant.After) bool { return a.Stage == g.ID })
			})
		})
	}},
	{"a stage that does not apply between two that do", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool {
			for i := range s.p.Route {
				if g := &s.p.Route[i]; !t.Has(g.Needs) && len(g.After) > 0 && slices.ContainsFunc(s.p.Route, func(f plant.Stage) bool {
					return t.Has(f.Needs) && slices.ContainsFunc(f.After, func(a plant.After) bool { return a.Stage == g.ID })
				}) {
					return true
				}
			}
			return false
		})
	}},
	{"two branches at once", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Route, func(g plant.Stage) bool { return len(g.After) > 1 })
	}},
	{"several visits to one truck", func(s *specimen) bool {
		return someTruck(s, func(t *plant.Truck) bool {
			n := 0
			for _, v := range s.p.Visits {
				if v.Truck == t.ID && v.Planned() {
					n++
				}
			}
			return n > 1
		})
	}},
	{"a frozen visit", func(s *specimen) bool { return someVisit(s, func(v *plant.Visit) bool { return s.p.Frozen(v) }) }},
	{"a visit of one part of a day", func(s *specimen) bool {
		return someVisit(s, func(v *plant.Visit) bool { return v.Planned() && v.Halves == 1 })
	}},
	{"a visit of more than a day", func(s *specimen) bool {
		return someVisit(s, func(v *plant.Visit) bool { return v.Planned() && v.Halves > len(s.p.Parts) })
	}},
	{"two wishes in one visit", func(s *specimen) bool {
		return someVisit(s, func(v *plant.Visit) bool { return v.Planned() && len(v.Wishes) > 1 })
	}},
	{"a visit on the line", func(s *specimen) bool {
		return someOpen(s, func(t *plant.Truck, g *plant.Stage) bool { return g.Visit != "" && g.Station != "" })
	}},
	{"night work", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Calendars, func(c plant.Calendar) bool {
			return slices.ContainsFunc(c.Rules.Week[:], func(d []calendar.Shift) bool {
				return slices.ContainsFunc(d, func(s calendar.Shift) bool { return s.To > 24*60 })
			})
		})
	}},
	{"the middle of a day", func(s *specimen) bool { return s.p.AsOf.Clock() > 7*60 }},
	{"three parts of a day", func(s *specimen) bool { return len(s.p.Parts) == 3 }},
	{"one part of a day", func(s *specimen) bool { return len(s.p.Parts) == 1 }},
	{"after a shutdown", func(s *specimen) bool {
		return slices.ContainsFunc(s.p.Calendars, func(c plant.Calendar) bool {
			return slices.ContainsFunc(c.Rules.Closures, func(c calendar.Closure) bool { return c.Through == s.p.AsOf.Date()-1 && c.Through-c.From > 7 })
		})
	}},
	{"clocks change", func(s *specimen) bool {
		g, err := s.p.Grid(s.p.AsOf.Date(), s.p.Horizon.Through)
		from, to := s.p.AsOf, s.p.Horizon.Through.At(0)
		return err == nil && g.ElapsedMinutes(from, to) != int(to-from)
	}},
	{"condition " + plant.KeepVisit, insists(plant.KeepVisit)},
	{"condition " + plant.KeepDelivery, insists(plant.KeepDelivery)},
	{"condition " + plant.HoldVisit, insists(plant.HoldVisit)},
	{"condition " + plant.NoOvertime, insists(plant.NoOvertime)},
	{"condition " + plant.NotBefore, insists(plant.NotBefore)},
	{"condition " + plant.MoveRather, insists(plant.MoveRather)},
	{"condition " + plant.NoVisits, insists(plant.NoVisits)},
}

func someTruck(s *specimen, is func(*plant.Truck) bool) bool {
	return slices.ContainsFunc(s.p.Trucks, func(t plant.Truck) bool { return is(&t) })
}

func someVisit(s *specimen, is func(*plant.Visit) bool) bool {
	return slices.ContainsFunc(s.p.Visits, func(v plant.Visit) bool { return is(&v) })
}

func someOpen(s *specimen, is func(*plant.Truck, *plant.Stage) bool) bool {
	return someTruck(s, func(t *plant.Truck) bool {
		return slices.ContainsFunc(s.p.Route, func(g plant.Stage) bool { return s.p.Applies(t, &g) && !isDone(t, g.ID) && is(t, &g) })
	})
}

func insists(kind string) func(s *specimen) bool {
	return func(s *specimen) bool {
		return slices.ContainsFunc(s.conditions, func(c Condition) bool { return c.Kind == kind })
	}
}

// TestForeign_Stream looks whether the stream has everything that a plant file can tell, key
// by key and word by word of the schema, and what else makes a plant odd.
func TestForeign_Stream(t *testing.T) {
	t.Parallel()
	var schema map[string]any
	if err := json.Unmarshal(plant.Schema(), &schema); err != nil {
		t.Fatal(err)
	}
	runs := uint64(600)
	said, odd := map[string]int{}, map[string]int{}
	for seed := range runs {
		s := specimenOf(t, seed)
		if faults := append(plant.Validate(s.told), plant.Validate(s.p)...); len(faults) > 0 {
			t.Fatalf("%v: %v", s, faults)
		}
		seen := map[string]bool{}
		for _, p := range []*plant.Plant{s.told, s.p} {
			var file any
			if err := yaml.Unmarshal(plant.Write(p), &file); err != nil {
				t.Fatal(err)
			}
			says("", schema, file, seen)
		}
		for k := range seen {
			said[k]++
		}
		for _, trait := range traits {
			if trait.has(s) {
				odd[trait.name]++
			}
		}
	}
	words := map[string]bool{}
	knows("", schema, words)
	for _, k := range slices.Sorted(maps.Keys(words)) {
		t.Logf("%4d %s", said[k], k)
		if said[k] == 0 {
			t.Errorf("no plant of %d says %s", runs, k)
		}
	}
	for _, trait := range traits {
		t.Logf("%4d %s", odd[trait.name], trait.name)
		if odd[trait.name] < 3 {
			t.Errorf("%d plants of %d with %s: the stream has become trivial", odd[trait.name], runs, trait.name)
		}
	}
}

// knows collects the keys of a schema, with a dot after each section and list, and its words
// but for those that stand for an absent key, and names of holiday sets.
func knows(at string, schema map[string]any, words map[string]bool) {
	for _, one := range ways(schema) {
		properties, _ := one["properties"].(map[string]any)
		for name, of := range properties {
			words[at+name] = true
			knows(at+name+".", of.(map[string]any), words)
		}
		if items, ok := one["items"].(map[string]any); ok {
			knows(at, items, words)
		}
		for _, word := range enumOf(one) {
			if word != one["default"] && !strings.HasPrefix(at, "calendars.holidays.") {
				words[strings.TrimSuffix(at, ".")+"="+word] = true
			}
		}
	}
}

// says collects those that a file uses.
func says(at string, schema map[string]any, value any, seen map[string]bool) {
	for _, one := range ways(schema) {
		switch v := value.(type) {
		case map[string]any:
			properties, _ := one["properties"].(map[string]any)
			for name, of := range properties {
				if inner, ok := v[name]; ok {
					seen[at+name] = true
					says(at+name+".", of.(map[string]any), inner, seen)
				}
			}
		case []any:
			if items, ok := one["items"].(map[string]any); ok {
				for _, inner := range v {
					says(at, items, inner, seen)
				}
			}
		case string:
			if slices.Contains(enumOf(one), v) {
				seen[strings.TrimSuffix(at, ".")+"="+v] = true
			}
		}
	}
}

func ways(schema map[string]any) (list []map[string]any) {
	several, ok := schema["anyOf"].([]any)
	if !ok {
		return []map[string]any{schema}
	}
	for _, one := range several {
		list = append(list, ways(one.(map[string]any))...)
	}
	return list
}

func enumOf(schema map[string]any) (list []string) {
	words, _ := schema["enum"].([]any)
	for _, w := range words {
		if s, ok := w.(string); ok {
			list = append(list, s)
		}
	}
	return list
}
