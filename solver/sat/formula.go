package sat

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
)

// A Formula records variables and clauses instead of solving them: what encoders
// write into a Session they can write into a Formula, to be exported or replayed.
// The zero value is an empty formula.
type Formula struct {
	vars int
	lits []Lit // all clauses one after the other
	ends []int // ends[i] is the exclusive end of clause i in lits
}

// Lit returns the positive literal of a fresh variable.
func (f *Formula) Lit() Lit {
	f.vars++
	return Lit(f.vars)
}

// Add records the clause of lits; the slice is copied.
func (f *Formula) Add(lits ...Lit) {
	for _, l := range lits {
		f.check(l)
	}
	f.lits = append(f.lits, lits...)
	f.ends = append(f.ends, len(f.lits))
}

// Add2 records the clause a ∨ b.
func (f *Formula) Add2(a, b Lit) {
	f.check(a)
	f.check(b)
	f.lits = append(f.lits, a, b)
	f.ends = append(f.ends, len(f.lits))
}

// Add3 records the clause a ∨ b ∨ c.
func (f *Formula) Add3(a, b, c Lit) {
	f.check(a)
	f.check(b)
	f.check(c)
	f.lits = append(f.lits, a, b, c)
	f.ends = append(f.ends, len(f.lits))
}

func (f *Formula) check(l Lit) {
	if l == 0 || l.Var() > f.vars {
		panic(fmt.Sprintf("sat: Formula.Add with literal %d: variables 1 to %d exist", l, f.vars))
	}
}

// NumVars is the number of variables.
func (f *Formula) NumVars() int { return f.vars }

// NumClauses is the number of clauses.
func (f *Formula) NumClauses() int { return len(f.ends) }

// Clause is the i-th clause recorded, from 0. It must not be changed.
func (f *Formula) Clause(i int) []Lit {
	from := 0
	if i > 0 {
		from = f.ends[i-1]
	}
	return f.lits[from:f.ends[i]:f.ends[i]]
}

// WriteClauses writes the clauses, each as prefix, literals and a final 0 on a line
// of its own: with no prefix the body of a DIMACS file, with the top weight that of
// the hard part of a WCNF file.
func (f *Formula) WriteClauses(w io.Writer, prefix string) error {
	out := bufio.NewWriter(w)
	var line []byte
	for i := range f.ends {
		line = append(line[:0], prefix...)
		for _, l := range f.Clause(i) {
			line = strconv.AppendInt(line, int64(l), 10)
			line = append(line, ' ')
		}
		line = append(line, '0', '\n')
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
	return out.Flush()
}

// WriteDIMACS writes the formula in the DIMACS CNF format.
func (f *Formula) WriteDIMACS(w io.Writer) error {
	if _, err := fmt.Fprintf(w, "p cnf %d %d\n", f.vars, len(f.ends)); err != nil {
		return err
	}
	return f.WriteClauses(w, "")
}
