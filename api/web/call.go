package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

type callsData struct {
	Open, Later, Done []script
	Looked            []string        // jobs that look for other days
	Looking           int             // of them without an answer yet
	Again             calendar.Date   // on which it is natural to call again
	Today             calendar.Date   // from which on
	Trucks            map[string]bool // that other days were looked for
}

// Unlooked is how many open calls could offer another day that nobody has looked for.
func (d callsData) Unlooked() (n int) {
	for _, s := range d.Open {
		if s.Visit != "" && !d.Trucks[s.Truck] {
			n++
		}
	}
	return n
}

// A script is a call with the words for it.
type script struct {
	*api.Call
	Contact *api.Contact
	Says    []string // what changed
	Asks    []string // what to ask for
	Know    []string // for who calls, not to be said
	Instead []string // days to offer if the new one does not suit
	Looked  bool     // other days were looked for
	Moved   string   // the plan has moved on since; "" if it has not
	Book    string   // the page on which a yes is booked
	Past    bool     // the day on which to call again is too late
}

// mostLooked bounds for how many calls at once other days are looked for.
const mostLooked = 12

// calls is whom to call, what to say, by when, the most urgent first.
func (w *Web) calls(v *view) error { return v.showCalls(http.StatusOK) }

func (v *view) showCalls(status int) error {
	open, err := v.app.Calls(v.ctx, v.Who, api.CallOpen, api.Page{})
	if err != nil {
		return err
	}
	done, err := v.app.Calls(v.ctx, v.Who, api.CallDone, api.Page{})
	if err != nil {
		return err
	}
	slices.SortStableFunc(open, func(x, y *api.Call) int {
		return cmp.Or(cmp.Compare(x.By, y.By), cmp.Compare(x.Place, y.Place))
	})
	slices.SortStableFunc(done, func(x, y *api.Call) int { return y.DoneAt.Compare(x.DoneAt) })
	d := callsData{Trucks: map[string]bool{}, Today: v.app.Now(v.State.Plant).Date()}
	d.Again = v.nextWorkDay(d.Today)
	days, err := v.otherDays(&d)
	if err != nil {
		return err
	}
	contacts := map[string]*api.Contact{}
	if v.Who.May(api.ActBook) {
		list, err := v.app.Contacts(v.ctx, v.Who)
		if err != nil {
			return err
		}
		for _, c := range list {
			contacts[c.Customer] = c
		}
	}
	wordless := func(c *api.Call) bool { return c.Move == nil && c.Delivery == nil && c.Visit != "" }
	var o *odds
	if slices.ContainsFunc(open, wordless) {
		o = v.odds()
	}
	for _, c := range open {
		s := v.script(c, days[c.Visit])
		if wordless(c) && o.calls[c.Visit] == c.ID {
			v.scriptUnsafe(&s, o.Of(c.Visit))
			s.instead(v, calendar.None, days[c.Visit])
		}
		s.Looked = d.Trucks[c.Truck]
		if t := v.State.Plant.FindTruck(c.Truck); t != nil {
			s.Contact = contacts[t.Customer]
		}
		if again := c.Again(); again != calendar.None && again > d.Today {
			s.Past = again > c.By
			d.Later = append(d.Later, s)
			continue
		}
		d.Open = append(d.Open, s)
	}
	slices.SortStableFunc(d.Later, func(x, y script) int { return cmp.Compare(x.Again(), y.Again()) })
	for _, c := range done[:min(len(done), 50)] {
		d.Done = append(d.Done, script{Call: c})
	}
	v.Title, v.Place, v.Data = "Calls", "calls", d
	v.show(status, "calls")
	return nil
}

// nextWorkDay is the first working day of the plant after a day.
func (v *view) nextWorkDay(day calendar.Date) calendar.Date {
	p := v.State.Plant
	if g, err := p.Grid(day+1, day+31); err == nil {
		if h, err := p.Hours(p.Calendar, g); err == nil {
			for d := day + 1; d <= day+31; d++ {
				if h.WorksDay(d) {
					return d
				}
			}
		}
	}
	return day + 1
}

