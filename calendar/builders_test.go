package calendar

import (
	"testing"
	_ "time/tzdata" // the tests do not depend on the machine's zone files
)

const chicago = "America/Chicago"

// noon cuts the day in two.
var noon = []Clock{12 * 60}

func date(s string) Date {
	d, err := ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func moment(s string) Moment {
	m, err := ParseMoment(s)
	if err != nil {
		panic(err)
	}
	return m
}

func mustGrid(t testing.TB, zone, from, through string, cuts []Clock) *Grid {
	t.Helper()
	g, err := NewGrid(zone, date(from), date(through), cuts)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func mustCompile(t testing.TB, g *Grid, r Rules) *Hours {
	t.Helper()
	h, err := Compile(g, r)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func mustPattern(t testing.TB, name string) Week {
	t.Helper()
	w, err := Pattern(name)
	if err != nil {
		t.Fatal(err)
	}
	return w
}
