package plant

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
)

// slipPlant has a truck on the line (T1), one in test (T2) and one made ready
// for a visit (T3).
func slipPlant() *Plant {
	off := Place{Off: day("2027-02-10"), Since: calendar.None, Enters: calendar.None}
	ended := moment("2027-02-25T11:00")
	p := linePlant(
		at("T1", Light, "frame", "2027-03-01"),
		Truck{ID: "T2", Content: Medium, FlowGPM: 1500, Options: []string{"foam"}, Graphics: "stripes", Line: off,
			Done:    []Done{{"weigh", ended}, {"burnish", ended}, {"pump_test", ended}, {"foam_test", ended}},
			Running: []Running{{Stage: "low_voltage", Started: moment("2027-02-26T07:00"), Bay: "E1", RemainingMinutes: -1}}},
		Truck{ID: "T3", Content: Medium, FlowGPM: 1500, Graphics: "stripes", Line: off,
			Done: []Done{{"weigh", ended}, {"burnish", ended}, {"road_test", ended}, {"low_voltage", ended}, {"pump_test", ended},
				{"release_check", ended}, {"graphics", ended}, {"make_ready", ended}}},
	)
	p.Bays = []Bay{{ID: "P1", Kinds: []string{"pump_test"}}}
	p.Crews = []Crew{{ID: "hosts", Calendar: "plant", Size: 3,
		Days: []CrewChange{{Range{From: day("2027-03-02"), Through: day("2027-03-10")}, 2}}}}
	p.Visits = []Visit{{ID: "V3", Truck: "T3", Kind: FinalInspection, Heads: 3, Halves: 4, TravelDays: 1,
		Booking: Booking{State: Confirmed, Day: day("2027-03-02"), HoldUntil: calendar.None, TravelBought: true}}}
	return p
}

