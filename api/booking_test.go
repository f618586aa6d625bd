package api_test

import (
	"context"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestBook_GivenBack has every customer give their day back, one after the other. The plan
// keeps days on which others than they could still be given notice, gives up those that are
// too near, and breaks no rule.
func TestBook_GivenBack(t *testing.T) {
	p := generate.Generate(generate.Options{Trucks: 12, Seed: 3, Load: 0.7})
	p.Plan = nil
	a := started(t, p)
	ctx := context.Background()
	kept, near := 0, 0
	for i := range p.Visits {
		v := &p.Visits[i]
		if v.Booking.State != plant.Tentative && v.Booking.State != plant.Confirmed {
			continue
		}
		id := v.ID
		if v.Booking.State == plant.Confirmed {
			if _, err := a.Book(ctx, coordinator, api.Intent{}, id, api.BookingOrder{State: plant.Tentative, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
				t.Fatal(err)
			}
		}
		s, err := a.Book(ctx, coordinator, api.Intent{}, id, api.BookingOrder{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None})
		if err != nil {
			t.Fatal(err)
		}
		if fit := s.Fit(); len(fit.Broken) > 0 {
			t.Errorf("visit %s gave %s back: %s", id, v.Booking.Day, fit.Broken[0])
		}
		for _, o := range s.Plant.Plan.Visits {
			switch {
			case o.Visit == id && o.Outcome == plant.Broken:
				near++
			case o.Visit == id:
				kept++
			}
		}
	}
	if kept == 0 || near == 0 {
		t.Errorf("%d days kept and %d given up: the plant is of no use for this test", kept, near)
	}
}

// TestAsk_Each lets nobody fill all places of waiting questions.
func TestAsk_Each(t *testing.T) {
	one, _ := replicas(t, 60, api.Options{Clock: time.Now})
	ctx := t.Context()
	q := api.WhyQuestion{Day: calendar.None}
	for n := range 50 {
		if _, err := one.AskWhy(ctx, manager, q); err != nil {
			t.Fatalf("question %d: %v", n+1, err)
		}
	}
	if _, err := one.AskWhy(ctx, manager, q); problem(t, err) != api.Busy {
		t.Errorf("one more: %v", err)
	}
	if _, err := one.AskWhy(ctx, coordinator, q); err != nil {
		t.Errorf("somebody else: %v", err)
	}
}
