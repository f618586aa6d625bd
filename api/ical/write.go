package ical

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// product is who writes (RFC 5545 3.7.3).
const product = "-//Wetdown//Wetdown//EN"

// Methods of RFC 5546.
const (
	publish = "PUBLISH"
	request = "REQUEST"
	cancel  = "CANCEL"
)

// Request writes the invitation to an event, or a later revision of it: METHOD
// REQUEST (RFC 5546 3.2.2). Every revision asks all attendees for an answer anew,
// since nothing here knows what they answered before. It refuses a cancelled event
// and one without attendees.
func Request(e Event) ([]byte, error) {
	switch {
	case e.Status == Cancelled:
		return nil, fmt.Errorf("event %.80q is cancelled: write it with Cancel", e.UID)
	case len(e.Attendees) == 0:
		return nil, fmt.Errorf("event %.80q has no attendees to invite: add their mail addresses", e.UID)
	}
	return write(request, nil, []Event{e})
}

// Cancel writes the notice to all attendees that the event does not take place:
// METHOD CANCEL (RFC 5546 3.2.5). The event must be cancelled, and a later
// revision of the one that was sent: see Next.
func Cancel(e Event) ([]byte, error) {
	switch {
	case e.Status != Cancelled:
		return nil, fmt.Errorf("event %.80q is not cancelled: write it with Request", e.UID)
	case e.Sequence < 1:
		return nil, fmt.Errorf("event %.80q is cancelled as its first revision: take the one that was sent and let Next make this its successor", e.UID)
	case len(e.Attendees) == 0:
		return nil, fmt.Errorf("event %.80q has no attendees to tell: add their mail addresses", e.UID)
	}
	return write(cancel, nil, []Event{e})
}

// Feed writes the events as a calendar to subscribe to: METHOD PUBLISH (RFC 5546
// 3.2.1), with a name and the time after which a reader should look again, in
// whole minutes (RFC 7986 5.1, 5.7). Attendees are left out, as that method asks.
// Events are written in the order given; no two share a UID.
//
// A calendar has at least one component, and PUBLISH at least one event: without
// events, the zone UTC is written as the one component, and no method.
func Feed(name string, refresh time.Duration, events []Event) ([]byte, error) {
	if refresh < time.Minute || refresh%time.Minute != 0 {
		return nil, fmt.Errorf("feed %.80q: a reader cannot look again every %v: give whole minutes, at least one", name, refresh)
	}
	var uids []string
	for _, e := range events {
		if e.timeless() {
			return nil, fmt.Errorf("event %.80q is cancelled and has no hours: leave it out of the feed", e.UID)
		}
		uids = append(uids, e.UID)
	}
	slices.Sort(uids)
	for i := 1; i < len(uids); i++ {
		if uids[i] == uids[i-1] {
			return nil, fmt.Errorf("feed %.80q: event %.80q is in it twice: give its newest revision only", name, uids[i])
		}
	}
	method := publish
	if len(events) == 0 {
		method = ""
	}
	return write(method, func(l *lines) {
		l.text("NAME", name)
		l.put("REFRESH-INTERVAL;VALUE=DURATION", "PT"+strconv.FormatInt(int64(refresh/time.Minute), 10)+"M")
	}, events)
}

// write writes a calendar of events, sent by a method ("" for none), with further
// properties of the calendar.
func write(method string, properties func(*lines), events []Event) ([]byte, error) {
	var zones []years
	for i := range events {
		if err := events[i].check(); err != nil {
			return nil, err
		}
		zones = touch(zones, &events[i])
	}
	if len(events) == 0 {
		zones = []years{{zone: "UTC", first: 1970, last: 1970}}
	}
	l := &lines{}
	l.put("BEGIN", "VCALENDAR")
	l.put("VERSION", "2.0")
	l.put("PRODID", product)
	if method != "" {
		l.put("METHOD", method)
	}
	if properties != nil {
		properties(l)
	}
	slices.SortFunc(zones, func(a, b years) int { return strings.Compare(a.zone, b.zone) })
	for _, z := range zones {
		loc, err := place(z.zone)
		if err != nil {
			return nil, err
		}
		l.timezone(loc, z.first, z.last)
	}
	for i := range events {
		if err := l.event(method, &events[i]); err != nil {
			return nil, err
		}
	}
	l.put("END", "VCALENDAR")
	return l.b, nil
}

// years are those of a zone, first and last, that events touch.
type years struct {
	zone        string
	first, last int
}

// touch widens the years of the event's zone.
func touch(zones []years, e *Event) []years {
	if e.timeless() {
		return zones
	}
	first, _, _ := e.Start.Date().YMD()
	last, _, _ := e.End.Date().YMD()
	i := slices.IndexFunc(zones, func(z years) bool { return z.zone == e.Zone })
	if i < 0 {
		return append(zones, years{e.Zone, first, last})
	}
	zones[i].first, zones[i].last = min(zones[i].first, first), max(zones[i].last, last)
	return zones
}

// event writes the event as the method asks.
func (l *lines) event(method string, e *Event) error {
	l.put("BEGIN", "VEVENT")
	l.put("UID", e.UID)
	l.put("SEQUENCE", strconv.Itoa(e.Sequence))
	l.put("STATUS", e.Status)
	l.utc("DTSTAMP", e.Stamp)
	l.utc("LAST-MODIFIED", e.LastModified)
	if !e.timeless() {
		loc, err := place(e.Zone)
		if err != nil {
			return err
		}
		l.when("DTSTART", e.Start, loc)
		l.when("DTEND", e.End, loc)
	}
	l.put("SUMMARY", escape(e.Summary)) // must be there, if empty: RFC 5546 3.2.2
	l.text("LOCATION", e.Location)
	l.text("DESCRIPTION", e.Description)
	if e.URL != "" {
		l.put("URL", e.URL)
	}
	l.person("ORGANIZER", e.Organizer, "")
	for _, a := range e.Attendees {
		switch method {
		case request:
			l.person("ATTENDEE", a, ";ROLE=REQ-PARTICIPANT;PARTSTAT=NEEDS-ACTION;RSVP=TRUE")
		case cancel:
			l.person("ATTENDEE", a, "")
		}
	}
	l.put("END", "VEVENT")
	return nil
}
