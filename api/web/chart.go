package web

import (
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A chart is the way of a truck on a time line; measures are in the units of its SVG.
type chart struct {
	Width, Height int
	Days          []mark
	Bars          []bar
	Lines         []mark
}

type mark struct {
	X, W int
	Y    int // of its text, in a curve
	Text string
	Rest bool
	Kind string
	Left bool // its text ends there
}

type bar struct {
	X, Y, W int
	Kind    string // done, runs, planned, visit
	Text    string
	TextX   int
	Left    bool // the text ends at TextX
}

const (
	rowHeight  = 24
	chartHead  = 40
	chartWidth = 940 // of the drawing, if its days are not too narrow for that
	narrowest  = 5   // units of a day
	weekText   = 45  // units that the name of a week takes
	mostDays   = 400
)

// A span is what is drawn as one bar, in a row of its own: [Start, End).
type span struct {
	Start, End calendar.Moment
	Kind, Text string
}

// A milestone is a day that is drawn across all rows.
type milestone struct {
	day        calendar.Date
	text, kind string
}

// draw draws spans on the days of a plant, from its now on or from the first span if that
// is earlier; nil when there is nothing to draw. Milestones that lie more than 60 days
// after the last span are left out.
func (v *view) draw(p *plant.Plant, spans []span, lines []milestone) *chart {
	if len(spans) == 0 {
		return nil
	}
	first, last := p.AsOf.Date(), calendar.None
	for _, s := range spans {
		first = min(first, s.Start.Date())
		last = max(last, (s.End - 1).Date())
	}
	lines = append([]milestone{{p.AsOf.Date(), "now", "now"}}, lines...)
	for _, l := range lines {
		if l.day <= last+60 {
			last = max(last, l.day)
		}
	}
	first--
	last = min(last+1, first+mostDays)
	n := int(last-first) + 1
	each := max(narrowest, chartWidth/n)
	weeks := (weekText + 7*each - 1) / (7 * each) // of which the first is named
	c := &chart{Width: each * n, Height: chartHead + rowHeight*len(spans) + 6}
	x := func(m calendar.Moment) int {
		return int(m.Date()-first)*each + int(m.Clock())*each/(24*60)
	}
	g, err := p.Grid(first, last)
	if err != nil {
		return nil
	}
	h, err := p.Hours(p.Calendar, g)
	if err != nil {
		return nil
	}
	for day := first; day <= last; day++ {
		k := mark{X: int(day-first) * each, W: each, Rest: !h.WorksDay(day)}
		if day.Weekday() == 1 && int(day-first)/7%weeks == 0 {
			k.Text = v.Style.Short(day)
		}
		c.Days = append(c.Days, k)
	}
	for i, s := range spans {
		b := bar{X: x(s.Start), Y: chartHead + i*rowHeight, Kind: s.Kind, Text: s.Text}
		b.W = max(4, x(s.End)-b.X)
		b.TextX = b.X + b.W + 6
		if b.TextX > c.Width*3/4 {
			b.TextX, b.Left = b.X-6, true
		}
		c.Bars = append(c.Bars, b)
	}
	for _, l := range lines {
		if first <= l.day && l.day <= last {
			k := mark{X: x(l.day.At(12 * 60)), Text: l.text, Kind: l.kind}
			if l.kind == "now" {
				k.X = x(p.AsOf)
			}
			k.Left = k.X > c.Width*9/10
			c.Lines = append(c.Lines, k)
		}
	}
	return c
}
