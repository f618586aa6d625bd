package wire

import (
	"encoding/json"
	"testing"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// TestToRepairs_AtLeast reads what is written when a search was ended before it had found
// the cheapest way.
func TestToRepairs_AtLeast(t *testing.T) {
	p := &plant.Plant{}
	r := &solver.Repairs{Goal: solver.Goal{Day: calendar.None}, Nothing: &solver.Repair{Plant: p}, AtLeast: 2800, Word: "Time ran out."}
	data, err := json.Marshal(ToRepairs(p, r, 0.5))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Whole   *bool  `json:"whole"`
		AtLeast *int64 `json:"at_least"`
	}
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	if got.Whole == nil || *got.Whole || got.AtLeast == nil || *got.AtLeast != 2800 {
		t.Errorf("written is %s", data)
	}
}
