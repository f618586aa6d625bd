//go:build unix

package solver

import (
	"context"
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// What BenchmarkTail measures:
//
//	go test ./solver -run '^$' -bench Tail -benchtime 1x -timeout 0 -tail-trucks 100 -tail-seeds 200
var (
	tailTrucks = flag.Int("tail-trucks", 20, "BenchmarkTail: trucks of the generated plants")
	tailHalls  = flag.Int("tail-halls", 1, "BenchmarkTail: halls over which they are spread")
	tailFirst  = flag.Uint64("tail-first", 1, "BenchmarkTail: the first seed")
	tailSeeds  = flag.Uint64("tail-seeds", 5, "BenchmarkTail: how many seeds, one after the other")
	tailLoad   = flag.Float64("tail-load", 0, "BenchmarkTail: the load of all plants; 0: by the seed, 0.80 to 1.00")
	tailSlip   = flag.Bool("tail-slip", false, "BenchmarkTail: the answer to slips, after a plan was made without them")
	tailLimit  = flag.Duration("tail-limit", 100*time.Second, "BenchmarkTail: processor time that a plan, or an answer, may take")
)

// tailLoads are the loads of the plants, by seed.
var tailLoads = []float64{0.80, 0.85, 0.90, 0.95, 1.00}

// soon is the processor time after which a plan should be nearly as good as the best.
const soon = 2 * time.Second

// A tail is what one plant took: processor time of this process.
type tail struct {
	seed    uint64
	load    float64
	proven  bool
	first   time.Duration   // to the first judged plan, 0: none
	best    time.Duration   // to the plan returned
	proof   time.Duration   // to the end
	tiers   []time.Duration // spent until something of each tier was reported; writing a round's clauses falls to the first
	early   []int64         // values of the best plan known soon, nil: none
	counts  Counts
	outcome []plant.TierValue
	moved   int // stages that start at another time than in the plan before
	bays    int // others that change their bay
}

// BenchmarkTail plans many plants, or answers slips of many, and tells how the slow
// ones fare: one line a seed, and what is worst of all. Every plan is heard by the
// judge, and no value may lie below its bound.
func BenchmarkTail(b *testing.B) {
	for range b.N {
		var all []tail
		for seed := *tailFirst; seed < *tailFirst+*tailSeeds; seed++ {
			t := newTail(seed)
			t.measure(b)
			fmt.Println(t.line())
			all = append(all, t)
		}
		fmt.Println(tailTable(all))
		proofs := tailSorted(all)
		b.ReportMetric(proofs[len(proofs)/2].Seconds(), "median-cpu-s")
		b.ReportMetric(proofs[len(proofs)-1].Seconds(), "worst-cpu-s")
	}
	b.ReportMetric(0, "ns/op")
}

func newTail(seed uint64) tail {
	t := tail{seed: seed, load: *tailLoad, tiers: make([]time.Duration, len(plant.TierNames))}
	if t.load == 0 {
		t.load = tailLoads[seed%uint64(len(tailLoads))]
	}
	return t
}

// measure makes the plant, reads it as a file, and plans it; or plans it without its
// slips, which counts for nothing, and answers these from the plan alone.
func (t *tail) measure(b *testing.B) {
	made := generate.Generate(generate.Options{Trucks: *tailTrucks, Halls: *tailHalls, Seed: t.seed, Load: t.load, Slips: *tailSlip})
	slips := made.Slips
	made.Slips = nil
	text := plant.Write(made)
	if !*tailSlip {
		t.run(b, text, nil, Plan)
		return
	}
	before := newTail(t.seed)
	plan := before.run(b, text, nil, Plan)
	if plan == nil {
		return
	}
	made.Plan = plan
	t.run(b, plant.Write(made), slips, Replan)
}

// run measures one planning, from the file on.
func (t *tail) run(b *testing.B, text []byte, slips []plant.Slip, planning func(context.Context, *plant.Plant, Options) (*Result, error)) *plant.Plan {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	begin := processor()
	go limited(ctx, cancel, begin+*tailLimit)
	p, faults := plant.Read("plant.yaml", text)
	if len(faults) > 0 {
		b.Fatal(faults[0])
	}
	p, err := p.Apply(slips)
	if err != nil {
		b.Fatal(err)
	}
	last := time.Duration(0)
	r, err := planning(ctx, p, Options{Report: func(g Progress) {
		now := processor() - begin
		t.tiers[g.Tier] += now - last
		last = now
		if g.Plan == nil {
			return
		}
		if t.best = now; t.first == 0 {
			t.first = now
		}
		if now <= soon {
			t.early = values(g.Tiers)
		}
	}})
	t.proof = processor() - begin
	if err != nil {
		b.Fatalf("seed %d: %v", t.seed, err)
	}
	if t.proof <= soon {
		t.early = values(r.Tiers)
	}
	t.counts, t.outcome, t.proven = r.Counts, r.Tiers, r.Status == plant.Optimal
	if r.Plan == nil {
		if ctx.Err() == nil {
			b.Fatalf("seed %d: no plan, with time left: %s", t.seed, r.Status)
		}
		return nil
	}
	for i, v := range r.Tiers { // the bounds after an open tier hold only if it is closed
		if v.Value < v.Bound {
			b.Fatalf("seed %d: tier %s is %d, below its bound %d", t.seed, v.Name, v.Value, v.Bound)
		}
		if v.Value > v.Bound {
			if t.proven {
				b.Fatalf("seed %d: %s, tier %s is %d, bound %d", t.seed, r.Status, v.Name, v.Value, v.Bound)
			}
			break
		}
		if i == len(r.Tiers)-1 && !t.proven {
			b.Fatalf("seed %d: %s, all tiers at their bounds", t.seed, r.Status)
		}
	}
	verdict := check.Plan(p, r.Plan)
	if len(verdict.Broken) > 0 {
		b.Fatalf("seed %d: %s", t.seed, verdict.Broken[0].Sentence)
	}
	if got := values(verdict.Tiers); !slices.Equal(got, values(r.Tiers)) {
		b.Fatalf("seed %d: the judge has %v, the plan says %v", t.seed, got, r.Tiers)
	}
	if p.Plan != nil {
		t.moves(p.Plan, r.Plan)
	}
	return r.Plan
}

// moves counts what an answer to slips moves.
func (t *tail) moves(before, after *plant.Plan) {
	for _, x := range after.Stages {
		n := slices.IndexFunc(before.Stages, func(y plant.Planned) bool { return y.Truck == x.Truck && y.Stage == x.Stage })
		switch {
		case n < 0:
		case before.Stages[n].Start != x.Start:
			t.moved++
		case before.Stages[n].Bay != x.Bay:
			t.bays++
		}
	}
}

// limited cancels when the processor time of this process has reached an end.
func limited(ctx context.Context, cancel func(), end time.Duration) {
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for processor() < end {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
	cancel()
}

func values(tiers []plant.TierValue) (list []int64) {
	for _, v := range tiers {
		list = append(list, v.Value)
	}
	return list
}

// slowest is the tier that took longest.
func (t *tail) slowest() int { return slices.Index(t.tiers, slices.Max(t.tiers)) }

// gap compares the plan known soon with the bounds at the end: the first tier in which
// they differ, and by how much of the bound; within the twentieth that is aimed at or
// not.
func (t *tail) gap() (text string, near bool) {
	if t.early == nil {
		return "none", false
	}
	for i, v := range t.outcome {
		if d := t.early[i] - v.Bound; d != 0 {
			return fmt.Sprintf("%s %d of %d", v.Name, t.early[i], v.Bound), v.Bound > 0 && 20*d <= v.Bound
		}
	}
	return "0", true
}

func (t *tail) line() string {
	status := "proven"
	if !t.proven {
		status = "OPEN"
		for _, v := range t.outcome {
			if v.Value != v.Bound {
				status = fmt.Sprintf("OPEN in %s, %d of %d", v.Name, v.Value, v.Bound)
				break
			}
		}
	}
	gap, _ := t.gap()
	slow := t.slowest()
	if *tailSlip {
		status += fmt.Sprintf("; %d stages and the bays of %d others moved", t.moved, t.bays)
	}
	return fmt.Sprintf("seed %4d load %.2f: first %6.2f best %7.2f end %7.2f s, %7.2f of it on %-9s; %5d calls %2d rounds; soon %s; %s",
		t.seed, t.load, t.first.Seconds(), t.best.Seconds(), t.proof.Seconds(), t.tiers[slow].Seconds(), plant.TierNames[slow],
		t.counts.SATCalls, t.counts.Rounds, gap, status)
}

// tailSorted returns the times to the end, the shortest first.
func tailSorted(all []tail) (list []time.Duration) {
	for _, t := range all {
		list = append(list, t.proof)
	}
	slices.Sort(list)
	return list
}

// tailTable says how many were proven, near soon, and how long they took; and which
// were the slowest tenth.
func tailTable(all []tail) string {
	var s strings.Builder
	at := func(percent int) float64 { // nearest rank
		list := tailSorted(all)
		return list[(len(list)*percent+99)/100-1].Seconds()
	}
	open, far, moved, bays := 0, 0, 0, 0
	for _, t := range all {
		moved += t.moved
		bays += t.bays
		if !t.proven {
			open++
		}
		if _, near := t.gap(); !near {
			far++
		}
	}
	fmt.Fprintf(&s, "%d plants of %d trucks: median %.2f s, p90 %.2f, p95 %.2f, worst %.2f; %d not proven; %d not within a twentieth after %v\n",
		len(all), *tailTrucks, at(50), at(90), at(95), at(100), open, far, soon)
	if *tailSlip {
		fmt.Fprintf(&s, "%d stages and the bays of %d others moved\n", moved, bays)
	}
	slow := slices.Clone(all)
	slices.SortStableFunc(slow, func(a, b tail) int { return int(b.proof - a.proof) })
	for _, t := range slow[:(len(slow)+9)/10] {
		s.WriteString("  " + t.line() + "\n")
	}
	return s.String()
}
