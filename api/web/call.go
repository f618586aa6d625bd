package web

import (
	"cmp"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
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
	api.Script
	Contact *api.Contact
	Instead []string // days to offer if the new one does not suit
	Looked  bool     // other days were looked for
	Book    string   // the page on which a yes is booked
	Past    bool     // the day on which to call again is too late
}

// doneShown is how many calls that were made are listed: those that came up last.
const doneShown = 50

// mostLooked bounds for how many calls at once other days are looked for.
const mostLooked = 12

// calls is whom to call, what to say, by when, the most urgent first.
func (w *Web) calls(v *view) error { return v.showCalls(http.StatusOK) }

func (v *view) showCalls(status int) error {
	open, err := v.app.Calls(v.ctx, v.Who, api.CallOpen, api.Page{})
	if err != nil {
		return err
	}
	done, err := v.app.Calls(v.ctx, v.Who, api.CallDone, api.Page{Newest: true, Limit: doneShown})
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
	ctx, over := v.wait()
	defer over()
	words, err := v.app.Scripts(ctx, v.Who, open...)
	if err != nil {
		return err
	}
	for i, c := range open {
		s := script{Call: c, Script: words[i], Book: bookAt(c)}
		s.instead(v, days[c.Visit])
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
	for _, c := range done {
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

// instead lists other days on offer, up to eight.
func (s *script) instead(v *view, offers []solver.Offer) {
	for _, o := range offers {
		if s.Move != nil && o.Day == s.Move.To || len(s.Instead) == 8 {
			continue
		}
		text := v.Style.Full(o.Day)
		if len(o.Trades) > 0 {
			text += " (then damages change for " + trading(o.Trades) + ": ask the manager first)"
		}
		s.Instead = append(s.Instead, text)
	}
}

func trading(list []solver.Trade) string {
	var names []string
	for _, t := range list {
		names = append(names, t.Truck)
	}
	return strings.Join(names, ", ")
}

// bookAt is the page on which a yes is booked, "" for a call that is not about a visit.
func bookAt(c *api.Call) string {
	at := "/visits/" + url.PathEscape(c.Visit)
	switch {
	case c.Visit == "":
		return ""
	case c.Move == nil || c.Move.To == calendar.None:
		return at + "#order"
	}
	return address(at, "day", c.Move.To.String()) + "#order"
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
