package sat

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// A step is one call of a session: a fresh variable, a reserve, a clause or a question.
type step struct {
	kind string // "lit", "reserve", "clause", "solve", "solve with context"
	n    int
	lits []Lit
}

func (s step) String() string {
	switch s.kind {
	case "lit":
		return "lit"
	case "reserve":
		return fmt.Sprintf("reserve %d", s.n)
	}
	return fmt.Sprintf("%s %v", s.kind, s.lits)
}

const traceVars = 10

// randomTrace makes calls over at most traceVars variables: short clauses, so that
// the answers turn from sat to unsat on the way, and questions in between.
func randomTrace(rng *rand.Rand) []step {
	vars := 0
	lits := func(n int) []Lit {
		list := make([]Lit, n)
		for i := range list {
			list[i] = Lit(1+rng.IntN(vars)) * Lit(1-2*rng.IntN(2))
		}
		return list
	}
	var trace []step
	length := 10 + rng.IntN(110)
	for len(trace) < length {
		switch p := rng.IntN(100); {
		case vars == 0 || p < 15 && vars < traceVars:
			vars++
			trace = append(trace, step{kind: "lit"})
		case p < 18:
			trace = append(trace, step{kind: "reserve", n: rng.IntN(5)})
		case p < 65:
			width := 2 + rng.IntN(3)
			if rng.IntN(15) == 0 {
				width = 1
			}
			trace = append(trace, step{kind: "clause", lits: lits(width)})
		case p < 90:
			trace = append(trace, step{kind: "solve", lits: lits(rng.IntN(vars + 2))})
		default:
			trace = append(trace, step{kind: "solve with context", lits: lits(rng.IntN(vars + 2))})
		}
	}
	return trace
}

// naive is a session that knows every assignment: bit v-1 for variable v.
type naive struct {
	vars    int
	allowed []bool // by assignment of traceVars variables
}

func holds(l Lit, assignment int) bool {
	return (assignment>>(l.Var()-1)&1 == 1) == (l > 0)
}

func (n *naive) add(clause []Lit) {
	for a := range n.allowed {
		if n.allowed[a] && !slices.ContainsFunc(clause, func(l Lit) bool { return holds(l, a) }) {
			n.allowed[a] = false
		}
	}
}

func (n *naive) satisfiable(assumed []Lit) bool {
next:
	for a, ok := range n.allowed {
		if !ok {
			continue
		}
		for _, l := range assumed {
			if !holds(l, a) {
				continue next
			}
		}
		return true
	}
	return false
}

// run plays a trace and returns the first thing that is wrong, empty if nothing is,
// and a record of every answer, model and core.
func run(trace []step) (wrong, record string) {
	defer func() {
		if r := recover(); r != nil {
			wrong = fmt.Sprint("panic: ", r)
		}
	}()
	s := New(4, 8)
	n := &naive{allowed: make([]bool, 1<<traceVars)}
	for a := range n.allowed {
		n.allowed[a] = true
	}
	ctx, cancel := context.WithCancel(background)
	defer cancel()
	var log strings.Builder
	for i, st := range trace {
		switch st.kind {
		case "lit":
			n.vars++
			if l := s.Lit(); l != Lit(n.vars) {
				return fmt.Sprintf("step %d: Lit() = %d, want %d", i, l, n.vars), ""
			}
			continue
		case "reserve":
			s.Reserve(st.n)
			continue
		}
		if slices.ContainsFunc(st.lits, func(l Lit) bool { return l.Var() > n.vars }) {
			continue // a variable fell victim to shrinking
		}
		if st.kind == "clause" {
			switch len(st.lits) {
			case 2:
				s.Add2(st.lits[0], st.lits[1])
			case 3:
				s.Add3(st.lits[0], st.lits[1], st.lits[2])
			default:
				s.Add(st.lits...)
			}
			n.add(st.lits)
			continue
		}
		with := background
		if st.kind == "solve with context" {
			with = ctx
		}
		got, want := s.Solve(with, st.lits), Unsat
		if n.satisfiable(st.lits) {
			want = Sat
		}
		if got != want {
			return fmt.Sprintf("step %d: %v = %s, want %s", i, st, got, want), ""
		}
		if got == Sat {
			model := s.Model(nil)
			a := 0
			for v := 1; v <= n.vars; v++ {
				if model[v] != s.Value(Lit(v)) || model[v] == s.Value(-Lit(v)) {
					return fmt.Sprintf("step %d: Model and Value differ on %d", i, v), ""
				}
				if model[v] {
					a |= 1 << (v - 1)
				}
			}
			if !n.allowed[a] {
				return fmt.Sprintf("step %d: model %b breaks a clause", i, a), ""
			}
			for _, l := range st.lits {
				if !holds(l, a) {
					return fmt.Sprintf("step %d: model %b breaks assumption %d", i, a, l), ""
				}
			}
			fmt.Fprintf(&log, "%b\n", a)
			continue
		}
		core := s.Core()
		if n.satisfiable(core) {
			return fmt.Sprintf("step %d: core %v is satisfiable", i, core), ""
		}
		from := 0
		for _, l := range core {
			at := slices.Index(st.lits[from:], l)
			if at < 0 || slices.Index(st.lits, l) < from {
				return fmt.Sprintf("step %d: core %v is not %v in order and each once", i, core, st.lits), ""
			}
			from += at + 1
		}
		fmt.Fprintf(&log, "%v\n", core)
	}
	return "", log.String()
}

