package sheet

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"wetdown/calendar"
)

// A layout is how a file writes days, as it says itself: MM/DD/YYYY. The zero
// value is ISO 8601.
type layout struct{ pattern string }

// layoutText finds a layout: year, month and day in any order, one sign between.
var layoutText = regexp.MustCompile(`(?i)\b(YYYY|MMM?|M|DD?)([-./ ])(YYYY|MMM?|M|DD?)([-./ ])(YYYY|MMM?|M|DD?)\b`)

// ordered reports whether a layout names year, month and day once each.
func ordered(pattern string) bool {
	seen := ""
	for _, f := range layoutFields(pattern) {
		seen += f[:1]
	}
	switch seen {
	case "YMD", "MDY", "DMY", "YDM":
		return true
	}
	return false
}

func layoutFields(pattern string) []string {
	m := layoutText.FindStringSubmatch(pattern)
	if m == nil {
		return nil
	}
	return []string{strings.ToUpper(m[1]), strings.ToUpper(m[3]), strings.ToUpper(m[5])}
}

// named takes the layout out of a header such as due (DD.MM.YYYY). A text in
// brackets that looks like one and is none is an error.
func named(header string) (rest string, l layout, err error) {
	open := strings.IndexByte(header, '(')
	end := strings.LastIndexByte(header, ')')
	if open < 0 || end < open {
		return header, layout{}, nil
	}
	inside := strings.TrimSpace(header[open+1 : end])
	if !strings.Contains(strings.ToUpper(inside), "YY") {
		return header, layout{}, nil
	}
	if l, err = layoutOf(inside); err != nil {
		return header, layout{}, err
	}
	return header[:open] + header[end+1:], l, nil
}

// layoutOf reads the name of a layout.
func layoutOf(s string) (layout, error) {
	s = strings.TrimSpace(s)
	if m := layoutText.FindString(s); m != s || !ordered(s) {
		return layout{}, fmt.Errorf("%s names no way to write days", short(s))
	}
	return layout{strings.ToUpper(s)}, nil
}

// String prints the layout as people write it.
func (l layout) String() string {
	if l.pattern == "" {
		return "YYYY-MM-DD"
	}
	return l.pattern
}

var (
	isoText = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)
	dayText = regexp.MustCompile(`^(\d{1,4}|\pL{3,9})[-./ ] ?(\d{1,4}|\pL{3,9})[-./, ] ?(\d{1,4})$`)
	// hours that a spreadsheet puts behind a day
	midnight = regexp.MustCompile(`[T ]00:00(:00(\.0+)?)?Z?$`)
)

// day reads a day; "" is no day. ISO 8601 is read whatever the layout.
func (l layout) day(s string) (calendar.Date, trouble) {
	if s == "" {
		return calendar.None, trouble{}
	}
	s = midnight.ReplaceAllString(s, "")
	if isoText.MatchString(s) {
		d, err := calendar.ParseDate(s)
		if err != nil {
			return calendar.None, trouble{cause: short(s) + " is no day of the calendar", next: "correct the day"}
		}
		return d, trouble{}
	}
	if l.pattern != "" {
		if d, ok := l.parse(s); ok {
			return d, trouble{}
		}
		return calendar.None, trouble{
			cause: fmt.Sprintf("%s is no day written as %s", short(s), l),
			next:  "write it as " + l.example() + ", or as YYYY-MM-DD",
		}
	}
	return calendar.None, unclear(s)
}

// parse reads a day by the layout.
func (l layout) parse(s string) (calendar.Date, bool) {
	m := layoutText.FindStringSubmatch(l.pattern)
	rest := s
	values := map[byte]int{}
	for i, f := range []string{m[1], m[3], m[5]} {
		if i > 0 {
			sign := m[2*i]
			if !strings.HasPrefix(rest, sign) {
				return calendar.None, false
			}
			rest = rest[1:]
		}
		var n, width int
		if f == "MMM" {
			n, width = monthOf(rest)
		} else {
			for width < len(rest) && width < max(len(f), 2) && rest[width] >= '0' && rest[width] <= '9' {
				n = 10*n + int(rest[width]-'0')
				width++
			}
			if f == "YYYY" && width != 4 {
				return calendar.None, false
			}
		}
		if width == 0 {
			return calendar.None, false
		}
		values[f[0]], rest = n, rest[width:]
	}
	if rest != "" {
		return calendar.None, false
	}
	return realDay(values['Y'], values['M'], values['D'])
}