// text is everything a plant says, to compare two of them.
func text(t *testing.T, p *Plant) string {
	t.Helper()
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// state lists what is done and running of a truck.
func state(p *Plant, truck string) string {
	var s []string
	for _, d := range p.FindTruck(truck).Done {
		s = append(s, d.Stage)
	}
	for _, r := range p.FindTruck(truck).Running {
		s = append(s, fmt.Sprintf("(%s %d)", r.Stage, r.RemainingMinutes))
	}
	return strings.Join(s, " ")
}

func TestApply(t *testing.T) {
	over := func(from, through string) Range { return Range{From: day(from), Through: day(through)} }
	offOf := func(p *Plant) string {
		j, err := p.Project()
		if err != nil {
			return err.Error()
		}
		return j.LineOff("T1").String()
	}
	booking := func(p *Plant) string {
		return fmt.Sprint(p.Visits[0].Booking.State, " ", p.Visits[0].Booking.Day, " frozen ", p.Frozen(&p.Visits[0]))
	}
	hosts := func(p *Plant) string {
		var s []string
		for d := day("2027-03-01"); d <= day("2027-03-12"); d++ {
			n := 0
			for _, c := range p.Crews[0].Days {
				if c.Contains(d) {
					n++
				}
			}
			if n > 1 {
				return fmt.Sprintf("%d changes on %s", n, d)
			}
			s = append(s, fmt.Sprint(p.Crews[0].SizeOn(d)))
		}
		return strings.Join(s, "")
	}
	for _, c := range []struct {
		name  string
		slip  Slip
		what  func(*Plant) string
		was   string
		wants string
	}{
		{"line-off later over a weekend", Slip{Kind: LineOffMoved, Truck: "T1", Days: 4, Known: calendar.None}, offOf, "2027-03-02", "2027-03-08"},
		{"line-off earlier", Slip{Kind: LineOffMoved, Truck: "T1", Days: -1, Known: calendar.None}, offOf, "2027-03-02", "2027-03-01"},
		{"line-off earlier, not before now", Slip{Kind: LineOffMoved, Truck: "T1", Days: -3, Known: calendar.None}, offOf, "2027-03-02", "2027-03-01"},
		{"a running stage overran: 300 minutes less 480 on Friday are past, 1 is left",
			Slip{Kind: StageOverran, Truck: "T2", Stage: "low_voltage", Minutes: 60},
			func(p *Plant) string { return state(p, "T2") },
			"weigh burnish pump_test foam_test (low_voltage -1)", "weigh burnish pump_test foam_test (low_voltage 61)"},
		{"a coming stage overran: 3 h of road test and half an hour",
			Slip{Kind: StageOverran, Truck: "T2", Stage: "road_test", Minutes: 30},
			func(p *Plant) string { return fmt.Sprint(p.StageMinutes(p.FindTruck("T2"), p.FindStage("road_test"))) },
			"180", "210"},
		{"a failed test takes the tests that lean on it along",
			Slip{Kind: TestFailed, Truck: "T2", Stage: "pump_test"},
			func(p *Plant) string { return state(p, "T2") },
			"weigh burnish pump_test foam_test (low_voltage -1)", "weigh burnish (low_voltage -1)"},
		{"a running test fails",
			Slip{Kind: TestFailed, Truck: "T2", Stage: "low_voltage"},
			func(p *Plant) string { return state(p, "T2") },
			"weigh burnish pump_test foam_test (low_voltage -1)", "weigh burnish pump_test foam_test"},
		{"stripes stay when the road test fails, make-ready does not",
			Slip{Kind: TestFailed, Truck: "T3", Stage: "road_test"},
			func(p *Plant) string { return state(p, "T3") },
			"weigh burnish road_test low_voltage pump_test release_check graphics make_ready", "weigh burnish low_voltage pump_test graphics"},
		{"bay down", Slip{Kind: BayDown, Bay: "P1", Over: over("2027-03-03", "2027-03-04"), Cause: "pit drained"},
			func(p *Plant) string { return fmt.Sprint(p.Bays[0].Closures) }, "[]", "[{2027-03-03 2027-03-04 pit drained}]"},
		{"a host away, over the edge of a change", Slip{Kind: CrewAway, Crew: "hosts", Heads: 1, Over: over("2027-03-09", "2027-03-11")},
			hosts, "322222222233", "322222221123"},
		{"a host away inside a change", Slip{Kind: CrewAway, Crew: "hosts", Heads: 1, Over: over("2027-03-04", "2027-03-05")},
			hosts, "322222222233", "322112222233"},
		{"more away than there are", Slip{Kind: CrewAway, Crew: "hosts", Heads: 9, Over: over("2027-03-01", "2027-03-02")},
			hosts, "322222222233", "002222222233"},
		{"the customer cannot come on the second day", Slip{Kind: CustomerMoves, Visit: "V3", Over: over("2027-03-03", "2027-03-03")},
			booking, "confirmed 2027-03-02 frozen true", "tentative 2027-03-02 frozen false"},
		{"nor travel home on the day after", Slip{Kind: CustomerMoves, Visit: "V3", Over: over("2027-03-04", "2027-03-05")},
			booking, "confirmed 2027-03-02 frozen true", "tentative 2027-03-02 frozen false"},
		{"days after that do not touch the booking", Slip{Kind: CustomerMoves, Visit: "V3", Over: over("2027-03-05", "2027-03-05")},
			func(p *Plant) string { return booking(p) + fmt.Sprint(len(p.Visits[0].Blackouts)) },
			"confirmed 2027-03-02 frozen true0", "confirmed 2027-03-02 frozen true1"},
		{"make-ready does not keep until the customer comes again", Slip{Kind: CustomerMoves, Visit: "V3", Over: over("2027-03-02", "2027-03-02")},
			func(p *Plant) string { return state(p, "T3") },
			"weigh burnish road_test low_voltage pump_test release_check graphics make_ready", "weigh burnish road_test low_voltage pump_test release_check graphics"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := slipPlant()
			p.Slips = []Slip{{ID: "S0", Kind: BayDown, Bay: "P1", Over: over("2027-03-01", "2027-03-01")}, c.slip}
			before := text(t, p)
			if got := c.what(p); got != c.was {
				t.Fatalf("before: %s, want %s", got, c.was)
			}
			q, err := p.Apply([]Slip{c.slip})
			if err != nil {
				t.Fatal(err)
			}
			if got := c.what(q); got != c.wants {
				t.Errorf("after: %s, want %s", got, c.wants)
			}
			if len(q.Slips) != 1 || q.Slips[0].ID != "S0" {
				t.Errorf("slips left: %v, want S0 alone", q.Slips)
			}
			if text(t, p) != before {
				t.Error("the plant that slipped was changed")
			}
		})
	}
}

