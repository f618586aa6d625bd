package api_test

import (
	"encoding/json"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/history"
)

// TestBacktest compares the answer with package history, asked about the same table, and
// looks that the same history makes no second job, while another does.
func TestBacktest(t *testing.T) {
	a := started(t, demoPlant(t))
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(40, 7), 0); err != nil {
		t.Fatal(err)
	}
	ask := func() *api.Job {
		t.Helper()
		j, err := a.AskBacktest(ctx, who(api.RoleReader))
		if err == nil {
			j, err = a.Job(ctx, manager, j.ID)
		}
		if err != nil || j.State != api.JobDone {
			t.Fatal(j, err)
		}
		return j
	}
	j := ask()
	var got history.Report
	if err := json.Unmarshal(j.Answer, &got); err != nil {
		t.Fatal(err)
	}
	s := newest(t, a)
	var events []history.Event
	for _, r := range pastOf(t, a) {
		events = append(events, r.Told())
	}
	want, err := history.New(events, history.Options{Route: s.Plant.Route}).Backtest(ctx, s.Plant.AsOf.Date())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the report", got, want)
	if want.Scored == 0 || want.AsOf == calendar.None {
		t.Errorf("nothing is scored: %+v", want)
	}
	if again := ask(); again.ID != j.ID {
		t.Error("the same history is asked about by a second job")
	}
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(41, 7), 0); err != nil {
		t.Fatal(err)
	}
	if other := ask(); other.ID == j.ID {
		t.Error("another history is answered by the same job")
	}
}
