package solver

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wetdown/solver/generate"
	"wetdown/solver/outside"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// planned plans a generated plant to proof.
func planned(t *testing.T, trucks int, seed uint64) (p *plant.Plant, values []int64) {
	t.Helper()
	p = generate.Generate(generate.Options{Trucks: trucks, Seed: seed, Load: 0.95})
	r, err := Plan(context.Background(), p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != plant.Optimal {
		t.Fatalf("%d trucks, seed %d: %s", trucks, seed, r.Status)
	}
	for _, v := range r.Tiers {
		values = append(values, v.Value)
	}
	return p, values
}

// exported writes the question to a file.
func exported(t testing.TB, p *plant.Plant, format string) (file string) {
	t.Helper()
	file, err := export(t, p, format)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// export is exported with the errors of Export.
func export(t testing.TB, p *plant.Plant, format string) (file string, err error) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "plant."+format)
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	return file, Export(context.Background(), p, format, f)
}

// disagreed has clasp answer an exported question. It says what is wrong, "" if clasp's least
// cost is that of the values, and its model, read by the comments of the file, a plan that the
// judge passes with them.
func disagreed(t testing.TB, p *plant.Plant, values []int64, file string, f *outside.WCNF) string {
	t.Helper()
	got := outside.Clasp(context.Background(), t, file, "--opt-strategy=usc")
	if got.Status != "OPTIMUM FOUND" || got.Cost != f.Cost(values) {
		return fmt.Sprintf("clasp says %s, cost %d; want %d of %v", got.Status, got.Cost, f.Cost(values), values)
	}
	q, _, err := ask(p)
	if err != nil {
		t.Fatal(err)
	}
	a := &schedule.Answer{}
	a.Start, a.Machine = f.Places(got.Model, func(task, start int) (from, to int32) {
		t := &q.problem.Tasks[task]
		return t.Starts[start], t.Ends[start]
	})
	if _, err := q.judged(a, values); err != nil {
		return fmt.Sprintf("clasp's plan: %v", err)
	}
	return ""
}

// TestExport_Clasp has clasp answer what Plan answers: its least cost is the sum of
// value × scale of Plan's tiers, and its model, read by the comments of the file, a
// plan that the judge passes with these values.
func TestExport_Clasp(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	some := make([]bool, len(plant.TierNames)) // tiers that cost something somewhere
	for _, c := range []struct {
		trucks int
		seed   uint64
	}{{10, 1}, {10, 2}, {14, 3}, {20, 1}} {
		p, values := planned(t, c.trucks, c.seed)
		file := exported(t, p, WCNF)
		f := outside.ReadWCNF(t, file)
		if !slices.Equal(f.Tiers, plant.TierNames) {
			t.Fatalf("the tiers are %v, want %v", f.Tiers, plant.TierNames)
		}
		t.Logf("%d trucks, seed %d: %d variables, %d clauses, values %v, scales %v", c.trucks, c.seed, f.Variables, f.Clauses, values, f.Scales)
		if wrong := disagreed(t, p, values, file, f); wrong != "" {
			t.Errorf("%d trucks, seed %d: %s", c.trucks, c.seed, wrong)
		}
		for n, v := range values {
			some[n] = some[n] || v > 0
		}
	}
	for _, name := range []string{plant.TierConfirmed, plant.TierLateness, plant.TierCalm} {
		if !some[slices.Index(plant.TierNames, name)] {
			t.Errorf("tier %s costs nothing in any of these plants: this tests too little", name)
		}
	}
}

// TestExport_Gecode has Gecode answer what Plan answers, all tiers in one run.
func TestExport_Gecode(t *testing.T) {
	outside.Find(t, "minizinc", "minizinc")
	for _, c := range []struct {
		trucks int
		seed   uint64
	}{{2, 1}, {3, 2}, {4, 1}} {
		p, values := planned(t, c.trucks, c.seed)
		if data, err := os.ReadFile(exported(t, p, DZN)); err != nil || bytes.Contains(data, []byte("% When this run")) {
			t.Fatalf("%d trucks, seed %d: one run does not weigh all tiers (%v): take a smaller plant", c.trucks, c.seed, err)
		}
		if wrong := gecode(t, p, values); wrong != "" {
			t.Errorf("%d trucks, seed %d: %s", c.trucks, c.seed, wrong)
		}
	}
}

// gecode has Gecode answer the question of a plant, in several runs where the data say that one
// does not weigh all tiers. It says what is wrong, "" if the least values are these, or if there
// is no answer where values is nil.
func gecode(t testing.TB, p *plant.Plant, values []int64) string {
	t.Helper()
	q, lost, err := ask(p)
	if err != nil || len(lost) > 0 {
		t.Fatal(err, lost)
	}
	for known := 0; known < len(plant.TierNames); {
		var data bytes.Buffer
		if err := schedule.WriteDZN(&data, &q.problem, values[:min(known, len(values))]); err != nil {
			return err.Error()
		}
		file := filepath.Join(t.TempDir(), "plant.dzn")
		if err := os.WriteFile(file, data.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := outside.MiniZinc(context.Background(), t, "../testdata/schedule.mzn", file)
		if err != nil {
			return err.Error()
		}
		if strings.Contains(out, "=====UNSATISFIABLE=====") {
			if values == nil {
				return ""
			}
			return fmt.Sprintf("gecode has no answer, want %v", values)
		}
		answers := strings.Split(out, "----------\n")
		if len(answers) < 2 || !strings.Contains(out, "\n==========") {
			return "gecode did not finish: " + out
		}
		_, scale, _ := strings.Cut(data.String(), "\nscale = [")
		scale, _, _ = strings.Cut(scale, "]")
		weighed := strings.Split(scale, ", ")
		before := known
		for known < len(weighed) && weighed[known] != "0" {
			known++
		}
		if known == before {
			return fmt.Sprintf("no tier from %d on is weighed: [%s]", known, scale)
		}
		var want strings.Builder
		for n := range known {
			if values != nil {
				fmt.Fprintf(&want, "%s = %d\n", plant.TierNames[n], values[n])
			}
		}
		if got := answers[len(answers)-2]; values == nil || !strings.HasPrefix(got, want.String()) {
			return fmt.Sprintf("gecode says\n%s\nwant %v", got, values)
		}
	}
	return ""
}

// TestExport_Refuses writes nothing for a format that there is not, or when the
// time for the proof is over.
func TestExport_Refuses(t *testing.T) {
	p := generate.Generate(generate.Options{Trucks: 20, Seed: 1, Load: 0.95})
	over, cancel := context.WithCancel(context.Background())
	cancel()
	for _, c := range []struct {
		ctx    context.Context
		format string
		want   string
	}{
		{context.Background(), "cnf", `format "cnf" is not known: ask for wcnf or dzn`},
		{over, WCNF, "allow it more time"},
	} {
		var text bytes.Buffer
		err := Export(c.ctx, p, c.format, &text)
		if err == nil || !strings.Contains(err.Error(), c.want) || text.Len() > 0 {
			t.Errorf("%s: error %v and %d bytes, want %q and none", c.format, err, text.Len(), c.want)
		}
	}
}
