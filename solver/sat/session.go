package sat

import (
	"context"
	"fmt"
	"time"

	"github.com/go-air/gini"
	"github.com/go-air/gini/z"
)

// A Status is the outcome of Solve.
type Status int8

// The outcomes. Unknown says nothing about the clauses: the call was cancelled.
const (
	Unknown Status = 0
	Sat     Status = 1
	Unsat   Status = -1
)

func (s Status) String() string {
	switch s {
	case Sat:
		return "sat"
	case Unsat:
		return "unsat"
	}
	return "unknown"
}

// state is where a session stands: open, or as the last Solve left it.
type state int8

const (
	open state = iota
	sat
	unsat
	unknown
)

func (s state) String() string {
	return [...]string{"open", "sat", "unsat", "unknown"}[s]
}

// A Session is one incremental conversation with the SAT solver.
//
//	state     Lit, Reserve, Add…   Solve               Value, Model   Core
//	open      open                 sat|unsat|unknown   –              –
//	sat       open                 sat|unsat|unknown   ok             –
//	unsat     open                 sat|unsat|unknown   –              ok
//	unknown   open                 sat|unsat|unknown   –              –
//
// A dash panics with the method's name: gini itself would answer with leftovers.
// Value reads the solver's own assignment, which is safe because whatever would
// disturb it leaves state sat; Model copies it for those who want to go on adding.
// The core is taken when Solve returns, in the order of the assumptions. Literals
// are numbered in order of creation, so equal call sequences give equal answers.
// A Session is not safe for concurrent use.
type Session struct {
	gini  *gini.Gini
	state state

	vars   int  // variables handed out by Lit
	made   int  // variables that gini knows, handed out or in reserve
	absurd bool // the clauses alone contradict each other

	assumed []z.Lit // assumptions of the call, in gini's literals
	why     []z.Lit // gini's core
	core    []Lit
	failed  []bool // by gini's literal: marks while the core is put in order, else false

	clauses int
	calls   int
}

// New returns an empty session. The hints are the expected numbers of variables
// and clauses; they save copying, and variables beyond the hint cost gini some
// extra decisions in every model (it decides the spare room of its tables too).
func New(varHint, clauseHint int) *Session {
	return &Session{gini: gini.NewVc(varHint, clauseHint)}
}

// Stats counts what a session was given.
type Stats struct {
	Vars         int   // variables handed out by Lit
	Clauses      int   // clauses added, true and repeated ones included
	Calls        int   // calls of Solve
	Propagations int64 // literals whose consequences were drawn; of cdcl only, since the last reset
}

// Stats returns the counts so far. It is allowed in every state.
func (s *Session) Stats() Stats {
	return Stats{Vars: s.vars, Clauses: s.clauses, Calls: s.calls}
}

// Lit returns the positive literal of a fresh variable.
func (s *Session) Lit() Lit {
	s.state = open
	s.vars++
	if s.vars > s.made {
		s.gini.Lit()
		s.made++
	}
	return Lit(s.vars)
}

// Reserve makes sure that the next n fresh variables exist in gini already. gini
// forgets the phases it remembers (the values of the last search, where the next
// one starts) whenever its highest variable has grown between two calls of Solve;
// variables out of the reserve leave them alone. One that is never used costs a
// decision in every model.
func (s *Session) Reserve(n int) {
	s.state = open
	for s.made < s.vars+n {
		s.gini.Lit()
		s.made++
	}
}

// Add adds the clause of lits. The empty clause makes the session unsatisfiable
// for good. The slice is not kept.
func (s *Session) Add(lits ...Lit) {
	s.state = open
	s.clauses++
	for _, l := range lits {
		s.gini.Add(s.toGini("Add", l))
	}
	s.gini.Add(z.LitNull)
}

// Add2 adds the clause a ∨ b. Behind an interface it costs no allocation, where
// Add's argument list would.
func (s *Session) Add2(a, b Lit) {
	s.state = open
	s.clauses++
	s.gini.Add(s.toGini("Add2", a))
	s.gini.Add(s.toGini("Add2", b))
	s.gini.Add(z.LitNull)
}

// Add3 adds the clause a ∨ b ∨ c.
func (s *Session) Add3(a, b, c Lit) {
	s.state = open
	s.clauses++
	s.gini.Add(s.toGini("Add3", a))
	s.gini.Add(s.toGini("Add3", b))
	s.gini.Add(s.toGini("Add3", c))
	s.gini.Add(z.LitNull)
}

