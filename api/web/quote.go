package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

const (
	quotesShown   = 100
	quotesCounted = 1000 // of which it is told how they came true
)

// longestNote is in characters.
const longestNote = 1000

type quotesData struct {
	List    []quoteWords // the newest first
	Next    int64        // where older ones begin, 0 for none
	First   bool         // the newest are shown
	Tallies []tally      // of the newest quotesCounted; nil while nothing of them is delivered
}

type quoteWords struct {
	*api.Quote
	Customer string
	Says     string
	Became   *api.QuoteOutcome
}

// Word is what became of it.
func (q quoteWords) Word() string { return outcomeWords[q.Became.State] }

func (w *Web) quotes(v *view) error {
	before, err := v.whole("before")
	if err != nil {
		return err
	}
	list, err := w.app.Quotes(v.ctx, v.Who, api.Page{After: before, Newest: true, Limit: quotesShown + 1})
	if err != nil {
		return err
	}
	d := quotesData{First: before == 0}
	counted := quotesShown
	if d.First {
		counted = quotesCounted
	}
	became, err := w.app.QuoteOutcomes(v.ctx, v.Who, api.Page{After: before, Newest: true, Limit: counted})
	if err != nil {
		return err
	}
	if len(list) > quotesShown {
		list = list[:quotesShown]
		d.Next = list[quotesShown-1].Seq
	}
	for _, q := range list {
		i := slices.IndexFunc(became, func(o *api.QuoteOutcome) bool { return o.Quote == q.ID })
		if i < 0 {
			continue // asked while the page was made
		}
		d.List = append(d.List, quoteWords{q, v.customerWord(q.Order.Truck.Customer), v.quoteSays(q), became[i]})
	}
	if t := tallies(became); d.First && t[0].Of > 0 {
		d.Tallies = t
	}
	v.Title, v.Place, v.Data = "Quotes", "quotes", d
	v.show(http.StatusOK, "quotes")
	return nil
}

// customerWord is the name of a customer, its id when the plant has it no more.
func (v *view) customerWord(id string) string {
	if c := v.State.Plant.FindCustomer(id); c != nil {
		return c.Name
	}
	return id
}

// quoteSays is an answer in a few words.
func (v *view) quoteSays(q *api.Quote) string {
	r := q.Result
	switch {
	case r.Delivery != calendar.None:
		says := v.Style.Full(r.Delivery) + ", perhaps earlier"
		if r.Status == plant.Optimal {
			says = v.Style.Full(r.Delivery) + ", the earliest"
		}
		if q.Order.Visit.ID != "" && r.Visit == calendar.None {
			says += ", without the visit"
		}
		return says
	case r.Status == plant.Infeasible:
		return "no day within the horizon"
	}
	return "no day found in time"
}

// An orderForm is what sales typed, as it was typed.
type orderForm struct {
	Form      url.Values
	Customers []plant.Customer
	Kinds     []string
	Options   []string
	Graphics  []string
	Wishes    []plant.Wish
	Slots     []plant.FreeSlot
	First     calendar.Date // days that can be asked about
	Last      calendar.Date
	Parts     int
}

// Is reports whether a box of the form is ticked, or a choice taken.
func (f orderForm) Is(field, value string) bool { return slices.Contains(f.Form[field], value) }

// Get is what stands in a field.
func (f orderForm) Get(field string) string { return f.Form.Get(field) }

// runsAsked is for how many runs of days the form has room, if no more are known.
const runsAsked = 3

// Runs numbers the runs of days.
func (f orderForm) Runs() (list []string) {
	for i := 1; ; i++ {
		n := strconv.Itoa(i)
		if i > runsAsked && f.Get("window_from_"+n)+f.Get("window_through_"+n)+f.Get("not_from_"+n)+f.Get("not_through_"+n) == "" {
			return list
		}
		list = append(list, n)
	}
}

