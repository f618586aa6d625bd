package plant

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// A reader is the form that fills fields from the nodes of a YAML document. It
// never stops at a fault: the field keeps its empty value and reading goes on.
type reader struct {
	root   *yaml.Node
	faults []Fault
	failed map[string]bool // exact places of the faults
	around map[string]bool // exact places around them
	trail  place
	frames []frame
}

// A frame is a node that the reader has entered.
type frame struct {
	node  *yaml.Node   // nil: the key is absent, every field gets the value of absence
	pairs []*yaml.Node // of a mapping: key, value, key, value
	next  int          // where to look for the next key first
	found int          // keys looked for and found
	names []string     // keys looked for
	item  bool         // an element of a list, its first value names it
	short string       // of a list: see form.openList
}

func newReader(root *yaml.Node) *reader {
	r := &reader{root: root, failed: map[string]bool{}, around: map[string]bool{}}
	r.push(root)
	return r
}

// fault reports what is wrong at a step from where the reader is.
func (r *reader) fault(n *yaml.Node, w wrong, to ...step) {
	if len(r.faults) >= maxCounted {
		return
	}
	at := r.trail.with(to...)
	r.spoil(at)
	f := w.fault(at)
	f.Line, f.Column = n.Line, n.Column
	r.faults = append(r.faults, f)
}

// spoil says that the value at a place could not be read.
func (r *reader) spoil(at place) {
	r.failed[at.exact()] = true
	for i := 2; i < len(at); i++ {
		r.around[at[:i].exact()] = true
	}
}

func (r *reader) top() *frame { return &r.frames[len(r.frames)-1] }

// push enters a node, reusing the memory of frames left before.
func (r *reader) push(n *yaml.Node) *frame {
	if len(r.frames) < cap(r.frames) {
		r.frames = r.frames[:len(r.frames)+1]
	} else {
		r.frames = append(r.frames, frame{})
	}
	f := r.top()
	*f = frame{node: n, names: f.names[:0]}
	if n != nil && n.Kind == yaml.MappingNode {
		f.pairs = n.Content
	}
	return f
}

// find looks a key up in the node entered last. Keys mostly come in the order in
// which they are looked for.
func (r *reader) find(name string) *yaml.Node {
	f := r.top()
	f.names = append(f.names, name)
	n := r.lookUp(name)
	if n != nil {
		f.found++
	}
	return n
}

func (r *reader) lookUp(name string) *yaml.Node {
	f := r.top()
	for range 2 {
		for i := f.next; i < len(f.pairs); i += 2 {
			if k := f.pairs[i]; k.Value == name && k.Kind == yaml.ScalarNode {
				f.next = i + 2
				return f.pairs[i+1]
			}
		}
		if f.next == 0 {
			break
		}
		f.next = 0
	}
	return nil
}

// value returns the node of a key, nil when there is none to read. A key that is
// needed and absent, or has nothing behind it, is a fault.
func (r *reader) value(name string, p presence) *yaml.Node {
	n := r.find(name)
	switch f := r.top(); {
	case n == nil && p.need && f.node != nil:
		r.fault(f.node, missing(name), key(name))
	case n != nil && !r.plain(n, key(name)):
		return nil
	}
	return n
}

// plain refuses what YAML allows and a plant file does without.
func (r *reader) plain(n *yaml.Node, to step) bool {
	switch {
	case n.Kind == yaml.AliasNode:
		r.fault(n, wrong{"an alias (*) is not read here", "the value itself", "write the value out"}, to)
	case n.Style&yaml.TaggedStyle != 0:
		r.fault(n, wrong{"a tag (!) is not read here", "the value itself", "take the tag away"}, to)
	case n.Kind == yaml.ScalarNode && n.Tag == "!!null":
		r.fault(n, wrong{"nothing is written here", "", "write a value, or take the key away"}, to)
	default:
		return true
	}
	return false
}

