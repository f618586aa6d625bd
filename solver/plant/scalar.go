package plant

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A scalar is one value of a plant file, bound to the field that keeps it.
type scalar interface {
	// parse sets the field from the text of the file; "" sets the empty value.
	parse(s string) wrong
	// format prints the field as parse reads it; the empty value is "", except
	// for numbers.
	format() string
	// check looks whether the value is allowed.
	check(*known) wrong
	// kind tells how the value is written.
	kind() kind
	// schema describes the value in JSON Schema.
	schema() map[string]any
}

// A kind is the way a value is written.
type kind int

const (
	isText   kind = iota // with quotes where they are needed
	isStamp              // text that needs none: days, moments, shifts, hours with an h
	isNumber             // never with quotes
	isHours              // a number, or text with an h
	isBool
)

// Length limits of text, in characters.
const (
	maxText = 500
	maxID   = 64
)

// textScalar is one line for people.
type textScalar struct{ p *string }

func asText(p *string) scalar { return textScalar{p} }

func (v textScalar) parse(s string) wrong   { *v.p = s; return wrong{} }
func (v textScalar) format() string         { return *v.p }
func (v textScalar) kind() kind             { return isText }
func (v textScalar) check(*known) wrong     { return checkLine(*v.p, maxText) }
func (v textScalar) schema() map[string]any { return textSchema(maxText) }

func textSchema(most int) map[string]any {
	return map[string]any{"type": []string{"string", "number"}, "minLength": 1, "maxLength": most, "pattern": `^[^\x00-\x1f\x7f]*$`}
}

// checkLine looks for what no single line of text may have.
func checkLine(s string, most int) wrong {
	switch {
	case !utf8.ValidString(s):
		return wrong{"the text is not valid UTF-8", "text in UTF-8", "type it again"}
	case strings.ContainsFunc(s, unicode.IsControl):
		return wrong{"the text has a line break or a control character in it", "one line of text", "write it on one line"}
	case utf8.RuneCountInString(s) > most:
		return wrong{fmt.Sprintf("the text has %d characters", utf8.RuneCountInString(s)), fmt.Sprintf("at most %d characters", most), "shorten it"}
	}
	return wrong{}
}

// idScalar names a noun. An id inside others (inner) has no point in it, so that
// "stage.wish" can be taken apart.
type idScalar struct {
	p     *string
	inner bool
}

func asID(p *string) scalar      { return idScalar{p, false} }
func asInnerID(p *string) scalar { return idScalar{p, true} }

func (v idScalar) parse(s string) wrong { *v.p = s; return wrong{} }
func (v idScalar) format() string       { return *v.p }
func (v idScalar) kind() kind           { return isText }
func (v idScalar) check(*known) wrong {
	s := *v.p
	if w := checkLine(s, maxID); !w.ok() {
		return w
	}
	switch {
	case s != strings.TrimSpace(s):
		return wrong{fmt.Sprintf("%q has a blank at an end", s), "a name without blanks around it", "take the blank away"}
	case strings.Contains(s, `"`):
		return wrong{fmt.Sprintf("%q has a quote in it", s), "a name without quotes", "take the quotes away; between elements of a list write a comma"}
	case v.inner && strings.Contains(s, "."):
		return wrong{fmt.Sprintf("%q has a point in it", s), "letters, digits, - and _", "write _ in place of the point"}
	}
	return wrong{}
}

func (v idScalar) schema() map[string]any {
	s := textSchema(maxID)
	s["pattern"] = `^[^\s"]([^\x00-\x1f\x7f"]*[^\s"])?$`
	if v.inner {
		s["pattern"] = `^[^\s."]([^\x00-\x1f\x7f."]*[^\s."])?$`
	}
	return s
}

// refScalar is the id of another noun, or a word of a set that the file defines.
type refScalar struct {
	p  *string
	to set
}

func asRef(p *string, to set) scalar { return refScalar{p, to} }

func (v refScalar) parse(s string) wrong   { *v.p = s; return wrong{} }
func (v refScalar) format() string         { return *v.p }
func (v refScalar) kind() kind             { return isText }
func (v refScalar) check(k *known) wrong   { return k.check(v.to, *v.p) }
func (v refScalar) schema() map[string]any { return textSchema(maxID) }

// wordScalar is one of a few words.
type wordScalar struct {
	p  *string
	of []string
}

func asWord(p *string, of []string) scalar { return wordScalar{p, of} }

func (v wordScalar) parse(s string) wrong { *v.p = s; return wrong{} }
func (v wordScalar) format() string       { return *v.p }
func (v wordScalar) kind() kind           { return isText }
func (v wordScalar) check(*known) wrong {
	for _, w := range v.of {
		if *v.p == w {
			return wrong{}
		}
	}
	if *v.p == "" {
		return wrong{} // absence is the business of presence
	}
	return unknownWord(*v.p, v.of)
}

func (v wordScalar) schema() map[string]any {
	return map[string]any{"type": "string", "enum": v.of}
}

// boolScalar is true or false.
type boolScalar struct{ p *bool }

func asBool(p *bool) scalar { return boolScalar{p} }

func (v boolScalar) parse(s string) wrong {
	switch s {
	case "true":
		*v.p = true
	case "false", "":
		*v.p = false
	default:
		return wrong{fmt.Sprintf("%s is neither true nor false", quoted(s)), "true or false", "write one of the two"}
	}
	return wrong{}
}
func (v boolScalar) format() string {
	if *v.p {
		return "true"
	}
	return ""
}
func (v boolScalar) kind() kind             { return isBool }
func (v boolScalar) check(*known) wrong     { return wrong{} }
func (v boolScalar) schema() map[string]any { return map[string]any{"type": "boolean"} }

// quoted shows a value of a file in a sentence, shortened.
func quoted(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:37]) + "..."
	}
	return strconv.Quote(s)
}
