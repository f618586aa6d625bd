package schedule

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wetdown/solver/outside"
)

// model is the MiniZinc model that the data are for.
const model = "../../testdata/schedule.mzn"

// gecode asks Gecode about p, tier by tier where the data say so. It returns its
// last answer and what the model says that it costs; a is nil when there is none.
func gecode(t *testing.T, p *Problem) (a *Answer, values []int64, runs int) {
	t.Helper()
	var limit []int64
	for {
		var data bytes.Buffer
		if err := WriteDZN(&data, p, limit); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "p.dzn")
		if err := os.WriteFile(file, data.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := outside.MiniZinc(context.Background(), t, model, file)
		if err != nil {
			t.Fatal(err)
		}
		runs++
		if strings.Contains(out, "=====UNSATISFIABLE=====") {
			return nil, nil, runs
		}
		if !strings.Contains(out, "\n==========") {
			t.Fatalf("gecode did not finish: %s", out)
		}
		a, values = readMiniZinc(t, p, out)
		_, scale, _ := strings.Cut(data.String(), "\nscale = [")
		scale, _, _ = strings.Cut(scale, "]")
		n := len(limit)
		for _, s := range strings.Split(scale, ", ")[n:] {
			if s == "0" {
				break
			}
			n++
		}
		if n == len(limit) {
			t.Fatalf("no tier after %d is weighed: [%s]", n, scale)
		}
		if limit = values[:n]; n == len(p.Tiers) {
			return a, values, runs
		}
	}
}

var (
	tierLine = regexp.MustCompile(`^(.*) = (\d+)$`)
	taskLine = regexp.MustCompile(`^(.*): (?:left out|start (\d+), slots \d+ to \d+, machine (\d+))$`)
)

// readMiniZinc reads the last answer that the model's output item printed.
func readMiniZinc(t *testing.T, p *Problem, out string) (*Answer, []int64) {
	t.Helper()
	answers := strings.Split(out, "----------\n")
	lines := strings.Split(strings.TrimSpace(answers[len(answers)-2]), "\n")
	if len(lines) != len(p.Tiers)+len(p.Tasks) {
		t.Fatalf("%d lines for %d tiers and %d tasks: %s", len(lines), len(p.Tiers), len(p.Tasks), out)
	}
	var values []int64
	for n, line := range lines[:len(p.Tiers)] {
		m := tierLine.FindStringSubmatch(line)
		if m == nil || m[1] != p.Tiers[n].Name {
			t.Fatalf("%q is not the value of tier %s", line, p.Tiers[n].Name)
		}
		v, _ := strconv.ParseInt(m[2], 10, 64)
		values = append(values, v)
	}
	a := &Answer{}
	for i, line := range lines[len(p.Tiers):] {
		m := taskLine.FindStringSubmatch(line)
		if m == nil || m[1] != p.Tasks[i].Name {
			t.Fatalf("%q is not the place of task %s", line, p.Tasks[i].Name)
		}
		k, _ := strconv.Atoi(m[2]) // none and 0: index -1
		n, _ := strconv.Atoi(m[3])
		a.Start, a.Machine = append(a.Start, k-1), append(a.Machine, n-1)
	}
	return a, values
}

// checkMiniZinc compares Gecode on the exported data with Solve.
func checkMiniZinc(t *testing.T, name string, p *Problem) (status Status, runs int) {
	t.Helper()
	want, err := Solve(context.Background(), p, Options{})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	a, said, runs := gecode(t, p)
	if want.Status == Infeasible || a == nil {
		if want.Status != Infeasible || a != nil {
			t.Errorf("%s: gecode has an answer: %t, status %v", name, a != nil, want.Status)
		}
		return want.Status, runs
	}
	values, faults := Verify(p, a)
	if len(faults) > 0 || !slices.Equal(values, want.Values) || !slices.Equal(said, values) {
		t.Errorf("%s: gecode's answer costs %v (%v by the model) with faults %v, want %v", name, values, said, faults, want.Values)
	}
	return want.Status, runs
}

// TestForeign_Gecode compares with Gecode on random problems, in one run each.
func TestForeign_Gecode(t *testing.T) {
	outside.Find(t, "minizinc", "minizinc")
	count := map[Status]int{}
	for seed := range 200 * *foreign {
		status, runs := checkMiniZinc(t, fmt.Sprintf("seed %d", seed), tiny(seed))
		count[status]++
		if runs != 1 {
			t.Errorf("seed %d: %d runs for small costs", seed, runs)
		}
	}
	if count[Optimal] < 10 || count[Infeasible] < 5 {
		t.Errorf("%d problems with an answer and %d without test too little", count[Optimal], count[Infeasible])
	}
}

// TestWriteDZN_TierByTier takes costs that one objective cannot weigh, and names
// that need quoting.
func TestWriteDZN_TierByTier(t *testing.T) {
	outside.Find(t, "minizinc", "minizinc")
	several := 0
	for _, seed := range []uint64{1, 3, 5, 6, 9, 11} {
		p := tiny(seed)
		p.Tasks[0].Name = `the "first" \(of all)`
		heavier(&p.Tiers[0], 1<<16+1)
		heavier(&p.Tiers[1], []int64{1, 1 << 16}[seed%2])
		heavier(&p.Tiers[2], 1<<14)
		if _, runs := checkMiniZinc(t, fmt.Sprintf("seed %d", seed), p); runs > 1 {
			several++
		}
	}
	if several < 3 {
		t.Errorf("only %d problems took several runs", several)
	}
}

func TestWriteDZN_Limits(t *testing.T) {
	p := tiny(1)
	var data bytes.Buffer
	if err := WriteDZN(&data, p, make([]int64, 4)); err == nil {
		t.Error("four limits for three tiers were taken")
	}
}

// TestWriteDZN_ByHand takes a problem whose best values are plain to see: b wants to
// start late and may at slot 3 at the latest, five slots before its cheapest; and c
// comes eight days after a, of which three count, at two a day.
func TestWriteDZN_ByHand(t *testing.T) {
	p := &Problem{
		Slots: 10,
		Tasks: []Task{
			{Name: "a", Starts: []Slot{0}, Ends: []Slot{1}},
			{Name: "b", Starts: []Slot{0, 1, 2, 3, 4, 5, 6, 7, 8}, Ends: []Slot{1, 2, 3, 4, 5, 6, 7, 8, 9}},
			{Name: "c", Starts: []Slot{8}, Ends: []Slot{9}},
		},
		Arcs: []Arc{{From: 0, To: 1, Latest: []Slot{3}}},
		Tiers: []Tier{
			{Name: "x", Costs: []Cost{{Task: 1, At: []int64{8, 7, 6, 5, 4, 3, 2, 1, 0}}}},
			{Name: "y", Gaps: []Gap{{From: 0, To: 2, FromDay: []int32{0}, ToDay: []int32{8}, Cap: 3, Weight: 2}}},
		},
	}
	if _, values, _ := gecode(t, p); !slices.Equal(values, []int64{5, 6}) {
		t.Errorf("gecode says %v, want 5 and 6", values)
	}
	checkMiniZinc(t, "by hand", p)
	checkWCNF(t, "by hand", p)
}
