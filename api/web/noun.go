package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A nounPage is a noun of the plant, or a setting, as it is set up.
type nounPage struct {
	Noun  string
	Name  string // of all of them
	One   string // of one; "" for a setting, of which there is one
	Says  string
	Act   string // that it takes to change one
	Group string // in which it stands in the index
}

// nounPages lists what the plant is made of, in the order in which it is set up.
var nounPages = []nounPage{
	{"name", "Name", "", "What the plant is called.", api.ActSetUp, "house"},
	{"zone", "Time zone", "", "The zone in which the clock of the plant goes.", api.ActSetUp, "house"},
	{"horizon", "Horizon", "", "First and last day that may be planned.", api.ActSetUp, "house"},
	{"calendars", "Calendars", "calendar", "When people work: weeks, holidays, closures, overtime. A year to look at.", api.ActSetUp, "house"},
	{"calendar", "The plant’s own calendar", "", "By which of the calendars working days are counted.", api.ActSetUp, "house"},
	{"parts", "Parts of the day", "part of the day", "Bays are held for whole parts of a day.", api.ActSetUp, "house"},
	{"departments", "Departments", "department", "Who works by which calendar.", api.ActSetUp, "house"},
	{"bays", "Bays", "bay", "Places for one truck at a time, what they take, and when they are closed.", api.ActSetUp, "house"},
	{"crews", "Crews", "crew", "People, or shared gear, counted by head; with other numbers on some days.", api.ActSetUp, "house"},
	{"line", "Line", "", "Stations before line-off with their pace, and free places for orders to come.", api.ActSetUp, "work"},
	{"route", "Route", "stage", "The stages after line-off: how long, where, with whom, after what.", api.ActSetUp, "work"},
	{"wishes", "Wishes", "wish", "What a delegation may ask to do inside its visit.", api.ActSetUp, "work"},
	{"notice", "Notice ladder", "rung", "What must have happened by so many days before a visit.", api.ActSetUp, "rules"},
	{"buffer", "Buffer", "", "Working days between the last certificate and a visit, notice, and what counts as near.", api.ActSetUp, "rules"},
	{"prices", "Weights", "", "What counts how much inside each tier of the score.", api.ActSetUp, "rules"},
	{"measures", "Price list", "measure", "What can be done when a promise is in danger, and what it costs.", api.ActSetUp, "rules"},
	{"customers", "Customers", "customer", "Fire departments, their holidays and their distance.", api.ActSetUp, "orders"},
	{"trucks", "Trucks", "truck", "Shop orders: what they are, their contract, where they stand.", api.ActSetUp, "orders"},
	{"visits", "Visits", "visit", "Who comes to see which truck, and when they can. Days are booked on the page of the visit.", api.ActBook, "orders"},
}

// nounGroups are the headings of the index.
var nounGroups = []struct{ id, name string }{{"house", "The house"}, {"work", "The work"}, {"rules", "Rules and prices"}, {"orders", "Orders"}}

// plantGroups is the part of the index that is about the plant; none without a plant.
func (v *view) plantGroups() (groups []setupGroup) {
	if v.State == nil {
		return nil
	}
	for _, g := range nounGroups {
		shown := setupGroup{Name: g.name}
		for _, n := range nounPages {
			if n.Group == g.id {
				shown.Links = append(shown.Links, setupLink{n.Name, "/setup/" + n.Noun, n.Says})
			}
		}
		groups = append(groups, shown)
	}
	return groups
}

// nounAsked is the noun in the address of a page.
func (v *view) nounAsked() (nounPage, error) {
	if v.State == nil {
		return nounPage{}, api.ErrEmpty
	}
	name := v.r.PathValue("noun")
	for _, n := range nounPages {
		if n.Noun == name {
			return n, nil
		}
	}
	return nounPage{}, &api.Problem{Kind: api.NotFound, Title: "There is nothing of this name to set up", Detail: fmt.Sprintf("%.80q is no part of a plant.", name), Next: "Look for it under Plant."}
}

type nounsData struct {
	nounPage
	May   bool
	Heads []string
	Rows  []nounRow
	Leaf  leaf
	Marks bool // what the marks mean is told
}

