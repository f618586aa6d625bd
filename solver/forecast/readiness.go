package forecast

import (
	"context"
	"fmt"
	"math"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// SafeShare is the chance from which on a visit counts as safe. Common practice, no
// source.
const SafeShare = 0.80

// InHundred rounds a share of runs to hundredths for people. Above 99 it is 100, to be told as "more than 99", and below
// 1 it is 0, since no number of runs proves that something is certain. A share that is not safe does not read as if it were.
func InHundred(share float64) int {
	n := int(math.Round(100 * share))
	if share < SafeShare {
		n = min(n, int(math.Round(100*SafeShare))-1)
	}
	return n
}

// Confidence is the level of every interval given.
const Confidence = 0.95

// A Chance is the share of runs in which something came true.
type Chance struct {
	Share     float64
	Error     float64 // standard error: from the number of runs alone
	Low, High float64 // interval of Wilson at Confidence: from the number of runs alone
}

func chanceOf(n, runs int) Chance {
	share := float64(n) / float64(runs)
	i := chance.Wilson(share, float64(runs), Confidence)
	return Chance{share, math.Sqrt(share * (1 - share) / float64(runs)), i.Low, i.High}
}

// A Basis is what an answer rests on. With the plant of that revision, the same seed and runs give
// the same answer, byte for byte.
type Basis struct {
	Revision    int // of the plan in force
	Runs        int
	Seed        uint64
	Assumptions []string
}

// basis says what answers of the model rest on, and whether the plan in force still holds.
func (m *model) basis(o *Options) Basis {
	b := Basis{m.p.Plan.Revision, o.runs(), o.Seed, o.Laws.assumptions()}
	r := newRoom(&m.shop)
	m.once(r, 0, calm)
	late := 0
	for i := range m.ops {
		if s := m.ops[i].planStart; s >= 0 && !m.ops[i].wish && r.begin[i] != s {
			late++
		}
	}
	if late > 0 {
		stages := "stages come"
		if late == 1 {
			stages = "stage comes"
		}
		b.Assumptions = slices.Insert(b.Assumptions, 0, fmt.Sprintf(
			"The plan in force does not hold any more: even without chance %d of its %s at another time. Plan again, and ask again, for the chances of a plan that holds.", late, stages))
	}
	return b
}

// Odds are the chances of the visits and deliveries of a plant.
type Odds struct {
	Basis
	Visits     []VisitOdds    // in order of days, then of numbers
	Deliveries []DeliveryOdds // in order of trucks
}

// VisitOdds are the chances of one visit.
type VisitOdds struct {
	Visit, Truck string
	State        string        // of the booking
	Day          calendar.Date // by the plan in force, else as booked; calendar.None: neither
	Certified    Chance        // that all certificates are in hand with the buffer before Day
	Ready        Chance        // that, and all other work before the visit is done in time for the truck to take its place
	Held         Chance        // that the visit takes place on Day: it is ready, and no other visit is in its place
	SafeFrom     calendar.Date // first day whose Ready is SafeShare or more; calendar.None: not within the days looked at
	Unsafe       bool          // the booking is tentative or confirmed, and Ready is less than SafeShare
}

// DeliveryOdds are the days of one delivery. A day is that on which the truck is delivered
// or has been, with the chance named; calendar.None: not within the days looked at.
type DeliveryOdds struct {
	Truck         string
	Planned       calendar.Date // by the plan in force
	Due           calendar.Date
	P50, P80, P95 calendar.Date
	OnTime        Chance // not after Due
}

// Readiness simulates the plant and says how likely its visits and deliveries are. ErrNoPlan without a
// plan in force.
func Readiness(ctx context.Context, p *plant.Plant, o Options) (*Odds, error) {
	if err := planned(p); err != nil {
		return nil, err
	}
	g, err := gridOf(p)
	if err != nil {
		return nil, err
	}
	m, err := compile(p, g, "", "", &o)
	if err != nil {
		return nil, err
	}
	runs := o.runs()
	var visits, trucks []int32
	for i := range m.titles {
		switch ti := &m.titles[i]; {
		case ti.visit != nil && ti.wish == nil && !m.ops[i].fixed:
			visits = append(visits, int32(i))
		case ti.stage.Delivers:
			trucks = append(trucks, int32(i))
		}
	}
	sure, ready, held, delivered := newSample(len(visits), runs), newSample(len(visits), runs), newSample(len(visits), runs), newSample(len(trucks), runs)
	err = each(ctx, &o, runs, func() func(int) {
		r := newRoom(&m.shop)
		return func(run int) {
			m.once(r, run, free)
			for k, i := range visits {
				sure.put(k, run, r.sure[i])
				ready.put(k, run, r.ready[i])
				held.put(k, run, r.begin[i]/m.parts)
			}
			for k, i := range trucks {
				delivered.put(k, run, r.last[i]/m.parts)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	odds := &Odds{Basis: m.basis(&o)}
	for k, i := range visits {
		v := m.titles[i].visit
		x := VisitOdds{Visit: v.ID, Truck: v.Truck, State: v.Booking.State, Day: p.Plan.Day(v.ID)}
		if x.Day == calendar.None {
			x.Day = v.Booking.Day
		}
		day := m.dayOf(x.Day)
		x.Held = chanceOf(held.equal(k, day), runs)
		x.Certified = chanceOf(upTo(sure.sorted(k), day), runs)
		days := ready.sorted(k)
		x.Ready = chanceOf(upTo(days, day), runs)
		x.SafeFrom = m.onWork(&m.ops[i], rank(days, SafeShare))
		x.Unsafe = x.State != plant.Requested && x.Ready.Share < SafeShare
		odds.Visits = append(odds.Visits, x)
	}
	for k, i := range trucks {
		t := m.titles[i].truck
		x := DeliveryOdds{Truck: t.ID, Planned: calendar.None, Due: t.Contract.Due}
		for _, row := range p.Plan.Stages {
			if row.Truck == t.ID && row.Stage == m.titles[i].row() {
				x.Planned = (row.End - 1).Date()
			}
		}
		days := delivered.sorted(k)
		x.P50, x.P80, x.P95 = m.dated(rank(days, 0.50)), m.dated(rank(days, 0.80)), m.dated(rank(days, 0.95))
		x.OnTime = chanceOf(upTo(days, m.dayOf(x.Due)), runs)
		odds.Deliveries = append(odds.Deliveries, x)
	}
	slices.SortStableFunc(odds.Visits, func(a, b VisitOdds) int { return int(a.Day) - int(b.Day) })
	return odds, nil
}

// dayOf is the day of the grid, -1 for none.
func (m *model) dayOf(d calendar.Date) int32 {
	if d == calendar.None {
		return -1
	}
	return int32(d - m.grid.From())
}

// dated is the date of a day of the grid, calendar.None past its end.
func (m *model) dated(day int32) calendar.Date {
	if day >= m.shop.days {
		return calendar.None
	}
	return m.date(day)
}

// onWork is the first day from that one on on which the department of the op works.
func (m *model) onWork(o *op, day int32) calendar.Date {
	if day >= m.shop.days {
		return calendar.None
	}
	s := o.clock.hours.Next(day * m.parts)
	if s >= m.slots {
		return calendar.None
	}
	return m.grid.Date(s)
}

// A sample holds a day for each of several outcomes in every run.
type sample struct {
	runs int
	days []int32
}

func newSample(outcomes, runs int) *sample { return &sample{runs, make([]int32, outcomes*runs)} }

func (s *sample) put(outcome, run int, day int32) { s.days[outcome*s.runs+run] = day }

func (s *sample) of(outcome int) []int32 { return s.days[outcome*s.runs:][:s.runs] }

// sorted sorts the days of an outcome, which then no longer belong to runs.
func (s *sample) sorted(outcome int) []int32 {
	days := s.of(outcome)
	slices.Sort(days)
	return days
}

// equal counts the runs with that day.
func (s *sample) equal(outcome int, day int32) (n int) {
	for _, d := range s.of(outcome) {
		if d == day {
			n++
		}
	}
	return n
}

// upTo counts the sorted days up to one, which counts.
func upTo(days []int32, day int32) int {
	n, _ := slices.BinarySearch(days, day+1)
	return n
}

// rank is the nearest rank of a share of sorted days: the first day on or before which so many of
// them lie.
func rank(days []int32, share float64) int32 {
	return days[max(1, int(math.Ceil((share-1e-9)*float64(len(days)))))-1]
}

// For returns the odds of a visit; an error that names what is there if it has none.
func (o *Odds) For(visit string) (*VisitOdds, error) {
	for i := range o.Visits {
		if o.Visits[i].Visit == visit {
			return &o.Visits[i], nil
		}
	}
	return nil, fmt.Errorf("visit %s has not still to take place: ask for one that has", visit)
}
