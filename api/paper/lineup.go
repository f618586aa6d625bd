package paper

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// LineUp prints the line-up of the floor for a day: who comes to which position
// and when, with how many people, what they want to do and where, and which
// hosts they need; which trucks stand in place before; and which visits were booked
// for the day and are not held on it. Every position of the floor is listed, also
// when nobody comes to it. Days are those of the plant's zone.
func LineUp(p *plant.Plant, day calendar.Date) ([]byte, error) {
	if day == calendar.None {
		return nil, refuse("the line-up is for no day: name one")
	}
	data := struct {
		top
		Visits []guest
		People string
		Before []move // that must be in place before the day
		After  []move // that are put in place on the day
		Not    []string
	}{top: topOf(p, "Floor line-up", inFull(day))}
	g, err := p.Grid(day-1, day+1)
	if err != nil {
		return nil, fmt.Errorf("the line-up: %w", err)
	}
	people, delegations := 0, 0
	for i := range p.Visits {
		v := &p.Visits[i]
		s := stageOf(p, v.Kind)
		if s == nil || p.Plan == nil || !v.Planned() {
			continue
		}
		r := rowOf(p, v.Truck, s.ID)
		if r == nil || day < r.Start.Date() || day > lastDay(r.End) {
			data.Not = append(data.Not, missing(p, v, day)...)
		}
		if r == nil {
			continue
		}
		truck := truckOf(p, v.Truck)
		if r.Bay != "" && r.Hold < r.Start {
			m := move{truck, bayName(p, r.Bay), atTime(r.Hold), onDay(r.Start.Date()), r.Hold}
			switch {
			case r.Start.Date() == day && r.Hold.Date() < day:
				data.Before = append(data.Before, m)
			case r.Hold.Date() == day:
				data.After = append(data.After, m)
			}
		}
		h, err := p.DepartmentHours(s.Department, g)
		if err != nil {
			return nil, fmt.Errorf("the line-up: %w", err)
		}
		from, to, ok := on(h, r, day)
		if !ok {
			continue
		}
		people += v.Heads
		delegations++
		position := "no position"
		if r.Bay != "" {
			position = bayName(p, r.Bay)
		} else if st := p.FindStation(s.Station); st != nil {
			position = "On the line: " + named(st.Name, st.ID)
		}
		days := ""
		if n := int(lastDay(r.End)-r.Start.Date()) + 1; n > 1 {
			days = fmt.Sprintf("%s to %s", onDay(r.Start.Date()), onDay(lastDay(r.End)))
		}
		data.Visits = append(data.Visits, guest{
			Position: position, From: from.String(), To: to.String(), Days: days, Truck: truck, Visit: v.ID, Kind: spoken(v.Kind), State: stateOf(p, v),
			People: count(v.Heads, "person", "people"), Wishes: wishesOf(p, v, s, day), Hosts: crews(p, s.Crews), bay: r.Bay, start: from,
		})
	}
	var free []guest
	for i := range p.Bays {
		b := &p.Bays[i]
		if p.Plan == nil || !showsVisits(p, b) || slices.ContainsFunc(data.Visits, func(g guest) bool { return g.bay == b.ID }) {
			continue
		}
		free = append(free, guest{Position: named(b.Name, b.ID), Free: standsIn(p, b, day), bay: b.ID})
	}
	data.Visits = append(data.Visits, free...)
	order := func(bay string) int { return slices.IndexFunc(p.Bays, func(b plant.Bay) bool { return b.ID == bay }) }
	slices.SortStableFunc(data.Visits, func(a, b guest) int {
		return cmp.Or(cmp.Compare(order(a.bay), order(b.bay)), cmp.Compare(a.start, b.start))
	})
	sooner := func(a, b move) int { return cmp.Compare(a.hold, b.hold) }
	slices.SortStableFunc(data.Before, sooner)
	slices.SortStableFunc(data.After, sooner)
	data.People = "Nobody comes."
	if delegations > 0 {
		data.People = count(delegations, "delegation", "delegations") + ", " + count(people, "person", "people") + "."
	}
	return print("lineup", data)
}

// A guest is a delegation at its position, or a position without one.
type guest struct {
	Position, Free     string // Free: why nobody is there
	From, To, Days     string
	Truck              truckLine
	Visit, Kind, State string
	People, Hosts      string
	Wishes             []wishLine
	bay                string
	start              calendar.Clock
}

// A move is a truck that is put in place for a visit.
type move struct {
	Truck     truckLine
	Position  string
	When, For string
	hold      calendar.Moment
}

// showsVisits reports whether a bay is there for delegations, and for no work of
// the plant.
func showsVisits(p *plant.Plant, b *plant.Bay) bool {
	uses := func(visit bool) bool {
		return slices.ContainsFunc(p.Route, func(s plant.Stage) bool {
			return (s.Visit != "") == visit && s.Bay != "" && slices.Contains(b.Kinds, s.Bay)
		})
	}
	return uses(true) && !uses(false)
}

// standsIn says what is in a bay on a day on which nobody visits it.
func standsIn(p *plant.Plant, b *plant.Bay, day calendar.Date) string {
	for _, c := range b.Closures {
		if c.Contains(day) {
			return "Closed. " + fit(c.Reason)
		}
	}
	for i := range p.Plan.Stages {
		if r := &p.Plan.Stages[i]; r.Bay == b.ID && r.Hold.Date() <= day && day <= lastDay(r.End) {
			return "Nobody comes; " + r.Truck + " stands here."
		}
	}
	return "Free."
}

// missing says that a visit was booked for the day and is not held on it.
func missing(p *plant.Plant, v *plant.Visit, day calendar.Date) []string {
	o := outcomeOf(p, v.ID)
	if v.Booking.Day != day || o == nil {
		return nil
	}
	t := truckOf(p, v.Truck)
	now := "is held on no day"
	if o.Day != calendar.None {
		now = "is held on " + onDay(o.Day)
	}
	return []string{fmt.Sprintf("%s, truck %s, %s: by this plan the visit %s. Ask the coordinator whether they know.", t.Customer, t.ID, count(v.Heads, "person", "people"), now)}
}
