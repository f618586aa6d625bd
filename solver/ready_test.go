package solver

import (
	"fmt"
	"strings"
	"testing"

	"wetdown/solver/plant"
)

// TestPlan_Ready keeps visits that are just in time: after a certificate of the same day where
// no day is to lie between, after one that ended at midnight, and after a shutdown of two weeks,
// before which the certificate was got and the truck took its place. Each visit is frozen; if it
// could not be kept it would be broken.
func TestPlan_Ready(t *testing.T) {
	const text = `wetdown: 1
name: Harlow Moor Apparatus
zone: America/Chicago
as_of: AS_OF
horizon: {from: 2027-01-04, through: 2027-01-22}
calendar: plant
calendars: [{id: plant, pattern: 5x8, closures: [{from: 2026-12-19, through: 2027-01-03}]}]
departments: [{id: plant, calendar: plant}]
bays: [{id: floor, kinds: [floor]}]
crews: []
route:
  - {id: weigh, department: plant, hours: 2, certifies: true}
  - {id: look, department: plant, length: visit, visit: final_inspection, bay: floor, after: [{stage: weigh}], hold_before_parts: HOLD}
  - {id: drive, department: plant, length: drive, after: [{stage: look}], delivers: true}
wishes: []
buffer: {ready_work_days: READY}
customers: [{id: C, name: Pennard Fire Department}]
trucks: [{id: T, customer: C, kind: pumper, content: light, length_ft: 30, height_ft: 10, contract: {due: 2027-01-20}, line: {line_off: 2026-12-10}, STATE}]
visits: [{id: V, truck: T, kind: final_inspection, heads: 2, halves: 1, windows: [{from: 2027-01-04, through: 2027-01-22}], booking: {state: confirmed, day: DAY, travel_bought: true}}]
`
	for _, c := range []struct{ name, asOf, ready, hold, day, state string }{
		{"the same day", "2027-01-04T06:00", "0", "0", "2027-01-04", "running: [{stage: weigh, started: 2027-01-04T06:00, remaining_hours: 2}]"},
		{"midnight", "2027-01-05T06:00", "1", "0", "2027-01-06", "done: [{stage: weigh, ended: 2027-01-05T00:00}]"},
		{"certified before a shutdown", "2027-01-04T06:00", "2", "0", "2027-01-04", "done: [{stage: weigh, ended: 2026-12-15T09:00}]"},
		{"lined up before a shutdown", "2027-01-04T06:00", "2", "1", "2027-01-04", "done: [{stage: weigh, ended: 2026-12-15T09:00}], standing: {stage: look, bay: floor}"},
	} {
		file := strings.NewReplacer("AS_OF", c.asOf, "READY", c.ready, "HOLD", c.hold, "DAY", c.day, "STATE", c.state).Replace(text)
		p, faults := plant.Read(c.name, []byte(file))
		if len(faults) > 0 {
			t.Fatal(faults[0])
		}
		r := optimal(t, p)
		if got := fmt.Sprint(r.Plan.Visits[0]); !strings.Contains(got, plant.Kept) {
			t.Errorf("%s: %s", c.name, got)
		}
	}
}

// TestPlan_Nothing plans a plant in which there is nothing yet.
func TestPlan_Nothing(t *testing.T) {
	p, faults := plant.Read("bare", []byte(`wetdown: 1
name: Harlow Moor Apparatus
zone: America/Chicago
as_of: 2027-03-01T06:00
horizon: {from: 2027-03-01, through: 2027-06-30}
calendar: plant
calendars: [{id: plant, pattern: 5x8}]
`))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	if r := optimal(t, p); len(r.Plan.Stages)+len(r.Plan.Visits) > 0 {
		t.Errorf("%+v", r.Plan)
	}
}
