package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"wetdown/solver/plant"
)

// A plant so small that its loads can be counted by hand.
const twoVisits = `
wetdown: 1
name: Ostrafell Works
zone: America/Chicago
as_of: 2027-04-05T06:00
horizon: {from: 2027-04-05, through: 2027-06-30}
calendar: plant
calendars:
  - {id: plant, pattern: 5x8, closures: [{from: 2027-04-16, through: 2027-04-16}]}
bays:
  - {id: one, kinds: [floor]}
  - {id: two, kinds: [floor], closures: [{from: 2027-04-12, through: 2027-04-13}]}
crews:
  - {id: hosts, name: Hosts, calendar: plant, heads: 3, days: [{from: 2027-04-12, through: 2027-04-12, heads: 1}]}
departments:
  - {id: showroom, name: Showroom, calendar: plant}
route:
  - {id: final_inspection, name: Final inspection, department: showroom, length: visit, visit: final_inspection, bay: floor, hold_before_parts: 1, crews: [{crew: hosts, heads: 2}], start_in: [morning], crosses: [shift]}
  - {id: delivery, name: Delivery, department: showroom, length: drive, after: [final_inspection], start_in: [morning], crosses: [shift, weekend, closure], delivers: true}
line:
  stations: [{id: final, name: Final, takt_hours: 8}]
wishes: []
customers:
  - {id: a, name: Harrowlune Fire Department, miles: 300}
trucks:
  - {id: T-1, customer: a, kind: rescue, content: light, length_ft: 30, height_ft: 10, contract: {due: 2027-05-14}, line: {line_off: 2027-04-01}}
visits:
  - {id: V-1, truck: T-1, kind: final_inspection, heads: 2, halves: 2, windows: [{from: 2027-04-14, through: 2027-04-14}], booking: {state: confirmed, day: 2027-04-14}}
`

// In the week of 12 April, whose Friday is closed, four days with a morning and an
// afternoon are worked: 8 parts of bay one and, two days closed, 4 of bay two. The visit
// takes two of them, and the line-up one before. Of the hosts there are one on Monday and
// three on three days: 2*1 + 6*3 = 20 parts; the visit takes two of them in two parts.
func TestLoads(t *testing.T) {
	p, faults := plant.Read("two visits", []byte(twoVisits))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	s := emptySite(t)
	s.load(p)
	code, page := s.get("/loads")
	if code != http.StatusOK {
		t.Fatal(code)
	}
	cells := regexp.MustCompile(`(?s)<td.*?</td>`)
	row := func(name string) []string {
		_, rest, ok := strings.Cut(page, `<th scope="row">`+name+`<`)
		if !ok {
			t.Fatalf("there is no row of %s", name)
		}
		rest, _, _ = strings.Cut(rest, "</tr>")
		return cells.FindAllString(rest, -1)
	}
	if bays := row("floor"); !strings.Contains(bays[1], "25%") || !strings.Contains(bays[1], "3 of 12") || !strings.Contains(bays[0], "free") {
		t.Errorf("the floor in the week of 12 April: %s", bays[1])
	}
	if hosts := row("Hosts"); !strings.Contains(hosts[1], "20%") || !strings.Contains(hosts[1], "4 of 20") {
		t.Errorf("hosts in the week of 12 April: %s", hosts[1])
	}
}
