package check_test

import (
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// FuzzPlan judges plans read from arbitrary bytes: unknown trucks, stages, bays
// and visits, absurd moments. The judge must not panic, must call no such plan
// right unless it complains of nothing and has looked at everything, and must say
// each complaint in a sentence about a rule.
func FuzzPlan(f *testing.F) {
	p := right(f)
	f.Add([]byte{})
	f.Add([]byte("\x00\x01\x02\x03\x04\x05\x06\x07\x08\x09\x0a\x0b\x0c\x0d\x0e\x0f"))
	f.Add([]byte(strings.Repeat("\x01\x07\x03\x84\x03\x84\x05\x02", 40)))
	f.Add([]byte(strings.Repeat("\xff\x00", 100)))
	rules := map[string]bool{}
	for _, r := range check.Rules {
		rules[r.Name] = true
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		plan := planOf(p, data)
		v := check.Plan(p, plan)
		if v.Right() {
			t.Errorf("right: %+v", plan)
		}
		if len(v.Broken) == 0 {
			t.Errorf("no complaint, asked %d, looked %d", v.Asked, v.Looked)
		}
		for _, b := range v.Broken {
			if !rules[b.Rule] || !strings.HasSuffix(b.Sentence, ".") || strings.Contains(b.Sentence, "%!") {
				t.Errorf("%q says %q", b.Rule, b.Sentence)
			}
		}
		if len(v.Tiers) != len(plant.TierNames) {
			t.Errorf("tiers: %v", v.Tiers)
		}
	})
}

// planOf makes a plan of bytes: rows that stand in the place of some of the right
// plan's, or beside them. It is never the right plan: W-201 loses its delivery.
func planOf(p *plant.Plant, data []byte) *plant.Plan {
	plan := clone(p.Plan)
	next := func() int {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return int(b)
	}
	trucks := []string{"", "W-999"}
	for _, t := range p.Trucks {
		trucks = append(trucks, t.ID)
	}
	stages := []string{"", ".", "polish", "final_inspection.", "final_inspection.drive", "final_inspection.pump", "final_inspection.climb", "weigh.drive", ".drive"}
	for _, s := range p.Route {
		stages = append(stages, s.ID)
	}
	bays := []string{"", "nowhere"}
	for _, b := range p.Bays {
		bays = append(bays, b.ID)
	}
	moment := func() calendar.Moment {
		switch kind := next(); kind % 8 {
		case 0:
			return calendar.NoMoment
		case 1:
			return 1<<62 - calendar.Moment(next())
		case 2:
			return -1 << 63
		case 3:
			return calendar.Moment(next()) << (kind / 4)
		}
		return p.AsOf + calendar.Moment(next()*256+next()-2000)
	}
	for i := 0; len(data) > 0; i++ {
		r := plant.Planned{
			Truck: trucks[next()%len(trucks)], Stage: stages[next()%len(stages)], Bay: bays[next()%len(bays)],
			Hold: moment(), Start: moment(), End: moment(),
		}
		v := plant.PlannedVisit{Visit: []string{"", "V-201", "V-204", "V-207"}[next()%4], Outcome: []string{"", plant.Kept, plant.Broken}[next()%3], Day: calendar.Date(moment())}
		if next()%2 == 0 {
			plan.Stages[i%len(plan.Stages)] = r
		} else {
			plan.Stages = append(plan.Stages, r)
		}
		plan.Visits = append(plan.Visits, v)
	}
	kept := plan.Stages[:0:0]
	for _, r := range plan.Stages {
		if r.Truck != "W-201" || r.Stage != "delivery" {
			kept = append(kept, r)
		}
	}
	plan.Stages = kept
	return plan
}
