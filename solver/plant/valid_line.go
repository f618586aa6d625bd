package plant

import (
	"fmt"

	"wetdown/calendar"
)

// line looks at the line and at every truck's place on it.
func (q *inquiry) line() {
	type week struct {
		from    calendar.Date
		content string
	}
	first := map[week]int{}
	for i, s := range q.p.Line.FreeSlots {
		w := week{s.Week, s.Content}
		if j, again := first[w]; again {
			q.find(wrong{
				fmt.Sprintf("the week of %v has free slots for %s work content twice: in %s as well", s.Week, s.Content, ordinal(j)),
				"each week and work content once", "add them up in one of them",
			}, key("line"), key("free_slots"), nth(i, s.Week.String()))
			continue
		}
		first[w] = i
	}
	for i := range q.p.Trucks {
		q.place(i)
	}
}

// place looks whether a truck is in exactly one place.
func (q *inquiry) place(i int) {
	t := &q.p.Trucks[i]
	l := &t.Line
	at := place{key("trucks"), nth(i, t.ID), key("line")}
	now := q.p.AsOf.Date()
	const one = "one of station, line_off and enters"
	isOff, isOn, isToCome := l.Off != calendar.None, l.Station != "", l.Enters != calendar.None
	switch {
	case isOff && isOn:
		q.find(wrong{fmt.Sprintf("%s stands at the station %s and came off the line on %v", t.ID, l.Station, l.Off), one, "take one of the two away"}, at...)
	case isOff && isToCome:
		q.find(wrong{fmt.Sprintf("%s came off the line on %v and is still to enter it on %v", t.ID, l.Off, l.Enters), one, "take one of the two away"}, at...)
	case isOn && isToCome:
		q.find(wrong{fmt.Sprintf("%s stands at the station %s and is still to enter the line on %v", t.ID, l.Station, l.Enters), one, "take one of the two away"}, at...)
	case !isOff && !isOn && !isToCome:
		q.find(wrong{t.ID + " is neither off the line, nor on it, nor due to enter it", one, "write line_off with the day it came off, station and since, or enters"}, at...)
	case isOff && now != calendar.None && l.Off > now:
		q.find(wrong{
			fmt.Sprintf("%s came off the line on %v, which is after as_of", t.ID, l.Off), "a day up to " + now.String(),
			"write where it stands now, and the day expected as an override",
		}, at.key("line_off")...)
	case !isOff && len(q.p.Line.Stations) == 0:
		q.findIf(setPlaces[aStation], wrong{t.ID + " is not off the line, but the line has no stations", "", "list the stations under line, or write the day it came off"}, at...)
	case isOn && l.Since == calendar.None:
		q.find(wrong{fmt.Sprintf("%s stands at the station %s since no day", t.ID, l.Station), "a day up to as_of", "write since with the day on which it entered"}, at.key("since")...)
	case isOn && now != calendar.None && l.Since > now:
		q.find(wrong{fmt.Sprintf("%s entered the station %s on %v, which is after as_of", t.ID, l.Station, l.Since), "a day up to " + now.String(), "correct the day, or write the station at which it stands now"}, at.key("since")...)
	case !isOn && l.Since != calendar.None:
		q.find(wrong{t.ID + " stands somewhere since " + l.Since.String() + ", but at no station", "since together with station", "write the station, or take since away"}, at.key("since")...)
	}
	for j, o := range l.Overrides {
		if now != calendar.None && o.On != calendar.None && o.On > now {
			q.find(wrong{fmt.Sprintf("%v, on which the line-off day was stated, is after as_of", o.On), "a day up to " + now.String(), "correct the day"},
				at.with(key("overrides"), nth(j, o.On.String()), key("said"))...)
		}
	}
}

// onLine reports whether the truck has not come off the line.
func (t *Truck) onLine() bool { return t.Line.Off == calendar.None }
