package forecast

import (
	"fmt"
	"math"
	"testing"
	"time"

	"wetdown/calendar"
)

// A queue is a shop with nothing but customers who wait for one of some servers, minute by
// minute, first come first served.
type queue struct {
	name     string
	servers  int
	byCrew   bool // servers are heads of a crew, not bays
	fixed    bool // all take equally long
	between  float64
	takes    float64
	expected float64 // mean wait, minutes
}

// The mean waits are textbook formulas, from memory (Kleinrock, Queueing Systems, volume 1):
// M/M/1 rho s / (1 - rho); M/M/c the chance to wait of Erlang's formula C times
// s / (c (1 - rho)); M/D/1 half of M/M/1 (Pollaczek and Khinchine).
func queues() []queue {
	mm1 := func(s, rho float64) float64 { return rho * s / (1 - rho) }
	erlang := func(c int, a float64) float64 { // the chance to wait, a = offered load
		sum, term := 0.0, 1.0
		for k := range c {
			sum += term
			term *= a / float64(k+1)
		}
		last := term * float64(c) / (float64(c) - a)
		return last / (sum + last)
	}
	mmc := func(c int, s, rho float64) float64 {
		return erlang(c, float64(c)*rho) * s / (float64(c) * (1 - rho))
	}
	return []queue{
		{"M/M/1", 1, false, false, 90, 45, mm1(45, 0.5)},
		{"M/M/1, busy", 1, false, false, 60, 42, mm1(42, 0.7)},
		{"M/M/1 by a crew", 1, true, false, 60, 42, mm1(42, 0.7)},
		{"M/M/3", 3, false, false, 40, 84, mmc(3, 84, 0.7)},
		{"M/M/3 by a crew", 3, true, false, 40, 84, mmc(3, 84, 0.7)},
		{"M/M/2, busy", 2, false, false, 40, 60, mmc(2, 60, 0.75)},
		{"M/D/1", 1, false, true, 60, 42, mm1(42, 0.7) / 2},
	}
}

// TestRoom_Queues: the mean wait lies in the 99 % interval of independent runs, which is narrow.
func TestRoom_Queues(t *testing.T) {
	if testing.Short() {
		t.Skip("one goroutine, and minutes with the race detector")
	}
	const customers, early, runs = 900, 200, 400
	for k, q := range queues() {
		t.Run(q.name, func(t *testing.T) {
			s, end := q.shop(t, customers)
			r := newRoom(s)
			var comes, takes []uint64
			for i := range customers {
				comes = append(comes, key(uint64(k), "comes", fmt.Sprint(i)))
				takes = append(takes, key(uint64(k), "takes", fmt.Sprint(i)))
			}
			var means []float64
			for run := range runs {
				at, sum, n := 0.0, 0.0, 0
				for i := range s.ops {
					at += -q.between * math.Log(uniform(run, comes[i]))
					took := q.takes
					if !q.fixed {
						took *= -math.Log(uniform(run, takes[i]))
					}
					s.ops[i].first = min(int32(at), end)
					r.took[i] = max(1, int32(took+0.5))
				}
				r.clear()
				r.run()
				for i := early; i < customers; i++ {
					if r.last[i] >= s.slots {
						t.Fatalf("run %d: the grid is too short", run)
					}
					sum += float64(r.begin[i] - s.ops[i].first)
					n++
				}
				means = append(means, sum/float64(n))
			}
			mean, variance := moments(means)
			half := 2.576 * math.Sqrt(variance/runs)
			t.Logf("mean wait %.2f, expected %.2f, interval of 99 %% +- %.2f", mean, q.expected, half)
			if math.Abs(mean-q.expected) > half {
				t.Errorf("mean wait %.2f +- %.2f, expected %.2f", mean, half, q.expected)
			}
			if half > 0.08*q.expected {
				t.Errorf("the interval of +- %.2f is too wide to tell anything about %.2f", half, q.expected)
			}
		})
	}
}

// shop is the queue as a shop whose slots are minutes, all of them worked.
func (q *queue) shop(t *testing.T, customers int) (*shop, int32) {
	t.Helper()
	var cuts []calendar.Clock
	for m := calendar.Clock(1); m < 24*60; m++ {
		cuts = append(cuts, m)
	}
	from := calendar.NewDate(2027, time.March, 1)
	days := int(float64(customers)*q.between*1.5)/(24*60) + 3
	g, err := calendar.NewGrid("UTC", from, from.AddDays(days), cuts)
	if err != nil {
		t.Fatal(err)
	}
	var week calendar.Week
	for d := range week {
		week[d] = []calendar.Shift{{Span: calendar.Span{From: 0, To: 24 * 60}}}
	}
	h, err := calendar.Compile(g, calendar.Rules{Week: week})
	if err != nil {
		t.Fatal(err)
	}
	s := &shop{slots: g.Slots(), parts: 1, days: g.Slots(), trucks: customers}
	starts := make([]int32, s.slots+1)
	for i := range starts {
		starts[i] = int32(i)
	}
	o := op{clock: newClock(h), starts: starts, likely: 1, planStart: -1, planHold: -1, planBay: -1}
	if q.byCrew {
		// Heads are asked for over the likely length; what takes longer keeps them.
		o.needs = []need{{0, 1}}
		for range s.slots {
			s.heads = append(s.heads, int16(q.servers))
		}
		s.spare = s.heads
		s.trucks = 1
	} else {
		s.width, s.bays = words(s.slots), q.servers
		s.shut = make([]uint64, s.bays*s.width)
		s.taken = make([]uint64, s.bays*s.width)
		s.promised = make([]uint64, s.bays*s.width)
		for b := range q.servers {
			o.able = append(o.able, int32(b))
		}
	}
	for i := range customers {
		if !q.byCrew {
			o.truck = int32(i)
		}
		s.ops = append(s.ops, o)
		s.order = append(s.order, int32(i))
	}
	return s, s.slots - 1
}
