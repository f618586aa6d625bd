package calendar

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The clock-change trap, at both edges. In America/Chicago the clocks go from
// 02:00 to 03:00 on 2027-03-14 and from 02:00 back to 01:00 on 2027-11-07 (second
// Sunday of March, first of November: 15 U.S.C. 260a).

func TestElapsed(t *testing.T) {
	g := mustGrid(t, chicago, "2027-01-01", "2027-12-31", noon)
	tests := []struct {
		what    string
		from    string
		minutes int
		want    string
	}{
		{"a cure of 72 hours in plain time", "2027-02-05T10:00", 72 * 60, "2027-02-08T10:00"},
		{"72 hours over the spring change end an hour later by the clock", "2027-03-12T10:00", 72 * 60, "2027-03-15T11:00"},
		{"72 hours over the autumn change end an hour earlier by the clock", "2027-11-05T10:00", 72 * 60, "2027-11-08T09:00"},
		{"a minute before the spring change", "2027-03-14T01:59", 0, "2027-03-14T01:59"},
		{"a minute into summer time", "2027-03-14T01:59", 2, "2027-03-14T03:01"},
		{"the instant of the change is the first clock time that means it", "2027-03-14T01:30", 30, "2027-03-14T02:00"},
		{"a clock time in the gap means the instant of the change", "2027-03-14T02:30", 30, "2027-03-14T03:30"},
		{"so does the end of the gap", "2027-03-14T03:00", 30, "2027-03-14T03:30"},
		{"the hour that occurs twice means its first pass", "2027-11-07T01:30", 29, "2027-11-07T01:59"},
		{"what ends in its second pass is over at 02:00", "2027-11-07T01:30", 60, "2027-11-07T02:00"},
		{"and 90 minutes end at 02:00 exactly", "2027-11-07T01:30", 90, "2027-11-07T02:00"},
		{"from before to after", "2027-11-07T00:30", 180, "2027-11-07T02:30"},
		{"backwards over the spring change", "2027-03-15T11:00", -72 * 60, "2027-03-12T10:00"},
		{"from a year before the grid", "2026-03-07T12:00", 24 * 60, "2026-03-08T13:00"},
	}
	for _, tt := range tests {
		if got := g.Elapsed(moment(tt.from), tt.minutes); got != moment(tt.want) {
			t.Errorf("%s: %d minutes after %s is %v, want %s", tt.what, tt.minutes, tt.from, got, tt.want)
		}
	}
}