func (w *Web) newQuote(v *view) error {
	p := v.State.Plant
	form := url.Values{"kind": {"pumper"}, "content": {plant.Medium}, "length_ft": {"33"}, "height_ft": {"10"}, "flow_gpm": {"1500"}, "graphics": {"lettering"}, "comes": {"yes"}, "heads": {"3"}, "halves": {"2"}, "travel_days": {"1"}}
	if len(p.Customers) > 0 {
		form.Set("customer", p.Customers[0].ID)
	}
	if id := v.r.FormValue("from"); id != "" { // asked again
		q, err := w.app.Quote(v.ctx, v.Who, id)
		if err != nil {
			return err
		}
		form = formOf(q.Order, q.Note, v.at(q.Revision))
	}
	if c := v.r.FormValue("customer"); c != "" {
		form.Set("customer", c)
	}
	return v.showOrder(http.StatusOK, form)
}

// orderAgain shows the form of a question that the planner refused, as it was typed, and
// why.
func (v *view) orderAgain(j *api.Job) error {
	var q api.QuoteQuestion
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return err
	}
	v.Said = j.Problem
	return v.showOrder(statusOf(j.Problem.Kind), formOf(q.Order, q.Note, v.at(j.Revision)))
}

// at is the plant of a revision; as it is now if that is not to be had.
func (v *view) at(revision int64) *plant.Plant {
	if s, err := v.app.State(v.ctx, v.Who, revision); err == nil {
		return s.Plant
	}
	return v.State.Plant
}

// wished is the day by which a customer wants an order, and the days on which they can
// come: calendar.None and none where they said nothing, and the order has what p gives.
func wished(o solver.Order, p *plant.Plant) (due calendar.Date, windows []plant.Range) {
	due, windows = o.Truck.Contract.Due, o.Visit.Windows
	if due == p.Horizon.Through {
		due = calendar.None
	}
	if len(windows) == 1 && windows[0] == (plant.Range{From: p.AsOf.Date(), Through: p.Horizon.Through}) {
		windows = nil
	}
	return due, windows
}

// formOf is what was typed for an order to the plant p.
func formOf(o solver.Order, note string, p *plant.Plant) url.Values {
	t, x := &o.Truck, &o.Visit
	feet := func(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }
	form := url.Values{"customer": {t.Customer}, "note": {note}, "kind": {t.Kind}, "content": {t.Content}, "length_ft": {feet(t.LengthFt)}, "height_ft": {feet(t.HeightFt)}, "flow_gpm": {strconv.Itoa(t.FlowGPM)}, "graphics": {t.Graphics}, "option": t.Options}
	date := func(field string, d calendar.Date) {
		if d != calendar.None && d != 0 {
			form.Set(field, d.String())
		}
	}
	runs := func(field string, list []plant.Range) {
		for i, r := range list {
			date(field+"_from_"+strconv.Itoa(i+1), r.From)
			date(field+"_through_"+strconv.Itoa(i+1), r.Through)
		}
	}
	due, windows := wished(o, p)
	date("due", due)
	date("deadline", t.Contract.Deadline)
	date("enters", t.Line.Enters)
	if t.Contract.DamagesPerDay > 0 {
		form.Set("damages", strconv.Itoa(t.Contract.DamagesPerDay))
	}
	if x.ID == "" {
		return form
	}
	form.Set("comes", "yes")
	form.Set("heads", strconv.Itoa(x.Heads))
	form.Set("halves", strconv.Itoa(x.Halves))
	form.Set("travel_days", strconv.Itoa(x.TravelDays))
	form["wish"] = x.Wishes
	runs("window", windows)
	runs("not", x.Blackouts)
	return form
}

