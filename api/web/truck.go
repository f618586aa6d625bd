package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A truckLine is one truck in a list.
type truckLine struct {
	Truck    *plant.Truck
	Customer string
	Where    string        // it is now, in words
	LineOff  calendar.Date // when it came or comes off the line
	Visits   []*plant.Visit
	Day      calendar.Date // of its next visit by the plan
	Delivery *solver.Delivery
	Gone     bool // delivered
}

func (l *truckLine) matches(q string) bool {
	q = strings.ToLower(q)
	return q == "" || strings.Contains(strings.ToLower(l.Truck.ID), q) || strings.Contains(strings.ToLower(l.Customer), q) || strings.Contains(strings.ToLower(l.Truck.Kind), q)
}

// Late is how many days after its contract it is delivered.
func (l *truckLine) Late() int {
	if l.Delivery == nil {
		return 0
	}
	return l.Delivery.Late
}

func findLine(lines []*truckLine, id string) *truckLine {
	for _, l := range lines {
		if l.Truck.ID == id {
			return l
		}
	}
	return nil
}

// truckLines are all trucks, in the order of the plant.
func (v *view) truckLines() ([]*truckLine, error) {
	p := v.State.Plant
	j, err := p.Project()
	if err != nil {
		return nil, err
	}
	at := map[string]*truckLine{}
	var list []*truckLine
	for i := range p.Trucks {
		t := &p.Trucks[i]
		l := &truckLine{Truck: t, Customer: customerOf(p, t), LineOff: j.LineOff(t.ID), Day: calendar.None, Gone: true}
		at[t.ID] = l
		list = append(list, l)
	}
	for i := range p.Visits {
		if x := &p.Visits[i]; x.Planned() && at[x.Truck] != nil {
			at[x.Truck].Visits = append(at[x.Truck].Visits, x)
		}
	}
	plan := p.Plan
	if plan == nil {
		plan = &plant.Plan{}
	}
	for _, d := range solver.Deliveries(p, plan) {
		at[d.Truck].Delivery, at[d.Truck].Gone = &d, false
	}
	day := map[string]calendar.Date{}
	for _, o := range plan.Visits {
		day[o.Visit] = o.Day
	}
	for _, l := range list {
		for _, x := range l.Visits {
			if d, ok := day[x.ID]; ok && d != calendar.None && (l.Day == calendar.None || d < l.Day) {
				l.Day = d
			}
		}
		l.Where = v.where(l)
	}
	return list, nil
}

func customerOf(p *plant.Plant, t *plant.Truck) string {
	if c := p.FindCustomer(t.Customer); c != nil {
		return c.Name
	}
	return t.Customer
}

// where says where a truck is now.
func (v *view) where(l *truckLine) string {
	p, t := v.State.Plant, l.Truck
	if n := len(t.Running); n > 0 {
		text := stageWords(p, t.Running[n-1].Stage)
		if b := t.Running[n-1].Bay; b != "" {
			text += " in " + b
		}
		return text
	}
	if at := t.Standing; at.Stage != "" {
		return "lined up in " + at.Bay + " for " + stageWords(p, at.Stage)
	}
	switch {
	case l.Gone:
		return "delivered"
	case t.Line.Station != "":
		name := t.Line.Station
		if s := p.FindStation(name); s != nil {
			name = cmp.Or(s.Name, s.ID)
		}
		return "on the line at " + name + ", off it " + v.Style.Day(l.LineOff)
	case t.Line.Off != calendar.None:
		return "off the line since " + v.Style.Day(t.Line.Off)
	}
	return "enters the line " + v.Style.Day(t.Line.Enters)
}

type trucksData struct {
	Query string
	Show  string // "", "late", "line", "off", "held", "gone"
	List  []*truckLine
	Leaf  leaf
	Of    int
}