// A truck leaves a bay that goes down while it stands ready in it: from now until the end of
// what it stands for, be that by its booking or by the plan in force.
func TestApply_StandsInBayDown(t *testing.T) {
	for _, c := range []struct {
		bay, from, through, planned string
		stays                       bool
	}{
		{"F1", "2027-03-01", "2027-03-01", "", false}, // today
		{"F1", "2027-03-02", "2027-03-03", "", false}, // the day of its visit
		{"F1", "2027-03-03", "2027-03-03", "", true},  // after it
		{"F1", "2027-03-03", "2027-03-03", "2027-03-03T15:30", false},
		{"F1", "2027-02-25", "2027-02-26", "", true}, // over
		{"P1", "2027-03-01", "2027-03-05", "", true}, // another bay
	} {
		p := slipPlant()
		p.Bays = append(p.Bays, Bay{ID: "F1", Kinds: []string{"floor"}})
		p.Route = append(slices.Clone(p.Route), Stage{ID: "shown", Visit: FinalInspection, Bay: "floor", HoldBefore: 1})
		stands := Standing{"shown", "F1"}
		p.FindTruck("T3").Standing = stands
		if c.planned != "" {
			p.Plan = &Plan{Stages: []Planned{{Truck: "T3", Stage: "shown", Bay: "F1", End: moment(c.planned)}}}
		}
		q, err := p.Apply([]Slip{{ID: "S1", Kind: BayDown, Bay: c.bay, Over: Range{From: day(c.from), Through: day(c.through)}}})
		if err != nil {
			t.Fatal(err)
		}
		if got := q.FindTruck("T3").Standing; (got == stands) != c.stays || !c.stays && got != (Standing{}) {
			t.Errorf("%s down from %s through %s: it stands for %q in %q", c.bay, c.from, c.through, got.Stage, got.Bay)
		}
		if p.FindTruck("T3").Standing != stands {
			t.Error("the plant that slipped was changed")
		}
	}
}

// A slip after another sees what the first did.
func TestApplyInOrder(t *testing.T) {
	p := slipPlant()
	slips := []Slip{
		{ID: "A", Kind: LineOffMoved, Truck: "T1", Days: 2, Known: day("2027-03-01")},
		{ID: "B", Kind: LineOffMoved, Truck: "T1", Days: 1, Known: day("2027-02-26")}, // known earlier, said later
		{ID: "C", Kind: StageOverran, Truck: "T2", Stage: "road_test", Minutes: 30},
		{ID: "D", Kind: StageOverran, Truck: "T2", Stage: "road_test", Minutes: 15},
	}
	q, err := p.Apply(slips)
	if err != nil {
		t.Fatal(err)
	}
	j, err := q.Project()
	if err != nil {
		t.Fatal(err)
	}
	if got := j.LineOff("T1").String(); got != "2027-03-05" {
		t.Errorf("2 and 1 days after 2027-03-02: %s, want 2027-03-05", got)
	}
	if got := q.StageMinutes(q.FindTruck("T2"), q.FindStage("road_test")); got != 225 {
		t.Errorf("road test %d minutes, want 180 + 30 + 15", got)
	}
	if p.FindTruck("T1").Line.Overrides != nil || p.FindTruck("T2").Overruns != nil {
		t.Error("the plant that slipped was changed")
	}
}

