package ical

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// vellimere reads the plant beside this test, anew for each caller.
func vellimere(t *testing.T) *plant.Plant {
	t.Helper()
	name := filepath.Join("testdata", "plant.yaml")
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	p, faults := plant.Read(name, data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return p
}

func contact() Contact {
	return Contact{
		Domain: "vellimere.example", Organizer: Person{"Visits desk", "visits@vellimere.example"},
		Attendees: []Person{{"Chief", "chief@harrowlune.example"}},
		Address:   "1 Pump Lane, Vellimere", Arrival: "North gate; bring safety shoes.",
		URL: "https://vellimere.example/visits", Stamp: stamp,
	}
}

// booked returns the invitation to a visit of the plant.
func booked(t *testing.T, p *plant.Plant, visit string) Event {
	t.Helper()
	e, err := Visit(p, p.FindVisit(visit), contact())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// TestVisit_Says spells out what a delegation is told.
func TestVisit_Says(t *testing.T) {
	p := vellimere(t)
	e := booked(t, p, "V-501")
	want := Event{
		// printf '25:Vellimere Apparatus Works,5:visit,5:V-501,' | sha256sum
		UID: "38dd5ee1b187ad2bc16d7d64b778bb85@vellimere.example", Status: Confirmed, Zone: "America/Chicago",
		Start: at("2027-03-15T07:00"), End: at("2027-03-15T15:30"),
		Summary:  "Final inspection of truck T-501",
		Location: "Floor position 1, by the window, Vellimere Apparatus Works, 1 Pump Lane, Vellimere",
		Description: strings.Join([]string{
			"Final inspection, shop order T-501 of Vellimere Apparatus Works.",
			"Delegation: 4 people.",
			"Mon 2027-03-15 from 07:00 to 15:30, by the clock of the plant (America/Chicago).",
			"The truck stands at: Floor position 1, by the window.",
			"- Drive it: Mon 2027-03-15 from 07:00 to 08:30, at Test road.",
			"- Pump it: Mon 2027-03-15 from 11:30 to 13:00, at Pump pit.",
			"",
			"This day is agreed. The hours are those of the plan in force; a change of them is sent to you.",
			"",
			"Arrival: North gate; bring safety shoes.",
			"",
			"Cautions",
			"- Pump tests, pumping: Hearing protection. Visitors behind the marked line. Bleed a line before it is opened. Wheels chocked, the pump never left alone. Fill the tank by its fill connection only.",
			"- Road and brake tests, drives: Everybody belted. The plant's licensed driver drives, a customer only after release and briefing. Linings burnished first. Look at road and weather that morning.",
			"- Visits: Safety shoes and eye protection in the shop, clear of moving trucks and running pumps. Anybody may call stop.",
			plant.Deferral,
		}, "\n"),
		URL: "https://vellimere.example/visits", Organizer: contact().Organizer, Attendees: contact().Attendees, Stamp: stamp,
	}
	if diff := cmp.Diff(want, e); diff != "" {
		t.Errorf("the invitation is not as meant (-want +got):\n%s", diff)
	}
}

// TestVisit_Status has what each state of a booking makes of the invitation.
func TestVisit_Status(t *testing.T) {
	set := func(state string) func(*plant.Plant, *plant.Visit) {
		return func(_ *plant.Plant, v *plant.Visit) { v.Booking.State = state }
	}
	tests := []struct {
		what, visit string
		change      func(*plant.Plant, *plant.Visit)
		status, say string
	}{
		{"confirmed", "V-504", nil, Confirmed, "This day is agreed."},
		{"tentative", "V-502", nil, Tentative, "This day is held for you and not agreed yet. Please accept or decline it.\nIt is held through Fri 2027-03-05."},
		{"confirmed, moved by the plan", "V-504", func(_ *plant.Plant, v *plant.Visit) { v.Booking.Day-- }, Tentative, "in place of Wed 2027-03-17, which was agreed."},
		{"tentative, moved by the plan", "V-502", func(_ *plant.Plant, v *plant.Visit) { v.Booking.Day-- }, Tentative, "in place of Mon 2027-03-22, which was held for you."},
		{"cancelled", "V-504", set(plant.Cancelled), Cancelled, "The final inspection of truck T-504 at Vellimere Apparatus Works on Thu 2027-03-18 does not take place."},
		{"broken by the plan", "V-504", broken, Cancelled, "The plant has no day for it yet that it can keep, and will propose another."},
	}
	for _, tt := range tests {
		p := vellimere(t)
		v := p.FindVisit(tt.visit)
		if tt.change != nil {
			tt.change(p, v)
		}
		e, err := Visit(p, v, contact())
		if err != nil {
			t.Errorf("%s: %v", tt.what, err)
			continue
		}
		if e.Status != tt.status || !strings.Contains(e.Description, tt.say) {
			t.Errorf("%s: %s and %q, want %s and %q", tt.what, e.Status, e.Description, tt.status, tt.say)
		}
		if off := e.Start == calendar.NoMoment; off != (tt.status == Cancelled) {
			t.Errorf("%s: from %v to %v", tt.what, e.Start, e.End)
		}
	}
}

// broken lets the plan hold the visit on no day.
func broken(p *plant.Plant, v *plant.Visit) {
	for i := range p.Plan.Visits {
		if o := &p.Plan.Visits[i]; o.Visit == v.ID {
			*o = plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
		}
	}
	p.Plan.Stages = slices.DeleteFunc(p.Plan.Stages, func(r plant.Planned) bool {
		return r.Truck == v.Truck && strings.HasPrefix(r.Stage, "final_inspection")
	})
}

func TestVisit_Refused(t *testing.T) {
	tests := []struct {
		what, visit string
		change      func(*plant.Plant, *plant.Visit, *Contact)
		say         string
	}{
		{"requested", "V-503", func(*plant.Plant, *plant.Visit, *Contact) {}, "book it tentatively"},
		{"done", "V-501", func(_ *plant.Plant, v *plant.Visit, _ *Contact) { v.Booking.State = plant.Held }, "make a new visit"},
		{"missed", "V-501", func(_ *plant.Plant, v *plant.Visit, _ *Contact) { v.Booking.State = plant.NoShow }, "make a new visit"},
		{"no plan", "V-501", func(p *plant.Plant, _ *plant.Visit, _ *Contact) { p.Plan = nil }, "plan it first"},
		{"newer than the plan", "V-501", func(p *plant.Plant, _ *plant.Visit, _ *Contact) { p.Plan.Visits = p.Plan.Visits[1:] }, "plan the plant again"},
		{"no rows in the plan", "V-501", func(p *plant.Plant, _ *plant.Visit, _ *Contact) { p.Plan.Stages = nil }, "plan the plant again"},
		{"no domain", "V-501", func(_ *plant.Plant, _ *plant.Visit, c *Contact) { c.Domain = "" }, "letters, digits, dots"},
		{"a domain of two lines", "V-501", func(_ *plant.Plant, _ *plant.Visit, c *Contact) { c.Domain = "a\r\nX:y" }, "letters, digits, dots"},
	}
	for _, tt := range tests {
		p, c := vellimere(t), contact()
		v := p.FindVisit(tt.visit)
		tt.change(p, v, &c)
		if _, err := Visit(p, v, c); err == nil || !strings.Contains(err.Error(), tt.say) {
			t.Errorf("%s: %v, want a refusal with %q", tt.what, err, tt.say)
		}
	}
}

// TestVisit_UID keeps UIDs as they are, for life: whatever is booked or planned, and
// whatever else the plant has, and another for anything else.
func TestVisit_UID(t *testing.T) {
	p := vellimere(t)
	first := booked(t, p, "V-502")
	v := p.FindVisit("V-502")
	v.Booking.State, v.Heads, v.Truck = plant.Cancelled, 9, "T-501"
	p.Plan, p.Visits, p.Zone = nil, p.Visits[1:2], "America/Denver"
	if again := booked(t, p, "V-502"); again.UID != first.UID {
		t.Errorf("UID %s became %s", first.UID, again.UID)
	}
	var uids []string
	for _, names := range [][]string{{"visit", "V-1"}, {"visit", "V-11"}, {"visit", "V-1", ""}, {"visi", "tV-1"}, {"visit:V", "-1"}, {"visit,3:V-1"}, {"stage", "T", "g.h"}, {"stage", "T.g", "h"}} {
		c := contact()
		for _, name := range []string{"a", "a,5:visit", "消"} {
			p.Name = name
			e, err := c.event(p, names...)
			if err != nil {
				t.Fatal(err)
			}
			uids = append(uids, e.UID)
		}
	}
	slices.Sort(uids)
	if n := len(slices.Compact(slices.Clone(uids))); n != len(uids) {
		t.Errorf("%d things have %d UIDs", len(uids), n)
	}
}

// A visit is invited, confirmed, moved and cancelled; both readers see each message
// as meant.
func TestVisit_Messages(t *testing.T) {
	p := vellimere(t)
	v := p.FindVisit("V-502")
	var texts [][]byte
	var want []object
	e := booked(t, p, "V-502")
	send := func(write func(Event) ([]byte, error), method string, revision int) {
		t.Helper()
		if e.Sequence != revision {
			t.Errorf("revision %d, want %d", e.Sequence, revision)
		}
		text, err := write(e)
		if err != nil {
			t.Fatal(err)
		}
		texts, want = append(texts, text), append(want, meant(method, e))
	}
	send(Request, request, 0)
	v.Booking.State = plant.Confirmed
	e = Next(e, booked(t, p, "V-502"))
	send(Request, request, 1)
	v.Heads++
	e = Next(e, booked(t, p, "V-502"))
	send(Request, request, 1)
	broken(p, v)
	e = Next(e, booked(t, p, "V-502"))
	send(Cancel, cancel, 2)
	same(t, texts, want)
	// Tuesday and half of Wednesday, the week after the clocks went forward.
	if got, want := byGo(t, texts[0]).Events[0].Start, time.Date(2027, 3, 23, 12, 0, 0, 0, time.UTC).Unix(); got != want {
		t.Errorf("the visit starts at %d, want %d", got, want)
	}
	if got, want := byGo(t, texts[3]).Events[0].End, time.Date(2027, 3, 24, 16, 0, 0, 0, time.UTC).Unix(); got != want {
		t.Errorf("the cancelled visit was to end at %d, want %d", got, want)
	}
}

// TestVisit_Published writes a visit for whoever asks for it as a file, where the plant has no
// address to write from: RFC 5546 3.2.1 asks for exactly one ORGANIZER and for no ATTENDEE.
func TestVisit_Published(t *testing.T) {
	p := vellimere(t)
	c := contact()
	c.Domain, c.Organizer = "wetdown.invalid", Person{p.Name, "nobody@wetdown.invalid"}
	e, err := Visit(p, p.FindVisit("V-502"), c)
	if err != nil {
		t.Fatal(err)
	}
	text, err := Feed(e.Summary, time.Hour, []Event{e})
	if err != nil {
		t.Fatal(err)
	}
	o := meant(publish, e)
	o.Name, o.Refresh, o.Properties = e.Summary, 3600, strings.Fields("METHOD NAME PRODID REFRESH-INTERVAL VERSION")
	same(t, [][]byte{text}, []object{o})
}

// private are words of the plant that no customer may read: prices, damages, what
// the plan is worth; and those of the other customer.
var private = strings.Fields("7351 90817 6449 damages dollar $ weight deadline lateness optimal defect contract frozen")

// TestVisit_Discreet looks at every byte that goes to a customer.
func TestVisit_Discreet(t *testing.T) {
	others := map[string][]string{
		"harrowlune": strings.Fields("Ostrafell T-502 T-503 V-502 V-503"),
		"ostrafell":  strings.Fields("Harrowlune T-501 T-504 V-501 V-504"),
	}
	for _, customer := range []string{"harrowlune", "ostrafell"} {
		p, c := vellimere(t), contact()
		c.Attendees = []Person{{"Chief", "chief@customer.example"}}
		events, err := Customer(p, customer, c)
		if err != nil {
			t.Fatal(err)
		}
		feed, err := Feed("Your visits", time.Hour, events)
		if err != nil {
			t.Fatal(err)
		}
		texts := []string{string(feed)}
		for _, e := range events {
			text, err := Request(e)
			if err != nil {
				t.Fatal(err)
			}
			texts = append(texts, string(text))
			i := slices.IndexFunc(p.Visits, func(v plant.Visit) bool { return strings.HasSuffix(e.Summary, v.Truck) })
			broken(p, &p.Visits[i])
			off, err := Visit(p, &p.Visits[i], c)
			if err != nil {
				t.Fatal(err)
			}
			if text, err = Cancel(Next(e, off)); err != nil {
				t.Fatal(err)
			}
			texts = append(texts, string(text))
		}
		if len(texts) < 3 {
			t.Fatalf("%s has %d texts, want a feed, invitations and cancellations", customer, len(texts))
		}
		for _, text := range texts {
			plain := strings.ToLower(strings.ReplaceAll(text, "\r\n ", ""))
			for _, word := range slices.Concat(private, others[customer]) {
				if strings.Contains(plain, strings.ToLower(word)) {
					t.Errorf("%s is told %q:\n%s", customer, word, text)
				}
			}
		}
	}
}
