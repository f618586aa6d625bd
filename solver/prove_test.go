package solver

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wetdown/solver/generate"
	"wetdown/solver/outside"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// proved writes the proof of a plant into a folder.
func proved(t *testing.T, p *plant.Plant) (x *Proof, dir string) {
	t.Helper()
	x, err := Prove(context.Background(), p, 5_000_000, Options{}, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	if !x.Complete() {
		t.Fatalf("%s is %s", p.Name, x.Result.Status)
	}
	dir = t.TempDir()
	files, err := x.Write("a test", func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(dir, name)) })
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(dir, f.Name))
		if err != nil || int64(len(data)) != f.Bytes || fmt.Sprintf("%x", sha256.Sum256(data)) != f.Sum {
			t.Fatalf("%s: %v, %d bytes, said to be %d with the sum %s", f.Name, err, len(data), f.Bytes, f.Sum)
		}
	}
	return x, dir
}

// demo is the plant of the demo.
func demo(t *testing.T) *plant.Plant {
	t.Helper()
	const name = "../testdata/demo/plant.yaml"
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	p, faults := plant.Read(name, data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return p
}

// A price is a line "TIER WEIGHT LITERAL".
type price struct {
	weight  int64
	literal int32
}

// prices reads what literals cost, by tier.
func prices(t *testing.T, dir string) map[string][]price {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "costs.txt"))
	if err != nil {
		t.Fatal(err)
	}
	of := map[string][]price{}
	for line := range strings.Lines(string(text)) {
		var tier string
		var c price
		if _, err := fmt.Sscanf(line, "%s %d %d", &tier, &c.weight, &c.literal); err != nil {
			t.Fatalf("costs.txt: %q: %v", line, err)
		}
		of[tier] = append(of[tier], c)
	}
	return of
}

// bounded adds to f that prices come to at most limit, price by price: a literal for
// each sum up to the limit, "the prices so far come to this or more". It shares nothing
// with package cnf.
func bounded(f *outside.DIMACS, list []price, limit int64) {
	unit := int64(0)
	for _, c := range list {
		for a := c.weight; a != 0; {
			unit, a = a, unit%a
		}
	}
	if unit == 0 {
		return
	}
	limit /= unit
	before := make([]int32, limit+1) // [s]: s or more; 0 where it cannot be yet
	for _, c := range list {
		w := c.weight / unit
		here := make([]int32, limit+1)
		for s := int64(1); s <= limit; s++ {
			low := max(0, s-w)
			if before[s] == 0 && low > 0 && before[low] == 0 {
				continue
			}
			f.Variables++
			here[s] = int32(f.Variables)
			if before[s] != 0 {
				f.Hard = append(f.Hard, []int32{-before[s], here[s]})
			}
			if low == 0 {
				f.Hard = append(f.Hard, []int32{-c.literal, here[s]})
			} else if before[low] != 0 {
				f.Hard = append(f.Hard, []int32{-c.literal, -before[low], here[s]})
			}
		}
		if over := limit - w + 1; over <= 0 {
			f.Hard = append(f.Hard, []int32{-c.literal})
		} else if before[over] != 0 {
			f.Hard = append(f.Hard, []int32{-c.literal, -before[over]})
		}
		before = here
	}
}

// TestProve_Checked does with proofs what their readers may, see checkProof.
func TestProve_Checked(t *testing.T) {
	var met tally
	for _, p := range []*plant.Plant{
		generate.Generate(generate.Options{Trucks: 3, Seed: 2, Load: 0.95}),
		generate.Generate(generate.Options{Trucks: 10, Seed: 1, Load: 0.95}),
		generate.Generate(generate.Options{Trucks: 30, Seed: 1, Load: 0.95}),
		demo(t),
	} {
		checkProof(t, p, &met)
	}
	met.met(t, 1, "tier confirmed", "tier damages", "tier lateness", "tier wishes", "tier calm", "bounds written anew")
}

// TestForeign_Prove does the same with odd plants.
func TestForeign_Prove(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 150**foreign, func(t *testing.T, seed uint64) {
		s := anyOf(t, seed)
		r, err := Plan(t.Context(), s.p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Plan != nil {
			met.add("plants")
			checkProof(t, s.p, &met)
		}
	})
	met.met(t, 10, "plants", "tier frozen", "tier confirmed", "tier deadlines", "tier damages", "tier lateness", "tier wishes", "bounds written anew")
}

