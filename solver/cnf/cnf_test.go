package cnf

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wetdown/solver/sat"
)

// An encoding is one way to write the constraint "the weights of the true inputs sum
// to at most k", with weight 1 unless weights is set.
type encoding struct {
	name  string
	write func(s Sink, inputs []sat.Lit, k int)
}

// cardinalities are all ways to write "at most k of the inputs".
func cardinalities() []encoding {
	list := []encoding{
		{"totalizer", func(s Sink, in []sat.Lit, k int) {
			if k < len(in) {
				s.Add(-NewTotalizer(s, in).AtLeast(k + 1))
			}
		}},
		{"totalizer step by step", func(s Sink, in []sat.Lit, k int) {
			if k >= len(in) {
				return
			}
			t := NewTotalizer(s, in)
			for j := 1; j <= k; j++ {
				t.AtLeast(j)
			}
			s.Add(-t.AtLeast(k + 1))
		}},
		{"weight 1", func(s Sink, in []sat.Lit, k int) { AtMostWeight(s, weigh(in, ones(len(in))), int64(k)) }},
		{"weight 3", func(s Sink, in []sat.Lit, k int) {
			threes := ones(len(in))
			for i := range threes {
				threes[i] = 3
			}
			AtMostWeight(s, weigh(in, threes), int64(3*k+2))
		}},
	}
	for _, by := range Counters {
		list = append(list, encoding{by.String(), func(s Sink, in []sat.Lit, k int) { AtMost(s, by, in, k) }})
	}
	return list
}

func ones(n int) []int {
	w := make([]int, n)
	for i := range w {
		w[i] = 1
	}
	return w
}

func weigh(inputs []sat.Lit, weights []int) []Term {
	terms := make([]Term, len(inputs))
	for i, l := range inputs {
		terms[i] = Term{l, int64(weights[i])}
	}
	return terms
}

// allowed lists the sets of n inputs (bit i for input i) that an encoding allows,
// each asked for by assumptions.
func allowed(n int, write func(s Sink, inputs []sat.Lit)) []int {
	s := sat.New(64, 256)
	inputs := fresh(s, n)
	write(s, inputs)
	var sets []int
	assume := make([]sat.Lit, n)
	for set := range 1 << n {
		for i, l := range inputs {
			assume[i] = l
			if set>>i&1 == 0 {
				assume[i] = -l
			}
		}
		if s.Solve(context.Background(), assume) == sat.Sat {
			sets = append(sets, set)
		}
	}
	return sets
}

func weightOf(set int, weights []int) (sum int) {
	for i, w := range weights {
		if set>>i&1 == 1 {
			sum += w
		}
	}
	return sum
}

// An input set is allowed exactly when its weight is within the limit.
func checkModels(t *testing.T, name string, weights []int, k int, write func(s Sink, inputs []sat.Lit)) {
	t.Helper()
	var want []int
	for set := range 1 << len(weights) {
		if weightOf(set, weights) <= k {
			want = append(want, set)
		}
	}
	if got := allowed(len(weights), write); !slices.Equal(got, want) {
		t.Errorf("%s: weights %v limit %d allow %b, want %b", name, weights, k, got, want)
	}
}

// Every encoding of "at most k of n" has as many models on its inputs as the binomial
// coefficients C(n,0) to C(n,k) sum to, and they are the right ones.
func TestAtMost_Models(t *testing.T) {
	for _, enc := range cardinalities() {
		for n := 1; n <= 8; n++ {
			for k := -1; k <= n+1; k++ {
				if k < 0 && strings.HasPrefix(enc.name, "totalizer") {
					continue // "0 or more" is no output
				}
				write := func(s Sink, in []sat.Lit) { enc.write(s, in, k) }
				sum, c := 0, 1
				for i := 0; i <= min(k, n); i++ {
					sum += c
					c = c * (n - i) / (i + 1)
				}
				if got := len(allowed(n, write)); got != sum {
					t.Errorf("%s: at most %d of %d has %d models, want %d", enc.name, k, n, got, sum)
				}
				checkModels(t, enc.name, ones(n), k, write)
			}
		}
	}
}

