package solver

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestDisplaced_Checks checks every link of generated plants with slips against the two
// plans, minute by minute: who is where is looked up in the rows alone.
func TestDisplaced_Checks(t *testing.T) {
	bays, crews, long, first := 0, 0, 0, 0
	for _, o := range []generate.Options{
		{Trucks: 5, Seed: 2, Load: 1.1, Slips: true}, {Trucks: 8, Seed: 4, Load: 1.1, Slips: true}, {Trucks: 16, Seed: 5, Load: 1.1, Slips: true},
		{Trucks: 20, Seed: 3, Load: 1.1, Slips: true}, {Trucks: 20, Seed: 6, Load: 1.1, Slips: true},
		{Trucks: 20, Seed: 4, Load: 1.1, Slips: true}, {Trucks: 24, Seed: 4, Load: 1.1, Slips: true}, {Trucks: 24, Seed: 12, Load: 1.1, Slips: true},
		{Trucks: 30, Seed: 1, Load: 1.1, Slips: true}, {Trucks: 30, Seed: 2, Load: 1.1, Slips: true},
	} {
		p := generate.Generate(o)
		slips := p.Slips
		p.Slips = nil
		p.Plan = optimal(t, p).Plan
		after, err := p.Apply(slips)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Replan(context.Background(), after, Options{})
		if err != nil || r.Plan == nil {
			t.Fatalf("%v, %v", r, err)
		}
		m, err := Compare(p, after, slips, r.Plan)
		if err != nil {
			t.Fatal(err)
		}
		step := map[string]int{"": 0}
		for _, s := range slips {
			step[s.Truck], step[visited(after, s.Visit)] = 0, 0
		}
		for _, id := range m.Apart {
			step[id] = 0
		}
		for _, d := range m.Displaced {
			if was, ok := step[d.By]; !ok || d.Step != was+1 || d.By == d.Truck {
				t.Errorf("%+v: step %d, nothing leads to %q (%v)", o, d.Step, d.By, d.Sentence())
			}
			if _, again := step[d.Truck]; !again {
				step[d.Truck] = d.Step
			} else if s := after.FindStage(d.Stage); s == nil || s.Visit == "" {
				t.Errorf("%+v: %s is told twice, and not of its visit: %s", o, d.Truck, d.Sentence())
			}
			if d.Step > 1 {
				long++
			}
			if d.By == "" {
				first++
			}
			old, now := rowOf(p.Plan, d.Truck, d.Stage), rowOf(r.Plan, d.Truck, d.Stage)
			if old == nil || now != nil && now.Start == old.Start && now.Bay == old.Bay || d.From != old.Start || (d.To == calendar.NoMoment) != (now == nil) || now != nil && d.To != now.Start {
				t.Errorf("%+v: %s: the row was %+v and is %+v", o, d.Sentence(), old, now)
				continue
			}
			if d.Bay != "" {
				bays++
				checkBay(t, p, after, r.Plan, d, old)
			} else {
				crews++
				checkCrew(t, p, after, r.Plan, d)
			}
		}
		for id := range m.told() {
			if _, ok := step[id]; !ok {
				t.Errorf("%+v: nothing is said of how %s came to move", o, id)
			}
		}
	}
	t.Log(bays, "links by a bay,", crews, "by a crew,", first, "by what is down or away,", long, "of a second step or later")
	if bays < 5 || crews < 3 || long < 3 || first < 3 {
		t.Error("this tests too little")
	}
}

func rowOf(plan *plant.Plan, truck, stage string) *plant.Planned {
	for i := range plan.Stages {
		if r := &plan.Stages[i]; r.Truck == truck && r.Stage == stage {
			return r
		}
	}
	return nil
}

// halfDay is the part of the day of a moment: trucks hold bays for whole parts.
func halfDay(p *plant.Plant, m calendar.Moment) [2]int {
	part := 0
	for n, x := range p.Parts {
		if n > 0 && m.Clock() >= x.From {
			part = n
		}
	}
	return [2]int{int(m.Date()), part}
}

// holds reports whether a row is in the bay in the part of the day of m.
func holds(p *plant.Plant, r *plant.Planned, bay string, m calendar.Moment) bool {
	if r == nil || r.Bay != bay {
		return false
	}
	from, at, to := halfDay(p, r.Hold), halfDay(p, m), halfDay(p, r.End-1)
	return slices.Compare(from[:], at[:]) <= 0 && slices.Compare(at[:], to[:]) <= 0
}

func checkBay(t *testing.T, before, after *plant.Plant, plan *plant.Plan, d Displacement, old *plant.Planned) {
	if !holds(after, old, d.Bay, d.At) {
		t.Errorf("%s: %+v was not there", d.Sentence(), old)
	}
	if d.By == "" {
		down := func(p *plant.Plant) bool {
			return slices.ContainsFunc(p.FindBay(d.Bay).Closures, func(r plant.Range) bool { return r.Contains(d.At.Date()) })
		}
		if !down(after) || down(before) {
			t.Errorf("%s: it is not", d.Sentence())
		}
		return
	}
	if by := rowOf(plan, d.By, d.ByStage); !holds(after, by, d.Bay, d.At) {
		t.Errorf("%s: %+v is not there", d.Sentence(), by)
	}
	if was := rowOf(before.Plan, d.By, d.ByStage); holds(after, was, d.Bay, d.At) {
		t.Errorf("%s: %+v was there already", d.Sentence(), was)
	}
}

