package check_test

import (
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// TestRules compares the list of rules with the files that the rules stand in:
// one file of cases for each is asked for by TestRefused.
func TestRules(t *testing.T) {
	want := []string{
		"complete", "release", "hours", "crossing", "route", "place", "bay", "able", "closed", "crew",
		"customer", "floor", "readiness", "started", "standing", "frozen", "notice", "declared", "wish", "horizon",
	}
	var got []string
	for _, r := range check.Rules {
		got = append(got, r.Name)
		if !strings.HasSuffix(r.Sentence, ".") {
			t.Errorf("rule %s: %q is no sentence", r.Name, r.Sentence)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// running returns the running work of the small plant.
func running(p *plant.Plant) *plant.Running { return &p.FindTruck("W-201").Running[0] }

// TestCases judges plans that no plant file can hold, and plans near to a broken
// rule that are right: want lists the rules broken, none for a right plan.
func TestCases(t *testing.T) {
	for _, c := range []struct {
		name   string
		want   string
		change func(*testing.T, *plant.Plant)
	}{
		// What a plant file cannot say.
		{"a truck that the plant does not have", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-999", Stage: "weigh", Start: p.AsOf, End: p.AsOf + 60, Bay: "scale"})
		}},
		{"a stage that the route does not have", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-204", Stage: "polish"})
		}},
		{"a wish that the plant does not have", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-204", Stage: "final_inspection.climb"})
		}},
		{"a wish of a stage that the route does not have", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-204", Stage: "polish.drive"})
		}},
		{"a wish of a stage that is no visit", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-204", Stage: "weigh.drive"})
		}},
		{"a wish that the truck has no features for", "complete", func(t *testing.T, p *plant.Plant) {
			p.FindVisit("V-204").Wishes = []string{"drive", "pump"}
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-204", Stage: "final_inspection.pump", Hold: moment(t, "2027-03-24T06:00"), Start: moment(t, "2027-03-24T06:00"), End: moment(t, "2027-03-24T07:30"), Bay: "pit_1"})
		}},
		{"a wish that the truck has no features for, left out", "", func(t *testing.T, p *plant.Plant) {
			p.FindVisit("V-204").Wishes = []string{"drive", "pump"}
		}},
		{"a stage twice", "complete", func(t *testing.T, p *plant.Plant) {
			p.Plan.Stages = append(p.Plan.Stages, *stage(t, p.Plan, "W-203", "papers"))
		}},
		{"a visit twice", "declared", func(t *testing.T, p *plant.Plant) {
			p.Plan.Visits = append(p.Plan.Visits, p.Plan.Visits[2])
		}},
		{"a visit that the plant does not have", "declared", func(t *testing.T, p *plant.Plant) {
			p.Plan.Visits = append(p.Plan.Visits, plant.PlannedVisit{Visit: "V-999", Outcome: plant.Broken, Day: calendar.None})
		}},
		{"a bay that the plant does not have", "able", func(t *testing.T, p *plant.Plant) {
			stage(t, p.Plan, "W-202", "weigh").Bay = "scale_2"
		}},
		{"a crew that the plant does not have", "crew", func(t *testing.T, p *plant.Plant) {
			p.FindStage("touch_up").Crews[0].Crew = "nobody"
		}},
		{"an end before the start", "hours", func(t *testing.T, p *plant.Plant) {
			r := stage(t, p.Plan, "W-201", "papers")
			r.End = r.Start - 60
		}},
		{"no moments at all", "horizon hours release", func(t *testing.T, p *plant.Plant) {
			r := stage(t, p.Plan, "W-203", "corrections")
			r.Hold, r.Start, r.End = calendar.NoMoment, calendar.NoMoment, calendar.NoMoment
		}},
		{"before the horizon", "horizon", func(t *testing.T, p *plant.Plant) {
			p.Horizon.From = date(t, "2027-03-05")
		}},
		{"a wish that works on the next day, inside the visit", "", func(t *testing.T, p *plant.Plant) {
			p.FindVisit("V-202").Wishes = []string{"pump"}
			p.FindWish("pump").Minutes = 11 * 60
			p.FindVisit("V-201").Wishes = []string{"drive"}
			drop(t, p.Plan, "W-201", "final_inspection.pump")
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-202", Stage: "final_inspection.pump", Hold: moment(t, "2027-03-23T07:00"), Start: moment(t, "2027-03-23T07:00"), End: moment(t, "2027-03-24T08:00"), Bay: "pit_1"})
		}},
		{"a wish that goes on when the visit is over, in the same part of the day", "wish", func(t *testing.T, p *plant.Plant) {
			p.FindWish("pump").Minutes = 270
			for i := range p.Plan.Stages {
				if r := &p.Plan.Stages[i]; r.Truck == "W-201" && r.Stage == "final_inspection.pump" {
					r.End = moment(t, "2027-03-09T16:00")
				}
			}
		}},

		{"work that is not over when the calendars end", "hours", func(t *testing.T, p *plant.Plant) {
			p.FindTruck("W-205").Overruns = []plant.Overrun{{Stage: "corrections", Minutes: 10000 * 60}}
		}},
		{"a visit that is not over when the calendars end", "hours", func(t *testing.T, p *plant.Plant) { p.FindVisit("V-204").Halves = 1000 }},
		{"a road without end", "hours", func(t *testing.T, p *plant.Plant) { p.FindCustomer("dry_tanks").Miles = 100000 }},
		{"running work that is not over when the calendars end", "started", func(t *testing.T, p *plant.Plant) { running(p).RemainingMinutes = 10000 * 60 }},
		{"a line-up that would begin before all work", "hours", func(t *testing.T, p *plant.Plant) { p.FindStage("touch_up").HoldBefore = 10000 }},
		{"a station that the truck has left", "release", func(t *testing.T, p *plant.Plant) {
			p.FindTruck("W-205").Line = plant.Place{Station: "paint", Since: p.AsOf.Date(), Off: calendar.None, Enters: calendar.None}
		}},

		// So is the place of a truck that stands lined up.
		{"a truck stands ready for its visit", "", visitWaits},
		{"nobody says that it stands there", "horizon release", func(t *testing.T, p *plant.Plant) {
			visitWaits(t, p)
			p.FindTruck("W-201").Standing = plant.Standing{}
		}},
		{"it stands there, and its visit began before now", "horizon release", func(t *testing.T, p *plant.Plant) {
			visitWaits(t, p)
			p.AsOf, p.Horizon.From = moment(t, "2027-03-10T06:00"), date(t, "2027-03-10")
		}},
		{"its bay was closed until yesterday", "", func(t *testing.T, p *plant.Plant) {
			visitWaits(t, p)
			p.FindBay("floor_1").Closures = []plant.Range{{From: date(t, "2027-03-07"), Through: date(t, "2027-03-08")}}
		}},
		{"its bay closes today", "closed", func(t *testing.T, p *plant.Plant) {
			visitWaits(t, p)
			p.FindBay("floor_1").Closures = []plant.Range{{From: date(t, "2027-03-09"), Through: date(t, "2027-03-09")}}
		}},
		{"it stands ready elsewhere", "standing", func(t *testing.T, p *plant.Plant) {
			visitWaits(t, p)
			p.FindTruck("W-201").Standing.Bay = "floor_2"
		}},

		// Running work is history.
		{"nobody is left to run on with", "", func(t *testing.T, p *plant.Plant) {
			p.FindCrew("artists").Days = []plant.CrewChange{{Range: plant.Range{From: p.AsOf.Date(), Through: p.AsOf.Date()}, Size: 0}}
		}},
		{"running work takes the head that other work needs", "crew", func(t *testing.T, p *plant.Plant) {
			p.FindCrew("artists").Size = 1
			running(p).RemainingMinutes = 28 * 60 // 11 h 30 min on Wednesday, 16 h on Thursday, half an hour on Friday
			stage(t, p.Plan, "W-201", "graphics").End = moment(t, "2027-03-05T06:30")
			r := stage(t, p.Plan, "W-201", "make_ready")
			r.Hold, r.Start, r.End = moment(t, "2027-03-08T07:00"), moment(t, "2027-03-08T07:00"), moment(t, "2027-03-08T15:30")
			p.FindStage("final_inspection").HoldBefore = 0
			for _, truck := range []string{"W-201", "W-202", "W-203", "W-204"} {
				r := stage(t, p.Plan, truck, "final_inspection")
				r.Hold = r.Start
			}
		}},
		{"the bay of running work closes", "", func(t *testing.T, p *plant.Plant) {
			p.FindBay("graphics_1").Closures = []plant.Range{{From: date(t, "2027-03-02"), Through: date(t, "2027-03-03")}}
		}},
		{"running work stands in a bay that is too short", "", func(t *testing.T, p *plant.Plant) {
			p.FindTruck("W-201").HeightFt = 11
			running(p).Bay = "graphics_2"
			stage(t, p.Plan, "W-201", "graphics").Bay = "graphics_2"
		}},
		{"running work began in the middle of a shift, by night, on a Sunday", "", func(t *testing.T, p *plant.Plant) {
			running(p).Started = moment(t, "2027-02-28T23:47")
			r := stage(t, p.Plan, "W-201", "graphics")
			r.Hold, r.Start = running(p).Started, running(p).Started
		}},
		{"running work that nobody knows the rest of ends by its estimate", "", func(t *testing.T, p *plant.Plant) {
			running(p).RemainingMinutes = -1 // 24 hours from Tuesday 06:00: 16 on Tuesday, 8 on Wednesday with half an hour off
			stage(t, p.Plan, "W-201", "graphics").End = moment(t, "2027-03-03T14:30")
		}},
		{"running work beyond its estimate ends a minute from now", "", func(t *testing.T, p *plant.Plant) {
			running(p).RemainingMinutes = -1
			running(p).Started = moment(t, "2027-02-22T06:00")
			r := stage(t, p.Plan, "W-201", "graphics")
			r.Hold, r.Start, r.End = running(p).Started, running(p).Started, moment(t, "2027-03-03T11:01")
		}},
		{"the foam test before running graphics is repeated after it", "", func(t *testing.T, p *plant.Plant) {
			tr := p.FindTruck("W-201")
			tr.Done = tr.Done[:2]
			at := moment(t, "2027-03-04T06:00")
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-201", Stage: "foam_test", Hold: at, Start: at, End: at + 90, Bay: "pit_1"})
		}},
		{"the same, with a buffer of three days", "readiness", func(t *testing.T, p *plant.Plant) {
			tr := p.FindTruck("W-201")
			tr.Done = tr.Done[:2]
			at := moment(t, "2027-03-04T06:00")
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-201", Stage: "foam_test", Hold: at, Start: at, End: at + 90, Bay: "pit_1"})
			p.Buffer.ReadyWorkDays = 3
		}},
		{"a visit under way is broken", "complete declared", func(t *testing.T, p *plant.Plant) {
			visitRuns(t, p)
			drop(t, p.Plan, "W-201", "final_inspection")
		}},
		{"a visit under way", "", visitRuns},
		{"a visit under way whose wish has been met", "", func(t *testing.T, p *plant.Plant) {
			visitRuns(t, p)
			drop(t, p.Plan, "W-201", "final_inspection.pump")
		}},
		{"a visit under way whose wish comes when it is over", "wish", func(t *testing.T, p *plant.Plant) {
			visitRuns(t, p)
			r := stage(t, p.Plan, "W-201", "final_inspection.pump")
			r.Hold, r.Start, r.End = moment(t, "2027-03-11T11:30"), moment(t, "2027-03-11T11:30"), moment(t, "2027-03-11T13:00")
		}},

		// What is done.
		{"a visit that took place is no visit to plan any more", "", visitHeld},
		{"corrections in the part of the day in which the visit ended", "route", func(t *testing.T, p *plant.Plant) {
			visitHeld(t, p)
			p.FindTruck("W-201").Done[4].Ended = moment(t, "2027-03-10T11:00")
		}},
		{"corrections in the part of the day after that in which the visit ended", "", func(t *testing.T, p *plant.Plant) {
			visitHeld(t, p)
			p.FindTruck("W-201").Done[4].Ended = moment(t, "2027-03-09T15:30")
		}},

		// Numbers that are just enough.
		{"the least buffer that holds", "", func(t *testing.T, p *plant.Plant) { p.Buffer.ReadyWorkDays = 6 }},
		{"the most notice that holds", "", func(t *testing.T, p *plant.Plant) { p.Buffer.NoticeDays = 15 }},
		{"the last end that lies within the horizon", "", func(t *testing.T, p *plant.Plant) { p.Horizon.Through = date(t, "2027-04-16") }},
		{"the longest wait that is asked", "", func(t *testing.T, p *plant.Plant) {
			p.FindStage("papers").After[0].MaxElapsedMinutes = 92 * 60
		}},
		{"the pump test of W-205 is as strong as its pit", "", func(t *testing.T, p *plant.Plant) { p.FindBay("pit_2").MaxFlowGPM = 1250 }},
		{"a later change of a crew counts, not an earlier one", "", func(t *testing.T, p *plant.Plant) {
			days := plant.Range{From: date(t, "2027-03-24"), Through: date(t, "2027-03-24")}
			p.FindCrew("hosts").Days = []plant.CrewChange{{Range: days, Size: 0}, {Range: days, Size: 2}}
		}},

		// Work until midnight.
		{"work until midnight leaves the next day alone", "", func(t *testing.T, p *plant.Plant) { untilMidnight(t, p, "2027-03-12") }},
		{"work until midnight on a closed day", "closed", func(t *testing.T, p *plant.Plant) { untilMidnight(t, p, "2027-03-11") }},

		// Customers.
		{"the weekly rest of the customer is no hindrance", "", func(t *testing.T, p *plant.Plant) { p.FindVisit("V-203").TravelDays = 5 }},
		{"a blackout touches the days of travel", "customer", func(t *testing.T, p *plant.Plant) { p.FindVisit("V-202").TravelDays = 2 }},
		{"a holiday of the customer on the day of travel", "customer", func(t *testing.T, p *plant.Plant) {
			p.FindVisit("V-202").Blackouts = nil
			p.FindVisit("V-202").TravelDays = 2 // through 26 March, Good Friday: Easter is on 28 March 2027
		}},
		{"a customer without that holiday", "", func(t *testing.T, p *plant.Plant) {
			p.FindVisit("V-202").Blackouts = nil
			p.FindVisit("V-202").TravelDays = 2
			p.FindCustomer("birch_narrows").Calendar = "us"
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := right(t)
			c.change(t, p)
			v := check.Plan(p, p.Plan)
			got, want := map[string]bool{}, map[string]bool{}
			for _, rule := range strings.Fields(c.want) {
				want[rule] = true
			}
			for _, b := range v.Broken {
				got[b.Rule] = true
				if !want[b.Rule] {
					t.Errorf("breaks %s: %s", b.Rule, b.Sentence)
				}
			}
			if words(got) != words(want) || v.Right() != (c.want == "") {
				t.Errorf("got %s, right %v, asked %d, looked %d; want %s", words(got), v.Right(), v.Asked, v.Looked, words(want))
			}
			if broken, whole := newOracle(t, p).judge(p.Plan); whole && words(broken) != words(want) {
				t.Errorf("the oracle says %s", words(broken))
			}
		})
	}
}

