package ical

import (
	"bytes"
	"encoding/json"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	goical "github.com/emersion/go-ical"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"wetdown/calendar"
)

// Two readers of iCalendar by others look at what is written: go-ical, which takes
// zones from the zone database, and ical.js, which takes them from the VTIMEZONE in
// the text. What they read is compared with what the events meant.

// An object is what a reader finds in a text.
type object struct {
	Method, Name string
	Refresh      int // seconds
	Zones        []string
	Properties   []string // names of the calendar's own, sorted
	Events       []entry
}

// An entry is an event. Instants are seconds since 1970, 0 for none.
type entry struct {
	UID                                 string
	Sequence                            int
	Status                              string
	Start, End, Stamp, LastModified     int64
	Summary, Location, Description, URL string
	Organizer                           someone
	Attendees                           []someone
	Properties                          []string // names, sorted
}

type someone struct{ Name, Mail, Role, Answer, Wanted string }

// readers reads each text with both readers: first all by go-ical, then all by
// ical.js.
func readers(t *testing.T, texts ...[]byte) map[string][]object {
	t.Helper()
	read := map[string][]object{}
	for _, text := range texts {
		read["go-ical"] = append(read["go-ical"], byGo(t, text))
	}
	read["ical.js"] = byNode(t, texts)
	return read
}

// byNode reads the texts with ical.js, in one run of node.
func byNode(t *testing.T, texts [][]byte) []object {
	t.Helper()
	home := filepath.Join("..", "..", ".ci", "ical")
	_, missing := exec.LookPath("node")
	if missing == nil {
		_, missing = os.Stat(filepath.Join(home, "node_modules", "ical.js"))
	}
	if missing != nil {
		say := t.Skipf
		if os.Getenv("CI") == "true" {
			say = t.Fatalf
		}
		say("ical.js cannot be asked (%v): install node, then run npm ci --prefix .ci/ical at the top of the repository", missing)
	}
	var list []string
	for _, text := range texts {
		list = append(list, string(text))
	}
	in, err := json.Marshal(list)
	if err != nil {
		t.Fatal(err)
	}
	run := exec.Command("node", filepath.Join(home, "read.mjs"))
	run.Stdin = bytes.NewReader(in)
	var complaint bytes.Buffer
	run.Stderr = &complaint
	out, err := run.Output()
	if err != nil {
		t.Fatalf("ical.js refuses a text: %v\n%s", err, complaint.Bytes())
	}
	var objects []object
	if err := json.Unmarshal(out, &objects); err != nil {
		t.Fatal(err)
	}
	if len(objects) != len(texts) {
		t.Fatalf("ical.js read %d texts, want %d", len(objects), len(texts))
	}
	for i := range objects {
		for j := range objects[i].Events {
			e := &objects[i].Events[j]
			e.Organizer.Mail = mailbox(t, e.Organizer.Mail)
			for k := range e.Attendees {
				e.Attendees[k].Mail = mailbox(t, e.Attendees[k].Mail)
			}
		}
	}
	return objects
}

// byGo reads a text with go-ical.
func byGo(t testing.TB, text []byte) object {
	t.Helper()
	c, err := goical.NewDecoder(bytes.NewReader(text)).Decode()
	if err != nil {
		t.Fatalf("go-ical refuses the text: %v\n%s", err, text)
	}
	plain := func(props goical.Props, name string) string {
		s, err := props.Text(name)
		if err != nil {
			t.Fatalf("go-ical: %s: %v\n%s", name, err, text)
		}
		return s
	}
	o := object{Method: plain(c.Props, "METHOD"), Name: plain(c.Props, "NAME"), Properties: names(c.Props)}
	if r := c.Props.Get("REFRESH-INTERVAL"); r != nil {
		d, err := r.Duration()
		if err != nil {
			t.Fatal(err)
		}
		o.Refresh = int(d.Seconds())
	}
	for _, child := range c.Children {
		if child.Name == goical.CompTimezone {
			o.Zones = append(o.Zones, plain(child.Props, "TZID"))
		}
	}
	for _, v := range c.Events() {
		e := entry{UID: plain(v.Props, "UID"), Summary: plain(v.Props, "SUMMARY"), Location: plain(v.Props, "LOCATION"),
			Description: plain(v.Props, "DESCRIPTION"), Properties: names(v.Props)}
		status, err := v.Status()
		if err != nil {
			t.Fatal(err)
		}
		e.Status = string(status)
		if e.Sequence, err = v.Props.Get("SEQUENCE").Int(); err != nil {
			t.Fatal(err)
		}
		for _, at := range []struct {
			name string
			to   *int64
		}{{"DTSTART", &e.Start}, {"DTEND", &e.End}, {"DTSTAMP", &e.Stamp}, {"LAST-MODIFIED", &e.LastModified}} {
			if p := v.Props.Get(at.name); p != nil {
				u, err := p.DateTime(nil)
				if err != nil {
					t.Fatal(err)
				}
				*at.to = u.Unix()
			}
		}
		if u := v.Props.Get("URL"); u != nil {
			e.URL = u.Value
		}
		person := func(p goical.Prop) someone {
			return someone{p.Params.Get("CN"), mailbox(t, p.Value), p.Params.Get("ROLE"), p.Params.Get("PARTSTAT"), p.Params.Get("RSVP")}
		}
		e.Organizer = person(*v.Props.Get("ORGANIZER"))
		for _, a := range v.Props.Values("ATTENDEE") {
			e.Attendees = append(e.Attendees, person(a))
		}
		o.Events = append(o.Events, e)
	}
	return o
}