// Unit propagation alone finds a conflict as soon as the true inputs weigh too much,
// and forces an input to be false as soon as it does not fit any more: for every
// partial assignment of the inputs.
func checkPropagation(t *testing.T, name string, weights []int, k int, write func(s Sink, inputs []sat.Lit)) {
	t.Helper()
	var f sat.Formula
	inputs := fresh(&f, len(weights))
	write(&f, inputs)
	n := len(weights)
	for partial := range pow(3, n) {
		var assume []sat.Lit
		sum := 0
		free := make([]bool, n)
		for i, p := 0, partial; i < n; i, p = i+1, p/3 {
			switch p % 3 {
			case 0:
				free[i] = true
			case 1:
				assume = append(assume, inputs[i])
				sum += weights[i]
			case 2:
				assume = append(assume, -inputs[i])
			}
		}
		value, consistent := propagate(&f, assume)
		if consistent != (sum <= k) {
			t.Fatalf("%s: weights %v limit %d, assumed %v: consistent %t, want %t", name, weights, k, assume, consistent, sum <= k)
		}
		for i, l := range inputs {
			if want := free[i] && sum+weights[i] > k; consistent && free[i] && (value[l.Var()] == -1) != want {
				t.Fatalf("%s: weights %v limit %d, assumed %v: input %d forced false %t, want %t", name, weights, k, assume, l, !want, want)
			}
		}
	}
}

func pow(b, e int) int {
	p := 1
	for range e {
		p *= b
	}
	return p
}

// propagate is plain unit propagation: values by variable, 1 or -1, 0 for open.
func propagate(f *sat.Formula, assume []sat.Lit) (value []int, consistent bool) {
	value = make([]int, f.NumVars()+1)
	of := func(l sat.Lit) int {
		if l < 0 {
			return -value[-l]
		}
		return value[l]
	}
	set := func(l sat.Lit) {
		value[l.Var()] = 1
		if l < 0 {
			value[-l] = -1
		}
	}
	for _, l := range assume {
		set(l)
	}
	for changed := true; changed; {
		changed = false
		for i := range f.NumClauses() {
			open, unit, satisfied := 0, sat.Lit(0), false
			for _, l := range f.Clause(i) {
				switch of(l) {
				case 1:
					satisfied = true
				case 0:
					open++
					unit = l
				}
			}
			switch {
			case satisfied || open > 1:
			case open == 0:
				return value, false
			default:
				set(unit)
				changed = true
			}
		}
	}
	return value, true
}

func TestAtMost_Propagation(t *testing.T) {
	for _, enc := range cardinalities() {
		for n := 1; n <= 6; n++ {
			for k := 0; k <= n; k++ {
				checkPropagation(t, enc.name, ones(n), k, func(s Sink, in []sat.Lit) { enc.write(s, in, k) })
			}
		}
	}
}

func TestAtMostOne(t *testing.T) {
	for n := 0; n <= 12; n++ {
		checkModels(t, "at most one", ones(n), 1, func(s Sink, in []sat.Lit) { AtMostOne(s, in) })
	}
	for n := 1; n <= 8; n++ {
		checkPropagation(t, "at most one", ones(n), 1, func(s Sink, in []sat.Lit) { AtMostOne(s, in) })
	}
}

// A literal that occurs twice counts twice, and a literal with its negation counts
// one in any case.
func TestAtMost_RepeatedLiterals(t *testing.T) {
	for _, enc := range cardinalities() {
		got := allowed(3, func(s Sink, in []sat.Lit) {
			enc.write(s, []sat.Lit{in[0], in[1], in[0], in[2], -in[2]}, 2)
		})
		if want := []int{0b000, 0b010, 0b100, 0b110}; !slices.Equal(got, want) {
			t.Errorf("%s: 2a + b + c + ¬c ≤ 2 allows %03b, want %03b", enc.name, got, want)
		}
	}
}

func TestAtMostWeight(t *testing.T) {
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 0))
		weights := make([]int, 1+rng.IntN(8))
		top := []int{3, 10, 1000}[rng.IntN(3)]
		sum := 0
		for i := range weights {
			weights[i] = 1 + rng.IntN(top)
			sum += weights[i]
		}
		k := rng.IntN(sum+3) - 1
		write := func(s Sink, in []sat.Lit) { AtMostWeight(s, weigh(in, weights), int64(k)) }
		checkModels(t, fmt.Sprint("seed ", seed), weights, k, write)
		if k >= 0 && len(weights) <= 6 {
			checkPropagation(t, fmt.Sprint("seed ", seed), weights, k, write)
		}
	}
}

