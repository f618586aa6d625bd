package cdcl

import (
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/sat"
)

// What is refuted with a part in focus is refuted by all clauses, and what clauses of that part
// alone refute is refuted; there is no model then. Afterwards everything is as with a solver that never had a focus.
func TestFocus(t *testing.T) {
	const vars, parts = 24, 4
	count := map[sat.Status]int{}
	within, early := 0, 0
	for seed := range uint64(200) {
		dice := rand.New(rand.NewPCG(seed, 5))
		s := with(vars)
		of := func(l sat.Lit) int { return 1 + (l.Var()-1)*parts/vars }
		for v := range sat.Lit(vars) {
			if seed%2 == 0 {
				s.Decide(v + 1)
			}
			s.Part(of(v+1), v+1)
		}
		var clauses [][]sat.Lit
		add := func(c []sat.Lit) {
			clauses = append(clauses, c)
			s.Add(c...)
		}
		for range 85 {
			add(random(dice, vars, 3))
		}
		for range 20 {
			assumed := random(dice, vars, 1+dice.IntN(4))
			solve := func(clauses [][]sat.Lit, as []sat.Lit) sat.Status {
				other := with(vars)
				for _, c := range clauses {
					other.Add(c...)
				}
				return other.Solve(background, as)
			}
			part := dice.IntN(parts + 1)
			s.Focus(part)
			got, want := s.Solve(background, assumed), solve(clauses, assumed)
			switch {
			case part == 0:
				if got != want {
					t.Fatalf("seed %d: %s about everything, want %s", seed, got, want)
				}
				if got == sat.Sat && !holds(clauses, s.Value) {
					t.Fatalf("seed %d: the model is none", seed)
				}
				count[got]++
			case got == sat.Unsat:
				if want != sat.Unsat || solve(clauses, slices.Clone(s.Core())) != sat.Unsat {
					t.Fatalf("seed %d: part %d refutes %v with the core %v, all clauses do not", seed, part, assumed, s.Core())
				}
				within++
			default:
				own := slices.DeleteFunc(slices.Clone(clauses), func(c []sat.Lit) bool {
					return slices.ContainsFunc(c, func(l sat.Lit) bool { return of(l) != part })
				})
				if solve(own, slices.DeleteFunc(slices.Clone(assumed), func(l sat.Lit) bool { return of(l) != part })) != sat.Sat {
					t.Fatalf("seed %d: %s for part %d, whose own clauses refute %v", seed, got, part, assumed)
				}
				if want == sat.Unsat {
					early++
				}
				func() {
					defer func() { _ = recover() }()
					s.Value(1)
					t.Fatalf("seed %d: a value of a model of a part", seed)
				}()
			}
			if dice.IntN(2) == 0 {
				add(random(dice, vars, 2+dice.IntN(3)))
			}
		}
	}
	if count[sat.Sat] < 100 || count[sat.Unsat] < 100 || within < 100 || early < 10 {
		t.Errorf("%v about everything, %d refuted within a part, %d there not but by all: too one-sided", count, within, early)
	}
}
