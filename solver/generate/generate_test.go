package generate

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

func TestSameSeedSameBytes(t *testing.T) {
	o := Options{Trucks: 60, Seed: 7, Load: 0.9, Slips: true}
	first := plant.Write(Generate(o))
	if !bytes.Equal(first, plant.Write(Generate(o))) {
		t.Error("equal options gave two different plants")
	}
	o.Seed = 8
	if bytes.Equal(first, plant.Write(Generate(o))) {
		t.Error("another seed gave the same plant")
	}
}

// Every plant is right as a file: no fault, and the same plant back.
func TestReads(t *testing.T) {
	for _, trucks := range []int{1, 2, 3, 5, 9, 17, 24, 60, 200} {
		for _, load := range []float64{MinLoad, 0.9, MaxLoad} {
			o := Options{Trucks: trucks, Seed: uint64(trucks), Load: load, Slips: trucks%2 == 0}
			p := Generate(o)
			if len(p.Trucks) != trucks || (len(p.Slips) > 0) != o.Slips || p.Plan != nil {
				t.Errorf("%+v: %d trucks, %d slips, plan %v", o, len(p.Trucks), len(p.Slips), p.Plan)
			}
			back, faults := plant.Read("generated", plant.Write(p))
			for _, f := range faults {
				t.Errorf("%+v: %v", o, f)
			}
			if back != nil && !reflect.DeepEqual(p, back) {
				t.Errorf("%+v: what was read differs from what was written", o)
			}
		}
	}
}

