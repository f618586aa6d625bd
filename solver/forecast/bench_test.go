package forecast_test

import (
	"context"
	"flag"
	"fmt"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

var benchTrucks = flag.Int("forecast-trucks", 200, "trucks of the benchmarks' plant")

func BenchmarkReadiness(b *testing.B) {
	p := house(b, *benchTrucks, 1, 0.95)
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
	p := house(b, *benchTrucks, 1, 0.95)
	t, v := order()
	for _, runs := range []int{1000, 2000} {
		b.Run(fmt.Sprintf("%d trucks, %d runs", *benchTrucks, runs), func(b *testing.B) {
			for b.Loop() {
				q, err := forecast.Quoted(context.Background(), p, t, v, forecast.Options{Runs: runs, Seed: 1, Workers: 2})
				if err != nil {
					b.Fatal(err)
				}
				if testing.Verbose() {
					b.Logf("%+v", q)
				}
			}
		})
	}
}
