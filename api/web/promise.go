package web

import (
	"cmp"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A promise is what was said of one day of a truck over time: of its line-off, a visit, or
// its delivery.
type promise struct {
	Name                string
	First, Last, Actual calendar.Date // calendar.None for none
	FirstSaid, LastSaid calendar.Date // when; calendar.None where nobody knows
	Contract            calendar.Date // the day that is owed, calendar.None for none
	Moved               int           // how often another day was said
	days                []calendar.Date
}

// Now is the day that holds: the one on which it came, or the latest that was said.
func (p promise) Now() calendar.Date {
	if p.Actual != calendar.None {
		return p.Actual
	}
	return p.Last
}

// Drift is how far that is from what was said first.
func (p promise) Drift() string {
	if p.First == calendar.None || p.Now() == calendar.None {
		return ""
	}
	if p.First == p.Now() {
		return "as said first"
	}
	return api.Apart(p.First, p.Now())
}

// Late is how far it is from the contract.
func (p promise) Late() string {
	if p.Contract == calendar.None || p.Now() == calendar.None {
		return ""
	}
	if p.Contract == p.Now() {
		return "on its day"
	}
	return strings.Replace(strings.Replace(api.Apart(p.Contract, p.Now()), " later", " after it", 1), " earlier", " before it", 1)
}

// say adds a day that was said, unless it is the one before.
func (p *promise) say(day, said calendar.Date) {
	switch {
	case day == calendar.None || day == p.Last:
		return
	case p.First == calendar.None:
		p.First, p.FirstSaid = day, said
	default:
		p.Moved++
	}
	p.Last, p.LastSaid = day, said
	p.days = append(p.days, day)
}

func newPromise(name string) *promise {
	none := calendar.None
	return &promise{Name: name, First: none, Last: none, Actual: none, FirstSaid: none, LastSaid: none, Contract: none}
}

// promisesOf puts what was said of the days of a truck together. A visit is told by the
// days that were agreed with its customer, and by those of the plan where none was.
func (v *view) promisesOf(d *truckData, told []sheet.Past) (list []*promise) {
	at := map[string]*promise{}
	of := func(event, name string) *promise {
		p := at[event]
		if p == nil {
			p = newPromise(name)
			at[event] = p
			list = append(list, p)
		}
		return p
	}
	line := of(sheet.EventLineOff, "Line-off")
	agreed := map[string]bool{}
	for _, r := range d.Rows {
		if x := r.Visit; x.Booking.State != plant.Cancelled {
			p := of(x.Kind, "Visit "+x.ID)
			for _, q := range d.Days {
				if q.About == "Visit "+x.ID && q.Day != calendar.None {
					p.say(q.Day, q.On)
					agreed[x.Kind] = true
				}
			}
			if x.Booking.State == plant.Held {
				p.Actual = x.Booking.Day
			}
		}
	}
	delivery := of(sheet.EventDelivery, "Delivery")
	delivery.Contract = d.Truck.Contract.Due
	slices.SortStableFunc(told, func(x, y sheet.Past) int { return cmp.Compare(x.Said, y.Said) })
	for _, h := range told {
		p := at[h.Event]
		if p == nil {
			continue // of a visit that is cancelled
		}
		if !agreed[h.Event] {
			p.say(h.Projected, h.Said)
		}
		if h.Actual != calendar.None {
			p.Actual = h.Actual
		}
	}
	if len(line.days) == 0 {
		for _, o := range d.Truck.Line.Overrides {
			line.say(o.Off, o.On)
		}
	}
	if d.Truck.Line.Off != calendar.None {
		line.Actual = d.Truck.Line.Off
	} else {
		line.say(d.LineOff, v.State.Plant.AsOf.Date())
	}
	if d.Delivery != nil {
		delivery.say(d.Delivery.Day, v.State.Plant.AsOf.Date())
	}
	return slices.DeleteFunc(list, func(p *promise) bool { return p.First == calendar.None && p.Actual == calendar.None })
}

// drifts is the drawing of promises: a row for each, days across.
type drifts struct {
	Width, Height int
	Weeks         []mark
	Rows          []drift
}

// A drift is the row of one promise.
type drift struct {
	Name               string
	Y, TextY           int
	From, To           int   // the line from the earliest day to the latest
	Between            []int // days that were said in between
	First, Last        int
	Actual, Contract   int
	HasFirst, HasLast  bool
	HasActual, HasOwed bool
	Says               string
}

const (
	driftGutter = 130 // room for names
	driftDays   = 560 // units for the days
	driftSays   = 190 // room for what is said of a row
	driftRow    = 40
)

// drawPromises draws promises by the calendar; nil for none.
func (v *view) drawPromises(list []*promise) *drifts {
	first, last := calendar.None, calendar.None
	for _, p := range list {
		for _, day := range append(slices.Clone(p.days), p.Actual, p.Contract) {
			if day != calendar.None {
				if first == calendar.None || day < first {
					first = day
				}
				if last == calendar.None || day > last {
					last = day
				}
			}
		}
	}
	if first == calendar.None {
		return nil
	}
	first, last = first-2, last+3
	n := int(last - first)
	x := func(day calendar.Date) int { return driftGutter + int(day-first)*driftDays/n }
	c := &drifts{Width: driftGutter + driftDays + driftSays, Height: 30 + driftRow*len(list)}
	step := calendar.Date(7 * ((n/7 + 8) / 8))
	for day := first + (8-calendar.Date(first.Weekday()))%7; day < last-3; day += max(step, 7) {
		c.Weeks = append(c.Weeks, mark{X: x(day), Text: v.Style.Short(day)})
	}
	for i, p := range list {
		y := 30 + driftRow*i + driftRow/2
		r := drift{Name: p.Name, Y: y, TextY: y + 5, Says: p.Drift()}
		all := append(slices.Clone(p.days), p.Actual)
		all = slices.DeleteFunc(all, func(d calendar.Date) bool { return d == calendar.None })
		r.From, r.To = x(slices.Min(all)), x(slices.Max(all))
		for _, day := range p.days[min(1, len(p.days)):max(min(1, len(p.days)), len(p.days)-1)] {
			r.Between = append(r.Between, x(day))
		}
		if r.HasFirst = p.First != calendar.None; r.HasFirst {
			r.First = x(p.First)
			r.Last, r.HasLast = x(p.Last), p.Moved > 0
		}
		if r.HasActual = p.Actual != calendar.None; r.HasActual {
			r.Actual = x(p.Actual)
		}
		if r.HasOwed = p.Contract != calendar.None; r.HasOwed {
			r.Contract = x(p.Contract)
		}
		c.Rows = append(c.Rows, r)
	}
	return c
}