// Slips can be made facts, and there are three or more of different causes.
func TestSlips(t *testing.T) {
	for seed := range uint64(4) {
		p := Generate(Options{Trucks: 200, Seed: seed, Load: 0.9, Slips: true})
		causes := map[string]bool{}
		for _, s := range p.Slips {
			causes[s.Kind+" "+s.Cause] = true
		}
		if len(causes) < 3 {
			t.Errorf("seed %d: causes %v, want three or more", seed, causes)
		}
		if _, err := p.Apply(p.Slips); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
}

// At 200 trucks everything that a plant file can tell is there.
func TestEverythingAppears(t *testing.T) {
	p := Generate(Options{Trucks: 200, Seed: 1, Load: 0.9, Slips: true})
	seen := map[string]int{}
	for i := range p.Trucks {
		tr := &p.Trucks[i]
		seen["kind "+tr.Kind]++
		seen["content "+tr.Content]++
		seen["graphics "+tr.Graphics]++
		for _, o := range tr.Options {
			seen["option "+o]++
		}
		seen[fmt.Sprint("pump ", tr.FlowGPM > 0)]++
		switch l := tr.Line; {
		case l.Off != calendar.None:
			seen["off"]++
		case l.Station != "":
			seen["on the line"]++
		default:
			seen["to come"]++
		}
		seen["feeder"] += len(tr.Line.Feeders)
		seen["override"] += len(tr.Line.Overrides)
		seen["done"] += len(tr.Done)
		seen["overrun"] += len(tr.Overruns)
		for _, r := range tr.Running {
			seen["running"]++
			seen[fmt.Sprint("remaining said ", r.RemainingMinutes >= 0)]++
		}
		if tr.Contract.DamagesPerDay > 0 && tr.Contract.DamagesCap > 0 {
			seen["damages"]++
		}
		if tr.Contract.Deadline != calendar.None {
			seen["deadline"]++
		}
		seen[fmt.Sprint("weight ", tr.Contract.Weight)]++
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		seen["visit "+v.Kind]++
		seen["state "+v.Booking.State]++
		seen[fmt.Sprint("halves ", v.Halves)]++
		seen["blackout"] += len(v.Blackouts)
		seen[fmt.Sprint("windows ", len(v.Windows))]++
		seen["weekdays"] += min(1, len(v.Weekdays))
		seen[fmt.Sprint("frozen ", p.Frozen(v))]++
		for _, w := range v.Wishes {
			seen["wish "+w]++
		}
	}
	for _, b := range p.Bays {
		for _, k := range b.Kinds {
			seen["bay "+k]++
		}
		seen["bay closed"] += len(b.Closures)
		seen[fmt.Sprint("flow limit ", b.MaxFlowGPM > 0)]++
		seen[fmt.Sprint("length limit ", b.MaxLengthFt > 0)]++
	}
	for _, c := range p.Crews {
		seen["crew change"] += len(c.Days)
	}
	for _, s := range p.Slips {
		seen["slip "+s.Kind]++
	}
	seen["free slot"] = len(p.Line.FreeSlots)
	for _, want := range []string{
		"kind pumper", "kind aerial", "kind tanker", "kind rescue", "kind brush",
		"content light", "content medium", "content heavy",
		"graphics stripes", "graphics lettering", "graphics custom", "graphics gold_leaf",
		"option foam", "option generator", "option breathing_air", "option touch_up", "pump true", "pump false",
		"off", "on the line", "to come", "feeder", "override", "done", "overrun", "running", "remaining said true", "remaining said false",
		"damages", "deadline", "weight 1", "weight 2", "weight 3",
		"visit pre_paint", "visit graphics_layout", "visit final_inspection", "visit re_inspection",
		"state requested", "state tentative", "state confirmed", "state done", "state cancelled", "state no_show",
		"halves 1", "halves 2", "halves 3", "halves 4", "halves 6", "blackout", "windows 1", "windows 2", "weekdays",
		"frozen true", "frozen false", "wish drive", "wish pump",
		"bay scale", "bay test_drive", "bay electrical", "bay air_test", "bay pump_test", "bay aerial_pad", "bay paint",
		"bay release_check", "bay correction", "bay graphics", "bay make_ready", "bay floor",
		"bay closed", "flow limit true", "flow limit false", "length limit true", "length limit false", "crew change",
		"slip line_off_moved", "slip bay_down", "slip crew_away", "slip test_failed", "slip stage_overran", "slip customer_moves",
		"free slot",
	} {
		if seen[want] == 0 {
			t.Errorf("nowhere: %s", want)
		}
	}
}

// What is done and running is possible: one truck in a bay, able to take it, one
// bay for a truck, nothing from the future, nothing before what it needs.
func TestPresentStateIsConsistent(t *testing.T) {
	for seed := range uint64(6) {
		p := Generate(Options{Trucks: 120, Seed: seed, Load: 0.95})
		in := map[string]string{}
		states := 0
		for i := range p.Trucks {
			tr := &p.Trucks[i]
			began := map[string]bool{}
			places := 0
			for _, d := range tr.Done {
				states++
				if began[d.Stage] || d.Ended > p.AsOf {
					t.Errorf("seed %d: %s has done %s by %v", seed, tr.ID, d.Stage, d.Ended)
				}
				began[d.Stage] = true
			}
			for _, r := range tr.Running {
				states++
				s := p.FindStage(r.Stage)
				if began[r.Stage] || r.Started >= p.AsOf || r.Started.Date() < p.Horizon.From {
					t.Errorf("seed %d: %s runs %s since %v", seed, tr.ID, r.Stage, r.Started)
				}
				if (r.Bay == "") != (s.Bay == "") {
					t.Errorf("seed %d: %s runs %s in bay %q, kind %q", seed, tr.ID, r.Stage, r.Bay, s.Bay)
				}
				if r.Bay == "" {
					continue
				}
				places++
				if other := in[r.Bay]; other != "" || !p.FindBay(r.Bay).Takes(s.Bay, tr) {
					t.Errorf("seed %d: %s runs %s in %s, where %q stands", seed, tr.ID, r.Stage, r.Bay, other)
				}
				in[r.Bay] = tr.ID
			}
			if places > 1 {
				t.Errorf("seed %d: %s stands in %d bays", seed, tr.ID, places)
			}
			for _, r := range tr.Running {
				began[r.Stage] = false // what comes after it may not have begun
				for _, a := range p.FindStage(r.Stage).After {
					if s := p.FindStage(a.Stage); p.Applies(tr, s) && !slices.ContainsFunc(tr.Done, func(d plant.Done) bool { return d.Stage == a.Stage }) {
						t.Errorf("seed %d: %s runs %s before %s is done", seed, tr.ID, r.Stage, a.Stage)
					}
				}
			}
			for _, d := range tr.Done {
				for _, a := range p.FindStage(d.Stage).After {
					if s := p.FindStage(a.Stage); p.Applies(tr, s) && !began[a.Stage] {
						t.Errorf("seed %d: %s has done %s before %s", seed, tr.ID, d.Stage, a.Stage)
					}
				}
			}
			if states > 0 && tr.Line.Off == calendar.None && len(tr.Done)+len(tr.Running) > 1 {
				t.Errorf("seed %d: %s is on the line and has %d stages behind it", seed, tr.ID, len(tr.Done)+len(tr.Running))
			}
		}
		if states < 100 {
			t.Errorf("seed %d: only %d stages are done or running", seed, states)
		}
	}
}

// A booked day is one that the customer offered: in a window, off its blackouts
// and holidays with the travel, the window's notice kept.
func TestBookedDaysSuitTheCustomer(t *testing.T) {
	p := Generate(Options{Trucks: 200, Seed: 3, Load: 0.9})
	grid, err := p.Grid(p.Horizon.From-30, p.Horizon.Through+30)
	if err != nil {
		t.Fatal(err)
	}
	hours, err := p.DepartmentHours("showroom", grid)
	if err != nil {
		t.Fatal(err)
	}
	booked := 0
	for i := range p.Visits {
		v := &p.Visits[i]
		if v.Booking.State != plant.Tentative && v.Booking.State != plant.Confirmed {
			continue
		}
		booked++
		day := v.Booking.Day
		if day < p.AsOf.Date() || !hours.WorksDay(day) {
			t.Errorf("%s is booked for %s", v.ID, day)
		}
		last := day
		for k := 2; k < v.Halves; k += 2 {
			last, _ = hours.NextWorkDay(last)
		}
		for d := day; d <= last; d++ {
			if hours.WorksDay(d) && !slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(d) }) {
				t.Errorf("%s: %s lies in no window %v", v.ID, d, v.Windows)
			}
		}
		away := plant.Range{From: day.AddDays(-v.TravelDays), Through: last.AddDays(v.TravelDays)}
		for _, b := range v.Blackouts {
			if b.From <= away.Through && b.Through >= away.From {
				t.Errorf("%s: booked %v, blackout %v", v.ID, away, b)
			}
		}
		if c := p.FindCustomer(p.FindTruck(v.Truck).Customer); c.Calendar != "" {
			theirs, err := p.Hours(c.Calendar, grid)
			if err != nil {
				t.Fatal(err)
			}
			for d := away.From; d <= away.Through; d++ {
				if why, closed := theirs.Closed(d); closed {
					t.Errorf("%s: %s away on %s", v.ID, d, why)
				}
			}
		}
	}
	if booked < 100 {
		t.Errorf("only %d visits are booked", booked)
	}
}

