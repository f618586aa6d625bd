package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"wetdown/api/sheet"
	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

type backtestCmd struct {
	File     string `arg:"" name:"FILE" help:"History of projections as CSV or XLSX, with the columns of the service's table; - reads standard input."`
	Plant    string `placeholder:"FILE" help:"Plant file whose route gives three-point estimates where too little is alike. Default: the standard route."`
	HalfLife int    `name:"half-life" default:"730" placeholder:"DAYS" help:"Calendar days after which what was said counts half."`
	Seed     uint64 `default:"0" placeholder:"N" help:"Seed with which the estimates of the route are drawn."`
	Groups   bool   `help:"On time also by customer, kind, owner and half-year."`
}

// Help says more than one line.
func (*backtestCmd) Help() string {
	return `Walks through a history of projected days as it happened: at each projection the day that holds with 50, 80
and 95% is stated from what was known then, and later compared with what came. --as-of is the day on which the
history was written; by default the day after the last one in it. Working days are Monday to Friday.`
}

func (c *backtestCmd) run(s *session) (int, error) {
	if c.HalfLife < 1 || c.HalfLife > 36500 {
		return 0, refuse("--half-life %d: give calendar days from 1 to 36500, such as 730", c.HalfLife)
	}
	o := history.Options{HalfLifeDays: c.HalfLife, Seed: c.Seed, Route: plant.DefaultRoute()}
	asOf := calendar.None
	if c.Plant != "" {
		data, err := s.read(c.Plant)
		if err != nil {
			return 0, err
		}
		p, faults := plant.Read(called(c.Plant), data)
		if len(faults) > 0 {
			return 0, told(faults)
		}
		o.Route = p.Route
	}
	if s.AsOf != "" {
		var err error
		if asOf, err = calendar.ParseDate(s.AsOf); err != nil {
			return 0, refuse("--as-of: %v", err)
		}
	}
	past, err := s.history(c.File)
	if err != nil {
		return 0, err
	}
	h := history.New(past, o)
	report, err := h.Backtest(s.ctx, asOf)
	if err != nil {
		return 0, refuse("the time given was over before the history was walked through: give more with --limit")
	}
	onTime := h.OnTime(report.AsOf)
	if !c.Groups {
		onTime = allOnly(onTime)
	}
	return s.answer(true, wire.BacktestWithOnTime{Backtest: wire.ToBacktest(report), OnTime: wire.ToOnTime(onTime)}, backtestPage(report, onTime))
}

// history reads a history of projections.
func (s *session) history(name string) ([]history.Event, error) {
	data, err := s.read(name)
	if err != nil {
		return nil, err
	}
	preview, err := sheet.Read(sheet.History, called(name), data, &plant.Plant{}, sheet.Options{})
	var past []sheet.Past
	if err == nil {
		past, err = preview.Past()
	}
	var r *sheet.Refusal
	if errors.As(err, &r) {
		return nil, refuse("%s", strings.TrimSuffix(r.Error(), "."))
	} else if err != nil {
		return nil, err
	}
	events := make([]history.Event, len(past))
	for i := range past {
		events[i] = past[i].Told()
	}
	return events, nil
}

// pastsOf turns events into rows of a table.
func pastsOf(events []history.Event) []sheet.Past {
	list := make([]sheet.Past, len(events))
	for i, e := range events {
		list[i] = sheet.Past{
			Truck: e.Truck, Customer: e.Customer, Kind: e.Kind, Content: e.Content, Event: e.What, Owner: e.Owner,
			Said: e.Said, Projected: e.Projected, Actual: e.Actual, Requested: e.Requested, Contract: e.Contract, Cause: e.Cause,
		}
	}
	return list
}

func allOnly(list []history.OnTime) (all []history.OnTime) {
	for _, o := range list {
		if o.By == "" {
			all = append(all, o)
		}
	}
	return all
}

// share writes a share; - for none.
func share(share float64) string {
	if math.IsNaN(share) {
		return "-"
	}
	return fmt.Sprintf("%.1f%%", 100*share)
}

// heldCells are the columns that every table of what held has.
func heldCells(h history.Held) []string {
	if h.Of == 0 {
		return []string{"-", "-", "-", "0", "0"}
	}
	return []string{share(h.Exact), share(h.Share()), fmt.Sprintf("%.1f-%.1f", 100*h.Interval.Low, 100*h.Interval.High), thousands(int64(h.Of)), thousands(int64(h.Trucks))}
}

var heldHeads = []string{">law", ">held", ">95% interval", ">days", ">trucks"}