type nounRow struct {
	ID, Name string
	Cells    []string
	Links    []setupLink
}

// nouns lists all of one noun; a setting is shown at once.
func (w *Web) nouns(v *view) error {
	n, err := v.nounAsked()
	if err != nil {
		return err
	}
	if n.One == "" {
		return v.editNoun(n, "")
	}
	d := nounsData{nounPage: n, May: v.Who.May(n.Act), Marks: n.Noun == "route"}
	d.Heads, d.Rows = v.rowsOf(n.Noun)
	d.Rows, d.Leaf = leafOf(v, d.Rows)
	v.setUp(n.Name, d)
	v.show(http.StatusOK, "nouns")
	return nil
}

// rowsOf tells the things of a noun in a table.
func (v *view) rowsOf(noun string) (heads []string, rows []nounRow) {
	p := v.State.Plant
	add := func(id, name string, cells ...string) {
		rows = append(rows, nounRow{ID: id, Name: cmp.Or(name, id), Cells: cells})
	}
	link := func(name, to string) {
		r := &rows[len(rows)-1]
		r.Links = append(r.Links, setupLink{Name: name, To: to})
	}
	switch noun {
	case "calendars":
		heads = []string{"Hours a week", "Holidays", "Closures and overtime from now on"}
		for i := range p.Calendars {
			c := &p.Calendars[i]
			var sets []string
			for _, h := range c.Rules.Holidays {
				sets = append(sets, h.Set)
			}
			var dated []string
			for _, x := range c.Rules.Closures {
				if x.Through >= p.AsOf.Date() {
					dated = append(dated, cmp.Or(x.Reason, "closed")+" "+v.span(x.From, x.Through))
				}
			}
			for _, x := range c.Rules.Overtime {
				if x.Day >= p.AsOf.Date() {
					dated = append(dated, "overtime "+v.Style.Day(x.Day))
				}
			}
			add(c.ID, "", hoursOf(c.Rules.Week.Minutes()), strings.Join(sets, ", "), strings.Join(dated, "; "))
		}
	case "parts":
		heads = []string{"From"}
		for _, x := range p.Parts {
			add(x.ID, "", v.Style.Clock(x.From))
		}
	case "departments":
		heads = []string{"Calendar"}
		for _, x := range p.Departments {
			add(x.ID, x.Name, x.Calendar)
		}
	case "bays":
		heads = []string{"Takes", "Which trucks", "Closed"}
		for i := range p.Bays {
			x := &p.Bays[i]
			var most []string
			for _, l := range []struct {
				n    float64
				word string
			}{{x.MaxLengthFt, "ft long"}, {x.MaxHeightFt, "ft high"}, {float64(x.MaxFlowGPM), "gpm"}} {
				if l.n > 0 {
					most = append(most, strconv.FormatFloat(l.n, 'f', -1, 64)+" "+l.word)
				}
			}
			if len(x.Needs) > 0 {
				most = append(most, plainWord("with "+strings.Join(x.Needs, ", ")))
			}
			var shut []string
			for _, c := range x.Closures {
				shut = append(shut, v.span(c.From, c.Through)+reasonIn(c.Reason))
			}
			add(x.ID, x.Name, plainWord(strings.Join(x.Kinds, ", ")), cmp.Or(strings.Join(most, ", "), "any"), strings.Join(shut, "; "))
			link("Week on paper", "/bays/"+url.PathEscape(x.ID)+"/week")
		}
	case "crews":
		heads = []string{"Heads", "Calendar", "Other numbers"}
		for i := range p.Crews {
			x := &p.Crews[i]
			var other []string
			for _, c := range x.Days {
				other = append(other, fmt.Sprintf("%d heads %s%s", c.Size, v.span(c.From, c.Through), reasonIn(c.Reason)))
			}
			add(x.ID, x.Name, strconv.Itoa(x.Size), x.Calendar, strings.Join(other, "; "))
		}
	case "route":
		heads = []string{"Department", "Working hours: likely (least to most)", "Bay", "With", "After", "For trucks with", "Mark"}
		for i := range p.Route {
			x := &p.Route[i]
			var with, after []string
			for _, c := range x.Crews {
				with = append(with, fmt.Sprintf("%d %s", c.Heads, crewWord(p, c.Crew)))
			}
			for _, a := range x.After {
				after = append(after, stageWords(p, a.Stage)+waits(a))
			}
			dep := x.Department
			if g := p.FindDepartment(dep); g != nil {
				dep = cmp.Or(g.Name, g.ID)
			}
			add(x.ID, x.Name, dep, lengthWords(x), plainWord(x.Bay), strings.Join(with, ", "), strings.Join(after, "; "), plainWord(strings.Join(x.Needs, ", ")), x.Mark)
		}
	case "wishes":
		heads = []string{"Hours", "Bay", "For trucks with"}
		for _, x := range p.Wishes {
			add(x.ID, x.Name, hoursOf(x.Minutes), plainWord(x.Bay), plainWord(strings.Join(x.Needs, ", ")))
		}
	case "notice":
		heads = []string{"Days before the visit"}
		for _, x := range p.Notice {
			add(x.ID, x.Name, strconv.Itoa(x.DaysBefore))
		}
	case "measures":
		heads = []string{"What is done", "Where", "Costs"}
		for i := range p.Measures {
			x := &p.Measures[i]
			var cost []string
			for _, c := range []struct {
				n    int
				word string
			}{{x.Dollars, ""}, {x.PerDay, " a day"}, {x.PerHead, " a head"}} {
				if c.n > 0 {
					cost = append(cost, dollars(c.n)+c.word)
				}
			}
			add(x.ID, x.Name, plainWord(x.Kind), plainWord(cmp.Or(x.Department, x.Crew, x.BayKind, x.Customer, "anywhere")), cmp.Or(strings.Join(cost, " and "), "nothing of its own"))
		}
	case "customers":
		heads = []string{"Town", "Road miles", "Calendar"}
		for _, x := range p.Customers {
			add(x.ID, x.Name, x.Town, strconv.Itoa(x.Miles), x.Calendar)
			if v.Who.May(api.ActQuote) {
				link("Ask for a delivery day", address("/quotes/new", "customer", x.ID))
			}
		}
	case "trucks":
		heads = []string{"Customer", "What", "Owed"}
		for i := range p.Trucks {
			x := &p.Trucks[i]
			add(x.ID, "", customerOf(p, x), plainWord(x.Content+" "+x.Kind), v.Style.Full(x.Contract.Due))
			link("Its page", "/trucks/"+url.PathEscape(x.ID))
		}
	case "visits":
		heads = []string{"Truck", "What", "Booking"}
		for i := range p.Visits {
			x := &p.Visits[i]
			add(x.ID, "", x.Truck, plainWord(x.Kind)+", "+count(x.Heads, "guest"), plainWord(x.Booking.State))
			link("Its page", "/visits/"+url.PathEscape(x.ID))
		}
	}
	return heads, rows
}

