package api_test

import (
	"context"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/solver/plant"
)

// TestBegin_Dead has a request sent again while nothing is heard of the first: for some
// time it is told to wait, then it is carried out, and the first keeps nothing any more
// should it be alive after all.
func TestBegin_Dead(t *testing.T) {
	at := &hand{now: time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)}
	one, two := replicas(t, 2, api.Options{Clock: at.clock})
	slip := func(ctx context.Context, a *api.App) error {
		bay := newest(t, a).Plant.Bays[0].ID
		day := newest(t, a).Plant.AsOf.Date().AddDays(20)
		_, _, err := a.ReportSlip(ctx, manager, api.Intent{}, plant.Slip{Kind: plant.BayDown, Bay: bay, Over: plant.Range{From: day, Through: day}})
		return err
	}
	first, _, _, err := one.Begin(t.Context(), manager, "key", "a slip")
	if err != nil {
		t.Fatal(err)
	}
	at.pass(39 * time.Second)
	if _, _, _, err := two.Begin(t.Context(), manager, "key", "a slip"); problem(t, err) != api.Conflict {
		t.Fatalf("while the first may live: %v", err)
	}
	at.pass(time.Second)
	again, once, answer, err := two.Begin(t.Context(), manager, "key", "a slip")
	if err != nil || answer != nil {
		t.Fatalf("when it is dead: %v, %v", answer, err)
	}
	if err := slip(first, one); problem(t, err) != api.Conflict {
		t.Errorf("the first: %v", err)
	}
	if err := slip(again, two); err != nil {
		t.Error(err)
	}
	if err := two.Finish(t.Context(), once, &api.Answer{Status: 201}); err != nil {
		t.Error(err)
	}
	if _, _, answer, err := one.Begin(t.Context(), manager, "key", "a slip"); err != nil || answer == nil || answer.Status != 201 {
		t.Errorf("a third: %v, %v", answer, err)
	}
	if n := len(newest(t, one).Plant.Slips); n != 1 {
		t.Errorf("%d slips, want 1", n)
	}
}
