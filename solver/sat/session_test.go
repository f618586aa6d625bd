package sat

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

var background = context.Background()

// add is a short way to write a clause of literals given as numbers, creating the
// variables that are missing.
func add(s *Session, lits ...Lit) {
	for _, l := range lits {
		for s.Stats().Vars < l.Var() {
			s.Lit()
		}
	}
	s.Add(lits...)
}

func mustSolve(t *testing.T, s *Session, want Status, assumptions ...Lit) {
	t.Helper()
	if got := s.Solve(background, assumptions); got != want {
		t.Fatalf("Solve(%v) = %s, want %s", assumptions, got, want)
	}
}

// Every method in every state: allowed, or a panic that names it.
func TestSession_Contract(t *testing.T) {
	reach := map[string]func(s *Session){
		"open": func(s *Session) {},
		"sat":  func(s *Session) { s.Solve(background, nil) },
		"unsat": func(s *Session) {
			s.Solve(background, []Lit{1, -1})
		},
		"unknown": func(s *Session) {
			ctx, cancel := context.WithCancel(background)
			cancel()
			s.Solve(ctx, nil)
		},
	}
	always := []string{"open", "sat", "unsat", "unknown"}
	for _, m := range []struct {
		name    string
		call    func(s *Session)
		allowed []string
		opens   bool
	}{
		{"Lit", func(s *Session) { s.Lit() }, always, true},
		{"Reserve", func(s *Session) { s.Reserve(3) }, always, true},
		{"Add", func(s *Session) { s.Add(1, -2) }, always, true},
		{"Add2", func(s *Session) { s.Add2(1, -2) }, always, true},
		{"Add3", func(s *Session) { s.Add3(1, -2, 1) }, always, true},
		{"Solve", func(s *Session) { s.Solve(background, nil) }, always, false},
		{"Stats", func(s *Session) { s.Stats() }, always, false},
		{"Value", func(s *Session) { s.Value(1) }, []string{"sat"}, false},
		{"Model", func(s *Session) { s.Model(nil) }, []string{"sat"}, false},
		{"Core", func(s *Session) { s.Core() }, []string{"unsat"}, false},
	} {
		for _, from := range always {
			s := New(10, 10)
			s.Lit()
			s.Lit()
			s.Add(1, 2)
			reach[from](s)
			if s.state.String() != from {
				t.Fatalf("wanted state %s, reached %s", from, s.state)
			}
			said := panics(func() { m.call(s) })
			switch ok := slices.Contains(m.allowed, from); {
			case ok && said != "":
				t.Errorf("%s in state %s panics: %s", m.name, from, said)
			case !ok && !strings.Contains(said, "Session."+m.name+" in state "+from):
				t.Errorf("%s in state %s: panic %q does not name method and state", m.name, from, said)
			}
			if m.opens && s.state != open {
				t.Errorf("%s in state %s leaves state %s, want open", m.name, from, s.state)
			}
		}
	}
}

// panics returns what f panics with, empty if it does not.
func panics(f func()) (said string) {
	defer func() {
		if r := recover(); r != nil {
			said = fmt.Sprint(r)
		}
	}()
	f()
	return ""
}

func TestSession_RefusesLiteralsNobodyCreated(t *testing.T) {
	for _, call := range []struct {
		name string
		f    func(s *Session, l Lit)
	}{
		{"Add", func(s *Session, l Lit) { s.Add(1, l) }},
		{"Add2", func(s *Session, l Lit) { s.Add2(1, l) }},
		{"Add3", func(s *Session, l Lit) { s.Add3(1, 2, l) }},
		{"Solve", func(s *Session, l Lit) { s.Solve(background, []Lit{l}) }},
		{"Value", func(s *Session, l Lit) { s.Solve(background, nil); s.Value(l) }},
	} {
		for _, l := range []Lit{0, 3, -3} {
			s := New(10, 10)
			s.Lit()
			s.Lit()
			s.Reserve(5)
			if said := panics(func() { call.f(s, l) }); !strings.Contains(said, "Session."+call.name+" with literal") {
				t.Errorf("%s with literal %d of 2 variables: panic %q", call.name, l, said)
			}
		}
	}
}

