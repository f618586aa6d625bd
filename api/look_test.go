package api_test

import (
	"context"
	"errors"
	"slices"
	"testing"

	"wetdown/api"
	"wetdown/solver/plant"
)

// A look says what a change would do to the plant and its plan, and does nothing.
func TestLook(t *testing.T) {
	ctx := context.Background()
	a := started(t, demoPlant(t))
	before, err := a.State(ctx, manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	look, err := a.LookPut(ctx, manager, "bays/pump-1", []byte(`{"id": "pump-1", "kinds": ["pump_test"], "closures": [{"from": "2027-03-01", "through": "2027-06-15"}]}`))
	if err != nil {
		t.Fatal(err)
	}
	if len(look.Changes) != 1 || look.Changes[0].Key != "bays/pump-1" || len(look.Before.Broken) != 0 || len(look.After.Broken) == 0 || look.Revision != before.Revision.Number {
		t.Errorf("%+v", look)
	}
	if look, err = a.LookDrop(ctx, manager, "customers/ghost"); err == nil {
		t.Errorf("%+v", look)
	}
	other := *before.Plant
	other.Buffer.NearDays++
	if look, err = a.LookLoad(ctx, manager, &other); err != nil || len(look.Changes) != 1 || look.Changes[0].Key != "buffer" {
		t.Errorf("%+v %v", look, err)
	}
	var p *api.Problem
	if _, err := a.LookPut(ctx, coordinator, "bays/pump-1", []byte(`{}`)); !errors.As(err, &p) || p.Kind != api.Forbidden {
		t.Errorf("a coordinator looks: %v", err)
	}
	after, err := a.State(ctx, manager, 0)
	if err != nil || after.Revision != before.Revision {
		t.Errorf("looking made revision %d: %v", after.Revision.Number, err)
	}
}

// A plant with a standard list keeps the rest of it when one element is set, added or
// taken away, though its file does not spell the list out.
func TestPut_StandardList(t *testing.T) {
	ctx := context.Background()
	p := demoPlant(t)
	p.Measures = plant.DefaultMeasures()
	a := started(t, p)
	first := p.Measures[0].ID
	if thing, err := a.Thing(ctx, manager, "measures/"+first); err != nil || thing.Text == "" {
		t.Fatal(thing, err)
	}
	if list, _, err := a.Things(ctx, manager, "measures"); err != nil || len(list) != len(p.Measures) {
		t.Fatal(len(list), err)
	}
	put := func(key, text string) *api.State {
		t.Helper()
		s, err := a.Put(ctx, manager, api.Intent{Expect: api.Expectation{Key: key, Revision: 2}}, key, []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := put("measures/loan", `{"id": "loan", "kind": "hired_bay", "bay_kind": "graphics", "dollars": 900}`)
	if n := len(s.Plant.Measures); n != len(p.Measures)+1 {
		t.Errorf("%d measures, of %d and one more", n, len(p.Measures))
	}
	s, err := a.Drop(ctx, manager, api.Intent{}, "measures/loan")
	if err != nil || !slices.EqualFunc(s.Plant.Measures, p.Measures, func(x, y plant.Measure) bool { return x.ID == y.ID }) {
		t.Errorf("%v %v", s.Plant.Measures, err)
	}
	if s, err = a.Drop(ctx, manager, api.Intent{}, "measures/"+first); err != nil || len(s.Plant.Measures) != len(p.Measures)-1 {
		t.Error(len(s.Plant.Measures), err)
	}
}
