package main

import (
	"strings"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type whyCmd struct {
	planFile
	Truck string `required:"" placeholder:"ID" help:"Shop order number of the truck."`
	On    string `required:"" placeholder:"DATE" help:"The day asked for."`
}

// Help says more than one line.
func (*whyCmd) Help() string {
	return `The reasons together rule the day out, and none of them is idle: without any one of them the others do not.
What helps lifts one reason; then others, not told yet, may stand in the way: ask again. Exit code 1: the
day is not possible.`
}

type wireWhy struct {
	Truck    string        `json:"truck"`
	Visit    string        `json:"visit"`
	Date     *string       `json:"date"`
	Possible bool          `json:"possible"`
	Status   plant.Status  `json:"status"`
	Sentence string        `json:"sentence"`
	Reasons  []string      `json:"reasons"`
	Helps    []string      `json:"helps"`
	Warnings []wireWarning `json:"warnings"`
}

func (c *whyCmd) run(s *session) (int, error) {
	on, err := calendar.ParseDate(c.On)
	if err != nil {
		return 0, refuse("--on: %v", err)
	}
	p, err := s.about(c.File, c.Truck)
	if err != nil {
		return 0, err
	}
	switch first, last := p.AsOf.Date(), p.Horizon.Through; {
	case on < first:
		return 0, refuse("--on %s: the day is past, %s speaks as of %s. Ask for a day from %s through %s", on, called(c.File), first, first, last)
	case on > last:
		return 0, refuse("--on %s: the calendar of %s ends on %s, the last day of its horizon, and nothing can be said of later days. Write a later day under through of horizon in the file, or ask for a day from %s through %s", on, called(c.File), last, first, last)
	}
	w := s.watch("looking for reasons")
	x, err := solver.Why(s.ctx, p, c.Truck, on, s.options(w))
	w.stop()
	if err != nil {
		return 0, refuseVisit(err)
	}
	pg := &page{}
	heading(pg, p)
	asked(pg, p, x.Visit)
	pg.gap("")
	pg.say("%s", x.Sentence)
	if len(x.Reasons) > 0 {
		pg.gap(plural(len(x.Reasons), "Because", "Because, all of it together"))
		for _, r := range x.Reasons {
			pg.item("%s", r)
		}
	}
	if len(x.Helps) > 0 {
		pg.gap("What could help (each lifts one reason; then ask again)")
		for _, h := range x.Helps {
			pg.item("%s.", strings.TrimSuffix(h, "."))
		}
	}
	wire := wireWhy{x.Truck, x.Visit, day(x.Day), x.Possible, x.Status, x.Sentence, texts(x.Reasons), texts(x.Helps), s.warned()}
	return s.answer(x.Possible, wire, pg)
}