// gini forgets a contradiction among the clauses when it is asked once more, and ends
// the process over it.
func TestSession_ContradictionStays(t *testing.T) {
	square := func() *Session {
		s := New(10, 10)
		add(s, 1, 2)
		add(s, 1, -2)
		add(s, -1, 2)
		add(s, -1, -2)
		return s
	}
	t.Run("asked twice", func(t *testing.T) {
		s := square()
		for range 3 {
			mustSolve(t, s, Unsat)
			if core := s.Core(); len(core) != 0 {
				t.Errorf("core %v of contradictory clauses, want none", core)
			}
		}
	})
	t.Run("clauses added in between", func(t *testing.T) {
		s := square()
		mustSolve(t, s, Unsat)
		add(s, 3, 4)
		mustSolve(t, s, Unsat, 3)
		if core := s.Core(); len(core) != 0 {
			t.Errorf("core %v of contradictory clauses, want none", core)
		}
	})
	t.Run("found while the last conflict is analysed", func(t *testing.T) {
		s := square()
		mustSolve(t, s, Unsat, 1)
		mustSolve(t, s, Unsat)
		mustSolve(t, s, Unsat, -2)
	})
	t.Run("the empty clause", func(t *testing.T) {
		s := New(10, 10)
		s.Add()
		mustSolve(t, s, Unsat)
		mustSolve(t, s, Unsat)
	})
}

func TestSession_Core(t *testing.T) {
	s := New(10, 10)
	for range 6 {
		s.Lit()
	}
	s.Add2(-5, -2)
	for _, c := range []struct{ assume, want []Lit }{
		{[]Lit{1, 5, 3, 2, 4}, []Lit{5, 2}},
		{[]Lit{2, 1, 3, 5, 4}, []Lit{2, 5}},
		{[]Lit{2, 5, 2, 5}, []Lit{2, 5}},
		{[]Lit{1, 6, 4, -6}, []Lit{6, -6}},
	} {
		mustSolve(t, s, Unsat, c.assume...)
		if !slices.Equal(s.Core(), c.want) {
			t.Errorf("assuming %v: core %v, want %v", c.assume, s.Core(), c.want)
		}
	}
	mustSolve(t, s, Sat, 1, 5, 3, 4)
}

// pigeons writes that each of n+1 pigeons has one of n holes and no hole two, all
// under the literal it returns. Without it the clauses are satisfiable; with it they
// are not, and every resolution proof is exponential in n (Haken, The intractability
// of resolution, Theoretical Computer Science 39, 1985).
func pigeons(s *Session, n int) Lit {
	on := s.Lit()
	at := make([][]Lit, n+1)
	for p := range at {
		clause := []Lit{-on}
		for range n {
			at[p] = append(at[p], s.Lit())
		}
		s.Add(append(clause, at[p]...)...)
	}
	for h := range n {
		for p := range at {
			for q := range p {
				s.Add2(-at[p][h], -at[q][h])
			}
		}
	}
	return on
}

func TestSession_Pigeons(t *testing.T) {
	for n := 1; n <= 6; n++ {
		s := New(100, 1000)
		on := pigeons(s, n)
		mustSolve(t, s, Sat)
		mustSolve(t, s, Unsat, on)
		if !slices.Equal(s.Core(), []Lit{on}) {
			t.Errorf("%d holes: core %v, want [%d]", n, s.Core(), on)
		}
		s.Add(on)
		mustSolve(t, s, Unsat)
		mustSolve(t, s, Unsat)
	}
}

// Fourteen pigeons are out of reach: the call is ended from outside, and the session
// answers what it can afterwards.
func TestSession_Cancel(t *testing.T) {
	s := New(1000, 10000)
	on := pigeons(s, 13)
	for round := range 3 {
		ctx, cancel := context.WithCancel(background)
		time.AfterFunc(50*time.Millisecond, cancel)
		began := time.Now()
		if got := s.Solve(ctx, []Lit{on}); got != Unknown {
			t.Fatalf("round %d: %s, want unknown", round, got)
		}
		if took := time.Since(began); took < 40*time.Millisecond || took > 5*time.Second {
			t.Errorf("round %d: cancelled after 50 ms, returned after %v", round, took)
		}
		if said := panics(func() { s.Core() }); said == "" {
			t.Error("Core after a cancelled call does not panic")
		}
		mustSolve(t, s, Sat, -on)
		live, cancelLive := context.WithCancel(background)
		if got := s.Solve(live, []Lit{-on, 2, 16}); got != Sat {
			t.Errorf("round %d: with a context that can be cancelled and is not: %s, want sat", round, got)
		}
		if got := s.Solve(live, []Lit{2, 15}); got != Unsat || !slices.Equal(s.Core(), []Lit{2, 15}) {
			t.Errorf("round %d: two pigeons in hole 1: %s, want unsat and both as core", round, got)
		}
		cancelLive()
	}
	expired, cancel := context.WithTimeout(background, -1)
	defer cancel()
	if got := s.Solve(expired, nil); got != Unknown {
		t.Errorf("with a context that is over: %s, want unknown", got)
	}
	mustSolve(t, s, Sat)
}