// checkCrew counts heads on the day, in the part of the day, that a link names.
func checkCrew(t *testing.T, before, after *plant.Plant, plan *plant.Plan, d Displacement) {
	var crew *plant.Crew
	for i := range after.Crews {
		if c := &after.Crews[i]; c.Name == d.Crew || c.ID == d.Crew {
			crew = c
		}
	}
	heads := func(r *plant.Planned) int {
		if r == nil {
			return 0
		}
		needs := []plant.Need(nil)
		if s := after.FindStage(r.Stage); s != nil {
			needs = s.Crews
		} else if _, wish, ok := strings.Cut(r.Stage, "."); ok {
			needs = after.FindWish(wish).Crews
		}
		from, at, to := halfDay(after, r.Start), halfDay(after, d.At), halfDay(after, r.End-1)
		if slices.Compare(from[:], at[:]) > 0 || slices.Compare(at[:], to[:]) > 0 {
			return 0
		}
		for _, n := range needs {
			if n.Crew == crew.ID {
				return n.Heads
			}
		}
		return 0
	}
	sum := heads(rowOf(before.Plan, d.Truck, d.Stage))
	if sum == 0 {
		t.Errorf("%s: it was not to have them", d.Sentence())
	}
	for i := range plan.Stages {
		if r := &plan.Stages[i]; r.Truck != d.Truck || r.Stage != d.Stage {
			sum += heads(r)
		}
	}
	if have := crew.SizeOn(d.At.Date()); sum <= have {
		t.Errorf("%s: %d needed of %d", d.Sentence(), sum, have)
	}
	if d.By == "" {
		if was := before.FindCrew(crew.ID).SizeOn(d.At.Date()); was <= crew.SizeOn(d.At.Date()) {
			t.Errorf("%s: as many as before are there", d.Sentence())
		}
	} else if heads(rowOf(plan, d.By, d.ByStage)) == 0 || heads(rowOf(before.Plan, d.By, d.ByStage)) > 0 {
		t.Errorf("%s: it has none, or had them already", d.Sentence())
	}
}

// TestImpact_Chain reads all that Compare says of a chain by hand in the house of
// impact_test.go: A3 comes late and takes the floor of A2, which takes that of A1.
// UPDATE=1 writes the sentences anew.
func TestImpact_Chain(t *testing.T) {
	p := readPlant(t, impactPlant)
	day := func(m int, d int) calendar.Date { return calendar.NewDate(2027, time.Month(m), d) }
	slips := []plant.Slip{
		{ID: "S1", Kind: plant.LineOffMoved, Truck: "A3", Days: 2, Known: p.AsOf.Date(), Over: plant.Range{From: calendar.None, Through: calendar.None}},
		{ID: "S2", Kind: plant.BayDown, Bay: "ready-2", Over: plant.Range{From: day(5, 11), Through: day(5, 11)}, Known: p.AsOf.Date()},
	}
	after, err := p.Apply(slips)
	if err != nil {
		t.Fatal(err)
	}
	plan := answer(p.Plan, map[string]string{
		"A3 show": "2027-06-15T07:00", "A3 drive": "2027-06-16T07:00", // where A2 was
		"A2 ready": "2027-05-12T07:00 ready-1", "A2 show": "2027-05-28T07:00", "A2 drive": "2027-06-01T07:00", // where A1 was
		"A1 show": "2027-06-04T07:00", "A1 drive": "2027-06-07T07:00",
	}, map[string]plant.PlannedVisit{
		"V1": {Visit: "V1", Outcome: plant.Moved, Day: day(6, 4), Bay: "floor-1"},
		"V2": {Visit: "V2", Outcome: plant.Moved, Day: day(5, 28), Bay: "floor-1"},
		"V3": {Visit: "V3", Outcome: plant.Placed, Day: day(6, 15), Bay: "floor-1"},
	})
	m, err := Compare(p, after, slips, plan)
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	fmt.Fprintln(&got, m.Summary())
	for _, h := range m.Happened {
		fmt.Fprintln(&got, "happened:", h)
	}
	for _, v := range m.Visits {
		fmt.Fprintln(&got, "visit:", v.Sentence())
	}
	for _, d := range m.Deliveries {
		fmt.Fprintln(&got, "delivery:", d.Sentence())
	}
	for _, d := range m.Near {
		fmt.Fprintln(&got, "near:", d.Sentence())
	}
	for _, d := range m.Displaced {
		fmt.Fprintf(&got, "displaced, step %d: %s\n", d.Step, d.Sentence())
	}
	fmt.Fprintln(&got, "apart:", m.Apart)
	for _, c := range m.Calls {
		fmt.Fprintf(&got, "call by %s (overdue %v), %s: %s Because %s.\n", say(c.By), c.Overdue, c.Customer, c.About, c.Because)
	}
	compareGolden(t, "testdata/chain.golden", got.String())
}

// compareGolden compares with a file; UPDATE=1 writes it.
func compareGolden(t *testing.T, file, got string) {
	t.Helper()
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the sentences have changed; look at the difference and run UPDATE=1 go test:\n%s", got)
	}
}
