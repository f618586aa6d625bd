package web

import (
	"fmt"
	"html/template"
	"math"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"wetdown/calendar"
	"wetdown/solver/history"
)

// A locale is how a reader writes dates and times. The words are English in all.
type locale struct {
	MonthFirst bool // Thu May 14; else Thu 14 May
	Twelve     bool // 3:30 pm; else 15:30
}

// localeOf takes the first language that a browser names.
func localeOf(accept string) locale {
	first, _, _ := strings.Cut(accept, ",")
	first, _, _ = strings.Cut(first, ";")
	switch first = strings.ToLower(strings.TrimSpace(first)); {
	case first == "en-us", first == "en", first == "":
		return locale{MonthFirst: true, Twelve: true}
	case first == "en-ca", first == "en-ph":
		return locale{MonthFirst: true}
	case first == "en-au", first == "en-nz":
		return locale{Twelve: true}
	}
	return locale{}
}

// Day writes a day with its weekday.
func (l locale) Day(d calendar.Date) string {
	if d == calendar.None {
		return "no day"
	}
	return d.Weekday().String()[:3] + " " + l.Short(d)
}

// Short writes a day without weekday and year.
func (l locale) Short(d calendar.Date) string {
	if d == calendar.None {
		return "–"
	}
	_, m, day := d.YMD()
	if l.MonthFirst {
		return fmt.Sprintf("%s %d", m.String()[:3], day)
	}
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// Full writes a day with weekday and year.
func (l locale) Full(d calendar.Date) string {
	if d == calendar.None {
		return "no day"
	}
	y, _, _ := d.YMD()
	if l.MonthFirst {
		return fmt.Sprintf("%s, %d", l.Day(d), y)
	}
	return fmt.Sprintf("%s %d", l.Day(d), y)
}

// Clock writes a time of day.
func (l locale) Clock(c calendar.Clock) string {
	if !l.Twelve {
		return c.String()
	}
	h, m := int(c)/60%24, int(c)%60
	half := "am"
	if h >= 12 {
		half = "pm"
	}
	h = (h+11)%12 + 1
	if m == 0 {
		return fmt.Sprintf("%d %s", h, half)
	}
	return fmt.Sprintf("%d:%02d %s", h, m, half)
}

// Moment writes a day and a time of day.
func (l locale) Moment(m calendar.Moment) string {
	if m == calendar.NoMoment {
		return "–"
	}
	return l.Day(m.Date()) + " " + l.Clock(m.Clock())
}

// local is a time in the zone of the plant.
func (v *view) local(t time.Time) time.Time {
	zone := time.UTC
	if v.State != nil {
		if z, err := time.LoadLocation(v.State.Plant.Zone); err == nil {
			zone = z
		}
	}
	return t.In(zone)
}

// dayOf is the day of a time in the zone of the plant.
func (v *view) dayOf(t time.Time) calendar.Date { return calendar.NewDate(v.local(t).Date()) }

// Stamp writes a time in the zone of the plant.
func (v *view) Stamp(t time.Time) string {
	t = v.local(t)
	return v.Style.Moment(v.dayOf(t).At(calendar.Clock(t.Hour()*60 + t.Minute())))
}

// written finds the days and times in the sentences of the planner.
var written = regexp.MustCompile(`(?:\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?\b(\d{4}-\d{2}-\d{2})(?:[ T](\d{2}:\d{2}))?\b`)

// clocked finds the times of day in what is to be said.
var clocked = regexp.MustCompile(`\b\d{2}:\d{2}\b`)

// Words writes a sentence with its days as the reader writes them.
func (v *view) Words(sentence string) string { return v.rewritten(sentence, v.Style.Day) }

// Spoken writes a sentence that is to be said to somebody outside the house: with the year of
// each day, and with times of day as the reader writes them.
func (v *view) Spoken(sentence string) string {
	return clocked.ReplaceAllStringFunc(v.rewritten(sentence, v.Style.Full), func(found string) string {
		c, err := calendar.ParseClock(found)
		if err != nil {
			return found
		}
		return v.Style.Clock(c)
	})
}

func (v *view) rewritten(sentence string, day func(calendar.Date) string) string {
	return written.ReplaceAllStringFunc(sentence, func(found string) string {
		parts := written.FindStringSubmatch(found)
		d, err := calendar.ParseDate(parts[1])
		if err != nil {
			return found
		}
		if parts[2] == "" {
			return day(d)
		}
		c, err := calendar.ParseClock(parts[2])
		if err != nil {
			return found
		}
		return day(d) + " " + v.Style.Clock(c)
	})
}

// functions are what templates may call.
var functions = template.FuncMap{
	"leafrows": func() int { return leafRows },
	"style":    func() template.CSS { return template.CSS(style) },
	"day": func(v *view, d calendar.Date) template.HTML {
		return timeTag(d.String(), v.Style.Day(d), d != calendar.None)
	},
	"full": func(v *view, d calendar.Date) template.HTML {
		return timeTag(d.String(), v.Style.Full(d), d != calendar.None)
	},
	"moment": func(v *view, m calendar.Moment) template.HTML {
		return timeTag(m.String(), v.Style.Moment(m), m != calendar.NoMoment)
	},
	"stamp": func(v *view, t time.Time) template.HTML {
		return timeTag(t.UTC().Format(time.RFC3339), v.Stamp(t), !t.IsZero())
	},
	"places":      places,
	"dollars":     dollars,
	"plain":       func(s string) string { return strings.ReplaceAll(s, "_", " ") },
	"never":       func(m calendar.Moment) bool { return m == calendar.NoMoment },
	"none":        func(d calendar.Date) bool { return d == calendar.None },
	"count":       count,
	"add":         func(a, b int) int { return a + b },
	"sub":         func(a int64, b int) int64 { return a - int64(b) },
	"hours":       hoursWords,
	"tier":        tierWord,
	"hundred":     hundred,
	"between":     between,
	"chanceword":  chanceWord,
	"thousands":   thousands,
	"barof":       barOf,
	"event":       eventWord,
	"basisword":   func(b history.Basis) string { return basisWords[b] },
	"hundredth":   func(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) },
	"percentages": func(low, high float64) string { return fmt.Sprintf("%.0f to %.0f in 100", 100*low, 100*high) },
	"gain":        gain,
	"tenth":       tenth,
	"whole":       func(x float64) int64 { return int64(math.Round(x)) },
	"segment":     url.PathEscape,
	"pair":        func(one, two any) pair { return pair{one, two} },
}

// A pair is what a template hands to another one.
type pair struct{ One, Two any }

func timeTag(machine, people string, is bool) template.HTML {
	if !is {
		return template.HTML(template.HTMLEscapeString(people))
	}
	return template.HTML(`<time datetime="` + template.HTMLEscapeString(machine) + `">` + template.HTMLEscapeString(people) + `</time>`)
}

// dollars writes an amount with commas.
func dollars(n any) string {
	var v int64
	switch n := n.(type) {
	case int:
		v = int64(n)
	case int64:
		v = n
	}
	s := strconv.FormatInt(max(v, -v), 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if v < 0 {
		return "−$" + s
	}
	return "$" + s
}

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
