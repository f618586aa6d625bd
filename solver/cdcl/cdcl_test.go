package cdcl

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/outside"
	"wetdown/solver/sat"
)

var background = context.Background()

// with returns a solver with so many variables.
func with(vars int) *Solver {
	s := New()
	for range vars {
		s.Lit()
	}
	return s
}

// random is a clause of the given length over distinct variables.
func random(dice *rand.Rand, vars, length int) []sat.Lit {
	c := make([]sat.Lit, length)
	for i, v := range dice.Perm(vars)[:length] {
		if c[i] = sat.Lit(v + 1); dice.IntN(2) == 0 {
			c[i] = -c[i]
		}
	}
	return c
}

func holds(clauses [][]sat.Lit, value func(sat.Lit) bool) bool {
	for _, c := range clauses {
		if !slices.ContainsFunc(c, value) {
			return false
		}
	}
	return true
}

// exists tries all values.
func exists(vars int, clauses [][]sat.Lit) bool {
	for m := range 1 << vars {
		if holds(clauses, func(l sat.Lit) bool { return (m>>(l.Var()-1)&1 == 1) == (l > 0) }) {
			return true
		}
	}
	return false
}

// Clauses are added between calls, some with assumptions; the answers are those of trying all
// values, and models are models.
func TestSolve_Small(t *testing.T) {
	const vars = 9
	count := map[sat.Status]int{}
	for seed := range uint64(300) {
		dice := rand.New(rand.NewPCG(seed, 2))
		s := with(vars)
		var clauses [][]sat.Lit
		for range 12 {
			for range 6 {
				c := random(dice, vars, 1+dice.IntN(4)+dice.IntN(2))
				if len(c) == 1 && dice.IntN(4) > 0 {
					c = random(dice, vars, 3)
				}
				if dice.IntN(8) == 0 {
					c = append(c, c[0]) // twice the same
				}
				if dice.IntN(8) == 0 {
					c = append(c, -c[0]) // true
				}
				clauses = append(clauses, c)
				s.Add(c...)
			}
			for _, n := range []int{0, 1 + dice.IntN(4)} {
				all := slices.Clone(clauses)
				assumed := random(dice, vars, n)
				for _, l := range assumed {
					all = append(all, []sat.Lit{l})
				}
				want := sat.Unsat
				if exists(vars, all) {
					want = sat.Sat
				}
				got := s.Solve(background, assumed)
				if got != want {
					t.Fatalf("seed %d, clauses %v: %s, want %s", seed, all, got, want)
				}
				count[got]++
				if got == sat.Sat {
					if !holds(all, s.Value) {
						t.Fatalf("seed %d, clauses %v: the model is none", seed, all)
					}
					continue
				}
				all = slices.Clone(clauses)
				last := -1
				for _, l := range s.Core() {
					at := slices.Index(assumed, l)
					if at <= last {
						t.Fatalf("seed %d: core %v of the assumptions %v: want some of them, in their order", seed, s.Core(), assumed)
					}
					last = at
					all = append(all, []sat.Lit{l})
				}
				if exists(vars, all) {
					t.Fatalf("seed %d, clauses %v: core %v of %v contradicts nothing", seed, clauses, s.Core(), assumed)
				}
			}
		}
	}
	if count[sat.Sat] < 500 || count[sat.Unsat] < 500 {
		t.Errorf("answers %v: want many of both", count)
	}
}

// Beyond trying all values: the answers are those of the other solver, models are models, and what
// was learned is a proof, which the checker for proofs goes through. 4.3 clauses of three literals
// for each variable are about where models end (Mitchell, Selman and Levesque, "Hard and easy
// distributions of SAT problems", AAAI 1992).
func TestSolve_Random(t *testing.T) {
	count := map[sat.Status]int{}
	var forgot, turned int64
	for seed := range uint64(12) {
		const vars = 180
		dice := rand.New(rand.NewPCG(seed, 3))
		s, other := with(vars), sat.New(vars, 0)
		for range vars {
			other.Lit()
		}
		var clauses [][]sat.Lit
		f := &outside.DIMACS{Variables: vars}
		for range int(4.3 * vars) {
			c := random(dice, vars, 3)
			clauses = append(clauses, c)
			s.Add(c...)
			other.Add(c...)
			var hard []int32
			for _, l := range c {
				hard = append(hard, int32(l))
			}
			f.Hard = append(f.Hard, hard)
		}
		var proof bytes.Buffer
		s.trace = func(c []lit) {
			for _, l := range c {
				if l&1 == 1 {
					fmt.Fprint(&proof, "-")
				}
				fmt.Fprint(&proof, l>>1, " ")
			}
			fmt.Fprintln(&proof, "0")
		}
		got := s.Solve(background, nil)
		if want := other.Solve(background, nil); got != want {
			t.Fatalf("seed %d: %s, want %s", seed, got, want)
		}
		count[got]++
		if got == sat.Sat {
			if !holds(clauses, s.Value) {
				t.Errorf("seed %d: the model is none", seed)
			}
			continue
		}
		fmt.Fprintln(&proof, "0")
		if err := outside.CheckProof(f, &proof); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		forgot += s.reductions
		turned += s.turns
	}
	if forgot < 20 || turned < 4 {
		t.Errorf("forgot %d times, %d turns: want more, or else the test does not reach them", forgot, turned)
	}
	if count[sat.Sat] == 0 || count[sat.Unsat] == 0 {
		t.Errorf("answers %v: want both", count)
	}
}