// The values that were last assumed are where the next search begins, as long as no
// variable is new to gini. Without a reserve the same calls lose them, which also
// shows that the test can tell.
func TestSession_ReserveKeepsPhases(t *testing.T) {
	const n = 200
	remembered := func(reserve int) (same int) {
		s := New(2*n+10, 10)
		rng := rand.New(rand.NewPCG(7, 0))
		assume := make([]Lit, n)
		for i := range assume {
			assume[i] = s.Lit()
			if rng.IntN(2) == 0 {
				assume[i] = -assume[i]
			}
		}
		s.Reserve(reserve)
		mustSolve(t, s, Sat, assume...)
		for range 50 { // new variables and clauses, as a totalizer brings them
			a, b := s.Lit(), s.Lit()
			s.Add2(a, b)
			mustSolve(t, s, Sat)
		}
		for _, l := range assume {
			if s.Value(l) {
				same++
			}
		}
		return same
	}
	if got := remembered(100); got != n {
		t.Errorf("with a reserve, %d of %d values are kept, want all", got, n)
	}
	if got := remembered(0); got > n*3/4 {
		t.Errorf("without a reserve, %d of %d values are kept: gini no longer forgets, Reserve has no use", got, n)
	}
}

// Eight queens have 92 solutions, six have 4 (OEIS A000170); they are counted by
// forbidding each one that is found.
func TestSession_Queens(t *testing.T) {
	for n, want := range map[int]int{4: 2, 5: 10, 6: 4, 7: 40, 8: 92} {
		s := New(n*n, n*n*n)
		at := make([][]Lit, n)
		for r := range at {
			for range n {
				at[r] = append(at[r], s.Lit())
			}
			s.Add(at[r]...)
		}
		for r := range n {
			for c := range n {
				for q := range n {
					for d := range n {
						other := r*n+c < q*n+d
						if other && (r == q || c == d || r-c == q-d || r+c == q+d) {
							s.Add2(-at[r][c], -at[q][d])
						}
					}
				}
			}
		}
		found := 0
		for ; found <= want && s.Solve(background, nil) == Sat; found++ {
			var not []Lit
			for v, on := range s.Model(nil) {
				if on {
					not = append(not, -Lit(v))
				}
			}
			s.Add(not...)
		}
		if found != want {
			t.Errorf("%d queens: %d solutions, want %d", n, found, want)
		}
	}
}

func TestStats(t *testing.T) {
	s := New(10, 10)
	a, b := s.Lit(), s.Lit()
	s.Reserve(100)
	s.Add(a)
	s.Add2(a, b)
	s.Add3(a, b, -a)
	s.Solve(background, nil)
	s.Solve(background, []Lit{-a})
	if got, want := s.Stats(), (Stats{Vars: 2, Clauses: 3, Calls: 2}); got != want {
		t.Errorf("Stats() = %+v, want %+v", got, want)
	}
}

// Millions of clauses are added: none of them may cost an allocation of its own.
func TestSession_AddDoesNotAllocate(t *testing.T) {
	const vars, clauses = 2000, 100000
	s := New(vars, clauses)
	for range vars {
		s.Lit()
	}
	rng := rand.New(rand.NewPCG(1, 0))
	lit := func() Lit { return Lit(1+rng.IntN(vars)) * Lit(1-2*rng.IntN(2)) }
	buffer := make([]Lit, 5)
	var sink interface {
		Add(...Lit)
		Add2(a, b Lit)
		Add3(a, b, c Lit)
	} = s
	runs := testing.AllocsPerRun(1, func() {
		for range clauses / 3 {
			for i := range buffer {
				buffer[i] = lit()
			}
			sink.Add(buffer...)
			sink.Add2(lit(), lit())
			sink.Add3(lit(), lit(), lit())
		}
	})
	// What is left are gini's watch lists, which grow by doubling.
	if perClause := runs / clauses; perClause > 0.2 {
		t.Errorf("%.3f allocations a clause", perClause)
	}
}

// A clause of three literals in a formula of a million.
func BenchmarkSession_Add3(b *testing.B) {
	const vars, clauses = 300000, 1000000
	for b.Loop() {
		s := New(vars, clauses)
		for range vars {
			s.Lit()
		}
		rng := rand.New(rand.NewPCG(1, 0))
		lit := func() Lit { return Lit(1+rng.IntN(vars)) * Lit(1-2*rng.IntN(2)) }
		for range clauses {
			s.Add3(lit(), lit(), lit())
		}
		if got := s.Stats().Clauses; got != clauses {
			b.Fatalf("%d clauses", got)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/clauses, "ns/clause")
}
