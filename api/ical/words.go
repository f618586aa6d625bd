package ical

import (
	"fmt"
	"strings"

	"wetdown/calendar"
)

// A page is text for people, line by line.
type page struct{ b strings.Builder }

func (t *page) say(format string, args ...any) { fmt.Fprintf(&t.b, format+"\n", args...) }
func (t *page) gap()                           { t.b.WriteByte('\n') }

// String is the page without the end of its last line.
func (t *page) String() string { return strings.TrimSuffix(t.b.String(), "\n") }

// onDay writes a day with its weekday: Wed 2027-03-10.
func onDay(d calendar.Date) string { return d.Weekday().String()[:3] + " " + d.String() }

// span writes from when to when, the day once if it is one.
func span(from, to calendar.Moment) string {
	if from.Date() == to.Date() {
		return fmt.Sprintf("%s from %v to %v", onDay(from.Date()), from.Clock(), to.Clock())
	}
	return fmt.Sprintf("from %s %v to %s %v", onDay(from.Date()), from.Clock(), onDay(to.Date()), to.Clock())
}

// people writes the size of a delegation.
func people(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

// heads writes a number of people of a crew.
func heads(n int) string {
	if n == 1 {
		return "1 head"
	}
	return fmt.Sprintf("%d heads", n)
}

// spoken writes a word of a plant file for people: final inspection.
func spoken(word string) string {
	if one, two, _ := strings.Cut(word, "_"); one == "pre" || one == "re" {
		return one + "-" + two
	}
	return strings.ReplaceAll(word, "_", " ")
}

// capital begins a sentence.
func capital(s string) string {
	if s != "" && 'a' <= s[0] && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// joined writes the parts that are there with commas between them.
func joined(parts ...string) string {
	var there []string
	for _, p := range parts {
		if p != "" {
			there = append(there, p)
		}
	}
	return strings.Join(there, ", ")
}