// One pigeon more than holes.
func pigeons(holes int) *Solver {
	s := New()
	fill(s, holes)
	return s
}

func fill(s *Solver, holes int) {
	for range (holes + 1) * holes {
		s.Lit()
	}
	in := func(p, h int) sat.Lit { return sat.Lit(p*holes + h + 1) }
	for p := range holes + 1 {
		var c []sat.Lit
		for h := range holes {
			c = append(c, in(p, h))
		}
		s.Add(c...)
		for q := range p {
			for h := range holes {
				s.Add2(-in(p, h), -in(q, h))
			}
		}
	}
}

// A question that is left, by its effort or by its context, says nothing, and can be asked on.
func TestSolve_Left(t *testing.T) {
	s := pigeons(7)
	if got := s.Within(background, 50, nil); got != sat.Unknown || s.conflicts != 50 {
		t.Errorf("with 50 conflicts: %s after %d", got, s.conflicts)
	}
	ended, end := context.WithCancel(background)
	end()
	if got := s.Solve(ended, nil); got != sat.Unknown {
		t.Errorf("with a context that has ended: %s", got)
	}
	if got := s.Solve(background, nil); got != sat.Unsat {
		t.Errorf("asked on: %s", got)
	}
	if got := s.Solve(background, nil); got != sat.Unsat {
		t.Errorf("asked again: %s", got)
	}
}

// A context that ends while it searches ends the search, between two conflicts too.
func TestSolve_Ended(t *testing.T) {
	s := pigeons(11) // out of reach
	ctx := &ending{Context: background, looks: 5}
	if got := s.Solve(ctx, nil); got != sat.Unknown || s.propagations < 3*look || s.propagations > 8*look {
		t.Errorf("%s after %d propagations, want unknown at the fifth look of %d each", got, s.propagations, look)
	}
}

// A limit ends the question in which it is reached, always at the same place, and those that follow, until it is taken away.
func TestLimit(t *testing.T) {
	var at [2]int64
	for n := range at {
		s := pigeons(11)
		s.Limit(3 * look)
		if got := s.Solve(background, nil); got != sat.Unknown || !s.Ended(background) {
			t.Errorf("%s after %d propagations, want unknown", got, s.propagations)
		}
		if at[n] = s.propagations; at[n] < 3*look || at[n] > 5*look {
			t.Errorf("ended after %d propagations of %d", at[n], 3*look)
		}
		if got := s.Solve(background, nil); got != sat.Unknown || s.propagations != at[n] {
			t.Errorf("asked again: %s after %d propagations more", got, s.propagations-at[n])
		}
		if s.Reset(); s.Ended(background) {
			t.Error("the limit outlives a reset")
		}
	}
	if at[0] != at[1] {
		t.Errorf("ended after %d propagations, then after %d", at[0], at[1])
	}
}

// An ending context ends after so many looks.
type ending struct {
	context.Context
	looks int
}

func (e *ending) Err() error {
	if e.looks--; e.looks < 0 {
		return context.Canceled
	}
	return nil
}

func TestSolve_Repeats(t *testing.T) {
	a, b := pigeons(7), pigeons(7)
	a.Solve(background, nil)
	b.Solve(background, nil)
	if a.conflicts != b.conflicts || a.propagations != b.propagations {
		t.Errorf("%d conflicts and %d propagations, the second time %d and %d", a.conflicts, a.propagations, b.conflicts, b.propagations)
	}
}

// Without a clause that says otherwise, a model has the phases asked for.
func TestPhase(t *testing.T) {
	s := with(4)
	s.Phase(2)
	s.Phase(3)
	s.Add(-2, -3)
	if got := s.Solve(background, nil); got != sat.Sat || s.Value(1) || s.Value(4) || s.Value(2) == s.Value(3) {
		t.Errorf("%s: %v %v %v %v", got, s.Value(1), s.Value(2), s.Value(3), s.Value(4))
	}
}

