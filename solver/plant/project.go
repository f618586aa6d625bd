package plant

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/calendar"
)

// A Projection tells from where every truck stands now on which days it will
// stand at the stations of the line and when it comes off.
//
// Trucks are placed one after the other: those further along the line first,
// then those that entered their station earlier, then those still to enter by
// the day they are due; equal ones in the order of their numbers. A truck takes
// a station as soon as the station before is done with it, every feeder of the
// station is there, and its lane has a takt of room between the trucks already
// placed: one that waits for a feeder lets others pass, and never holds up one
// that was placed before it. Takts are working minutes of the line's calendar.
// A truck that should have left its station before now leaves it now.
//
// The newest dated override of a truck states its line-off day, whatever the
// line says (but not a day before now); the days at the stations ahead of it
// shift by as many working days. An override moves no other truck.
type Projection struct {
	plant *Plant
	hours *calendar.Hours
	begin calendar.Moment
	lanes map[lane][]span // taken, in order and apart
	off   map[string]calendar.Date
	stays map[stay]Range
}

// A lane is one place at a station: of one work content, or of all with "".
type lane struct {
	station int
	content string
}

// A span is a run of working minutes of the line, counted from the first day of
// its grid; half-open.
type span struct{ from, to int }

// A stay names a truck at a station.
type stay struct{ truck, station string }

// projectDays is how far past the horizon the line is projected: orders not
// started enter it long after.
const projectDays = 3 * 366

