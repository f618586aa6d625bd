package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

type demoCmd struct {
	Once   bool   `help:"Show it once here and end, without a service."`
	Listen string `default:"127.0.0.1:8080" env:"WETDOWN_LISTEN" placeholder:"ADDRESS" help:"Where the demo listens: this machine only. Default: 127.0.0.1:8080."`
}

// Help says more than one line.
func (*demoCmd) Help() string {
	return `Without --once, the demo plant is planned and served on this machine, from a database that is gone afterwards,
with a login for each role. With --once it is planned, a truck slips, and the answer is shown as a manager wants it. Everybody
and everything in it is invented. With -o as well the plant file is written, with the plan before the slip in force, to
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
		return c.serve(s)
	}
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	since := s.stopwatch()
	p, err := s.demoPlant()
	if err != nil {
		return 0, err
	}
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

// demoPlant is the plant of the demo, without what has happened and without a plan.
func (s *session) demoPlant() (*plant.Plant, error) {
	p, err := s.plant("the demo plant", []byte(testdata.DemoPlant))
	if err == nil {
		p.Slips, p.Plan = nil, nil
	}
	return p, err
}

// serve serves the demo plant, planned, until it is interrupted.
func (c *demoCmd) serve(s *session) (code int, err error) {
	switch {
	case s.Out != "" || s.AsOf != "" || s.Limit != 0 || s.JSON:
		return 0, refuse("the demo that is served takes no -o, --as-of, --limit and --json: leave them out, or add --once")
	case !loopback(s.ctx, c.Listen):
		return 0, refuse("--listen %s: the demo is for this machine alone: listen on 127.0.0.1:8080 or the like", c.Listen)
	}
	p, err := s.demoPlant()
	if err != nil {
		return 0, err
	}
	w := s.watch("planning")
	r, err := solver.Plan(s.ctx, p, s.options(w))
	w.stop()
	if err != nil {
		return 0, err
	}
	p.Plan = r.Plan
	dir, err := os.MkdirTemp("", "wetdown-demo-*")
	if err != nil {
		return 0, refuse("there is no folder for the database of the demo: %v: make room, or set TMPDIR", cause(err))
	}
	defer os.RemoveAll(dir)
	clock, err := demoClock(p, s.clock)
	if err != nil {
		return 0, err
	}
	v, err := openService(s.ctx, serviceOptions{
		db: filepath.Join(dir, "demo.db"), listen: c.Listen, solves: 1, clock: clock, log: slog.New(slog.DiscardHandler),
		inviter: api.Inviter{Domain: "pellanmere.example", Name: p.Name, Mail: "visits@pellanmere.example"}, // no mail server: nothing is sent
	})
	if err != nil {
		return 0, refuse("%v", err)
	}
	lines, err := c.furnish(s.ctx, v, p)
	if err != nil {
		v.close(s.ctx)
		return 0, err
	}
	pg := &page{}
	pg.say("The demo is served at %s, on this machine alone. Open it in a browser. Everybody in it is invented, it is %s there, and all is gone when you end it (Ctrl-C).", v.url, onDay(p.AsOf.Date()))
	pg.gap("Log in as one of these")
	t := &table{heads: []string{"login", "password"}}
	for _, l := range lines {
		t.add(l[0], l[1])
	}
	pg.table(t)
	pg.gap("To begin with")
	pg.say("As coordinator, touch \"Days on offer\" under the floor, beside a visit that wants a day. As manager, report a slip under \"Slips\". As sales, ask for a day under \"Quotes\".")
	if err := s.put([]byte(pg.String()), ""); err != nil {
		v.close(s.ctx)
		return 0, err
	}
	if err := v.serve(s.ctx); err != nil {
		return 0, refuse("the demo ended: %v", err)
	}
	return done, nil
}

// demoClock begins at the moment that the plant speaks of and goes on as clock does: in
// every year the demo is on the morning of its story.
func demoClock(p *plant.Plant, clock func() time.Time) (func() time.Time, error) {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		return nil, err
	}
	y, m, d := p.AsOf.Date().YMD()
	at, begun := time.Date(y, m, d, 0, int(p.AsOf.Clock()), 0, 0, zone), clock()
	return func() time.Time { return at.Add(clock().Sub(begun)) }, nil
}

// furnish loads the plant with its past and makes a login for each role. It returns the
// logins with their passwords, which nobody can guess.
func (c *demoCmd) furnish(ctx context.Context, v *service, p *plant.Plant) (lines [][2]string, err error) {
	if _, err := v.app.Load(ctx, api.Service, api.Intent{Why: "The demo."}, p); err != nil {
		return nil, err
	}
	if _, _, err := v.app.TakeFile(ctx, api.Service, api.Intent{Why: "What was said in the years before, and what came of it."}, sheet.History, "history.csv", []byte(testdata.DemoHistory), 0); err != nil {
		return nil, err
	}
	for _, role := range api.Roles() {
		password := strings.ToLower(rand.Text()[:16])
		if _, err := v.app.CreateAccount(ctx, api.Service, api.AccountOrder{Login: role, Name: "Demo " + role, Role: role, Password: password}); err != nil {
			return nil, err
		}
		lines = append(lines, [2]string{role, password})
	}
	return lines, nil
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
