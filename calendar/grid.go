package calendar

import "fmt"

// A Slot is one part of one day of a Grid, counted from 0 in order of time.
type Slot = int32

// maxGridDays bounds a grid: a century.
const maxGridDays = 36525

// A Grid cuts every day of a run of days into the same parts. It knows the zone
// of the plant, and so how much real time passes between two moments.
type Grid struct {
	zone   zone
	from   Date
	days   int
	bounds []Clock // 00:00, the cuts, 24:00
}

// NewGrid makes the grid of the days from through through (inclusive). Every day
// is cut at the given clock times, in ascending order and strictly between 00:00
// and 24:00; part 0 begins at 00:00, the last part ends at 24:00. Zone is an IANA
// name such as America/Chicago.
func NewGrid(zone string, from, through Date, cuts []Clock) (*Grid, error) {
	if from == None || through == None || through < from {
		return nil, fmt.Errorf("a grid cannot run from %q through %q: give a first day and a last day not before it", from, through)
	}
	if through-from >= maxGridDays {
		return nil, fmt.Errorf("a grid cannot run from %v through %v: at most %d days (a century) are possible, choose a nearer last day", from, through, maxGridDays)
	}
	bounds := make([]Clock, 0, len(cuts)+2)
	bounds = append(bounds, 0)
	for i, c := range cuts {
		if c <= bounds[i] || c >= minutesPerDay {
			return nil, fmt.Errorf("the day cannot be cut at %v (cut %d): cuts ascend and lie after 00:00 and before 24:00", c, i+1)
		}
		bounds = append(bounds, c)
	}
	bounds = append(bounds, minutesPerDay)
	z, err := loadZone(zone, from, through)
	if err != nil {
		return nil, err
	}
	return &Grid{zone: z, from: from, days: int(through-from) + 1, bounds: bounds}, nil
}

// Zone returns the IANA name of the zone.
func (g *Grid) Zone() string { return g.zone.name }

// From returns the first day.
func (g *Grid) From() Date { return g.from }

// Through returns the last day, inclusive.
func (g *Grid) Through() Date { return g.from + Date(g.days) - 1 }

// Contains reports whether the day lies in the grid.
func (g *Grid) Contains(d Date) bool { return g.from <= d && d <= g.Through() }

// Parts returns the number of parts of a day.
func (g *Grid) Parts() int { return len(g.bounds) - 1 }

// Slots returns the number of slots; they are 0 to Slots()-1.
func (g *Grid) Slots() Slot { return Slot(g.days * g.Parts()) }

// Slot returns the slot of a part of a day. The day must lie in the grid and the
// part in 0 to Parts()-1.
func (g *Grid) Slot(d Date, part int) Slot { return Slot(int(d-g.from)*g.Parts() + part) }

// Date returns the day of a slot.
func (g *Grid) Date(s Slot) Date { return g.from + Date(int(s)/g.Parts()) }

// Part returns the part of the day of a slot.
func (g *Grid) Part(s Slot) int { return int(s) % g.Parts() }

// Begin returns the first moment of a slot. Begin(Slots()) is the end of the grid.
func (g *Grid) Begin(s Slot) Moment { return g.Date(s).At(g.bounds[g.Part(s)]) }

// End returns the end of a slot, exclusive: the first moment of the next.
func (g *Grid) End(s Slot) Moment { return g.Date(s).At(g.bounds[g.Part(s)+1]) }

// At returns the slot in which the moment lies, and false outside the grid.
func (g *Grid) At(m Moment) (Slot, bool) {
	d := m.Date()
	if !g.Contains(d) {
		return 0, false
	}
	c := m.Clock()
	part := 0
	for c >= g.bounds[part+1] {
		part++
	}
	return g.Slot(d, part), true
}

// Elapsed returns the moment at which so many minutes of real time have passed
// after from, whatever the clocks do in between: 72 hours over the night of the
// spring change end an hour later by the clock.
//
// It is the first moment for which this holds: m >= Elapsed(a, n) exactly if
// ElapsedMinutes(a, m) >= n. Hence a wait of at least n is met from Elapsed(a, n)
// on, and one of at most n before Elapsed(a, n+1). See ElapsedMinutes for moments
// that the clock shows twice or never.
func (g *Grid) Elapsed(from Moment, minutes int) Moment {
	return g.zone.moment(g.zone.instant(from) + int64(minutes))
}

// ElapsedMinutes returns the minutes of real time from a to b, negative if b
// comes before a. A clock time that occurs twice, in autumn, means the first of
// the two. A clock time that never occurs, in spring, means the instant of the
// change. So later moments never mean earlier instants.
func (g *Grid) ElapsedMinutes(a, b Moment) int {
	return int(g.zone.instant(b) - g.zone.instant(a))
}
