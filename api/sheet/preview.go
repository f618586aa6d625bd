package sheet

import (
	"fmt"
	"strings"

	"wetdown/solver/plant"
)

// A Fate is what becomes of a row.
type Fate string

// The fates of a row.
const (
	Added     Fate = "added"
	Changed   Fate = "changed"
	Unchanged Fate = "unchanged"
	Refused   Fate = "refused"
)

// A Preview says what would become of each row of a file. Nothing has been
// written yet.
type Preview struct {
	Kind     Kind
	Name     string    // of the file
	Rows     []Row     // in the order of the file; blank rows are left out
	Ignored  []string  // headers, and other sheets of a workbook, that are not read
	Refusals []Refusal // that are not about one row: what would be wrong with the plant

	plant *plant.Plant
	past  []Past
}

// A Row is one row of a file.
type Row struct {
	Line     int    // where it begins in the file, from 1
	ID       string // what it is about: a truck, a visit
	Fate     Fate
	Changes  []Change  // of a changed row, in the order of the columns of the table
	Refusals []Refusal // of a refused row
}

// A Change is one field that gets another value. Values are written as Write
// writes them; "" is none.
type Change struct{ Column, From, To string }

// A Refusal says why a row, or a whole file, is not taken, and what to do.
type Refusal struct {
	File   string
	Line   int    // from 1, 0 for the whole file
	Column string // of the table, "" for the whole row
	Cause  string
	Next   string
}

// Error prints the refusal as one line: the place, the cause and the next step.
func (r *Refusal) Error() string {
	var b strings.Builder
	b.WriteString(r.File)
	if r.Line > 0 {
		fmt.Fprintf(&b, ", line %d", r.Line)
	}
	if r.Column != "" {
		b.WriteString(", " + r.Column)
	}
	fmt.Fprintf(&b, ": %s. Next: %s.", r.Cause, r.Next)
	return strings.TrimPrefix(b.String(), ": ")
}

// Count returns how many rows have the fate.
func (p *Preview) Count(f Fate) (n int) {
	for i := range p.Rows {
		if p.Rows[i].Fate == f {
			n++
		}
	}
	return n
}

// refused returns an error if anything in the file is refused.
func (p *Preview) refused() error {
	first := p.Refusals
	for i := range p.Rows {
		if len(first) == 0 {
			first = p.Rows[i].Refusals
		}
	}
	switch n := p.Count(Refused); {
	case len(first) == 0:
		return nil
	case n > 1:
		return &Refusal{File: p.Name, Cause: fmt.Sprintf("%d rows are refused, so none is taken; the first: %s", n, first[0].Error()), Next: "correct them and read the file again"}
	}
	return &first[0]
}

// Plant returns the plant with all rows of the file in it, which Validate finds
// right; the plant that was read against is as it was. For the history it is that
// plant itself. If anything is refused there is none, and the error is a *Refusal.
func (p *Preview) Plant() (*plant.Plant, error) {
	if err := p.refused(); err != nil {
		return nil, err
	}
	return p.plant, nil
}

// Past returns the known history with all rows of the file in it. If anything is
// refused, or the file is of another kind, the error is a *Refusal.
func (p *Preview) Past() ([]Past, error) {
	if p.Kind != History {
		return nil, &Refusal{File: p.Name, Cause: "the file is one of " + string(p.Kind), Next: "read it as " + string(History)}
	}
	if err := p.refused(); err != nil {
		return nil, err
	}
	return p.past, nil
}
