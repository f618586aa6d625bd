package wire

import (
	"math"

	"wetdown/calendar"
)

// Day is a day, null for none.
func Day(d calendar.Date) *string { return Text(d.String()) }

// Moment is a moment, null for none.
func Moment(m calendar.Moment) *string { return Text(m.String()) }

// Text is a text, null for an empty one.
func Text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Each applies a function to every element; the result is never null.
func Each[T, W any](list []T, to func(T) W) []W {
	out := make([]W, len(list))
	for i, v := range list {
		out[i] = to(v)
	}
	return out
}

// Texts is a list as it is; the result is never null.
func Texts(list []string) []string { return append([]string{}, list...) }

// Micro rounds seconds to millionths.
func Micro(seconds float64) float64 { return math.Round(seconds*1e6) / 1e6 }
