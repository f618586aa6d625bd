package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Slips that no plan has answered yet.
type slipsData struct {
	Open []openSlip
	Fit  *api.Fit // of the plan in force; nil without one

	Report *reportData // where a report begins; nil for who may not
}

type openSlip struct {
	plant.Slip
	Says string
}

func (w *Web) slips(v *view) error {
	d := slipsData{Fit: v.State.Fit()}
	for i := range v.State.Plant.Slips {
		s := v.State.Plant.Slips[i]
		d.Open = append(d.Open, openSlip{s, v.slipWords(&s)})
	}
	if v.Who.May(api.ActReport) {
		lines, err := v.truckLines()
		if err != nil {
			return err
		}
		d.Report = &reportData{}
		d.Report.trucks(lines)
	}
	v.Title, v.Place, v.Data = "Slips without an answer", "slips", d
	v.show(http.StatusOK, "slips")
	return nil
}

// slipWords says what happened.
func (v *view) slipWords(s *plant.Slip) string {
	p := v.State.Plant
	over := v.Style.Day(s.Over.From) + " to " + v.Style.Day(s.Over.Through)
	switch s.Kind {
	case plant.LineOffMoved:
		return "Truck " + s.Truck + " comes off the line " + daysBy(s.Days)
	case plant.StageOverran:
		return stageWords(p, s.Stage) + " of truck " + s.Truck + " needs " + hoursWords(s.Minutes)
	case plant.TestFailed:
		return stageWords(p, s.Stage) + " of truck " + s.Truck + " failed and must be repeated"
	case plant.BayDown:
		return "Bay " + s.Bay + " is down, " + over
	case plant.CrewAway:
		name := s.Crew
		if c := p.FindCrew(s.Crew); c != nil {
			name = cmp.Or(c.Name, c.ID)
		}
		return name + ": " + strconv.Itoa(s.Heads) + " away, " + over
	}
	return "The customer of visit " + s.Visit + " cannot come, " + over
}

// daysBy says by how many working days something moves.
func daysBy(n int) string {
	switch {
	case n > 0:
		return count(n, "working day") + " later"
	case n < 0:
		return count(-n, "working day") + " earlier"
	}
	return "on the same working day"
}

func hoursWords(minutes int) string {
	word := " more"
	if minutes < 0 {
		minutes, word = -minutes, " less"
	}
	text := strconv.Itoa(minutes/60) + " h"
	if m := minutes % 60; m > 0 {
		text += " " + strconv.Itoa(m) + " min"
	}
	return text + word
}

// stageWords is the name of a stage, or of a wish inside a visit.
func stageWords(p *plant.Plant, id string) string {
	stage, wish, _ := strings.Cut(id, ".")
	if w := p.FindWish(wish); w != nil {
		return cmp.Or(w.Name, w.ID)
	}
	if g := p.FindStage(stage); g != nil {
		return cmp.Or(g.Name, g.ID)
	}
	return id
}

// Reporting takes three touches: the truck, what happened to it, and how much. What
// was chosen so far is in the address.
type reportData struct {
	Query string
	Near  []*truckLine // the likeliest trucks
	Other []*truckLine
	Truck *truckLine
	Kind  string
	Stage string
	Says  string // what was chosen, in words
	What  []touch
	Much  []touch
	Plant *plant.Plant
	Form  map[string]string // what was typed
}

// A touch is one big button.
type touch struct {
	Label, Detail string
	Kind, Stage   string // what is chosen by it
	Days, Hours   int
	Send          bool // nothing more has to be said
}

// mostNear is how many trucks are offered before all others.
const mostNear = 12

func (w *Web) newSlip(v *view) error { return v.showNewSlip(http.StatusOK) }

