package calendar

import (
	"fmt"
	"time"
)

// A Date is a civil date: days since 1970-01-01. It is not an instant and has
// no zone; arithmetic is plain integer arithmetic.
type Date int32

// None is the absent date. It is far before any real one.
const None Date = -1 << 31

// A Weekday is a day of the week, Sunday 0, as in package time.
type Weekday = time.Weekday

// NewDate returns the civil date. Days and months beyond their range carry over
// as in time.Date.
func NewDate(year int, month time.Month, day int) Date {
	return Date(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDate reads YYYY-MM-DD. Dates that do not exist are refused.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return None, fmt.Errorf("%q is no date: write YYYY-MM-DD, such as 2027-03-01", s)
	}
	return Date(t.Unix() / 86400), nil
}

// utc is midnight of d in UTC, for taking dates apart only.
func (d Date) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// String prints YYYY-MM-DD, or "" for None.
func (d Date) String() string {
	if d == None {
		return ""
	}
	return d.utc().Format(time.DateOnly)
}

// Weekday returns the day of the week.
func (d Date) Weekday() Weekday { return Weekday((d%7 + 7 + 4) % 7) } // day 0 was a Thursday

// YMD returns year, month and day.
func (d Date) YMD() (year int, month time.Month, day int) { return d.utc().Date() }

// AddDays returns the date n civil days later.
func (d Date) AddDays(n int) Date { return d + Date(n) }

// At returns the moment at clock time c of the day, NoMoment for None.
func (d Date) At(c Clock) Moment {
	if d == None {
		return NoMoment
	}
	return Moment(d)*minutesPerDay + Moment(c)
}

// minutesPerDay is the length of a civil day on the clock, also on the two days
// of the year on which real time disagrees.
const minutesPerDay = 24 * 60

// A Clock is a wall-clock time in minutes since midnight. The ends of shifts
// may exceed 24:00.
type Clock int16

// maxClock is the latest clock time, 36:00: noon of the next day.
const maxClock Clock = 36 * 60

// ParseClock reads HH:MM, 00:00 to 36:00 (a night shift that ends next day at
// 06:00 ends at 30:00).
func ParseClock(s string) (Clock, error) {
	if len(s) == 5 && digit(s[0]) && digit(s[1]) && s[2] == ':' && digit(s[3]) && digit(s[4]) {
		h, m := Clock(s[0]-'0')*10+Clock(s[1]-'0'), Clock(s[3]-'0')*10+Clock(s[4]-'0')
		if c := h*60 + m; m < 60 && c <= maxClock {
			return c, nil
		}
	}
	return 0, fmt.Errorf("%q is no clock time: write HH:MM from 00:00 to 36:00, such as 07:30", s)
}

func digit(b byte) bool { return '0' <= b && b <= '9' }

// String prints HH:MM.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c/60, c%60) }

// A Moment is a civil date and wall-clock time: minutes since 1970-01-01T00:00
// of the plant's own clock. It is not an instant: Grid.Elapsed knows the zone.
type Moment int64

// NoMoment is the absent moment.
const NoMoment Moment = -1 << 62

// ParseMoment reads YYYY-MM-DDTHH:MM.
func ParseMoment(s string) (Moment, error) {
	const layout = "2006-01-02T15:04"
	t, err := time.Parse(layout, s)
	if err != nil || len(s) != len(layout) { // Parse takes an hour of one digit
		return NoMoment, fmt.Errorf("%q is no moment: write YYYY-MM-DDTHH:MM, such as 2027-03-01T07:00", s)
	}
	return Moment(t.Unix() / 60), nil
}

// Date returns the day of the moment, None for NoMoment.
func (m Moment) Date() Date {
	if m == NoMoment {
		return None
	}
	return Date((m - Moment(m.Clock())) / minutesPerDay)
}

// Clock returns the time of day, 00:00 to 23:59.
func (m Moment) Clock() Clock { return Clock((m%minutesPerDay + minutesPerDay) % minutesPerDay) }

// String prints YYYY-MM-DDTHH:MM, or "" for NoMoment.
func (m Moment) String() string {
	if m == NoMoment {
		return ""
	}
	return m.Date().String() + "T" + m.Clock().String()
}
