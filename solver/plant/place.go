package plant

import (
	"strconv"
	"strings"
	"unicode"
)

// A place is the way from the top of a plant file down to one value.
type place []step

// A step goes into a key or, where key is "", to an element of a list.
type step struct {
	key   string
	index int    // of the element, from 0
	id    string // what the element is called, "" if nothing
}

// key and nth are the two kinds of step.
func key(name string) step            { return step{key: name} }
func nth(index int, id string) step   { return step{index: index, id: id} }
func (p place) with(s ...step) place  { return append(p[:len(p):len(p)], s...) }
func (p place) key(name string) place { return p.with(key(name)) }

// String prints the place as people read it, elements by what they are called,
// else by their number from 1: trucks[J-2041].contract.due, trucks[3].id.
func (p place) String() string { return p.join(true) }

// exact prints the place without names: equal for one value in every reading.
func (p place) exact() string { return p.join(false) }

func (p place) join(named bool) string {
	var b strings.Builder
	for i, s := range p {
		switch {
		case s.key != "":
			if i > 0 {
				b.WriteByte('.')
			}
			b.WriteString(shown(s.key, named))
		case named && s.id != "":
			b.WriteString("[" + shown(s.id, named) + "]")
		default:
			b.WriteString("[" + strconv.Itoa(s.index+1) + "]")
		}
	}
	return b.String()
}

// shown shortens what is no name for people.
func shown(name string, shorten bool) string {
	if shorten && (len(name) > maxID || strings.ContainsFunc(name, unicode.IsControl)) {
		return quoted(name)
	}
	return name
}