func TestElapsedMinutes(t *testing.T) {
	g := mustGrid(t, chicago, "2027-01-01", "2027-12-31", noon)
	tests := []struct {
		a, b string
		want int
	}{
		{"2027-03-13T22:00", "2027-03-14T06:00", 7 * 60}, // a spring night shift
		{"2027-11-06T22:00", "2027-11-07T06:00", 9 * 60}, // an autumn night shift
		{"2027-03-14T02:00", "2027-03-14T03:00", 0},
		{"2027-03-14T01:00", "2027-03-14T02:45", 60},
		{"2027-11-07T01:00", "2027-11-07T01:59", 59},
		{"2027-11-07T01:59", "2027-11-07T02:00", 61},
		{"2027-06-02T07:00", "2027-06-01T07:00", -24 * 60},
	}
	for _, tt := range tests {
		if got := g.ElapsedMinutes(moment(tt.a), moment(tt.b)); got != tt.want {
			t.Errorf("from %s to %s %d minutes pass, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}

// Working minutes are clock minutes also in the nights in which the clocks change.
func TestNightShift(t *testing.T) {
	night := []Shift{{Span: Span{22 * 60, 30 * 60}}}
	g := mustGrid(t, chicago, "2027-01-01", "2027-12-31", noon)
	h := mustCompile(t, g, Rules{Week: Week{night, night, night, night, night, night, night}})
	for _, day := range []string{"2027-03-12", "2027-03-13", "2027-11-05", "2027-11-06"} {
		from := date(day).At(22 * 60)
		to := date(day).At(30 * 60)
		if got := h.Between(from, to); got != 480 {
			t.Errorf("the night of %s has %d working minutes, want 480", day, got)
		}
		if got, ok := h.Add(from, 480); !ok || got != to {
			t.Errorf("480 working minutes from %v end at %v (%v), want %v", from, got, ok, to)
		}
		if a, b := h.Shift(from), h.Shift(to-1); a != b || a < 0 {
			t.Errorf("the night of %s is shifts %d and %d, want one", day, a, b)
		}
	}
}

var dstZones = []string{chicago, "America/St_Johns", "America/Regina", "America/Sao_Paulo", "Australia/Lord_Howe", "Europe/London", "Asia/Kathmandu", "UTC"}

// Where a clock time occurs exactly once, package time agrees.
func TestElapsedAgainstTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom(dstZones).Draw(t, "zone")
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		g, err := NewGrid(zone, NewDate(2015, 1, 1), NewDate(2030, 12, 31), nil)
		if err != nil {
			t.Fatal(err)
		}
		instant := func(m Moment) time.Time {
			y, mon, day := m.Date().YMD()
			return time.Date(y, mon, day, int(m.Clock()/60), int(m.Clock()%60), 0, 0, loc)
		}
		once := rapid.Map(rapid.Int64Range(0, 18*365*1440), func(minutes int64) Moment {
			return NewDate(2014, 1, 1).At(0) + Moment(minutes)
		}).Filter(func(m Moment) bool {
			u := instant(m)
			wall := func(u time.Time) Moment { return NewDate(u.Date()).At(Clock(u.Hour()*60 + u.Minute())) }
			for _, shift := range []time.Duration{-time.Hour, -time.Hour / 2, time.Hour / 2, time.Hour} {
				if wall(u.Add(shift)) == m {
					return false // twice
				}
			}
			return wall(u) == m
		})
		a, b := once.Draw(t, "a"), once.Draw(t, "b")
		want := int(instant(b).Sub(instant(a)) / time.Minute)
		if got := g.ElapsedMinutes(a, b); got != want {
			t.Fatalf("%s: from %v to %v %d minutes pass, want %d", zone, a, b, got, want)
		}
		if got := g.Elapsed(a, want); got != b && g.ElapsedMinutes(got, b) != 0 {
			t.Fatalf("%s: %d minutes after %v is %v, want %v", zone, want, a, got, b)
		}
	})
}

// A wait of n is met from Elapsed on and not before, minute by minute over all the
// clock changes of two years; later moments never mean earlier instants.
func TestElapsedIsTheFirstMoment(t *testing.T) {
	changes := 0
	for _, zone := range dstZones {
		g := mustGrid(t, zone, "2017-01-01", "2018-12-31", nil)
		for i := 1; i < len(g.zone.eras); i++ {
			changes++
			edge := Moment(g.zone.eras[i-1].until)
			for m := edge - 200; m < edge+200; m++ {
				if g.ElapsedMinutes(m, m+1) < 0 {
					t.Fatalf("%s: time runs backwards at %v", zone, m)
				}
			}
			for a := edge - 130; a < edge+130; a += 7 {
				for n := 0; n < 200; n++ {
					m := g.Elapsed(a, n)
					if g.ElapsedMinutes(a, m) < n || g.ElapsedMinutes(a, m-1) >= n {
						t.Fatalf("%s: %d minutes after %v is %v, but %d pass till then and %d till the minute before", zone, n, a, m, g.ElapsedMinutes(a, m), g.ElapsedMinutes(a, m-1))
					}
				}
			}
		}
	}
	if changes < 30 {
		t.Errorf("looked at %d clock changes, want at least 30", changes)
	}
}

// Beyond the table of a zone the rule of its last years goes on: the offsets are those
// of package time, up to the last year that a plant file may name.
func TestZoneFarAhead(t *testing.T) {
	for _, name := range []string{"America/Chicago", "Australia/Adelaide", "America/Phoenix", "Europe/Dublin", "Africa/Casablanca", "Asia/Kolkata", "UTC"} {
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		z, err := loadZone(name, date("2036-01-01"), date("2048-12-31"))
		if err != nil {
			t.Fatal(err)
		}
		for d := date("2036-01-01"); d <= date("2048-12-31"); d++ {
			m := d.At(12 * 60)
			at := d.utc()
			want := time.Date(at.Year(), at.Month(), at.Day(), 12, 0, 0, 0, loc).Unix() / 60
			if got := z.instant(m); got != want {
				t.Fatalf("%s: noon of %v is minute %d, want %d", name, d, got, want)
			}
		}
	}
}
