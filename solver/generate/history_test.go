package generate

import (
	"math"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/history"
)

// Slips follow the law that is given with them: the chance of what came, halved
// between less and no more, is even between 0 and 1, in the mean and in its tenths
// within four standard errors of the trucks. The first projections only, which
// depend on nothing.
func TestHistory_Truth(t *testing.T) {
	for _, o := range []HistoryOptions{{Trucks: 2000, Seed: 1}, {Trucks: 2000, Seed: 2, Drift: 0.2, Lead: 0.8}} {
		events, truth := History(o)
		days := history.Weekdays{}
		for _, what := range []string{history.LineOff, history.Delivery} {
			seen := map[string]bool{}
			n, open, sum, tenths := 0.0, 0, 0.0, make([]float64, 10)
			for _, e := range events {
				if e.What != what || e.Said > historyThrough-700 || seen[e.Truck] {
					continue // many later ones are open
				}
				seen[e.Truck] = true
				slip, lead := days.Between(e.Projected, e.Actual), days.Between(e.Said, e.Projected)
				if e.Actual == calendar.None {
					if open++; e.Owner != "" {
						t.Errorf("%s is open, and on the clock of %s", e.Truck, e.Owner)
					}
					slip = days.Between(e.Projected, historyThrough)
				}
				p := func(slip int) float64 {
					return truth.CDF(e.What, e.Kind, e.Content, e.Owner, lead, e.Said, slip)
				}
				low, high := p(slip-1), p(slip)
				if e.Actual == calendar.None {
					high = 1 // so late, or later
				}
				n++
				sum += (low + high) / 2
				for k := range tenths { // the part of the step that lies in this tenth
					from, to := max(low, float64(k)/10), min(high, float64(k+1)/10)
					if to > from {
						tenths[k] += (to - from) / (high - low)
					}
				}
			}
			if n < 1000 || open > 10 {
				t.Fatalf("%v trucks, %d of them open after more than a year", n, open)
			}
			if math.Abs(sum/n-0.5) > 4*math.Sqrt(1.0/12/n) {
				t.Errorf("%+v, %s: mean chance %v", o, what, sum/n)
			}
			for k, c := range tenths {
				if math.Abs(c/n-0.1) > 4*math.Sqrt(0.09/n) {
					t.Errorf("%+v, %s: tenth %d has %.3f", o, what, k, c/n)
				}
			}
		}
	}
}

// Equal options give equal histories; nothing in them comes after the day on which
// they are told; no truck is told of twice on a day.
func TestHistory_Rows(t *testing.T) {
	o := HistoryOptions{Trucks: 300, Seed: 4}
	events, _ := History(o)
	again, _ := History(o)
	other, _ := History(HistoryOptions{Trucks: 300, Seed: 5})
	if !slices.Equal(events, again) || slices.Equal(events, other) {
		t.Error("histories do not follow their seed")
	}
	type row struct {
		truck, what string
		said        calendar.Date
	}
	seen := map[row]bool{}
	open := 0
	for _, e := range events {
		r := row{e.Truck, e.What, e.Said}
		if seen[r] {
			t.Errorf("%+v is there twice", r)
		}
		seen[r] = true
		if e.Actual == calendar.None {
			open++
		}
		if e.Said >= historyThrough || e.Actual >= historyThrough || e.Actual != calendar.None && e.Actual < e.Said {
			t.Errorf("%+v: days in the wrong order", e)
		}
	}
	if open == 0 {
		t.Error("nothing is to come")
	}
	for _, bad := range []HistoryOptions{{}, {Trucks: MaxHistory + 1}, {Trucks: 1, Drift: math.NaN()}, {Trucks: 1, Drift: -1}, {Trucks: 1, Lead: 2}} {
		if bad.Check() == nil {
			t.Errorf("%+v is taken", bad)
		}
	}
}