func backtestPage(r *history.Report, onTime []history.OnTime) *page {
	pg := &page{}
	pg.say("%s of %s, made from %s to %s; as of %s. What was said counts half after %s.", count(r.Events, "projection"), count(r.Trucks, "truck"), onDay(r.From), onDay(r.Through), onDay(r.AsOf), count(r.HalfLifeDays, "day"))
	if r.Unsaid > 0 {
		pg.say("%s without the day on which they were said are left out: write the column said.", count(r.Unsaid, "projection"))
	}
	if r.Scored == 0 {
		pg.say("Nothing can be compared yet: no projection had %d trucks alike before it, and a 95%% day that has passed. Take in more of the past, or give a later --as-of.", history.Enough)
	} else {
		sayHeld(pg, r)
	}
	if r.Events == 0 {
		return pg
	}
	pg.gap("80% by what the answer rested on")
	t := &table{heads: append([]string{"basis", ">answers"}, heldHeads...)}
	for _, b := range r.Bases {
		t.add(append([]string{basisWords[b.Basis], thousands(int64(b.Answered))}, heldCells(b.Held)...)...)
	}
	pg.table(t)

	pg.gap("80% by half-year")
	t = &table{heads: append(append([]string{"said in"}, heldHeads...), ">median slip")}
	for _, p := range r.Periods {
		t.add(append(append([]string{p.Name}, heldCells(p.Held)...), fmt.Sprintf("%+.0f", p.Median))...)
	}
	pg.table(t)

	pg.gap("Drift and thin data")
	for _, d := range r.Drifts {
		verdict, odds := "no drift shown", fmt.Sprintf("= %.4f", d.P)
		if d.P < 1e-4 {
			odds = "below 0.0001"
		}
		if d.Drifts {
			verdict = "IT DRIFTS: believe the newest half-years, and shorten --half-life"
		}
		pg.item("%s: mean slip %.1f working days before %s (%s), %.1f after (%s), both as if said a month ahead; by chance alone with p %s: %s.", spoken(d.What), d.EarlyMean, d.From, count(d.Early, "truck"), d.LateMean, count(d.Late, "truck"), odds, verdict)
	}
	if len(r.Drifts) == 0 {
		pg.item("Too little to tell whether slips drift.")
	}
	thin := r.Thin()
	for _, c := range thin {
		pg.item("%s: %s with an outcome, fewer than %d: what is stated rests on other trucks.", classWords(c), count(c.Trucks, "truck"), history.Enough)
	}
	if len(thin) == 0 {
		pg.item("No kind and content of truck has fewer than %d trucks with an outcome.", history.Enough)
	}

	pg.gap("On time, three ways and by contract")
	t = &table{heads: []string{"event", "~of", "against", ">by the day", ">on the day", ">early", ">late", ">open", ">of"}}
	for _, o := range onTime {
		of := "all"
		if o.By != "" {
			of = o.By + " " + o.Name
		}
		for i, ratio := range o.Ratios {
			if n := ratio.Of(); n > 0 {
				t.add(spoken(o.What), of, string(history.Againsts[i]), share(ratio.ByDay()), share(ratio.Exactly()), thousands(int64(ratio.Early)), thousands(int64(ratio.Late)), thousands(int64(ratio.Open)), thousands(int64(n)))
			}
		}
	}
	pg.table(t)
	pg.say("The ratios are different ones: always say which. Early can be a miss, where people travel. Open: still to come after the day, counted as late.")
	return pg
}

// sayHeld writes how stated days held, and what they lost.
func sayHeld(pg *page, r *history.Report) {
	pg.gap("How often stated days held, each stated from what was known on its day")
	t := &table{heads: append([]string{"stated"}, heldHeads...)}
	for _, l := range r.Levels {
		t.add(append([]string{share(l.Stated)}, heldCells(l.Held)...)...)
	}
	pg.table(t)
	pg.say("Law: the chance that the stated day had by itself; whole days hold a little more than is asked of them. The interval counts each truck once. A day is counted once it has passed; what is late and open has not held.")

	pg.gap("Losses in working days, less is better")
	t = &table{heads: []string{"mark", ">ours", ">naive", ">less by", ">ours", ">contract", ">projections"}}
	loss := func(name string, l history.Loss) {
		of := []string{"-", "-"}
		if l.OfContract > 0 {
			of = []string{fmt.Sprintf("%.2f", l.OursOfContract), fmt.Sprintf("%.2f", l.Contract)}
		}
		less := "-"
		if l.Naive > 0 {
			less = fmt.Sprintf("%.0f%%", 100*(1-l.Ours/l.Naive))
		}
		t.add(name, fmt.Sprintf("%.2f", l.Ours), fmt.Sprintf("%.2f", l.Naive), less, of[0], of[1], fmt.Sprintf("%s, %s", thousands(int64(l.Events)), thousands(int64(l.OfContract))))
	}
	for _, l := range r.Levels {
		loss("pinball "+share(l.Stated), l.Loss)
	}
	loss("pinball, mean", r.Pinball())
	loss("CRPS", r.CRPS)
	pg.table(t)
	pg.say("Naive: the projection plus the average slip of the event so far. Contract: deliveries that have a day of contract, by that day. %s of these still open; the day of the report stands in for the outcome.", count(r.StillOpen, "projection"))

	pg.gap("Reliability: stated against held")
	for _, h := range r.Reliability {
		pg.WriteString(bar(h) + "\n")
	}
	pg.say("| is what the law said, o what held, - its 95%% interval, * both at one place; from 0 to 100%%.")
}

var basisWords = map[history.Basis]string{
	history.ByKind: "same kind and content", history.ByContent: "same content", history.ByEvent: "same event",
	history.ByRoute: "estimates of the route", history.ByFew: "fewer than eight trucks", history.ByNothing: "nothing: no answer",
}

func classWords(c history.Class) string {
	kind := c.Kind
	if kind == "" {
		kind = "kind unknown"
	}
	content := c.Content
	if content == "" {
		content = "content unknown"
	}
	return spoken(c.What) + ", " + content + " " + spoken(kind)
}

// bar draws one line of the reliability table, a character for two percent.
func bar(h history.Held) string {
	line := []byte(strings.Repeat(" ", 51))
	at := func(share float64) int { return int(math.Round(50 * share)) }
	if h.Of > 0 {
		for i := at(h.Interval.Low); i <= at(h.Interval.High); i++ {
			line[i] = '-'
		}
		line[at(h.Exact)] = '|'
		if k := at(h.Share()); line[k] == '|' {
			line[k] = '*'
		} else {
			line[k] = 'o'
		}
	}
	return strings.TrimRight(fmt.Sprintf("%4.0f%%  [%s]  %s", 100*h.Stated, line, heldCells(h)[1]), " ")
}