func (v *view) showOrder(status int, form url.Values) error {
	p := v.State.Plant
	d := orderForm{Form: form, Customers: p.Customers, Wishes: p.Wishes, First: p.AsOf.Date(), Last: p.Horizon.Through, Parts: len(p.Parts), Kinds: []string{"aerial", "pumper", "rescue", "tanker"}, Graphics: []string{"custom", "gold_leaf", "lettering", "stripes"}}
	for i := range p.Trucks {
		t := &p.Trucks[i]
		d.Kinds, d.Options, d.Graphics = append(d.Kinds, t.Kind), append(d.Options, t.Options...), append(d.Graphics, t.Graphics)
	}
	for i := range p.Route {
		d.Options = append(d.Options, p.Route[i].Needs...)
	}
	d.Graphics = append(d.Graphics, form.Get("graphics"))
	tidy := func(list []string) []string {
		slices.Sort(list)
		return slices.DeleteFunc(slices.Compact(list), func(s string) bool { return s == "" })
	}
	d.Kinds, d.Graphics = tidy(d.Kinds), tidy(d.Graphics)
	d.Options = slices.DeleteFunc(tidy(d.Options), func(s string) bool { // what other fields say
		return s == "pump" || slices.Contains(d.Kinds, s) && s != "aerial" || slices.Contains(d.Graphics, s)
	})
	d.Options = tidy(append(d.Options, form["option"]...)) // also what only an earlier question knew
	for _, s := range p.Line.FreeSlots {
		if s.Count > 0 && s.Week.AddDays(6) >= d.First {
			d.Slots = append(d.Slots, s)
		}
	}
	v.Title, v.Place, v.Data = "When could it be delivered?", "quotes", d
	v.show(status, "quote_new")
	return nil
}

// orderFields are the fields of the form by their keys in an order file, as the form calls
// them.
var orderFields = []struct {
	key, field, words string
	needs             string // the box that has to be ticked for it to be needed, "always", or ""
}{
	{"truck.customer", "customer", "Customer", "always"},
	{"truck.kind", "kind", "Kind", "always"},
	{"truck.content", "content", "Work content", "always"},
	{"truck.length_ft", "length_ft", "Length over all", "always"},
	{"truck.height_ft", "height_ft", "Height as driven", "always"},
	{"truck.flow_gpm", "flow_gpm", "Rated pump flow", ""},
	{"truck.graphics", "graphics", "Graphics", ""},
	{"truck.options", "option", "Options", ""},
	{"truck.enters", "enters", "Enters the line on", ""},
	{"truck.contract.due", "due", "Delivered by", ""},
	{"truck.contract.deadline", "deadline", "A grant lapses on", ""},
	{"truck.contract.damages_dollars_per_day", "damages", "Damages per day late", ""},
	{"visit.heads", "heads", "People", "comes"},
	{"visit.halves", "halves", "Length of the visit", "comes"},
	{"visit.travel_days", "travel_days", "Days of travel", ""},
	{"visit.wishes", "wish", "What they want to do", ""},
	{"visit.windows", "window_from_1", "They can come", ""},
	{"visit.blackouts", "not_from_1", "Neither visit nor travel", ""},
}

// missing lists the fields that are empty and must not be.
func missing(f url.Values) (faults []plant.Fault) {
	for _, x := range orderFields {
		if (x.needs == "always" || x.needs != "" && f.Get(x.needs) != "") && strings.TrimSpace(f.Get(x.field)) == "" {
			faults = append(faults, plant.Fault{Field: x.key, What: "is empty", Next: "fill it in"})
		}
	}
	return faults
}

// wrongShown is how many things that are wrong with an order are told at a time.
const wrongShown = 5

