package rest_test

import (
	"fmt"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// onTheLine is a plant with a line of three stations, eight hours a day, on a Monday morning
// before work. A stretch of work takes place at the second station.
const onTheLine = `
wetdown: 1
name: Skarrelholt Works
zone: America/Chicago
as_of: 2027-04-05T06:00
horizon: {from: 2027-04-05, through: 2027-07-30}
calendar: plant
calendars:
  - id: plant
    week: {mon: [07:00-15:00], tue: [07:00-15:00], wed: [07:00-15:00], thu: [07:00-15:00], fri: [07:00-15:00]}
departments:
  - {id: testing, name: Testing, calendar: plant}
  - {id: delivery, name: Delivery, calendar: plant}
crews:
  - {id: drivers, name: Drivers, calendar: plant, heads: 2}
route:
  - {id: leak_test, name: Leak test, department: testing, hours: 2, station: body, needs: [pump], crosses: [shift]}
  - {id: delivery, name: Delivery, department: delivery, length: drive, crews: [{crew: drivers, heads: 1}], after: [leak_test], crosses: [shift, weekend, closure], delivers: true}
wishes: []
line:
  calendar: plant
  stations:
    - {id: chassis, name: Chassis, takt_hours: 8}
    - {id: body, name: Body, takt_hours: 16}
    - {id: final, name: Final assembly, takt_hours: 16}
customers:
  - {id: c1, name: Harrowlune Fire Department, miles: 300}
trucks:
  - {id: T1, customer: c1, kind: rescue, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-07-16}, line: {station: body, since: 2027-04-01, feeders: [{name: cab, station: final, expected: 2027-04-12}]}}
  - {id: T2, customer: c1, kind: pumper, content: medium, length_ft: 32, height_ft: 10, flow_gpm: 1500, contract: {due: 2027-07-16}, line: {station: body, since: 2027-03-30}}
  - {id: T3, customer: c1, kind: rescue, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-07-16}, line: {enters: 2027-04-19, feeders: [{name: frame, station: chassis, expected: 2027-04-02}, {name: cab, station: chassis, expected: 2027-04-19}, {name: cab, station: final, expected: 2027-04-20}]}}
  - {id: T4, customer: c1, kind: rescue, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-07-16}, line: {line_off: 2027-03-31}}
`

// TestLine reports what happens on the line, and looks where the trucks then stand and when
// they are expected off. The days follow by hand from 8 hours a day and the takts.
func TestLine(t *testing.T) {
	h := opened(t, "", rest.Options{})
	login, password, _, err := h.app.FirstStart(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	admin := h.login(login, password)
	admin.put("/plant", "application/yaml", []byte(onTheLine)).want(200)
	admin.post("/accounts", map[string]any{"login": "coordinator", "name": "Somebody", "role": api.RoleCoordinator, "password": passwordOf(api.RoleCoordinator)}).want(201)
	admin.post("/accounts", map[string]any{"login": "sales", "name": "Somebody", "role": api.RoleSales, "password": passwordOf(api.RoleSales)}).want(201)
	coordinator := h.as(api.RoleCoordinator)
	off := func(truck, day string) {
		t.Helper()
		s, err := h.app.State(t.Context(), api.Service, 0)
		if err != nil {
			t.Fatal(err)
		}
		j, err := s.Plant.Project()
		if err != nil {
			t.Fatal(err)
		}
		if got := j.LineOff(truck).String(); got != day {
			t.Errorf("%s comes off on %s, want %s", truck, got, day)
		}
	}
	type step map[string]any
	report := func(steps ...step) *answer {
		t.Helper()
		return coordinator.post("/line?why=round", map[string]any{"steps": append([]step{}, steps...)})
	}
	revision := int64(1)
	made := func(a *answer, says ...string) {
		t.Helper()
		revision++
		if a.want(200).number("number") != revision || a.text("act") != "report" || a.text("who") != "coordinator" || a.text("why") != "round" {
			t.Fatalf("want revision %d by the coordinator: %s", revision, a.body)
		}
		for _, s := range says {
			if !strings.Contains(a.text("what"), s) {
				t.Errorf("%q is not said: %s", s, a.text("what"))
			}
		}
	}

	off("T1", "2027-04-13") // its cab comes on Monday the 12th, two days at final
	made(report(step{"truck": "T1", "day": "2027-04-05", "feeder": "cab"}), "The cab of truck T1 arrived on 2027-04-05.")
	off("T1", "2027-04-08") // T2, which is before it, has final on Monday and Tuesday

	// Refusals change nothing, whatever else is in the request.
	good := step{"truck": "T1", "day": "2027-04-05", "station": "final"}
	for _, c := range []struct {
		bad    step
		status int
		kind   string
		says   string
	}{
		{step{"truck": "T9", "day": "2027-04-05", "station": "final"}, 404, "not-found", "truck"},
		{step{"truck": "T2", "day": "2027-04-05", "station": "finel"}, 404, "not-found", "final"},
		{step{"truck": "T2", "day": "2027-04-05", "station": "chassis"}, 409, "conflict", "back"},
		{step{"truck": "T2", "day": "2027-04-05", "station": "final"}, 409, "conflict", "leak test"},
		{step{"truck": "T2", "day": "2027-04-05", "off": true}, 409, "conflict", "leak test"},
		{step{"truck": "T2", "day": "2027-04-06", "off": true}, 422, "invalid", "progress"},
		{step{"truck": "T2", "day": "2027-03-29", "off": true}, 422, "invalid", "2027-03-30"},
		{step{"truck": "T2", "day": "", "off": true}, 422, "invalid", "day"},
		{step{"truck": "T2", "day": "5 April", "off": true}, 422, "invalid", "YYYY-MM-DD"},
		{step{"truck": "T2", "day": "2027-04-05"}, 422, "invalid", "What happened"},
		{step{"truck": "T2", "day": "2027-04-05", "off": true, "station": "final"}, 422, "invalid", "row of its own"},
		{step{"truck": "T2", "day": "2027-04-05", "feeder": "cab"}, 409, "conflict", "waits for"},
		{step{"truck": "T3", "day": "2027-04-05", "feeder": "cap"}, 404, "not-found", "cab"},
		{step{"truck": "T3", "day": "2027-04-05", "feeder": "frame", "station": "final"}, 404, "not-found", "at final"},
		{step{"truck": "T3", "day": "2027-04-05", "feeder": "cab"}, 422, "invalid", "chassis, final"},
		{step{"truck": "T4", "day": "2027-04-05", "station": "final"}, 409, "conflict", "2027-03-31"},
		{step{"truck": "T4", "day": "2027-04-05", "off": true}, 409, "conflict", "2027-03-31"},
		{step{"truck": "T4", "day": "2027-04-05", "feeder": "cab"}, 409, "conflict", "2027-03-31"},
	} {
		a := report(good, c.bad).refused(c.status, c.kind)
		if !strings.Contains(string(a.body), c.says) {
			t.Errorf("%v: %q is not said: %s", c.bad, c.says, a.body)
		}
		if a.number("row") != 2 && !strings.HasPrefix(a.text("field"), "steps[2]") {
			t.Errorf("%v: which row it is about is not said: %s", c.bad, a.body)
		}
	}
	report().refused(422, "invalid")
	h.as(api.RoleSales).post("/line", map[string]any{"steps": []step{good}}).refused(403, "forbidden")
	if n := admin.get("/revisions?limit=1").want(200).number("items.0.number"); n != revision {
		t.Fatalf("refused, and there is revision %d", n)
	}

	// A round through the hall: one revision. T3 has gone past the first station meanwhile, and
	// what that waited for has come.
	made(report(good, step{"truck": "T3", "day": "2027-04-02", "station": "chassis"}, step{"truck": "T3", "day": "2027-04-05", "station": "body"}),
		"Truck T1 entered final on 2027-04-05.", "Truck T3 entered body on 2027-04-05.")
	if got := admin.get("/trucks/T3").want(200); got.text("line.station") != "body" || got.text("line.since") != "2027-04-05" || got.value("line.enters") != nil || got.count("line.feeders") != 1 || got.text("line.feeders.0.station") != "final" {
		t.Errorf("T3 is %s", got.body)
	}
	off("T1", "2027-04-06") // Monday and Tuesday at final
	// The day on which it entered was wrong.
	made(report(step{"truck": "T1", "day": "2027-04-02", "station": "final"}))
	off("T1", "2027-04-05")
	// Said again, it changes nothing.
	if a := report(step{"truck": "T1", "day": "2027-04-02", "station": "final"}).want(200); a.number("number") != revision {
		t.Errorf("said again, it is %s", a.body)
	}
	// Once the work is done, the truck may go on.
	revision++
	admin.post("/progress", map[string]any{"stages": []any{map[string]any{"truck": "T2", "stage": "leak_test", "ended": "2027-04-01T10:00"}}}).want(200)
	made(report(step{"truck": "T2", "day": "2027-04-05", "off": true}, step{"truck": "T1", "day": "2027-04-05", "off": true}), "Truck T2 came off the line on 2027-04-05.")
	off("T2", "2027-04-05")
	off("T1", "2027-04-05")
	report(step{"truck": "T2", "day": "2027-04-05", "off": true}).refused(409, "conflict")

	// Of somebody who has looked before, nothing is taken.
	coordinator.with("If-Match", fmt.Sprintf(`"%d"`, revision-1)).post("/line", map[string]any{"steps": []step{{"truck": "T3", "day": "2027-04-05", "off": true}}}).refused(412, "stale")
	events := admin.get("/trail?limit=1").want(200)
	if events.text("items.0.act") != "report" || events.text("items.0.subject") != "line" || events.text("items.0.outcome") != "refused" || events.text("items.0.who") != "coordinator" {
		t.Errorf("the trail: %s", events.body)
	}
}

// TestLineOff_Late reports on a plant whose moment is long ago: what is expected is said on
// the day of the plant, and what has come off since is refused with what to do first.
func TestLineOff_Late(t *testing.T) {
	h := opened(t, "", rest.Options{})
	login, password, _, err := h.app.FirstStart(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	admin := h.login(login, password)
	admin.put("/plant", "application/yaml", []byte(strings.ReplaceAll(onTheLine, "2027-", "2026-"))).want(200) // the clock of the test is later
	row := func(day string, off bool) map[string]any {
		return map[string]any{"reports": []any{map[string]any{"truck": "T1", "day": day, "off": off}}}
	}
	admin.post("/line-off", row("2026-04-20", false)).want(200)
	if got := admin.get("/trucks/T1").want(200); got.text("line.overrides.0.said") != "2026-04-05" || got.text("line.overrides.0.line_off") != "2026-04-20" {
		t.Errorf("T1 is %s", got.body)
	}
	if got := admin.post("/line-off", row("2026-04-06", true)).refused(422, "invalid"); !strings.Contains(got.text("next"), "progress") {
		t.Errorf("%s", got.body)
	}
	admin.post("/line-off", row("2026-04-05", true)).want(200)
}
