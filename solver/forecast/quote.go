package forecast

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Quote says when a would-be order is likely to be delivered.
type Quote struct {
	Basis
	Enters    calendar.Date // day on which it enters the line; calendar.None: it is on it or past it
	LineOff   Span
	Ready     Span          // first day for the visit, by certificates, buffer and the work before it; without a visit empty
	Booked    calendar.Date // day for which the visit is taken to be booked: the first for which the truck is ready in 80 % of the first runs, that its windows allow, and on which the plan in force leaves room
	Outside   bool          // no day of its windows is late enough: Booked lies outside
	Visit     Span
	Held      Chance // that the visit takes place on Booked
	Delivery  Span
	Delivered []Arrivals  // each day on which some run delivers, in order; runs past the days looked at are in none
	Window    plant.Range // days to tell the customer: from that of 50 % to that of 80 %; From calendar.None: none
	Earlier   []Variant   // what would change the day, those that gain most first
	Drivers   []Driver    // what the uncertainty comes of, the largest first
	Sampled   int         // runs behind Earlier and Drivers: the first so many
}

// A Span tells the days on or before which something happens with a chance; calendar.None:
// not within the days looked at.
type Span struct {
	Earliest      calendar.Date // in the luckiest run
	P50, P80, P95 calendar.Date
}

// Arrivals is in how many of the runs something has happened by the end of a day.
type Arrivals struct {
	Day  calendar.Date
	Runs int // on it and before
}

// A Variant is another way to fill the order, seen in the same luck.
type Variant struct {
	Kind    string  // VariantSlot or VariantSaturdays
	Name    string  // for people
	Dollars int64   // what it costs by the price list
	Days    float64 // by which delivery is earlier in the mean, in calendar days; negative: later
	Error   float64 // standard error of Days
	P80     calendar.Date
	PerDay  float64 // dollars for a day; 0 where nothing is gained
}

// Kinds of variant.
const (
	VariantSlot      = "slot"
	VariantSaturdays = "saturdays"
)

// A Driver is a part of chance. Share is by how much the variance of the day of delivery
// falls when this part alone goes as planned (and everything else as it does), of 1.
// Parts act together, so shares need not sum to 1.
type Driver struct {
	Name  string
	Share float64
}

// sampled is how many runs stand behind variants, drivers and the day of the visit.
const sampled = 500

// Quoted simulates the plant with a would-be order in it, which takes only room that
// everybody else leaves. Without a place on the line it takes the first free slot for its
// content. The visit is part of the order if it names its truck. ErrNoPlan without a plan
// in force, plant.ErrNoSlot without a place on the line.
func Quoted(ctx context.Context, p *plant.Plant, t plant.Truck, v plant.Visit, o Options) (*Quote, error) {
	if err := planned(p); err != nil {
		return nil, err
	}
	if p.FindTruck(t.ID) != nil {
		return nil, fmt.Errorf("there is a truck %s in the plant already: give the would-be order a number of its own", t.ID)
	}
	b, err := book(p, t, v, &o)
	if err != nil {
		return nil, err
	}
	runs := o.runs()
	first := min(sampled, runs)
	part := func(from int) *Options {
		return &Options{Workers: o.Workers, Report: func(done, _ int) {
			if o.Report != nil {
				o.Report(from+done, first+runs)
			}
		}}
	}
	if err := b.agree(ctx, part(0), first); err != nil {
		return nil, err
	}
	if err := b.simulate(ctx, part(first), runs, first); err != nil {
		return nil, err
	}
	q := b.quote(runs, first)
	q.Basis = b.base.basis(&o)
	return q, nil
}

// quote reads the answer off the samples.
func (b *bid) quote(runs, first int) *Quote {
	main := b.orders[0]
	q := &Quote{Enters: main.enters, Booked: calendar.None, Outside: main.outside, Sampled: first, Drivers: b.drivers(first)}
	q.LineOff = main.span(b.off.sorted(0))
	if main.visit >= 0 {
		q.Ready = main.span(main.ready.sorted(0))
		if s := main.ops[main.visit].planStart; s >= 0 {
			q.Booked = main.date(s / main.parts)
			q.Held = chanceOf(b.held.equal(0, s/main.parts), runs)
		}
		q.Visit = main.span(b.held.sorted(0))
	} else {
		q.Ready, q.Visit = nowhere, nowhere
	}
	for _, x := range b.orders[1:] {
		if v := x.against(main, first); v.Kind == VariantSlot || v.Days > max(2*v.Error, leastGain) {
			q.Earlier = append(q.Earlier, v)
		}
	}
	slices.SortStableFunc(q.Earlier, func(a, b Variant) int { return cmp.Compare(b.Days, a.Days) })
	delivered := main.delivered.sorted(0)
	q.Delivery, q.Delivered = main.span(delivered), main.arrivals(delivered)
	q.Window = plant.Range{From: q.Delivery.P50, Through: q.Delivery.P80}
	return q
}

// leastGain is how many days a variant gains at least to be told.
const leastGain = 0.1

var nowhere = Span{calendar.None, calendar.None, calendar.None, calendar.None}

// span reads days off a sorted sample.
func (m *model) span(days []int32) Span {
	return Span{m.dated(days[0]), m.dated(rank(days, 0.50)), m.dated(rank(days, 0.80)), m.dated(rank(days, 0.95))}
}

// arrivals counts a sorted sample up by days.
func (m *model) arrivals(days []int32) (list []Arrivals) {
	for i, d := range days {
		if last := i+1 == len(days) || days[i+1] != d; last && m.dated(d) != calendar.None {
			list = append(list, Arrivals{m.dated(d), i + 1})
		}
	}
	return list
}

// against compares a variant with the order as it is, run by run.
func (x *order) against(main *order, runs int) Variant {
	v := x.Variant
	var gains []float64
	dollars := 0.0
	for run := range runs {
		gains = append(gains, float64(main.delivered.of(0)[run]-x.delivered.of(0)[run]))
		dollars += float64(x.spent.of(0)[run])
	}
	mean, variance := moments(gains)
	v.Days, v.Error = mean, math.Sqrt(variance/float64(runs))
	v.Dollars = int64(math.Round(dollars / float64(runs)))
	if v.Days > 0 {
		v.PerDay = float64(v.Dollars) / v.Days
	}
	v.P80 = x.dated(rank(x.delivered.sorted(0), 0.80))
	return v
}

// drivers compares the variance of the first runs with that without one part of chance.
func (b *bid) drivers(runs int) (list []Driver) {
	variance := func(days []int32) float64 {
		x := make([]float64, runs)
		for i := range x {
			x[i] = float64(days[i])
		}
		_, v := moments(x)
		return v
	}
	all := variance(b.orders[0].delivered.of(0))
	if all == 0 {
		return nil
	}
	for k, p := range b.parts {
		if share := 1 - variance(b.frozen.of(k))/all; share >= leastShare {
			list = append(list, Driver{p.name, share})
		}
	}
	slices.SortStableFunc(list, func(x, y Driver) int { return cmp.Compare(y.Share, x.Share) })
	return list
}

// leastShare is the share from which on a driver is told.
const leastShare = 0.01

// moments are the mean and the variance of a sample.
func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		variance += (v - mean) * (v - mean)
	}
	return mean, variance / float64(max(1, len(x)-1))
}