// incomplete is a problem with fields of the form, in the words of the form.
func incomplete(faults []plant.Fault) *api.Problem {
	p := &api.Problem{Kind: api.Invalid, Title: "This cannot be asked as it is", Next: "Correct the fields named and ask again."}
	if n := len(faults) - wrongShown; n > 0 {
		p.Detail = fmt.Sprintf("%d more are not listed.", n)
	}
	place := strings.NewReplacer("trucks[would-be]", "truck", "visits[would-be-visit]", "visit")
	words := strings.NewReplacer("visit would-be-visit", "the delegation", "truck would-be", "this truck", "would-be", "this truck")
	for _, f := range faults[:min(wrongShown, len(faults))] {
		f.Field, f.What, f.Next = place.Replace(f.Field), words.Replace(f.What), words.Replace(f.Next)
		if f.Field == "truck" { // it comes too late
			f.Field, f.Allowed, f.Next = "Enters the line on", "", "name an earlier day, or have the end of the horizon moved"
		}
		for _, x := range orderFields {
			if rest, is := strings.CutPrefix(f.Field, x.key); is {
				if _, after, in := strings.Cut(rest, "]"); in {
					rest = after
				}
				f.Field = x.words + strings.ReplaceAll(rest, ".", ", ")
			}
		}
		p.Faults = append(p.Faults, f)
	}
	return p
}

// order reads a would-be order out of the form, by the way of an order file.
func (v *view) order() (solver.Order, error) {
	f := v.r.PostForm
	if utf8.RuneCountInString(f.Get("note")) > longestNote {
		return solver.Order{}, &api.Problem{Kind: api.Invalid, Title: "The note is too long", Detail: fmt.Sprintf("It has more than %d characters.", longestNote), Next: "Say it more briefly."}
	}
	if faults := missing(f); len(faults) > 0 {
		return solver.Order{}, incomplete(faults)
	}
	object := func(pairs ...any) map[string]any {
		m := map[string]any{}
		for i := 0; i < len(pairs); i += 2 {
			if x := pairs[i+1]; x != nil && x != "" {
				m[pairs[i].(string)] = x
			}
		}
		return m
	}
	list := func(field string) any {
		if len(f[field]) == 0 {
			return nil
		}
		return f[field]
	}
	runs := func(field string) any {
		var out []any
		for _, n := range (orderForm{Form: f}).Runs() {
			if from, through := f.Get(field+"_from_"+n), f.Get(field+"_through_"+n); from != "" || through != "" {
				out = append(out, object("from", from, "through", through))
			}
		}
		if out == nil {
			return nil
		}
		return out
	}
	all := object("wetdown", plant.FormatVersion, "truck", object(
		"customer", f.Get("customer"), "kind", f.Get("kind"), "content", f.Get("content"), "length_ft", figure(f.Get("length_ft")), "height_ft", figure(f.Get("height_ft")),
		"flow_gpm", figure(f.Get("flow_gpm")), "options", list("option"), "graphics", f.Get("graphics"), "enters", f.Get("enters")))
	if f.Get("comes") != "" {
		all["visit"] = object("heads", figure(f.Get("heads")), "halves", figure(f.Get("halves")), "windows", runs("window"), "blackouts", runs("not"), "travel_days", figure(f.Get("travel_days")), "wishes", list("wish"))
	}
	text, err := json.Marshal(all)
	if err != nil {
		return solver.Order{}, err
	}
	o, faults := plant.ReadOrder("", text, v.State.Plant)
	if len(faults) > 0 {
		return solver.Order{}, incomplete(faults)
	}
	if f.Get("comes") != "" && o.Visit.ID == "" {
		return solver.Order{}, &api.Problem{Kind: api.Invalid, Title: "Nobody would come", Detail: "A delegation has at least one person.", Next: "Say how many people come, or that nobody does."}
	}
	c := &o.Truck.Contract
	if day, err := v.date("due"); err != nil {
		return solver.Order{}, err
	} else if day != calendar.None {
		c.Due = day
	}
	if c.Deadline, err = v.date("deadline"); err != nil {
		return solver.Order{}, err
	}
	if text := strings.TrimSpace(f.Get("damages")); text != "" {
		if c.DamagesPerDay, err = strconv.Atoi(text); err != nil || c.DamagesPerDay < 0 {
			return solver.Order{}, &api.Problem{Kind: api.Invalid, Title: "These are no dollars", Detail: "Damages per day late are a whole number of dollars.", Next: "Write a number such as 400, or leave it empty."}
		}
	}
	return solver.Order{Truck: o.Truck, Visit: o.Visit}, nil
}

