package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"testing"

	"wetdown/api"
	"wetdown/solver"
)

// What days are worth is answered by a job, as the planner answers it, and changes nothing.
func TestWorth(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	p := newest(t, a).Plant
	before := newest(t, a).Revision.Number
	q := api.WorthQuestion{Bays: []string{p.Bays[0].ID, p.Bays[1].ID}, Crews: []string{p.Crews[0].ID}}
	j, err := a.AskWorth(ctx, manager, q)
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, manager, j.ID); err != nil || j.State != api.JobDone {
		t.Fatalf("%v: %+v", err, j)
	}
	direct, err := solver.Weigh(ctx, p, solver.Scope{Bays: q.Bays, Crews: q.Crews})
	if err != nil {
		t.Fatal(err)
	}
	want, err := json.Marshal(direct)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(j.Answer, want) {
		t.Errorf("the job answers\n%s\nand the planner\n%s", j.Answer, want)
	}
	if len(direct.Days)+len(direct.None) != 3 {
		t.Errorf("%d days lost and %d without one, of two bays and a crew", len(direct.Days), len(direct.None))
	}
	var back solver.Worth
	if err := json.Unmarshal(j.Answer, &back); err != nil {
		t.Fatal(err)
	}
	for i := range back.Days {
		if got, want := back.Days[i].Sentence(p), direct.Days[i].Sentence(p); got != want {
			t.Errorf("kept, it says %q, and said %q", got, want)
		}
	}
	if newest(t, a).Revision.Number != before {
		t.Error("asking what days are worth has changed the plant")
	}
	for name, q := range map[string]api.WorthQuestion{
		"a truck": {Trucks: []string{"none"}}, "a bay": {Bays: []string{"none"}}, "a crew": {Crews: []string{"none"}},
	} {
		if _, err := a.AskWorth(ctx, manager, q); problem(t, err) != api.NotFound {
			t.Errorf("%s that there is not: %v", name, err)
		}
	}
	if _, err := a.AskWorth(ctx, manager, api.WorthQuestion{Top: -1}); problem(t, err) != api.Invalid {
		t.Errorf("less than no days: %v", err)
	}
}

// A plant that has no plan yet has no day to lose.
func TestWorth_NoPlan(t *testing.T) {
	a := started(t, demoPlant(t))
	if _, err := a.Load(context.Background(), manager, api.Intent{}, demoPlant(t)); err != nil { // without its plan
		t.Fatal(err)
	}
	if newest(t, a).Plant.Plan != nil {
		t.Fatal("the plant has a plan")
	}
	j, err := a.AskWorth(context.Background(), manager, api.WorthQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(context.Background(), manager, j.ID); err != nil || j.State != api.JobFailed || j.Problem.Kind != api.Conflict {
		t.Errorf("%v: %+v, want it told that there is no plan", err, j)
	}
}
