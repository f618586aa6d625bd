package plant

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// A Fault is one thing wrong with a plant file, or to be warned of: where it is,
// what it is, what would be right and what to do.
type Fault struct {
	File    string
	Line    int    // from 1; 0 when the plant was not read from a file
	Column  int    // from 1, in characters; 0 when only the line is known
	Field   string // such as trucks[J-2041].contract.due; elements without a name count from 1; "" for the whole file
	What    string // what is wrong
	Allowed string // what is allowed here, "" where What says it
	Next    string // what to do
}

// String prints the fault as one line.
func (f Fault) String() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File + ":")
	}
	if f.Line > 0 {
		fmt.Fprintf(&b, "%d:", f.Line)
		if f.Column > 0 {
			fmt.Fprintf(&b, "%d:", f.Column)
		}
	}
	if f.Field != "" {
		b.WriteString(" " + f.Field + ":")
	}
	b.WriteString(" " + f.What + ".")
	if f.Allowed != "" {
		b.WriteString(" Allowed: " + f.Allowed + ".")
	}
	if f.Next != "" {
		b.WriteString(" Next: " + f.Next + ".")
	}
	return strings.TrimSpace(b.String())
}

// A file with many faults is broken as a whole.
const (
	maxFaults  = 1000          // told one by one
	maxCounted = 5 * maxFaults // looked for by the reader, and again by the rules
)

// sortFaults puts faults in the order of the file and says how many were left
// out beyond maxFaults.
func sortFaults(faults []Fault) []Fault {
	slices.SortStableFunc(faults, byPlace)
	if rest := len(faults) - maxFaults; rest > 0 {
		last := faults[maxFaults-1]
		faults = append(faults[:maxFaults:maxFaults], Fault{
			File: last.File, Line: last.Line,
			What: fmt.Sprintf("at least %d more faults are not listed", rest),
			Next: "correct those above, then read the file again",
		})
	}
	return faults
}

func byPlace(a, b Fault) int {
	return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
}

// wrong is a fault without its place; the zero value means nothing is wrong.
type wrong struct{ what, allowed, next string }

func (w wrong) ok() bool { return w == wrong{} }

// fault puts the place to it. What it repeats of the file stays on one line.
func (w wrong) fault(at place) Fault {
	return Fault{Field: at.String(), What: oneLine(w.what), Allowed: oneLine(w.allowed), Next: oneLine(w.next)}
}

func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
}
