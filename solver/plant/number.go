package plant

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// wholeScalar is a whole number from min to max.
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

// feetScalar is a length in feet from min to max, with decimals.
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
