package solver

import (
	"context"
	"flag"
	"fmt"
	"slices"
	"testing"
	"time"

	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// What the benchmarks of the desk measure:
//
//	go test ./solver -run '^$' -bench Desk -benchtime 1x -v -timeout 0 -desk-trucks 200 -desk-seeds 3
var (
	deskTrucks = flag.Int("desk-trucks", 40, "BenchmarkDesk: trucks of the generated plants, at a load of 0.95")
	deskSeeds  = flag.Uint64("desk-seeds", 1, "BenchmarkDesk: plants, of seeds from 1 on")
)

// A timing is one question asked warm and cold.
type timing struct{ warm, first, cold float64 }

func median(list []timing, of func(timing) float64) float64 {
	var v []float64
	for _, t := range list {
		v = append(v, of(t))
	}
	slices.Sort(v)
	return v[len(v)/2]
}

func eachDesk(b *testing.B, ask func(d *Desk, p *plant.Plant, slips []plant.Slip) []timing) {
	var all []timing
	for range b.N {
		all = all[:0]
		for seed := uint64(1); seed <= *deskSeeds; seed++ {
			p := generate.Generate(generate.Options{Trucks: *deskTrucks, Seed: seed, Load: 0.95, Slips: true})
			slips := p.Slips
			p.Slips = nil
			d, err := Open(context.Background(), p, Options{Clock: time.Now})
			if err != nil {
				b.Fatal(err)
			}
			own, err := d.Plant()
			if err != nil {
				b.Fatal(err)
			}
			all = append(all, ask(d, own, slips)...)
		}
	}
	if len(all) == 0 {
		b.Fatal("nothing was asked")
	}
	b.ReportMetric(median(all, func(t timing) float64 { return t.warm }), "warm-s")
	b.ReportMetric(median(all, func(t timing) float64 { return t.first }), "first-s")
	b.ReportMetric(median(all, func(t timing) float64 { return t.cold }), "cold-s")
	b.ReportMetric(median(all, func(t timing) float64 { return t.warm / t.cold }), "warm/cold")
	b.ReportMetric(0, "ns/op")
}

func since(begin time.Time) float64 { return time.Since(begin).Seconds() }

// BenchmarkDesk_Slip answers one slip after the other at a desk, each from the same
// plan, and plans the same plant from nothing: medians, to the proof of all tiers.
// first-s is the time to the first judged answer.
func BenchmarkDesk_Slip(b *testing.B) {
	eachDesk(b, func(d *Desk, p *plant.Plant, slips []plant.Slip) (list []timing) {
		for _, s := range slips {
			begin := time.Now()
			a, err := d.Slip(context.Background(), s)
			if err != nil || a.Result.Status != plant.Optimal {
				b.Fatalf("%v: %v", a, err)
			}
			t := timing{warm: since(begin), first: a.Result.Seconds.First}
			if _, err := d.Undo(); err != nil {
				b.Fatal(err)
			}
			begin = time.Now()
			cold, err := Plan(context.Background(), a.After, Options{})
			if err != nil || fmt.Sprint(cold.Tiers) != fmt.Sprint(a.Result.Tiers) {
				b.Fatalf("cold %v, warm %v: %v", cold, a.Result, err)
			}
			t.cold = since(begin)
			b.Logf("%-14s warm %6.3f s (first %.3f), cold %6.3f s", s.Kind, t.warm, t.first, t.cold)
			list = append(list, t)
		}
		return list
	})
}

// BenchmarkDesk_Offers asks for all days of every tenth truck, warm and from nothing.
func BenchmarkDesk_Offers(b *testing.B) {
	eachDesk(b, func(d *Desk, p *plant.Plant, _ []plant.Slip) (list []timing) {
		for i := 0; i < len(p.Trucks); i += max(1, len(p.Trucks)/10) {
			begin := time.Now()
			warm, err := d.Offers(context.Background(), p.Trucks[i].ID)
			if err != nil {
				continue // it has no visit
			}
			t := timing{warm: since(begin)}
			t.first = t.warm
			begin = time.Now()
			cold, err := Offers(context.Background(), p, p.Trucks[i].ID, Options{})
			if err != nil || decided(warm) != decided(cold) {
				b.Fatalf("%s: warm %s cold %s (%v)", p.Trucks[i].ID, decided(warm), decided(cold), err)
			}
			t.cold = since(begin)
			b.Logf("%s: %d days offered, %d refused, warm %.3f s, cold %.3f s", p.Trucks[i].ID, len(warm.Offers), len(warm.Refused), t.warm, t.cold)
			list = append(list, t)
		}
		return list
	})
}
