package rest

import (
	"encoding/json"
	"reflect"
	"testing"

	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// TestMemo_Whole puts the JSON of plants together of their pieces: it says what that of the
// plant file says, also when most of it is known from another plant.
func TestMemo_Whole(t *testing.T) {
	var m memo
	demo, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	other := *demo
	other.Name = `a "quoted" name: {with} [marks]`
	list := []*plant.Plant{demo, &other, {Name: "empty"}}
	for seed := range uint64(4) {
		p := generate.Generate(generate.Options{Trucks: 3 + 9*int(seed), Seed: seed, Load: 0.9, Slips: seed%2 == 0, LinedUp: seed > 1})
		if seed > 0 {
			r, err := solver.Plan(t.Context(), p, solver.Options{})
			if err != nil {
				t.Fatal(err)
			}
			p.Plan = r.Plan
		}
		list = append(list, p)
	}
	for i, p := range list {
		got, err := m.whole(plant.Split(p))
		if err != nil {
			t.Fatalf("plant %d: %v", i, err)
		}
		want, err := toJSON(plant.Write(p))
		if err != nil {
			t.Fatal(err)
		}
		var a, b any
		if err := json.Unmarshal(got, &a); err != nil {
			t.Fatalf("plant %d: %v in %.400s", i, err, got)
		}
		if err := json.Unmarshal(want, &b); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			t.Errorf("plant %d: pieces say\n%.2000s\nthe file\n%.2000s", i, got, want)
		}
	}
}
