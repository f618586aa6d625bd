package plant

import (
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"wetdown/calendar"
)

// A scalar is one value of a plant file, bound to the field that keeps it.
type scalar interface {
	// parse sets the field from the text of the file; "" sets the empty value.
	parse(s string) wrong
	// format prints the field as parse reads it; the empty value is "", except
	// for numbers.
	format() string
	// check looks whether the value is allowed.
	check(*known) wrong
	// kind tells how the value is written.
	kind() kind
	// schema describes the value in JSON Schema.
	schema() map[string]any
}

// A kind is the way a value is written.
type kind int

const (
	isText   kind = iota // with quotes where they are needed
	isStamp              // text that needs none: days, moments, shifts, hours with an h
	isNumber             // never with quotes
	isHours              // a number, or text with an h
	isBool
)

// Length limits of text, in characters.
const (
	maxText = 500
	maxID   = 64
)

// asText is one line for people.
type textScalar struct{ p *string }

func asText(p *string) scalar { return textScalar{p} }

func (v textScalar) parse(s string) wrong   { *v.p = s; return wrong{} }
func (v textScalar) format() string         { return *v.p }
func (v textScalar) kind() kind             { return isText }
func (v textScalar) check(*known) wrong     { return checkLine(*v.p, maxText) }
func (v textScalar) schema() map[string]any { return textSchema(maxText) }

func textSchema(most int) map[string]any {
	return map[string]any{"type": []string{"string", "number"}, "minLength": 1, "maxLength": most, "pattern": `^[^\x00-\x1f\x7f]*$`}
}

// checkLine looks for what no single line of text may have.
func checkLine(s string, most int) wrong {
	switch {
	case !utf8.ValidString(s):
		return wrong{"the text is not valid UTF-8", "text in UTF-8", "type it again"}
	case strings.ContainsFunc(s, unicode.IsControl):
		return wrong{"the text has a line break or a control character in it", "one line of text", "write it on one line"}
	case utf8.RuneCountInString(s) > most:
		return wrong{fmt.Sprintf("the text has %d characters", utf8.RuneCountInString(s)), fmt.Sprintf("at most %d characters", most), "shorten it"}
	}
	return wrong{}
}

// asID names a noun. An id inside others (inner) has no point in it, so that
// "stage.wish" can be taken apart.
type idScalar struct {
	p     *string
	inner bool
}

func asID(p *string) scalar      { return idScalar{p, false} }
func asInnerID(p *string) scalar { return idScalar{p, true} }

func (v idScalar) parse(s string) wrong { *v.p = s; return wrong{} }
func (v idScalar) format() string       { return *v.p }
func (v idScalar) kind() kind           { return isText }
func (v idScalar) check(*known) wrong {
	s := *v.p
	if w := checkLine(s, maxID); !w.ok() {
		return w
	}
	switch {
	case s != strings.TrimSpace(s):
		return wrong{fmt.Sprintf("%q has a blank at an end", s), "a name without blanks around it", "take the blank away"}
	case strings.Contains(s, `"`):
		return wrong{fmt.Sprintf("%q has a quote in it", s), "a name without quotes", "take the quotes away; between elements of a list write a comma"}
	case v.inner && strings.Contains(s, "."):
		return wrong{fmt.Sprintf("%q has a point in it", s), "letters, digits, - and _", "write _ in place of the point"}
	}
	return wrong{}
}

func (v idScalar) schema() map[string]any {
	s := textSchema(maxID)
	s["pattern"] = `^[^\s"]([^\x00-\x1f\x7f"]*[^\s"])?$`
	if v.inner {
		s["pattern"] = `^[^\s."]([^\x00-\x1f\x7f."]*[^\s."])?$`
	}
	return s
}

// asRef is the id of another noun, or a word of a set that the file defines.
type refScalar struct {
	p  *string
	to set
}

func asRef(p *string, to set) scalar { return refScalar{p, to} }

func (v refScalar) parse(s string) wrong   { *v.p = s; return wrong{} }
func (v refScalar) format() string         { return *v.p }
func (v refScalar) kind() kind             { return isText }
func (v refScalar) check(k *known) wrong   { return k.check(v.to, *v.p) }
func (v refScalar) schema() map[string]any { return textSchema(maxID) }

// asWord is one of a few words.
type wordScalar struct {
	p  *string
	of []string
}

func asWord(p *string, of []string) scalar { return wordScalar{p, of} }

