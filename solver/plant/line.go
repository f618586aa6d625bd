package plant

import (
	"errors"
	"fmt"

	"wetdown/calendar"
)

// A Line is what comes before line-off, kept coarse.
type Line struct {
	Calendar  string
	Stations  []Station
	FreeSlots []FreeSlot // places on the line for orders not started
}

// A Station is passed by every truck in order. Trucks of the same lane keep a
// takt apart.
type Station struct {
	ID    string
	Name  string
	Takt  Takt
	Lanes bool // light, medium and heavy take separate lanes here
}

// Takt is the working minutes a truck spends at a station, by work content.
type Takt struct {
	LightMinutes, MediumMinutes, HeavyMinutes int
}

// A FreeSlot is a number of trucks of one work content that may enter the line
// in the week that begins on Week.
type FreeSlot struct {
	Week    calendar.Date
	Content string
	Count   int
}

// ErrNoSlot is returned for an order that finds no place on the line.
var ErrNoSlot = errors.New("the line has no free slot")

// Slot is the free slot that a would-be order takes, by index, and the day on which it enters the line: the
// day that the order names, in the slot of its week, or today or the first day after it in
// the first week that has room for its content. A week that is not listed is nobody's, and
// its index is -1, as is that of a truck which is on the line or past it. ErrNoSlot if the
// week that is named is full, or none has room.
func (p *Plant) Slot(t *Truck) (slot int, enters calendar.Date, err error) {
	l := &t.Line
	if l.Off != calendar.None || l.Station != "" {
		return -1, l.Enters, nil
	}
	next := -1
	for i, s := range p.Line.FreeSlots {
		if s.Content == t.Content && s.Count > 0 && s.Week.AddDays(6) >= p.AsOf.Date() && (next < 0 || s.Week < p.Line.FreeSlots[next].Week) {
			next = i
		}
	}
	if l.Enters != calendar.None && l.Enters != 0 {
		for i, s := range p.Line.FreeSlots {
			if s.Content != t.Content || l.Enters < s.Week || l.Enters > s.Week.AddDays(6) {
				continue
			}
			switch {
			case s.Count > 0:
				return i, l.Enters, nil
			case next < 0:
				return 0, 0, fmt.Errorf("%w for a %s truck in the week of %s, nor in any other that is listed: list one under line", ErrNoSlot, t.Content, s.Week)
			}
			return 0, 0, fmt.Errorf("%w for a %s truck in the week of %s: the first week with one is that of %s", ErrNoSlot, t.Content, s.Week, p.Line.FreeSlots[next].Week)
		}
		return -1, l.Enters, nil
	}
	if next < 0 {
		return 0, 0, fmt.Errorf("%w for a %s truck: list one under line, or say on which day the order enters", ErrNoSlot, t.Content)
	}
	return next, max(p.Line.FreeSlots[next].Week, p.AsOf.Date()), nil
}
