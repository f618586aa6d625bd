package main

import (
	"fmt"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

type slipCmd struct {
	planFile
	conditionFlags
	repairFlags
	Why   bool   `help:"Also give the reasons for every late delivery and every visit that moves or is broken."`
	Truck string `placeholder:"ID" help:"Shop order number of the truck that slips. Without it: the slips recorded in the file."`
	Days  int    `placeholder:"N" help:"Working days that its line-off, or the stage, takes longer; negative: less."`
	Stage string `placeholder:"S" help:"The stage that overran. Without it: line-off moved."`
}

// Help says more than one line.
func (*slipCmd) Help() string {
	return `It answers with the difference to the plan in force: which visits and deliveries move, near work that is
disturbed, which truck displaced which, whom to call by when, and what it costs. A file without a plan in force is planned first, without
the slip. With -o the plant file is written with the new plan in force and the slips made facts; the answer
still goes to standard output. With --take N as well, it is the Nth way out that is put in force: what it buys is
made a fact, and its plan holds.`
}

func (c *slipCmd) run(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	if err := c.check(s, !c.NoRepairs, "leave --no-repairs out"); err != nil {
		return 0, err
	}
	since := s.stopwatch()
	before, err := s.load(c.File)
	if err != nil {
		return 0, err
	}
	slips, err := c.slips(before)
	if err != nil {
		return 0, err
	}
	if _, err := before.Apply(slips); err != nil {
		return 0, refuseEach(err)
	}
	read := since()
	s.insist = &c.conditionFlags
	a, err := s.replan(before, slips)
	if err != nil {
		return 0, err
	}
	pg := &page{}
	heading(pg, before)
	if c.Truck != "" && len(before.Slips) > 0 {
		pg.say("%s in the file %s left unanswered here: run slip without --truck for %s.", count(len(before.Slips), "recorded slip"), plural(len(before.Slips), "is", "are"), plural(len(before.Slips), "it", "them"))
	}
	if before.Plan != nil {
		if n := len(check.Plan(before, before.Plan).Broken); n > 0 {
			pg.say("The plan in force does not fit the plant as the file tells it, in %s (wetdown check says where): some of what changes comes from that.", count(n, "place"))
		}
	}
	out := a.print(pg, s, read)
	if c.Why && a.r.Plan != nil {
		if out.Why, err = s.causes(pg, a.plain, a.r.Plan, a.conditions); err != nil {
			return 0, err
		}
	}
	ways, err := c.repairFlags.slip(pg, s, a, &out)
	if err != nil {
		return 0, err
	}
	p, plan := a.after, a.r.Plan
	if c.Take != nil {
		if p, plan, out.Taken, err = c.taken(pg, s, ways, a.conditions); err != nil {
			return 0, err
		}
	}
	if err := s.enforce(pg, p, plan); err != nil {
		return 0, err
	}
	return s.report(plan != nil, out, pg)
}

// slips are those asked for.
func (c *slipCmd) slips(p *plant.Plant) ([]plant.Slip, error) {
	if c.Truck == "" {
		switch {
		case c.Days != 0 || c.Stage != "":
			return nil, refuse("--days and --stage speak of one truck: name it with --truck ID")
		case len(p.Slips) == 0:
			return nil, refuse("%s records no slips: name one with --truck ID --days N", c.File)
		}
		return p.Slips, nil
	}
	t, err := findTruck(p, c.Truck)
	switch {
	case err != nil:
		return nil, err
	case c.Days == 0:
		return nil, refuse("--truck %s slips by no days: say how many working days with --days N, negative for earlier", t.ID)
	case c.Days > maxSlip || c.Days < -maxSlip:
		return nil, refuse("--days %d: a slip is at most %d working days; a truck so late is planned better by moving its due day of entering the line in the file", c.Days, maxSlip)
	}
	slip := plant.Slip{ID: "now", Kind: plant.LineOffMoved, Truck: t.ID, Days: c.Days, Known: p.AsOf.Date()}
	if c.Stage == "" {
		return []plant.Slip{slip}, nil
	}
	stage := p.FindStage(c.Stage)
	if stage == nil {
		return nil, unknown("stage", c.Stage, "on the route", ids(p.Route, func(s *plant.Stage) string { return s.ID }))
	}
	slip.Kind, slip.Stage, slip.Days = plant.StageOverran, stage.ID, 0
	slip.Minutes, err = workingMinutes(p, stage.Department, c.Days)
	return []plant.Slip{slip}, err
}

// maxSlip is how many working days a slip on the command line may have.
const maxSlip = 260

// workingMinutes are those of so many working days of a department, from the day
// after now on; negative for negative days.
func workingMinutes(p *plant.Plant, department string, days int) (int, error) {
	from := p.AsOf.Date() + 1
	g, err := p.Grid(from, from+4*maxSlip)
	if err != nil {
		return 0, err
	}
	h, err := p.DepartmentHours(department, g)
	if err != nil {
		return 0, err
	}
	left, day := max(days, -days), from-1
	for ; left > 0; left-- {
		next, ok := h.NextWorkDay(day)
		if !ok {
			return 0, refuse("department %s works on fewer than %d days in the years ahead: give fewer days", department, max(days, -days))
		}
		day = next
	}
	minutes := h.Between(from.At(0), (day + 1).At(0))
	if days < 0 {
		minutes = -minutes
	}
	return minutes, nil
}

// An answered slip.
type answered struct {
	before, after *plant.Plant
	plain         *plant.Plant // after without the conditions
	slips         []plant.Slip
	first         *solver.Result // of the planning before the slip, when there was no plan in force
	r             *solver.Result
	impact        *solver.Impact // nil when there is no plan
	conditions    []solver.Condition
}

// replan answers slips. A plant without a plan in force is planned first.
func (s *session) replan(p *plant.Plant, slips []plant.Slip) (*answered, error) {
	a := &answered{before: p, slips: slips}
	w := s.watch("encoding")
	defer w.stop()
	var err error
	if p.Plan == nil {
		if a.first, err = solver.Plan(s.ctx, p, s.options(w)); err != nil {
			return nil, err
		}
		if a.first.Plan == nil {
			a.r, a.after, a.plain = a.first, p, p
			return a, nil
		}
		with := *p
		with.Plan = a.first.Plan
		a.before = &with
	}
	if a.plain, err = a.before.Apply(slips); err != nil {
		return nil, refuseEach(err)
	}
	if a.conditions, a.after, err = s.asked(a.plain); err != nil {
		return nil, err
	}
	o := s.options(w)
	o.Conditions = a.conditions
	if a.r, err = solver.Replan(s.ctx, a.after, o); err != nil {
		return nil, err
	}
	if a.r.Plan != nil {
		a.impact, err = solver.Compare(a.before, a.after, slips, a.r.Plan)
	}
	return a, err
}

// print shows the answer to people and returns it for machines.
func (a *answered) print(pg *page, s *session, read float64) wire.Slip {
	out := wire.Slip{Result: s.result(a.after, a.r, read), Impact: wire.Impact{Moved: []wire.Move{}}}
	if a.first != nil {
		out.PlannedFirst = &a.first.Status
		out.Seconds.Total += wire.Micro(a.first.Seconds.Total)
		if a.first.Plan == nil {
			pg.say("The file has no plan in force, and none can be made even before the slip.")
			verdict(pg, s.ctx, a.r)
			return out
		}
		pg.say("The file has no plan in force: one was made first, without the slip (status %s).", a.first.Status)
	}
	underConditions(pg, a.after, a.conditions)
	out.Conditions = wire.ToConditions(a.after, a.conditions)
	m := a.impact
	if m == nil {
		verdict(pg, s.ctx, a.r)
		return out
	}
	out.Impact = wire.ToImpact(m)
	pg.gap("What happened")
	for _, h := range m.Happened {
		pg.item("%s", h)
	}
	pg.gap("")
	pg.say("%s", m.Summary())
	verdict(pg, s.ctx, a.r)
	impact(pg, m, a.r.Tiers)
	return out
}

// chain shows which truck displaced which.
func chain(pg *page, m *solver.Impact) {
	if len(m.Displaced)+len(m.Apart) == 0 {
		return
	}
	pg.gap("Which truck displaced which, by the two plans")
	var path []string // the trucks displaced so far, one for each step
	for _, d := range m.Displaced {
		in := ""
		if n := d.Step - 1; n > 0 && n <= len(path) && path[n-1] == d.By {
			in = strings.Repeat("  ", min(n, 6))
			path = append(path[:n], d.Truck)
		} else {
			path = []string{d.Truck}
		}
		pg.wrap(in+"- ", in+"  ", d.Sentence())
	}
	switch n := len(m.Apart); {
	case n == 1:
		pg.item("%s moves as well; no truck above took its place.", m.Apart[0])
	case n > 1:
		pg.item("%s move as well; no truck above took their places.", listed(m.Apart))
	}
}

// impact shows what changes.
func impact(pg *page, m *solver.Impact, now []plant.TierValue) {
	if len(m.Visits) > 0 {
		pg.gap("Visits that move")
		t := &table{heads: []string{"visit", "truck", "~customer", "promise", ">people", "from", "to", ">working days"}}
		for _, v := range m.Visits {
			by := "-"
			if v.From != calendar.None && v.To != calendar.None {
				by = fmt.Sprintf("%+d", v.WorkDays)
			}
			to := onDay(v.To)
			if v.To == calendar.None {
				to = "BROKEN"
			}
			t.add(v.Visit, v.Truck, v.Customer, v.Promise(), fmt.Sprint(v.Heads), blank(v.From.String()), to, by)
		}
		pg.table(t)
	}
	if len(m.Deliveries) > 0 {
		pg.gap("Deliveries that change")
		t := &table{heads: []string{"truck", "~customer", "contract", "from", "to", ">by", ">days late", ">damages", ">before"}}
		for _, d := range m.Deliveries {
			by := "-"
			if d.From.Day != calendar.None && d.To.Day != calendar.None {
				by = fmt.Sprintf("%+d", d.WorkDays)
			}
			t.add(d.Truck, d.Customer, blank(d.Due.String()), blank(d.From.Day.String()), onDay(d.To.Day), by, dash(d.To.Late), dollars(d.To.Damages), dollars(d.From.Damages))
		}
		pg.table(t)
	}
	if len(m.Near) > 0 {
		pg.gap("Near work that changes")
		t := &table{heads: []string{"truck", "~stage", "from", "to", "bay"}}
		for _, d := range m.Near {
			to, bay := atTime(d.To), blank(d.ToBay)
			if !d.Shifted() {
				to = "same time"
			}
			if d.FromBay != d.ToBay {
				bay = blank(d.FromBay) + " → " + bay
			}
			t.add(d.Truck, d.Name, atTime(d.From), to, bay)
		}
		pg.table(t)
	}
	chain(pg, m)
	if len(m.Calls) > 0 {
		pg.gap("Whom to call, the most urgent first")
		for _, c := range m.Calls {
			by := "By " + onDay(c.By)
			if c.Overdue {
				by = "At once"
			}
			pg.item("%s: %s. %s Why then: %s.", by, c.Customer, c.About, c.Because)
		}
	}
	pg.gap("What it costs")
	t := &table{heads: []string{"tier", ">before", ">now", ">bound", "~counts"}}
	for i, c := range m.Tiers {
		t.add(c.Name, thousands(c.Before), thousands(c.After), thousands(now[i].Bound), tierWords[c.Name])
	}
	pg.table(t)
}
