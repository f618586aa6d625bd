package solver

import (
	"context"
	"flag"
	"testing"

	"wetdown/solver/generate"
)

// What the benchmark of Weigh measures:
//
//	go test ./solver -run '^$' -bench Weigh -benchtime 1x -v -timeout 0 -worth-trucks 200 -worth-top 10
var (
	worthTrucks = flag.Int("worth-trucks", 40, "BenchmarkWeigh: trucks of the generated plant, seed 1, at a load of 0.95")
	worthTop    = flag.Int("worth-top", 10, "BenchmarkWeigh: how many of the days lost are worked out; 0: all")
)

// BenchmarkWeigh works out what the days of a plant are worth, and tells apart what was
// known without a planning.
func BenchmarkWeigh(b *testing.B) {
	p := generate.Generate(generate.Options{Trucks: *worthTrucks, Seed: 1, Load: 0.95})
	r, err := Plan(context.Background(), p, Options{})
	if err != nil || r.Plan == nil {
		b.Fatal(r, err)
	}
	p.Plan = r.Plan
	for b.Loop() {
		w, err := Weigh(context.Background(), p, Scope{Top: *worthTop})
		if err != nil {
			b.Fatal(err)
		}
		solved, nothing, less := 0, 0, 0
		for i := range w.Days {
			switch s := &w.Days[i]; {
			case s.Solved:
				solved++
			case s.Less:
				less++
			case s.Exact() && !s.Differs():
				nothing++
			}
		}
		b.ReportMetric(float64(w.Asked), "plannings")
		b.ReportMetric(float64(len(w.Days)), "days")
		b.ReportMetric(float64(solved), "days-planned")
		b.ReportMetric(float64(nothing), "days-known-to-cost-nothing")
		b.ReportMetric(float64(less), "days-proven-less")
		b.ReportMetric(float64(len(w.More)), "more")
	}
}
