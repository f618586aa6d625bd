package api_test

import (
	"context"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/solver/generate"
)

// BenchmarkPast asks what rests on a history of 2,000 trucks, some 9,600 projections, again
// and again while the plant does not change.
func BenchmarkPast(b *testing.B) {
	ctx := context.Background()
	a := started(b, generate.Generate(generate.Options{Trucks: 8, Seed: 3, Load: 0.8}))
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(2000, 7), 0); err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		ask  func() error
	}{
		{"on time", func() error { _, err := a.OnTime(ctx, manager, "customer"); return err }},
		{"outcomes of quotes", func() error { _, err := a.QuoteOutcomes(ctx, manager, api.Page{}); return err }},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if err := c.ask(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