func TestApplyRefuses(t *testing.T) {
	days := Range{From: day("2027-03-01"), Through: day("2027-03-02")}
	for _, c := range []struct {
		slip Slip
		want string
	}{
		{Slip{ID: "S1", Kind: "fire"}, `slip S1 (fire): "fire" is no kind of slip: use line_off_moved,`},
		{Slip{Kind: LineOffMoved, Truck: "T9", Days: 1}, `slip number 1 (line_off_moved): there is no truck "T9": give`},
		{Slip{Kind: LineOffMoved, Truck: "T2", Days: 1}, "off the line since 2027-02-10: say which stage overran instead"},
		{Slip{Kind: LineOffMoved, Truck: "T1"}, "moves by no days: give"},
		{Slip{Kind: LineOffMoved, Truck: "T1", Days: 90000}, "give fewer days"},
		{Slip{Kind: StageOverran, Truck: "T2", Stage: "magic", Minutes: 1}, `no stage "magic": name one`},
		{Slip{Kind: StageOverran, Truck: "T2", Stage: "aerial_test", Minutes: 1}, "not on the route of truck T2: name one"},
		{Slip{Kind: StageOverran, Truck: "T2", Stage: "road_test"}, "overran by no minutes: give"},
		{Slip{Kind: StageOverran, Truck: "T2", Stage: "pump_test", Minutes: 9}, "is done: if it must be repeated, say test_failed"},
		{Slip{Kind: StageOverran, Truck: "T2", Stage: "delivery", Minutes: 9}, "no minutes of its own to overrun: change"},
		{Slip{Kind: TestFailed, Truck: "T2", Stage: "road_test"}, "neither done nor running: say stage_overran"},
		{Slip{Kind: TestFailed, Truck: "T3", Stage: "final_inspection"}, "is a visit, which cannot fail: add"},
		{Slip{Kind: BayDown, Bay: "P9", Over: days}, `no bay "P9": name one`},
		{Slip{Kind: BayDown, Bay: "P1", Over: Range{From: 2, Through: 1}}, "give a first day and a last day not before it"},
		{Slip{Kind: BayDown, Bay: "P1", Over: Range{From: 0, Through: 20000}}, "give a nearer last day"},
		{Slip{Kind: CrewAway, Crew: "ghosts", Heads: 1, Over: days}, `no crew "ghosts": name one`},
		{Slip{Kind: CrewAway, Crew: "hosts", Over: days}, "say how many, at least 1"},
		{Slip{Kind: CustomerMoves, Visit: "V9", Over: days}, `no visit "V9": name one`},
		{Slip{Kind: CustomerMoves, Visit: "V3", Over: Range{From: calendar.None, Through: 1}}, "give a first day"},
	} {
		p := slipPlant()
		before := text(t, p)
		if q, err := p.Apply([]Slip{c.slip}); err == nil || q != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want an error with %q", c.slip, err, c.want)
		}
		if text(t, p) != before {
			t.Errorf("%+v: the plant was changed", c.slip)
		}
	}
	p := slipPlant()
	p.Visits[0].Booking.State = Held
	_, err := p.Apply([]Slip{{Kind: CustomerMoves, Visit: "V3", Over: days}, {Kind: "fire"}})
	if err == nil || !strings.Contains(err.Error(), "visit V3 is done: only") || !strings.Contains(err.Error(), "slip number 2 (fire)") {
		t.Errorf("two faults: got %v, want both", err)
	}
}

// The remaining minutes of running work, by hand: 300 minutes of test from Friday
// 13:00 do 150 by 15:30, so 150 are left on Monday at 06:00.
func TestRemaining(t *testing.T) {
	p := slipPlant()
	p.Trucks[1].Running[0].Started = moment("2027-02-26T13:00")
	q, err := p.Apply([]Slip{{Kind: StageOverran, Truck: "T2", Stage: "low_voltage", Minutes: 45}})
	if err != nil {
		t.Fatal(err)
	}
	if got := q.Trucks[1].Running[0].RemainingMinutes; got != 195 {
		t.Errorf("remaining %d, want 150 + 45", got)
	}
}
