package ical

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"wetdown/calendar"
)

// States of an event, by RFC 5545 3.8.1.11.
const (
	Tentative = "TENTATIVE"
	Confirmed = "CONFIRMED"
	Cancelled = "CANCELLED"
)

// An Event is one entry of a calendar: one revision of it.
type Event struct {
	UID          string          // for life, in every revision; printable ASCII without comma, semicolon and backslash
	Sequence     int             // number of the revision, from 0; see Next
	Status       string          // Tentative, Confirmed or Cancelled
	Zone         string          // IANA zone of Start and End, such as America/Chicago
	Start        calendar.Moment // by the clock of Zone
	End          calendar.Moment // exclusive; both NoMoment in a cancellation that knows no hours
	Summary      string
	Location     string
	Description  string
	URL          string // http or https; "" for none
	Organizer    Person
	Attendees    []Person
	Stamp        time.Time // when this revision was written; see Next
	LastModified time.Time // when what it says last changed; zero: not said
}

// A Person is somebody who organises or attends.
type Person struct {
	Name string // for people; "" for none
	Mail string // address: local part, @, domain
}

// Next returns fresh as the revision of the same event that follows old: with
// old's UID, and a Sequence that is raised by one where RFC 5546 asks for it. That
// is when start, end or zone change and when the status changes (2.1.4), a
// cancellation (3.2.5) among these. Other edits keep the Sequence; receivers then
// take the later Stamp (2.1.5). So where fresh's Stamp is not at least a second
// later than old's, which is what the format can tell apart, it becomes a second
// later.
//
// A cancellation without hours takes those of old.
func Next(old, fresh Event) Event {
	fresh.UID = old.UID
	if fresh.Status == Cancelled && fresh.Start == calendar.NoMoment {
		fresh.Zone, fresh.Start, fresh.End = old.Zone, old.Start, old.End
	}
	fresh.Sequence = old.Sequence
	if fresh.Start != old.Start || fresh.End != old.End || fresh.Zone != old.Zone || fresh.Status != old.Status {
		fresh.Sequence++
	}
	if after := old.Stamp.Truncate(time.Second).Add(time.Second); fresh.Stamp.Before(after) {
		fresh.Stamp = after
	}
	return fresh
}

// check says what of the event cannot be written, by whichever method.
func (e *Event) check() error {
	if e.UID == "" || strings.ContainsFunc(e.UID, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune(`\,;`, r) }) {
		return fmt.Errorf("event %.80q: its UID is empty or has characters beside printable ASCII: take the one that Visit gives", e.UID)
	}
	if err := e.checkFields(); err != nil {
		return fmt.Errorf("event %s: %w", e.UID, err)
	}
	return nil
}

func (e *Event) checkFields() error {
	if e.Sequence < 0 {
		return fmt.Errorf("its revision is %d: count from 0", e.Sequence)
	}
	switch e.Status {
	case Tentative, Confirmed, Cancelled:
	default:
		return fmt.Errorf("its status is %.40q: write %s, %s or %s", e.Status, Tentative, Confirmed, Cancelled)
	}
	if e.Stamp.IsZero() {
		return fmt.Errorf("it has no stamp: hand in the time at which it is written")
	}
	if !e.timeless() {
		if err := e.checkHours(); err != nil {
			return err
		}
	}
	if e.URL != "" && !link(e.URL) {
		return fmt.Errorf("%.80q is no link: write http:// or https:// and printable ASCII without spaces, quotes and brackets", e.URL)
	}
	if err := e.Organizer.check(); err != nil {
		return fmt.Errorf("organizer: %w", err)
	}
	for i, a := range e.Attendees {
		if err := a.check(); err != nil {
			return fmt.Errorf("attendee %d: %w", i+1, err)
		}
	}
	return nil
}

// timeless reports whether the event is a cancellation without hours.
func (e *Event) timeless() bool {
	return e.Status == Cancelled && e.Start == calendar.NoMoment && e.End == calendar.NoMoment
}

// checkHours looks at zone, start and end.
func (e *Event) checkHours() error {
	loc, err := place(e.Zone)
	if err != nil {
		return err
	}
	for _, m := range []calendar.Moment{e.Start, e.End} {
		if m == calendar.NoMoment {
			return fmt.Errorf("it has no start or no end: give both")
		}
		if y, _, _ := m.Date().YMD(); y < 1900 || y > 9998 {
			return fmt.Errorf("it is in the year %d: give years from 1900 to 9998", y)
		}
	}
	if !instant(e.Start, loc).Before(instant(e.End, loc)) {
		return fmt.Errorf("it ends at %v and starts at %v: let it end later", e.End, e.Start)
	}
	return nil
}

// check looks whether the address is one, and one only.
func (p *Person) check() error {
	local, domain, _ := strings.Cut(p.Mail, "@")
	if local == "" || domain == "" || !utf8.ValidString(p.Mail) ||
		strings.ContainsFunc(p.Mail, func(r rune) bool { return r <= ' ' || r == 0x7f || strings.ContainsRune("\"<>()[],;:\\", r) }) ||
		strings.Contains(domain, "@") || p.Mail != clean(p.Mail) {
		return fmt.Errorf("%.80q is no mail address: write one address such as chief@example.org", p.Mail)
	}
	return nil
}

// link reports whether s is a link that can be written as it is.
func link(s string) bool {
	return (strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "http://")) &&
		!strings.ContainsFunc(s, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("\"<>\\^`{|}", r) })
}
