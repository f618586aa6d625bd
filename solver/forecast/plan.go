package forecast

import (
	"cmp"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Unfold lets time run once as everything is most likely: no slip, no overrun. It
// returns what becomes of the plan in force then, as a plan. While that can be
// kept it comes out as it is; what cannot is put off as in every other run. Work that is not over
// within the days looked at is left out. ErrNoPlan without a plan in force.
func Unfold(p *plant.Plant) (*plant.Plan, error) {
	if err := planned(p); err != nil {
		return nil, err
	}
	g, err := gridOf(p)
	if err != nil {
		return nil, err
	}
	m, err := compile(p, g, "", "", &Options{})
	if err != nil {
		return nil, err
	}
	r := newRoom(&m.shop)
	m.once(r, 0, calm)
	return m.plan(r), nil
}

// once is one run.
func (m *model) once(r *room, run int, still *freeze) {
	r.clear()
	m.draw(r, run, still)
	r.run()
}

// plan is what became of the work in the room.
func (m *model) plan(r *room) *plant.Plan {
	plan := &plant.Plan{Plant: m.p.Name, Made: m.p.AsOf, Status: plant.Feasible}
	if m.p.Plan != nil {
		plan.Revision, plan.Program = m.p.Plan.Revision, m.p.Plan.Program
	}
	for i := range m.ops {
		if r.last[i] < 0 || r.last[i] >= m.slots {
			continue
		}
		plan.Stages = append(plan.Stages, m.planned(r, int32(i)))
	}
	slices.SortFunc(plan.Stages, func(x, y plant.Planned) int {
		return cmp.Or(cmp.Compare(x.Truck, y.Truck), cmp.Compare(x.Start, y.Start), cmp.Compare(x.Stage, y.Stage))
	})
	for i := range m.p.Visits {
		v := &m.p.Visits[i]
		if !v.Planned() {
			continue
		}
		out := plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
		for j := range m.titles {
			if ti := &m.titles[j]; ti.visit == v && ti.wish == nil && r.last[j] < m.slots {
				row := m.planned(r, int32(j))
				out.Day, out.Bay, out.Outcome = row.Start.Date(), row.Bay, plant.Moved
				if v.Booking.State == plant.Requested {
					out.Outcome = plant.Placed
				} else if out.Day == v.Booking.Day {
					out.Outcome = plant.Kept
				}
			}
		}
		plan.Visits = append(plan.Visits, out)
	}
	slices.SortFunc(plan.Visits, func(x, y plant.PlannedVisit) int { return cmp.Compare(x.Visit, y.Visit) })
	return plan
}

// planned is the row of an op.
func (m *model) planned(r *room, i int32) plant.Planned {
	o, ti := &m.ops[i], &m.titles[i]
	row := plant.Planned{Truck: ti.truck.ID, Stage: ti.row(), End: r.moment(i)}
	if r.in[i] >= 0 {
		row.Bay = m.p.Bays[r.in[i]].ID
	}
	switch {
	case o.fixed:
		row.Start = running(ti.truck, ti.stage.ID).Started
		row.Hold = row.Start
	case ti.wish != nil:
		row.Start, row.End, _ = both(o.clock, m.ops[o.visit.op].clock, r.begin[i], int(o.likely))
		row.Hold = row.Start
	default:
		row.Start, row.Hold = o.clock.hours.First(r.begin[i]), o.clock.hours.First(r.hold[i])
	}
	return row
}
