package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Progress is what became of one stage of one truck. With Ended it is done, with
// Started alone it runs, with neither it is open again. With Stands its truck stands in
// Bay, lined up for it, and it has not begun.
type Progress struct {
	Truck, Stage string
	Started      calendar.Moment // calendar.NoMoment: not said
	Ended        calendar.Moment
	Bay          string // in which it runs, or its truck stands
	Stands       bool
	Remaining    int // working minutes that running work still needs; -1: by the estimate
}

// A Report brings the plant up to a moment.
type Report struct {
	AsOf calendar.Moment // from now on nothing new is planned before it; calendar.NoMoment: the plant's moment stays
	// AsPlanned takes all work that the plan in force has before AsOf as done and running,
	// but for what the rows say.
	AsPlanned bool
	Rows      []Progress
}

// ReportProgress keeps what has been done. A moment before that of the plant is refused:
// what is known is not forgotten.
func (a *App) ReportProgress(ctx context.Context, who Actor, i Intent, r Report) (*State, error) {
	return a.change(ctx, who, ActReport, i, func(s *State) (*next, error) {
		p := *s.Plant
		p.Trucks = slices.Clone(p.Trucks)
		for i := range p.Trucks {
			p.Trucks[i].Done = slices.Clone(p.Trucks[i].Done)
			p.Trucks[i].Running = slices.Clone(p.Trucks[i].Running)
			p.Trucks[i].Overruns = slices.Clone(p.Trucks[i].Overruns)
		}
		p.Visits = slices.Clone(p.Visits)
		if r.AsOf != calendar.NoMoment {
			if r.AsOf < p.AsOf {
				return nil, &Problem{Kind: Conflict, Title: "The plant is further on", Detail: fmt.Sprintf("It stands as of %s, and the report speaks of %s.", p.AsOf, r.AsOf), Next: "Give a later moment, or leave it away."}
			}
			p.AsOf = r.AsOf
		}
		for n, row := range r.Rows {
			if err := progress(&p, row); err != nil {
				return nil, err.inRow(n)
			}
		}
		taken := 0
		if r.AsPlanned {
			if p.Plan == nil {
				return nil, &Problem{Kind: Conflict, Title: "There is no plan", Detail: "Nothing can have gone as planned.", Next: "Report stage by stage."}
			}
			taken = asPlanned(&p, r.Rows)
		}
		what := fmt.Sprintf("Progress of %s was reported", count(len(r.Rows), "stage"))
		if r.AsPlanned {
			what += fmt.Sprintf(", %s as planned", count(taken, "stage"))
		}
		if p.AsOf != s.Plant.AsOf {
			what += fmt.Sprintf("; the plant stands as of %s", p.AsOf)
		}
		if p.Plan != nil {
			p.Plan = carriedOn(&p)
		}
		return &next{plant: &p, what: what + "." + lapsed(&p)}, nil
	})
}

// progress makes one row a fact.
func progress(p *plant.Plant, row Progress) *Problem {
	t, g := p.FindTruck(row.Truck), p.FindStage(row.Stage)
	switch {
	case t == nil:
		return noSuch("truck", row.Truck, truckNames(p))
	case g == nil:
		var names []string
		for i := range p.Route {
			names = append(names, p.Route[i].ID)
		}
		return noSuch("stage", row.Stage, names)
	case row.Started > p.AsOf, row.Ended > p.AsOf:
		return invalid("ended", fmt.Sprintf("%s of truck %s cannot have begun or ended after %s, the moment of the plant.", spoken(g.ID), t.ID, p.AsOf), "Move the moment of the plant as well, with as_of.")
	}
	begun := row.Started != calendar.NoMoment || row.Ended != calendar.NoMoment
	if row.Stands && begun {
		return invalid("stands", fmt.Sprintf("Truck %s cannot stand ready for %s that has begun.", t.ID, spoken(g.ID)), "Say one of the two.")
	}
	if t.Standing.Stage == g.ID || begun && g.Bay != "" {
		t.Standing = plant.Standing{}
	}
	t.Done = slices.DeleteFunc(t.Done, func(d plant.Done) bool { return d.Stage == g.ID })
	t.Running = slices.DeleteFunc(t.Running, func(d plant.Running) bool { return d.Stage == g.ID })
	switch {
	case row.Ended != calendar.NoMoment:
		t.Done = append(t.Done, plant.Done{Stage: g.ID, Ended: row.Ended})
		if v := p.VisitOf(t, g.Visit); v != nil && v.Planned() && v.Booking.Day != calendar.None {
			v.Booking.State = plant.Held
			v.Booking.HoldUntil, v.Booking.TravelBought = calendar.None, false
		}
	case row.Started != calendar.NoMoment:
		if row.Remaining < 0 && overruns(t, g.ID) {
			minutes, err := left(p, t, g, row.Started)
			if err != nil {
				return invalid("started", sentence(err.Error()), "Say how long the work still needs.")
			}
			row.Remaining = minutes
		}
		t.Running = append(t.Running, plant.Running{Stage: g.ID, Started: row.Started, Bay: row.Bay, RemainingMinutes: row.Remaining})
	}
	if row.Stands {
		t.Standing = plant.Standing{Stage: g.ID, Bay: row.Bay}
	}
	if begun {
		t.Overruns = slices.DeleteFunc(t.Overruns, func(o plant.Overrun) bool { return o.Stage == g.ID })
	}
	return nil
}

// overruns reports whether a stage to come is known to need longer than the route says. Of
// a stage that runs, that is in what is left of it.
func overruns(t *plant.Truck, stage string) bool {
	return slices.ContainsFunc(t.Overruns, func(o plant.Overrun) bool { return o.Stage == stage })
}

