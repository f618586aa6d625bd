package ical

import (
	"strings"
	"testing"
	"time"

	"wetdown/calendar"
)

// at reads a moment.
func at(s string) calendar.Moment {
	m, err := calendar.ParseMoment(s)
	if err != nil {
		panic(err)
	}
	return m
}

var stamp = time.Date(2027, 2, 22, 12, 30, 15, 0, time.UTC)

// sample is an event with everything in it.
func sample() Event {
	return Event{
		UID: "5f1c0e@vellimere.example", Sequence: 2, Status: Confirmed, Zone: "America/Chicago",
		Start: at("2027-03-15T07:00"), End: at("2027-03-15T15:30"),
		Summary: "Final inspection of truck T-501", Location: "Floor 1, Vellimere; by the window",
		Description: "Ladder \\ pump, 1½\" hose; Ä 消防车 🚒\nsecond line", URL: "https://vellimere.example/v/501?a=1;b=2,3",
		Organizer: Person{"Coordinator: visits, \"days\"", "visits@vellimere.example"},
		Attendees: []Person{{"Chief Ōkami; Harrowlune", "chief+truck@harrowlune.example"}, {"", "o'neil/a&b%c=d@harrowlune.example"}},
		Stamp:     stamp, LastModified: stamp.Add(-time.Hour),
	}
}

// TestNext is the rule of revisions. Numbers are sections of RFC 5546.
func TestNext(t *testing.T) {
	tests := []struct {
		what   string
		change func(*Event)
		raised bool
	}{
		{"2.1.5: nothing but the stamp", func(e *Event) {}, false},
		{"2.1.4: another day", func(e *Event) { e.Start += 1440; e.End += 1440 }, true},
		{"2.1.4: another time", func(e *Event) { e.Start += 30; e.End += 30 }, true},
		{"2.1.4: longer", func(e *Event) { e.End += 30 }, true},
		{"2.1.4: shorter at the start", func(e *Event) { e.Start += 30 }, true},
		{"2.1.4: the same clock times in another zone", func(e *Event) { e.Zone = "America/Denver" }, true},
		{"2.1.4: another status", func(e *Event) { e.Status = Tentative }, true},
		{"3.2.5: cancelled", func(e *Event) { e.Status = Cancelled }, true},
		{"3.2.5: cancelled, no hours left", func(e *Event) { e.Status, e.Start, e.End = Cancelled, calendar.NoMoment, calendar.NoMoment }, true},
		{"3.2.2.2: another summary", func(e *Event) { e.Summary += "!" }, false},
		{"3.2.2.2: another description", func(e *Event) { e.Description = "" }, false},
		{"3.2.2.2: another position on the floor", func(e *Event) { e.Location = "Floor 2" }, false},
		{"3.2.2.3: another attendee", func(e *Event) { e.Attendees = e.Attendees[:1] }, false},
		{"3.2.2.2: another link and organizer", func(e *Event) { e.URL, e.Organizer.Name = "", "Desk" }, false},
		{"2.1.4: a revision counted by somebody else", func(e *Event) { e.Sequence = 77 }, false},
	}
	for _, tt := range tests {
		old, fresh := sample(), sample()
		fresh.UID, fresh.Stamp = "another", stamp.Add(time.Hour)
		tt.change(&fresh)
		got := Next(old, fresh)
		want := old.Sequence
		if tt.raised {
			want++
		}
		if got.Sequence != want {
			t.Errorf("%s: revision %d, want %d", tt.what, got.Sequence, want)
		}
		if got.UID != old.UID {
			t.Errorf("%s: UID %s, want %s for life", tt.what, got.UID, old.UID)
		}
		if got.Stamp != fresh.Stamp {
			t.Errorf("%s: stamp %v, want %v", tt.what, got.Stamp, fresh.Stamp)
		}
	}
}

// A visit from its first tentative day to its end: revisions only grow.
func TestNext_Life(t *testing.T) {
	e := sample()
	e.Sequence, e.Status = 0, Tentative
	steps := []struct {
		what   string
		change func(*Event)
		want   int
	}{
		{"confirmed", func(e *Event) { e.Status = Confirmed }, 1},
		{"moved, to be agreed", func(e *Event) { e.Status = Tentative; e.Start += 1440; e.End += 1440 }, 2},
		{"agreed", func(e *Event) { e.Status = Confirmed }, 3},
		{"other words", func(e *Event) { e.Description = "Come by the north gate." }, 3},
		{"cancelled", func(e *Event) { e.Status, e.Start, e.End = Cancelled, calendar.NoMoment, calendar.NoMoment }, 4},
		{"told again", func(e *Event) { e.Start, e.End = calendar.NoMoment, calendar.NoMoment }, 4},
		{"a new day after all", func(e *Event) { e.Status = Tentative; e.Start += 2880; e.End += 2880 }, 5},
	}
	for _, s := range steps {
		fresh := e
		fresh.Sequence = 0 // as Visit gives it
		s.change(&fresh)
		before := e
		if e = Next(e, fresh); e.Sequence != s.want {
			t.Errorf("%s: revision %d, want %d", s.what, e.Sequence, s.want)
		}
		// RFC 5546 2.1.5 tells revisions of one number apart by their stamps, which
		// are written in whole seconds.
		if !e.Stamp.Truncate(time.Second).After(before.Stamp.Truncate(time.Second)) {
			t.Errorf("%s: stamp %v does not follow %v", s.what, e.Stamp, before.Stamp)
		}
		if e.Start == calendar.NoMoment {
			t.Errorf("%s: the hours are lost", s.what)
		}
	}
}

