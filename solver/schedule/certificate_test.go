package schedule

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wetdown/solver/outside"
	"wetdown/solver/sat"
)

// wrote writes a file of a certificate and has it read by its format alone.
func wrote(t *testing.T, write func(w *bytes.Buffer) error) (d *outside.DIMACS, file string) {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	file = filepath.Join(t.TempDir(), "f.cnf")
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return outside.ReadDIMACS(t, file), file
}

// TestCertify has the certificates of random problems checked by others: the model,
// clause by clause; every tier by cadical, whose proof is gone through step by step, and
// by clasp. With the last bound one higher, cadical finds a model.
func TestCertify(t *testing.T) {
	outside.Find(t, "cadical", "cadical")
	outside.Find(t, "clasp", "clasp")
	ctx := context.Background()
	tiers, partial := map[int]int{}, 0
	for seed := range uint64(60) {
		p := tiny(seed)
		r, err := Solve(ctx, p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Status != Optimal {
			continue
		}
		var told []int
		c, err := Certify(ctx, p, r.Answer, r.Values, func(tier int) { told = append(told, tier) })
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		question, _ := wrote(t, func(w *bytes.Buffer) error { return c.WriteQuestion(w) })
		_, file := wrote(t, func(w *bytes.Buffer) error { w.WriteString("p cnf 0 0\n"); return nil })
		var model bytes.Buffer
		if err := c.WriteModel(&model); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, model.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		m := outside.ReadModel(t, file)
		if len(m) != question.Variables+1 || question.Variables != c.Variables || len(question.Hard)+len(question.Soft) != c.Clauses {
			t.Fatalf("seed %d: %d values, %d variables, %d clauses of which %d hard", seed, len(m), c.Variables, c.Clauses, len(question.Hard))
		}
		for _, clause := range question.Hard {
			if !outside.Holds(m, clause) {
				t.Fatalf("seed %d: the model breaks %v", seed, clause)
			}
		}
		at := 0
		for n, v := range r.Values {
			if v == 0 {
				continue
			}
			x := c.Tiers[at]
			if x.Tier != n || x.Value != v || told[at] != n {
				t.Fatalf("seed %d: the certificate of tier %d is about tier %d with %d", seed, n, x.Tier, x.Value)
			}
			at++
			tiers[n]++
			if x.Rules < c.Rules {
				partial++
			}
			d, file := wrote(t, func(w *bytes.Buffer) error { return c.WriteTier(w, x) })
			if d.Variables != x.Variables || len(d.Hard) != x.Clauses {
				t.Fatalf("seed %d, tier %d: %d variables and %d clauses, said to be %d and %d", seed, n, d.Variables, len(d.Hard), x.Variables, x.Clauses)
			}
			proof := file + ".drat"
			if s := outside.Cadical(ctx, t, file, proof); s != "UNSATISFIABLE" {
				t.Fatalf("seed %d, tier %d: cadical says %s", seed, n, s)
			}
			text, err := os.Open(proof)
			if err != nil {
				t.Fatal(err)
			}
			if err := outside.CheckProof(d, text); err != nil {
				t.Errorf("seed %d, tier %d: %v", seed, n, err)
			}
			text.Close()
			if v := outside.Clasp(ctx, t, file); v.Status != "UNSATISFIABLE" {
				t.Errorf("seed %d, tier %d: clasp says %s", seed, n, v.Status)
			}
			// The same with the last bound one higher.
			higher := *x
			higher.bounds = sat.Formula{}
			for range c.Variables {
				higher.bounds.Lit()
			}
			for before := range n {
				c.q.atMost(&higher.bounds, c.q.costs[before], r.Values[before])
			}
			c.q.atMost(&higher.bounds, c.q.costs[n], v)
			higher.kept, higher.Rules = slices.Repeat([]bool{true}, c.Rules), c.Rules
			higher.Variables, higher.Clauses = higher.bounds.NumVars(), c.Rules+higher.bounds.NumClauses()
			_, file = wrote(t, func(w *bytes.Buffer) error { return c.WriteTier(w, &higher) })
			if s := outside.Cadical(ctx, t, file, ""); s != "SATISFIABLE" {
				t.Errorf("seed %d, tier %d at %d: cadical says %s", seed, n, v, s)
			}
		}
		if at != len(c.Tiers) {
			t.Errorf("seed %d: %d certificates for %v", seed, len(c.Tiers), r.Values)
		}
	}
	t.Logf("certificates by tier: %v, %d of them without some rules", tiers, partial)
	if len(tiers) < 3 || partial < 10 {
		t.Error("this tests too little")
	}
}

// TestCertify_Refuses refuses answers that are wrong, that cost something else than is
// said, and that are right but not the best; and costs too heavy for the question.
func TestCertify_Refuses(t *testing.T) {
	ctx := context.Background()
	worse := 0
	for seed := range uint64(60) {
		p := tiny(seed)
		r, err := Solve(ctx, p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Status != Optimal {
			continue
		}
		for n := range r.Values {
			other := slices.Clone(r.Values)
			other[n]++
			if _, err := Certify(ctx, p, r.Answer, other, func(int) {}); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("costs %v, not %v", r.Values, other)) {
				t.Errorf("seed %d: %v, said to cost %v: %v", seed, r.Values, other, err)
			}
		}
		broken := &Answer{slices.Clone(r.Answer.Start), slices.Clone(r.Answer.Machine)}
		broken.Start[0] = len(p.Tasks[0].Starts)
		if _, err := Certify(ctx, p, broken, r.Values, func(int) {}); err == nil || !strings.Contains(err.Error(), "not right") {
			t.Errorf("seed %d: an answer with a start that there is not: %v", seed, err)
		}
		tried := 0
		enumerate(p, func(a *Answer) {
			v, faults := Verify(p, a)
			if tried > 5 || len(faults) > 0 || compare(v, r.Values) <= 0 {
				return
			}
			tried++
			worse++
			if _, err := Certify(ctx, p, &Answer{slices.Clone(a.Start), slices.Clone(a.Machine)}, v, func(int) {}); !errors.Is(err, ErrNotBest) {
				t.Errorf("seed %d: %v is certified, and %v is better: %v", seed, v, r.Values, err)
			}
		})
	}
	heavy := unweighable()
	r, err := Solve(ctx, heavy, Options{})
	if err != nil || r.Status != Optimal {
		t.Fatal(err)
	}
	if _, err := Certify(ctx, heavy, r.Answer, r.Values, func(int) {}); !errors.Is(err, ErrHeavy) {
		t.Errorf("costs that no scale brings into range: %v", err)
	}
	t.Logf("%d answers that are not the best", worse)
	if worse < 50 {
		t.Error("this tests too little")
	}
}

// TestCountClauses counts what is written.
func TestCountClauses(t *testing.T) {
	for seed := range uint64(20) {
		p := tiny(seed)
		var f sat.Formula
		new(clauses).encode(p, &f)
		if n := CountClauses(p); n != f.NumClauses() || n == 0 {
			t.Errorf("seed %d: %d clauses counted, %d written", seed, n, f.NumClauses())
		}
	}
}
