package calendar

import (
	"fmt"
	"math"
	"sort"
	"time"
)

// A zone translates between moments (the plant's clock) and instants (minutes
// since 1970-01-01T00:00Z). Its table covers the years around one grid; beyond
// them the offset at the table's edge holds.
type zone struct {
	name string
	eras []era
}

// An era is a stretch of time with one offset from UTC. It ends where the next
// begins.
type era struct {
	from   int64 // first instant
	offset int64 // minutes to add to an instant to read the clock
	until  int64 // end of the era on its own clock, exclusive
}

// zoneYears is how far, on either side of the grid, the table of a zone reaches.
const zoneYears = 2

// loadZone reads the offsets of an IANA zone for the days of a grid and the years
// around it.
func loadZone(name string, from, through Date) (zone, error) {
	if name == "" || name == "Local" {
		return zone{}, fmt.Errorf("zone %q is not a place: write an IANA zone such as America/Chicago", name)
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return zone{}, fmt.Errorf("zone %q is not known: write an IANA zone such as America/Chicago", name)
	}
	z := zone{name: name}
	end := through.utc().AddDate(zoneYears, 0, 0)
	for t := from.utc().AddDate(-zoneYears, 0, 0).In(loc); ; {
		_, seconds := t.Zone()
		change := NextChange(t)
		e := era{from: minuteOf(t), offset: int64(seconds / 60), until: math.MaxInt64}
		if change.IsZero() || change.After(end) {
			z.eras = append(z.eras, e)
			break
		}
		e.until = minuteOf(change) + e.offset
		z.eras = append(z.eras, e)
		t = change
	}
	z.eras[0].from = math.MinInt64
	return z, nil
}

// NextChange returns the next change of clock after t in t's zone, in offset or in name;
// zero if there is none. Beyond the table of a zone, package time ends its bounds with
// the year as well, without a change, and on the last day of a leap year they end where
// they begin (seen in Go 1.26.8): there it looks on from the day after.
func NextChange(t time.Time) time.Time {
	name, offset := t.Zone()
	for u := t; ; {
		_, end := u.ZoneBounds()
		if end.IsZero() {
			return end
		}
		if !end.After(u) {
			end = u.AddDate(0, 0, 1)
		}
		if n, o := end.Zone(); n != name || o != offset {
			return end
		}
		u = end
	}
}

func minuteOf(t time.Time) int64 { return t.Unix() / 60 }

// instant returns what a moment means: see Grid.ElapsedMinutes.
func (z *zone) instant(m Moment) int64 {
	i := sort.Search(len(z.eras), func(i int) bool { return int64(m) < z.eras[i].until })
	e := z.eras[i]
	return max(int64(m)-e.offset, e.from)
}

// moment returns the first moment that means the instant or a later one.
func (z *zone) moment(instant int64) Moment {
	i := sort.Search(len(z.eras), func(i int) bool { return instant <= z.eras[i].from }) - 1
	m := instant + z.eras[i].offset
	if i > 0 { // the era before has the clock times until its own end
		m = max(m, z.eras[i-1].until)
	}
	return Moment(m)
}
