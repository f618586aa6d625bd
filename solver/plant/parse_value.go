package plant

import (
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// scalar reads a plain or quoted value.
func (p *parser) scalar(inFlow bool) *yaml.Node {
	switch c := p.peek(); {
	case c == '"':
		return p.double()
	case c == '\'':
		return p.single()
	case c >= utf8.RuneSelf, letterOrDigit(c), c == '_', c == '/', c == '(', c == '<', c == '+', c == '~', c == '=', c == ';', c == '$', c == '^':
	case c == '-' && letterOrDigit(p.ahead(1)):
	case c == '@' || c == '`' || c == '%':
		p.broken("a value cannot begin with "+string(c), "put it in quotes")
	case inFlow && (c == ',' || c == ']' || c == '}'):
		p.broken("a value is missing before "+string(c), "write it, or take the comma before it away")
	case c == ',' || c == ']' || c == '}':
		p.broken("a value cannot begin with "+string(c), "put it in quotes, or look for the bracket that opens")
	default:
		p.beyond()
	}
	n := p.node(yaml.ScalarNode, 0)
	from, to := p.at, p.at
	for !p.atEnd() {
		c := p.peek()
		if c == ' ' {
			p.at++
			continue
		}
		if c == '#' && p.at > to || c == ':' && p.colonEnds(inFlow) {
			break
		}
		if inFlow {
			if c == ',' || c == ']' || c == '}' {
				break
			}
			if c == '{' || c == '[' || c == '?' {
				p.beyond()
			}
		}
		p.rune()
		to = p.at
	}
	p.at = to
	n.Value = string(p.text[from:to])
	switch n.Value {
	case "~", "null", "Null", "NULL":
		n.Tag = "!!null"
	case "true", "True", "TRUE", "false", "False", "FALSE":
		n.Tag = "!!bool"
	}
	return n
}

// colonEnds reports whether the colon here ends a key.
func (p *parser) colonEnds(inFlow bool) bool {
	c := p.ahead(1)
	switch {
	case !inFlow:
	case c == '[' || c == '{':
		p.broken("a blank is missing behind the colon", "write key: value")
	case c == ',' || c == ']' || c == '}' || c == '?':
		p.beyond()
	}
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == 0
}

func letterOrDigit(c byte) bool {
	return '0' <= c && c <= '9' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z'
}

// single reads a value in single quotes.
func (p *parser) single() *yaml.Node {
	n := p.node(yaml.ScalarNode, yaml.SingleQuotedStyle)
	var value []byte
	for p.at++; ; {
		from := p.at
		for !p.atEnd() && p.peek() != '\'' {
			p.runeOrTab()
		}
		value = append(value, p.text[from:p.at]...)
		switch {
		case p.atEnd():
			p.unquoted(n)
		case p.ahead(1) != '\'':
			p.at++
			n.Value = string(value)
			return n
		}
		value = append(value, '\'')
		p.at += 2
	}
}

// double reads a value in double quotes.
func (p *parser) double() *yaml.Node {
	n := p.node(yaml.ScalarNode, yaml.DoubleQuotedStyle)
	var value []byte
	for p.at++; ; {
		from := p.at
		for !p.atEnd() && p.peek() != '"' && p.peek() != '\\' {
			p.runeOrTab()
		}
		value = append(value, p.text[from:p.at]...)
		switch {
		case p.atEnd():
			p.unquoted(n)
		case p.peek() == '"':
			p.at++
			n.Value = string(value)
			return n
		}
		value = p.escape(value)
	}
}

func (p *parser) runeOrTab() {
	if p.peek() == '\t' {
		p.at++
		return
	}
	p.rune()
}

// unquoted stops at a quote that is not closed on its line. It may be closed on
// a later one.
func (p *parser) unquoted(n *yaml.Node) {
	panic(&stopped{n.Line, n.Column, wrong{what: "a quote is opened here and not closed on the line", next: "close it at the end of the value"}})
}

// escapes are the single characters behind a backslash and what they mean.
var escapes = map[byte]byte{'"': '"', '\\': '\\', '/': '/', 'n': '\n', 't': '\t', 'r': '\r', 'b': '\b', 'f': '\f'}

func (p *parser) escape(value []byte) []byte {
	c := p.ahead(1)
	if e, ok := escapes[c]; ok {
		p.at += 2
		return append(value, e)
	}
	if c != 'u' {
		p.beyond()
	}
	r := rune(0)
	for i := 2; i < 6; i++ {
		switch c := p.ahead(i); {
		case '0' <= c && c <= '9':
			r = r<<4 | rune(c-'0')
		case 'a' <= c && c <= 'f':
			r = r<<4 | rune(c-'a'+10)
		case 'A' <= c && c <= 'F':
			r = r<<4 | rune(c-'A'+10)
		default:
			p.beyond()
		}
	}
	if r >= 0xd800 && r <= 0xdfff {
		p.beyond()
	}
	p.at += 6
	return utf8.AppendRune(value, r)
}