func (w *Web) trucks(v *view) error {
	lines, err := v.truckLines()
	if err != nil {
		return err
	}
	d := trucksData{Query: strings.TrimSpace(v.r.FormValue("q")), Show: v.r.FormValue("show"), Of: len(lines)}
	for _, l := range lines {
		shown := !l.Gone
		switch d.Show {
		case "late":
			shown = l.Late() > 0
		case "held":
			shown = !l.Gone && l.Truck.Reserved.For != ""
		case "line":
			shown = !l.Gone && l.Truck.Line.Off == calendar.None
		case "off":
			shown = !l.Gone && l.Truck.Line.Off != calendar.None
		case "gone":
			shown = l.Gone
		}
		if shown && l.matches(d.Query) {
			d.List = append(d.List, l)
		}
	}
	slices.SortStableFunc(d.List, func(x, y *truckLine) int {
		return cmp.Or(cmp.Compare(y.Late(), x.Late()), cmp.Compare(x.LineOff, y.LineOff))
	})
	d.List, d.Leaf = leafOf(v, d.List)
	v.Title, v.Place, v.Data = "Trucks", "trucks", d
	v.show(http.StatusOK, "trucks")
	return nil
}

type truckData struct {
	*truckLine
	Held    *heldPlace // for an order that is not placed; nil: it is ordered
	Steps   []step
	Chart   *chart
	Rows    []rowOfVisit
	Slips   []openSlip
	Days    []promised
	Said    []*promise
	Drawn   *drifts
	Past    []past
	Changed int64
	Now     calendar.Moment // what a report most likely speaks of
}

// A step is one stage on the way of a truck.
type step struct {
	ID, Name   string
	State      string // done, runs, planned, open
	Hold       calendar.Moment
	Start, End calendar.Moment
	Bay        string
	Certifies  bool
	Visit      bool
	Delivers   bool
	Wish       bool
	Longer     int // minutes more than the route says
}

// Word is the state for people.
func (s step) Word() string {
	switch s.State {
	case "done":
		return "done"
	case "runs":
		return "under way"
	case "planned":
		return "planned"
	}
	return "not planned"
}

type rowOfVisit struct {
	Visit  *plant.Visit
	Frozen bool
	Day    calendar.Date
	Bay    string
	Word   string
}

// A promised day is what was said about a truck, when, and by whom.
type promised struct {
	Revision int64
	On       calendar.Date // for what a person said about the line; else None
	About    string
	Day      calendar.Date
	Word     string
}

func (w *Web) truck(v *view) error { return v.showTruck(http.StatusOK) }

func (v *view) showTruck(status int) error {
	p, id := v.State.Plant, v.r.PathValue("id")
	lines, err := v.truckLines()
	if err != nil {
		return err
	}
	d := &truckData{truckLine: findLine(lines, id), Now: p.AsOf}
	if d.truckLine == nil {
		_, err := v.app.Thing(v.ctx, v.Who, "trucks/"+id) // which says what is near
		return err
	}
	d.Held = held(d.Truck, "/trucks/"+id, "/trucks")
	d.Steps = stepsOf(p, d.Truck)
	d.Chart = v.chartOf(d)
	for i := range p.Visits {
		if x := &p.Visits[i]; x.Truck == id {
			r := rowOfVisit{Visit: x, Frozen: p.Frozen(x), Day: calendar.None}
			if p.Plan != nil {
				for _, o := range p.Plan.Visits {
					if o.Visit == x.ID {
						r.Day, r.Bay, r.Word = o.Day, o.Bay, o.Outcome
					}
				}
			}
			d.Rows = append(d.Rows, r)
		}
	}
	for _, s := range p.Slips {
		if s.Truck == id {
			d.Slips = append(d.Slips, openSlip{s, v.slipWords(&s)})
		}
	}
	if err := v.promises(d); err != nil {
		return err
	}
	told, err := v.app.Promises(v.ctx, v.Who, id)
	if err != nil {
		return err
	}
	d.Said = v.promisesOf(d, told)
	d.Drawn = v.drawPromises(d.Said)
	v.Title, v.Place, v.Data = "Truck "+id, "trucks", d
	v.show(status, "truck")
	return nil
}

