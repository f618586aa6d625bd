package web

import (
	"cmp"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// The showroom floor: days across, floor positions down, parts of the day inside.
type floorData struct {
	Weeks    int
	From     calendar.Date
	Before   calendar.Date // where the weeks before begin
	After    calendar.Date
	Days     []floorDay
	Rows     []floorRow
	Requests []request
	More     int    // requests that are not listed
	Truck    string // for which days are on offer
	Visit    string
	Offers   []offered // those that are safe first, in order of their days; then the likelier first
	Job      *api.Job
	Old      int64 // revisions that came since it looked
	Refused  []solver.Refused
	Unsafe   []readyLine // promised, and not safe
	Hidden   int         // of those, not listed
	Sample   sample
	Dayless  sample // what the chances of the days on offer rest on

	Conditions conditionForm // that days on offer are looked for under
	under      []plant.Condition
}

// At is the address of the same floor from another day on.
func (d *floorData) At(from calendar.Date) string {
	job := ""
	if d.Job != nil {
		job = d.Job.ID
	}
	return withConditions(address("/floor", "from", from.String(), "weeks", strconv.Itoa(d.Weeks), "truck", d.Truck, "job", job), d.under)
}

// WhyNot is the address at which to ask why the truck cannot be shown on a day.
func (d *floorData) WhyNot(day calendar.Date) string {
	return withConditions(address("/trucks/"+url.PathEscape(d.Truck)+"/why", "on", day.String()), d.under)
}

type floorDay struct {
	Day    calendar.Date
	Parts  []string
	Closed string // why nobody works, "" on a working day
	Today  bool
	Not    bool // the truck that is being placed cannot be shown that day
}

type floorRow struct {
	Bay   *plant.Bay
	Cells []cell
	Used  int // parts taken, of those shown
	All   int
}

// A cell is a run of parts of days at one floor position.
type cell struct {
	Span   int
	Ticket *ticket
	Day    calendar.Date // of a free part
	Part   string
	Closed string // why nobody can stand here
	Rest   bool   // nobody works
	Offer  bool   // the day is on offer for the truck that is being placed
	First  bool   // the first part of a day
}

// A ticket is a truck that stands on the floor.
type ticket struct {
	Truck    string
	Customer string
	Town     string
	Visit    *plant.Visit
	Stage    string
	State    string
	Frozen   bool
	Outcome  string
	Hold     calendar.Moment
	Start    calendar.Moment
	End      calendar.Moment
	Begun    bool // before the first day shown
	GoesOn   bool // after the last
	Ready    calendar.Moment
	Wishes   []string
	Chance   *forecast.VisitOdds // nil without one
	Reserved bool                // the truck is not ordered: it holds its place
}

// Word is the state in a word for people.
func (t *ticket) Word() string {
	switch {
	case t.Reserved:
		return "not ordered"
	case t.Visit == nil:
		return "work"
	case t.Frozen:
		return "travel bought"
	case t.Outcome == plant.Moved:
		return "to be moved"
	}
	return t.State
}

// A request is a visit that wants a day, or whose day must be looked at.
type request struct {
	Visit    *plant.Visit
	Customer *plant.Customer
	Last     calendar.Date // the day on which time runs out for it
	Why      string        // what runs out that day
	Planned  calendar.Date // what the plan has for it
	Word     string
	Next     bool // days on offer for its truck are for this visit
	Chance   *forecast.VisitOdds
}

// An offered day, with the chance that the truck is ready.
type offered struct {
	solver.Offer
	Chance *forecast.Chance // nil: it is not known
	Least  bool             // the chance is that of a day before it, so it is as likely at least
	First  bool             // the first that is safe
}

// safe reports whether the truck is ready for it with enough of a chance.
func (o *offered) safe() bool { return o.Chance != nil && o.Chance.Share >= forecast.SafeShare }

const (
	fewestWeeks = 1
	mostWeeks   = 8

	requestsShown = 20
	unsafeShown   = 6
)

func (w *Web) floor(v *view) error { return v.showFloor(http.StatusOK) }

func (v *view) showFloor(status int) error {
	p := v.State.Plant
	d := &floorData{Weeks: 3, Truck: v.r.FormValue("truck")}
	if n, err := strconv.Atoi(v.r.FormValue("weeks")); err == nil {
		d.Weeks = min(max(n, fewestWeeks), mostWeeks)
	}
	from, err := v.date("from")
	if err != nil {
		return err
	}
	if err := v.offers(d); err != nil {
		return err
	}
	if from == calendar.None {
		from = p.AsOf.Date()
		for i := range d.Offers { // where something is marked
			if i == 0 || d.Offers[i].Day < from {
				from = d.Offers[i].Day
			}
		}
	}
	d.From = from - (calendar.Date(from.Weekday())+6)%7 // its Monday
	d.From = min(max(d.From, p.Horizon.From-6), p.Horizon.Through)
	d.Before, d.After = d.From-calendar.Date(7*d.Weeks), d.From+calendar.Date(7*d.Weeks)
	through := d.After - 1
	grid, err := p.Grid(d.From, through)
	if err != nil {
		return err
	}
	hours, err := p.Hours(p.Calendar, grid)
	if err != nil {
		return err
	}
	for day := d.From; day <= through; day++ {
		if !hours.PatternWorks(day) && !v.weekend(day, d) {
			continue
		}
		f := floorDay{Day: day, Today: day == p.AsOf.Date()}
		f.Not = slices.ContainsFunc(d.Refused, func(r solver.Refused) bool { return r.Day == day })
		if !hours.WorksDay(day) {
			f.Closed = "closed"
			if reason, closed := hours.Closed(day); closed && reason != "" {
				f.Closed = reason
			}
		}
		for i := range p.Parts {
			f.Parts = append(f.Parts, p.Parts[i].ID)
		}
		d.Days = append(d.Days, f)
	}
	o := v.odds()
	d.Sample = o.Sample
	for i := range p.Bays {
		if b := &p.Bays[i]; slices.Contains(b.Kinds, "floor") {
			d.Rows = append(d.Rows, v.row(b, d, grid, o))
		}
	}
	d.Unsafe = slices.DeleteFunc(v.readyLines(o), func(l readyLine) bool { return !l.Unsafe() })
	d.Hidden = max(0, len(d.Unsafe)-unsafeShown)
	d.Unsafe = d.Unsafe[:len(d.Unsafe)-d.Hidden]
	d.Requests = requests(p)
	for i := range d.Requests {
		d.Requests[i].Chance = o.Of(d.Requests[i].Visit.ID)
	}
	if v.r.FormValue("all") == "" {
		d.More = max(0, len(d.Requests)-requestsShown)
		d.Requests = d.Requests[:len(d.Requests)-d.More]
	}
	v.Title, v.Place, v.Data = "Floor", "floor", d
	v.show(status, "floor")
	return nil
}

// weekend reports whether a day of rest is shown, since something stands on it that
// could not be seen otherwise.
func (v *view) weekend(day calendar.Date, d *floorData) bool {
	plan := v.State.Plant.Plan
	return plan != nil && slices.ContainsFunc(plan.Stages, func(r plant.Planned) bool {
		s := v.State.Plant.FindStage(r.Stage)
		return s != nil && s.Bay == "floor" && r.Start.Date() == day
	})
}

// offers finds the days on offer for the truck that is being placed, and the conditions
// that they were looked for under: without an answer, those of the address.
func (v *view) offers(d *floorData) error {
	if d.Truck == "" {
		return nil
	}
	if v.State.Plant.FindTruck(d.Truck) == nil {
		_, err := v.app.Thing(v.ctx, v.Who, "trucks/"+d.Truck) // which says what is near
		return err
	}
	id := v.r.URL.Query().Get("job")
	if id == "" {
		var err error
		if d.under, err = v.conditions(); err != nil && v.Said == nil {
			v.Said = api.AsProblem(err)
		}
		d.Conditions = v.conditionForm(d.under, nil)
		return nil
	}
	j, err := v.app.Job(v.ctx, v.Who, id)
	if err != nil {
		return err
	}
	var q api.OffersQuestion
	if j.Kind != api.JobOffers || json.Unmarshal(j.Question, &q) != nil || q.Truck != d.Truck {
		return &api.Problem{Kind: api.Conflict, Title: "These days are for another truck", Detail: "The answer that the address names is about something else.", Next: "Ask for the days on offer again."}
	}
	d.Job, d.Old, d.under = j, v.State.Revision.Number-j.Revision, q.Conditions
	d.Conditions = v.conditionForm(q.Conditions, opposedBy(j.Problem))
	if !j.Finished() {
		v.w.Header().Set("Refresh", "2")
	}
	if j.State != api.JobDone {
		return nil
	}
	var list solver.OfferList
	if err := json.Unmarshal(j.Answer, &list); err != nil {
		return err
	}
	d.Visit, d.Refused = list.Visit, list.Refused
	for _, o := range list.Offers {
		d.Offers = append(d.Offers, offered{Offer: o})
	}
	v.rank(d)
	return nil
}

// rank says how likely the days on offer are, and ranks them by that.
func (v *view) rank(d *floorData) {
	if len(d.Offers) == 0 {
		return
	}
	ctx, done := v.wait()
	defer done()
	c, err := v.app.VisitChances(ctx, v.Who, d.Visit)
	if err != nil {
		v.failed(ctx, err)
		d.Dayless = withoutChances(err)
		return
	}
	d.Dayless = v.sampleOf(&c.Basis, c.Revision)
	for i := range d.Offers {
		for k := range c.Days {
			if o := &d.Offers[i]; c.Days[k].Day <= o.Day {
				o.Chance, o.Least = &c.Days[k].Chance, c.Days[k].Day < o.Day
			}
		}
	}
	slices.SortStableFunc(d.Offers, func(x, y offered) int {
		switch {
		case x.safe() && y.safe():
			return cmp.Compare(x.Day, y.Day)
		case x.safe():
			return -1
		case y.safe():
			return 1
		case x.Chance == nil || y.Chance == nil:
			return cmp.Compare(x.Day, y.Day)
		}
		return cmp.Or(cmp.Compare(y.Chance.Share, x.Chance.Share), cmp.Compare(x.Day, y.Day))
	})
	d.Offers[0].First = d.Offers[0].safe()
}

// row is one floor position over the days shown.
func (v *view) row(b *plant.Bay, d *floorData, grid *calendar.Grid, o *odds) floorRow {
	p := v.State.Plant
	row := floorRow{Bay: b}
	type seat struct {
		day  calendar.Date
		part int
	}
	taken := map[seat]*ticket{}
	for _, t := range v.tickets(b.ID) {
		from, okFrom := grid.At(max(t.Hold, d.From.At(0)))
		to, okTo := grid.At(min(t.End-1, d.After.At(0)-1))
		if !okFrom || !okTo || t.End <= d.From.At(0) || t.Hold >= d.After.At(0) {
			continue
		}
		if t.Visit != nil {
			t.Chance = o.Of(t.Visit.ID)
		}
		t.Begun, t.GoesOn = t.Hold < d.From.At(0), t.End > d.After.At(0)
		for s := from; s <= to; s++ {
			taken[seat{grid.Date(s), grid.Part(s)}] = t
		}
	}
	truck := p.FindTruck(d.Truck)
	for _, day := range d.Days {
		closed := day.Closed
		for _, c := range b.Closures {
			if c.Contains(day.Day) {
				closed = cmp.Or(c.Reason, "closed")
			}
		}
		for i := range day.Parts {
			row.All++
			t := taken[seat{day.Day, i}]
			if n := len(row.Cells); t != nil && n > 0 && row.Cells[n-1].Ticket == t {
				row.Cells[n-1].Span++
				row.Used++
				continue
			}
			c := cell{Span: 1, Ticket: t, Day: day.Day, Part: day.Parts[i], Closed: closed, Rest: day.Closed != "", First: i == 0}
			if t != nil {
				row.Used++
			} else if i == 0 && closed == "" && (truck == nil || b.Takes("floor", truck)) {
				c.Offer = slices.ContainsFunc(d.Offers, func(o offered) bool { return o.Day == day.Day })
			}
			row.Cells = append(row.Cells, c)
		}
	}
	return row
}

// tickets are the trucks that the plan has at a floor position, in order of time.
func (v *view) tickets(bay string) (list []*ticket) {
	p := v.State.Plant
	if p.Plan == nil {
		return nil
	}
	for i := range p.Plan.Stages {
		r := &p.Plan.Stages[i]
		g := p.FindStage(r.Stage)
		if r.Bay != bay || g == nil {
			continue
		}
		t := &ticket{Truck: r.Truck, Stage: cmp.Or(g.Name, g.ID), Hold: r.Hold, Start: r.Start, End: r.End, Ready: calendar.NoMoment}
		if truck := p.FindTruck(r.Truck); truck != nil {
			if c := p.FindCustomer(truck.Customer); c != nil {
				t.Customer, t.Town = c.Name, c.Town
			}
			t.Ready, t.Reserved = certified(p, truck), truck.Reserved.For != ""
			if vis := p.VisitOf(truck, g.Visit); vis != nil && g.Visit != "" {
				t.Visit, t.State, t.Frozen, t.Wishes = vis, vis.Booking.State, p.Frozen(vis), vis.Wishes
			}
		}
		if t.Visit != nil {
			for _, o := range p.Plan.Visits {
				if o.Visit == t.Visit.ID {
					t.Outcome = o.Outcome
				}
			}
		}
		list = append(list, t)
	}
	slices.SortFunc(list, func(x, y *ticket) int { return cmp.Compare(x.Hold, y.Hold) })
	return list
}

// certified is the end of the last certificate of a truck, by the plan and by what is
// done; calendar.NoMoment if it needs none.
func certified(p *plant.Plant, t *plant.Truck) calendar.Moment {
	last := calendar.NoMoment
	for _, d := range t.Done {
		if g := p.FindStage(d.Stage); g != nil && g.Certifies {
			last = max(last, d.Ended)
		}
	}
	for i := range p.Plan.Stages {
		if r := &p.Plan.Stages[i]; r.Truck == t.ID {
			if g := p.FindStage(r.Stage); g != nil && g.Certifies {
				last = max(last, r.End)
			}
		}
	}
	return last
}

// requests are the visits that somebody must do something about, in the order in which
// time runs out for them.
func requests(p *plant.Plant) (list []request) {
	planned := map[string]plant.PlannedVisit{}
	if p.Plan != nil {
		for _, o := range p.Plan.Visits {
			planned[o.Visit] = o
		}
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		o, known := planned[v.ID]
		r := request{Visit: v, Last: calendar.None, Planned: calendar.None}
		if known {
			r.Planned = o.Day
		}
		switch {
		case !v.Planned():
			continue
		case known && o.Outcome == plant.Broken && v.Booking.State != plant.Requested:
			r.Word = "The plan has no day for it"
		case v.Booking.State == plant.Requested:
			r.Word = "Wants a day"
		case known && o.Outcome == plant.Moved:
			r.Word = "The plan has another day: agree on it"
		case v.Booking.State == plant.Tentative && v.Booking.HoldUntil != calendar.None:
			r.Word = "Held: a yes or a no"
		default:
			continue
		}
		r.runsOut(p)
		if t := p.FindTruck(v.Truck); t != nil {
			r.Customer = p.FindCustomer(t.Customer)
			r.Next = isNext(p, t, v)
		}
		list = append(list, r)
	}
	slices.SortStableFunc(list, func(x, y request) int { return cmp.Compare(x.Last, y.Last) })
	return list
}

// runsOut finds what comes first: the end of the hold, the rung of the notice ladder that
// the day of the plan, or else the day booked, reaches next, that day itself when none is
// left, or the last day on which the customer can come.
func (r *request) runsOut(p *plant.Plant) {
	first := func(day calendar.Date, why string) {
		if day != calendar.None && (r.Last == calendar.None || day < r.Last) {
			r.Last, r.Why = day, why
		}
	}
	b := &r.Visit.Booking
	for _, w := range r.Visit.Windows {
		if w.Through > r.Last {
			r.Last, r.Why = w.Through, "the last day on which they can come"
		}
	}
	day := r.Planned
	if day == calendar.None {
		day = b.Day
	}
	first(day, "the day itself")
	// A new day is to be held by the rung of that name, and agreed by that if it was; one that
	// is held is to be agreed.
	wanted := plant.Confirmed
	if b.State != plant.Confirmed && day != b.Day {
		wanted = plant.Tentative
	}
	at := max(0, slices.IndexFunc(p.Notice, func(n plant.Notice) bool { return n.ID == wanted }))
	for _, n := range p.Notice[at:] {
		if by := day.AddDays(-n.DaysBefore); day != calendar.None && by >= p.AsOf.Date() {
			first(by, n.Name)
			break
		}
	}
	if b.State == plant.Tentative {
		first(b.HoldUntil, "the hold ends")
	}
}

// isNext reports whether the days on offer for a truck are for this visit: they are for
// its final inspection as long as that is to come.
func isNext(p *plant.Plant, t *plant.Truck, v *plant.Visit) bool {
	final := p.VisitOf(t, plant.FinalInspection)
	return final == nil || final == v
}

// askOffers asks for the days on offer for a truck, under conditions or none, and shows
// them on the floor.
func (w *Web) askOffers(v *view) error {
	truck := v.r.PathValue("id")
	conditions, err := v.conditions()
	var j *api.Job
	if err == nil {
		j, err = w.app.AskOffers(v.ctx, v.Who, api.OffersQuestion{Truck: truck, Conditions: conditions})
	}
	if err != nil {
		if v.State.Plant.FindTruck(truck) == nil {
			return err
		}
		return v.refused(err, func(status int) error {
			v.r.Form.Set("truck", truck)
			return v.showFloor(status)
		})
	}
	return v.back(withConditions(address("/floor", "truck", truck, "job", j.ID), conditions))
}