// visitRuns makes it 9 March 11:30: the delegation of V-201 has driven and is
// about to pump.
func visitRuns(t *testing.T, p *plant.Plant) {
	p.AsOf = moment(t, "2027-03-09T11:30")
	p.Horizon.From = p.AsOf.Date()
	p.Buffer.NoticeDays = 0
	tr := p.FindTruck("W-201")
	tr.Done = append(tr.Done, plant.Done{Stage: "graphics", Ended: moment(t, "2027-03-03T17:00")}, plant.Done{Stage: "make_ready", Ended: moment(t, "2027-03-05T15:30")})
	tr.Running = []plant.Running{{Stage: "final_inspection", Started: moment(t, "2027-03-09T07:05"), Bay: "floor_1", RemainingMinutes: -1}}
	r := stage(t, p.Plan, "W-201", "final_inspection")
	r.Hold, r.Start = moment(t, "2027-03-09T07:05"), moment(t, "2027-03-09T07:05")
	p.FindVisit("V-201").Wishes = []string{"pump"}
	for _, id := range []string{"graphics", "make_ready", "final_inspection.drive"} {
		drop(t, p.Plan, "W-201", id)
	}
	tr = p.FindTruck("W-203")
	tr.Done = append(tr.Done, plant.Done{Stage: "pump_test", Ended: moment(t, "2027-03-04T12:10")}, plant.Done{Stage: "graphics", Ended: moment(t, "2027-03-08T10:00")})
	drop(t, p.Plan, "W-203", "pump_test")
	drop(t, p.Plan, "W-203", "graphics")
	tr = p.FindTruck("W-204")
	tr.Line = plant.Place{Off: date(t, "2027-03-05")}
	tr.Done = append(tr.Done, plant.Done{Stage: "weigh", Ended: moment(t, "2027-03-08T07:00")})
	tr.Running = []plant.Running{{Stage: "graphics", Started: moment(t, "2027-03-09T06:00"), Bay: "graphics_1", RemainingMinutes: -1}}
	drop(t, p.Plan, "W-204", "weigh")
	p.FindTruck("W-202").Line = plant.Place{Off: date(t, "2027-03-05")}
}