func (v wordScalar) parse(s string) wrong { *v.p = s; return wrong{} }
func (v wordScalar) format() string       { return *v.p }
func (v wordScalar) kind() kind           { return isText }
func (v wordScalar) check(*known) wrong {
	for _, w := range v.of {
		if *v.p == w {
			return wrong{}
		}
	}
	if *v.p == "" {
		return wrong{} // absence is the business of presence
	}
	return unknownWord(*v.p, v.of)
}

func (v wordScalar) schema() map[string]any {
	return map[string]any{"type": "string", "enum": v.of}
}

// asWhole is a whole number from min to max.
type wholeScalar[T int | int64 | uint64] struct {
	p        *T
	min, max T
}

func asWhole[T int | int64 | uint64](p *T, min, max T) scalar { return wholeScalar[T]{p, min, max} }

func (v wholeScalar[T]) parse(s string) wrong {
	if s == "" {
		*v.p = 0
		return wrong{}
	}
	digits := strings.TrimPrefix(s, "-")
	if digits == "" || strings.Trim(digits, "0123456789") != "" {
		return wrong{fmt.Sprintf("%s is not a whole number", quoted(s)), v.allowed(), "write digits only, without a point, commas or a unit"}
	}
	n, err := strconv.ParseInt(s, 10, 64)
	u, err2 := strconv.ParseUint(s, 10, 64)
	switch {
	case err == nil && (n >= 0 || v.min-1 < v.min): // an unsigned 0 has nothing below it
		*v.p = T(n)
	case err2 == nil && uint64(T(u)) == u && T(u) > 0:
		*v.p = T(u)
	case digits != s:
		return v.tooSmall(s)
	default:
		return v.tooLarge(s)
	}
	return wrong{}
}

func (v wholeScalar[T]) allowed() string {
	return fmt.Sprintf("a whole number from %d to %d", v.min, v.max)
}
func (v wholeScalar[T]) format() string { return fmt.Sprint(*v.p) }
func (v wholeScalar[T]) kind() kind     { return isNumber }
func (v wholeScalar[T]) check(*known) wrong {
	switch {
	case *v.p < v.min:
		return v.tooSmall(v.format())
	case *v.p > v.max:
		return v.tooLarge(v.format())
	}
	return wrong{}
}

func (v wholeScalar[T]) tooSmall(s string) wrong {
	return wrong{shown(s, true) + " is too small", v.allowed(), "correct the number"}
}

func (v wholeScalar[T]) tooLarge(s string) wrong {
	return wrong{shown(s, true) + " is too large", v.allowed(), "correct the number"}
}

func (v wholeScalar[T]) schema() map[string]any {
	return map[string]any{"type": "integer", "minimum": v.min, "maximum": v.max}
}

// asFeet is a length in feet from min to max, with decimals.
type feetScalar struct {
	p        *float64
	min, max float64
}

func asFeet(p *float64, min, max float64) scalar { return feetScalar{p, min, max} }

var decimal = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

