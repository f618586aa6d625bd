package plant

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
)

// orderPlant is the small house of the scripts.
func orderPlant(t *testing.T) *Plant {
	t.Helper()
	data, err := os.ReadFile("../../testdata/script/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, faults := Read("small.yaml", data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return p
}

// What an order brings to be warned of is told with the lines of its file, and
// nothing else of the plant.
func TestOrder_Warnings(t *testing.T) {
	p := orderPlant(t)
	text := []byte(`
wetdown: 1
truck: {customer: C1, kind: rescue, content: heavy, length_ft: 31.5, height_ft: 10}
visit:
  heads: 9
  halves: 2
`)
	o, faults := ReadOrder("order.yaml", text, p)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := "order.yaml:5:10: visit.heads: visit would-be-visit brings 9 people, more than 5: a lot to show round, feed and keep safe. Next: ask who of them decides, and whether all must come."
	if list := o.Warnings(p, "order.yaml", text); len(list) != 1 || list[0].String() != want {
		t.Errorf("got %v, want %s", list, want)
	}
	if len(Warnings(p, "small.yaml", nil)) == 0 {
		t.Error("the plant itself has nothing to warn of: this tests nothing")
	}
}

func TestReadOrder(t *testing.T) {
	p := orderPlant(t)
	o, faults := ReadOrder("order.yaml", []byte(`
wetdown: 1
customer: {id: N1, name: Tamberwick Fire Department, miles: 210}
truck: {kind: pumper, content: heavy, length_ft: 31.5, height_ft: 10, flow_gpm: 1250, options: [foam], graphics: stripes, enters: 2027-06-01}
visit: {heads: 2, halves: 3, wishes: [drive], travel_days: 1}
`), p)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := &Order{
		Customer: Customer{ID: "N1", Name: "Tamberwick Fire Department", Miles: 210},
		Truck: Truck{
			ID: "would-be", Customer: "N1", Kind: "pumper", Content: Heavy, LengthFt: 31.5, HeightFt: 10, FlowGPM: 1250,
			Options: []string{"foam"}, Graphics: "stripes",
			Contract: Contract{Due: calendar.NewDate(2027, 7, 30), Deadline: calendar.None, Weight: 1},
			Line:     Place{Since: calendar.None, Off: calendar.None, Enters: calendar.NewDate(2027, 6, 1)},
		},
		Visit: Visit{
			ID: "would-be-visit", Truck: "would-be", Kind: FinalInspection, Heads: 2, Halves: 3, TravelDays: 1, Wishes: []string{"drive"},
			Windows: []Range{{From: calendar.NewDate(2027, 5, 10), Through: calendar.NewDate(2027, 7, 30)}},
			Booking: Booking{State: Requested, Day: calendar.None, HoldUntil: calendar.None},
		},
	}
	if d := cmp.Diff(want, o); d != "" {
		t.Error(d)
	}
	if with := o.With(p); with.FindCustomer("N1") == nil || p.FindCustomer("N1") != nil || len(with.Customers) != len(p.Customers)+1 {
		t.Error("the customer must be in the copy alone")
	}

	// Without a visit and with a customer of the plant.
	o, faults = ReadOrder("order.yaml", []byte("wetdown: 1\ntruck: {customer: C1, kind: rescue, content: light, length_ft: 30, height_ft: 10}\n"), p)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if o.Visit.ID != "" || o.Customer.ID != "" || o.With(p) != p {
		t.Errorf("visit %q, customer %q", o.Visit.ID, o.Customer.ID)
	}
	if o.Truck.Line.Enters != calendar.None {
		t.Errorf("it enters on %s, and nobody said so", o.Truck.Line.Enters)
	}
}

// Faults are those of the order alone, at their places in the order file.
func TestReadOrderFaults(t *testing.T) {
	p := orderPlant(t)
	for _, c := range []struct{ text, want string }{
		{"", "order.yaml:1: the file is empty"},
		{"truck: {}", "this is no plant file: the key wetdown is missing"},
		{"wetdown: 1\n", "order.yaml:1:1: truck: the key truck is missing"},
		{"wetdown: 1\ntruck: {kind: pumper, content: light, length_ft: 30, height_ft: 10}", "order.yaml:2:8: truck.customer: the key customer is missing"},
		{"wetdown: 1\ntruck: {customer: C9, kind: pumper, content: light, length_ft: 30, height_ft: 10}", `truck.customer: there is no customer "C9"`},
		{"wetdown: 1\ntruck: {id: A1, customer: C1, kind: pumper, content: light, length_ft: 30, height_ft: 10}", `truck.id: "A1" is there twice`},
		{"wetdown: 1\ntruck: {customer: C1, kind: pumper, content: light, length_ft: 30, height_ft: 10, contract: {due: 2027-07-01}}", `truck.contract: "contract" is no key here`},
		{"wetdown: 1\ntruck: {customer: C1, kind: pumper, content: light, length_ft: 30, height_ft: 10}\nvisit: {heads: 2}", "order.yaml:3:8: visit.halves: the key halves is missing"},
		{"wetdown: 1\ntruck: {customer: C1, kind: pumper, content: light, length_ft: 30, height_ft: 10}\nvisit: {heads: 2, halves: 1, kind: pre_paint}", "visit.kind: no stage of the route is a visit of the kind pre_paint"},
		{"wetdown: 1\ncustomer: {id: C1, name: Again}\ntruck: {kind: pumper, content: light, length_ft: 30, height_ft: 10}", `customer.id: "C1" is there twice`},
		{"wetdown: 1\ntruck: {customer: C1, kind: pumper, content: light, length_ft: 45, height_ft: 10}\nvisit: {heads: 2, halves: 1}", "45"}, // longer than every floor position
	} {
		o, faults := ReadOrder("order.yaml", []byte(c.text), p)
		if o != nil || len(faults) == 0 {
			t.Errorf("%q: no faults", c.text)
			continue
		}
		var all []string
		for _, f := range faults {
			all = append(all, f.String())
			if f.Line == 0 || f.Next == "" {
				t.Errorf("%q: without a line or a next step: %s", c.text, f)
			}
		}
		if len(all) > 1 || !strings.Contains(all[0], c.want) {
			t.Errorf("%q: got %s, want one with %s", c.text, strings.Join(all, "\n"), c.want)
		}
	}
}