// checkProof checks the model of a proof clause by clause and has the judge look at what it means;
// has cadical and clasp find every tier contradictory, and goes through cadical's proof; finds the
// clauses of a tier among those of the question; and writes the bounds anew, in another way, behind
// all rules: the values can be had, and one less in a tier cannot.
func checkProof(t *testing.T, p *plant.Plant, met *tally) {
	t.Helper()
	outside.Find(t, "cadical", "cadical")
	outside.Find(t, "clasp", "clasp")
	x, dir := proved(t, p)
	in := func(name string) string { return filepath.Join(dir, name) }
	var values []int64
	for _, v := range x.Result.Tiers {
		values = append(values, v.Value)
	}
	question, model, cost := outside.ReadDIMACS(t, in("question.wcnf")), outside.ReadModel(t, in("plan.model")), prices(t, dir)
	if len(model) != question.Variables+1 {
		t.Fatalf("%s: %d values for %d variables", p.Name, len(model)-1, question.Variables)
	}
	for _, clause := range question.Hard {
		if !outside.Holds(model, clause) {
			t.Fatalf("%s: the model breaks %v", p.Name, clause)
		}
	}
	all := int64(0)
	for _, s := range question.Soft {
		if !outside.Holds(model, s.Clause) {
			all += s.Weight
		}
	}
	f := outside.ReadWCNF(t, in("question.wcnf"))
	if all != f.Cost(values) {
		t.Errorf("%s: the model costs %d, want %d of %v", p.Name, all, f.Cost(values), values)
	}
	a := &schedule.Answer{}
	a.Start, a.Machine = f.Places(model, func(task, start int) (from, to int32) {
		t := &x.q.problem.Tasks[task]
		return t.Starts[start], t.Ends[start]
	})
	if _, err := x.q.judged(a, values); err != nil {
		t.Errorf("%s: the plan in the model: %v", p.Name, err)
	}
	rules := slices.Clone(question.Hard[:x.c.Rules])
	for n, tier := range plant.TierNames {
		sum := int64(0)
		for _, c := range cost[tier] {
			if outside.Holds(model, []int32{c.literal}) {
				sum += c.weight
			}
		}
		if sum != values[n] {
			t.Errorf("%s: tier %s costs %d by costs.txt, want %d", p.Name, tier, sum, values[n])
		}
		file := in("tier-" + tier + ".cnf")
		if values[n] == 0 {
			if _, err := os.Stat(file); err == nil {
				t.Errorf("%s: tier %s is 0, and has a file", p.Name, tier)
			}
			continue
		}
		met.add("tier " + tier)
		d, proof := outside.ReadDIMACS(t, file), file+".drat"
		if s := outside.Cadical(t.Context(), t, file, proof); s != "UNSATISFIABLE" {
			t.Errorf("%s, tier %s: cadical says %s", p.Name, tier, s)
			continue
		}
		steps, err := os.ReadFile(proof)
		if err != nil {
			t.Fatal(err)
		}
		if err := outside.CheckProof(d, bytes.NewReader(steps)); err != nil {
			t.Errorf("%s, tier %s: %v", p.Name, tier, err)
		}
		if v := outside.Clasp(t.Context(), t, file); v.Status != "UNSATISFIABLE" {
			t.Errorf("%s, tier %s: clasp says %s", p.Name, tier, v.Status)
		}
		// Its rules are rules of the question, in order.
		e := x.c.Tiers[slices.IndexFunc(x.c.Tiers, func(e *schedule.Excess) bool { return e.Tier == n })]
		at := 0
		for _, clause := range d.Hard[:e.Rules] {
			for at < len(rules) && !slices.Equal(rules[at], clause) {
				at++
			}
			if at == len(rules) {
				t.Fatalf("%s, tier %s: %v is none of the rules", p.Name, tier, clause)
			}
			at++
		}
		t.Logf("%s, tier %s at %d: %d of %d rules, %d clauses, proof of %d bytes", p.Name, tier, values[n], e.Rules, len(rules), e.Clauses, len(steps))
		if most := values[n] * int64(len(cost[tier])); most > 50_000_000 {
			continue
		}
		met.add("bounds written anew")
		for limit, want := range map[int64]string{values[n] - 1: "UNSATISFIABLE", values[n]: "SATISFIABLE"} {
			own := &outside.DIMACS{Variables: question.Variables, Hard: slices.Clone(rules)}
			for before := range n {
				bounded(own, cost[plant.TierNames[before]], values[before])
			}
			bounded(own, cost[tier], limit)
			file := in("own.cnf")
			own.Write(t, file)
			if s := outside.Cadical(t.Context(), t, file, ""); s != want {
				t.Errorf("%s, tier %s at most %d by other clauses: cadical says %s, want %s", p.Name, tier, limit, s, want)
			}
		}
	}
}

