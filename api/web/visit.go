package web

import (
	"net/http"
	"slices"
	"strconv"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type visitData struct {
	Visit    *plant.Visit
	Truck    *plant.Truck
	Customer *plant.Customer
	Frozen   bool
	Next     bool // days on offer for its truck are for this visit
	Outcome  *plant.PlannedVisit
	Rows     []plant.Planned // of the visit and its wishes
	Ready    calendar.Moment
	Buffer   int // working days that must lie between
	Rungs    []rung
	May      []string // states that can follow
	Past     []past
	Order    api.BookingOrder
	Why      string // as it was typed
	Changed  int64
	Does     *solver.Impact    // what the order's day would do to others; nil: nobody asked
	Ahead    *readyLine        // nil when it is over
	Chances  *api.VisitChances // nil: there are none, and Sample says why
	Curve    *curve
	Sample   sample
}

// A rung of the notice ladder for one visit.
type rung struct {
	Name string
	By   calendar.Date
	Past bool
}

// past is a version of a record, in the words of its revision.
type past struct {
	Revision api.Revision
}

// visit is all about one visit, and what can be done about its booking.
//
// With a day in its address, it also says what taking that day would do to others.
func (w *Web) visit(v *view) error {
	o := api.BookingOrder{Day: calendar.None, HoldUntil: calendar.None}
	var err error
	if o.Day, err = v.date("day"); err != nil {
		return err
	}
	return v.showVisit(http.StatusOK, o)
}

// foresee says what the day of the order would do to others.
func (v *view) foresee(d *visitData) {
	o := d.Order
	if o.State = plant.Tentative; d.Visit.Booking.State == plant.Confirmed {
		o.State = plant.Confirmed
	}
	var err error
	if d.Does, err = v.app.Foresee(v.ctx, v.Who, d.Visit.ID, o); err != nil {
		v.Said = api.AsProblem(err)
	}
}

func (v *view) showVisit(status int, order api.BookingOrder) error {
	p := v.State.Plant
	vis := p.FindVisit(v.r.PathValue("id"))
	if vis == nil {
		_, err := v.app.Thing(v.ctx, v.Who, "visits/"+v.r.PathValue("id")) // which says what is near
		return err
	}
	d := &visitData{Visit: vis, Truck: p.FindTruck(vis.Truck), Frozen: p.Frozen(vis), Ready: calendar.NoMoment, Order: order, Why: v.r.PostFormValue("why"), May: api.Following(vis.Booking.State)}
	d.Customer = p.FindCustomer(d.Truck.Customer)
	d.Next = isNext(p, d.Truck, vis)
	d.Buffer = p.ReadyWorkDays(d.Truck)
	if p.Plan != nil {
		d.Ready = certified(p, d.Truck)
		for i := range p.Plan.Visits {
			if p.Plan.Visits[i].Visit == vis.ID {
				d.Outcome = &p.Plan.Visits[i]
			}
		}
		for _, r := range p.Plan.Stages {
			if g := p.FindStage(stageOf(r.Stage)); r.Truck == vis.Truck && g != nil && g.Visit == vis.Kind {
				d.Rows = append(d.Rows, r)
			}
		}
	}
	if day := vis.Booking.Day; day != calendar.None && vis.Planned() {
		for _, n := range p.Notice {
			by := day.AddDays(-n.DaysBefore)
			d.Rungs = append(d.Rungs, rung{n.Name, by, by < p.AsOf.Date()})
		}
	}
	versions, err := v.app.History(v.ctx, v.Who, "visits/"+vis.ID)
	if err != nil {
		return err
	}
	for _, x := range slices.Backward(versions) {
		d.Changed = max(d.Changed, x.Revision)
		if len(d.Past) == 12 {
			continue
		}
		r, _, err := v.app.Changes(v.ctx, v.Who, x.Revision)
		if err != nil {
			return err
		}
		d.Past = append(d.Past, past{r})
	}
	if vis.Planned() {
		v.chances(d)
	}
	if order.Day != calendar.None && v.r.Method == http.MethodGet && v.Who.May(api.ActBook) && vis.Planned() {
		v.foresee(d)
	}
	v.Title, v.Place, v.Data = "Visit "+vis.ID, "visits", d
	v.show(status, "visit")
	return nil
}

// chances fills in how likely the truck is ready, by the plan and day by day.
func (v *view) chances(d *visitData) {
	o := v.odds()
	lines := v.readyLines(o)
	if i := slices.IndexFunc(lines, func(l readyLine) bool { return l.Visit == d.Visit }); i >= 0 {
		d.Ahead = &lines[i]
	}
	ctx, done := v.wait()
	defer done()
	c, err := v.app.VisitChances(ctx, v.Who, d.Visit.ID)
	if err != nil {
		v.failed(ctx, err)
		d.Sample = withoutChances(err)
		return
	}
	d.Chances, d.Sample = c, v.sampleOf(&c.Basis, c.Revision)
	var list []stair
	for _, x := range c.Days {
		list = append(list, stair{x.Day, x.Chance.Share})
	}
	day, word := c.Day, "the plan"
	if b := d.Visit.Booking; b.Day != calendar.None {
		day, word = b.Day, "booked"
	}
	d.Curve = v.stairs(list, []milestone{{day, word, "now"}, {c.SafeFrom, "safe", "safe"}})
}

// stageOf is the stage of a row, which may be that of a wish.
func stageOf(row string) string {
	for i := range row {
		if row[i] == '.' {
			return row[:i]
		}
	}
	return row
}

// book takes a booking to another state or day. A refusal comes back on the page of the
// visit, with what was asked still in the form.
func (w *Web) book(v *view) error {
	o := api.BookingOrder{State: v.r.PostFormValue("state"), TravelBought: v.r.PostFormValue("travel_bought") != ""}
	var err error
	if o.Day, err = v.date("day"); err != nil {
		return err
	}
	if o.HoldUntil, err = v.date("hold_until"); err != nil {
		return err
	}
	id := v.r.PathValue("id")
	i := api.Intent{Why: v.r.PostFormValue("why")}
	if seen, err := strconv.ParseInt(v.r.PostFormValue("seen"), 10, 64); err == nil {
		i.Expect = api.Expectation{Key: "visits/" + id, Revision: seen}
	}
	if _, err := w.app.Book(v.ctx, v.Who, i, id, o); err != nil {
		v.Said = api.AsProblem(err)
		if v.State, err = w.app.State(v.ctx, v.Who, 0); err != nil {
			return err
		}
		if v.Said.Kind == api.Broken || v.State.Plant.FindVisit(id) == nil {
			return v.Said
		}
		return v.showVisit(statusOf(v.Said.Kind), o)
	}
	return v.back("/visits/" + id)
}
