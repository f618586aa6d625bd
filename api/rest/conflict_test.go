package rest_test

import (
	"fmt"
	"net/http"
	"sync"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// onePosition is a plant with one floor position, one host, and two trucks whose visits
// could both be on any of some days.
const onePosition = `
wetdown: 1
name: Skarrelholt Works
zone: America/Chicago
as_of: 2027-04-05T06:00
horizon: {from: 2027-04-05, through: 2027-07-30}
calendar: plant
calendars:
  - {id: plant, pattern: 5x8, holidays: [us-federal]}
departments:
  - {id: showroom, name: Showroom, calendar: plant}
  - {id: delivery, name: Delivery, calendar: plant}
bays:
  - {id: floor-1, kinds: [floor]}
crews:
  - {id: drivers, name: Drivers, calendar: plant, heads: 2}
route:
  - {id: final_inspection, name: Final inspection, department: showroom, length: visit, visit: final_inspection, bay: floor, crosses: [shift]}
  - {id: delivery, name: Delivery, department: delivery, length: drive, crews: [{crew: drivers, heads: 1}], after: [final_inspection], crosses: [shift, weekend, closure], delivers: true}
wishes: []
line:
  stations: [{id: final, name: Final assembly, takt_hours: 16}]
customers:
  - {id: c1, name: Harrowlune Fire Department, miles: 300}
  - {id: c2, name: Ostrafell Fire District, miles: 300}
trucks:
  - {id: T1, customer: c1, kind: pumper, content: medium, length_ft: 32, height_ft: 10, flow_gpm: 1500, contract: {due: 2027-07-16}, line: {line_off: 2027-03-29}}
  - {id: T2, customer: c2, kind: pumper, content: medium, length_ft: 32, height_ft: 10, flow_gpm: 1500, contract: {due: 2027-07-16}, line: {line_off: 2027-03-29}}
visits:
  - {id: V1, truck: T1, kind: final_inspection, heads: 3, halves: 2, windows: [{from: 2027-05-03, through: 2027-05-28}]}
  - {id: V2, truck: T2, kind: final_inspection, heads: 3, halves: 2, windows: [{from: 2027-05-03, through: 2027-05-28}]}
`

// TestBook_LastPosition has two clients book the last position of the floor for the same
// day at the same moment, again and again: one of them gets it, and the other is told
// that it is gone, and how its booking stands. The days are those on which the calendar
// 5x8 works in May 2027, by any calendar on the wall.
func TestBook_LastPosition(t *testing.T) {
	h := opened(t, "", rest.Options{})
	login, password, _, err := h.app.FirstStart(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	admin := h.login(login, password)
	admin.put("/plant", "application/yaml", []byte(onePosition)).want(200)
	job := admin.with("Prefer", "wait=20").post("/proposals", map[string]any{}).want(200)
	admin.post("/proposals/"+job.text("answer.id")+"/accept", nil).want(200)
	clients := []*client{h.login(login, password), h.login(login, password)}
	won := map[string]int{}
	days := []int{3, 4, 5, 6, 7, 10, 11, 12, 13, 14, 17, 18, 19, 20, 21, 24}
	for round, n := range days {
		day := fmt.Sprintf("2027-05-%02d", n)
		var answers [2]*answer
		var ready, over sync.WaitGroup
		ready.Add(2)
		for i, c := range clients {
			over.Go(func() {
				ready.Done()
				ready.Wait()
				answers[i] = c.send("PUT", fmt.Sprintf("/visits/V%d/booking", i+1), map[string]any{"state": "confirmed", "day": day})
			})
		}
		over.Wait()
		winner, loser := -1, -1
		for i, a := range answers {
			switch a.StatusCode {
			case http.StatusOK:
				winner = i
				won[fmt.Sprint(i)]++
				if a.text("day") != day || a.text("state") != "confirmed" {
					t.Errorf("round %d: booked as %s", round, a.body)
				}
			case http.StatusConflict:
				loser = i
				a.refused(409, "refused")
				if a.text("booking.visit") != fmt.Sprintf("V%d", i+1) || a.text("booking.day") == day || a.number("booking.revision") < 3 {
					t.Errorf("round %d: the conflict does not say how things are: %s", round, a.body)
				}
			}
		}
		if winner < 0 || loser < 0 {
			t.Fatalf("round %d: %d %s\n%d %s", round, answers[0].StatusCode, answers[0].body, answers[1].StatusCode, answers[1].body)
		}
		if plan := admin.get("/plan").want(200); plan.value("check.right") != true {
			t.Errorf("round %d: the plan is wrong: %s", round, plan.body)
		}
		// Both ask anew, so that the next day is free for either.
		v := fmt.Sprintf("/visits/V%d/booking", winner+1)
		admin.send("PUT", v, map[string]any{"state": "tentative", "day": day}).want(200)
		admin.send("PUT", v, map[string]any{"state": "requested"}).want(200)
	}
	t.Logf("%d rounds, won by V1 and V2: %v", len(days), won)
}

// TestBook_Same has many clients book one visit, each as of what it has seen: one booking
// is made, and all others are told what has changed.
func TestBook_Same(t *testing.T) {
	h := settled(t, rest.Options{})
	manager := h.as(api.RoleManager)
	seen := manager.get("/visits/V1").want(200).Header.Get("ETag")
	was := manager.get("/visits/V1/booking").want(200)
	day := was.text("planned_day")
	var mu sync.Mutex
	count := map[int]int{}
	var over sync.WaitGroup
	for range 8 {
		c := h.as(api.RoleCoordinator)
		over.Go(func() {
			a := c.with("If-Match", seen).send("PUT", "/visits/V1/booking", map[string]any{"state": "confirmed", "day": day, "travel_bought": was.value("travel_bought") != true})
			mu.Lock()
			defer mu.Unlock()
			count[a.StatusCode]++
			if a.StatusCode != 200 {
				a.refused(412, "stale")
			}
		})
	}
	over.Wait()
	// Whoever came after with the same wish may be told that it is as they want.
	if count[200] < 1 || count[200]+count[412] != 8 {
		t.Errorf("answers by status: %v", count)
	}
	if n := manager.get("/visits/V1/history").want(200).count("items"); n != 2 {
		t.Errorf("the visit has %d versions, want 2", n)
	}
}