// The worked example 2x + 3y + 5z ≤ 6 of Abío et al. (JAIR 45, 2012; from memory, and
// easily recomputed): the limits 5 and 6 are the same constraint, 4 and 7 are others.
func TestAtMostWeight_Interval(t *testing.T) {
	var f sat.Formula
	in := fresh(&f, 3)
	AtMostWeight(&f, weigh(in, []int{2, 3, 5}), 6)
	// z excludes x and y. A node for each; z's and x's need no second clause, and one
	// clause holds the root.
	if f.NumVars() != 3+3 || f.NumClauses() != 5 {
		t.Errorf("%d nodes and %d clauses, want 3 and 5", f.NumVars()-3, f.NumClauses())
	}
	d := &diagram{sink: &f, terms: weigh([]sat.Lit{in[2], in[1], in[0]}, []int{5, 3, 2}), rest: []int64{10, 5, 2, 0}, levels: make([][]span, 3)}
	if root := d.node(0, 6); root.from != 5 || root.to != 6 {
		t.Errorf("the limit 6 is told apart in [%d, %d], want [5, 6]", root.from, root.to)
	}
}

func TestAtMostWeight_RefusesWeights(t *testing.T) {
	for _, weights := range [][]int{{1, 0}, {-2}, {unbounded, unbounded}} {
		func() {
			defer func() {
				if r := recover(); r == nil || !strings.Contains(fmt.Sprint(r), "AtMostWeight: weight") {
					t.Errorf("weights %v: %v, want a panic that names the weight", weights, r)
				}
			}()
			var f sat.Formula
			AtMostWeight(&f, weigh(fresh(&f, len(weights)), weights), 1)
		}()
	}
}

func TestOrder(t *testing.T) {
	for n := 1; n <= 6; n++ {
		s := sat.New(20, 20)
		top := True(s)
		o := NewOrder(s, n, top)
		if o.Len() != n || o.GE(0) != top || o.GE(-3) != top || o.GE(n) != -top || o.GE(n+3) != -top {
			t.Errorf("%d positions: the ends are no constants", n)
		}
		var seen []int
		for s.Solve(context.Background(), nil) == sat.Sat {
			at := o.Position(s.Value)
			for k := -1; k <= n; k++ {
				if s.Value(o.GE(k)) != (at >= k) || s.Value(o.LE(k)) != (at <= k) {
					t.Errorf("%d positions, at %d: bounds at %d are %t and %t", n, at, k, s.Value(o.GE(k)), s.Value(o.LE(k)))
				}
			}
			seen = append(seen, at)
			s.Add2(-o.GE(at), -o.LE(at))
		}
		slices.Sort(seen)
		if len(seen) != n || seen[0] != 0 || seen[n-1] != n-1 {
			t.Errorf("%d positions: models %v", n, seen)
		}
	}
}

// An output is forced when its count is reached and free below; outputs imply those
// below them; and asking upwards costs no more than asking for the last at once.
func TestTotalizer(t *testing.T) {
	ctx := context.Background()
	for n := 1; n <= 8; n++ {
		s := sat.New(100, 500)
		in := fresh(s, n)
		tot := NewTotalizer(s, in)
		if tot.Len() != n || s.Stats().Clauses != 0 {
			t.Fatalf("NewTotalizer over %d writes %d clauses, has Len %d", n, s.Stats().Clauses, tot.Len())
		}
		for k := 1; k <= n; k++ {
			out := tot.AtLeast(k)
			if again := tot.AtLeast(k); again != out {
				t.Errorf("AtLeast(%d) is %d, then %d", k, out, again)
			}
			for c := 0; c <= n; c++ {
				assume := []sat.Lit{-out}
				for i, l := range in {
					if i >= c {
						l = -l
					}
					assume = append(assume, l)
				}
				if got := s.Solve(ctx, assume) == sat.Sat; got != (c < k) {
					t.Errorf("n=%d: output %d may be false at count %d: %t", n, k, c, got)
				}
				if assume[0] = out; s.Solve(ctx, assume) != sat.Sat && n > 1 {
					t.Errorf("n=%d: output %d may not be true at count %d", n, k, c)
				}
			}
			if k > 1 && s.Solve(ctx, []sat.Lit{out, -tot.AtLeast(k - 1)}) != sat.Unsat {
				t.Errorf("n=%d: output %d does not imply output %d", n, k, k-1)
			}
		}
		once := sat.New(100, 500)
		NewTotalizer(once, fresh(once, n)).AtLeast(n)
		if a, b := s.Stats(), once.Stats(); a.Clauses != b.Clauses || a.Vars != b.Vars {
			t.Errorf("n=%d: step by step %+v, at once %+v", n, a, b)
		}
	}
}

func TestTotalizer_RefusesBounds(t *testing.T) {
	var f sat.Formula
	tot := NewTotalizer(&f, fresh(&f, 4))
	for _, k := range []int{0, -1, 5} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("AtLeast(%d) over 4 inputs does not panic", k)
				}
			}()
			tot.AtLeast(k)
		}()
	}
}