// visitWaits makes it 9 March 06:00: the truck of V-201 stands lined up since the day
// before, and its delegation comes at seven.
func visitWaits(t *testing.T, p *plant.Plant) {
	visitRuns(t, p)
	p.AsOf = moment(t, "2027-03-09T06:00")
	tr := p.FindTruck("W-201")
	tr.Running, tr.Standing = nil, plant.Standing{Stage: "final_inspection", Bay: "floor_1"}
	r := stage(t, p.Plan, "W-201", "final_inspection")
	r.Hold, r.Start = moment(t, "2027-03-08T11:30"), moment(t, "2027-03-09T07:00")
}

// visitHeld makes it 10 March 06:00, the morning after V-201.
func visitHeld(t *testing.T, p *plant.Plant) {
	visitRuns(t, p)
	p.AsOf = moment(t, "2027-03-10T06:00")
	p.Horizon.From = p.AsOf.Date()
	p.FindVisit("V-201").Booking.State = plant.Held
	tr := p.FindTruck("W-201")
	tr.Running = nil
	tr.Done = append(tr.Done[:4:4], plant.Done{Stage: "final_inspection", Ended: moment(t, "2027-03-09T15:30")}, tr.Done[4])
	drop(t, p.Plan, "W-201", "final_inspection")
	drop(t, p.Plan, "W-201", "final_inspection.pump")
	p.Plan.Visits = p.Plan.Visits[1:]
	tr = p.FindTruck("W-203")
	tr.Running = []plant.Running{{Stage: "make_ready", Started: moment(t, "2027-03-09T11:30"), Bay: "wash", RemainingMinutes: -1}}
}

