package main

import (
	"fmt"
	"time"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

type demoCmd struct {
	Once bool `help:"Show it once and end. The pages come with wetdown serve, which this version does not have yet."`
}

// Help says more than one line.
func (*demoCmd) Help() string {
	return `The demo plant is planned, a truck slips, and the answer is shown as a manager wants it. Everybody and
everything in it is invented. With -o the plant file is written, with the plan before the slip in force, to
try the other commands on.`
}

type wireDemo struct {
	Plan wire.Result `json:"plan"`
	Slip wire.Slip   `json:"slip"`
}

// demoPatience is how long the demo looks for ways out at the most.
const demoPatience = time.Minute

// demoDays is how many working days the truck of the demo slips.
const demoDays = 3

func (c *demoCmd) run(s *session) (int, error) {
	if !c.Once {
		return 0, refuse("the pages of the demo come with wetdown serve, which this version does not have yet: wetdown demo --once shows the demo here and ends")
	}
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	since := s.stopwatch()
	p, err := s.plant("the demo plant", []byte(testdata.DemoPlant))
	if err != nil {
		return 0, err
	}
	p.Slips, p.Plan = nil, nil
	read := since()
	w := s.watch("planning")
	first, err := solver.Plan(s.ctx, p, s.options(w))
	w.stop()
	if err != nil {
		return 0, err
	}
	pg := &page{}
	pg.say("WETDOWN keeps the days on which fire departments come to see their trucks. A custom truck leaves the line on a day that moves; behind it wait tests, graphics, a visit of firefighters who have bought flights, and a contract. Everybody in this plant is invented.")
	pg.gap("1. THE PLAN")
	heading(pg, p)
	verdict(pg, s.ctx, first)
	out := wireDemo{Plan: s.result(p, first, read)}
	if first.Plan == nil {
		return s.report(false, out, pg)
	}
	pg.say("It took %.1f s: %s, %s, %s.", first.Seconds.Total, count(first.Counts.Stages, "stage"), count(first.Counts.Clauses, "clause"), count(first.Counts.SATCalls, "question")+" to the solver")
	visits(pg, p, first.Plan)
	with := *p
	with.Plan = first.Plan
	if s.Out != "" {
		if err := write(s.Out, plant.Write(&with)); err != nil {
			return 0, err
		}
	}

	truck, err := slipping(&with)
	if err != nil {
		return 0, err
	}
	pg.gap("2. A TRUCK SLIPS")
	pg.say("The line calls: %s will be %s late. What moves, whom do we call, what does it cost?", truck, count(demoDays, "working day"))
	a, err := s.replan(&with, []plant.Slip{{ID: "demo", Kind: plant.LineOffMoved, Truck: truck, Days: demoDays, Known: p.AsOf.Date()}})
	if err != nil {
		return 0, err
	}
	out.Slip = a.print(pg, s, 0)
	pg.gap("")
	pg.say("It took %.1f s.", a.r.Seconds.Total)
	ways := repairFlags{repairTime: repairTime{demoPatience}}
	if _, err := ways.slip(pg, s, a, &out.Slip); err != nil {
		return 0, err
	}

	file := s.Out
	pg.gap("3. YOUR TURN")
	if file == "" {
		file = "demo.yaml"
		pg.say("wetdown demo --once -o %s writes this plant to a file. Then:", file)
	}
	for _, line := range next(&with, file, truck) {
		pg.WriteString("  " + line + "\n")
	}
	cautions(pg, &with, first.Plan)
	return s.report(a.r.Plan != nil, out, pg)
}

// slipping is the truck of the demo that slips: the first one, in the order of the
// file, still on the line, whose visit has a day.
func slipping(p *plant.Plant) (string, error) {
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if v := p.VisitOf(t, plant.FinalInspection); t.Line.Off == calendar.None && v != nil && v.Booking.State == plant.Confirmed {
			return t.ID, nil
		}
	}
	return "", fmt.Errorf("the demo plant has no truck on the line whose visit is confirmed")
}

// next lists commands to try.
func next(p *plant.Plant, file, truck string) []string {
	day := p.VisitOf(p.FindTruck(truck), plant.FinalInspection).Booking.Day
	return []string{
		fmt.Sprintf("wetdown slip %s --truck %s --days %d --take 1 -o taken.yaml", file, truck, demoDays),
		fmt.Sprintf("wetdown slip %s --truck %s --days 5 --why", file, truck),
		fmt.Sprintf("wetdown offers %s --truck %s", file, truck),
		fmt.Sprintf("wetdown why %s --truck %s --on %s", file, truck, day.AddDays(-7)),
		fmt.Sprintf("wetdown check %s", file),
	}
}