func (r *reader) put(name string, v scalar, p presence, _ string) {
	n := r.value(name, p)
	if n == nil {
		v.parse(p.or)
		return
	}
	if r.read(n, v, key(name)) {
		r.name(v)
	}
}

// name lets the first value of an element name it.
func (r *reader) name(v scalar) {
	if f := r.top(); f.item && len(f.names) == 1 {
		r.trail[len(r.trail)-1].id = v.format()
	}
}

// read fills one field from one node.
func (r *reader) read(n *yaml.Node, v scalar, to ...step) bool {
	w := readScalar(n, v)
	if !w.ok() {
		v.parse("")
		r.fault(n, w, to...)
	}
	return w.ok()
}

func readScalar(n *yaml.Node, v scalar) wrong {
	const single = "one value"
	switch n.Kind {
	case yaml.MappingNode:
		return wrong{"keys are written where one value belongs", single, "write the value alone"}
	case yaml.SequenceNode:
		return wrong{"a list is written where one value belongs", single, "write the value alone"}
	}
	inQuotes := n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) != 0
	switch k := v.kind(); {
	case strings.TrimSpace(n.Value) == "":
		return wrong{"the text is empty", "", "write a value, or take the key away"}
	case inQuotes && (k == isNumber || k == isBool || k == isHours && !strings.Contains(n.Value, "h")):
		if w := v.parse(n.Value); !w.ok() {
			return w
		}
		return wrong{fmt.Sprintf("%s is text", quoted(n.Value)), "numbers, true and false without quotes", "take the quotes away"}
	case !inQuotes && k != isBool && n.Tag == "!!bool":
		return wrong{n.Value + " is no text", "text", "put it in quotes if it is meant as text"}
	}
	return v.parse(n.Value)
}

func (r *reader) estimate(name string, v *Estimate, absent Estimate, _ string) {
	n := r.value(name, free)
	points := [3]scalar{asMinutes(&v.MinMinutes), asMinutes(&v.LikelyMinutes), asMinutes(&v.MaxMinutes)}
	switch {
	case n == nil:
		*v = absent
	case n.Kind == yaml.SequenceNode && len(n.Content) != len(points):
		r.fault(n, wrong{fmt.Sprintf("the list has %d values", len(n.Content)), "one value, or three: least, likely, most", "write all three or the likely one alone"}, key(name))
	case n.Kind == yaml.SequenceNode:
		for i, c := range n.Content {
			if r.plain(c, key(name)) {
				r.read(c, points[i], key(name), nth(i, ""))
			}
		}
	default:
		if r.read(n, points[1], key(name)) {
			*v = Estimate{v.LikelyMinutes, v.LikelyMinutes, v.LikelyMinutes}
		}
	}
}

func (r *reader) open(name string, _ bool, p presence, _ string) bool {
	n := r.value(name, p)
	r.trail = append(r.trail, key(name))
	if n != nil && n.Kind != yaml.MappingNode {
		r.fault(n, wrong{"keys belong here", "keys with their values", "write them one below the other, or as {key: value, key: value}"})
		n = nil
	}
	r.push(n)
	return true
}

// close leaves a node and reports the keys in it that nobody looked for.
func (r *reader) close() {
	f := r.top()
	if 2*f.found < len(f.pairs) {
		r.leftOver(f)
	}
	r.frames = r.frames[:len(r.frames)-1]
	if len(r.trail) > 0 {
		r.trail = r.trail[:len(r.trail)-1]
	}
}