// span is a run of days for people.
func (v *view) span(from, through calendar.Date) string {
	if from == through {
		return v.Style.Full(from)
	}
	return v.Style.Day(from) + " to " + v.Style.Full(through)
}

func reasonIn(reason string) string {
	if reason == "" {
		return ""
	}
	return " (" + reason + ")"
}

func crewWord(p *plant.Plant, id string) string {
	if c := p.FindCrew(id); c != nil {
		return cmp.Or(c.Name, c.ID)
	}
	return id
}

// hoursOf writes working minutes as hours.
func hoursOf(minutes int) string {
	if m := minutes % 60; m > 0 {
		return fmt.Sprintf("%d h %02d", minutes/60, m)
	}
	return fmt.Sprintf("%d h", minutes/60)
}

// lengthWords is how long a stage takes.
func lengthWords(s *plant.Stage) string {
	switch s.Length {
	case plant.LengthVisit:
		return "as long as the visit"
	case plant.LengthDrive:
		return "days on the road"
	}
	of := func(e plant.Estimate) string {
		if e.MinMinutes == e.MaxMinutes || e.MaxMinutes == 0 {
			return hoursOf(e.LikelyMinutes)
		}
		return fmt.Sprintf("%s (%s to %s)", hoursOf(e.LikelyMinutes), hoursOf(e.MinMinutes), hoursOf(e.MaxMinutes))
	}
	text := of(s.Hours.Medium)
	if s.Hours.Light != s.Hours.Medium {
		text += "; light " + of(s.Hours.Light)
	}
	if s.Hours.Heavy != s.Hours.Medium {
		text += "; heavy " + of(s.Hours.Heavy)
	}
	for _, x := range s.Extra {
		text += "; " + plainWord(x.Feature) + " +" + hoursOf(x.Minutes)
	}
	return text
}

