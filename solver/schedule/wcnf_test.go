package schedule

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wetdown/solver/outside"
)

// A wcnfFile is a WCNF file read back with nothing but what its comments say.
type wcnfFile struct {
	tiers []string
	scale []int64
	tasks []wcnfTask
	units map[int]int // soft clauses by literal
	sum   int64       // of their weights
}

type wcnfTask struct {
	first, from, to, skip int
	machines              [][2]int // machine, literal
	name                  string
}

// readWCNF checks the form of the file on the way: as many clauses and variables
// as the header says, hard clauses of weight TOP before soft ones of one literal
// whose weights fit 31 bits and sum to less than TOP.
func readWCNF(t *testing.T, text []byte) (f wcnfFile) {
	t.Helper()
	var vars, clauses, top, seen, maxVar int64
	soft := false
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		words := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "c tier "):
			s, err := strconv.ParseInt(words[4], 10, 64)
			if words[3] != "scale" || len(words) != 5 || err != nil || s < 1 {
				t.Fatalf("line %d: %q is not c tier NAME scale N", n, line)
			}
			f.tiers, f.scale = append(f.tiers, words[2]), append(f.scale, s)
		case strings.HasPrefix(line, "c task "):
			f.tasks = append(f.tasks, readTask(t, line))
		case strings.HasPrefix(line, "c "):
		case strings.HasPrefix(line, "p "):
			if _, err := fmt.Sscanf(line, "p wcnf %d %d %d", &vars, &clauses, &top); err != nil {
				t.Fatalf("line %d: %q: %v", n, line, err)
			}
		default:
			seen++
			var lits []int64
			for _, w := range words[1:] {
				l, err := strconv.ParseInt(w, 10, 64)
				if err != nil {
					t.Fatalf("line %d: %v", n, err)
				}
				lits = append(lits, l)
				maxVar = max(maxVar, l, -l)
			}
			weight, err := strconv.ParseInt(words[0], 10, 64)
			if err != nil || lits[len(lits)-1] != 0 || slices.Index(lits, 0) != len(lits)-1 {
				t.Fatalf("line %d: %q is not a clause", n, line)
			}
			switch {
			case weight == top && soft:
				t.Fatalf("line %d: a hard clause after a soft one", n)
			case weight == top:
			case weight < 1 || weight > maxWeight || len(lits) != 2:
				t.Fatalf("line %d: %q is not a soft clause of one literal and 31 bits", n, line)
			default:
				soft = true
				f.sum += weight
			}
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if seen != clauses || maxVar > vars || !soft || f.sum >= top {
		t.Fatalf("the header says %d variables, %d clauses, top %d; found variable %d, %d clauses, weights %d", vars, clauses, top, maxVar, seen, f.sum)
	}
	return f
}

// readTask reads a line "c task N first=K later=V..W skip=S machine=M:V name=NAME".
func readTask(t *testing.T, line string) wcnfTask {
	t.Helper()
	head, name, _ := strings.Cut(line, " name=")
	w := wcnfTask{name: name}
	for _, word := range strings.Fields(head)[3:] {
		key, value, _ := strings.Cut(word, "=")
		a, b, _ := strings.Cut(strings.Replace(value, "..", ":", 1), ":")
		x, err := strconv.Atoi(a)
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		y, _ := strconv.Atoi(b)
		switch key {
		case "first":
			w.first = x
		case "later":
			w.from, w.to = x, y
		case "skip":
			w.skip = x
		case "machine":
			w.machines = append(w.machines, [2]int{x, y})
		default:
			t.Fatalf("%q: what is %s", line, key)
		}
	}
	return w
}

// answer reads a model as the comments tell to.
func (f *wcnfFile) answer(model []bool) *Answer {
	a := &Answer{}
	for _, w := range f.tasks {
		start, machine := w.first, -1
		for v := w.from; v <= w.to && v > 0; v++ {
			if model[v] {
				start++
			}
		}
		for _, m := range w.machines {
			if model[m[1]] {
				machine = m[0]
			}
		}
		if w.skip > 0 && model[w.skip] {
			start, machine = -1, -1
		}
		a.Start, a.Machine = append(a.Start, start), append(a.Machine, machine)
	}
	return a
}

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
	f := readWCNF(t, text.Bytes())
	if len(f.tiers) != len(p.Tiers) || len(f.tasks) != len(p.Tasks) {
		t.Fatalf("%s: %d of %d tiers and %d of %d tasks are in the comments", name, len(f.tiers), len(p.Tiers), len(f.tasks), len(p.Tasks))
	}
	got := outside.Clasp(ctx, t, file)
	if want.Status == Infeasible {
		if got.Status != "UNSATISFIABLE" {
			t.Errorf("%s: clasp says %s, want UNSATISFIABLE", name, got.Status)
		}
		return Infeasible, proven
	}
	var cost int64
	for i, v := range want.Values {
		cost += v * f.scale[i]
	}
	if got.Status != "OPTIMUM FOUND" || got.Cost != cost {
		t.Errorf("%s: clasp says %s with cost %d, want %d (values %v, scales %v)", name, got.Status, got.Cost, cost, want.Values, f.scale)
		return Optimal, proven
	}
	values, faults := Verify(p, f.answer(got.Model))
	if len(faults) > 0 || !slices.Equal(values, want.Values) {
		t.Errorf("%s: clasp's model means %v with faults %v, want %v", name, values, faults, want.Values)
	}
	return Optimal, proven
}

// TestWriteWCNF_Clasp compares with clasp on random problems.
func TestWriteWCNF_Clasp(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	count := map[Status]int{}
	for seed := range uint64(120) {
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
			heavier(&p.Tiers[n], []int64{1 << 12, 1 << 20, 1 << 26}[seed%3]+int64(seed%2))
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
			ways[strings.Fields(s.how)[3]]++
			if slices.Contains(s.hard, true) {
				ways["hard"]++
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
// small problems, the sum of value × scale is least exactly for the best values.
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
				if sum(v).Cmp(sum(k.Best)) <= 0 && !slices.Equal(v, k.Best) {
					t.Fatalf("seed %d: scales %v prefer %v to the best %v (%s)", seed, s.by, v, k.Best, s.how)
				}
			}
		}
	}
	if checked < 100 {
		t.Errorf("only %d scalings were checked", checked)
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

// TestWriteWCNF_Unweighable refuses costs that no scale brings into range.
func TestWriteWCNF_Unweighable(t *testing.T) {
	p := &Problem{Slots: 4, Machines: []Machine{{Name: "A"}}}
	for i := range 2 {
		p.Tasks = append(p.Tasks, Task{Name: fmt.Sprint(i), Job: i, Starts: []Slot{0, 1, 2}, Ends: []Slot{2, 3, 4}, Able: []int{0}})
	}
	for n := range 2 { // one of the two must wait, and the tiers disagree which
		tier := Tier{Name: fmt.Sprint(n)}
		for i := range 2 {
			wait := int64(1<<40 + 1)
			if i == n {
				wait = 1 << 41
			}
			tier.Costs = append(tier.Costs, Cost{Task: i, At: []int64{0, wait, wait}})
		}
		p.Tiers = append(p.Tiers, tier)
	}
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
