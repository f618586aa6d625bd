package ical

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// hostile are texts that try to be more than text, or that readers stumble over.
var hostile = []string{
	"",
	"\r\nATTENDEE:mailto:intruder@elsewhere.example",
	"\nEND:VEVENT\nEND:VCALENDAR\nBEGIN:VCALENDAR",
	"\rSTATUS:CANCELLED\r",
	"a\u0085DTSTART:20000101T000000Z\u2028X:y\u2029Z:z",
	`";X-A=b:mailto:intruder@elsewhere.example`,
	`^'^n^^ ^"`,
	`\n\N\\n\;\,;,:"`,
	`ends in a backslash\`,
	"nul \x00 bell \a escape \x1b[31m delete \x7f",
	"no UTF-8: \xff\xfe\xc3( \xed\xa0\x80",
	"tab\tand  spaces   ",
	"   at the start",
	strings.Repeat("消防车", 40),
	strings.Repeat("🚒", 60),
	strings.Repeat("a", 74) + "é" + strings.Repeat("b", 73) + "é",
	strings.Repeat(" ", 300),
	strings.Repeat("\\", 75),
	"\u202eright to left\u202c, e\u0301 combining, \ufeff mark",
	"=?utf-8?Q?quoted?=, =0D=0A",
	"%0D%0AATTENDEE:x",
}

// noted is an event with a text wherever a text can be.
func noted(summary, location, description, organizer, attendee string) Event {
	e := sample()
	e.Summary, e.Location, e.Description = summary, location, description
	e.Organizer.Name, e.Attendees[0].Name = organizer, attendee
	return e
}

// TestText_Hostile writes hostile texts everywhere, and mixtures of them; both
// readers must find them as texts, and no property beside those meant.
func TestText_Hostile(t *testing.T) {
	dice := rand.New(rand.NewPCG(1, 0))
	draw := func() string {
		var b strings.Builder
		for range 1 + dice.IntN(4) {
			s := hostile[dice.IntN(len(hostile))]
			i := dice.IntN(len(s) + 1)
			b.WriteString(s[i:]) // also from within a rune
		}
		return b.String()
	}
	var texts [][]byte
	var want []object
	for i := range 400 {
		var e Event
		if i < len(hostile) {
			e = noted(hostile[i], hostile[i], hostile[i], hostile[i], hostile[i])
		} else {
			e = noted(draw(), draw(), draw(), draw(), draw())
		}
		text, err := Request(e)
		if err != nil {
			t.Fatal(err)
		}
		texts, want = append(texts, text), append(want, textOf(e))
	}
	same(t, texts, want)
}

// textOf is meant for an invitation whose texts may be empty once they are clean.
func textOf(e Event) object {
	e.Summary, e.Location, e.Description = shown(e.Summary), shown(e.Location), shown(e.Description)
	return meant(request, e)
}

// FuzzText reads back whatever is written, with go-ical.
func FuzzText(f *testing.F) {
	for i, s := range hostile {
		f.Add(s, hostile[(i+1)%len(hostile)], hostile[(i+2)%len(hostile)], hostile[(i+3)%len(hostile)], "chief@harrowlune.example", "")
	}
	f.Add("s", "l", "d", "n", "a@b\r\nX:y", "https://a\r\nX:y")
	f.Add("s", "l", "d", "n", "o'neil+truck%0D/?&=#{}|^`~@ä.example", "https://a.example/?q=%0D%0A;b=2,3#x")
	f.Fuzz(func(t *testing.T, summary, location, description, name, mail, link string) {
		e := noted(summary, location, description, name, name)
		e.Attendees[0].Mail, e.URL = mail, link
		text, err := Request(e)
		if err != nil {
			if text != nil {
				t.Error("refused, and something is written")
			}
			if strings.ContainsAny(err.Error(), "\r\n") {
				t.Errorf("the refusal is more than a line: %q", err)
			}
			if e.Attendees[0].Mail, e.URL = "a@b", ""; mail != "a@b" || link != "" {
				if text, err = Request(e); err != nil {
					t.Fatalf("texts alone are refused: %v", err)
				}
			}
		}
		wellFormed(t, text)
		if diff := cmp.Diff(textOf(e), byGo(t, text), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("go-ical reads otherwise than meant (-meant +read):\n%s\n%s", diff, text)
		}
	})
}

// TestFold folds lines of every length with runes of every width: lines are full but
// for what a whole rune does not leave room for, and unfolding gives them back (RFC
// 5545 3.1).
func TestFold(t *testing.T) {
	for _, r := range []string{"a", "é", "消", "🚒"} {
		for n := range 120 {
			value := strings.Repeat("x", n%5) + strings.Repeat(r, n)
			l := &lines{}
			l.put("X", value)
			parts := bytes.Split(bytes.TrimSuffix(l.b, []byte("\r\n")), []byte("\r\n"))
			back := parts[0]
			for i, p := range parts {
				if len(p) > 75 || i < len(parts)-1 && len(p) <= 75-len(r) {
					t.Fatalf("%d times %s: line %d has %d octets", n, r, i+1, len(p))
				}
				if i > 0 {
					if p[0] != ' ' {
						t.Fatalf("%d times %s: line %d does not begin with a space", n, r, i+1)
					}
					back = slices.Concat(back, p[1:])
				}
			}
			if string(back) != "X:"+value {
				t.Fatalf("%d times %s: unfolded %q", n, r, back)
			}
		}
	}
}

// A name of a feed is a text as well.
func TestFeed_Name(t *testing.T) {
	var texts [][]byte
	var want []object
	for _, name := range hostile {
		text, err := Feed(name, time.Hour, nil)
		if err != nil {
			t.Fatal(err)
		}
		o := object{Name: shown(name), Refresh: 3600, Zones: []string{"UTC"}, Properties: strings.Fields("NAME PRODID REFRESH-INTERVAL VERSION")}
		if o.Name == "" {
			o.Properties = o.Properties[1:]
		}
		texts, want = append(texts, text), append(want, o)
	}
	same(t, texts, want)
}
