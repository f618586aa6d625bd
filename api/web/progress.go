package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

type progressData struct {
	AsOf calendar.Moment
	Now  calendar.Moment // by the clock, in the zone of the plant
	To   calendar.Moment // the report speaks up to then
	Next calendar.Moment // a working day on
	Rows []due
	More int // that are not shown, and taken as planned
	Fit  *api.Fit
	Done bool
}

// due is work that the plan has begun, or ended, by the moment of a report.
type due struct {
	plant.Planned
	Name, Customer string
	Ends           bool // by then; else it goes on
	Waits          bool // its truck stands lined up for it then, and it begins later
	Ran            bool // it was under way already
	Value, Text    string
}

// duesShown bounds how many rows a report asks about.
const duesShown = 250

func (w *Web) progress(v *view) error { return v.showProgress(http.StatusOK) }

func (v *view) showProgress(status int) error {
	p := v.State.Plant
	d := &progressData{AsOf: p.AsOf, Now: v.app.Now(p), Fit: v.State.Fit(), Done: v.r.FormValue("done") != ""}
	to, err := v.momentOf("to")
	if err != nil {
		return err
	}
	if to == calendar.NoMoment {
		to = d.Now
	}
	d.To = max(to, p.AsOf)
	d.Next = p.AsOf
	g, err := p.Grid(p.AsOf.Date(), p.AsOf.Date()+30)
	if err != nil {
		return err
	}
	h, err := p.Hours(p.Calendar, g)
	if err != nil {
		return err
	}
	if next, ok := h.NextWorkDay(p.AsOf.Date()); ok {
		d.Next = next.At(p.AsOf.Clock())
	}
	for _, x := range dues(p, d.To) {
		if len(d.Rows) == duesShown {
			d.More++
			continue
		}
		n := strconv.Itoa(len(d.Rows))
		x.Value, x.Text = v.r.PostFormValue("what-"+n), v.r.PostFormValue("hours-"+n)
		d.Rows = append(d.Rows, x)
	}
	v.Title, v.Place, v.Data = "Progress", "progress", d
	v.show(status, "progress")
	return nil
}

// dues are the rows of the plan that have something happen up to a moment, in order of
// time.
func dues(p *plant.Plant, to calendar.Moment) (list []due) {
	if p.Plan == nil || to <= p.AsOf {
		return nil
	}
	for _, r := range p.Plan.Stages {
		t := p.FindTruck(r.Truck)
		if r.Hold >= to || t == nil || p.FindStage(r.Stage) == nil {
			continue
		}
		x := due{Planned: r, Name: stageWords(p, r.Stage), Customer: customerOf(p, t), Ends: r.End <= to, Waits: r.Start >= to}
		x.Ran = slices.ContainsFunc(t.Running, func(k plant.Running) bool { return k.Stage == r.Stage })
		list = append(list, x)
	}
	slices.SortStableFunc(list, func(x, y due) int {
		return cmp.Or(cmp.Compare(min(x.End, to), min(y.End, to)), cmp.Compare(x.Truck, y.Truck))
	})
	return list
}

// tellProgress takes all work up to a moment as planned, but for what the form says.
func (w *Web) tellProgress(v *view) error {
	err := v.keepProgress()
	if err == nil {
		return v.back("/progress?done=yes")
	}
	return v.refused(err, v.showProgress)
}

func (v *view) keepProgress() error {
	p := v.State.Plant
	to, err := v.momentOf("to")
	if err != nil {
		return err
	}
	if to == calendar.NoMoment {
		return &api.Problem{Kind: api.Invalid, Title: "Up to when?", Detail: "No time was given.", Next: "Give the day and the time that the report speaks of."}
	}
	r := api.Report{AsOf: to, AsPlanned: true}
	for n := 0; n < duesShown; n++ {
		field := func(name string) string { return v.r.PostFormValue(name + "-" + strconv.Itoa(n)) }
		what := field("what")
		if what == "" {
			continue
		}
		row := api.Progress{Truck: field("truck"), Stage: field("stage"), Started: calendar.NoMoment, Ended: calendar.NoMoment, Remaining: -1}
		switch what {
		case "not":
		case "runs":
			if p.Plan == nil {
				return api.ErrEmpty
			}
			at := slices.IndexFunc(p.Plan.Stages, func(x plant.Planned) bool { return x.Truck == row.Truck && x.Stage == row.Stage })
			hours, bad := strconv.Atoi(field("hours"))
			if at < 0 || bad != nil || hours < 1 || hours > 2000 {
				return &api.Problem{Kind: api.Invalid, Title: "How many hours are left?", Detail: fmt.Sprintf("%s of truck %s still runs.", stageWords(p, row.Stage), row.Truck), Next: "Write the working hours that it still needs, such as 6."}
			}
			x := p.Plan.Stages[at]
			row.Started, row.Bay, row.Remaining = min(x.Start, to), x.Bay, hours*60
		default:
			return &api.Problem{Kind: api.Invalid, Title: "What became of it?", Detail: "“" + what + "” was sent.", Next: "Choose one of the answers."}
		}
		r.Rows = append(r.Rows, row)
	}
	r.Rows = append(r.Rows, waiting(p, r.Rows, to)...)
	i := api.Intent{Why: v.r.PostFormValue("why")}
	if seen, err := strconv.ParseInt(v.r.PostFormValue("seen"), 10, 64); err == nil {
		i.Expect = api.Expectation{Key: api.Whole, Revision: seen}
	}
	_, err = v.app.ReportProgress(v.ctx, v.Who, i, r)
	return err
}

// waiting is the work that cannot have begun, since the plan has it after work of the same
// truck that is not over.
func waiting(p *plant.Plant, but []api.Progress, to calendar.Moment) (list []api.Progress) {
	if p.Plan == nil {
		return nil
	}
	named := func(r plant.Planned) bool {
		return slices.ContainsFunc(but, func(b api.Progress) bool { return b.Truck == r.Truck && b.Stage == r.Stage })
	}
	for _, r := range p.Plan.Stages {
		if named(r) || r.Hold >= to {
			continue
		}
		if slices.ContainsFunc(p.Plan.Stages, func(x plant.Planned) bool { return x.Truck == r.Truck && named(x) && x.End <= r.Hold }) {
			list = append(list, api.Progress{Truck: r.Truck, Stage: r.Stage, Started: calendar.NoMoment, Ended: calendar.NoMoment, Remaining: -1})
		}
	}
	return list
}

// Behind is how many whole working days lie between the moment of the plant and the
// clock: what was done in them is not reported yet.
func (v *view) Behind() int {
	if v.State == nil {
		return 0
	}
	p := v.State.Plant
	today := v.app.Now(p).Date()
	if today <= p.AsOf.Date()+1 {
		return 0
	}
	g, err := p.Grid(p.AsOf.Date(), min(today, p.AsOf.Date()+366))
	if err != nil {
		return 0
	}
	h, err := p.Hours(p.Calendar, g)
	if err != nil {
		return 0
	}
	return h.WorkDaysBetween(p.AsOf.Date(), today)
}
