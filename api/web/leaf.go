package web

import "strconv"

// leafRows is how many rows of a long list a page shows at once: as many as a telephone
// scrolls through in some strokes.
const leafRows = 60

// A leaf is the part of a long list that a page shows.
type leaf struct {
	First, Last   int    // rows shown, from 1; 0, 0 of none
	Of            int    // rows there are
	Before, After string // where the rows before and after them are, "" for none
}

// leafOf is the part of a list that is asked for by the field "leaf" of the address, the first
// one if it asks for none that there is.
func leafOf[T any](v *view, list []T) ([]T, leaf) {
	n, _ := strconv.Atoi(v.r.FormValue("leaf"))
	if n < 1 || (n-1)*leafRows >= len(list) {
		n = 1
	}
	from, to := (n-1)*leafRows, min(n*leafRows, len(list))
	l := leaf{First: min(from+1, to), Last: to, Of: len(list)}
	at := func(n int) string {
		q := v.r.URL.Query()
		q.Set("leaf", strconv.Itoa(n))
		return v.r.URL.Path + "?" + q.Encode()
	}
	if n > 1 {
		l.Before = at(n - 1)
	}
	if to < len(list) {
		l.After = at(n + 1)
	}
	return list[from:to], l
}
