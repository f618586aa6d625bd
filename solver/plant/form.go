package plant

// A form says which keys a noun has in a plant file, in which field each is
// kept, and what is allowed. It is written once for each noun (file.go) and
// carried out four times: the reader fills the fields, the writer prints them,
// the checker looks whether each is allowed, the schema lists them.
type form interface {
	// put is a key with one value.
	put(name string, v scalar, p presence, doc string)
	// estimate is a key with hours: one value for all three points, or a list of
	// least, likely and most. absent is its value when the key is not there.
	estimate(name string, v *Estimate, absent Estimate, doc string)

	// open enters a key with keys below it; false: leave it alone. given tells
	// whether the field is there at all.
	open(name string, given bool, p presence, doc string) bool
	close()

	// openList enters a key with a list of n elements and returns how many the
	// field must have, -1 to leave it alone. Where short names a key, an element
	// with nothing but that key may be written as its value alone.
	openList(name, short string, n int, p presence, doc string) int
	openItem(i int)          // an element with keys, until close
	element(i int, v scalar) // an element that is one value
	closeList()

	// standard tells that the field has a standard value when the key is absent;
	// same: it has that value now. True: leave the key alone.
	standard(name string, same bool) bool
}

// presence says whether a key must be there, and if not, what its absence means.
type presence struct {
	need  bool
	or    string // the value, as it would be written; "" for the empty value
	again bool   // or repeats another key
	empty bool   // a list may be there and be empty
}

var (
	need = presence{need: true}
	free = presence{}
)

// or is a key whose absence means the given value.
func or(value string) presence { return presence{or: value} }

// like is a key whose absence means the value of another key.
func like(value string) presence { return presence{or: value, again: true} }

// section describes a key with keys below it.
func section(f form, name string, given bool, p presence, doc string, keys func()) {
	if f.open(name, given, p, doc) {
		keys()
		f.close()
	}
}

// list describes a key with a list of nouns.
func list[T any](f form, name, short string, v *[]T, p presence, doc string, keys func(form, *T)) {
	if !enter(f, name, short, v, p, doc) {
		return
	}
	for i := range *v {
		f.openItem(i)
		keys(f, &(*v)[i])
		f.close()
	}
	f.closeList()
}

// values describes a key with a list of plain values.
func values[T any](f form, name string, v *[]T, p presence, doc string, of func(*T) scalar) {
	if !enter(f, name, "", v, p, doc) {
		return
	}
	for i := range *v {
		f.element(i, of(&(*v)[i]))
	}
	f.closeList()
}

// enter opens the list and gives the field its length.
func enter[T any](f form, name, short string, v *[]T, p presence, doc string) bool {
	n := f.openList(name, short, len(*v), p, doc)
	if n < 0 {
		return false
	}
	if n != len(*v) {
		*v = nil
		if n > 0 {
			*v = make([]T, n)
		}
	}
	return true
}