// TestProve_Readme does what README.txt tells to, with the programs that it names.
func TestProve_Readme(t *testing.T) {
	for _, program := range []string{"sh", "awk", "sha256sum"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skip(err)
		}
	}
	outside.Find(t, "cadical", "cadical")
	outside.Find(t, "clasp", "clasp")
	x, dir := proved(t, generate.Generate(generate.Options{Trucks: 10, Seed: 1, Load: 0.95}))
	text, err := os.ReadFile(filepath.Join(dir, "README.txt"))
	if err != nil {
		t.Fatal(err)
	}
	var values []int64
	var tiers []string // what is printed of the tiers, in any order
	for _, v := range x.Result.Tiers {
		values = append(values, v.Value)
		if v.Value > 0 {
			tiers = append(tiers, v.Name+" "+strconv.FormatInt(v.Value, 10))
		}
		if line := fmt.Sprintf("\n  %-10s %12d\n", v.Name, v.Value); !strings.Contains(string(text), line) {
			t.Errorf("README.txt has no line %q", line)
		}
	}
	slices.Sort(tiers)
	sum := strconv.FormatInt(outside.ReadWCNF(t, filepath.Join(dir, "question.wcnf")).Cost(values), 10)
	ran := map[string]int{}
	sh := func(command string) string {
		c := exec.Command("sh", "-c", command)
		c.Dir = dir
		out, err := c.CombinedOutput()
		var exit *exec.ExitError // solvers say more by it than whether they worked
		if err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		return strings.TrimSpace(string(out))
	}
	for _, line := range strings.Split(string(text), "\n") {
		command, ok := strings.CutPrefix(line, "     ")
		if !ok || strings.HasPrefix(command, " ") {
			continue
		}
		kind := strings.Fields(command)[0]
		out := sh(command)
		switch {
		case strings.HasSuffix(command, "plan.model question.wcnf"):
			kind = "cost"
			if out != sum {
				t.Errorf("%s prints %q, want %s", command, out, sum)
			}
		case strings.HasSuffix(command, "plan.model costs.txt"):
			kind = "tiers"
			if got := strings.Split(out, "\n"); !slices.Equal(slices.Sorted(slices.Values(got)), tiers) {
				t.Errorf("%s prints %q, want %q", command, got, tiers)
			}
		case kind == "awk":
			if out != "" {
				t.Errorf("%s prints %q, want nothing", command, out)
			}
			// With another first clause, it prints that.
			file := command[strings.LastIndexByte(command, ' ')+1:]
			if out := sh("sed '5s/^/-9 /' " + file + " > other.cnf; " + strings.Replace(command, " "+file, " other.cnf", 1)); !strings.HasPrefix(out, "-9 ") {
				t.Errorf("%s prints %q when the first clause is changed", command, out)
			}
		case strings.Contains(command, "--opt-strategy"):
			kind = "maxsat"
			if !strings.Contains(out, "s OPTIMUM FOUND") || !strings.Contains(out, "\no "+sum+"\n") {
				t.Errorf("%s prints %s, want %s", command, out, sum)
			}
		default:
			if !strings.Contains(out, "s UNSATISFIABLE") {
				t.Errorf("%s prints %s", command, out)
			}
		}
		ran[kind]++
	}
	if n := len(tiers); ran["cost"] != 1 || ran["tiers"] != 1 || ran["maxsat"] != 1 || ran["awk"] != n || ran["cadical"] != n || ran["clasp"] != n {
		t.Errorf("commands: %v, for %d tiers", ran, n)
	}
	// The model with one literal turned round is told of.
	if out := sh("sed '1s/^v 1 /v -1 /' plan.model > other.model; " + strings.ReplaceAll(commandOf(string(text), "plan.model question.wcnf"), "plan.model", "other.model")); !strings.HasPrefix(out, "BROKEN: ") {
		t.Errorf("a model that breaks a clause: %q", out)
	}
	_, sums, _ := strings.Cut(string(text), "on these lines)\n\n")
	c := exec.Command("sha256sum", "-c", "--strict", "-")
	c.Dir, c.Stdin = dir, strings.NewReader(sums)
	if out, err := c.CombinedOutput(); err != nil || strings.Count(string(out), ": OK\n") != 5+len(tiers) {
		t.Errorf("sha256sum: %v\n%s", err, out)
	}
}

// commandOf is the command that ends so.
func commandOf(text, end string) string {
	for _, line := range strings.Split(text, "\n") {
		if strings.HasSuffix(line, end) {
			return strings.TrimSpace(line)
		}
	}
	return ""
}