// TestWrite_Methods compares what is written by each method with what was meant, by
// both readers.
func TestWrite_Methods(t *testing.T) {
	full, off := sample(), sample()
	off.Status = Cancelled
	bare := sample()
	bare.Status, bare.Start, bare.End, bare.Zone = Cancelled, calendar.NoMoment, calendar.NoMoment, ""
	plain := Event{
		UID: "1@vellimere.example", Status: Tentative, Zone: "Australia/Adelaide", Start: at("2027-04-05T07:00"), End: at("2027-04-06T07:00"),
		Organizer: Person{Mail: "visits@vellimere.example"}, Attendees: []Person{{Mail: "a@b"}}, Stamp: stamp,
	}
	other := full
	other.UID, other.Start, other.End = "2@vellimere.example", at("2028-12-31T22:00"), at("2029-01-01T06:00")

	var texts [][]byte
	var want []object
	add := func(text []byte, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	add(Request(full))
	want = append(want, meant(request, full))
	add(Request(plain))
	want = append(want, meant(request, plain))
	add(Cancel(off))
	want = append(want, meant(cancel, off))
	add(Cancel(bare))
	want = append(want, meant(cancel, bare))
	feed := func(events ...Event) {
		add(Feed("Visits, floor 1; Ä", 90*time.Minute, events))
		o := meant(publish, events...)
		o.Name, o.Refresh = "Visits, floor 1; Ä", 5400
		o.Properties = strings.Fields("METHOD NAME PRODID REFRESH-INTERVAL VERSION")
		want = append(want, o)
	}
	feed(full, plain, other)
	feed(off)
	add(Feed("Nothing yet", time.Hour, nil))
	want = append(want, object{Name: "Nothing yet", Refresh: 3600, Zones: []string{"UTC"}, Properties: strings.Fields("NAME PRODID REFRESH-INTERVAL VERSION")})
	same(t, texts, want)
}

// TestWrite_Bytes spells one invitation out.
func TestWrite_Bytes(t *testing.T) {
	e := sample()
	e.Location, e.URL = "", ""
	e.Description = "Ladder, pump; hose \\ 1\n" + strings.Repeat("消", 30)
	e.Attendees = []Person{{"Chief \"Ladder\"\r\nATTENDEE:mailto:x@y", "chief+truck@harrowlune.example"}}
	text, err := Request(e)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"BEGIN:VCALENDAR",
		"VERSION:2.0",
		"PRODID:-//Wetdown//Wetdown//EN",
		"METHOD:REQUEST",
		"BEGIN:VTIMEZONE",
		"TZID:America/Chicago",
		"BEGIN:STANDARD",
		"DTSTART:20261101T020000",
		"TZOFFSETFROM:-0500",
		"TZOFFSETTO:-0600",
		"TZNAME:CST",
		"END:STANDARD",
		"BEGIN:DAYLIGHT",
		"DTSTART:20270314T020000",
		"TZOFFSETFROM:-0600",
		"TZOFFSETTO:-0500",
		"TZNAME:CDT",
		"END:DAYLIGHT",
		"BEGIN:STANDARD",
		"DTSTART:20271107T020000",
		"TZOFFSETFROM:-0500",
		"TZOFFSETTO:-0600",
		"TZNAME:CST",
		"END:STANDARD",
		"END:VTIMEZONE",
		"BEGIN:VEVENT",
		"UID:5f1c0e@vellimere.example",
		"SEQUENCE:2",
		"STATUS:CONFIRMED",
		"DTSTAMP:20270222T123015Z",
		"LAST-MODIFIED:20270222T113015Z",
		"DTSTART;TZID=America/Chicago:20270315T070000",
		"DTEND;TZID=America/Chicago:20270315T153000",
		"SUMMARY:Final inspection of truck T-501",
		`DESCRIPTION:Ladder\, pump\; hose \\ 1\n` + strings.Repeat("消", 12),
		" " + strings.Repeat("消", 18),
		`ORGANIZER;CN="Coordinator: visits, days":mailto:visits@vellimere.example`,
		`ATTENDEE;CN="Chief Ladder ATTENDEE:mailto:x@y";ROLE=REQ-PARTICIPANT;PARTSTA`,
		" T=NEEDS-ACTION;RSVP=TRUE:mailto:chief+truck@harrowlune.example",
		"END:VEVENT",
		"END:VCALENDAR",
		"",
	}
	got := strings.Split(string(text), "\r\n")
	for i := range max(len(got), len(want)) {
		g, w := "(nothing)", "(nothing)"
		if i < len(got) {
			g = got[i]
		}
		if i < len(want) {
			w = want[i]
		}
		if g != w {
			t.Fatalf("line %d is\n%s\nwant\n%s", i+1, g, w)
		}
	}
}