// shrink drops steps, then literals, for as long as something stays wrong.
func shrink(trace []step, fails func([]step) bool) []step {
	for size := len(trace) / 2; size > 0; {
		dropped := false
		for from := 0; from+size <= len(trace); {
			shorter := slices.Concat(trace[:from], trace[from+size:])
			if fails(shorter) {
				trace, dropped = shorter, true
			} else {
				from += size
			}
		}
		if !dropped {
			size /= 2
		}
	}
	for i := range trace {
		for j := 0; j < len(trace[i].lits); {
			shorter := slices.Clone(trace)
			shorter[i].lits = slices.Concat(trace[i].lits[:j], trace[i].lits[j+1:])
			if fails(shorter) {
				trace = shorter
			} else {
				j++
			}
		}
	}
	return trace
}

func TestSession_RandomTraces(t *testing.T) {
	traces := 4000
	if testing.Short() {
		traces = 400
	}
	sats, unsats := 0, 0
	for seed := range uint64(traces) {
		trace := randomTrace(rand.New(rand.NewPCG(seed, 0)))
		wrong, record := run(trace)
		if wrong != "" {
			short := shrink(trace, func(tr []step) bool { w, _ := run(tr); return w != "" })
			said, _ := run(short)
			t.Fatalf("seed %d: %s\nshrunk: %s\n%v", seed, wrong, said, short)
		}
		if _, again := run(trace); again != record {
			t.Fatalf("seed %d: equal calls, different answers:\n%s---\n%s", seed, record, again)
		}
		unsats += strings.Count(record, "[")
		sats += strings.Count(record, "\n") - strings.Count(record, "[")
	}
	if sats < traces || unsats < traces {
		t.Errorf("the traces ask too little: %d answers sat, %d unsat", sats, unsats)
	}
}

// The shrinker itself: of a long trace only what matters is left.
func TestShrink(t *testing.T) {
	trace := randomTrace(rand.New(rand.NewPCG(3, 0)))
	trace = append(trace, step{kind: "clause", lits: []Lit{1, 2, 3, 4}})
	got := shrink(trace, func(tr []step) bool {
		return slices.ContainsFunc(tr, func(s step) bool { return s.kind == "clause" && slices.Contains(s.lits, 3) })
	})
	if len(got) != 1 || !slices.Equal(got[0].lits, []Lit{3}) {
		t.Errorf("shrunk to %v, want one clause [3]", got)
	}
}

// Random 3-CNF around the density where sat turns to unsat (4.26 clauses a variable:
// Mitchell, Selman and Levesque, AAAI 1992), on 14 variables against all assignments.
func TestSession_Random3CNF(t *testing.T) {
	const vars = 14
	counts := map[Status]int{}
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 3))
		s := New(vars, 100)
		for range vars {
			s.Lit()
		}
		n := &naive{vars: vars, allowed: make([]bool, 1<<vars)}
		for a := range n.allowed {
			n.allowed[a] = true
		}
		for range 55 + rng.IntN(20) {
			p := rng.Perm(vars)[:3]
			clause := make([]Lit, 3)
			for i, v := range p {
				clause[i] = Lit(v+1) * Lit(1-2*rng.IntN(2))
			}
			s.Add(clause...)
			n.add(clause)
		}
		want := Unsat
		if n.satisfiable(nil) {
			want = Sat
		}
		mustSolve(t, s, want)
		counts[want]++
	}
	if counts[Sat] < 50 || counts[Unsat] < 50 {
		t.Errorf("%v: too few of one kind", counts)
	}
}

// One long conversation over clauses that make gini learn, restart and collect
// garbage: each answer is that of a fresh session, each model keeps every clause, and
// each core is unsat on its own.
func TestSession_LongConversation(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	const vars, clauses = 160, 640
	rng := rand.New(rand.NewPCG(11, 0))
	var f Formula
	for range vars {
		f.Lit()
	}
	s := New(vars, 4*vars)
	for range vars {
		s.Lit()
	}
	more := func() {
		var c [3]Lit
		for i, v := range rng.Perm(vars)[:3] {
			c[i] = Lit(v+1) * Lit(1-2*rng.IntN(2))
		}
		s.Add3(c[0], c[1], c[2])
		f.Add3(c[0], c[1], c[2])
	}
	fresh := func(assumed []Lit) Status {
		one := New(vars, 4*vars)
		for range vars {
			one.Lit()
		}
		for i := range f.NumClauses() {
			one.Add(f.Clause(i)...)
		}
		return one.Solve(background, assumed)
	}
	for range clauses {
		more()
	}
	counts := map[Status]int{}
	for round := range 150 {
		assumed := make([]Lit, rng.IntN(14))
		for i := range assumed {
			assumed[i] = Lit(1+rng.IntN(vars)) * Lit(1-2*rng.IntN(2))
		}
		got := s.Solve(background, assumed)
		counts[got]++
		if want := fresh(assumed); got != want {
			t.Fatalf("round %d: %v = %s, a fresh session says %s", round, assumed, got, want)
		}
		if got == Unsat {
			if core := s.Core(); fresh(core) != Unsat {
				t.Fatalf("round %d: core %v is satisfiable", round, core)
			}
		} else {
			for i := range f.NumClauses() {
				if !slices.ContainsFunc(f.Clause(i), s.Value) {
					t.Fatalf("round %d: model breaks %v", round, f.Clause(i))
				}
			}
		}
		if round%10 == 9 {
			more()
		}
	}
	if counts[Sat] < 20 || counts[Unsat] < 20 {
		t.Errorf("%v: too few of one kind", counts)
	}
}
