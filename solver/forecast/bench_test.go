package forecast_test

import (
	"context"
	"flag"
	"fmt"
	"testing"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

var benchTrucks = flag.Int("forecast-trucks", 200, "trucks of the benchmarks' plant")

// large is a plant with some plan in force, not proven the best.
func large(b *testing.B) *plant.Plant {
	b.Helper()
	p := generate.Generate(generate.Options{Trucks: *benchTrucks, Seed: 1, Load: 0.95})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	r, err := solver.Plan(ctx, p, solver.Options{Report: func(g solver.Progress) {
		if g.Plan != nil {
			cancel()
		}
	}})
	if err != nil || r.Plan == nil {
		b.Fatalf("no plan: %v", err)
	}
	p.Plan = r.Plan
	return p
}

func BenchmarkReadiness(b *testing.B) {
	p := large(b)
	for _, runs := range []int{500, 1000, 2000} {
		b.Run(fmt.Sprintf("%d trucks, %d runs", *benchTrucks, runs), func(b *testing.B) {
			for b.Loop() {
				if _, err := forecast.Readiness(context.Background(), p, forecast.Options{Runs: runs, Seed: 1, Workers: 2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// order is a would-be pumper with a visit.
func order() (plant.Truck, plant.Visit) {
	t := plant.Truck{
		ID: "would-be", Customer: "C001", Kind: "pumper", Content: plant.Medium, LengthFt: 32, HeightFt: 10, FlowGPM: 1500, Graphics: "gold_leaf",
		Contract: plant.Contract{Due: calendar.NewDate(2028, 1, 31), Deadline: calendar.None, Weight: 1},
		Line:     plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None},
	}
	v := plant.Visit{ID: "would-be-visit", Truck: t.ID, Kind: plant.FinalInspection, Heads: 3, Halves: 2}
	return t, v
}

func BenchmarkQuoted(b *testing.B) {
	p := large(b)
	t, v := order()
	for _, runs := range []int{500, 1000, 2000} {
		b.Run(fmt.Sprintf("%d trucks, %d runs", *benchTrucks, runs), func(b *testing.B) {
			for b.Loop() {
				if _, err := forecast.Quoted(context.Background(), p, t, v, forecast.Options{Runs: runs, Seed: 1, Workers: 2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