// What is not decided on only follows: counters say so when it does, and models are models. The same
// questions one after the other, with the assumptions changed a little each time, get the answers of a
// solver that is asked nothing else.
func TestDecide(t *testing.T) {
	const vars = 14
	count := map[sat.Status]int{}
	for seed := range uint64(200) {
		dice := rand.New(rand.NewPCG(seed, 4))
		var f sat.Formula
		s := with(vars)
		for range vars {
			f.Lit()
		}
		add := func(c ...sat.Lit) {
			f.Add(c...)
			s.Add(c...)
		}
		s.Decide(1, 2, 3)
		for v := range sat.Lit(vars) {
			s.Decide(v + 1)
		}
		for range 25 {
			add(random(dice, vars, 3)...)
		}
		var counts []sat.Lit // "these two are true", said in one direction
		for range 20 {
			l := s.Lit()
			if f.Lit() != l {
				t.Fatal("literals are numbered otherwise")
			}
			c := append(random(dice, vars, 2), l)
			add(c...)
			counts = append(counts, -l)
		}
		assumed := random(dice, vars, 4)
		for range 30 {
			as := append(slices.Clone(counts), assumed...)
			other := sat.New(0, 0)
			for range f.NumVars() {
				other.Lit()
			}
			var clauses [][]sat.Lit
			for n := range f.NumClauses() {
				other.Add(f.Clause(n)...)
				clauses = append(clauses, f.Clause(n))
			}
			got := s.Solve(background, as)
			if want := other.Solve(background, as); got != want {
				t.Fatalf("seed %d: %s, want %s", seed, got, want)
			}
			count[got]++
			if got == sat.Sat {
				if !holds(clauses, s.Value) || slices.ContainsFunc(as, func(l sat.Lit) bool { return !s.Value(l) }) {
					t.Fatalf("seed %d: the model is none", seed)
				}
				add(random(dice, vars, 4)...)
			} else if core := s.Core(); other.Solve(background, core) != sat.Unsat {
				t.Fatalf("seed %d: core %v contradicts nothing", seed, core)
			} else if len(core) > 0 {
				counts = slices.DeleteFunc(counts, func(l sat.Lit) bool { return l == core[len(core)-1] })
			}
			if n := dice.IntN(len(assumed)); dice.IntN(2) == 0 {
				assumed[n] = -assumed[n]
			}
		}
	}
	if count[sat.Sat] < 500 || count[sat.Unsat] < 500 {
		t.Errorf("answers %v: want many of both", count)
	}
}

// A question that took too long says which assumptions it was busy with.
func TestWithin_Core(t *testing.T) {
	const holes = 7
	s := New()
	other, guard := s.Lit(), s.Lit()
	in := make([][]sat.Lit, holes+1)
	for p := range in {
		for range holes {
			in[p] = append(in[p], s.Lit())
		}
		s.Add(append(slices.Clone(in[p]), -guard)...)
		for q := range p {
			for h := range holes {
				s.Add2(-in[p][h], -in[q][h])
			}
		}
	}
	if got := s.Within(background, 30, []sat.Lit{other, guard}); got != sat.Unknown || !slices.Equal(s.Core(), []sat.Lit{guard}) {
		t.Errorf("30 conflicts: %s, busy with %v, want unknown, with the guard %d", got, s.Core(), guard)
	}
	if got := s.Solve(background, []sat.Lit{other, guard}); got != sat.Unsat || !slices.Equal(s.Core(), []sat.Lit{guard}) {
		t.Errorf("asked on: %s, core %v", got, s.Core())
	}
	if got := s.Solve(background, []sat.Lit{other}); got != sat.Sat {
		t.Errorf("without the guard: %s", got)
	}
}

// After a reset a solver does what a new one does.
func TestReset(t *testing.T) {
	fresh := pigeons(7)
	fresh.Solve(background, nil)
	s := pigeons(6)
	s.Decide(1)
	s.Phase(5)
	s.Solve(background, []sat.Lit{3})
	s.Reset()
	fill(s, 7)
	if got := s.Solve(background, nil); got != sat.Unsat || s.conflicts != fresh.conflicts || s.propagations != fresh.propagations {
		t.Errorf("%s after %d conflicts and %d propagations, a new one: %d and %d", got, s.conflicts, s.propagations, fresh.conflicts, fresh.propagations)
	}
}

func TestValue_NoModel(t *testing.T) {
	s := with(2)
	s.Add(1, 2)
	s.Solve(background, nil)
	s.Add(-1)
	defer func() {
		if recover() == nil {
			t.Error("a value after a clause was added")
		}
	}()
	s.Value(1)
}

func TestAdd_Unknown(t *testing.T) {
	for _, l := range []sat.Lit{0, 3, -3} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("literal %d of two variables is taken", l)
				}
			}()
			with(2).Add(1, l)
		}()
	}
}
