package ical

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wetdown/calendar"
)

// TestZone_Known compares events at both edges of summer time, and on the Monday
// after, with instants that are known from the law: in the United States the clocks
// go from 02:00 to 03:00 on the second Sunday of March and from 02:00 back to 01:00
// on the first of November (15 U.S.C. 260a); in South Australia from 03:00 back to
// 02:00 on the first Sunday of April and from 02:00 to 03:00 on the first of October
// (Daylight Saving Act 1971 (SA) and its regulations; days from memory, as the zone
// database has them). Central time is UTC-6, South Australia UTC+9:30.
func TestZone_Known(t *testing.T) {
	tests := []struct {
		what, zone, start, end string
		from, to               string // in UTC
	}{
		{"the Friday before", "America/Chicago", "2027-03-12T07:00", "2027-03-12T15:30", "2027-03-12T13:00Z", "2027-03-12T21:30Z"},
		{"a Monday after the change in spring", "America/Chicago", "2027-03-15T07:00", "2027-03-15T15:30", "2027-03-15T12:00Z", "2027-03-15T20:30Z"},
		{"over the weekend of the change in spring", "America/Chicago", "2027-03-12T11:30", "2027-03-15T15:30", "2027-03-12T17:30Z", "2027-03-15T20:30Z"},
		{"up to the change in spring", "America/Chicago", "2027-03-14T01:59", "2027-03-14T03:00", "2027-03-14T07:59Z", "2027-03-14T08:00Z"},
		{"from the change in spring", "America/Chicago", "2027-03-14T03:00", "2027-03-14T03:01", "2027-03-14T08:00Z", "2027-03-14T08:01Z"},
		{"from a time that never is", "America/Chicago", "2027-03-14T02:30", "2027-03-14T03:30", "2027-03-14T08:00Z", "2027-03-14T08:30Z"},
		{"up to the hour that is twice", "America/Chicago", "2027-11-07T00:30", "2027-11-07T01:00", "2027-11-07T05:30Z", "2027-11-07T06:00Z"},
		{"within the hour that is twice", "America/Chicago", "2027-11-07T01:00", "2027-11-07T01:59", "2027-11-07T06:00Z", "2027-11-07T06:59Z"},
		{"out of the hour that is twice", "America/Chicago", "2027-11-07T01:30", "2027-11-07T02:00", "2027-11-07T06:30Z", "2027-11-07T08:00Z"},
		{"a Monday after the change in autumn", "America/Chicago", "2027-11-08T07:00", "2027-11-08T15:30", "2027-11-08T13:00Z", "2027-11-08T21:30Z"},

		{"the last day of a leap year beyond the zone's table", "America/Chicago", "2040-12-31T07:00", "2040-12-31T15:30", "2040-12-31T13:00Z", "2040-12-31T21:30Z"},
		{"the day after it", "America/Chicago", "2041-01-01T07:00", "2041-01-01T15:30", "2041-01-01T13:00Z", "2041-01-01T21:30Z"},
		{"the summer after it", "America/Chicago", "2041-07-01T07:00", "2041-07-01T15:30", "2041-07-01T12:00Z", "2041-07-01T20:30Z"},

		{"the last day of a leap year beyond the zone's table", "Australia/Adelaide", "2040-12-31T07:00", "2041-01-01T15:30", "2040-12-30T20:30Z", "2041-01-01T05:00Z"},
		{"the Friday before", "Australia/Adelaide", "2027-04-02T07:00", "2027-04-02T15:30", "2027-04-01T20:30Z", "2027-04-02T05:00Z"},
		{"a Monday after the change in autumn", "Australia/Adelaide", "2027-04-05T07:00", "2027-04-05T15:30", "2027-04-04T21:30Z", "2027-04-05T06:00Z"},
		{"up to the hour that is twice", "Australia/Adelaide", "2027-04-04T01:00", "2027-04-04T02:00", "2027-04-03T14:30Z", "2027-04-03T15:30Z"},
		{"out of the hour that is twice", "Australia/Adelaide", "2027-04-04T02:30", "2027-04-04T03:00", "2027-04-03T16:00Z", "2027-04-03T17:30Z"},
		{"up to the change in spring", "Australia/Adelaide", "2027-10-03T01:59", "2027-10-03T03:00", "2027-10-02T16:29Z", "2027-10-02T16:30Z"},
		{"from a time that never is", "Australia/Adelaide", "2027-10-03T02:30", "2027-10-03T03:30", "2027-10-02T16:30Z", "2027-10-02T17:00Z"},
		{"a Monday after the change in spring", "Australia/Adelaide", "2027-10-04T07:00", "2027-10-04T15:30", "2027-10-03T20:30Z", "2027-10-04T05:00Z"},
	}
	utc := func(s string) int64 {
		u, err := time.Parse("2006-01-02T15:04Z", s)
		if err != nil {
			t.Fatal(err)
		}
		return u.Unix()
	}
	var texts [][]byte
	for _, tt := range tests {
		e := sample()
		e.Zone, e.Start, e.End = tt.zone, at(tt.start), at(tt.end)
		text, err := Request(e)
		if err != nil {
			t.Fatalf("%s: %v", tt.what, err)
		}
		texts = append(texts, text)
	}
	read := readers(t, texts...)
	for _, reader := range []string{"go-ical", "ical.js"} {
		for i, tt := range tests {
			e := read[reader][i].Events[0]
			if e.Start != utc(tt.from) || e.End != utc(tt.to) {
				t.Errorf("%s, %s: %s reads %v to %v, want %s to %s\n%s", tt.zone, tt.what, reader,
					time.Unix(e.Start, 0).UTC(), time.Unix(e.End, 0).UTC(), tt.from, tt.to, texts[i])
			}
		}
	}
}

