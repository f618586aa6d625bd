package ical

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// maxLine is the most octets of a line, its end left out (RFC 5545 3.1).
const maxLine = 75

// lines collects content lines.
type lines struct{ b []byte }

// put writes a property with its parameters, a colon and its value, folded: a line
// that is too long goes on in the next one after a space. No rune is cut.
func (l *lines) put(property, value string) {
	rest, room := property+":"+value, maxLine
	for len(rest) > room {
		n := room
		for !utf8.RuneStart(rest[n]) {
			n--
		}
		l.b = append(append(l.b, rest[:n]...), "\r\n "...)
		rest, room = rest[n:], maxLine-1
	}
	l.b = append(append(l.b, rest...), "\r\n"...)
}

// text writes a property whose value is a text; nothing if it is empty.
func (l *lines) text(property, s string) {
	if s = escape(s); s != "" {
		l.put(property, s)
	}
}

// utc writes a property whose value is an instant; nothing if it is zero.
func (l *lines) utc(property string, t time.Time) {
	if !t.IsZero() {
		l.put(property, t.UTC().Format("20060102T150405Z"))
	}
}

// person writes somebody who organises or attends, with further parameters.
func (l *lines) person(property string, p Person, parameters string) {
	if name := quotable(p.Name); name != "" {
		property += `;CN="` + name + `"`
	}
	l.put(property+parameters, "mailto:"+address(p.Mail))
}

// escaped are the characters of a text that RFC 5545 3.3.11 has escaped.
var escaped = strings.NewReplacer(`\`, `\\`, ",", `\,`, ";", `\;`, "\n", `\n`)

func escape(s string) string { return escaped.Replace(clean(s)) }

// ends are the ends of lines beside \n that some reader takes for one.
var ends = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n")

// clean makes every end of a line \n, leaves control characters out but for tabs,
// and puts U+FFFD where the text is no UTF-8.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, ends.Replace(strings.ToValidUTF8(s, "\uFFFD")))
}

// quotable makes a name one that can stand in quotes. Quotes cannot be written
// there (RFC 5545 3.2); a circumflex means one thing to those who know RFC 6868 and
// another to those who don't; a backslash means nothing, but some readers take the
// quote after it for part of the name. All three are left out.
func quotable(name string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch r {
		case '"', '^', '\\':
			return -1
		case '\n', '\t':
			return ' '
		}
		return r
	}, clean(name)))
}

// address writes a mail address as RFC 6068 asks: octets that a link reserves as
// a percent sign and two digits.
func address(mail string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for _, c := range []byte(mail) {
		switch {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', strings.IndexByte("-._~!$'*+@", c) >= 0:
			b.WriteByte(c)
		default:
			b.Write([]byte{'%', hex[c>>4], hex[c&15]})
		}
	}
	return b.String()
}
