package main

import (
	"context"
	"fmt"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type planCmd struct {
	planFile
	conditionFlags
	Stages bool `help:"Also list every stage: when, and in which bay."`
	Why    bool `help:"Also give the reasons for every late delivery and every visit that moves or is broken."`
}

// Help says more than one line.
func (*planCmd) Help() string {
	return `Slips recorded in the file have happened: they are made facts first. Every tier of the score is proven
before the next. With -o the plant file is written again with this plan in force, the slips made facts and
the list of slips empty; the answer still goes to standard output. Interrupted or out of time, it gives the
best plan so far, with status feasible.`
}

func (c *planCmd) run(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	since := s.stopwatch()
	p, slips, err := s.loadNow(c.File)
	if err != nil {
		return 0, err
	}
	read := since()
	s.insist = &c.conditionFlags
	plain := p
	conditions, p, err := s.asked(p)
	if err != nil {
		return 0, err
	}
	w := s.watch("encoding")
	o := s.options(w)
	o.Conditions = conditions
	r, err := solver.Plan(s.ctx, p, o)
	w.stop()
	if err != nil {
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	if n := len(slips); n > 0 {
		pg.say("%s in the file %s made facts first.", count(n, "recorded slip"), plural(n, "is", "are"))
	}
	underConditions(pg, p, conditions)
	if len(conditions) > 0 && r.Contradiction == nil {
		pg.gap("")
	}
	verdict(pg, s.ctx, r)
	if r.Plan != nil {
		tiers(pg, r.Tiers)
		deliveries(pg, p, r.Plan)
		visits(pg, p, r.Plan)
		if c.Stages {
			stages(pg, r.Plan)
		}
	}
	out := s.result(p, r, read)
	if c.Why && r.Plan != nil {
		if out.Why, err = s.causes(pg, plain, r.Plan, conditions); err != nil {
			return 0, err
		}
	}
	if err := s.enforce(pg, p, r.Plan); err != nil {
		return 0, err
	}
	out.Conditions = wire.ToConditions(p, conditions)
	return s.report(r.Plan != nil, out, pg)
}

// enforce ends a page about a plan. With -o, the plant file is written with the plan
// in force; then come the cautions for the work in it.
func (s *session) enforce(pg *page, p *plant.Plant, plan *plant.Plan) error {
	if s.Out != "" {
		pg.gap("")
		if plan == nil {
			pg.say("%s is not written: there is no plan to put in force.", s.Out)
		} else {
			with := *p
			with.Plan = plan
			if err := write(s.Out, plant.Write(&with)); err != nil {
				return err
			}
			pg.say("Plan %d is in force in %s.", plan.Revision, s.Out)
		}
	}
	if plan != nil {
		cautions(pg, p, plan)
	}
	return nil
}

// heading says which plant it is, and how much is to be planned.
func heading(pg *page, p *plant.Plant) {
	waiting := 0
	for i := range p.Visits {
		if p.Visits[i].Planned() {
			waiting++
		}
	}
	pg.say("%s, as of %s: %s, %s to be held.", p.Name, atTime(p.AsOf), count(len(p.Trucks), "truck"), count(waiting, "visit"))
}

// verdict says what is proven.
func verdict(pg *page, ctx context.Context, r *solver.Result) {
	if r.Contradiction != nil {
		contradiction(pg, r.Contradiction)
		return
	}
	pg.say("%s", proven(r.Status, r.Tiers))
	if r.Status == plant.Feasible || r.Status == plant.Unknown {
		switch ctx.Err() {
		case context.Canceled:
			pg.say("It was interrupted.")
		case context.DeadlineExceeded:
			pg.say("The time given by --limit ran out.")
		}
	}
	for _, reason := range r.Reasons {
		pg.item("%s", reason)
	}
	if r.Status == plant.Infeasible && len(r.Reasons) == 0 {
		pg.say("The work does not fit into the horizon with the bays and crews there are. Try a later last day of the horizon, one more head in a crew, or a bay without its closure.")
	}
}

// tiers shows the score.
func tiers(pg *page, list []plant.TierValue) {
	pg.gap("Score, in the order in which it counts; no plan can be below the bound")
	t := &table{heads: []string{"tier", ">value", ">bound", "~counts"}}
	for _, v := range list {
		t.add(v.Name, thousands(v.Value), thousands(v.Bound), tierWords[v.Name])
	}
	pg.table(t)
}

// deliveries shows what the plan makes of the contracts.
func deliveries(pg *page, p *plant.Plant, plan *plant.Plan) {
	list := solver.Deliveries(p, plan)
	if len(list) == 0 {
		return
	}
	late, damages := 0, int64(0)
	t := &table{heads: []string{"truck", "~customer", "contract", "delivery", ">days late", ">damages", "deadline"}}
	for _, d := range list {
		deadline := ""
		if d.Deadline != calendar.None {
			deadline = "kept"
		}
		if d.Missed {
			deadline = "MISSED " + d.Deadline.String()
		}
		if d.Late > 0 {
			late++
		}
		damages += d.Damages
		t.add(d.Truck, d.Customer, onDay(d.Due), onDay(d.Day), dash(d.Late), dollars(d.Damages), deadline)
	}
	pg.gap(fmt.Sprintf("Deliveries: %d of %d late, damages %s", late, len(list), solver.Dollars(damages)))
	pg.table(t)
}

// dash writes a number, nothing as a dash.
func dash(n int) string {
	if n == 0 {
		return "-"
	}
	return thousands(int64(n))
}

func dollars(n int64) string {
	if n == 0 {
		return "-"
	}
	return solver.Dollars(n)
}

// visits shows the day and the place of every visit.
func visits(pg *page, p *plant.Plant, plan *plant.Plan) {
	if len(plan.Visits) == 0 {
		return
	}
	n := map[string]int{}
	t := &table{heads: []string{"visit", "truck", "~kind", "state", ">people", "booked", "day", "position", "outcome"}}
	for _, r := range plan.Visits {
		n[r.Outcome]++
		v := p.FindVisit(r.Visit)
		if v == nil {
			continue
		}
		state := v.Booking.State
		if p.Frozen(v) {
			state = "frozen"
		}
		outcome := r.Outcome
		if outcome == plant.Broken || outcome == plant.Moved {
			outcome = strings.ToUpper(outcome)
		}
		t.add(v.ID, v.Truck, spoken(v.Kind), state, fmt.Sprint(v.Heads), blank(v.Booking.Day.String()), onDay(r.Day), blank(r.Bay), outcome)
	}
	pg.gap(fmt.Sprintf("Visits: %d kept, %d placed, %d moved, %d broken", n[plant.Kept], n[plant.Placed], n[plant.Moved], n[plant.Broken]))
	pg.table(t)
}

// blank writes a name, none as a dash.
func blank(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// stages shows every row of the plan.
func stages(pg *page, plan *plant.Plan) {
	pg.gap(fmt.Sprintf("Stages: %d", len(plan.Stages)))
	t := &table{heads: []string{"truck", "~stage", "start", "end", "bay", "taken from"}}
	for _, r := range plan.Stages {
		end, hold := atTime(r.End), ""
		if r.End.Date() == r.Start.Date() {
			end = r.End.Clock().String()
		}
		if r.Hold != r.Start {
			hold = atTime(r.Hold)
		}
		t.add(r.Truck, r.Stage, atTime(r.Start), end, blank(r.Bay), hold)
	}
	pg.table(t)
}

// plural chooses between two words.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
