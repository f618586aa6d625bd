package plant

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// maxMinutes bounds every duration of a file: ten thousand hours, more than a
// year of round-the-clock work.
const maxMinutes = 10000 * 60

// durationScalar is a number of minutes that files write in hours: 5.7 or 5h42.
// Every decimal of hours that is a whole number of minutes can be read; minutes
// that no decimal hits, such as 5 h 40 min, are written 5h40.
type durationScalar struct {
	p        *int
	min, max int
	absent   int // the empty value
}

func asHours(p *int, min, max int) scalar { return durationScalar{p, min, max, 0} }

// asMinutes is a point of an estimate.
func asMinutes(p *int) scalar { return asHours(p, 0, maxMinutes) }

// asRemaining is a duration that may be unknown, -1.
func asRemaining(p *int) scalar { return durationScalar{p, 1, maxMinutes, -1} }

var hoursPattern = regexp.MustCompile(`^(-?)([0-9]{1,5})(?:\.([0-9]{1,6})|h([0-5][0-9])?)?$`)

func (v durationScalar) parse(s string) wrong {
	*v.p = v.absent
	if s == "" {
		return wrong{}
	}
	m := hoursPattern.FindStringSubmatch(s)
	if m == nil {
		return wrong{quoted(s) + " is no number of hours", v.allowed(), "write hours with decimals (1.5) or with minutes (1h30)"}
	}
	hours, _ := strconv.Atoi(m[2])
	minutes := hours * 60
	if m[4] != "" {
		n, _ := strconv.Atoi(m[4])
		minutes += n
	}
	if m[3] != "" {
		scale := 1
		for range m[3] {
			scale *= 10
		}
		n, _ := strconv.Atoi(m[3])
		if n*60%scale != 0 {
			near := minutes + (n*60+scale/2)/scale
			return wrong{fmt.Sprintf("%s hours are not a whole number of minutes", s), v.allowed(), "write " + m[1] + hoursMinutes(near) + " if that is meant"}
		}
		minutes += n * 60 / scale
	}
	if m[1] != "" {
		minutes = -minutes
	}
	*v.p = minutes
	return wrong{}
}

func (v durationScalar) allowed() string {
	return fmt.Sprintf("hours from %s to %s", formatHours(v.min), formatHours(v.max))
}

func (v durationScalar) format() string {
	if *v.p == v.absent && v.absent != 0 {
		return ""
	}
	return formatHours(*v.p)
}

func (v durationScalar) kind() kind { return isHours }

func (v durationScalar) check(*known) wrong {
	switch {
	case *v.p < v.min && (*v.p != v.absent || v.absent == 0):
		return wrong{formatHours(*v.p) + " hours are too few", v.allowed(), "correct the hours"}
	case *v.p > v.max:
		return wrong{formatHours(*v.p) + " hours are too many", v.allowed(), "correct the hours"}
	}
	return wrong{}
}

func (v durationScalar) schema() map[string]any {
	pattern := `^[0-9]{1,5}h([0-5][0-9])?$`
	if v.min < 0 {
		pattern = `^-?[0-9]{1,5}h([0-5][0-9])?$`
	}
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "number", "minimum": min(0, v.min/60), "maximum": v.max / 60},
		map[string]any{"type": "string", "pattern": pattern},
	}}
}

// formatHours prints minutes as hours: decimals where they are exact, which is
// every third minute.
func formatHours(minutes int) string {
	if minutes%3 == 0 {
		return strconv.FormatFloat(float64(minutes)/60, 'f', -1, 64)
	}
	if minutes < 0 {
		return "-" + hoursMinutes(-minutes)
	}
	return hoursMinutes(minutes)
}

func hoursMinutes(minutes int) string {
	return strings.TrimSuffix(fmt.Sprintf("%dh%02d", minutes/60, minutes%60), "00")
}