// realDay makes a day of numbers, false if there is none.
func realDay(y, m, d int) (calendar.Date, bool) {
	day := calendar.NewDate(y, time.Month(m), d)
	yy, mm, dd := day.YMD()
	if y < 1 || y > 9999 || yy != y || mm != time.Month(m) || dd != d {
		return calendar.None, false
	}
	return day, true
}

// monthOf reads the English name of a month, or its first three letters, at the
// front, and says how long it is.
func monthOf(s string) (month, width int) {
	for width < len(s) && (s[width]|0x20) >= 'a' && (s[width]|0x20) <= 'z' {
		width++
	}
	for m := time.January; m <= time.December; m++ {
		if width >= 3 && (strings.EqualFold(s[:width], m.String()) || strings.EqualFold(s[:width], m.String()[:3])) {
			return int(m), width
		}
	}
	return 0, 0
}

// example shows the layout by a day.
func (l layout) example() string {
	s := l.pattern
	for _, p := range [][2]string{{"YYYY", "2027"}, {"MMM", "Apr"}, {"MM", "04"}, {"M", "4"}, {"DD", "26"}, {"D", "26"}} {
		s = strings.Replace(s, p[0], p[1], 1)
	}
	return s
}

// unclear says what to write in place of a day that is not ISO 8601: its readings,
// where it has some.
func unclear(s string) trouble {
	const name = "name the way in the header, such as (MM/DD/YYYY) or (DD.MM.YYYY)"
	m := dayText.FindStringSubmatch(s)
	if m == nil {
		return trouble{cause: short(s) + " is no day", next: "write it as YYYY-MM-DD"}
	}
	var readings []string
	for _, order := range [][3]int{{1, 2, 3}, {3, 1, 2}, {3, 2, 1}} { // where year, month and day stand
		part := [3]int{}
		for i, at := range order {
			var err error
			if part[i], err = strconv.Atoi(m[at]); err != nil && i == 1 {
				part[i], _ = monthOf(m[at])
			}
		}
		if d, ok := realDay(part[0], part[1], part[2]); ok && part[0] >= 1900 {
			if r := d.String(); len(readings) == 0 || readings[len(readings)-1] != r {
				readings = append(readings, r)
			}
		}
	}
	switch len(readings) {
	case 0:
		return trouble{cause: short(s) + " is no day that is sure", next: "write it as YYYY-MM-DD, with four digits for the year"}
	case 1:
		return trouble{cause: short(s) + " is not written as YYYY-MM-DD", next: "write " + readings[0] + ", or " + name}
	}
	return trouble{cause: short(s) + " can be read in two ways", next: "write " + strings.Join(readings, " or ") + ", or " + name}
}

// serialDay turns the number under a date of a workbook into a day. The 1900
// system counts from 1 on 1900-01-01 and has a day 60 that never was; the 1904
// system counts from 0 on 1904-01-01.
func serialDay(serial float64, from1904 bool) (calendar.Date, trouble) {
	whole := math.Floor(serial)
	limit := 2_958_465.0 // 9999-12-31 in the 1900 system
	switch {
	case !(serial >= 0 && serial <= limit):
		return calendar.None, trouble{cause: fmt.Sprintf("the cell shows a date, and the number %v under it is none", serial), next: "write the day as YYYY-MM-DD"}
	case serial != whole:
		return calendar.None, trouble{cause: "the cell holds a time of day beside the date", next: "write the day alone, as YYYY-MM-DD"}
	case from1904:
		return calendar.NewDate(1904, time.January, 1).AddDays(int(whole)), trouble{}
	case whole == 60 || whole == 0:
		return calendar.None, trouble{cause: fmt.Sprintf("the cell holds day %v of the 1900 date system, which never was", whole), next: "write the day as YYYY-MM-DD"}
	case whole < 60:
		return calendar.NewDate(1899, time.December, 31).AddDays(int(whole)), trouble{}
	}
	return calendar.NewDate(1899, time.December, 30).AddDays(int(whole)), trouble{}
}

// daySerial is the number of a day in the 1900 system, false before its first
// sure day, 1900-03-01.
func daySerial(d calendar.Date) (int, bool) {
	n := int(d - calendar.NewDate(1899, time.December, 30))
	return n, n >= 61
}