// Every truck belongs to one hall, and each hall has as many trucks and bays of every
// kind; people and customers are shared. All of it takes as long as one hall would with
// its trucks, and one hall is what a file without halls has.
func TestHalls(t *testing.T) {
	o := Options{Trucks: 240, Halls: 3, Seed: 5, Load: 0.9, Slips: true}
	p := Generate(o)
	back, faults := plant.Read("generated", plant.Write(p))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	if !reflect.DeepEqual(p, back) {
		t.Error("what was read differs from what was written")
	}
	hall := func(features []string) string {
		t.Helper()
		var in []string
		for _, f := range features {
			if strings.HasPrefix(f, "hall_") {
				in = append(in, f)
			}
		}
		if len(in) != 1 {
			t.Fatalf("in the halls %v", in)
		}
		return in[0]
	}
	trucks, of := map[string]int{}, map[string]string{}
	buys := map[string]map[string]bool{}
	for _, tr := range p.Trucks {
		h := hall(tr.Options)
		trucks[h]++
		of[tr.ID] = h
		if buys[tr.Customer] == nil {
			buys[tr.Customer] = map[string]bool{}
		}
		buys[tr.Customer][h] = true
	}
	if len(trucks) != 3 {
		t.Errorf("halls %v", trucks)
	}
	for h, n := range trucks {
		if n < 60 || n > 100 {
			t.Errorf("%s has %d of 240 trucks", h, n)
		}
	}
	several := 0
	for _, in := range buys {
		if len(in) > 1 {
			several++
		}
	}
	if several < 20 {
		t.Errorf("only %d customers have trucks in more than one hall", several)
	}
	kinds := map[string]int{}
	for _, b := range p.Bays {
		for _, k := range b.Kinds {
			kinds[hall(b.Needs)+" "+k]++
		}
	}
	if len(kinds) != 3*12 {
		t.Errorf("kinds of bays by hall: %v", kinds)
	}
	stands := 0
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			if r.Bay == "" {
				continue
			}
			stands++
			if in := hall(p.FindBay(r.Bay).Needs); in != of[p.Trucks[i].ID] {
				t.Errorf("%s of %s stands in %s", p.Trucks[i].ID, of[p.Trucks[i].ID], in)
			}
		}
	}
	if stands < 20 {
		t.Errorf("only %d trucks stand in bays", stands)
	}
	one := Generate(Options{Trucks: 80, Seed: 5, Load: 0.9})
	if all, single := lastOff(t, p), lastOff(t, one); all < single-14 || all > single+21 {
		t.Errorf("the last of 240 trucks in three halls is off the line on %s, the last of 80 on %s", all, single)
	}
	same := Options{Trucks: 80, Seed: 5, Load: 0.9, Halls: 1}
	if !reflect.DeepEqual(one, Generate(same)) {
		t.Error("one hall asked for gives another plant than none")
	}
}

