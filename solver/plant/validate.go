package plant

import (
	"fmt"
	"strings"
)

// Validate looks for faults of a plant, however it was made: each value alone,
// references, and everything that must hold between values. The faults come
// without file and line, in the order in which the rules are looked at.
func Validate(p *Plant) []Fault {
	var faults []Fault
	for _, v := range validate(p, true) {
		faults = append(faults, v.fault(v.at))
	}
	return faults
}

// A finding is what is wrong, with its place. It counts only if the value at
// another place, because, could be read; nil where there is no such place.
type finding struct {
	wrong
	at      place
	because place
}

// validate looks at everything; whole tells that every value could be read.
func validate(p *Plant, whole bool) []finding {
	k := newKnown(p)
	c := &checker{known: k}
	plantKeys(c, p)
	if c.tooLong {
		return c.findings
	}
	q := newInquiry(p, k)
	q.house()
	q.measures()
	q.route()
	q.line()
	q.trucks()
	q.visits()
	q.slips()
	q.plan()
	found := q.withoutStandard(append(c.findings, q.findings...))
	if len(found) == 0 && whole { // what follows computes with the plant
		q.time()
		found = q.findings
	}
	return found
}

// A checker is the form that looks at each value alone and at references.
type checker struct {
	known    *known
	findings []finding
	trail    place
	frames   []*checked
	tooLong  bool // some list or text is longer than any plant needs: the rules would take long, and repeat it
}

// Lists may have so many elements. A plant of 200 trucks has a tenth of them.
const (
	maxNested = 500 // lists within others
	maxRows   = 50_000
)

var maxElements = map[string]int{
	"parts": 24, "calendars": 2000, "departments": 100, "bays": 500, "crews": 500, "route": 100, "wishes": 50,
	"notice": 50, "measures": 100, "customers": 2000, "trucks": 2000, "visits": 4000, "slips": 1000,
}

// checked is what a checker must remember of keys or a list.
type checked struct {
	item  bool
	first bool           // nothing has been put yet
	ids   map[string]int // of a list: index of the first element of that name
}

func (c *checker) find(w wrong, to ...step) {
	if !w.ok() && len(c.findings) < maxCounted {
		c.findings = append(c.findings, finding{wrong: w, at: c.trail.with(to...)})
	}
}

func (c *checker) push(item bool) { c.frames = append(c.frames, &checked{item: item, first: true}) }

func (c *checker) pop() {
	c.frames = c.frames[:len(c.frames)-1]
	c.trail = c.trail[:len(c.trail)-1]
}

func (c *checker) put(name string, v scalar, p presence, _ string) {
	s := v.format()
	c.tooLong = c.tooLong || len(s) > 4*maxText
	if n := len(c.frames); n > 0 && c.frames[n-1].item && c.frames[n-1].first {
		c.frames[n-1].first = false
		c.trail[len(c.trail)-1].id = s
		if name == "id" && s != "" {
			c.twice(c.frames[n-2], s)
		}
	}
	switch {
	case s == "" && p.need:
		c.find(missing(name), key(name))
	case p.again && s == p.or: // whatever is wrong with it has been said of the other key
	default:
		n := len(c.findings)
		c.find(v.check(c.known), key(name))
		c.because(n, v)
	}
}

func missing(name string) wrong {
	return wrong{"the key " + name + " is missing", "", "add the key"}
}

// because tells that findings about a reference count only if the list of what
// it names could be read.
func (c *checker) because(from int, v scalar) {
	if r, ok := v.(refScalar); ok {
		for i := from; i < len(c.findings); i++ {
			c.findings[i].because = setPlaces[r.to]
		}
	}
}

// twice looks whether the list has had an element of that id.
func (c *checker) twice(list *checked, id string) {
	i := c.trail[len(c.trail)-1].index
	if list.ids == nil {
		list.ids = map[string]int{}
	}
	j, again := list.ids[id]
	if !again {
		list.ids[id] = i
		return
	}
	c.find(wrong{fmt.Sprintf("%s is there twice: it is element %d as well", quoted(id), j+1), "each id once in a list", "give one of them another id, or take it away"}, key("id"))
}

func (c *checker) estimate(name string, v *Estimate, absent Estimate, _ string) {
	if *v == absent {
		return // said of the key that it repeats
	}
	for _, m := range []*int{&v.MinMinutes, &v.LikelyMinutes, &v.MaxMinutes} {
		if w := asMinutes(m).check(c.known); !w.ok() {
			c.find(w, key(name))
			return
		}
	}
	if v.MinMinutes > v.LikelyMinutes || v.LikelyMinutes > v.MaxMinutes {
		c.find(wrong{
			fmt.Sprintf("the hours %s, %s, %s do not ascend", formatHours(v.MinMinutes), formatHours(v.LikelyMinutes), formatHours(v.MaxMinutes)),
			"least, likely, most, in this order", "sort them",
		}, key(name))
	}
}

func (c *checker) open(name string, given bool, _ presence, _ string) bool {
	if given {
		c.trail = append(c.trail, key(name))
		c.push(false)
	}
	return given
}

func (c *checker) close() { c.pop() }

func (c *checker) openList(name, _ string, n int, p presence, _ string) int {
	if n == 0 && p.need {
		c.find(wrong{"the list is empty", "at least one element", "write one"}, key(name))
	}
	most := maxNested
	switch m, ok := maxElements[name]; {
	case ok && len(c.trail) == 0:
		most = m
	case len(c.trail) == 1 && c.trail[0].key == "plan":
		most = maxRows
	}
	if n > most {
		c.tooLong = true
		c.find(wrong{fmt.Sprintf("the list has %d elements", n), fmt.Sprintf("at most %d", most), "take out what is past, or check that this is the file of one plant"}, key(name))
	}
	c.trail = append(c.trail, key(name))
	c.push(false)
	return n
}

func (c *checker) openItem(i int) {
	c.trail = append(c.trail, nth(i, ""))
	c.push(true)
}

func (c *checker) element(i int, v scalar) {
	s := v.format()
	c.tooLong = c.tooLong || len(s) > 4*maxText
	if strings.TrimSpace(s) == "" {
		c.find(wrong{"the text is empty", "", "write a value, or take the element away"}, nth(i, ""))
		return
	}
	n := len(c.findings)
	c.find(v.check(c.known), nth(i, ""))
	c.because(n, v)
	list := c.frames[len(c.frames)-1]
	if list.ids == nil {
		list.ids = map[string]int{}
	}
	if j, again := list.ids[s]; again {
		c.find(wrong{fmt.Sprintf("%s is there twice: it is element %d as well", quoted(s), j+1), "each value once in a list", "take one away"}, nth(i, ""))
		return
	}
	list.ids[s] = i
}

func (c *checker) closeList() { c.pop() }

func (c *checker) standard(_ string, _ bool) bool { return false }