// stepsOf are the stages of a truck in order of time: done, under way, planned, and open
// without a place in the plan.
func stepsOf(p *plant.Plant, t *plant.Truck) (list []step) {
	known := map[string]bool{}
	of := func(id string) step {
		s := step{ID: id, Name: stageWords(p, id), Hold: calendar.NoMoment, Start: calendar.NoMoment, End: calendar.NoMoment, Wish: strings.Contains(id, ".")}
		if g := p.FindStage(id); g != nil {
			s.Certifies, s.Visit, s.Delivers = g.Certifies, g.Visit != "", g.Delivers
		}
		for _, o := range t.Overruns {
			if o.Stage == id {
				s.Longer += o.Minutes
			}
		}
		known[id] = true
		return s
	}
	for _, x := range t.Done {
		s := of(x.Stage)
		s.State, s.End = "done", x.Ended
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(x, y step) int { return cmp.Compare(x.End, y.End) })
	done := len(list)
	for _, x := range t.Running {
		s := of(x.Stage)
		s.State, s.Start, s.Bay = "runs", x.Started, x.Bay
		list = append(list, s)
	}
	if p.Plan != nil {
		for _, r := range p.Plan.Stages {
			if r.Truck != t.ID {
				continue
			}
			if at := slices.IndexFunc(list, func(s step) bool { return s.ID == r.Stage }); at >= 0 {
				if list[at].State == "runs" {
					list[at].Hold, list[at].End, list[at].Bay = r.Hold, r.End, r.Bay
				}
				continue
			}
			s := of(r.Stage)
			s.State, s.Hold, s.Start, s.End, s.Bay = "planned", r.Hold, r.Start, r.End, r.Bay
			list = append(list, s)
		}
	}
	slices.SortStableFunc(list[done:], func(x, y step) int { return cmp.Compare(x.Start, y.Start) })
	for i := range p.Route {
		if g := &p.Route[i]; !known[g.ID] && p.Applies(t, g) {
			s := of(g.ID)
			s.State = "open"
			list = append(list, s)
		}
	}
	return list
}

// chartOf draws what is under way and to come; nil when there is nothing.
func (v *view) chartOf(d *truckData) *chart {
	var spans []span
	for _, s := range d.Steps {
		if s.State != "runs" && s.State != "planned" || s.Start == calendar.NoMoment || s.End == calendar.NoMoment {
			continue
		}
		kind := s.State
		switch {
		case s.Visit && s.State == "planned":
			kind = "visit"
		case s.Certifies && s.State == "planned":
			kind = "certifies"
		}
		spans = append(spans, span{s.Start, s.End, kind, s.Name})
	}
	var lines []milestone
	if d.Truck.Line.Off == calendar.None && d.LineOff != calendar.None {
		lines = append(lines, milestone{d.LineOff, "line-off", "lineoff"})
	}
	lines = append(lines, milestone{d.Truck.Contract.Due, "contract", "due"})
	if d.Truck.Contract.Deadline != calendar.None {
		lines = append(lines, milestone{d.Truck.Contract.Deadline, "hard deadline", "deadline"})
	}
	return v.draw(v.State.Plant, spans, lines)
}

// promises are all days that were ever said about a truck: the line-off days, those of
// its visits, and those of delivery by the plans that were in force.
func (v *view) promises(d *truckData) error {
	for _, o := range d.Truck.Line.Overrides {
		d.Days = append(d.Days, promised{On: o.On, About: "Line-off", Day: o.Off, Word: strings.Join(slices.DeleteFunc([]string{o.By, o.Reason, strings.ReplaceAll(o.Cause, "_", " ")}, func(s string) bool { return s == "" }), ", ")})
	}
	list, err := v.app.History(v.ctx, v.Who, "trucks/"+d.Truck.ID)
	if err != nil {
		return err
	}
	for _, x := range list {
		d.Changed = max(d.Changed, x.Revision)
	}
	for _, x := range slices.Backward(list) {
		if len(d.Past) == 12 {
			break
		}
		r, _, err := v.app.Changes(v.ctx, v.Who, x.Revision)
		if err != nil {
			return err
		}
		d.Past = append(d.Past, past{r})
	}
	for _, r := range d.Rows {
		if err := v.said(d, "visits/"+r.Visit.ID, "Visit "+r.Visit.ID, func(text string) (calendar.Date, string) {
			b := fieldsOf(fieldsOf(text)["booking"])
			return dayOf(b["day"]), b["state"]
		}); err != nil {
			return err
		}
	}
	if v.State.Plant.Plan == nil || d.Delivery == nil {
		return nil
	}
	return v.said(d, "plan/stages/"+d.Truck.ID, "Delivery", func(text string) (calendar.Date, string) {
		for _, e := range elementsOf(text) {
			f := fieldsOf(e)
			if g := v.State.Plant.FindStage(f["stage"]); g != nil && g.Delivers {
				if m, err := calendar.ParseMoment(f["end"]); err == nil {
					return (m - 1).Date(), "by the plan"
				}
			}
		}
		return calendar.None, "not in the plan"
	})
}

