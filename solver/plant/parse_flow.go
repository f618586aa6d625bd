package plant

import "go.yaml.in/yaml/v3"

// flowLine reads { } or [ ] with nothing behind it on its last line.
func (p *parser) flowLine(depth int) *yaml.Node {
	n := p.flow(depth)
	p.inLine()
	if p.peek() == ':' {
		p.beyond() // it is a key
	}
	p.endLine()
	return n
}

// flow reads { } or [ ], over any number of lines.
func (p *parser) flow(depth int) *yaml.Node {
	if depth > maxDepth {
		p.beyond()
	}
	kind, end := yaml.Kind(yaml.MappingNode), byte('}')
	if p.peek() == '[' {
		kind, end = yaml.SequenceNode, ']'
	}
	n := p.node(kind, yaml.FlowStyle)
	p.at++
	p.flowSpace(n, end)
	for p.peek() != end {
		if kind == yaml.MappingNode {
			k := p.scalar(true)
			p.inLine()
			if p.peek() != ':' {
				p.flowStuck(n, end, "a colon is missing behind "+quoted(k.Value), "write key: value")
			}
			p.at++
			if c := p.peek(); c != ' ' && c != '\n' && c != '\r' && k.Style == 0 {
				p.broken("a blank is missing behind the colon", "write key: value")
			}
			p.flowSpace(n, end)
			if p.peek() == end || p.peek() == ',' {
				p.beyond() // a key with nothing behind it
			}
			if len(k.Value) > maxKey {
				p.beyond()
			}
			n.Content = append(n.Content, k)
		}
		if p.peek() == '{' || p.peek() == '[' {
			n.Content = append(n.Content, p.flow(depth+1))
		} else {
			n.Content = append(n.Content, p.scalar(true))
		}
		p.flowSpace(n, end)
		switch p.peek() {
		case end:
		case ',':
			p.at++
			p.flowSpace(n, end)
			if p.peek() == end {
				p.beyond() // a comma too many
			}
		case ':':
			if kind == yaml.MappingNode {
				p.broken("there is a second colon behind one key", "write a comma between the keys, or put the value in quotes")
			}
			p.beyond() // a pair in a list
		default:
			p.flowStuck(n, end, "a comma or "+string(end)+" is missing", "write it before this")
		}
	}
	p.at++
	return n
}

// flowSpace skips blanks, comments and line breaks inside brackets.
func (p *parser) flowSpace(open *yaml.Node, end byte) {
	for {
		p.blanks()
		if p.done() {
			p.unclosed(open, end)
		}
		if !p.atEnd() {
			if p.at == p.lineAt && (p.peek() == '-' || p.peek() == '.') {
				p.beyond()
			}
			return
		}
		p.newline()
	}
}

// flowStuck stops inside brackets. Where the next line stands as far out as the
// brackets' own, the bracket was never closed.
func (p *parser) flowStuck(open *yaml.Node, end byte, what, next string) {
	if p.line > open.Line && (p.dash() || p.here() <= p.in) {
		p.unclosed(open, end)
	}
	p.broken(what, next)
}

func (p *parser) unclosed(open *yaml.Node, end byte) {
	panic(&stopped{open.Line, open.Column, wrong{what: "the bracket that opens here is not closed", next: "write " + string(end) + " where it ends"}})
}
