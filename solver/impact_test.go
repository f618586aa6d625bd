package solver

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// impactPlant is a house with three trucks and a plan in force. Its days lie
// around Memorial Day of 2027, Monday 31 May in the list of federal holidays of
// the US Office of Personnel Management.
const impactPlant = `
wetdown: 1
name: Skarrelholt Works
zone: America/Chicago
as_of: 2027-05-10T06:00
horizon: {from: 2027-05-10, through: 2027-07-30}
calendar: plant
calendars:
  - id: plant
    week: {mon: [07:00-15:00], tue: [07:00-15:00], wed: [07:00-15:00], thu: [07:00-15:00], fri: [07:00-15:00]}
    holidays: [us-federal]
departments:
  - {id: showroom, calendar: plant}
  - {id: quality, name: Quality, calendar: plant}
  - {id: delivery, calendar: plant}
bays:
  - {id: floor-1, kinds: [floor]}
  - {id: ready-1, kinds: [make_ready]}
  - {id: ready-2, kinds: [make_ready]}
crews:
  - {id: hosts, name: Hosts, calendar: plant, heads: 2}
route:
  - {id: ready, name: Make-ready, department: quality, hours: 4, bay: make_ready}
  - {id: show, name: Final inspection, department: showroom, length: visit, bay: floor, after: [ready], visit: final_inspection, crosses: [shift]}
  - {id: drive, name: Delivery, department: delivery, length: drive, after: [show], delivers: true, crosses: [shift, weekend]}
wishes: []
line: {calendar: plant, stations: [{id: final, takt_hours: 16}]}
buffer: {ready_work_days: 0}
customers:
  - {id: C1, name: Merrinfell Fire Department}
  - {id: C2, name: Ostragarth Fire District}
  - {id: C3, name: Brindlemere Volunteer Fire Company}
trucks:
  - {id: A1, customer: C1, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-06-02, damages_dollars_per_day: 250, damages_cap_dollars: 1000}, line: {line_off: 2027-05-07}}
  - {id: A2, customer: C2, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-06-30}, line: {line_off: 2027-05-07}}
  - {id: A3, customer: C3, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-06-30, deadline: 2027-06-30}, line: {station: final, since: 2027-05-10}}
visits:
  - {id: V1, truck: A1, kind: final_inspection, heads: 3, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}], booking: {state: confirmed, day: 2027-05-28}}
  - {id: V2, truck: A2, kind: final_inspection, heads: 2, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}], booking: {state: tentative, day: 2027-06-15}}
  - {id: V3, truck: A3, kind: final_inspection, heads: 4, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}], booking: {state: requested}}
plan:
  revision: 7
  plant: Skarrelholt Works
  status: optimal
  stages:
    - {truck: A1, stage: ready, start: 2027-05-11T07:00, end: 2027-05-11T11:00, bay: ready-1}
    - {truck: A1, stage: show, start: 2027-05-28T07:00, end: 2027-05-28T11:00, bay: floor-1}
    - {truck: A1, stage: drive, start: 2027-06-01T07:00, end: 2027-06-01T15:00}
    - {truck: A2, stage: ready, start: 2027-05-11T07:00, end: 2027-05-11T11:00, bay: ready-2}
    - {truck: A2, stage: show, start: 2027-06-15T07:00, end: 2027-06-15T11:00, bay: floor-1}
    - {truck: A2, stage: drive, start: 2027-06-16T07:00, end: 2027-06-16T15:00}
    - {truck: A3, stage: ready, start: 2027-05-13T07:00, end: 2027-05-13T11:00, bay: ready-1}
    - {truck: A3, stage: show, start: 2027-06-08T07:00, end: 2027-06-08T11:00, bay: floor-1}
    - {truck: A3, stage: drive, start: 2027-06-09T07:00, end: 2027-06-09T15:00}
  visits:
    - {visit: V1, outcome: kept, day: 2027-05-28, bay: floor-1}
    - {visit: V2, outcome: kept, day: 2027-06-15, bay: floor-1}
    - {visit: V3, outcome: placed, day: 2027-06-08, bay: floor-1}
`

