package plant

import (
	"fmt"
	"regexp"

	"wetdown/calendar"
)

// Days must lie in these years: beyond them a date is a slip of the pen.
var firstYear, lastYear = 1990, 2190

// dateScalar is a day, None when absent.
type dateScalar struct{ p *calendar.Date }

func asDate(p *calendar.Date) scalar { return dateScalar{p} }

var (
	datePattern   = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)
	momentPattern = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}$`)
	clockPattern  = `([01][0-9]|2[0-3]):[0-5][0-9]$`
)

func (v dateScalar) parse(s string) wrong {
	*v.p = calendar.None
	if s == "" {
		return wrong{}
	}
	d, err := calendar.ParseDate(s)
	if err != nil {
		return noDate(s)
	}
	*v.p = d
	return wrong{}
}

// noDate says why s is no day.
func noDate(s string) wrong {
	w := wrong{quoted(s) + " is no day", "a day YYYY-MM-DD, such as 2027-03-01", "write year, month and day like that"}
	if !datePattern.MatchString(s) {
		return w
	}
	year, month, day := s[:4], s[5:7], s[8:]
	first, err := calendar.ParseDate(year + "-" + month + "-01")
	if err != nil {
		w.what = fmt.Sprintf("%s is no day: there is no month %s", s, month)
		w.next = "correct the month; it stands between year and day"
		return w
	}
	y, m, _ := first.YMD()
	_, _, last := (calendar.NewDate(y, m+1, 1) - 1).YMD()
	w.what = fmt.Sprintf("%s is no day: %v %d has %d days, there is no day %s", s, m, y, last, day)
	w.next = "correct the day"
	return w
}

func (v dateScalar) format() string     { return v.p.String() }
func (v dateScalar) kind() kind         { return isStamp }
func (v dateScalar) check(*known) wrong { return checkYear(*v.p) }
func (v dateScalar) schema() map[string]any {
	return map[string]any{"type": "string", "format": "date", "pattern": datePattern.String()}
}

func checkYear(d calendar.Date) wrong {
	if d == calendar.None {
		return wrong{}
	}
	if y, _, _ := d.YMD(); y < firstYear || y > lastYear {
		return wrong{fmt.Sprintf("the year of %v cannot be meant", d), fmt.Sprintf("years %d to %d", firstYear, lastYear), "correct the year"}
	}
	return wrong{}
}

// momentScalar is a day and clock time, NoMoment when absent.
type momentScalar struct{ p *calendar.Moment }

func asMoment(p *calendar.Moment) scalar { return momentScalar{p} }

func (v momentScalar) parse(s string) wrong {
	*v.p = calendar.NoMoment
	if s == "" {
		return wrong{}
	}
	m, err := calendar.ParseMoment(s)
	if err == nil && len(s) == len("2027-03-01T07:00") {
		*v.p = m
		return wrong{}
	}
	w := wrong{quoted(s) + " is no moment", "a day and a clock time, such as 2027-03-01T07:00", "write day, T, hours and minutes like that"}
	switch {
	case datePattern.MatchString(s):
		w.what, w.next = s+" has no clock time", "add T and the time, such as "+s+"T07:00"
	case momentPattern.MatchString(s):
		w.what, w.next = s+" is no moment: there is no such clock time", "write 00:00 to 23:59"
		if _, err := calendar.ParseDate(s[:10]); err != nil {
			w = noDate(s[:10])
		}
	}
	return w
}

func (v momentScalar) format() string     { return momentText(*v.p) }
func (v momentScalar) kind() kind         { return isStamp }
func (v momentScalar) check(*known) wrong { return checkYear(v.p.Date()) }
func (v momentScalar) schema() map[string]any {
	return map[string]any{"type": "string", "pattern": `^[0-9]{4}-[0-9]{2}-[0-9]{2}T` + clockPattern}
}

// momentText is Moment.String in a tenth of the time: plans have thousands.
func momentText(m calendar.Moment) string {
	y, month, d := m.Date().YMD()
	if m == calendar.NoMoment || y < 1000 || y > 9999 {
		return m.String()
	}
	b := []byte("0000-00-00T00:00")
	put := func(at, width, n int) {
		for i := at + width - 1; i >= at; i-- {
			b[i] += byte(n % 10)
			n /= 10
		}
	}
	put(0, 4, y)
	put(5, 2, int(month))
	put(8, 2, d)
	put(11, 2, int(m.Clock())/60)
	put(14, 2, int(m.Clock())%60)
	return string(b)
}

// clockScalar is a clock time within a day.
type clockScalar struct{ p *calendar.Clock }

func asClock(p *calendar.Clock) scalar { return clockScalar{p} }

func (v clockScalar) parse(s string) wrong {
	*v.p = 0
	if s == "" {
		return wrong{}
	}
	c, err := calendar.ParseClock(s)
	if err != nil {
		return wrong{quoted(s) + " is no clock time", "00:00 to 23:59", "write hours and minutes such as 07:30"}
	}
	*v.p = c
	return wrong{}
}
func (v clockScalar) format() string { return v.p.String() }
func (v clockScalar) kind() kind     { return isText } // in quotes: other readers take 14:30 for a number
func (v clockScalar) check(*known) wrong {
	if *v.p < 0 || *v.p >= 24*60 {
		return wrong{fmt.Sprintf("%v is not within one day", *v.p), "00:00 to 23:59", "correct the time"}
	}
	return wrong{}
}
func (v clockScalar) schema() map[string]any {
	return map[string]any{"type": "string", "pattern": `^` + clockPattern}
}