// lastOff is the day by which 97 of 100 trucks are off the line; a few late feeders are
// left out.
func lastOff(t *testing.T, p *plant.Plant) calendar.Date {
	t.Helper()
	line, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	var offs []calendar.Date
	for _, tr := range p.Trucks {
		offs = append(offs, line.LineOff(tr.ID))
	}
	slices.Sort(offs)
	return offs[len(offs)*97/100]
}

func TestOptionsCheck(t *testing.T) {
	for _, c := range []struct {
		o    Options
		want string
	}{
		{Options{Trucks: 1, Load: 1}, ""},
		{Options{Trucks: 0, Load: 1}, "0 trucks cannot be generated: ask for 1 to"},
		{Options{Trucks: MaxTrucks + 1, Load: 1}, "ask for 1 to"},
		{Options{Trucks: 20, Load: 1, Halls: 2}, ""},
		{Options{Trucks: 19, Load: 1, Halls: 2}, "19 trucks are too few for 2 halls: ask for 20 trucks or more"},
		{Options{Trucks: 900, Load: 1, Halls: MaxHalls + 1}, "9 halls cannot be generated: ask for 1 to 8"},
		{Options{Trucks: 9}, "a load of 0 cannot be generated: ask for 0.3 to 1.2"},
		{Options{Trucks: 9, Load: 2}, "a load of 2 cannot"},
	} {
		err := c.o.Check()
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%+v: %v, want %q", c.o, err, c.want)
		}
	}
}

// Towns differ, as long as there are enough, and so do the customers' names.
func TestTowns(t *testing.T) {
	r := Options{Seed: 1}.random(streamOrders)
	all := len(townStarts) * len(townEnds)
	list := towns(r, all+5)
	if len(list) != all+5 {
		t.Fatalf("%d towns, want %d", len(list), all+5)
	}
	seen := map[string]bool{}
	for _, town := range list[:all] {
		if seen[town] {
			t.Errorf("%s twice", town)
		}
		seen[town] = true
	}
}
