package ical

import (
	"fmt"
	"time"

	"wetdown/calendar"
)

// local is how a clock time is written.
const local = "20060102T150405"

// place returns the zone of that name.
func place(zone string) (*time.Location, error) {
	if zone != "" && zone != "Local" {
		if loc, err := time.LoadLocation(zone); err == nil {
			return loc, nil
		}
	}
	return nil, fmt.Errorf("zone %.80q is not known: write an IANA zone such as America/Chicago", zone)
}

// instant returns what a moment means in a zone, as calendar.Grid reads it: the
// first pass of a clock time that occurs twice, and the instant of the change for
// one that never occurs.
func instant(m calendar.Moment, loc *time.Location) time.Time {
	clock := int64(m) * 60
	for t := time.Unix(clock, 0).Add(-36 * time.Hour).In(loc); ; {
		_, offset := t.Zone()
		change := calendar.NextChange(t)
		u := time.Unix(clock-int64(offset), 0).In(loc)
		if u.Before(t) { // the clock was put forward over it at t
			return t
		}
		if change.IsZero() || u.Before(change) {
			return u
		}
		t = change
	}
}

// twice reports whether the clock of t's zone shows the time of t again later,
// after it was put back.
func twice(t time.Time) bool {
	change := calendar.NextChange(t)
	if change.IsZero() {
		return false
	}
	_, before := t.Zone()
	_, after := change.Zone()
	return !t.Before(change.Add(time.Duration(after-before) * time.Second))
}

// when writes a property whose value is a moment in a zone. A clock time that
// occurs twice is written in UTC: RFC 5545 3.3.5 has it mean the first pass, but
// not every reader does.
func (l *lines) when(property string, m calendar.Moment, loc *time.Location) {
	t := instant(m, loc)
	if twice(t) {
		l.utc(property, t)
		return
	}
	l.put(property+";TZID="+loc.String(), t.Format(local))
}

// timezone writes the zone with its changes of clock (RFC 5545 3.6.5) from that
// which holds when the year first begins to the last in the year last.
func (l *lines) timezone(loc *time.Location, first, last int) {
	// Clocks differ from UTC by a day at the most: no year is cut short.
	from := time.Date(first, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, -1).In(loc)
	until := time.Date(last+1, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, 1)
	l.put("BEGIN", "VTIMEZONE")
	l.put("TZID", loc.String())
	start, _ := from.ZoneBounds()
	for t := from; ; {
		l.observance(t, start)
		change := calendar.NextChange(t)
		if change.IsZero() || change.After(until) {
			break
		}
		t, start = change, change
	}
	l.put("END", "VTIMEZONE")
}

// observance writes the offset that holds at t, from start on; a zero start means
// since ever.
func (l *lines) observance(t, start time.Time) {
	kind := "STANDARD"
	if t.IsDST() {
		kind = "DAYLIGHT"
	}
	name, to := t.Zone()
	before, begin := to, "19000101T000000"
	if !start.IsZero() {
		_, before = start.Add(-time.Second).Zone()
		begin = start.UTC().Add(time.Duration(before) * time.Second).Format(local) // by the clock before the change
	}
	l.put("BEGIN", kind)
	l.put("DTSTART", begin)
	l.put("TZOFFSETFROM", offset(before))
	l.put("TZOFFSETTO", offset(to))
	l.text("TZNAME", name)
	l.put("END", kind)
}

// offset writes seconds east of UTC (RFC 5545 3.3.14).
func offset(seconds int) string {
	sign := "+"
	if seconds < 0 {
		sign, seconds = "-", -seconds
	}
	s := fmt.Sprintf("%s%02d%02d", sign, seconds/3600, seconds/60%60)
	if seconds%60 != 0 {
		s += fmt.Sprintf("%02d", seconds%60)
	}
	return s
}