// otherDays are the days on offer by visit, of the jobs that the address names. Answers
// for an older plant are left out.
func (v *view) otherDays(d *callsData) (map[string][]solver.Offer, error) {
	days := map[string][]solver.Offer{}
	for _, id := range v.r.URL.Query()["days"] {
		if len(d.Looked) == mostLooked {
			break
		}
		j, err := v.app.Job(v.ctx, v.Who, id)
		if err != nil || j.Kind != api.JobOffers {
			continue // it is long gone
		}
		if !j.Finished() {
			d.Looked, d.Looking = append(d.Looked, id), d.Looking+1
			continue
		}
		if j.State != api.JobDone || j.Revision != v.State.Revision.Number {
			continue
		}
		var list solver.OfferList
		if err := json.Unmarshal(j.Answer, &list); err != nil {
			return nil, err
		}
		d.Looked = append(d.Looked, id)
		d.Trucks[list.Truck] = true
		days[list.Visit] = list.Offers
	}
	return days, nil
}

// spanOf is when a visit is held, for people.
func (v *view) spanOf(day calendar.Date, h *api.Held) string {
	if h == nil || h.Start.Date() != day {
		return v.Style.Full(day)
	}
	end := v.Style.Clock((h.End - 1).Clock() + 1)
	if last := (h.End - 1).Date(); last != day {
		end = v.Style.Day(last) + " " + end
	}
	return v.Style.Full(day) + ", " + v.Style.Clock(h.Start.Clock()) + " to " + end
}

// apart says how many calendar days lie between two days.
func apart(from, to calendar.Date) string {
	switch n := int(to - from); {
	case n > 0:
		return count(n, "calendar day") + " later"
	case n < 0:
		return count(-n, "calendar day") + " earlier"
	}
	return "the same day"
}

