package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A twice is a store that runs every update twice and keeps what the second run wrote, as
// stores may.
type twice struct{ api.Store }

func (s twice) Update(ctx context.Context, f func(api.Tx) error) error {
	undone := errors.New("the first run is undone")
	err := s.Store.Update(ctx, func(tx api.Tx) error {
		if err := f(tx); err != nil {
			return err
		}
		return undone
	})
	if !errors.Is(err, undone) {
		return err
	}
	return s.Store.Update(ctx, f)
}

// TestUpdate_Twice goes through what is kept in records, on a store that runs every update
// twice.
func TestUpdate_Twice(t *testing.T) {
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "wetdown.db"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	a := api.New(twice{db}, api.Options{Clock: func() time.Time { return now }})
	a.Serve(inline{a})
	defer func() {
		if err := errors.Join(db.Check(ctx), a.Close(), db.Close()); err != nil {
			t.Error(err)
		}
	}()
	p := demoPlant(t)
	if _, err := a.Load(ctx, manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	if err := a.SetSettings(ctx, manager, api.Settings{}); err != nil {
		t.Fatal(err)
	}
	before := newest(t, a).Revision.Number
	one := accepted(t, a, api.ProposeQuestion{Slips: []string{}})
	if one.State != api.ProposalAccepted || newest(t, a).Revision.Number > before+1 {
		t.Errorf("the proposal is %s, and there are revisions up to %d", one.State, newest(t, a).Revision.Number)
	}
	two := proposed(t, a, api.ProposeQuestion{Slips: []string{}})
	if two, err = a.DropProposal(ctx, manager, two.ID); err != nil || two.State != api.ProposalDropped {
		t.Errorf("%v: %+v", err, two)
	}
	if list, err := a.Proposals(ctx, manager, "", api.Page{}); err != nil || len(list) != 2 {
		t.Errorf("%v: %d proposals, want 2", err, len(list))
	}
	t.Run("quote", func(t *testing.T) {
		truck := plant.Truck{
			ID: "would-be", Customer: p.Customers[0].ID, Kind: "pumper", Content: plant.Medium, LengthFt: 30, HeightFt: 9, FlowGPM: 1250,
			Contract: plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1},
			Line:     plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None},
		}
		j, err := a.AskQuote(ctx, manager, api.QuoteQuestion{Order: solver.Order{Truck: truck}, Note: "for a friend"})
		if err != nil {
			t.Fatal(err)
		}
		if j, err = a.Job(ctx, manager, j.ID); err != nil || j.State != api.JobDone {
			t.Fatalf("%v: %+v", err, j)
		}
		var said api.Quote
		if err := json.Unmarshal(j.Answer, &said); err != nil {
			t.Fatal(err)
		}
		kept, err := a.Quote(ctx, manager, j.ID)
		if err != nil || kept.Note != "for a friend" || kept.At != said.At {
			t.Errorf("%v: kept is %+v", err, kept)
		}
	})
	t.Run("way out", func(t *testing.T) {
		if _, _, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: onLine(newest(t, a).Plant), Days: 2, Clock: "plant"}); err != nil {
			t.Fatal(err)
		}
		j, err := a.AskRepairs(ctx, coordinator, api.RepairsQuestion{Day: calendar.None})
		if err != nil {
			t.Fatal(err)
		}
		way, err := a.ProposeWayOut(ctx, manager, j.ID, 0)
		if err != nil {
			t.Fatal(err)
		}
		if way, err = a.Accept(ctx, manager, api.Intent{}, way.ID); err != nil || way.State != api.ProposalAccepted {
			t.Fatalf("%v: %+v", err, way)
		}
	})
}