func (v *view) showNewSlip(status int) error {
	p := v.State.Plant
	d := &reportData{Kind: v.r.FormValue("kind"), Stage: v.r.FormValue("stage"), Query: strings.TrimSpace(v.r.FormValue("q")), Plant: p, Form: map[string]string{}}
	for _, f := range []string{"bay", "crew", "visit", "heads", "from", "through", "cause", "clock", "days", "hours"} {
		d.Form[f] = v.r.FormValue(f)
	}
	lines, err := v.truckLines()
	if err != nil {
		return err
	}
	id := v.r.FormValue("truck")
	d.Truck = findLine(lines, id)
	if id != "" && d.Truck == nil {
		_, err := v.app.Thing(v.ctx, v.Who, "trucks/"+id) // which says what is near
		if err != nil {
			return err
		}
	}
	v.Title, v.Place, v.Data = "What slipped?", "slips", d
	switch {
	case d.Truck == nil && d.Kind == "":
		d.trucks(lines)
	case d.Kind == "":
		v.Title = "What happened to " + d.Truck.Truck.ID + "?"
		d.What = happenings(p, d.Truck.Truck)
	case d.Truck == nil:
		v.Title = "What happened?"
	default:
		v.Title = "By how much?"
		d.Says = d.Truck.Truck.ID + " comes off the line later"
		d.Much = []touch{{Label: "+1 day", Days: 1}, {Label: "+2 days", Days: 2}, {Label: "+3 days", Days: 3}, {Label: "+5 days", Days: 5}}
		if d.Kind == plant.StageOverran {
			d.Says = stageWords(p, d.Stage) + " of " + d.Truck.Truck.ID + " takes longer"
			d.Much = append([]touch{{Label: "+4 hours", Hours: 4}}, d.Much...)
		}
	}
	v.show(status, "slip")
	return nil
}

