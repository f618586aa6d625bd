package plant

import (
	"bytes"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// parse turns the text of a plant file into nodes. It knows the part of YAML
// that plant files are written in: keys and dashes by indentation, { } and [ ]
// over any number of lines (so JSON), plain and quoted values on one line,
// comments. Within that part it gives the same nodes as the library, several
// times faster; and where text is broken it knows the very place, which the
// library does not.
//
// It stops at what is broken or beyond that part, and says which.
func parse(data []byte) (root *yaml.Node, stop *stopped) {
	p := &parser{text: data, line: 1, column: 1}
	defer func() {
		if e := recover(); e != nil {
			s, ok := e.(*stopped)
			if !ok {
				panic(e)
			}
			root, stop = nil, s
		}
	}()
	column := p.nextLine()
	if p.done() {
		p.beyond()
	}
	root = p.block(column, 0)
	p.nextLine()
	if !p.done() {
		p.broken("this line belongs to nothing: it stands at the wrong indentation", "indent it like the lines it belongs to")
	}
	return root, nil
}

// stopped is where and why the parser stopped. Without a reason the text is
// beyond the part of YAML it knows, and may be right.
type stopped struct {
	line, column int
	why          wrong
}

// maxDepth is how deep nodes may lie in each other here.
const maxDepth = 50

// maxKey is how long a key may be here; the library has a limit, too.
const maxKey = 100

// A parser reads from text[at:]. Columns count characters from 1.
type parser struct {
	text []byte
	at   int
	line int
	// column is that of text[columnAt]; where a column is asked for only ascends
	// within a line.
	column, columnAt int
	nodes            []yaml.Node // room for nodes to come
	lineAt           int         // where the line begins
	in               int         // column of the key or dash read last outside brackets
}

func (p *parser) stop(w wrong) { panic(&stopped{p.line, p.here(), w}) }

func (p *parser) beyond() { p.stop(wrong{}) }

func (p *parser) broken(what, next string) { p.stop(wrong{what: what, next: next}) }

func (p *parser) done() bool { return p.at >= len(p.text) }

// peek returns the next byte, 0 at the end.
func (p *parser) peek() byte { return p.ahead(0) }

func (p *parser) ahead(n int) byte {
	if p.at+n < len(p.text) {
		return p.text[p.at+n]
	}
	return 0
}

// here returns the column of the next byte.
func (p *parser) here() int {
	if p.columnAt < p.lineAt || p.columnAt > p.at {
		p.column, p.columnAt = 1, p.lineAt
	}
	p.column += utf8.RuneCount(p.text[p.columnAt:p.at])
	p.columnAt = p.at
	return p.column
}

func (p *parser) node(kind yaml.Kind, style yaml.Style) *yaml.Node {
	if len(p.nodes) == 0 {
		p.nodes = make([]yaml.Node, 256)
	}
	n := &p.nodes[0]
	p.nodes = p.nodes[1:]
	n.Kind, n.Style, n.Line, n.Column = kind, style, p.line, p.here()
	return n
}

// blanks skips blanks and a comment behind them, up to the end of the line.
func (p *parser) blanks() {
	from := p.at
	for p.peek() == ' ' {
		p.at++
	}
	switch p.peek() {
	case '\t':
		if len(bytes.TrimLeft(p.text[p.lineAt:p.at], " ")) == 0 {
			p.broken("a tab stands in the indentation", "indent with blanks only")
		}
		p.beyond()
	case '#':
		if p.at > from || p.at == p.lineAt {
			p.comment()
		}
	}
}

func (p *parser) comment() {
	for !p.atEnd() {
		p.runeOrTab()
	}
}

// atEnd reports whether the line ends here.
func (p *parser) atEnd() bool {
	return p.done() || p.peek() == '\n' || p.peek() == '\r' && p.ahead(1) == '\n'
}

// newline goes to the next line.
func (p *parser) newline() {
	if p.peek() == '\r' {
		p.at++
	}
	p.at++
	p.line++
	p.lineAt = p.at
}

// rune skips one character of a value or comment. What YAML takes for a line
// break, or for none at all, is beyond us.
func (p *parser) rune() {
	c := p.text[p.at]
	if c < utf8.RuneSelf {
		if c < ' ' || c == 0x7f {
			p.beyond()
		}
		p.at++
		return
	}
	r, n := utf8.DecodeRune(p.text[p.at:])
	switch {
	case r == utf8.RuneError && n == 1, r < 0xa0, r == '\u2028', r == '\u2029', r == '\ufeff', r >= 0xfffe && r <= 0xffff:
		p.beyond()
	}
	p.at += n
}

// nextLine goes to the next line that has something on it, unless this one still
// has, and returns the column where that begins.
func (p *parser) nextLine() int {
	for {
		p.blanks()
		if p.done() || !p.atEnd() {
			return p.here()
		}
		p.newline()
	}
}

// endLine wants nothing more on the line.
func (p *parser) endLine() {
	p.blanks()
	if !p.atEnd() {
		p.broken("there is more on the line than belongs there", "put the rest on a line of its own, or the whole value in quotes")
	}
}

// block reads the node that begins here, at the column, and all its lines.
func (p *parser) block(column, depth int) *yaml.Node {
	if depth > maxDepth {
		p.beyond()
	}
	switch p.peek() {
	case '{', '[':
		return p.flowLine(depth)
	case '-':
		if p.dash() {
			return p.sequence(column, depth)
		}
	}
	n := p.scalar(false)
	p.inLine()
	if p.peek() != ':' {
		p.endLine()
		return n
	}
	return p.mapping(n, column, depth)
}

// inLine skips blanks between a key and its colon.
func (p *parser) inLine() {
	from := p.at
	for p.peek() == ' ' {
		p.at++
	}
	if p.at-from > maxKey {
		p.beyond()
	}
}

// dash reports whether the next byte is a dash before an element.
func (p *parser) dash() bool {
	return p.peek() == '-' && (p.ahead(1) == ' ' || p.ahead(1) == '\n' || p.ahead(1) == '\r' || p.at+1 == len(p.text))
}

func (p *parser) sequence(column, depth int) *yaml.Node {
	n := p.node(yaml.SequenceNode, 0)
	for {
		p.at++ // the dash
		p.blanks()
		p.in = column
		if p.atEnd() {
			in := p.nextLine()
			if p.done() || in <= column {
				p.beyond() // an element that is nothing
			}
		}
		n.Content = append(n.Content, p.block(p.here(), depth+1))
		in := p.nextLine()
		switch {
		case p.done() || in < column || in == column && !p.dash():
			return n
		case in > column:
			p.furtherIn()
		}
	}
}

// mapping reads keys and what belongs to them, from behind the first key.
func (p *parser) mapping(k *yaml.Node, column, depth int) *yaml.Node {
	n := p.node(yaml.MappingNode, 0)
	n.Line, n.Column = k.Line, k.Column
	for {
		if len(k.Value) > maxKey {
			p.beyond()
		}
		p.at++ // the colon
		n.Content = append(n.Content, k, p.mapped(column, depth))
		in := p.nextLine()
		switch {
		case p.done() || in < column || in == column && p.dash():
			return n
		case in > column:
			p.furtherIn()
		}
		k = p.scalar(false)
		p.inLine()
		if p.peek() != ':' {
			p.broken("a colon is missing behind "+quoted(k.Value), "write key: value, or indent the line if it belongs to the value above")
		}
	}
}

// furtherIn stops at a line that stands further in than the one above it allows.
// Without a key in it, it may go on with the value above.
func (p *parser) furtherIn() {
	column := p.here()
	p.scalar(false)
	p.inLine()
	if p.peek() == ':' {
		panic(&stopped{p.line, column, wrong{what: "this line stands further in than the one above it", next: "indent it like the keys it belongs to"}})
	}
	p.beyond()
}

// mapped reads what belongs to a key, from behind its colon.
func (p *parser) mapped(column, depth int) *yaml.Node {
	if c := p.peek(); c != ' ' && c != '\t' && !p.atEnd() {
		p.broken("a blank is missing behind the colon", "write key: value")
	}
	p.blanks()
	p.in = column
	if p.atEnd() {
		in := p.nextLine()
		if p.done() || in < column || in == column && !p.dash() {
			p.beyond() // a key with nothing behind it
		}
		return p.block(in, depth+1)
	}
	switch {
	case p.peek() == '{' || p.peek() == '[':
		return p.flowLine(depth + 1)
	case p.dash():
		p.broken("an element of a list begins behind a key", "put the dash on the next line, further in")
	}
	n := p.scalar(false)
	p.blanks()
	if p.peek() == ':' {
		p.broken("there is a second colon on the line", "put the value in quotes, or the inner key on the next line, further in")
	}
	p.endLine()
	return n
}
