package sheet

import (
	"fmt"
	"strings"

	"wetdown/solver/plant"
)

// A Kind names one of the tables.
type Kind string

// The tables.
const (
	Trucks   Kind = "trucks"   // one row a truck
	LineOff  Kind = "line_off" // one row a line-off day that a person has stated
	Bookings Kind = "bookings" // one row a visit, with its booking
	History  Kind = "history"  // one row a day that was projected, and what came of it; see Past
)

// Kinds lists the tables.
var Kinds = []Kind{Trucks, LineOff, Bookings, History}

// A table says which columns the rows of a kind have, and how a row of a file
// finds the row that it is about. T is what a row is kept in.
type table[T any] struct {
	kind    Kind
	noun    string // what a row is, in words
	columns []column[T]
	fresh   func() T // a row of which nothing is known

	// match returns the index of the row that one of a file is about, -1 for a new
	// one, and completes what a new one leaves out. given tells which columns the
	// row has a value in, taken which rows others have found.
	match func(row *T, given func(string) bool, taken []bool) int
	name  func(*T) string // what the row is called; rows of one name are one too many
	place func(*T) string // where the plant has it, for faults: trucks[J-2041]
	// refuse looks at a row that is added (had is nil) or changed; nil: nothing to look for.
	refuse func(had, row *T) []trouble
}

// A telling is what somebody said of a truck on a day: rows of one telling are
// about the same.
type telling struct {
	truck, event string
	said         date
}

// untaken returns the first of the indices that no row has found, -1 if there is
// none.
func untaken(list []int, taken []bool) int {
	for _, i := range list {
		if !taken[i] {
			return i
		}
	}
	return -1
}

// A trouble is what is wrong with a row; column is that of the table, "" for the
// whole row.
type trouble struct{ column, cause, next string }

// find returns the column with the header, -1 if there is none. Case, blanks,
// underscores and signs do not matter.
func (t *table[T]) find(header string) int {
	header = plain(header)
	for i := range t.columns {
		c := &t.columns[i]
		if header == plain(c.name) {
			return i
		}
	}
	for i := range t.columns {
		for _, also := range t.columns[i].also {
			if header == also {
				return i
			}
		}
	}
	return -1
}

// nearest returns the column whose name a header may have been meant to be, ""
// if none is near.
func (t *table[T]) nearest(header string) string {
	var words []string
	owner := map[string]string{}
	for _, c := range t.columns {
		for _, w := range append([]string{plain(c.name)}, c.also...) {
			words = append(words, w)
			owner[w] = c.name
		}
	}
	return owner[plant.Nearest(plain(header), words)]
}

// names lists the columns for a sentence.
func (t *table[T]) names() string {
	var list []string
	for _, c := range t.columns {
		list = append(list, c.name)
	}
	return strings.Join(list, ", ")
}

// plain writes a header in small letters, single blanks in place of all else.
func plain(header string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(header), func(r rune) bool {
		return !('a' <= r && r <= 'z' || '0' <= r && r <= '9')
	}), " ")
}

// count writes a number of things: 1 row, 2 rows.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// short repeats text of a file in a sentence, on one line.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:37]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