// TestWrite_Refused has what cannot be written, and what the refusal must say to do.
func TestWrite_Refused(t *testing.T) {
	invite := func(change func(*Event)) error {
		e := sample()
		change(&e)
		_, err := Request(e)
		return err
	}
	call := func(change func(*Event)) error {
		e := sample()
		e.Status = Cancelled
		change(&e)
		_, err := Cancel(e)
		return err
	}
	feed := func(every time.Duration, events ...Event) error {
		_, err := Feed("f", every, events)
		return err
	}
	off := sample()
	off.Status, off.Start, off.End = Cancelled, calendar.NoMoment, calendar.NoMoment
	tests := []struct {
		what string
		err  error
		say  string
	}{
		{"no UID", invite(func(e *Event) { e.UID = "" }), "take the one that Visit gives"},
		{"a UID of two lines", invite(func(e *Event) { e.UID = "a\r\nATTENDEE:mailto:x@y" }), "take the one that Visit gives"},
		{"a revision below 0", invite(func(e *Event) { e.Sequence = -1 }), "count from 0"},
		{"a status of two lines", invite(func(e *Event) { e.Status = "CONFIRMED\r\nX:y" }), "write TENTATIVE"},
		{"no stamp", invite(func(e *Event) { e.Stamp = time.Time{} }), "hand in the time"},
		{"no start", invite(func(e *Event) { e.Start = calendar.NoMoment }), "give both"},
		{"no hours, not cancelled", invite(func(e *Event) { e.Start, e.End = calendar.NoMoment, calendar.NoMoment }), "give both"},
		{"an end before the start", invite(func(e *Event) { e.End = e.Start - 1 }), "let it end later"},
		{"no length", invite(func(e *Event) { e.End = e.Start }), "let it end later"},
		{"no length: within the hour that never is", invite(func(e *Event) { e.Start, e.End = at("2027-03-14T02:10"), at("2027-03-14T02:50") }), "let it end later"},
		{"a far year", invite(func(e *Event) { e.End = calendar.NewDate(9999, 1, 1).At(0) }), "from 1900 to 9998"},
		{"no zone", invite(func(e *Event) { e.Zone = "" }), "IANA zone"},
		{"the machine's zone", invite(func(e *Event) { e.Zone = "Local" }), "IANA zone"},
		{"a zone of two lines", invite(func(e *Event) { e.Zone = "America/Chicago\r\nX:y" }), "IANA zone"},
		{"a script for a link", invite(func(e *Event) { e.URL = "javascript:alert(1)" }), "http://"},
		{"a link of two lines", invite(func(e *Event) { e.URL = "https://a\r\nX:y" }), "http://"},
		{"no organizer", invite(func(e *Event) { e.Organizer = Person{} }), "organizer"},
		{"two addresses in one", invite(func(e *Event) { e.Attendees[1].Mail = "a@b,c@d" }), "attendee 2"},
		{"an address of two lines", invite(func(e *Event) { e.Attendees[0].Mail = "a@b\r\nX:y" }), "one address"},
		{"a name in the address", invite(func(e *Event) { e.Attendees[0].Mail = "Chief <a@b>" }), "one address"},
		{"nobody invited", invite(func(e *Event) { e.Attendees = nil }), "add their mail"},
		{"a cancelled invitation", invite(func(e *Event) { e.Status = Cancelled }), "with Cancel"},
		{"a cancellation that is none", call(func(e *Event) { e.Status = Confirmed }), "with Request"},
		{"a cancellation of nothing sent", call(func(e *Event) { e.Sequence = 0 }), "let Next"},
		{"a cancellation to nobody", call(func(e *Event) { e.Attendees = nil }), "add their mail"},
		{"a feed every half minute", feed(30 * time.Second), "whole minutes"},
		{"an event twice in a feed", feed(time.Hour, sample(), sample()), "newest revision"},
		{"a cancellation without hours in a feed", feed(time.Hour, off), "leave it out"},
	}
	for _, tt := range tests {
		if tt.err == nil {
			t.Errorf("%s: written, want a refusal", tt.what)
		} else if !strings.Contains(tt.err.Error(), tt.say) || strings.ContainsAny(tt.err.Error(), "\r\n") {
			t.Errorf("%s: %q, want one line with %q", tt.what, tt.err, tt.say)
		}
	}
}