// waits are what lies between a stage and the one after it.
func waits(a plant.After) (text string) {
	for _, x := range []struct {
		minutes int
		word    string
	}{
		{a.MinElapsedMinutes, "%s later at the earliest"}, {a.MaxElapsedMinutes, "within %s"},
		{a.MinWorkMinutes, "%s of work later at the earliest"}, {a.MaxWorkMinutes, "within %s of work"},
	} {
		if x.minutes > 0 {
			text += ", " + fmt.Sprintf(x.word, hoursOf(x.minutes))
		}
	}
	return text
}

type nounData struct {
	nounPage
	ID     string // "" for a setting, and for a new one
	New    bool
	May    bool
	Fields []field
	Why    string
	Past   []api.Revision // that changed it, the newest first
	Year   *yearData      // of a calendar
}

// Key is the piece of the plant that the page is about.
func (d nounData) Key() string {
	if d.One == "" {
		return d.Noun
	}
	return d.Noun + "/" + d.ID
}

// To is the address of the page.
func (d nounData) To() string {
	switch {
	case d.One == "":
		return "/setup/" + d.Noun
	case d.New:
		return "/setup/" + d.Noun + "/new"
	}
	return "/setup/" + d.Noun + "/" + url.PathEscape(d.ID)
}

func (w *Web) noun(v *view) error {
	n, err := v.nounAsked()
	if err != nil {
		return err
	}
	return v.editNoun(n, v.r.PathValue("id"))
}

// editNoun shows one thing with its form. id is "new" for one to add.
func (v *view) editNoun(n nounPage, id string) error {
	d := nounData{nounPage: n, ID: id, New: n.One != "" && id == "new", May: v.Who.May(n.Act)}
	text := ""
	if d.New {
		d.ID = ""
	} else {
		t, err := v.app.Thing(v.ctx, v.Who, d.Key())
		switch {
		case err == nil:
			text = t.Text
		case n.One != "" || api.AsProblem(err).Kind != api.NotFound: // a setting that is as standard
			return err
		}
	}
	return v.showNoun(http.StatusOK, d, text)
}

// showNoun shows the form of a thing with what a text in the form of the plant file says.
func (v *view) showNoun(status int, d nounData, text string) error {
	p := v.State.Plant
	f := &former{p, d.Noun}
	node, err := nodeOf(text)
	if err != nil {
		return err
	}
	if s := shapeOf(d.Noun); s.kind() == fieldGroup {
		d.Fields = f.fields(s, node, "f")
	} else {
		d.Fields = []field{f.field(s, node, "f", d.Noun, true)}
	}
	for i := range d.Fields {
		d.Fields[i].Fixed = d.Fields[i].Name == "f.id" && !d.New
	}
	if !d.New {
		versions, err := v.app.History(v.ctx, v.Who, d.Key())
		if err != nil && api.AsProblem(err).Kind != api.NotFound {
			return err
		}
		for _, x := range slices.Backward(versions) {
			if len(d.Past) == 6 {
				break
			}
			r, _, err := v.app.Changes(v.ctx, v.Who, x.Revision)
			if err != nil {
				return err
			}
			d.Past = append(d.Past, r)
		}
	}
	title := d.Name
	switch {
	case d.New:
		title = "A new " + d.One
	case d.One != "":
		title = strings.ToUpper(d.One[:1]) + d.One[1:] + " " + d.ID
	}
	if d.Noun == "calendars" && !d.New {
		if d.Year, err = v.year(d.ID); err != nil {
			return err
		}
	}
	v.setUp(title, d)
	v.show(status, "noun")
	return nil
}

