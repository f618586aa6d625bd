package check_test

import (
	"os"
	"testing"

	"wetdown/solver/check"
	"wetdown/solver/plant"
)

const refused = "../../testdata/refused/"

// text returns the small plant with the right plan, as a file.
func text(t testing.TB) string {
	t.Helper()
	data, err := os.ReadFile(refused + "plant.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// read reads a plant file.
func read(t testing.TB, text string) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("plant.yaml", []byte(text))
	for _, f := range faults {
		t.Error(f)
	}
	if p == nil {
		t.FailNow()
	}
	return p
}

// right returns the small plant with the right plan.
func right(t testing.TB) *plant.Plant { return read(t, text(t)) }

// complain prints what the judge found.
func complain(t testing.TB, v check.Verdict) {
	t.Helper()
	for _, b := range v.Broken {
		t.Errorf("%s: %s", b.Rule, b.Sentence)
	}
}

func TestRightPlan(t *testing.T) {
	p := right(t)
	v := check.Plan(p, p.Plan)
	complain(t, v)
	if !v.Right() {
		t.Errorf("Right() = false, asked %d, looked %d", v.Asked, v.Looked)
	}
	t.Log(v.Tiers, v.Asked, v.Looked)
	if broken, whole := newOracle(t, p).judge(p.Plan); len(broken) > 0 || !whole {
		t.Errorf("the oracle says %s", words(broken))
	}
}