// names lists the names of properties, each as often as it is there.
func names(props goical.Props) (list []string) {
	for name, p := range props {
		for range p {
			list = append(list, name)
		}
	}
	slices.Sort(list)
	return list
}

// mailbox is the address that a mailto link means (RFC 6068).
func mailbox(t testing.TB, link string) string {
	t.Helper()
	mail, ok := strings.CutPrefix(link, "mailto:")
	if !ok {
		t.Fatalf("%q is no mailto link", link)
	}
	mail, err := url.PathUnescape(mail)
	if err != nil {
		t.Fatal(err)
	}
	return mail
}

// meant is what a text of these events must say, worked out apart from how it is
// written.
func meant(method string, events ...Event) object {
	o := object{Method: method, Properties: strings.Fields("METHOD PRODID VERSION")}
	for _, e := range events {
		want := entry{
			UID: e.UID, Sequence: e.Sequence, Status: e.Status, Stamp: e.Stamp.Unix(),
			Summary: shown(e.Summary), Location: shown(e.Location), Description: shown(e.Description), URL: e.URL,
			Organizer:  someone{Name: named(e.Organizer.Name), Mail: e.Organizer.Mail},
			Properties: strings.Fields("DTSTAMP ORGANIZER SEQUENCE STATUS SUMMARY UID"),
		}
		add := func(there bool, names ...string) {
			if there {
				want.Properties = append(want.Properties, names...)
			}
		}
		add(want.Location != "", "LOCATION")
		add(want.Description != "", "DESCRIPTION")
		add(want.URL != "", "URL")
		if !e.LastModified.IsZero() {
			want.LastModified = e.LastModified.Unix()
			add(true, "LAST-MODIFIED")
		}
		if e.Start != calendar.NoMoment {
			want.Start, want.End = byGrid(e.Zone, e.Start), byGrid(e.Zone, e.End)
			add(true, "DTSTART", "DTEND")
			if !slices.Contains(o.Zones, e.Zone) {
				o.Zones = append(o.Zones, e.Zone)
			}
		}
		if method != publish {
			for _, a := range e.Attendees {
				who := someone{Name: named(a.Name), Mail: a.Mail}
				if method == request {
					who.Role, who.Answer, who.Wanted = "REQ-PARTICIPANT", "NEEDS-ACTION", "TRUE"
				}
				want.Attendees = append(want.Attendees, who)
				add(true, "ATTENDEE")
			}
		}
		slices.Sort(want.Properties)
		o.Events = append(o.Events, want)
	}
	slices.Sort(o.Zones)
	return o
}

// byGrid is the instant of a moment as package calendar has it, counted from a noon
// in January that every clock shows once.
func byGrid(zone string, m calendar.Moment) int64 {
	y, _, _ := m.Date().YMD()
	from := calendar.NewDate(y, 1, 20)
	g, err := calendar.NewGrid(zone, calendar.NewDate(y, 1, 1), calendar.NewDate(y, 12, 31), nil)
	if err != nil {
		panic(err)
	}
	loc, err := time.LoadLocation(zone)
	if err != nil {
		panic(err)
	}
	noon := time.Date(y, 1, 20, 12, 0, 0, 0, loc)
	return noon.Unix() + int64(g.ElapsedMinutes(from.At(12*60), m))*60
}

// shown is what is left of a text: ends of lines are \n, no other control
// characters but tabs, and U+FFFD for what is no UTF-8.
func shown(s string) string {
	var b strings.Builder
	runes := []rune(strings.ToValidUTF8(s, "\uFFFD"))
	for i, r := range runes {
		switch {
		case r == '\r' && i+1 < len(runes) && runes[i+1] == '\n':
		case r == '\r', r == '\n', r == 0x85, r == 0x2028, r == 0x2029:
			b.WriteByte('\n')
		case r == '\t', r >= ' ' && r < 0x7f, r >= 0xa0:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// named is what is left of a name: a text on one line, without the characters that
// cannot stand in it.
func named(s string) string {
	s = strings.NewReplacer("\n", " ", "\t", " ").Replace(shown(s))
	return strings.TrimSpace(strings.NewReplacer(`"`, "", "^", "", `\`, "").Replace(s))
}

// same compares what both readers found with what was meant.
func same(t *testing.T, texts [][]byte, want []object) {
	t.Helper()
	for _, text := range texts {
		wellFormed(t, text)
	}
	read := readers(t, texts...)
	for _, reader := range []string{"go-ical", "ical.js"} {
		for i, got := range read[reader] {
			if diff := cmp.Diff(want[i], got, cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("%s reads text %d otherwise than meant (-meant +read):\n%s\n%s", reader, i+1, diff, texts[i])
			}
		}
	}
}

// wellFormed looks at the lines themselves (RFC 5545 3.1): UTF-8, ends CR LF and no
// other control characters but tabs, at most 75 octets, whole runes.
func wellFormed(t testing.TB, text []byte) {
	t.Helper()
	if !bytes.HasSuffix(text, []byte("END:VCALENDAR\r\n")) {
		t.Errorf("the text does not end with the end of the calendar:\n%s", text)
	}
	for i, line := range bytes.Split(bytes.TrimSuffix(text, []byte("\r\n")), []byte("\r\n")) {
		if len(line) == 0 || len(line) > 75 {
			t.Errorf("line %d has %d octets, want 1 to 75: %q", i+1, len(line), line)
		}
		for _, r := range strings.ToValidUTF8(string(line), "\x00") {
			if r < ' ' && r != '\t' || r == 0x7f {
				t.Errorf("line %d has a control character or half a rune: %q", i+1, line)
				break
			}
		}
	}
}
