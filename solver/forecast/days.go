package forecast

import (
	"context"
	"errors"
	"fmt"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Days are the chances of days for one visit.
type Days struct {
	Basis
	Visit    string
	SafeFrom calendar.Date // first day whose chance is SafeShare or more; calendar.None: not within the days looked at

	from calendar.Date
	days []int32 // sorted
}

// On is the chance that the truck is ready for a visit on the day: all certificates in hand
// with the buffer before it, and all other work before the visit done.
func (d *Days) On(day calendar.Date) Chance {
	return chanceOf(upTo(d.days, int32(day-d.from)), len(d.days))
}

// ErrUnderWay is returned for the days of a visit that has begun: there are no others.
var ErrUnderWay = errors.New("the visit is under way")

// Visiting says how likely a truck is ready for its visit on each day, if it is worked on as soon as
// there is room beside the plan in force, whose times for this truck alone are left
// aside. ErrNoPlan without a plan in force, ErrUnderWay when it has begun.
func Visiting(ctx context.Context, p *plant.Plant, visit string, o Options) (*Days, error) {
	if err := planned(p); err != nil {
		return nil, err
	}
	v := p.FindVisit(visit)
	if v == nil || !v.Planned() {
		return nil, fmt.Errorf("visit %s has not still to take place: ask for one that has", visit)
	}
	g, err := gridOf(p)
	if err != nil {
		return nil, err
	}
	m, err := compile(p, g, "", v.Truck, &o)
	if err != nil {
		return nil, err
	}
	for _, r := range p.FindTruck(v.Truck).Running {
		if s := p.FindStage(r.Stage); s != nil && s.Visit == v.Kind {
			return nil, fmt.Errorf("%w: visit %s began on %s", ErrUnderWay, v.ID, r.Started.Date())
		}
	}
	at := m.visitOf(v)
	if at < 0 {
		return nil, fmt.Errorf("the route has no %s visit for truck %s: add the stage, or cancel visit %s", v.Kind, v.Truck, v.ID)
	}
	runs := o.runs()
	ready := newSample(1, runs)
	err = each(ctx, &o, runs, func() func(int) {
		r := newRoom(&m.shop)
		return func(run int) {
			m.once(r, run, free)
			ready.put(0, run, r.ready[at])
		}
	})
	if err != nil {
		return nil, err
	}
	d := &Days{Basis: m.basis(&o), Visit: v.ID, from: g.From(), days: ready.sorted(0)}
	d.SafeFrom = m.onWork(&m.ops[at], rank(d.days, SafeShare))
	return d, nil
}

// visitOf is the op of a visit, -1 if it has none.
func (m *model) visitOf(v *plant.Visit) int32 {
	for i := range m.titles {
		if ti := &m.titles[i]; ti.visit != nil && ti.visit.ID == v.ID && ti.wish == nil {
			return int32(i)
		}
	}
	return -1
}
