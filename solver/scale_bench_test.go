//go:build unix

package solver

import (
	"context"
	"flag"
	"fmt"
	"runtime"
	"syscall"
	"testing"
	"time"

	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// What BenchmarkPlan_Scale measures:
//
//	go test ./solver -run '^$' -bench Plan_Scale -benchtime 1x -v -timeout 0 -scale-trucks 400 -scale-seeds 3
var (
	scaleTrucks = flag.Int("scale-trucks", 20, "BenchmarkPlan_Scale: trucks of the generated plants")
	scaleFirst  = flag.Uint64("scale-first", 1, "BenchmarkPlan_Scale: seed of the first plant")
	scaleSeeds  = flag.Uint64("scale-seeds", 1, "BenchmarkPlan_Scale: plants, of as many seeds")
	scaleLimit  = flag.Duration("scale-limit", 10*time.Minute, "BenchmarkPlan_Scale: how long a proof may take")
)

// BenchmarkPlan_Scale measures how a plan from nothing grows with the number of
// trucks: processor seconds of this process (another process cannot lengthen them
// much), counts, which repeat exactly, and how far each tier was proven by when.
func BenchmarkPlan_Scale(b *testing.B) {
	for seed := *scaleFirst; seed < *scaleFirst+*scaleSeeds; seed++ {
		b.Run(fmt.Sprintf("trucks=%d/seed=%d", *scaleTrucks, seed), func(b *testing.B) {
			for range b.N {
				scale(b, seed)
			}
		})
	}
}

func scale(b *testing.B, seed uint64) {
	p := generate.Generate(generate.Options{Trucks: *scaleTrucks, Seed: seed, Load: 0.95})
	text := plant.Write(p)
	ctx, cancel := context.WithTimeout(context.Background(), *scaleLimit)
	defer cancel()
	begin := processor()
	p, faults := plant.Read("plant.yaml", text)
	if len(faults) > 0 {
		b.Fatal(faults[0])
	}
	tier := -1
	result, err := Plan(ctx, p, Options{Report: func(g Progress) {
		if n := g.Tier; n != tier {
			tier = n
			b.Logf("%7.2f s: tier %d begun, %v", (processor() - begin).Seconds(), n, g.Tiers)
		}
	}})
	if err != nil {
		b.Fatal(err)
	}
	cpu := processor() - begin
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	c := result.Counts
	b.Logf("%7.2f s: %s, %v; %+v; %d MB from the system", cpu.Seconds(), result.Status, result.Tiers, c, m.Sys>>20)
	b.ReportMetric(cpu.Seconds(), "cpu-s")
	b.ReportMetric(float64(c.SATCalls), "calls")
	b.ReportMetric(float64(m.Sys>>20), "MB")
}

// processor is the processor time that this process has used.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
