package api_test

import (
	"testing"
	"time"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/forecast"
)

// TestVisitChances compares the chances of days with package forecast, and looks that they are
// those of the newest revision.
func TestVisitChances(t *testing.T) {
	a := started(t, demoPlant(t))
	const visit = "H1015-F"
	c, err := a.VisitChances(ctx, who(api.RoleReader), visit)
	if err != nil {
		t.Fatal(err)
	}
	s := newest(t, a)
	want, err := forecast.Visiting(ctx, s.Plant, visit, forecast.Options{Runs: 2000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if c.Revision != s.Revision.Number || c.SafeFrom != want.SafeFrom || c.SafeFrom == calendar.None || c.Day != s.Plant.Plan.Day(visit) {
		t.Errorf("revision %d, safe from %s, want %s, planned on %s", c.Revision, c.SafeFrom, want.SafeFrom, c.Day)
	}
	last := 0.0
	for _, d := range c.Days {
		if d.Chance != want.On(d.Day) || d.Chance.Share < last {
			t.Errorf("on %s: %+v, want %+v", d.Day, d.Chance, want.On(d.Day))
		}
		if w := d.Day.Weekday(); w == time.Saturday || w == time.Sunday {
			t.Errorf("%s is no working day", d.Day)
		}
		if (d.Chance.Share >= forecast.SafeShare) != (d.Day >= c.SafeFrom) {
			t.Errorf("safe from %s, and %v on %s", c.SafeFrom, d.Chance.Share, d.Day)
		}
		last = d.Chance.Share
	}
	if n := len(c.Days); n == 0 || c.Days[0].Day != s.Plant.AsOf.Date() || c.Days[n-1].Day > max(c.SafeFrom, c.Day)+14 || c.Days[n-1].Day < c.SafeFrom {
		t.Errorf("%d days", n)
	}
	if again, err := a.VisitChances(ctx, manager, visit); err != nil || again != c {
		t.Errorf("the same question is worked out twice: %v", err)
	}
	lineOff(t, a, "H1019", march(19))
	if later, err := a.VisitChances(ctx, manager, visit); err != nil || later.Revision != c.Revision+1 {
		t.Errorf("after a change: %+v, %v", later, err)
	}
	if _, err := a.VisitChances(ctx, manager, "H1015-X"); problem(t, err) != api.NotFound {
		t.Errorf("a visit that is none: %v", err)
	}
	over := ""
	for i := range s.Plant.Visits {
		if v := &s.Plant.Visits[i]; !v.Planned() {
			over = v.ID
		}
	}
	if over != "" {
		if _, err := a.VisitChances(ctx, manager, over); problem(t, err) != api.Conflict {
			t.Errorf("a visit that is over: %v", err)
		}
	}
}