func (v feetScalar) parse(s string) wrong {
	if s == "" {
		*v.p = 0
		return wrong{}
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || !decimal.MatchString(s) {
		return wrong{fmt.Sprintf("%s is not a number of feet", quoted(s)), v.allowed(), "write feet with decimals, 6 inches as .5"}
	}
	*v.p = f
	return wrong{}
}

func (v feetScalar) allowed() string { return fmt.Sprintf("feet from %v to %v", v.min, v.max) }
func (v feetScalar) format() string  { return strconv.FormatFloat(*v.p, 'f', -1, 64) }
func (v feetScalar) kind() kind      { return isNumber }
func (v feetScalar) check(*known) wrong {
	switch {
	case *v.p >= v.min && *v.p <= v.max:
		return wrong{}
	case *v.p < v.min:
		return wrong{v.format() + " feet are too few", v.allowed(), "correct the number"}
	}
	return wrong{v.format() + " feet are too many", v.allowed(), "correct the number"}
}

func (v feetScalar) schema() map[string]any {
	return map[string]any{"type": "number", "minimum": v.min, "maximum": v.max}
}

// asBool is true or false.
type boolScalar struct{ p *bool }

func asBool(p *bool) scalar { return boolScalar{p} }

func (v boolScalar) parse(s string) wrong {
	switch s {
	case "true":
		*v.p = true
	case "false", "":
		*v.p = false
	default:
		return wrong{fmt.Sprintf("%s is neither true nor false", quoted(s)), "true or false", "write one of the two"}
	}
	return wrong{}
}
func (v boolScalar) format() string {
	if *v.p {
		return "true"
	}
	return ""
}
func (v boolScalar) kind() kind             { return isBool }
func (v boolScalar) check(*known) wrong     { return wrong{} }
func (v boolScalar) schema() map[string]any { return map[string]any{"type": "boolean"} }

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

// weekdays as files write them, Sunday first as in calendar.Week.
var weekdayNames = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// weekdayScalar is a day of the week.
type weekdayScalar struct{ p *calendar.Weekday }

func asWeekday(p *calendar.Weekday) scalar { return weekdayScalar{p} }

func (v weekdayScalar) parse(s string) wrong {
	for i, name := range weekdayNames {
		if s == name {
			*v.p = calendar.Weekday(i)
			return wrong{}
		}
	}
	*v.p = 0
	return unknownWord(s, weekdayNames)
}
func (v weekdayScalar) format() string {
	if *v.p < 0 || *v.p > 6 {
		return ""
	}
	return weekdayNames[*v.p]
}
func (v weekdayScalar) kind() kind { return isText }
func (v weekdayScalar) check(*known) wrong {
	if *v.p < 0 || *v.p > 6 {
		return unknownWord(strconv.Itoa(int(*v.p)), weekdayNames)
	}
	return wrong{}
}
func (v weekdayScalar) schema() map[string]any {
	return map[string]any{"type": "string", "enum": weekdayNames}
}

// patternScalar is a week by its name.
type patternScalar struct{ p *calendar.Week }

func asPattern(p *calendar.Week) scalar { return patternScalar{p} }

func (v patternScalar) parse(s string) wrong {
	*v.p = calendar.Week{}
	if s == "" {
		return wrong{}
	}
	week, err := calendar.Pattern(s)
	if err != nil {
		w := unknownWord(s, calendar.PatternNames())
		w.next += ", or list the shifts of each day under week"
		return w
	}
	*v.p = week
	return wrong{}
}

func (v patternScalar) format() string {
	for _, name := range calendar.PatternNames() {
		if week, err := calendar.Pattern(name); err == nil && reflect.DeepEqual(week, *v.p) {
			return name
		}
	}
	return ""
}
func (v patternScalar) kind() kind         { return isStamp }
func (v patternScalar) check(*known) wrong { return wrong{} }
func (v patternScalar) schema() map[string]any {
	return map[string]any{"type": "string", "enum": calendar.PatternNames()}
}

// shiftScalar is a shift with its breaks, such as "07:00-15:30 break
// 11:00-11:30".
type shiftScalar struct{ p *calendar.Shift }

func asShift(p *calendar.Shift) scalar { return shiftScalar{p} }

var shiftPattern = regexp.MustCompile(`^[0-9]{2}:[0-9]{2}-[0-9]{2}:[0-9]{2}( break( [0-9]{2}:[0-9]{2}-[0-9]{2}:[0-9]{2})+)?$`)

func (v shiftScalar) parse(s string) wrong {
	*v.p = calendar.Shift{}
	w := wrong{quoted(s) + " is no shift", "begin and end, and breaks if any, such as 07:00-15:30 break 11:00-11:30", "write clock times HH:MM like that; past midnight go on counting, 06:00 of the next day is 30:00"}
	if !shiftPattern.MatchString(s) {
		return w
	}
	fields := strings.Fields(s)
	for i, field := range fields {
		if i == 1 {
			continue // the word break
		}
		from, err1 := calendar.ParseClock(field[:5])
		to, err2 := calendar.ParseClock(field[6:])
		if err1 != nil || err2 != nil {
			return w
		}
		span := calendar.Span{From: from, To: to}
		if i == 0 {
			v.p.Span = span
		} else {
			v.p.Breaks = append(v.p.Breaks, span)
		}
	}
	return wrong{}
}

func (v shiftScalar) format() string {
	s := fmt.Sprintf("%v-%v", v.p.From, v.p.To)
	for i, b := range v.p.Breaks {
		if i == 0 {
			s += " break"
		}
		s += fmt.Sprintf(" %v-%v", b.From, b.To)
	}
	return s
}
func (v shiftScalar) kind() kind         { return isStamp }
func (v shiftScalar) check(*known) wrong { return wrong{} } // by calendar.Rules.Check
func (v shiftScalar) schema() map[string]any {
	return map[string]any{"type": "string", "pattern": shiftPattern.String()}
}

// quoted shows a value of a file in a sentence, shortened.
func quoted(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:37]) + "..."
	}
	return strconv.Quote(s)
}