func (r *reader) leftOver(f *frame) {
	seen := map[string]int{} // line of the first
	for i := 0; i < len(f.pairs); i += 2 {
		k := f.pairs[i]
		if k.Kind != yaml.ScalarNode {
			r.fault(k, wrong{"a key is one word", oneOf(f.names), "write the key as plain text"})
			continue
		}
		switch line, again := seen[k.Value]; {
		case again:
			r.fault(k, wrong{fmt.Sprintf("the key %s is there twice, first in line %d", quoted(k.Value), line), "each key once", "take one away"}, key(k.Value))
		case k.Value == "<<":
			r.fault(k, wrong{"merging keys (<<) is not done here", oneOf(f.names), "write the keys out"}, key(k.Value))
		case !slices.Contains(f.names, k.Value):
			w := wrong{next: "write one of them"}
			if len(r.faults) < maxFaults { // looking for the nearest takes time
				w = unknownWord(k.Value, f.names)
				if near := Nearest(k.Value, f.names); near != "" && r.lookUp(near) == nil {
					r.spoil(r.trail.with(key(near))) // what is missing there has been said with this
				}
			}
			w.what, w.allowed = fmt.Sprintf("%s is no key here", quoted(k.Value)), strings.Join(f.names, ", ")
			r.fault(k, w, key(k.Value))
		}
		if _, again := seen[k.Value]; !again {
			seen[k.Value] = k.Line
		}
	}
}

func (r *reader) openList(name, short string, _ int, p presence, _ string) int {
	n := r.value(name, p)
	switch {
	case n == nil:
		return -1
	case n.Kind != yaml.SequenceNode:
		r.fault(n, wrong{"a list belongs here", "a list, even of one", "write each element on a line of its own after a dash, or all within [ ]"}, key(name))
		return -1
	}
	r.trail = append(r.trail, key(name))
	r.push(n).short = short
	return len(n.Content)
}

func (r *reader) openItem(i int) {
	l := r.top()
	n, short := l.node.Content[i], l.short
	if !r.plain(n, nth(i, "")) {
		n = nil
	} else if n.Kind == yaml.SequenceNode || n.Kind == yaml.ScalarNode && short == "" {
		r.fault(n, wrong{"keys belong here", "keys with their values", "write {key: value, key: value} after the dash"}, nth(i, ""))
		n = nil
	}
	r.trail = append(r.trail, nth(i, ""))
	f := r.push(n)
	f.item = true
	if n != nil && n.Kind == yaml.ScalarNode {
		f.pairs = []*yaml.Node{{Kind: yaml.ScalarNode, Value: short, Line: n.Line, Column: n.Column}, n}
	}
}

func (r *reader) element(i int, v scalar) {
	if n := r.top().node.Content[i]; r.plain(n, nth(i, "")) {
		r.read(n, v, nth(i, ""))
	}
}

func (r *reader) closeList() {
	r.frames = r.frames[:len(r.frames)-1]
	r.trail = r.trail[:len(r.trail)-1]
}

func (r *reader) standard(name string, _ bool) bool {
	if r.lookUp(name) != nil {
		return false
	}
	f := r.top()
	f.names = append(f.names, name) // it may be there
	return true
}

// locate returns the node at a place, or the nearest one above it that the
// document has.
func locate(root *yaml.Node, at place) *yaml.Node {
	n := root
	for _, s := range at {
		child := n
		switch {
		case s.key != "" && n.Kind == yaml.MappingNode:
			for i := 0; i < len(n.Content); i += 2 {
				if n.Content[i].Value == s.key {
					child = n.Content[i+1]
					break
				}
			}
		case s.key == "" && n.Kind == yaml.SequenceNode && s.index < len(n.Content):
			child = n.Content[s.index]
		}
		if child == n {
			return n
		}
		n = child
	}
	return n
}

// in makes a fault of a finding, with the place of its node.
func (v finding) in(root *yaml.Node) Fault {
	n := locate(root, v.at)
	f := v.fault(v.at)
	f.Line, f.Column = n.Line, n.Column
	return f
}

// spoils reports whether a value at the place, in it or around it could not be
// read.
func (r *reader) spoils(at place) bool {
	if len(r.failed) == 0 {
		return false
	}
	for i := range at {
		if r.failed[at[:i+1].exact()] {
			return true
		}
	}
	return r.around[at.exact()]
}
