package forecast

import (
	"testing"

	"wetdown/solver/generate"
)

// TestOnce_AllocatesNothing: a run uses the room it has.
func TestOnce_AllocatesNothing(t *testing.T) {
	p := generate.Generate(generate.Options{Trucks: 40, Seed: 1, Load: 0.95})
	g, err := gridOf(p)
	if err != nil {
		t.Fatal(err)
	}
	m, err := compile(p, g, "", "", &Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.ops) < 100 {
		t.Fatalf("only %d ops", len(m.ops))
	}
	r := newRoom(&m.shop)
	run := 0
	if n := testing.AllocsPerRun(50, func() { m.once(r, run, free); run++ }); n > 0 {
		t.Errorf("%v allocations in a run", n)
	}
}