type lookData struct {
	nounData
	outcome
	Drop bool
	Sent []sentField // what was typed, to be sent again
}

type sentField struct{ Name, Value string }

// changeNoun looks at a change, or saves one that was looked at.
func (w *Web) changeNoun(v *view) error {
	n, err := v.nounAsked()
	if err != nil {
		return err
	}
	if err := v.r.ParseForm(); err != nil {
		return unreadable()
	}
	form := v.r.PostForm
	d := nounData{nounPage: n, ID: v.r.PathValue("id"), New: n.One != "" && v.r.PathValue("id") == "new", May: v.Who.May(n.Act), Why: form.Get("why")}
	text, err := v.textOf(&d, form)
	if err != nil {
		return err
	}
	err = func() error {
		if d.New {
			if d.ID == "" {
				return &api.Problem{Kind: api.Invalid, Title: "It has no name yet", Detail: "The short name is how other parts of the plant speak of it.", Next: "Give it one, such as " + d.Noun[:1] + "-1."}
			}
			if t, err := w.app.Thing(v.ctx, v.Who, d.Key()); err == nil && t.Text != "" {
				return &api.Problem{Kind: api.Conflict, Title: "There is one of this name already", Detail: fmt.Sprintf("%s is the name of another %s.", d.ID, d.One), Next: "Take another short name, or change the one there is."}
			}
		}
		drop := strings.HasPrefix(form.Get("do"), "drop")
		switch form.Get("do") {
		case "look", "drop":
			look, err := w.lookAt(v, d.Key(), text, drop)
			if err != nil {
				return err
			}
			return v.showLook(d, look, drop, form)
		case "save", "drop-save":
			seen, err := strconv.ParseInt(form.Get("seen"), 10, 64)
			if err != nil {
				return unreadable()
			}
			i := api.Intent{Why: d.Why, Expect: api.Expectation{Key: d.Key(), Revision: seen}}
			to := d.To()
			if d.New {
				to = "/setup/" + d.Noun
			}
			if drop {
				_, err = w.app.Drop(v.ctx, v.Who, i, d.Key())
				to = "/setup/" + d.Noun
			} else {
				_, err = w.app.Put(v.ctx, v.Who, i, d.Key(), text)
			}
			if err != nil {
				return err
			}
			return v.back(to)
		}
		return v.showNoun(http.StatusOK, d, string(text)) // another line was asked for, or to change it again
	}()
	if err == nil {
		return nil
	}
	return v.refused(err, func(status int) error { return v.showNoun(status, d, string(text)) })
}

func (w *Web) lookAt(v *view, key string, text []byte, drop bool) (*api.Look, error) {
	if drop {
		return w.app.LookDrop(v.ctx, v.Who, key)
	}
	return w.app.LookPut(v.ctx, v.Who, key, text)
}

// textOf is what was typed, as JSON with the keys of the plant file. It gives a new
// thing its name.
func (v *view) textOf(d *nounData, form url.Values) ([]byte, error) {
	f := &former{v.State.Plant, d.Noun}
	s := shapeOf(d.Noun)
	text := ""
	if d.New {
		d.ID = strings.TrimSpace(form.Get("f.id"))
	} else if t, err := v.app.Thing(v.ctx, v.Who, d.Key()); err == nil {
		text = t.Text
	} else if d.One != "" {
		return nil, err
	}
	old, err := nodeOf(text)
	if err != nil {
		return nil, err
	}
	if strings.HasPrefix(form.Get("do"), "drop") && old != nil { // the form is not sent
		return json.Marshal(plainValue(old))
	}
	return json.Marshal(f.read(s, form, old, "f"))
}

// showLook shows what a change would come to.
func (v *view) showLook(d nounData, look *api.Look, drop bool, form url.Values) error {
	l := lookData{nounData: d, outcome: v.outcomeOf(look), Drop: drop}
	for _, k := range slices.Sorted(maps.Keys(form)) {
		if k == "do" || k == "seen" {
			continue
		}
		for _, x := range form[k] {
			l.Sent = append(l.Sent, sentField{k, x})
		}
	}
	v.setUp("What this would change", l)
	v.show(http.StatusOK, "look")
	return nil
}
