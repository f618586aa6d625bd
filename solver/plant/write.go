package plant

import (
	"bytes"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Write prints the plant as a plant file: Read gives the same plant back. Keys
// stand in a fixed order; those whose absence says the same are left out; what
// fits on one line stands on one line.
func Write(p *Plant) []byte {
	w := &writer{}
	w.push("", isKeys, true)
	plantKeys(w, p)
	var b bytes.Buffer
	for i, n := range w.stack[0].kids {
		if i > 0 && (n.block || w.stack[0].kids[i-1].block) {
			b.WriteByte('\n')
		}
		n.print(&b, 0)
	}
	return b.Bytes()
}

// lineWidth is how wide a line may become by putting several values on it.
const lineWidth = 140

// A writer is the form that collects what is to be printed.
type writer struct {
	stack []*printed
	items int  // elements with keys that are entered now
	whole bool // standard lists are printed as well
}

// A printed is one value to be printed: keys, a list or plain text.
type printed struct {
	key   string // "" for an element of a list
	shape shape
	text  string
	kids  []*printed
	width int  // characters on one line
	block bool // never on one line
	need  bool // also when empty
	short string
}

type shape int

const (
	isPlain shape = iota
	isKeys
	isList
)

func (w *writer) top() *printed { return w.stack[len(w.stack)-1] }

func (w *writer) push(key string, s shape, need bool) *printed {
	n := &printed{key: key, shape: s, need: need, width: len("{}")}
	w.stack = append(w.stack, n)
	return n
}

// pop leaves a value and gives it to the one around it.
func (w *writer) pop() {
	n := w.top()
	w.stack = w.stack[:len(w.stack)-1]
	if len(n.kids) > 0 || n.need {
		w.add(n)
	}
}

func (w *writer) add(n *printed) {
	t := w.top()
	if len(t.kids) > 0 {
		t.width += len(", ")
	}
	t.width += n.width
	if n.key != "" {
		t.width += len(n.key) + len(": ")
	}
	t.block = t.block || n.block
	t.kids = append(t.kids, n)
}

func (w *writer) plain(key, text string) {
	w.add(&printed{key: key, text: text, width: utf8.RuneCountInString(text)})
}

func (w *writer) put(name string, v scalar, p presence, _ string) {
	if s := v.format(); p.need || s != p.or {
		w.plain(name, asWritten(s, v.kind()))
	}
}

func (w *writer) estimate(name string, v *Estimate, absent Estimate, _ string) {
	switch {
	case *v == absent:
	case v.MinMinutes == v.LikelyMinutes && v.MaxMinutes == v.LikelyMinutes:
		w.plain(name, formatHours(v.LikelyMinutes))
	default:
		w.plain(name, "["+formatHours(v.MinMinutes)+", "+formatHours(v.LikelyMinutes)+", "+formatHours(v.MaxMinutes)+"]")
	}
}

func (w *writer) open(name string, given bool, p presence, _ string) bool {
	if given {
		w.push(name, isKeys, p.need)
	}
	return given
}

func (w *writer) close() {
	n := w.top()
	if n.key == "" { // an element
		w.items--
		w.stack = w.stack[:len(w.stack)-1]
		if l := w.top(); l.short != "" && len(n.kids) == 1 && n.kids[0].key == l.short {
			n = n.kids[0]
			n.key = ""
		}
		w.add(n)
		return
	}
	w.pop()
}

func (w *writer) openList(name, short string, n int, p presence, _ string) int {
	if n == 0 && !p.need && !p.empty {
		return -1
	}
	w.push(name, isList, true).short = short
	return n
}

func (w *writer) openItem(int) {
	w.items++
	w.top().block = w.items == 1 // one element a line, unless within an element
	w.push("", isKeys, true)
}

func (w *writer) element(_ int, v scalar) { w.plain("", asWritten(v.format(), v.kind())) }

func (w *writer) closeList() { w.pop() }

func (w *writer) standard(name string, same bool) bool {
	return same && (!w.whole || name == planPiece)
}

// print writes a key or element of a block that is indented so far.
func (n *printed) print(b *bytes.Buffer, indent int) {
	lead := "- "
	if n.key != "" {
		lead = n.key + ":"
	}
	pad(b, indent)
	b.WriteString(lead)
	switch {
	case n.shape == isPlain || !n.block && indent+len(lead)+1+n.width <= lineWidth || len(n.kids) == 0:
		if n.key != "" {
			b.WriteByte(' ')
		}
		n.flow(b)
		b.WriteByte('\n')
	case n.key != "":
		b.WriteByte('\n')
		for _, k := range n.kids {
			k.print(b, indent+2)
		}
	default: // an element: its first key stands behind the dash
		for i, k := range n.kids {
			if i == 0 {
				var first bytes.Buffer
				k.print(&first, indent+2)
				b.Write(first.Bytes()[indent+2:])
				continue
			}
			k.print(b, indent+2)
		}
	}
}

// flow writes the value on one line.
func (n *printed) flow(b *bytes.Buffer) {
	if n.shape == isPlain {
		b.WriteString(n.text)
		return
	}
	b.WriteByte("?{["[n.shape])
	for i, k := range n.kids {
		if i > 0 {
			b.WriteString(", ")
		}
		if k.key != "" {
			b.WriteString(k.key)
			b.WriteString(": ")
		}
		k.flow(b)
	}
	b.WriteByte("?}]"[n.shape])
}

func pad(b *bytes.Buffer, n int) {
	for range n {
		b.WriteByte(' ')
	}
}

// safeText is text that no reader of YAML takes for anything else, in brackets
// or not.
var safeText = regexp.MustCompile(`^\pL[\pL\pN_./+()&%;'-]*( [\pL\pN_./+()&%;'-]+)*$`)

// otherMeaning lists words that readers of YAML take for something else than
// text, in small letters.
var otherMeaning = []string{"false", "inf", "n", "nan", "no", "null", "off", "on", "true", "y", "yes"}

func asWritten(s string, k kind) string {
	if k == isText && (!safeText.MatchString(s) || slices.Contains(otherMeaning, strings.ToLower(s))) {
		return strconv.Quote(s)
	}
	return s
}