// figure is a number where that was typed, and else the text, for the reader to refuse.
func figure(text string) any {
	text = strings.TrimSpace(text)
	if _, err := strconv.ParseFloat(text, 64); err == nil && json.Valid([]byte(text)) {
		return json.Number(text)
	}
	return text
}

// askQuote asks the planner. A refusal comes back with the form as it was typed.
func (w *Web) askQuote(v *view) error {
	if err := v.r.ParseForm(); err != nil {
		return unreadable()
	}
	o, err := v.order()
	var j *api.Job
	if err == nil {
		j, err = w.app.AskQuote(v.ctx, v.Who, api.QuoteQuestion{Order: o, Note: strings.TrimSpace(v.r.PostFormValue("note"))})
		if err != nil && len(api.AsProblem(err).Faults) > 0 {
			err = incomplete(api.AsProblem(err).Faults)
		}
	}
	if err != nil {
		if v.Said = api.AsProblem(err); v.Said.Kind == api.Broken {
			return err
		}
		return v.showOrder(statusOf(v.Said.Kind), v.r.PostForm)
	}
	return v.back("/jobs/" + j.ID)
}

func unreadable() *api.Problem {
	return &api.Problem{Kind: api.Invalid, Title: "The form did not arrive whole", Next: "Go back and send it again."}
}

// A caution is what is probably not meant about an order, and what to do.
type caution struct{ What, Next string }

// partsWords says how long n working parts of a day are, parts of which make a day.
func partsWords(n, parts int) string {
	if parts == 2 {
		return count(n, "half day")
	}
	return fmt.Sprintf("%s of a day that has %d", count(n, "part"), parts)
}

// A dayShare is the share of runs in which something has happened by the end of a day.
type dayShare struct {
	Day   calendar.Date
	Share float64
}

type quoteData struct {
	*api.Quote
	Customer *plant.Customer
	Name     string          // of the customer
	Said     string          // of the proof, in a sentence
	AsOf     calendar.Moment // of the plant that was asked
	Moved    int             // revisions since
	Open     bool            // its place is neither held nor taken
	Wanted   calendar.Date   // the day that the customer wants, calendar.None without one
	Late     int             // calendar days after it
	Damages  int             // dollars, by the damages that were asked for
	Missed   bool            // the hard deadline
	Windows  []plant.Range   // the days that the customer named, if any
	OffLine  bool            // the day off the line is known
	Unseen   bool            // delivered, but without the visit that was asked for
	Last     calendar.Date   // of the horizon
	Long     string          // of the visit
	Cautions []caution
	Chart    *chart // nil without a day
	Became   *api.QuoteOutcome
	Held     *heldPlace      // nil: none
	Hold     *holdForm       // nil: nothing can be held
	Likely   *forecast.Quote // nil: nothing is told with a chance, and Sample says why
	Sample   sample
	Curve    *curve
	Days     []dayShare // of delivery, day by day
	Sure     string     // how likely the earliest day is, by the days of the odds
	Wish     string     // and the day that they want
	Spans    []spanLine
}

// A spanLine is an event of a would-be order with its days.
type spanLine struct {
	Name string
	forecast.Span
}

// likelyBy says how likely something has come by a day, from the days that are known.
func likelyBy(s forecast.Span, day calendar.Date) string {
	not := func(d calendar.Date) bool { return d == calendar.None || day < d }
	switch {
	case not(s.Earliest):
		return "in none of the runs"
	case not(s.P50):
		return "in fewer than 50 of 100 runs"
	case not(s.P80):
		return "in 50 of 100 runs or more"
	case not(s.P95):
		return "in 80 of 100 runs or more"
	}
	return "in 95 of 100 runs or more"
}