// untilMidnight makes the touch-up of W-202 night work on Thursday 11 March that
// ends at 24:00, and closes its bay on a day.
func untilMidnight(t *testing.T, p *plant.Plant, closed string) {
	var week calendar.Week
	week[4] = []calendar.Shift{{Span: calendar.Span{From: 21 * 60, To: 24 * 60}}}
	p.Calendars = append(p.Calendars, plant.Calendar{ID: "night", Rules: calendar.Rules{Week: week}})
	p.FindDepartment("paint").Calendar = "night"
	p.FindCrew("painters").Calendar = "night"
	r := stage(t, p.Plan, "W-202", "touch_up")
	r.Hold, r.Start, r.End = moment(t, "2027-03-11T21:00"), moment(t, "2027-03-11T21:00"), moment(t, "2027-03-12T00:00")
	p.FindBay("paint_1").Closures = []plant.Range{{From: date(t, closed), Through: date(t, closed)}}
}

// TestNoPlant judges what cannot be judged by.
func TestNoPlant(t *testing.T) {
	if v := check.Plan(right(t), nil); v.Right() || len(v.Broken) == 0 {
		t.Error("no plan at all is right")
	}
	for name, change := range map[string]func(*plant.Plant){
		"no parts of the day":    func(p *plant.Plant) { p.Parts = nil },
		"parts in disorder":      func(p *plant.Plant) { p.Parts[1].From = 0 },
		"no zone":                func(p *plant.Plant) { p.Zone = "" },
		"no horizon":             func(p *plant.Plant) { p.Horizon = plant.Range{From: calendar.None, Through: calendar.None} },
		"a horizon of centuries": func(p *plant.Plant) { p.Horizon.Through = 1 << 30 },
		"no calendar":            func(p *plant.Plant) { p.Calendar = "none" },
		"no department":          func(p *plant.Plant) { p.Departments = p.Departments[1:] },
		"a broken calendar":      func(p *plant.Plant) { p.Calendars[0].Rules.Holidays[0].Set = "moon" },
		"a truck that is nowhere": func(p *plant.Plant) {
			p.Trucks[0].Line = plant.Place{Off: calendar.None, Since: calendar.None, Enters: calendar.None}
		},
	} {
		p := right(t)
		change(p)
		v := check.Plan(p, p.Plan)
		if v.Right() || len(v.Broken) != 1 || v.Broken[0].Rule != "complete" || v.Tiers != nil {
			t.Errorf("%s: got %+v", name, v)
		}
		if check.Score(p, p.Plan) != nil {
			t.Errorf("%s: has a score", name)
		}
	}
	if v := check.Plan(nil, nil); v.Right() || len(v.Broken) != 1 {
		t.Errorf("no plant: got %+v", v)
	}
}
