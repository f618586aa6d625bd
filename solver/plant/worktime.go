package plant

import (
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"wetdown/calendar"
)

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
