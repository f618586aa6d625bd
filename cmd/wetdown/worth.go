package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"wetdown/api/wire"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type worthCmd struct {
	planFile
	Truck     []string      `placeholder:"ID" help:"Only a day of this truck; may be given more than once."`
	Bay       []string      `placeholder:"ID" help:"Only a day of this bay; may be given more than once."`
	Crew      []string      `placeholder:"ID" help:"Only a head of this crew away; may be given more than once."`
	Top       int           `default:"10" placeholder:"N" help:"Work out the N days whose loss hurts most; the others are proven to hurt no more. 0: all. Default: 10."`
	PlanLimit time.Duration `name:"plan-limit" placeholder:"DURATION" help:"Longest time for each of the plannings that this takes; what is not proven then is said by bounds. Default: no limit."`
}

// Help says more than one line.
func (*worthCmd) Help() string {
	return `It takes a working day from each truck (off the line later; past it, its stage under way, or its next that may run over
a shift, a day longer), each bay (closed on its next day with work) and each crew (one head away on its next day with work),
one at a time, plans anew, and shows whose day hurts most if it is lost. Then it adds one more bay of each kind, one more head of each crew, and one
Saturday of each department, and shows what that would gain, against its price on the list. A file without a plan in
force is planned first. Slips recorded in the file have not happened: answer them first with slip.`
}

