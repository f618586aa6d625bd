package generate

import (
	"fmt"
	"math/rand/v2"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Options say what plant to make.
type Options struct {
	Trucks int     // shop orders in the file, at least 1
	Seed   uint64  // equal seeds give equal plants
	Load   float64 // how busy the tightest bays and crews are in the busy weeks; 1 is all of their time. See MinLoad, MaxLoad
	Slips  bool    // with slips to answer
	Halls  int     // halls, each with its own bays and floor positions; 0 or 1: one hall. See MaxHalls

	LinedUp bool // also with trucks that stand lined up since Friday for a visit from now on
}

// Limits of the options.
const (
	MaxTrucks = 2000
	MaxHalls  = 8
	hallLeast = 10 // trucks for each of several halls
	MinLoad   = 0.3
	MaxLoad   = 1.2
)

// Check returns an error that says which option cannot be had, and what can.
func (o Options) Check() error {
	switch {
	case o.Trucks < 1 || o.Trucks > MaxTrucks:
		return fmt.Errorf("%d trucks cannot be generated: ask for 1 to %d", o.Trucks, MaxTrucks)
	case o.Halls < 0 || o.Halls > MaxHalls:
		return fmt.Errorf("%d halls cannot be generated: ask for 1 to %d", o.Halls, MaxHalls)
	case o.Halls > 1 && o.Trucks < hallLeast*o.Halls:
		return fmt.Errorf("%d trucks are too few for %d halls: ask for %d trucks or more, or for fewer halls", o.Trucks, o.Halls, hallLeast*o.Halls)
	case !(o.Load >= MinLoad && o.Load <= MaxLoad):
		return fmt.Errorf("a load of %g cannot be generated: ask for %g to %g, such as 0.9", o.Load, MinLoad, MaxLoad)
	}
	return nil
}

// asOf is the moment every generated plant speaks of: a Monday before work.
// A visit never runs over a weekend, so none is under way then.
var asOf = calendar.NewDate(2027, time.March, 1).At(6 * 60)

// Streams of random numbers: one for each step, so that a change in one leaves
// the others alone.
const (
	streamOrders = iota + 1
	streamLine
	streamState
	streamBookings
	streamContracts
	streamSlips
)

func (o Options) random(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(o.Seed, stream)) }

// Generate makes a plant. The options must pass Check.
func Generate(o Options) *plant.Plant {
	p, w, jobs := start(o)
	number(p, jobs)
	w.state(jobs, o.random(streamState))
	w.book(jobs, o.random(streamBookings))
	promise(jobs, o.random(streamContracts))
	deliver(p, jobs)
	if o.Slips {
		p.Slips = slips(p, o.random(streamSlips))
	}
	return p
}

// start makes the house and runs the orders through it.
func start(o Options) (*plant.Plant, *shop, []*job) {
	halls := max(1, o.Halls)
	week := pace((o.Trucks+halls-1)/halls) * float64(halls)
	weeks := float64(o.Trucks) / week
	p := &plant.Plant{
		Format: plant.FormatVersion,
		Name:   "Pellanmere Apparatus Works",
		Zone:   "America/Chicago",
		AsOf:   asOf,
		Horizon: plant.Range{
			From:    asOf.Date() - pastWeeks*7,
			Through: asOf.Date() + calendar.Date(7*(weeks*(1+max(0, o.Load-0.8))+queueWeeks)),
		},
		Parts:    plant.DefaultParts(),
		Route:    plant.DefaultRoute(),
		Wishes:   plant.DefaultWishes(),
		Notice:   plant.DefaultNotice(),
		Measures: plant.DefaultMeasures(),
		Prices:   plant.DefaultPrices(),
		Buffer:   plant.DefaultBuffer(),
	}
	addCalendars(p)
	jobs := draw(p, o, o.Trucks+int(week*pastWeeks)+1)
	week = addHouse(p, jobs, hallNames(o.Halls), week, o.Load)
	jobs = runLine(p, o, jobs, week)
	w := openShop(p)
	w.linedUp = o.LinedUp
	return p, w, w.runAll(jobs, o.Trucks)
}

// The run begins so long before now that the shop is full by now, and may need
// so long after the last line-off.
const (
	pastWeeks  = 12
	queueWeeks = 40
)

// hallNames returns the features by which trucks and bays belong together, none for
// one hall.
func hallNames(halls int) (list []string) {
	for i := range halls {
		list = append(list, fmt.Sprintf("hall_%d", i+1))
	}
	if halls < 2 {
		return nil
	}
	return list
}

// pace returns the trucks that come off the line in a week for one hall: two to three on a
// working day; fewer for a file of few trucks, so that some are still to come;
// more for one of very many, so that they come within two years.
func pace(trucks int) float64 { return max(min(12.5, float64(trucks)/9), float64(trucks)/80) }