// people is a delegation in words.
func people(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

// script writes the words for a call.
func (v *view) script(c *api.Call, offers []solver.Offer) script {
	p := v.State.Plant
	s := script{Call: c}
	if c.Move == nil && c.Delivery == nil { // kept before the words for it were
		s.Says = []string{v.Words(c.About)}
		return s
	}
	truck := "your truck " + c.Truck
	if t := p.FindTruck(c.Truck); t != nil {
		truck = "your " + plainWord(t.Kind) + " " + t.ID
	}
	say := func(text string, a ...any) { s.Says = append(s.Says, fmt.Sprintf(text, a...)) }
	ask := func(text string, a ...any) { s.Asks = append(s.Asks, fmt.Sprintf(text, a...)) }
	know := func(text string, a ...any) { s.Know = append(s.Know, fmt.Sprintf(text, a...)) }
	say("This is %s, about %s.", p.Name, truck)
	if m := c.Move; m != nil {
		v.scriptVisit(c, m, say, ask, know)
		s.instead(v, m.To, offers)
		if m.To != calendar.None {
			s.Book = address("/visits/"+url.PathEscape(m.Visit), "day", m.To.String()) + "#order"
		} else {
			s.Book = "/visits/" + url.PathEscape(m.Visit)
		}
		s.Moved = v.movedOn(p.FindVisit(m.Visit), m.To)
	}
	if d := c.Delivery; d != nil {
		v.scriptDelivery(d, c.Move == nil, say, ask, know)
		if s.Moved == "" && p.Plan != nil {
			for _, x := range solver.Deliveries(p, p.Plan) {
				if x.Truck == c.Truck && x.Day != d.To.Day {
					s.Moved = "The plan in force now delivers it on " + v.Style.Full(x.Day) + "."
				}
			}
		}
	}
	return s
}

// instead lists other days on offer, up to eight.
func (s *script) instead(v *view, but calendar.Date, offers []solver.Offer) {
	for _, o := range offers {
		if o.Day == but || len(s.Instead) == 8 {
			continue
		}
		text := v.Style.Full(o.Day)
		if len(o.Trades) > 0 {
			text += " (then damages change for " + trading(o.Trades) + ": ask the manager first)"
		}
		s.Instead = append(s.Instead, text)
	}
}

// scriptUnsafe writes the words for a call about a visit that was promised and is not safe.
func (v *view) scriptUnsafe(s *script, x *forecast.VisitOdds) {
	p := v.State.Plant
	visit := p.FindVisit(s.Visit)
	t := p.FindTruck(s.Truck)
	if visit == nil || t == nil || x == nil {
		return
	}
	s.Says = []string{
		fmt.Sprintf("This is %s, about your %s %s.", p.Name, plainWord(t.Kind), t.ID),
		fmt.Sprintf("We hold %s for the %s. We cannot be sure that the truck is ready for you by then.", v.Style.Full(x.Day), plainWord(visit.Kind)),
	}
	if x.SafeFrom != calendar.None {
		s.Asks = append(s.Asks, fmt.Sprintf("Could your %s come on %s or later?", people(s.Heads), v.Style.Full(x.SafeFrom)))
	} else {
		s.Asks = append(s.Asks, fmt.Sprintf("Could your %s come on a later day?", people(s.Heads)))
	}
	if p.Frozen(visit) {
		s.Asks = append(s.Asks, "What would another day mean for the travel that you have bought?")
	} else {
		s.Asks = append(s.Asks, "Please buy no travel yet.")
	}
	s.Know = append(s.Know, v.Words(s.About), "See first whether the truck can be brought forward.")
	s.Book = "/visits/" + url.PathEscape(s.Visit) + "#order"
}

// scriptVisit says what becomes of a visit, and what is asked.
func (v *view) scriptVisit(c *api.Call, m *solver.VisitMove, say, ask, know func(string, ...any)) {
	visit := plainWord(m.Kind)
	before := m.Booked
	if before == calendar.None {
		before = m.From
	}
	was := "had agreed on"
	if m.State == plant.Tentative {
		was = "were holding"
	}
	switch {
	case m.To == calendar.None && before == calendar.None:
		say("You asked for a day for the %s. On none of the days that you named can we have the truck ready.", visit)
	case m.To == calendar.None:
		say("We %s %s for the %s. We cannot keep that day, and we are sorry.", was, v.spanOf(before, c.Was), visit)
	case m.To == m.Booked:
		say("The %s stays on %s, the day that we %s. Any other day that you have heard of does not count.", visit, v.spanOf(m.To, c.Is), was)
	case before == calendar.None:
		say("For the %s we can now have %s.", visit, v.spanOf(m.To, c.Is))
	default:
		say("We %s %s for the %s. We cannot keep that day, and we are sorry.", was, v.spanOf(before, c.Was), visit)
		say("The truck will be ready for you on %s: %s.", v.spanOf(m.To, c.Is), apart(before, m.To))
	}
	switch {
	case m.To == calendar.None:
		ask("On which other days can your %s come?", people(m.Heads))
		if m.Frozen {
			ask("What would another day mean for the travel that you have bought?")
		}
	case m.To == m.Booked:
		ask("Is it still right for your %s?", people(m.Heads))
	default:
		ask("Can your %s come on %s?", people(m.Heads), v.Style.Full(m.To))
		ask("Please buy no travel for %s.", v.Style.Full(before))
		if m.Frozen {
			ask("What would the new day mean for the travel that you have bought?")
		}
	}
	if m.Frozen {
		know("Travel is bought. Note what changing it would cost them: the manager decides what the plant pays.")
	}
	if before != m.From && m.From != calendar.None && before != calendar.None {
		know("The plan before had %s already, which they may not have been told.", v.Style.Full(m.From))
	}
	if m.To != calendar.None && m.Bay != "" {
		bay := m.Bay
		if b := v.State.Plant.FindBay(bay); b != nil {
			bay = cmp.Or(b.Name, b.ID)
		}
		know("The truck stands at %s.", bay)
	}
}

// scriptDelivery says what becomes of a delivery.
func (v *view) scriptDelivery(d *solver.DeliveryMove, alone bool, say, ask, know func(string, ...any)) {
	switch {
	case d.To.Day == calendar.None:
		say("We cannot name the day of delivery any more, and we are sorry. We call again when we can.")
	case d.From.Day == calendar.None || d.From.Day == d.To.Day:
		say("We now plan to deliver it on %s.", v.Style.Full(d.To.Day))
	default:
		say("We planned to deliver it on %s. It will be %s: %s, and %s after the day of your contract, %s.", v.Style.Full(d.From.Day), v.Style.Full(d.To.Day), apart(d.From.Day, d.To.Day), count(d.To.Late, "calendar day"), v.Style.Full(d.Due))
	}
	if alone {
		ask("Can you take it over on that day, and who will be there?")
		ask("Does anything of yours hang on the day of the contract, such as a grant or a truck that goes out of service?")
	}
	if d.To.Damages > 0 {
		know("By the contract the delay costs the plant %s (%s in the plan before).", dollars(d.To.Damages), dollars(d.From.Damages))
	}
	if d.To.Missed {
		know("The hard deadline, %s, is missed: tell the manager what they say about it.", v.Style.Full(d.To.Deadline))
	}
}

func trading(list []solver.Trade) string {
	var names []string
	for _, t := range list {
		names = append(names, t.Truck)
	}
	return strings.Join(names, ", ")
}

// movedOn says what the plan in force has for a visit, if it is not the day of the call.
func (v *view) movedOn(x *plant.Visit, to calendar.Date) string {
	switch {
	case x == nil:
		return "The visit is no longer in the plant."
	case !x.Planned():
		return "The visit is " + plainWord(x.Booking.State) + "."
	case x.Booking.Day == to && to != calendar.None:
		return "The new day is booked already."
	case v.State.Plant.Plan == nil:
		return "There is no plan in force any more."
	}
	day := v.State.Plant.Plan.Day(x.ID)
	switch {
	case day == to:
		return ""
	case day == calendar.None:
		return "The plan in force now has no day for the visit."
	}
	return "The plan in force now has the visit on " + v.Style.Full(day) + "."
}

// lookDays looks for days that could be offered instead, for one call or for all.
func (w *Web) lookDays(v *view) error {
	if err := v.r.ParseForm(); err != nil {
		return unreadable()
	}
	open, err := w.app.Calls(v.ctx, v.Who, api.CallOpen, api.Page{})
	if err != nil {
		return err
	}
	one := v.r.PostFormValue("call")
	looked := v.r.PostForm["days"]
	asked, last := map[string]bool{}, ""
	for _, c := range open {
		if c.Visit == "" || one != "" && c.ID != one || asked[c.Truck] || len(asked) == mostLooked {
			continue
		}
		asked[c.Truck] = true
		j, err := w.app.AskOffers(v.ctx, v.Who, api.OffersQuestion{Truck: c.Truck})
		if err != nil {
			return err
		}
		last = j.ID
		looked = append(looked, last)
	}
	if last == "" {
		return &api.Problem{Kind: api.NotFound, Title: "There is no such call", Detail: "It is not open, or not about a visit.", Next: "Look at the list of calls as it is now."}
	}
	to := "/calls?" + url.Values{"days": looked[max(0, len(looked)-mostLooked):]}.Encode()
	if one != "" {
		to += "#call-" + one
	}
	return v.back(address("/jobs/"+last, "to", to))
}

// tick keeps what came of a call. A refusal comes back on the page of the calls.
func (w *Web) tick(v *view) error {
	id, note := v.r.PathValue("id"), strings.TrimSpace(v.r.PostFormValue("note"))
	var err error
	switch v.r.PostFormValue("do") {
	case "again":
		var day calendar.Date
		if day, err = v.date("again"); err == nil {
			_, err = w.app.CallAgain(v.ctx, v.Who, id, day, note)
		}
	case "open":
		_, err = w.app.TickCall(v.ctx, v.Who, id, false, note)
	case "done":
		_, err = w.app.TickCall(v.ctx, v.Who, id, true, note)
	default:
		err = &api.Problem{Kind: api.Invalid, Title: "What came of the call?", Next: "Use one of the buttons of the page."}
	}
	if err == nil {
		return v.back("/calls")
	}
	if v.Said = api.AsProblem(err); v.Said.Kind == api.Broken {
		return err
	}
	return v.showCalls(statusOf(v.Said.Kind))
}