// said adds what the versions of a piece said, where one said another thing than the one
// before it.
func (v *view) said(d *truckData, key, about string, read func(text string) (calendar.Date, string)) error {
	list, err := v.app.History(v.ctx, v.Who, key)
	if err != nil {
		if p := api.AsProblem(err); p.Kind == api.NotFound {
			return nil
		}
		return err
	}
	var before promised
	for _, x := range list {
		if x.Text == "" {
			continue
		}
		q := promised{On: calendar.None, About: about}
		q.Day, q.Word = read(x.Text)
		if q == before {
			continue
		}
		before = q
		q.Revision = x.Revision
		d.Days = append(d.Days, q)
	}
	return nil
}

func dayOf(s string) calendar.Date {
	d, err := calendar.ParseDate(s)
	if err != nil {
		return calendar.None
	}
	return d
}

// truckLineOff keeps what is said about the line-off day of one truck.
func (w *Web) truckLineOff(v *view) error {
	l := api.LineOff{Truck: v.r.PathValue("id"), Off: v.r.PostFormValue("off") == "yes", Reason: v.r.PostFormValue("reason"), Cause: strings.TrimSpace(v.r.PostFormValue("cause"))}
	var err error
	if l.Day, err = v.date("day"); err == nil {
		_, err = w.app.ReportLineOff(v.ctx, v.Who, api.Intent{Why: l.Reason}, l)
	}
	return v.toldTruck(err)
}

// truckProgress keeps what became of one stage.
func (w *Web) truckProgress(v *view) error {
	row := api.Progress{Truck: v.r.PathValue("id"), Stage: v.r.PostFormValue("stage"), Started: calendar.NoMoment, Ended: calendar.NoMoment, Bay: v.r.PostFormValue("bay"), Remaining: -1}
	at, err := v.momentOf("at")
	switch what := v.r.PostFormValue("what"); {
	case err != nil:
	case what == "reopened":
		row.Bay = ""
	case at == calendar.NoMoment:
		err = &api.Problem{Kind: api.Invalid, Title: "When?", Detail: "No time was given.", Next: "Give the day and the time."}
	case what == "ended":
		row.Ended = at
	default:
		row.Started = at
		if h := v.r.PostFormValue("hours"); h != "" {
			n, bad := strconv.Atoi(h)
			if bad != nil || n < 0 || n > 2000 {
				err = &api.Problem{Kind: api.Invalid, Title: "This is no number of hours", Detail: "“" + h + "” was sent.", Next: "Write a whole number, such as 6."}
			}
			row.Remaining = n * 60
		}
	}
	if err == nil && at > v.State.Plant.AsOf {
		err = &api.Problem{Kind: api.Invalid, Title: "The plant is not so far yet", Detail: "It stands as of " + v.Style.Moment(v.State.Plant.AsOf) + ".", Next: "Bring the whole plant up to that time on the page Progress, and say there what went otherwise."}
	}
	if err == nil {
		_, err = w.app.ReportProgress(v.ctx, v.Who, api.Intent{Why: v.r.PostFormValue("why")}, api.Report{AsOf: calendar.NoMoment, Rows: []api.Progress{row}})
	}
	return v.toldTruck(err)
}

// toldTruck goes back to the page of the truck, or shows there why not.
func (v *view) toldTruck(err error) error {
	if err == nil {
		return v.back("/trucks/" + v.r.PathValue("id"))
	}
	return v.refused(err, v.showTruck)
}

// momentOf is a moment that was sent with a form; calendar.NoMoment if there is none.
func (v *view) momentOf(field string) (calendar.Moment, error) {
	text := v.r.FormValue(field)
	if text == "" {
		return calendar.NoMoment, nil
	}
	m, err := calendar.ParseMoment(text)
	if err != nil {
		return calendar.NoMoment, &api.Problem{Kind: api.Invalid, Title: "This is no time", Detail: "What was sent as " + field + " is not a day and a time.", Next: "Write it as 2027-05-14T15:30."}
	}
	return m, nil
}