// zones change their clocks by an hour, by half an hour, in summer of the north or
// the south, around Ramadan, not any more, or never did.
var zones = strings.Fields("America/Chicago America/St_Johns America/Phoenix America/Sao_Paulo Australia/Adelaide Australia/Lord_Howe Africa/Casablanca Europe/Dublin Europe/London Asia/Kathmandu Pacific/Chatham UTC")

// TestZone_Edges writes an event at every quarter of an hour around every change of
// clock of three years, in feeds of one zone each, and one a week between; both
// readers must find the instants that package calendar knows.
func TestZone_Edges(t *testing.T) {
	var texts [][]byte
	var want []object
	changes := 0
	for _, zone := range zones {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		var starts []calendar.Moment
		for d := calendar.NewDate(2026, 1, 1); d < calendar.NewDate(2029, 1, 1); d += 7 {
			starts = append(starts, d.At(9*60))
		}
		for u := time.Date(2026, 1, 1, 12, 0, 0, 0, loc); ; {
			_, change := u.ZoneBounds()
			if change.IsZero() || change.Year() > 2028 {
				break
			}
			changes++
			y, m, d := change.Date()
			edge := calendar.NewDate(y, m, d).At(calendar.Clock(change.Hour()*60 + change.Minute()))
			for k := -12; k <= 12; k++ {
				starts = append(starts, edge+calendar.Moment(15*k))
			}
			u = change
		}
		var events []Event
		for i, start := range starts {
			e := sample()
			e.UID = fmt.Sprintf("%d@vellimere.example", i)
			e.Zone, e.Start, e.End = zone, start, start+8*60
			events = append(events, e)
		}
		text, err := Feed(zone, time.Hour, events)
		if err != nil {
			t.Fatal(err)
		}
		o := meant(publish, events...)
		o.Name, o.Refresh = zone, 3600
		o.Properties = strings.Fields("METHOD NAME PRODID REFRESH-INTERVAL VERSION")
		texts, want = append(texts, text), append(want, o)
	}
	if changes < 40 {
		t.Errorf("looked at %d changes of clock, want at least 40", changes)
	}
	read := readers(t, texts...)
	for _, reader := range []string{"go-ical", "ical.js"} {
		for i := range want {
			got := read[reader][i]
			if len(got.Events) != len(want[i].Events) {
				t.Fatalf("%s finds %d events in %s, want %d", reader, len(got.Events), zones[i], len(want[i].Events))
			}
			for j, w := range want[i].Events {
				if g := got.Events[j]; g.Start != w.Start || g.End != w.End {
					t.Errorf("%s, %s: %v to %v, want %v to %v (UTC)", zones[i], reader, time.Unix(g.Start, 0).UTC(), time.Unix(g.End, 0).UTC(),
						time.Unix(w.Start, 0).UTC(), time.Unix(w.End, 0).UTC())
				}
			}
		}
	}
}

// TestInstant compares with package calendar, which reads the same clocks in another
// way, as far as the tables of zones reach.
func TestInstant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		m := calendar.NewDate(2000, 1, 1).At(0) + calendar.Moment(rapid.Int64Range(0, 35*365*1440).Draw(t, "minutes"))
		if got, want := instant(m, loc).Unix(), byGrid(zone, m); got != want {
			t.Fatalf("%v in %s is %v, want %v", m, zone, time.Unix(got, 0).UTC(), time.Unix(want, 0).UTC())
		}
	})
}

// A zone is written for the years that events touch, and no other.
func TestZone_Years(t *testing.T) {
	a, b := sample(), sample()
	b.UID = "b@vellimere.example"
	b.Start, b.End = at("2029-12-31T22:00"), at("2030-01-01T06:00")
	text, err := Feed("f", time.Hour, []Event{a, b})
	if err != nil {
		t.Fatal(err)
	}
	// From November before 2027 to November 2030: one change and two for each year.
	if got := bytes.Count(text, []byte("TZOFFSETTO")); got != 1+2*4 {
		t.Errorf("%d changes of clock, want 9\n%s", got, text)
	}
	for _, year := range []string{"20261101", "20301103"} {
		if !bytes.Contains(text, []byte("DTSTART:"+year+"T020000\r\n")) {
			t.Errorf("the change of %s is not there\n%s", year, text)
		}
	}
}