func readPlant(t *testing.T, text string) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("plant.yaml", []byte(text))
	for _, f := range faults {
		t.Error(f)
	}
	if p == nil {
		t.FailNow()
	}
	return p
}

// answer changes rows of the plan in force into a new plan.
func answer(old *plant.Plan, rows map[string]string, visits map[string]plant.PlannedVisit) *plant.Plan {
	plan := *old
	plan.Stages = append([]plant.Planned(nil), old.Stages...)
	for i := range plan.Stages {
		r := &plan.Stages[i]
		to, ok := rows[r.Truck+" "+r.Stage]
		if !ok {
			continue
		}
		start, bay, _ := strings.Cut(to, " ")
		m, err := calendar.ParseMoment(start)
		if err != nil {
			panic(err)
		}
		r.Start, r.Hold, r.End = m, m, r.End+m-r.Start
		if bay != "" {
			r.Bay = bay
		}
	}
	plan.Visits = append([]plant.PlannedVisit(nil), old.Visits...)
	for i, v := range plan.Visits {
		if to, ok := visits[v.Visit]; ok {
			plan.Visits[i] = to
		}
	}
	return &plan
}

// date reads a day that a test wrote.
func date(s string) calendar.Date {
	d, err := calendar.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func TestCompare(t *testing.T) {
	before := readPlant(t, impactPlant)
	slips := []plant.Slip{
		{ID: "S1", Kind: plant.LineOffMoved, Truck: "A3", Days: 2, Cause: "wiring_harness"},
		{ID: "S2", Kind: plant.BayDown, Bay: "ready-2", Over: plant.Range{From: date("2027-05-11"), Through: date("2027-05-12")}},
		{ID: "S3", Kind: plant.StageOverran, Truck: "A1", Stage: "ready", Minutes: 90},
	}
	after, err := before.Apply(slips)
	if err != nil {
		t.Fatal(err)
	}
	plan := answer(before.Plan, map[string]string{
		"A1 show":  "2027-06-01T07:00",
		"A1 drive": "2027-06-07T07:00", // 5 days late, but damages stop at the cap of 4 days
		"A2 ready": "2027-05-11T07:00 ready-1",
		"A1 ready": "2027-05-12T07:00",
		"A3 ready": "2027-05-17T07:00",
		"A3 show":  "2027-06-30T07:00",
		"A3 drive": "2027-07-01T07:00",
	}, map[string]plant.PlannedVisit{
		"V1": {Visit: "V1", Outcome: plant.Moved, Day: date("2027-06-01"), Bay: "floor-1"},
		"V2": {Visit: "V2", Outcome: plant.Broken, Day: calendar.None},
		"V3": {Visit: "V3", Outcome: plant.Placed, Day: date("2027-06-30"), Bay: "floor-1"},
	})
	m, err := Compare(before, after, slips, plan)
	if err != nil {
		t.Fatal(err)
	}

	var got []string
	add := func(format string, args ...any) { got = append(got, fmt.Sprintf(format, args...)) }
	for _, h := range m.Happened {
		add("happened: %s", h)
	}
	for _, v := range m.Visits {
		add("visit: %s (%+d)", v.Sentence(), v.WorkDays)
	}
	for _, d := range m.Deliveries {
		add("delivery: %s", d.Sentence())
	}
	for _, d := range m.Near {
		add("near: %s", d.Sentence())
	}
	for _, c := range m.Calls {
		add("call by %s overdue %t: %s %s, %d heads: %s", c.By, c.Overdue, c.Customer, c.Visit, c.Heads, c.Because)
	}
	add("summary: %s", m.Summary())

	want := []string{
		// 16 hours of takt at the last station from 10 May: off on the 11th, and two
		// working days more is the 13th.
		"happened: A3 comes off the line on Thu 2027-05-13 instead of Tue 2027-05-11, 2 working days later. Cause: wiring harness.",
		"happened: Bay ready-2 is down, Tue 2027-05-11 through Wed 2027-05-12.",
		"happened: Make-ready of A1 needs 1 h 30 min more.",
		"visit: The final inspection visit of A2 (tentative, 2 people) cannot be held on Tue 2027-06-15, nor on another day of its windows: agree on other windows. (+0)",
		// From Friday 28 May over Memorial Day to Tuesday 1 June: one working day.
		"visit: The final inspection visit of A1 (confirmed, 3 people) moves from Fri 2027-05-28 to Tue 2027-06-01, 1 working day later. (+1)",
		// 8 June to 30 June with Juneteenth, observed on Friday the 18th (OPM): 22 days,
		// of which 16 are Mondays to Fridays and one of them is the holiday.
		"visit: The final inspection visit of A3 (requested, 4 people) moves from Tue 2027-06-08 to Wed 2027-06-30, 15 working days later. (+15)",
		"delivery: The delivery of A1 moves from Tue 2027-06-01 to Mon 2027-06-07, 4 working days later, 5 days after the contract; damages go from $0 to $1,000.",
		"delivery: The delivery of A3 moves from Wed 2027-06-09 to Thu 2027-07-01, 15 working days later, 1 day after the contract; the hard deadline on Wed 2027-06-30 is missed.",
		"near: Make-ready of A1 starts on Wed 2027-05-12 07:00 instead of Tue 2027-05-11 07:00.",
		"near: Make-ready of A2 on Tue 2027-05-11 07:00 goes to ready-1 instead of ready-2.",
		"near: Make-ready of A3 starts on Mon 2027-05-17 07:00 instead of Thu 2027-05-13 07:00.",
		// The ladder: 30 days before for a day that is held, 21 for one that is agreed.
		// 28 May - 10 is the next rung of V1's old day; 1 June - 21 comes earlier.
		`call by 2027-05-11 overdue false: Merrinfell Fire Department V1, 3 heads: the new day reaches "Day agreed, travel may be bought" on Tue 2027-05-11`,
		// 15 June - 30.
		`call by 2027-05-14 overdue false: Ostragarth Fire District V2, 2 heads: the old day reaches "Day held for the customer" on Sun 2027-05-16`,
		// A3's visit was only requested: nobody counts on it; its delivery is late.
		"call by 2027-06-30 overdue false: Brindlemere Volunteer Fire Company , 0 heads: contract delivery is on Wed 2027-06-30",
		"summary: 2 visits move (1 confirmed and 1 requested), 1 is broken (1 tentative), 2 deliveries change, damages go from $0 to $1,000.",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// A visit for which travel is bought is called about at once, and one whose new
// day has passed a rung of the ladder is overdue.
func TestCallsAtOnce(t *testing.T) {
	text := strings.Replace(impactPlant, "day: 2027-05-28}", "day: 2027-05-28, travel_bought: true}", 1)
	before := readPlant(t, text)
	slips := []plant.Slip{{ID: "S", Kind: plant.CrewAway, Crew: "hosts", Heads: 2, Over: plant.Range{From: date("2027-05-28"), Through: date("2027-05-28")}}}
	after, err := before.Apply(slips)
	if err != nil {
		t.Fatal(err)
	}
	plan := answer(before.Plan, nil, map[string]plant.PlannedVisit{
		"V1": {Visit: "V1", Outcome: plant.Broken, Day: calendar.None},
		"V2": {Visit: "V2", Outcome: plant.Moved, Day: date("2027-06-01"), Bay: "floor-1"}, // 22 days ahead, 30 are to be given
	})
	m, err := Compare(before, after, slips, plan)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range m.Calls {
		got = append(got, fmt.Sprintf("%s %s %t %s", c.Visit, c.By, c.Overdue, c.Because))
	}
	want := []string{
		`V2 2027-05-10 true the new day reaches "Day held for the customer" on Sun 2027-05-02`,
		"V1 2027-05-10 false travel is bought",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if want := "The final inspection visit of A1 (frozen, 3 people) cannot be held on Fri 2027-05-28, and the plan moves no visit for which travel is bought: agree on another day."; m.Calls[1].About != want {
		t.Errorf("about: %s", m.Calls[1].About)
	}
}

// Nothing changes when the plan stays: no lists, no calls, no money.
func TestCompareSame(t *testing.T) {
	p := readPlant(t, impactPlant)
	m, err := Compare(p, p, nil, p.Plan)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(m.Visits) + len(m.Deliveries) + len(m.Near) + len(m.Calls) + len(m.Happened); n != 0 {
		t.Errorf("%d changes: %+v", n, m)
	}
	if got, want := m.Summary(), "No visit moves, no delivery changes, damages stay at $0."; got != want {
		t.Errorf("summary: %s", got)
	}
	for _, c := range m.Tiers {
		if c.Before != c.After {
			t.Errorf("tier %s: %d, %d", c.Name, c.Before, c.After)
		}
	}
}

// The judge counts damages, days late and disturbed work on its own; what the
// impact lists must sum to the same.
func TestImpactSumsToScore(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			p := generate.Generate(generate.Options{Trucks: 12, Seed: seed, Load: 0.9, Slips: true})
			slips := p.Slips
			calm := *p
			calm.Slips = nil
			first, err := Plan(context.Background(), &calm, Options{})
			if err != nil || first.Plan == nil {
				t.Fatalf("no plan before the slips: %v, %v", err, first)
			}
			p.Plan = first.Plan
			after, err := p.Apply(slips)
			if err != nil {
				t.Fatal(err)
			}
			r, err := Replan(context.Background(), after, Options{})
			if err != nil || r.Plan == nil {
				t.Fatalf("no answer: %v, %v", err, r)
			}
			m, err := Compare(p, after, slips, r.Plan)
			if err != nil {
				t.Fatal(err)
			}
			score := func(p *plant.Plant, plan *plant.Plan) map[string]int64 {
				of := map[string]int64{}
				for _, v := range check.Score(p, plan) {
					of[v.Name] = v.Value
				}
				return of
			}
			was, is := score(p, p.Plan), score(after, r.Plan)
			if m.Damages != [2]int64{was[plant.TierDamages], is[plant.TierDamages]} {
				t.Errorf("damages %v, by the judge %d and %d", m.Damages, was[plant.TierDamages], is[plant.TierDamages])
			}
			missed, late := int64(0), int64(0)
			for _, d := range Deliveries(after, r.Plan) {
				late += int64(d.Late) * int64(after.FindTruck(d.Truck).Contract.Weight)
				if d.Missed {
					missed++
				}
			}
			if late != is[plant.TierLateness] || missed != is[plant.TierDeadlines] {
				t.Errorf("late %d, missed %d, by the judge %d and %d", late, missed, is[plant.TierLateness], is[plant.TierDeadlines])
			}
			// The plan in force has no plan before it, so that its score has waits alone;
			// scoring the new plan without one leaves its waits.
			alone := *after
			alone.Plan = nil
			shifted := int64(0)
			for _, d := range m.Near {
				if d.Shifted() {
					shifted++
				}
			}
			if got, want := shifted*int64(p.Prices.DisturbedStage), is[plant.TierCalm]-score(&alone, r.Plan)[plant.TierCalm]; got != want {
				t.Errorf("%d near stages shifted cost %d, by the judge %d", shifted, got, want)
			}
			if shifted == 0 && len(m.Visits) == 0 {
				t.Error("the slips change nothing: nothing is tested")
			}
		})
	}
}

// Amounts as people write them.
func TestDollars(t *testing.T) {
	for n, want := range map[int64]string{0: "$0", 999: "$999", 1000: "$1,000", 1234567: "$1,234,567", -12500: "-$12,500"} {
		if got := Dollars(n); got != want {
			t.Errorf("Dollars(%d) = %s, want %s", n, got, want)
		}
	}
}