// left is how many working minutes a stage that began at a moment still needs, by its
// estimate and its overruns: at least one.
func left(p *plant.Plant, t *plant.Truck, g *plant.Stage, started calendar.Moment) (int, error) {
	grid, err := p.Grid(started.Date(), p.AsOf.Date())
	if err != nil {
		return 0, err
	}
	h, err := p.DepartmentHours(g.Department, grid)
	if err != nil {
		return 0, err
	}
	return max(1, p.StageMinutes(t, g)-h.Between(started, p.AsOf)), nil
}

// asPlanned takes what the plan has before now as it was planned, and returns how many
// stages these are.
func asPlanned(p *plant.Plant, but []Progress) (taken int) {
	for _, r := range p.Plan.Stages {
		t, g := p.FindTruck(r.Truck), p.FindStage(r.Stage)
		if t == nil || g == nil || r.Hold >= p.AsOf || slices.ContainsFunc(but, func(b Progress) bool { return b.Truck == r.Truck && b.Stage == r.Stage }) {
			continue
		}
		was := func(stage string) bool {
			return slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == stage })
		}
		row := Progress{Truck: r.Truck, Stage: r.Stage, Started: r.Start, Ended: calendar.NoMoment, Bay: r.Bay, Remaining: -1}
		switch {
		case was(r.Stage):
			continue
		case r.End <= p.AsOf:
			row.Ended = r.End
		case r.Start >= p.AsOf: // it stands in its bay and has not begun
			row.Started, row.Stands = calendar.NoMoment, true
		case knownLeft(t, r.Stage): // what the plan has of it after now is left
			minutes, err := remaining(p, g, r.End)
			if err != nil {
				continue
			}
			row.Remaining = minutes
		}
		if progress(p, row) == nil {
			taken++
		}
	}
	return taken
}

// knownLeft reports whether somebody has said what is left of a stage that runs.
func knownLeft(t *plant.Truck, stage string) bool {
	return slices.ContainsFunc(t.Running, func(r plant.Running) bool { return r.Stage == stage && r.RemainingMinutes >= 0 })
}

// remaining is how many working minutes of the stage's department lie between now and
// the end of work.
func remaining(p *plant.Plant, g *plant.Stage, end calendar.Moment) (int, error) {
	grid, err := p.Grid(p.AsOf.Date(), end.Date())
	if err != nil {
		return 0, err
	}
	h, err := p.DepartmentHours(g.Department, grid)
	if err != nil {
		return 0, err
	}
	return max(1, h.Between(p.AsOf, end)), nil
}

// carriedOn is the plan as it goes on: without what is done and the wishes that were
// begun, which no plan needs, and with running work as it runs.
func carriedOn(p *plant.Plant) *plant.Plan {
	plan := *p.Plan
	plan.Stages = slices.DeleteFunc(slices.Clone(plan.Stages), func(r plant.Planned) bool {
		stage, _, _ := strings.Cut(r.Stage, ".")
		t := p.FindTruck(r.Truck)
		return t != nil && (slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == stage }) ||
			stage != r.Stage && r.Hold < p.AsOf && slices.ContainsFunc(t.Running, func(d plant.Running) bool { return d.Stage == stage }))
	})
	for i := range plan.Stages {
		r := &plan.Stages[i]
		t := p.FindTruck(r.Truck)
		if t == nil {
			continue
		}
		for _, d := range t.Running {
			if d.Stage == r.Stage {
				r.Hold, r.Start = d.Started, d.Started
			}
		}
	}
	plan.Visits = slices.DeleteFunc(slices.Clone(plan.Visits), func(o plant.PlannedVisit) bool {
		v := p.FindVisit(o.Visit)
		return v != nil && !v.Planned()
	})
	plan.Status = plant.Feasible
	return rescored(p, &plan)
}

// lapsed gives up what was held until a day before the moment of the plant: tentative days,
// whose visits ask for one again, and places for orders to come. It says so in sentences.
func lapsed(p *plant.Plant) (what string) {
	today := p.AsOf.Date()
	var visits []string
	for i := range p.Visits {
		v := &p.Visits[i]
		if v.Booking.State != plant.Tentative || v.Booking.HoldUntil == calendar.None || v.Booking.HoldUntil >= today {
			continue
		}
		if t := p.FindTruck(v.Truck); t != nil && slices.ContainsFunc(t.Running, func(r plant.Running) bool {
			g := p.FindStage(r.Stage)
			return g != nil && g.Visit == v.Kind
		}) {
			v.Booking.HoldUntil = calendar.None // it is under way
			continue
		}
		visits = append(visits, fmt.Sprintf("%s on %s", v.ID, v.Booking.Day))
		v.Booking = plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
		if p.Plan != nil {
			p.Plan = placed(p, v.ID)
		}
	}
	if len(visits) > 0 {
		what = fmt.Sprintf(" Nobody confirmed what was held: %s; the day is free again, and the visit waits for another.", strings.Join(visits, ", "))
	}
	if trucks := released(p, func(t *plant.Truck) bool { return t.Reserved.Until < today }); len(trucks) > 0 {
		what += fmt.Sprintf(" Nobody ordered what places were held for: %s given up.", strings.Join(trucks, ", "))
	}
	return what
}

// placed is the plan with a visit on its day that is booked for none.
func placed(p *plant.Plant, visit string) *plant.Plan {
	plan := *p.Plan
	plan.Visits = slices.Clone(plan.Visits)
	for i := range plan.Visits {
		if o := &plan.Visits[i]; o.Visit == visit && o.Outcome != plant.Broken {
			o.Outcome = plant.Placed
		}
	}
	plan.Status = plant.Feasible
	return rescored(p, &plan)
}
