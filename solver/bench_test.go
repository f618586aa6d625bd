package solver

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"wetdown/solver/generate"
	"wetdown/solver/outside"
	"wetdown/solver/plant"
)

// What BenchmarkPlan_Clasp measures. For the record of a release:
//
//	go test ./solver -run '^$' -bench Plan_Clasp -benchtime 1x -v -timeout 0 -trucks 200 -seeds 20
var (
	benchTrucks = flag.Int("trucks", 20, "BenchmarkPlan_Clasp: trucks of the generated plants")
	benchSeeds  = flag.Uint64("seeds", 1, "BenchmarkPlan_Clasp: plants, of seeds from 1 on")
	benchLoad   = flag.Float64("load", 0.95, "BenchmarkPlan_Clasp: how busy the tightest bays and crews are")
	benchLimit  = flag.Duration("limit", 10*time.Minute, "BenchmarkPlan_Clasp: how long a proof may take, either one's")
)

// A race is what one plant took both.
type race struct {
	seed        uint64
	plan, clasp time.Duration
	late        string // who was not done at the limit
	clauses     int64  // of the export
	values      string
}

// BenchmarkPlan_Clasp measures the way from the plant file to the judged and proven
// plan, and in turn clasp's from the exported file to its proof. clasp is given
// what Plan found out: the scales of the export rest on the proven values, and
// tiers that cost nothing are hard. The export itself counts for neither. Both must
// come to the same values. The table goes to the log; ratios are above 1 where Plan
// is faster.
func BenchmarkPlan_Clasp(b *testing.B) {
	outside.Find(b, "clasp", "clasp")
	var races []race
	for seed := uint64(1); seed <= *benchSeeds; seed++ {
		b.Run(fmt.Sprintf("trucks=%d/seed=%d", *benchTrucks, seed), func(b *testing.B) {
			p := generate.Generate(generate.Options{Trucks: *benchTrucks, Seed: seed, Load: *benchLoad})
			text := plant.Write(p)
			r := race{seed: seed}
			b.ResetTimer()
			var values []int64
			for range b.N {
				values = r.run(b, text)
			}
			b.StopTimer()
			b.ReportMetric(r.plan.Seconds(), "plan-s")
			if values != nil {
				r.against(b, p, values)
				b.ReportMetric(r.clasp.Seconds(), "clasp-s")
				b.ReportMetric(r.ratio(), "ratio")
			}
			races = append(races, r)
		})
	}
	b.Log(table(races))
}

// run reads and plans once; it returns nil when the limit ended it.
func (r *race) run(b *testing.B, text []byte) (values []int64) {
	ctx, cancel := context.WithTimeout(context.Background(), *benchLimit)
	defer cancel()
	begin := time.Now()
	p, faults := plant.Read("plant.yaml", text)
	if len(faults) > 0 {
		b.Fatal(faults[0])
	}
	result, err := Plan(ctx, p, Options{})
	r.plan = time.Since(begin)
	if err != nil {
		b.Fatal(err)
	}
	for _, v := range result.Tiers {
		values = append(values, v.Value)
	}
	r.values = fmt.Sprint(values)
	if result.Status != plant.Optimal {
		if ctx.Err() == nil {
			b.Fatalf("the plan is %s with time left", result.Status)
		}
		r.late = "plan"
		return nil
	}
	return values
}

// against has clasp answer the same question, and checks that it does.
func (r *race) against(b *testing.B, p *plant.Plant, values []int64) {
	ctx, cancel := context.WithTimeout(context.Background(), *benchLimit)
	defer cancel()
	file := b.TempDir() + "/plant.wcnf"
	out, err := os.Create(file)
	if err != nil {
		b.Fatal(err)
	}
	err = Export(ctx, p, WCNF, out)
	if err = errors.Join(err, out.Close()); err != nil {
		b.Fatal(err)
	}
	f := outside.ReadWCNF(b, file)
	r.clauses = f.Clauses
	ctx, cancel = context.WithTimeout(context.Background(), *benchLimit)
	defer cancel()
	begin := time.Now()
	got := outside.Clasp(ctx, b, file, "--opt-strategy=usc")
	r.clasp = time.Since(begin)
	switch {
	case ctx.Err() != nil:
		r.late = "clasp"
	case got.Status != "OPTIMUM FOUND" || got.Cost != f.Cost(values):
		b.Fatalf("clasp says %s, cost %d; want %d of %v", got.Status, got.Cost, f.Cost(values), values)
	}
}

// ratio is how many times longer clasp took, at least.
func (r *race) ratio() float64 { return r.clasp.Seconds() / r.plan.Seconds() }

// table lists the races, and the geometric mean of the ratios.
func table(races []race) string {
	var s strings.Builder
	s.WriteString("seed      plan s   clasp s    ratio     clauses  values\n")
	sum, n := 0.0, 0
	for _, r := range races {
		switch r.late {
		case "plan":
			fmt.Fprintf(&s, "%4d  >%9.2f         -        -           -  %s not proven\n", r.seed, r.plan.Seconds(), r.values)
			continue
		case "clasp":
			fmt.Fprintf(&s, "%4d   %9.2f >%8.2f >%7.1f %11d  %s\n", r.seed, r.plan.Seconds(), r.clasp.Seconds(), r.ratio(), r.clauses, r.values)
		default:
			fmt.Fprintf(&s, "%4d   %9.2f  %8.2f  %7.1f %11d  %s\n", r.seed, r.plan.Seconds(), r.clasp.Seconds(), r.ratio(), r.clauses, r.values)
		}
		sum += math.Log(r.ratio())
		n++
	}
	if n > 0 {
		fmt.Fprintf(&s, "geometric mean of the ratios of %d plants: %.1f\n", n, math.Exp(sum/float64(n)))
	}
	return s.String()
}