// sizes lists variables and clauses of every encoding, so that an accidental change
// is seen, and hands them to the golden file.
func sizes() string {
	var b strings.Builder
	row := func(name string, n int, write func(s Sink, in []sat.Lit)) {
		var f sat.Formula
		in := fresh(&f, n)
		write(&f, in)
		fmt.Fprintf(&b, "%-36s %6d variables %6d clauses\n", name, f.NumVars()-n, f.NumClauses())
	}
	for _, c := range []struct{ n, k int }{{8, 3}, {20, 1}, {20, 4}, {20, 16}, {100, 2}, {100, 10}, {100, 50}} {
		for _, enc := range cardinalities() {
			row(fmt.Sprintf("%s, %d of %d", enc.name, c.k, c.n), c.n, func(s Sink, in []sat.Lit) { enc.write(s, in, c.k) })
		}
	}
	for _, n := range []int{5, 6, 20, 100} {
		row(fmt.Sprintf("at most one of %d", n), n, func(s Sink, in []sat.Lit) { AtMostOne(s, in) })
	}
	for _, c := range []struct{ n, top, limit int }{{10, 5, 12}, {30, 10, 20}, {30, 10, 80}, {30, 1000, 8000}} {
		rng := rand.New(rand.NewPCG(uint64(c.n), uint64(c.top)))
		weights := make([]int, c.n)
		for i := range weights {
			weights[i] = 1 + rng.IntN(c.top)
		}
		row(fmt.Sprintf("weight %d of %d up to %d", c.limit, c.n, c.top), c.n, func(s Sink, in []sat.Lit) {
			AtMostWeight(s, weigh(in, weights), int64(c.limit))
		})
	}
	row("order over 50", 0, func(s Sink, _ []sat.Lit) { NewOrder(s, 50, True(s)) })
	return b.String()
}

// Rewritten by UPDATE=1 go test.
func TestSizes(t *testing.T) {
	path := filepath.Join("testdata", "sizes.golden")
	got := sizes()
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("sizes have changed; look at the difference and run UPDATE=1 go test:\n%s", got)
	}
}

// The clauses of one small instance of each encoding, to be read by people.
func TestClauses(t *testing.T) {
	for _, c := range []struct {
		name  string
		n     int
		write func(s Sink, in []sat.Lit)
		want  string
	}{
		{"sequential, 2 of 4", 4, func(s Sink, in []sat.Lit) { AtMost(s, Sequential, in, 2) },
			"p cnf 8 8\n-1 5 0\n-5 6 0\n-2 6 0\n-2 -5 7 0\n-3 -7 0\n-7 8 0\n-3 -6 8 0\n-4 -8 0\n"},
		{"tree, 2 of 4", 4, func(s Sink, in []sat.Lit) { AtMost(s, Tree, in, 2) },
			"p cnf 8 8\n-2 5 0\n-1 5 0\n-1 -2 6 0\n-4 7 0\n-3 7 0\n-3 -4 8 0\n-5 -8 0\n-6 -7 0\n"},
		{"5a + 3b + 2c <= 6", 3, func(s Sink, in []sat.Lit) { AtMostWeight(s, weigh(in, []int{5, 3, 2}), 6) },
			"p cnf 6 5\n-4 -3 0\n-5 -2 0\n-5 4 0\n-6 -1 5 0\n6 0\n"},
		{"order over 4", 0, func(s Sink, _ []sat.Lit) { NewOrder(s, 4, True(s)) }, "p cnf 4 3\n1 0\n-3 2 0\n-4 3 0\n"},
	} {
		var f sat.Formula
		c.write(&f, fresh(&f, c.n))
		var out strings.Builder
		if err := f.WriteDIMACS(&out); err != nil {
			t.Fatal(err)
		}
		if out.String() != c.want {
			t.Errorf("%s:\n%swant:\n%s", c.name, out.String(), c.want)
		}
	}
}

func BenchmarkAtMost(b *testing.B) {
	for _, enc := range cardinalities() {
		for _, c := range []struct{ n, k int }{{30, 3}, {100, 10}} {
			b.Run(fmt.Sprintf("%s/%d of %d", enc.name, c.k, c.n), func(b *testing.B) {
				var f sat.Formula
				for b.Loop() {
					f = sat.Formula{}
					enc.write(&f, fresh(&f, c.n), c.k)
				}
				b.ReportMetric(float64(f.NumClauses()), "clauses")
				b.ReportMetric(float64(f.NumVars()-c.n), "variables")
			})
		}
	}
}
