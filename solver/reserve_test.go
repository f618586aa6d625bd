package solver

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestReserve sells all free places on the line of a plant, one after the other. Every
// order gets the day that it was quoted, every promise made before is kept, and
// there is one order for each place and no more.
func TestReserve(t *testing.T) {
	ctx := context.Background()
	p := generate.Generate(generate.Options{Trucks: 6, Seed: 3, Load: 0.8})
	p.Plan = optimal(t, p).Plan
	p.Horizon.Through += 120
	p.Line.FreeSlots = []plant.FreeSlot{{Week: p.AsOf.Date() + 14, Content: plant.Medium, Count: 2}, {Week: p.AsOf.Date() + 28, Content: plant.Medium, Count: 1}}
	first := p.Trucks[0]
	hold := plant.Reserved{Until: p.AsOf.Date() + 20, For: "a customer who thinks about it"}
	order := func(id string) Order {
		o := Order{
			Truck: plant.Truck{ID: id, Customer: first.Customer, Kind: "pumper", Content: plant.Medium, LengthFt: 30, HeightFt: 9, Contract: plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1}},
			Visit: plant.Visit{ID: id + "-F", Truck: id, Kind: plant.FinalInspection, Heads: 2, Halves: 1},
		}
		o.Truck.Line = plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None}
		return o
	}
	delivered := map[string]calendar.Date{}
	for _, id := range []string{"N-1", "N-2", "N-3"} {
		quoted, err := Quote(ctx, p, order(id), Options{})
		if err != nil {
			t.Fatal(err)
		}
		before := p
		r, with, err := Reserve(ctx, p, order(id), hold, Options{})
		if err != nil || with == nil {
			t.Fatal(r, err)
		}
		if r.Delivery != quoted.Delivery || r.LineOff != quoted.LineOff {
			t.Errorf("%s: quoted for %s, reserved for %s", id, quoted.Delivery, r.Delivery)
		}
		if faults := plant.Validate(with); len(faults) > 0 {
			t.Fatal(faults)
		}
		if v := check.Plan(with, with.Plan); !v.Right() {
			t.Error(v.Broken)
		}
		for _, o := range before.Plan.Visits {
			if v := before.FindVisit(o.Visit); v.Booking.State == plant.Confirmed && with.Plan.Day(o.Visit) != o.Day {
				t.Errorf("%s: visit %s moved from %s to %s", id, o.Visit, o.Day, with.Plan.Day(o.Visit))
			}
		}
		v := with.FindVisit(id + "-F")
		if tr := with.FindTruck(id); tr.Reserved != hold || tr.Contract.Due != r.Delivery || v.Booking.State != plant.Tentative || v.Booking.Day != r.Visit || v.Booking.HoldUntil > hold.Until {
			t.Errorf("%s: %+v, %+v", id, tr, v.Booking)
		}
		delivered[id] = r.Delivery
		p = with
	}
	// Who was promised first keeps the day when others are sold after.
	for id, day := range delivered {
		if d := deliveryOf(p, id); d > day {
			t.Errorf("%s was promised for %s and is delivered on %s", id, day, d)
		}
	}
	if _, _, err := Reserve(ctx, p, order("N-4"), hold, Options{}); !errors.Is(err, plant.ErrNoSlot) {
		t.Errorf("a fourth order for three places: %v", err)
	}
	if n := p.Line.FreeSlots[0].Count + p.Line.FreeSlots[1].Count; n != 0 {
		t.Errorf("%d places are left of three that were sold", n)
	}
}

func deliveryOf(p *plant.Plant, truck string) calendar.Date {
	i := slices.IndexFunc(p.Plan.Stages, func(r plant.Planned) bool {
		return r.Truck == truck && p.FindStage(r.Stage) != nil && p.FindStage(r.Stage).Delivers
	})
	return (p.Plan.Stages[i].End - 1).Date()
}

// TestQuote_NoTime has no time for the search: what is not known is not said to be ruled out.
func TestQuote_NoTime(t *testing.T) {
	unknown := 0
	for seed := range uint64(10) {
		p := generate.Generate(generate.Options{Trucks: 12, Seed: seed, Load: 1.1})
		p.Plan = optimal(t, p).Plan
		p.Horizon.Through = deliveredBy(p) + 1
		p.Line.FreeSlots = nil
		o := Order{Truck: plant.Truck{
			ID: "N-1", Customer: p.Trucks[0].Customer, Kind: "pumper", Content: plant.Medium, LengthFt: 30, HeightFt: 9, Contract: plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1},
			Line: plant.Place{Enters: p.AsOf.Date() + 7, Since: calendar.None, Off: calendar.None},
		}}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		r, err := Quote(ctx, p, o, Options{})
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Join(r.Sentences, " ")
		switch r.Status {
		case plant.Optimal:
			t.Errorf("seed %d: proven without a search", seed)
		case plant.Unknown:
			unknown++
			if r.Delivery != calendar.None || !strings.Contains(said, "none is ruled out") || strings.Contains(said, "leaves every promise alone") {
				t.Errorf("seed %d: %s", seed, said)
			}
		}
	}
	if unknown == 0 {
		t.Error("every order found its day by hand")
	}
}

// deliveredBy is the day on which the last truck is delivered.
func deliveredBy(p *plant.Plant) calendar.Date {
	last := p.AsOf.Date()
	for _, r := range p.Plan.Stages {
		last = max(last, (r.End - 1).Date())
	}
	return last
}