func (c *worthCmd) run(s *session) (int, error) {
	switch {
	case c.Top < 0:
		return 0, refuse("--top %d: say how many days lost are worked out, 0 for all", c.Top)
	case c.PlanLimit < 0:
		return 0, refuse("--plan-limit %s leaves no time to plan: give a length of time such as 30s, or leave it out", c.PlanLimit)
	}
	since := s.stopwatch()
	p, err := s.load(c.File)
	if err != nil {
		return 0, err
	}
	if err := c.known(p); err != nil {
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	if n := len(p.Slips); n > 0 {
		pg.say("%s in the file %s left unanswered here: run slip with -o first to have %s among the facts.", count(n, "recorded slip"), plural(n, "is", "are"), plural(n, "it", "them"))
	}
	if p.Plan == nil {
		pg.say("The file has no plan in force: one was made first.")
	}
	with, err := s.inForce(p, nil)
	if err != nil {
		return 0, err
	}
	if with == nil {
		return 0, refuse("%s: there is no plan to take a day from: wetdown plan says why", called(c.File))
	}
	w := s.watch("what a day is worth")
	sc := solver.Scope{Trucks: c.Truck, Bays: c.Bay, Crews: c.Crew, Top: c.Top, Report: w.weigh}
	if c.PlanLimit > 0 {
		sc.Each = func(ctx context.Context) (context.Context, context.CancelFunc) {
			return context.WithTimeout(ctx, c.PlanLimit)
		}
	}
	r, err := solver.Weigh(s.ctx, with, sc)
	w.stop()
	if err != nil {
		return 0, err
	}
	c.show(pg, with, r)
	out := wire.ToWorth(with, r, since())
	out.Warnings = s.warned()
	return s.answer(len(r.Before) > 0, out, pg)
}

// known refuses names that the plant does not have.
func (c *worthCmd) known(p *plant.Plant) error {
	for _, id := range c.Truck {
		if _, err := findTruck(p, id); err != nil {
			return err
		}
	}
	for _, id := range c.Bay {
		if p.FindBay(id) == nil {
			return unknown("bay", id, "in the plant file", ids(p.Bays, func(b *plant.Bay) string { return b.ID }))
		}
	}
	for _, id := range c.Crew {
		if p.FindCrew(id) == nil {
			return unknown("crew", id, "in the plant file", ids(p.Crews, func(c *plant.Crew) string { return c.ID }))
		}
	}
	return nil
}

// weigh shows how far it is.
func (w *watch) weigh(k solver.Weighing) {
	if !k.Planning {
		w.set(fmt.Sprintf("looking at %d of %d: %s", k.Looked+1, k.Looks, k.About))
		return
	}
	of := ""
	if k.Plans > 0 {
		of = fmt.Sprintf(" of at most %d", k.Plans)
	}
	w.set(fmt.Sprintf("planning %d%s: %s", k.Planned+1, of, k.About))
}

// show shows what a day is worth.
func (c *worthCmd) show(pg *page, p *plant.Plant, r *solver.Worth) {
	if len(r.Before) == 0 {
		pg.say("There is no plan for the plant as it stands to take a day from (status %s).", r.Status)
		for _, reason := range r.Reasons {
			pg.item("%s", reason)
		}
		return
	}
	if r.Better {
		pg.say("Planning anew, with nothing lost or bought, is better than the plan in force. All below is held against that new plan: make it first with wetdown plan -o.")
	}
	if r.Status != plant.Optimal {
		pg.say("That the plan for the plant as it stands is the best is not proven: differences are bounds.")
	}
	c.days(pg, p, r)
	more(pg, p, r.More)
	if r.Ended {
		pg.say("Time ran out before everything was worked out: give more with --limit, or ask about less with --truck, --bay, --crew or --top.")
	}
}

// days shows the days lost.
func (c *worthCmd) days(pg *page, p *plant.Plant, r *solver.Worth) {
	if len(r.Days)+len(r.None) == 0 {
		return
	}
	pg.gap("A working day lost, what hurts most first")
	var rows []*solver.Stake
	var less, left, nothing []string
	for i := range r.Days {
		s := &r.Days[i]
		switch {
		case s.Exact() && !s.Differs():
			nothing = append(nothing, s.Title(p))
		case s.Less || (s.Exact() || s.Status == plant.Infeasible) && c.Top > 0 && len(rows) >= c.Top:
			less = append(less, s.Title(p))
		case !s.Solved && s.Status != plant.Optimal && s.Status != plant.Infeasible:
			left = append(left, s.Title(p))
		default:
			rows = append(rows, s)
		}
	}
	stakes(pg, p, rows, "lost", "calls", func(s *solver.Stake) string {
		if s.Impact == nil {
			return dash(0)
		}
		return dash(len(s.Impact.Calls))
	})
	for _, s := range rows {
		pg.item("%s", s.Sentence(p))
	}
	if len(less) > 0 {
		pg.say("Hurts no more than these, proven: %s.", listed(less))
	}
	if len(left) > 0 {
		pg.say("Not worked out in the time given: %s.", listed(left))
	}
	if len(nothing) > 0 {
		pg.say("Costs nothing, proven: %s.", listed(nothing))
	}
	for _, n := range r.None {
		pg.item("%s", n)
	}
}

// more shows what one more would buy.
func more(pg *page, p *plant.Plant, list []solver.Stake) {
	if len(list) == 0 {
		return
	}
	pg.gap("What one more would buy, what helps most first")
	var rows []*solver.Stake
	var left, nothing []string
	for i := range list {
		if s := &list[i]; !s.Solved && !s.Exact() && s.Status != plant.Infeasible {
			left = append(left, s.Title(p))
		} else if s.Exact() && !s.Differs() {
			name := s.Title(p)
			if s.Choice > 1 {
				name += fmt.Sprintf(" or another of %d Saturdays", s.Choice)
			}
			nothing = append(nothing, name)
		} else {
			rows = append(rows, s)
		}
	}
	stakes(pg, p, rows, "one more", "price", func(s *solver.Stake) string {
		if s.Price < 0 {
			return "-"
		}
		return dollars(s.Price)
	})
	for _, s := range rows {
		pg.item("%s", s.Sentence(p))
	}
	if len(left) > 0 {
		pg.say("Not worked out in the time given: %s.", listed(left))
	}
	if len(nothing) > 0 {
		pg.say("Gains nothing, proven: %s.", listed(nothing))
	}
}

// stakes shows a row for each: the difference in each tier that changes in any of them.
// What was found and is not proven has a question mark.
func stakes(pg *page, p *plant.Plant, list []*solver.Stake, what, last string, of func(*solver.Stake) string) {
	t := &table{heads: []string{"~" + what}}
	var columns []int
	for n, name := range plant.TierNames {
		changes := func(s *solver.Stake) bool { return len(s.Tiers) > 0 && s.Tiers[n].Before != s.Tiers[n].After }
		if slices.ContainsFunc(list, changes) {
			columns = append(columns, n)
			t.heads = append(t.heads, ">"+name)
		}
	}
	t.heads = append(t.heads, ">"+last)
	for _, s := range list {
		row := []string{s.Title(p)}
		for _, n := range columns {
			row = append(row, difference(s, n))
		}
		t.add(append(row, of(s))...)
	}
	pg.table(t)
	var counts []string
	for _, n := range columns {
		counts = append(counts, plant.TierNames[n]+": "+tierWords[plant.TierNames[n]])
	}
	if len(counts) > 0 {
		pg.say("%s.", capital(strings.Join(counts, "; ")))
	}
}

// difference is the difference of a tier in a table.
func difference(s *solver.Stake, tier int) string {
	switch {
	case s.Status == plant.Infeasible:
		return "no plan"
	case len(s.Tiers) == 0:
		return "?"
	}
	x := s.Tiers[tier]
	text := "-"
	if d := x.After - x.Before; d > 0 {
		text = "+" + thousands(d)
	} else if d < 0 {
		text = thousands(d)
	}
	if !x.Exact() {
		text += "?"
	}
	return text
}
