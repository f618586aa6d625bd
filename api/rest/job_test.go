package rest_test

import (
	"encoding/json"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// TestWaysOut_AtLeast reads what is answered when a search was ended before it had found the
// cheapest way.
func TestWaysOut_AtLeast(t *testing.T) {
	data, err := json.Marshal(rest.WaysOut(&plant.Plant{}, &api.RepairsAnswer{Goal: solver.Goal{Day: calendar.None}, AtLeast: 2800, Word: "Time ran out."}))
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
		t.Errorf("answered is %s", data)
	}
}