// Solve looks for a model of the clauses in which every assumption is true. The
// assumptions hold for this call only. When ctx is cancelled, the answer is
// Unknown, given at gini's next look-up (once in 20,000 propagations, some
// milliseconds), and the session stays usable. A context that cannot be cancelled
// costs nothing.
func (s *Session) Solve(ctx context.Context, assumptions []Lit) Status {
	s.calls++
	s.core = s.core[:0]
	if ctx.Err() != nil {
		s.state = unknown
		return Unknown
	}
	s.assumed = s.assumed[:0]
	for _, l := range assumptions {
		s.assumed = append(s.assumed, s.toGini("Solve", l))
	}
	if s.absurd {
		s.state = unsat
		return Unsat
	}
	s.gini.Assume(s.assumed...)
	switch s.search(ctx) {
	case 1:
		s.state = sat
		return Sat
	case -1:
		s.state = unsat
		s.takeCore(assumptions)
		s.absurd = len(s.core) == 0
		s.dropConflict()
		return Unsat
	default:
		s.state = unknown
		return Unknown
	}
}

// search runs gini. With a context that can be cancelled it runs beside us, and we
// look every now and then, less often the longer it takes, whether it is done. How
// often changes no answer. (Waiting in gini's Pause would hand the processor to
// and fro once in 20,000 propagations: on a busy machine most of the time.)
func (s *Session) search(ctx context.Context) int {
	if ctx.Done() == nil {
		return s.gini.Solve()
	}
	run := s.gini.GoSolve()
	look := time.NewTimer(0)
	defer look.Stop()
	for wait := firstLook; ; wait = min(wait+wait/4, lastLook) {
		select {
		case <-look.C:
		case <-ctx.Done():
			return run.Stop()
		}
		if answer, done := run.Test(); done {
			return answer
		}
		look.Reset(wait)
	}
}

const (
	firstLook = 20 * time.Microsecond
	lastLook  = 2 * time.Millisecond
)

// dropConflict makes gini forget the conflict that its answer ended with, by a
// clause that is true anyway: the next call would analyse it, and would lose a
// contradiction that shows up while it does so.
func (s *Session) dropConflict() {
	if s.absurd {
		return
	}
	s.gini.Add(z.Var(1).Pos())
	s.gini.Add(z.Var(1).Neg())
	s.gini.Add(z.LitNull)
}

// takeCore copies the failed assumptions, each once and in the order of the call.
func (s *Session) takeCore(assumptions []Lit) {
	s.why = s.gini.Why(s.why[:0])
	if n := 2*s.made + 2; len(s.failed) < n {
		s.failed = make([]bool, 2*n)
	}
	for _, m := range s.why {
		s.failed[m] = true
	}
	for i, m := range s.assumed {
		if s.failed[m] {
			s.failed[m] = false
			s.core = append(s.core, assumptions[i])
		}
	}
}

// Value is the value of l in the model. Only in state sat.
func (s *Session) Value(l Lit) bool {
	s.need("Value", sat)
	return s.gini.Value(s.toGini("Value", l))
}

// Model copies the model into dst, which is grown when it is too short, and returns
// it: entry v is the value of variable v, entry 0 is unused. Only in state sat.
func (s *Session) Model(dst []bool) []bool {
	s.need("Model", sat)
	if cap(dst) < s.vars+1 {
		dst = make([]bool, s.vars+1)
	}
	dst = dst[:s.vars+1]
	dst[0] = false
	for v := 1; v <= s.vars; v++ {
		dst[v] = s.gini.Value(z.Var(v).Pos())
	}
	return dst
}

// Core is a subset of the assumptions that contradicts the clauses, in the order
// of the assumptions and each once. An empty core says that the clauses alone
// contradict each other. A core need not be smallest: one that is not empty leaves
// open whether the clauses alone would do, which a Solve without assumptions tells.
// The slice is valid until the next Solve. Only in state unsat.
func (s *Session) Core() []Lit {
	s.need("Core", unsat)
	return s.core
}

func (s *Session) need(method string, want state) {
	if s.state != want {
		panic(fmt.Sprintf("sat: Session.%s in state %s: needs the answer %s of Solve, and nothing created or added since", method, s.state, want))
	}
}

// toGini translates a literal, refusing one that Lit did not make.
func (s *Session) toGini(method string, l Lit) z.Lit {
	if l > 0 && int(l) <= s.vars {
		return z.Lit(l) << 1
	}
	if l < 0 && int(-l) <= s.vars {
		return z.Lit(-l)<<1 | 1
	}
	panic(fmt.Sprintf("sat: Session.%s with literal %d: variables 1 to %d exist", method, l, s.vars))
}