func (w *Web) quote(v *view) error { return v.showQuote(http.StatusOK, v.r.PathValue("id"), nil) }

// showQuote shows a quote; with what was typed, if its place could not be held.
func (v *view) showQuote(status int, id string, typed *holdForm) error {
	q, err := v.app.Quote(v.ctx, v.Who, id)
	if err != nil {
		return err
	}
	became, err := v.app.QuoteOutcome(v.ctx, v.Who, id)
	if err != nil {
		return err
	}
	p, r, t := v.at(q.Revision), q.Result, &q.Order.Truck
	d := quoteData{Quote: q, Customer: p.FindCustomer(t.Customer), Name: v.customerWord(t.Customer), Moved: int(v.State.Revision.Number - q.Revision), Last: p.Horizon.Through, AsOf: p.AsOf, Became: became}
	found := r.Delivery != calendar.None
	d.OffLine = r.LineOff != calendar.None && r.LineOff != 0 // an order that no plan holds has none
	d.Unseen = found && q.Order.Visit.ID != "" && r.Visit == calendar.None
	switch {
	case found && r.Status == plant.Optimal:
		d.Said = "This is the earliest day on which it can be delivered without moving a promise to anybody: proven."
	case found:
		d.Said = "It can be delivered on this day without moving a promise to anybody. Whether an earlier day can be had is not known: time ran out. No day before " + v.Style.Full(r.Bound) + " is possible."
	case r.Status == plant.Infeasible:
		d.Said = "There is none until " + v.Style.Full(d.Last) + ", the end of the horizon: proven."
	default:
		d.Said = "No day was found in the time there was. That does not mean that there is none: ask again."
	}
	d.Wanted, d.Windows = wished(q.Order, p)
	if found {
		d.Chart = v.stepsDrawn(p, &d)
		d.Missed = t.Contract.Deadline != calendar.None && r.Delivery > t.Contract.Deadline
		if d.Wanted != calendar.None {
			d.Late = max(0, int(r.Delivery-d.Wanted))
			d.Damages = d.Late * t.Contract.DamagesPerDay
		}
	}
	named := strings.NewReplacer("visit "+q.Order.Visit.ID, "the delegation", "truck "+t.ID, "this truck")
	for _, f := range (&plant.Order{Truck: q.Order.Truck, Visit: q.Order.Visit}).Warnings(p, "", nil) {
		what := named.Replace(f.What)
		d.Cautions = append(d.Cautions, caution{strings.ToUpper(what[:1]) + what[1:], f.Next})
	}
	d.Long = partsWords(q.Order.Visit.Halves, len(p.Parts))
	d.Held = held(v.State.Plant.FindTruck(became.Truck), "/quotes/"+q.ID, "/quotes/"+q.ID)
	d.Open = became.State == api.QuoteOpen || became.State == api.QuoteGivenUp
	if found && d.Open && r.Delivery >= v.State.Plant.AsOf.Date() {
		d.Hold = v.holdForm(&d)
		if typed != nil {
			d.Hold.Truck, d.Hold.Until, d.Hold.Why = typed.Truck, typed.Until, typed.Why
		}
	}
	v.likely(&d)
	v.Title, v.Place, v.Data = "Quote for "+d.Name, "quotes", d
	v.show(status, "quote")
	return nil
}

