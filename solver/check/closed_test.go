package check

import (
	"os"
	"testing"

	"wetdown/solver/plant"
)

// TestFailsClosed takes a row away from the judge behind his back: with nothing
// to complain about, he must see that he has not looked at everything.
func TestFailsClosed(t *testing.T) {
	data, err := os.ReadFile("../../testdata/refused/plant.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, faults := plant.Read("plant.yaml", data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	h, err := open(p, p.Plan)
	if err != nil {
		t.Fatal(err)
	}
	h.rows = h.rows[1:]
	v := h.judge()
	if v.Right() || len(v.Broken) != 1 || v.Broken[0].Rule != "complete" || v.Looked != v.Asked-1 {
		t.Errorf("got %+v", v)
	}
}
