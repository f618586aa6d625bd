package schedule

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wetdown/solver/outside"
)

// checkWCNF writes p, proving first if it must, asks clasp about it, and compares
// with what Solve says: status, cost, and the answer in the model.
func checkWCNF(t *testing.T, name string, p *Problem) (status Status, proven bool) {
	t.Helper()
	ctx := context.Background()
	want, err := Solve(ctx, p, Options{})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var text bytes.Buffer
	if err = WriteWCNF(&text, p, nil); errors.Is(err, ErrNeedsProof) {
		if text.Len() > 0 {
			t.Errorf("%s: something was written before the refusal", name)
		}
		proven = true
		var k *Proven
		if k, err = Prove(ctx, p); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		err = WriteWCNF(&text, p, k)
	}
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	file := filepath.Join(t.TempDir(), "p.wcnf")
	if err := os.WriteFile(file, text.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	f := outside.ReadWCNF(t, file)
	if len(f.Tiers) != len(p.Tiers) || len(f.Tasks) != len(p.Tasks) {
		t.Fatalf("%s: %d of %d tiers and %d of %d tasks are in the comments", name, len(f.Tiers), len(p.Tiers), len(f.Tasks), len(p.Tasks))
	}
	got := outside.Clasp(ctx, t, file)
	if want.Status == Infeasible {
		if got.Status != "UNSATISFIABLE" {
			t.Errorf("%s: clasp says %s, want UNSATISFIABLE", name, got.Status)
		}
		return Infeasible, proven
	}
	cost := f.Cost(want.Values)
	if got.Status != "OPTIMUM FOUND" || got.Cost != cost {
		t.Errorf("%s: clasp says %s with cost %d, want %d (values %v, scales %v)", name, got.Status, got.Cost, cost, want.Values, f.Scales)
		return Optimal, proven
	}
	start, machine := f.Places(got.Model, p.slots)
	values, faults := Verify(p, &Answer{start, machine})
	if len(faults) > 0 || !slices.Equal(values, want.Values) {
		t.Errorf("%s: clasp's model means %v with faults %v, want %v", name, values, faults, want.Values)
	}
	return Optimal, proven
}

// TestForeign_Clasp compares with clasp on random problems.
func TestForeign_Clasp(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	count := map[Status]int{}
	for seed := range 600 * *foreign {
		status, proven := checkWCNF(t, fmt.Sprintf("seed %d", seed), tiny(seed))
		count[status]++
		if proven {
			t.Errorf("seed %d: small costs needed a proof before they could be weighed", seed)
		}
	}
	if count[Optimal] < 30 || count[Infeasible] < 10 {
		t.Errorf("%d problems with an answer and %d without test too little", count[Optimal], count[Infeasible])
	}
}

// TestWriteWCNF_Heavy makes costs that only proven optima bring into 31 bits, or
// not even those.
func TestWriteWCNF_Heavy(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	needed := 0
	ways := map[string]int{}
	for seed := range uint64(90) {
		p := tiny(seed)
		for n := range p.Tiers {
			heavier(&p.Tiers[n], []int64{1 << 12, 1 << 20, 1 << 32}[seed%3]+int64(seed%2))
		}
		status, proven := checkWCNF(t, fmt.Sprintf("seed %d", seed), p)
		if proven {
			needed++
		}
		if status == Optimal && proven {
			k, err := Prove(context.Background(), p)
			if err != nil {
				t.Fatal(err)
			}
			s, err := weigh(p, k)
			if err != nil {
				t.Fatal(err)
			}
			if slices.Contains(s.hard, true) {
				ways["hard"]++
			}
			if k.Scales != nil {
				ways["exchange"]++
			}
			if !s.fits(reaches(p)) {
				ways["copies"]++
			}
		}
	}
	if needed < 30 || len(ways) < 3 {
		t.Errorf("%d problems needed a proof, in the ways %v: too little is tested", needed, ways)
	}
	t.Logf("%d problems needed a proof, in the ways %v", needed, ways)
}

// heavier multiplies every cost of a tier.
func heavier(t *Tier, by int64) {
	for _, c := range t.Costs {
		for k := range c.At {
			c.At[k] *= by
		}
	}
	for n := range t.Costs {
		t.Costs[n].Skip *= by
	}
	for n := range t.Gaps {
		t.Gaps[n].Weight *= by
	}
}

// TestWeigh_Order checks the scales against their purpose: over all answers of
// small problems that hard tiers allow, the sum of value × scale is least exactly
// for the best values.
func TestWeigh_Order(t *testing.T) {
	checked := 0
	for seed := range uint64(150) {
		p := tiny(seed)
		heavier(&p.Tiers[0], 1<<22)
		heavier(&p.Tiers[1], 1<<21+int64(seed%2))
		heavier(&p.Tiers[2], 1<<20)
		all := allValues(p, 30_000)
		if len(all) == 0 {
			continue
		}
		k, err := Prove(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		for _, known := range []*Proven{nil, {Best: k.Best}, k} {
			s, err := weigh(p, known)
			if known == nil && errors.Is(err, ErrNeedsProof) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			checked++
			sum := func(v []int64) *big.Int {
				sum := new(big.Int)
				for n := range v {
					sum.Add(sum, new(big.Int).Mul(big.NewInt(v[n]), big.NewInt(s.by[n])))
				}
				return sum
			}
			for _, v := range all {
				allowed := true
				for n, hard := range s.hard {
					allowed = allowed && (!hard || v[n] == k.Best[n])
				}
				if allowed && sum(v).Cmp(sum(k.Best)) <= 0 && !slices.Equal(v, k.Best) {
					t.Fatalf("seed %d: scales %v prefer %v to the best %v (%s)", seed, s.by, v, k.Best, s.how)
				}
			}
		}
	}
	if checked < 100 {
		t.Errorf("only %d scalings were checked", checked)
	}
}

// TestReaches checks what a tier can come to against all answers of small problems.
func TestReaches(t *testing.T) {
	checked := 0
	for seed := range uint64(300) {
		p := tiny(seed)
		rs := reaches(p)
		all := allValues(p, 10_000)
		for _, v := range all {
			for n, r := range rs {
				checked++
				if v[n] < r.fixed || v[n] > r.most {
					t.Fatalf("seed %d: an answer costs %d in tier %d, said to reach %+v", seed, v[n], n, r)
				}
			}
		}
	}
	if checked < 1000 {
		t.Errorf("only %d values were checked", checked)
	}
}

// allValues enumerates the values of all answers of a problem that is small enough.
func allValues(p *Problem, limit int) (all [][]int64) {
	size := 1
	for i := range p.Tasks {
		size *= len(p.Tasks[i].Starts)*max(1, len(p.Tasks[i].Able)) + 1
	}
	if size > limit {
		return nil
	}
	seen := map[string]bool{}
	enumerate(p, func(a *Answer) {
		if v, faults := Verify(p, a); len(faults) == 0 && !seen[fmt.Sprint(v)] {
			seen[fmt.Sprint(v)] = true
			all = append(all, v)
		}
	})
	return all
}

// TestWriteWCNF_Same writes the same bytes twice.
func TestWriteWCNF_Same(t *testing.T) {
	var one, two bytes.Buffer
	for _, w := range []*bytes.Buffer{&one, &two} {
		if err := WriteWCNF(w, tiny(4), nil); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Error("the same problem made different files")
	}
}

// unweighable is a problem whose costs no scale brings into range.
func unweighable() *Problem {
	p := &Problem{Slots: 4, Machines: []Machine{{Name: "A"}}}
	for i := range 2 {
		p.Tasks = append(p.Tasks, Task{Name: fmt.Sprint(i), Job: i, Starts: []Slot{0, 1, 2}, Ends: []Slot{2, 3, 4}, Able: []int{0}})
	}
	for n := range 2 { // one of the two must wait, and the tiers disagree which
		tier := Tier{Name: fmt.Sprint(n)}
		for i := range 2 {
			wait := int64(1<<55 + 1)
			if i == n {
				wait = 1 << 56
			}
			tier.Costs = append(tier.Costs, Cost{Task: i, At: []int64{0, wait, wait}})
		}
		p.Tiers = append(p.Tiers, tier)
	}
	return p
}

// TestWriteWCNF_Unweighable refuses such costs.
func TestWriteWCNF_Unweighable(t *testing.T) {
	p := unweighable()
	k, err := Prove(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	err = WriteWCNF(&text, p, k)
	if err == nil || !strings.Contains(err.Error(), "dzn") {
		t.Errorf("got %v, want a refusal that names the other format", err)
	}
	if text.Len() > 0 {
		t.Error("something was written before the refusal")
	}
}

// slots is when a task is there.
func (p *Problem) slots(task, start int) (from, to int32) {
	return p.Tasks[task].Starts[start], p.Tasks[task].Ends[start]
}
