package api_test

import (
	"context"
	"testing"

	"wetdown/api"
	"wetdown/solver/plant"
)

// TestUndo_Calls takes back a plan after one customer of several was told of it: that one is
// to be called again, the others need not be called at all.
func TestUndo_Calls(t *testing.T) {
	ctx := context.Background()
	a := started(t, demoPlant(t))
	if _, _, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: "H1019", Days: 15, Clock: "supplier"}); err != nil {
		t.Fatal(err)
	}
	accepted(t, a, api.ProposeQuestion{})
	open := func() []*api.Call {
		t.Helper()
		list, err := a.Calls(ctx, coordinator, api.CallOpen, api.Page{})
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	calls := open()
	if len(calls) < 2 {
		t.Fatalf("%d calls", len(calls))
	}
	var one *api.Call
	for _, c := range calls {
		if c.Move != nil {
			one = c
		}
	}
	if one == nil {
		t.Fatal("no call is about a visit that moves")
	}
	if _, err := a.TickCall(ctx, coordinator, one.ID, true, "they take it"); err != nil {
		t.Fatal(err)
	}
	s, err := a.Undo(ctx, manager, api.Intent{}, newest(t, a).Revision.Number)
	if err != nil {
		t.Fatal(err)
	}
	left := open()
	if len(left) != 1 || left[0].Visit != one.Visit || left[0].Revision != s.Revision.Number || left[0].Move == nil || left[0].Move.To != one.Move.From || left[0].Move.From != one.Move.To {
		t.Errorf("after the way back %d calls: %+v", len(left), left)
	}
}