// Project projects all trucks. It fails on a calendar that does not exist or
// does not work, and on a truck that is nowhere.
func (p *Plant) Project() (*Projection, error) {
	from := p.AsOf.Date()
	for _, t := range p.Trucks {
		if t.Line.Station != "" && t.Line.Since != calendar.None {
			from = min(from, t.Line.Since)
		}
	}
	g, err := calendar.NewGrid(p.Zone, from-7, max(p.Horizon.Through, p.AsOf.Date())+projectDays, nil)
	if err != nil {
		return nil, err
	}
	h, err := p.Hours(p.Line.Calendar, g)
	if err != nil {
		return nil, fmt.Errorf("the line: %w", err)
	}
	j := &Projection{
		plant: p,
		hours: h,
		begin: g.From().At(0),
		lanes: map[lane][]span{},
		off:   map[string]calendar.Date{},
		stays: map[stay]Range{},
	}
	for _, t := range p.queue() {
		if err := j.place(t); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// LineOff returns the day on which the truck comes off the line: the day it came
// off, or the projected one. It is calendar.None for a truck that the projection
// does not know.
func (j *Projection) LineOff(truck string) calendar.Date {
	if d, ok := j.off[truck]; ok {
		return d
	}
	return calendar.None
}

// Stay returns the days, both inclusive, on which the truck stands at the
// station; false when it has left it, or is off the line.
func (j *Projection) Stay(truck, station string) (Range, bool) {
	r, ok := j.stays[stay{truck, station}]
	return r, ok
}

// Enter returns the line-off day of a would-be order of a work content that
// enters the line on or after a day. It takes what room the known trucks leave
// and stays out of the projection itself.
func (j *Projection) Enter(content string, day calendar.Date) (calendar.Date, error) {
	order := &Truck{ID: "the order", Content: content, Line: Place{Enters: day, Off: calendar.None, Since: calendar.None}}
	spans, err := j.run(order)
	if err != nil {
		return calendar.None, err
	}
	return j.lastDay(order, spans[len(spans)-1])
}

// queue returns the trucks in the order in which they are placed.
func (p *Plant) queue() []*Truck {
	list := make([]*Truck, len(p.Trucks))
	for i := range p.Trucks {
		list[i] = &p.Trucks[i]
	}
	slices.SortStableFunc(list, func(a, b *Truck) int {
		return cmp.Or(
			cmp.Compare(p.station(b), p.station(a)),
			cmp.Compare(max(a.Line.Since, a.Line.Enters), max(b.Line.Since, b.Line.Enters)),
			cmp.Compare(a.ID, b.ID),
		)
	})
	return list
}

// station returns the index of the station at which the truck stands, -1 for
// none.
func (p *Plant) station(t *Truck) int {
	return slices.IndexFunc(p.Line.Stations, func(s Station) bool { return s.ID == t.Line.Station })
}

// place works out one truck and takes its room on the line.
func (j *Projection) place(t *Truck) error {
	if t.Line.Off != calendar.None {
		j.off[t.ID] = t.Line.Off
		return nil
	}
	spans, err := j.run(t)
	if err != nil {
		return err
	}
	first := len(j.plant.Line.Stations) - len(spans)
	for i, s := range spans {
		k := j.lane(t, first+i)
		j.lanes[k] = occupy(j.lanes[k], s)
	}
	off, err := j.lastDay(t, spans[len(spans)-1])
	if err != nil {
		return err
	}
	said := off
	if o := t.Line.newest(); o != nil {
		said = max(o.Off, j.plant.AsOf.Date())
	}
	j.off[t.ID] = said
	for i, s := range spans {
		from, err := j.day(t, s.from)
		if err != nil {
			return err
		}
		through, err := j.lastDay(t, s)
		if err != nil {
			return err
		}
		r := Range{From: j.shift(from, off, said), Through: j.shift(through, off, said)}
		if i == 0 && t.Line.Station != "" {
			r.From = t.Line.Since
		}
		j.stays[stay{t.ID, j.plant.Line.Stations[first+i].ID}] = r
	}
	return nil
}

// run returns the spans of the truck at the station where it stands and at those
// ahead of it, in the room that is left.
func (j *Projection) run(t *Truck) ([]span, error) {
	p := j.plant
	now := j.minute(p.AsOf)
	at := p.station(t)
	var ready int
	switch {
	case len(p.Line.Stations) == 0:
		return nil, fmt.Errorf("truck %s is not off the line, but the line has no stations: give the day it came off, or list the stations", t.ID)
	case at >= 0 && t.Line.Since != calendar.None:
		ready = j.minute(t.Line.Since.At(0))
	case at >= 0:
		return nil, fmt.Errorf("truck %s stands at station %s since no day: give the day it entered", t.ID, t.Line.Station)
	case t.Line.Station != "":
		return nil, fmt.Errorf("truck %s stands at station %q, which the line does not have: name one of its stations", t.ID, t.Line.Station)
	case t.Line.Enters != calendar.None:
		ready = max(now, j.minute(t.Line.Enters.At(0)))
	default:
		return nil, fmt.Errorf("truck %s is neither off the line, nor at a station, nor due to enter: give one of the three days", t.ID)
	}
	var spans []span
	for i := max(at, 0); i < len(p.Line.Stations); i++ {
		s := &p.Line.Stations[i]
		for _, f := range t.Line.Feeders {
			if f.Station == s.ID {
				ready = max(ready, j.minute(f.Expected.At(0)))
			}
		}
		takt := max(1, s.Takt.Of(t.Content))
		from := ready
		if i != at {
			from = j.room(j.lane(t, i), ready, takt)
		}
		to := from + takt
		if i == at {
			to = max(to, now) // it still stands there
		}
		spans = append(spans, span{from, to})
		ready = to
	}
	return spans, nil
}

// lane returns the lane that the truck takes at a station.
func (j *Projection) lane(t *Truck, station int) lane {
	if !j.plant.Line.Stations[station].Lanes {
		return lane{station: station}
	}
	return lane{station, t.Content}
}

// room returns the first minute from ready on at which the lane is free for so
// many minutes.
func (j *Projection) room(k lane, ready, minutes int) int {
	for _, s := range j.lanes[k] {
		if ready+minutes <= s.from {
			break
		}
		ready = max(ready, s.to)
	}
	return ready
}

// occupy adds a span to those of a lane, which are in order and apart: what it
// overlaps or touches becomes one with it.
func occupy(list []span, s span) []span {
	first, _ := slices.BinarySearchFunc(list, s.from, func(a span, from int) int { return a.to - from })
	last := first
	for ; last < len(list) && list[last].from <= s.to; last++ {
		s.from, s.to = min(s.from, list[last].from), max(s.to, list[last].to)
	}
	return slices.Replace(list, first, last, s)
}

// minute counts the working minutes of the line before m.
func (j *Projection) minute(m calendar.Moment) int { return j.hours.Between(j.begin, m) }

// day returns the day on which a working minute of the line lies.
func (j *Projection) day(t *Truck, minute int) (calendar.Date, error) {
	end, ok := j.hours.Add(j.begin, minute+1)
	if !ok {
		return calendar.None, fmt.Errorf("truck %s does not come off the line before %s: look at its feeders, at the takts and at the line's calendar %s",
			t.ID, j.hours.Grid().Through(), j.plant.Line.Calendar)
	}
	return (end - 1).Date(), nil
}

// lastDay returns the day of the last working minute of a span, but not a day
// before now.
func (j *Projection) lastDay(t *Truck, s span) (calendar.Date, error) {
	d, err := j.day(t, s.to-1)
	return max(d, j.plant.AsOf.Date()), err
}

// shift moves a working day of the line by as many working days as lie between
// two others, no further back than now.
func (j *Projection) shift(d, from, to calendar.Date) calendar.Date {
	if from == to {
		return d
	}
	n := j.hours.WorkDaysBetween(min(from, to), max(from, to))
	if j.hours.WorksDay(to) {
		n++
	}
	for ; n > 0; n-- {
		step := j.hours.NextWorkDay
		if to < from {
			step = j.hours.PrevWorkDay
		}
		next, ok := step(d)
		if !ok {
			break
		}
		d = next
	}
	if to < from {
		return max(d, j.plant.AsOf.Date())
	}
	return d
}

// newest returns the override said last, the later in the list of two said on
// one day; nil when there is none.
func (l *Place) newest() *Override {
	var best *Override
	for i := range l.Overrides {
		if o := &l.Overrides[i]; best == nil || o.On >= best.On {
			best = o
		}
	}
	return best
}
