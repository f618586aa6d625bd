package calendar

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	tests := []struct {
		in   string
		want string // printed, "" for refused
	}{
		{"2027-03-01", "2027-03-01"},
		{"2028-02-29", "2028-02-29"}, // leap year
		{"2027-02-29", ""},           // no such day
		{"2027-3-1", ""},
		{"2027-03-01 ", ""},
		{"27-03-01", ""},
		{"", ""},
		{"00:00", "00:00"},
		{"07:30", "07:30"},
		{"24:00", "24:00"},
		{"36:00", "36:00"},
		{"36:01", ""},
		{"07:60", ""},
		{"7:30", ""},
		{"+7:30", ""},
		{"-0:30", ""},
		{" 7:30", ""},
		{"007:5", ""},
		{"07.30", ""},
		{"2027-03-01T07:00", "2027-03-01T07:00"},
		{"2027-03-01T24:00", ""}, // a moment has a clock time below 24:00
		{"2027-03-01T7:00", ""},
		{"2027-03-01T07:00:00", ""},
		{"2027-03-01 07:00", ""},
	}
	for _, tt := range tests {
		var got string
		var errs []error
		if d, err := ParseDate(tt.in); err == nil {
			got = d.String()
		} else {
			errs = append(errs, err)
		}
		if c, err := ParseClock(tt.in); err == nil {
			got = c.String()
		} else {
			errs = append(errs, err)
		}
		if m, err := ParseMoment(tt.in); err == nil {
			got = m.String()
		} else {
			errs = append(errs, err)
		}
		if got != tt.want {
			t.Errorf("%q read as %q, want %q", tt.in, got, tt.want)
		}
		for _, err := range errs {
			if !strings.Contains(err.Error(), "write ") {
				t.Errorf("%q: %q does not say what to write", tt.in, err)
			}
		}
	}
}

func TestAbsent(t *testing.T) {
	if None.String() != "" || NoMoment.String() != "" || None.At(0) != NoMoment || NoMoment.Date() != None {
		t.Errorf("absent: %q %q %d %d", None, NoMoment, None.At(0), NoMoment.Date())
	}
}

// Package time agrees about every day of two centuries.
func TestDateAgainstTime(t *testing.T) {
	d := NewDate(1900, time.January, 1)
	for u := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); u.Year() < 2100; u = u.AddDate(0, 0, 1) {
		y, m, day := d.YMD()
		wy, wm, wday := u.Date()
		if y != wy || m != wm || day != wday || d.Weekday() != u.Weekday() || d.String() != u.Format(time.DateOnly) {
			t.Fatalf("%v %v, want %v", d, d.Weekday(), u)
		}
		d = d.AddDays(1)
	}
	if d != NewDate(2100, time.January, 1) {
		t.Errorf("walked to %v, want 2100-01-01", d)
	}
}

func TestMomentParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Date(rapid.Int32Range(-40000, 80000).Draw(t, "day"))
		c := Clock(rapid.Int16Range(0, int16(maxClock)).Draw(t, "clock"))
		m := d.At(c)
		want, clock := d, c
		for clock >= minutesPerDay {
			want, clock = want+1, clock-minutesPerDay
		}
		if m.Date() != want || m.Clock() != clock {
			t.Fatalf("%v at %v is %v, want %v at %v", d, c, m, want, clock)
		}
		back, err := ParseMoment(m.String())
		if err != nil || back != m {
			t.Fatalf("%v read back as %v: %v", m, back, err)
		}
	})
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2027-03-01", "0000-01-01", "9999-12-31", "2027-02-30", "1969-12-31"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDate(s); err == nil && d.String() != s {
			t.Errorf("%q prints as %q", s, d)
		}
	})
}

func FuzzParseClock(f *testing.F) {
	for _, s := range []string{"00:00", "07:30", "36:00", "36:01", "+7:30", "-0:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if c, err := ParseClock(s); err == nil && (c.String() != s || c < 0 || c > maxClock) {
			t.Errorf("%q prints as %q", s, c)
		}
	})
}

func FuzzParseMoment(f *testing.F) {
	for _, s := range []string{"2027-03-01T07:00", "1969-12-31T23:59", "2027-03-01T7:00", "2027-03-01T24:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if m, err := ParseMoment(s); err == nil && m.String() != s {
			t.Errorf("%q prints as %q", s, m)
		}
	})
}
