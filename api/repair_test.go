package api_test

import (
	"context"
	"encoding/json"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Ways out of a slip are found by a job; one of them becomes a proposal, and is
// accepted.
func TestRepairs(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	p := newest(t, a).Plant
	if _, _, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: onLine(p), Days: 6, Clock: "plant"}); err != nil {
		t.Fatal(err)
	}
	j, err := a.AskRepairs(ctx, coordinator, api.RepairsQuestion{Day: calendar.None})
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, manager, j.ID); err != nil || j.State != api.JobDone {
		t.Fatalf("%v: %+v", err, j)
	}
	var r api.RepairsAnswer
	if err := json.Unmarshal(j.Answer, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.List) == 0 || r.Nothing.Sentence == "" {
		t.Fatalf("nothing helps: %+v", r)
	}
	if _, err := a.ProposeWayOut(ctx, manager, j.ID, len(r.List)+1); problem(t, err) != api.Invalid {
		t.Errorf("a way out that there is not: %v", err)
	}
	before := newest(t, a).Revision.Number
	one, err := a.ProposeWayOut(ctx, manager, j.ID, 1)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := a.ProposeWayOut(ctx, manager, j.ID, 1); err != nil || again.ID != one.ID || again.Seq != one.Seq {
		t.Errorf("asked twice: %v %v", again, err)
	}
	if newest(t, a).Revision.Number != before {
		t.Error("a way out was taken before anybody accepted it")
	}
	if _, err := a.Accept(ctx, manager, api.Intent{}, one.ID); err != nil {
		t.Fatal(err)
	}
	after := newest(t, a)
	if f := after.Fit(); len(f.Broken) > 0 {
		t.Error(f.Broken[0])
	}
	if len(after.Plant.Slips) != 0 {
		t.Error("the slips are still open")
	}
	if d := tier(after.Fit().Tiers, plant.TierDamages); d != r.List[0].Damages {
		t.Errorf("damages are %d, the way out said %d", d, r.List[0].Damages)
	}
}

func tier(list []plant.TierValue, name string) int64 {
	for _, t := range list {
		if t.Name == name {
			return t.Value
		}
	}
	return -1
}

// onLine is a truck that is still on the line.
func onLine(p *plant.Plant) string {
	for i := range p.Trucks {
		if p.Trucks[i].Line.Off == calendar.None {
			return p.Trucks[i].ID
		}
	}
	return ""
}
