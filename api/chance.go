package api

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// VisitChances say how likely a truck is ready for its visit on each day.
type VisitChances struct {
	Revision int64 // of the plant
	Visit    string
	Truck    string
	State    string        // of the booking
	Day      calendar.Date // by the plan in force; calendar.None: none
	forecast.Basis
	SafeFrom calendar.Date // first day whose chance is forecast.SafeShare or more; calendar.None: not within the days looked at
	Days     []DayChance   // working days of the visit's department, in their order
}

// A DayChance is the chance that the truck is ready for its visit on a day.
type DayChance struct {
	Day    calendar.Date
	Chance forecast.Chance
}

// daysPast is how many days are told after the last that matters.
const daysPast = 14

// chances of single visits, by visit, as they were worked out for a mark.
type chances struct {
	mu   sync.Mutex
	mark Mark
	of   map[string]*VisitChances
}

func (c *chances) get(m Mark, visit string) *VisitChances {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.mark != m {
		return nil
	}
	return c.of[visit]
}

func (c *chances) set(m Mark, v *VisitChances) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.mark != m {
		c.mark, c.of = m, map[string]*VisitChances{}
	}
	c.of[v.Visit] = v
}

// VisitChances works out how likely the truck of a visit is ready for it on each day from
// today to two weeks after the day on which it is safe, and after the day that the plan has
// for it; at most to the end of the horizon. The times that the plan in force has for this
// truck are left aside. What comes back is shared: nothing in it may be changed.
func (a *App) VisitChances(ctx context.Context, who Actor, visit string) (*VisitChances, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var s *State
	var mark Mark
	var known *VisitChances
	look := func(tx Tx) (err error) {
		if s, mark, err = a.plannedIn(tx); err == nil {
			known = a.chances.get(mark, visit)
		}
		return err
	}
	if err := a.store.View(ctx, look); err != nil || known != nil { // what is known waits for nobody
		return known, err
	}
	leave, err := place(ctx, a.forecasting, "The chances are being worked out")
	if err != nil {
		return nil, err
	}
	defer leave()
	var facts *plant.Plant
	var o forecast.Options
	err = a.store.View(ctx, func(tx Tx) (err error) {
		if err := look(tx); err != nil || known != nil {
			return err
		}
		facts, o, err = a.simulation(tx, mark, s.Plant)
		return err
	})
	if err != nil || known != nil {
		return known, err
	}
	v := s.Plant.FindVisit(visit)
	switch {
	case v == nil:
		return nil, noSuch("visit", visit, visitNames(s.Plant))
	case !v.Planned():
		return nil, &Problem{Kind: Conflict, Title: "The visit is over", Detail: fmt.Sprintf("Visit %s is %s.", v.ID, spoken(v.Booking.State)), Next: "Ask for one that has still to take place."}
	}
	d, err := forecast.Visiting(ctx, facts, visit, o)
	if errors.Is(err, forecast.ErrUnderWay) {
		return nil, &Problem{Kind: Conflict, Title: "The visit is under way", Detail: sentence(err.Error()), Next: "Ask for one that has still to begin."}
	}
	if err != nil {
		return nil, err
	}
	c := &VisitChances{Revision: mark.Revision, Visit: v.ID, Truck: v.Truck, State: v.Booking.State, Day: s.Plant.Plan.Day(v.ID), Basis: d.Basis, SafeFrom: d.SafeFrom}
	if err := c.days(s.Plant, v, d); err != nil {
		return nil, err
	}
	a.chances.set(mark, c)
	return c, nil
}

// days fills in the chances of days.
func (c *VisitChances) days(p *plant.Plant, v *plant.Visit, d *forecast.Days) error {
	from, through := p.AsOf.Date(), p.Horizon.Through
	if c.SafeFrom != calendar.None {
		through = min(through, max(c.SafeFrom, c.Day, v.Booking.Day).AddDays(daysPast))
	}
	g, err := p.Grid(from, max(from, through))
	if err != nil {
		return err
	}
	department := ""
	for i := range p.Route {
		if s := &p.Route[i]; s.Visit == v.Kind {
			department = s.Department
		}
	}
	hours, err := p.DepartmentHours(department, g)
	if err != nil {
		return err
	}
	for day := from; day <= through; day++ {
		if hours.WorksDay(day) {
			c.Days = append(c.Days, DayChance{day, d.On(day)})
		}
	}
	return nil
}
