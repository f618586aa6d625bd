package ical

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wetdown/solver/plant"
)

// short writes an event on a line: status, from, to, summary.
func short(events []Event) (list []string) {
	for _, e := range events {
		list = append(list, e.Status+" "+e.Start.String()+" "+e.End.String()+" "+e.Summary)
	}
	return list
}

// TestFeeds reads every feed of the plant off its plan. What is expected is written
// down from the plan in testdata/plant.yaml by hand: a bay is taken from hold to the
// end of the part of the day, a crew and a customer see the visit's own hours.
func TestFeeds(t *testing.T) {
	tests := []struct {
		what string
		of   func(*plant.Plant, string, Contact) ([]Event, error)
		id   string
		want []string
	}{
		{"bay", Bay, "floor_1", []string{
			"CONFIRMED 2027-03-12T11:30 2027-03-16T00:00 T-501: Final inspection",
			"CONFIRMED 2027-03-17T11:30 2027-03-19T00:00 T-504: Final inspection",
			"TENTATIVE 2027-03-22T11:30 2027-03-24T11:00 T-502: Final inspection",
		}},
		{"bay", Bay, "floor_2", []string{"TENTATIVE 2027-03-15T11:30 2027-03-17T00:00 T-503: Final inspection"}},
		{"bay", Bay, "pit", []string{
			"CONFIRMED 2027-02-22T07:00 2027-02-23T00:00 T-504: Pump certification",
			"CONFIRMED 2027-02-23T07:00 2027-02-24T00:00 T-502: Pump certification",
			"CONFIRMED 2027-02-24T07:00 2027-02-25T00:00 T-501: Pump certification",
			"CONFIRMED 2027-03-15T11:30 2027-03-16T00:00 T-501: Final inspection, Pump it",
			"CONFIRMED 2027-03-18T07:00 2027-03-18T11:00 T-504: Final inspection, Pump it",
		}},
		{"bay", Bay, "road", []string{"CONFIRMED 2027-03-15T07:00 2027-03-15T11:00 T-501: Final inspection, Drive it"}},
		{"crew", Crew, "hosts", []string{
			"CONFIRMED 2027-03-15T07:00 2027-03-15T15:30 Final inspection of truck T-501: Harrowlune Fire Department, 4 people",
			"TENTATIVE 2027-03-16T07:00 2027-03-16T15:30 Final inspection of truck T-503: Ostrafell Fire District, 1 person",
			"CONFIRMED 2027-03-18T07:00 2027-03-18T15:30 Final inspection of truck T-504: Harrowlune Fire Department, 2 people",
			"TENTATIVE 2027-03-23T07:00 2027-03-24T11:00 Final inspection of truck T-502: Ostrafell Fire District, 3 people",
		}},
		{"crew", Crew, "operators", []string{
			"CONFIRMED 2027-03-15T07:00 2027-03-15T15:30 Final inspection of truck T-501: Harrowlune Fire Department, 4 people",
			"CONFIRMED 2027-03-18T07:00 2027-03-18T15:30 Final inspection of truck T-504: Harrowlune Fire Department, 2 people",
		}},
		{"crew", Crew, "drivers", nil}, // no visit needs them
		{"customer", Customer, "harrowlune", []string{
			"CONFIRMED 2027-03-15T07:00 2027-03-15T15:30 Final inspection of truck T-501",
			"CONFIRMED 2027-03-18T07:00 2027-03-18T15:30 Final inspection of truck T-504",
		}},
		{"customer", Customer, "ostrafell", []string{"TENTATIVE 2027-03-23T07:00 2027-03-24T11:00 Final inspection of truck T-502"}},
	}
	p := vellimere(t)
	var texts [][]byte
	var want []object
	for _, tt := range tests {
		events, err := tt.of(p, tt.id, contact())
		if err != nil {
			t.Fatalf("%s %s: %v", tt.what, tt.id, err)
		}
		if diff := cmp.Diff(tt.want, short(events)); diff != "" {
			t.Errorf("%s %s (-want +got):\n%s", tt.what, tt.id, diff)
		}
		text, err := Feed(tt.what+" "+tt.id, time.Hour, events)
		if err != nil {
			t.Fatal(err)
		}
		if len(events) == 0 {
			continue // TestWrite_Methods has empty feeds
		}
		o := meant(publish, events...)
		o.Name, o.Refresh = tt.what+" "+tt.id, 3600
		o.Properties = strings.Fields("METHOD NAME PRODID REFRESH-INTERVAL VERSION")
		texts, want = append(texts, text), append(want, o)
	}
	same(t, texts, want)
}

// TestFeed_Crew spells out what a host is told.
func TestFeed_Crew(t *testing.T) {
	events, err := Crew(vellimere(t), "operators", contact())
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"Final inspection: 4 people from Harrowlune Fire Department.",
		"Mon 2027-03-15 from 07:00 to 15:30.",
		"The truck is lined up from Fri 2027-03-12 11:30.",
		"",
		"Pump operators needed:",
		"- 1 head for Pump it: Mon 2027-03-15 from 11:30 to 13:00",
		"",
		"The delegation wants:",
		"- Drive it: Mon 2027-03-15 from 07:00 to 08:30, at Test road",
		"- Pump it: Mon 2027-03-15 from 11:30 to 13:00, at Pump pit",
		"",
		"Cautions",
	}
	got := strings.Split(events[0].Description, "\n")
	if diff := cmp.Diff(want, got[:min(len(want), len(got))]); diff != "" {
		t.Errorf("the operators are told otherwise (-want +got):\n%s", diff)
	}
	if last := got[len(got)-1]; last != plant.Deferral {
		t.Errorf("the last line is %q, want who decides", last)
	}
}

// Visits that do not take place, and those of which nobody has promised a day, are
// in nobody's feed, or not in the customer's.
func TestFeeds_Off(t *testing.T) {
	p := vellimere(t)
	broken(p, p.FindVisit("V-504"))
	for _, tt := range []struct {
		of   func(*plant.Plant, string, Contact) ([]Event, error)
		id   string
		want int
	}{{Customer, "harrowlune", 1}, {Crew, "hosts", 3}, {Bay, "floor_1", 2}} {
		events, err := tt.of(p, tt.id, contact())
		if err != nil {
			t.Fatal(err)
		}
		if len(events) != tt.want || strings.Contains(strings.Join(short(events), "\n"), "T-504") {
			t.Errorf("%s: %q, want %d without T-504", tt.id, short(events), tt.want)
		}
	}
}

func TestFeeds_Refused(t *testing.T) {
	for _, tt := range []struct {
		what string
		of   func(*plant.Plant, string, Contact) ([]Event, error)
		id   string
	}{{"bay", Bay, "floor_1"}, {"crew", Crew, "hosts"}, {"customer", Customer, "harrowlune"}} {
		p := vellimere(t)
		if _, err := tt.of(p, "nobody\r\n", contact()); err == nil || !strings.Contains(err.Error(), "name one of its") || strings.ContainsAny(err.Error(), "\r\n") {
			t.Errorf("no such %s: %v", tt.what, err)
		}
		c := contact()
		c.Domain = "two words"
		if _, err := tt.of(p, tt.id, c); err == nil || !strings.Contains(err.Error(), "letters, digits, dots") {
			t.Errorf("%s: %v, want a refusal of the domain", tt.what, err)
		}
		p.Plan = nil
		if _, err := tt.of(p, tt.id, contact()); err == nil || !strings.Contains(err.Error(), "plan it first") {
			t.Errorf("%s without a plan: %v", tt.what, err)
		}
	}
}