// likely fills in what the odds of a quote say.
func (v *view) likely(d *quoteData) {
	o := d.Odds
	switch {
	case d.Result.Status == plant.Infeasible: // days that the plan rules out are nobody's to hope for
		d.Sample.Without = "No day is told with a chance, since none keeps every promise."
		return
	case o == nil:
		d.Sample.Without = cmp.Or(d.Without, "It was kept before chances were worked out. Ask again for them.")
		return
	}
	d.Likely = o
	d.Sample = v.sampleOf(&o.Basis, d.Revision)
	d.Sample.Old = 0 // the page says it of the whole answer
	if o.LineOff.P50 != calendar.None {
		d.Spans = append(d.Spans, spanLine{"Off the line", o.LineOff})
	}
	if d.Order.Visit.ID != "" {
		d.Spans = append(d.Spans, spanLine{"Ready for the visit", o.Ready}, spanLine{"The visit", o.Visit})
	}
	d.Spans = append(d.Spans, spanLine{"Delivered", o.Delivery})
	lines := []milestone{}
	if d.Result.Delivery != calendar.None {
		d.Sure = likelyBy(o.Delivery, d.Result.Delivery)
		lines = append(lines, milestone{d.Result.Delivery, "earliest by the plan", "now"})
	}
	if d.Wanted != calendar.None {
		d.Wish = likelyBy(o.Delivery, d.Wanted)
		lines = append(lines, milestone{d.Wanted, "wanted", "due"})
	}
	d.Curve = v.deliveredDrawn(o, lines)
	for _, a := range o.Delivered {
		d.Days = append(d.Days, dayShare{a.Day, float64(a.Runs) / float64(o.Runs)})
	}
}

// deliveredDrawn draws the chance of having come over days, with the days of the stated
// chances marked; nil if the days are not known.
func (v *view) deliveredDrawn(o *forecast.Quote, lines []milestone) *curve {
	if len(o.Delivered) == 0 {
		return nil
	}
	first, last := o.Delivered[0].Day, o.Delivered[len(o.Delivered)-1].Day
	for _, l := range lines {
		first, last = min(first, max(l.day, first-60)), max(last, min(l.day, last+60))
	}
	c := newCurve(0, 0.5, 0.8, 0.95)
	x := c.days(v, first-2, last+2, lines)
	path := &strings.Builder{}
	fmt.Fprintf(path, "M%d %d", x(first-2), c.y(0))
	at := map[calendar.Date]int{}
	for _, a := range o.Delivered {
		at[a.Day] = c.y(float64(a.Runs) / float64(o.Runs))
		fmt.Fprintf(path, "H%dV%d", x(a.Day), at[a.Day])
	}
	fmt.Fprintf(path, "H%d", x(last+2))
	c.Path = path.String()
	for _, day := range slices.Compact([]calendar.Date{o.Delivery.P50, o.Delivery.P80, o.Delivery.P95}) {
		if day != calendar.None {
			c.Dots = append(c.Dots, dot{X: x(day), Y: at[day], Text: v.Style.Day(day)})
		}
	}
	return c
}

// stepsDrawn draws the way of an order that has a day: until it is off the line, until
// the visit, the visit, until delivery.
func (v *view) stepsDrawn(p *plant.Plant, d *quoteData) *chart {
	r, x := d.Result, &d.Order.Visit
	var spans []span
	from := p.AsOf
	step := func(end calendar.Moment, kind, text string) {
		if end > from {
			spans = append(spans, span{from, end, kind, text})
			from = end
		}
	}
	if d.OffLine {
		step((r.LineOff + 1).At(0), "planned", "off the line "+v.Style.Day(r.LineOff))
	}
	if x.ID != "" && r.Visit != calendar.None {
		step(r.Visit.At(0), "planned", "finished and tried")
		days := 1
		if n := len(p.Parts); n > 0 {
			days = (x.Halves + n - 1) / n
		}
		step(r.Visit.AddDays(max(1, days)).At(0), "visit", "final inspection "+v.Style.Day(r.Visit))
	}
	step((r.Delivery + 1).At(0), "planned", "delivered "+v.Style.Day(r.Delivery))
	var lines []milestone
	if d.Wanted != calendar.None {
		lines = append(lines, milestone{d.Wanted, "wanted", "due"})
	}
	if day := d.Order.Truck.Contract.Deadline; day != calendar.None {
		lines = append(lines, milestone{day, "hard deadline", "deadline"})
	}
	return v.draw(p, spans, lines)
}