// TestProve_Same writes the same bytes twice, and as the question what Export writes.
func TestProve_Same(t *testing.T) {
	for _, trucks := range []int{4, 20} {
		p := generate.Generate(generate.Options{Trucks: trucks, Seed: 1, Load: 0.95})
		x, one := proved(t, p)
		_, two := proved(t, p)
		names, err := os.ReadDir(one)
		if err != nil {
			t.Fatal(err)
		}
		if len(names) < 6 {
			t.Errorf("%d files", len(names))
		}
		for _, n := range names {
			a, err := os.ReadFile(filepath.Join(one, n.Name()))
			if err != nil {
				t.Fatal(err)
			}
			if b, err := os.ReadFile(filepath.Join(two, n.Name())); err != nil || !bytes.Equal(a, b) {
				t.Errorf("%d trucks: %s differs (%v)", trucks, n.Name(), err)
			}
		}
		question, err := os.ReadFile(filepath.Join(one, "question.wcnf"))
		if err != nil {
			t.Fatal(err)
		}
		var export bytes.Buffer
		if err := Export(context.Background(), p, WCNF, &export); err != nil || !bytes.Equal(export.Bytes(), question) {
			t.Errorf("%d trucks: export writes another question (%v)", trucks, err)
		}
		r, err := Plan(context.Background(), p, Options{})
		if err != nil || !slices.Equal(r.Tiers, x.Result.Tiers) {
			t.Errorf("%d trucks: Plan says %v (%v), Prove %v", trucks, r.Tiers, err, x.Result.Tiers)
		}
	}
}

// TestProve_Refuses makes nothing of a plan with a false value, of one that is not the
// best, of more clauses than wanted, or when time is over.
func TestProve_Refuses(t *testing.T) {
	ctx := context.Background()
	p := generate.Generate(generate.Options{Trucks: 10, Seed: 1, Load: 0.95})
	type found struct {
		plan  *plant.Plan
		tiers []plant.TierValue
	}
	var worse []found
	x, err := Prove(ctx, p, 5_000_000, Options{Report: func(pr Progress) {
		if pr.Plan != nil {
			worse = append(worse, found{pr.Plan, pr.Tiers})
		}
	}}, func(string) {})
	if err != nil || !x.Complete() {
		t.Fatal(err)
	}
	best := *x.Result
	for n := range best.Tiers {
		for _, by := range []int64{-1, 1} {
			r := best
			r.Tiers = slices.Clone(best.Tiers)
			r.Tiers[n].Value += by
			y := &Proof{Result: &r, p: p, q: x.q}
			if err := y.certify(ctx, 5_000_000, func(string) {}); err == nil || y.Complete() {
				t.Errorf("tier %s falsified by %d is certified", best.Tiers[n].Name, by)
			}
		}
	}
	tried := 0
	for _, w := range worse {
		values := func(list []plant.TierValue) (v []int64) {
			for _, x := range list {
				v = append(v, x.Value)
			}
			return v
		}
		if slices.Equal(values(w.tiers), values(best.Tiers)) {
			continue
		}
		tried++
		r := best
		r.Plan, r.Tiers = w.plan, w.tiers
		y := &Proof{Result: &r, p: p, q: x.q}
		if err := y.certify(ctx, 5_000_000, func(string) {}); !errors.Is(err, schedule.ErrNotBest) || y.Complete() {
			t.Errorf("a plan of %v is certified, and %v is better: %v", values(w.tiers), values(best.Tiers), err)
		}
	}
	if tried == 0 {
		t.Error("no plan on the way was worse than the best: this tests too little")
	}

	var large *TooLarge
	if _, err := Prove(ctx, p, x.c.Rules-1, Options{}, func(string) {}); !errors.Is(err, ErrTooLarge) || !errors.As(err, &large) || large.Clauses != x.c.Rules || large.File != "question.wcnf" {
		t.Errorf("%d clauses, one less wanted: %v", x.c.Rules, err)
	}
	over, cancel := context.WithCancel(ctx)
	cancel()
	y, err := Prove(over, p, 5_000_000, Options{}, func(string) {})
	if err != nil || y.Complete() || y.Result.Status != plant.Feasible {
		t.Errorf("out of time: %v, complete: %t", err, y.Complete())
	}
	late, stop := context.WithCancel(ctx)
	y, err = Prove(late, p, 5_000_000, Options{}, func(what string) {
		if strings.HasPrefix(what, "choosing") {
			stop()
		}
	})
	if err != nil || y.Complete() || y.Result.Status != plant.Optimal {
		t.Errorf("out of time while clauses are chosen: %v, complete: %t", err, y.Complete())
	}
	stop()
}