// trucks puts those in front that most likely slip: under work, then next off the line.
func (d *reportData) trucks(lines []*truckLine) {
	var list []*truckLine
	for _, l := range lines {
		if !l.Gone && l.matches(d.Query) {
			list = append(list, l)
		}
	}
	rank := func(l *truckLine) int {
		switch {
		case len(l.Truck.Running) > 0:
			return 0
		case l.Truck.Line.Station != "":
			return 1
		case l.Truck.Line.Off != calendar.None:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(list, func(x, y *truckLine) int {
		return cmp.Or(cmp.Compare(rank(x), rank(y)), cmp.Compare(x.LineOff, y.LineOff))
	})
	n := min(len(list), mostNear)
	d.Near, d.Other = list[:n], list[n:]
}

// happenings are what can happen to a truck as it is.
func happenings(p *plant.Plant, t *plant.Truck) (list []touch) {
	done, runs := map[string]bool{}, map[string]bool{}
	for _, x := range t.Done {
		done[x.Stage] = true
	}
	for _, x := range t.Running {
		runs[x.Stage] = true
	}
	if t.Line.Off == calendar.None {
		list = append(list, touch{Label: "It comes off the line later", Kind: plant.LineOffMoved})
	}
	var later, failed []touch
	for i := range p.Route {
		g := &p.Route[i]
		name := cmp.Or(g.Name, g.ID)
		switch {
		case runs[g.ID]:
			list = append(list, touch{Label: name + " takes longer", Detail: "under work now", Kind: plant.StageOverran, Stage: g.ID})
			if g.Certifies {
				failed = append(failed, touch{Label: name + " failed", Detail: "it must be repeated", Kind: plant.TestFailed, Stage: g.ID, Send: true})
			}
		case done[g.ID] && g.Certifies:
			failed = append(failed, touch{Label: name + " failed", Detail: "it must be repeated", Kind: plant.TestFailed, Stage: g.ID, Send: true})
		case !done[g.ID] && p.Applies(t, g) && g.Length == plant.LengthHours && g.Station == "":
			later = append(later, touch{Label: name + " takes longer", Kind: plant.StageOverran, Stage: g.ID})
		}
	}
	return slices.Concat(list, failed, later)
}

// report keeps the slip and asks for the plan that answers it, in one touch.
func (w *Web) report(v *view) error {
	if err := v.reportSlip(); err != nil {
		return v.refused(err, v.showNewSlip)
	}
	j, err := w.app.AskProposal(v.ctx, v.Who, api.ProposeQuestion{})
	if err != nil {
		return err // the slip is on record: the list of slips offers to ask again
	}
	return v.back("/jobs/" + j.ID)
}

func (v *view) reportSlip() error {
	form := func(name string) string { return strings.TrimSpace(v.r.PostFormValue(name)) }
	s := plant.Slip{Kind: form("kind"), Truck: form("truck"), Stage: form("stage"), Bay: form("bay"), Crew: form("crew"), Visit: form("visit"), Cause: form("cause"), Clock: form("clock")}
	number := func(field string) (int, error) {
		if form(field) == "" {
			return 0, nil
		}
		n, err := strconv.Atoi(form(field))
		if err != nil || n < -366 || n > 366 {
			return 0, &api.Problem{Kind: api.Invalid, Title: "This is no number of " + field, Detail: "“" + form(field) + "” was sent.", Next: "Write a whole number up to 366, such as 3."}
		}
		return n, nil
	}
	days, err := number("days")
	if err != nil {
		return err
	}
	hours, err := number("hours")
	if err != nil {
		return err
	}
	if s.Heads, err = number("heads"); err != nil {
		return err
	}
	if s.Over.From, err = v.date("from"); err != nil {
		return err
	}
	if s.Over.Through, err = v.date("through"); err != nil {
		return err
	}
	if s.Over.Through == calendar.None {
		s.Over.Through = s.Over.From
	}
	switch s.Kind {
	case plant.LineOffMoved:
		s.Days = days
	case plant.StageOverran:
		if s.Minutes, err = workMinutes(v.State.Plant, s.Stage, days); err != nil {
			return err
		}
		s.Minutes += hours * 60
	}
	if (s.Kind == plant.LineOffMoved || s.Kind == plant.StageOverran) && s.Days == 0 && s.Minutes == 0 {
		return &api.Problem{Kind: api.Invalid, Title: "By how much?", Detail: "No days were given.", Next: "Choose a button, or write a number."}
	}
	for _, x := range v.State.Plant.Slips {
		with := s
		with.ID, with.Known = x.ID, x.Known
		if with == x {
			return &api.Problem{Kind: api.Conflict, Title: "This is on record already", Detail: "Slip " + x.ID + " says the same, and no plan has answered it yet.", Next: "Ask for a plan in the list of slips. If it slipped once more, withdraw the first one and report the sum."}
		}
	}
	_, _, err = v.app.ReportSlip(v.ctx, v.Who, api.Intent{Why: form("why")}, s)
	return err
}

// workMinutes are those that the department of a stage works on so many days to come.
func workMinutes(p *plant.Plant, stage string, days int) (int, error) {
	g := p.FindStage(stage)
	if g == nil || days == 0 {
		return 0, nil
	}
	from := p.AsOf.Date() + 1
	grid, err := p.Grid(from, from+4*366)
	if err != nil {
		return 0, err
	}
	h, err := p.DepartmentHours(g.Department, grid)
	if err != nil {
		return 0, err
	}
	last := from - 1
	for range max(days, -days) {
		next, ok := h.NextWorkDay(last)
		if !ok {
			return 0, &api.Problem{Kind: api.Invalid, Title: "So many days are not worked", Detail: "The department works on fewer days in the years ahead.", Next: "Give fewer days."}
		}
		last = next
	}
	n := h.Between(from.At(0), (last + 1).At(0))
	if days < 0 {
		n = -n
	}
	return n, nil
}

func (w *Web) withdraw(v *view) error {
	if _, err := w.app.WithdrawSlip(v.ctx, v.Who, api.Intent{Why: v.r.PostFormValue("why")}, v.r.PathValue("id")); err != nil {
		return err
	}
	return v.back("/slips")
}
