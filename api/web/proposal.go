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
	"wetdown/solver/plant"
)

type proposalsData struct {
	Open, Past []*api.Proposal
	Slips      int   // that wait for a plan
	Next       int64 // where older ones begin, 0 for none
	First      bool  // the newest are shown
}

const (
	openShown = 100 // proposals to be decided that are listed at most
	pastShown = 40  // of those asked for before, so many are looked through for decided ones
)

func (w *Web) proposals(v *view) error {
	before, err := v.whole("before")
	if err != nil {
		return err
	}
	d := proposalsData{Slips: len(v.State.Plant.Slips), First: before == 0}
	if d.Open, err = w.app.Proposals(v.ctx, v.Who, api.ProposalReady, api.Page{Newest: true, Limit: openShown}); err != nil {
		return err
	}
	list, err := w.app.Proposals(v.ctx, v.Who, "", api.Page{After: before, Newest: true, Limit: pastShown + 1})
	if err != nil {
		return err
	}
	if len(list) > pastShown {
		list = list[:pastShown]
		d.Next = list[pastShown-1].Seq
	}
	for _, p := range list {
		if p.State != api.ProposalReady {
			d.Past = append(d.Past, p)
		}
	}
	v.Title, v.Place, v.Data = "Proposals", "proposals", d
	v.show(http.StatusOK, "proposals")
	return nil
}

type proposalData struct {
	P          *api.Proposal
	Known      string // what is proven, in words
	Trucks     []truckChange
	Chain      []link
	Conditions conditionForm
	Behind     int // revisions that came after the one it was computed from
	Others     []*api.Proposal
	Other      *api.Proposal // it is compared with
	Both       []bothTruck
	Tiers      []bothTier
	Asked      bool // for reasons
	Why        []*solver.Explanation
	WhyTruck   string // the one asked about, "" for all
}

// A truckChange is what a proposal does to one truck, before and after.
type truckChange struct {
	Truck, Customer string
	Promise         string // how firm the promise is that it touches, "" for none
	Heads           int    // people who must come on another day
	Rows            []changed
	Near            []changed // near work, told in short
	Slipped         bool      // it is one of those that slipped
	weight          [4]int64
}

// changed is one thing of a truck, before and after.
type changed struct {
	What, Before, After string
	By                  string
	Worse               bool
	Visit               string
}

// A link is one step of the chain of who displaced whom.
type link struct {
	Step            int
	By, Truck       string
	Place, Sentence string
}

type bothTruck struct {
	Truck, Customer, What string
	Now, This, That       string
	Same                  bool
}

type bothTier struct {
	Name, Word       string
	Now, This, That  int64
	Dollars, Shorter bool // amounts of money; this one is better than that
}

func (w *Web) proposal(v *view) error { return v.showProposal(http.StatusOK) }

func (v *view) showProposal(status int) error {
	p, err := v.app.Proposal(v.ctx, v.Who, v.r.PathValue("id"))
	if err != nil {
		return err
	}
	d := &proposalData{P: p, Known: provenWords(p.Status, p.Tiers), Behind: int(v.State.Revision.Number - p.Base)}
	var opposed []string
	if p.Contradiction != nil {
		for _, c := range p.Contradiction.Conditions {
			opposed = append(opposed, solver.Say(v.State.Plant, c))
		}
	}
	d.Conditions = v.conditionForm(p.Conditions, opposed)
	if p.Impact != nil {
		d.Trucks = v.trucksOf(p)
		for _, x := range p.Impact.Displaced {
			place := cmp.Or(x.Bay, x.Crew)
			d.Chain = append(d.Chain, link{x.Step, x.By, x.Truck, place, x.Sentence()})
		}
	}
	ready, err := v.app.Proposals(v.ctx, v.Who, api.ProposalReady, api.Page{Newest: true, Limit: openShown})
	if err != nil {
		return err
	}
	for _, o := range ready {
		if o.ID != p.ID && o.Impact != nil && len(d.Others) < 20 {
			d.Others = append(d.Others, o)
		}
	}
	v.Title, v.Place, v.Data = "A new plan", "proposals", d
	for i, x := range p.Slips {
		if i == 0 {
			v.Title = "The plan that answers " + x.ID
		} else {
			v.Title += ", " + x.ID
		}
	}
	if with := v.r.FormValue("with"); with != "" && p.Impact != nil {
		if d.Other, err = v.app.Proposal(v.ctx, v.Who, with); err != nil {
			return err
		}
		if d.Other.Impact == nil {
			return &api.Problem{Kind: api.Conflict, Title: "There is nothing to compare", Detail: "The other proposal has no plan, or no plan before it.", Next: "Choose another one."}
		}
		d.compare(v)
		v.Title = "Two proposals side by side"
		v.show(status, "compare")
		return nil
	}
	if id := v.r.FormValue("why"); id != "" && v.r.Method == http.MethodGet {
		if waits, err := v.whyProposed(d, id); err != nil || waits {
			return err
		}
	}
	v.show(status, "proposal")
	return nil
}

// askWhyProposed asks why a proposal moves what it moves: all of it, or one truck.
func (w *Web) askWhyProposed(v *view) error {
	id := v.r.PathValue("id")
	j, err := w.app.AskWhy(v.ctx, v.Who, api.WhyQuestion{Truck: v.r.PostFormValue("truck"), Day: calendar.None, Proposal: id})
	if err != nil {
		return v.decided(err)
	}
	return v.back(address("/jobs/"+j.ID, "to", whyProposedAt(id, j.ID)))
}

// whyProposedAt is where the reasons of a proposal are shown.
func whyProposedAt(proposal, job string) string {
	return address("/proposals/"+url.PathEscape(proposal), "why", job) + "#reasons"
}

// whyProposed adds the reasons that a job has found. While there are none yet, the browser
// is sent to wait for them.
func (v *view) whyProposed(d *proposalData, job string) (waits bool, err error) {
	j, err := v.app.Job(v.ctx, v.Who, job)
	if err != nil {
		return false, err
	}
	var q api.WhyQuestion
	if j.Kind != api.JobWhy || json.Unmarshal(j.Question, &q) != nil || q.Proposal != d.P.ID {
		return false, &api.Problem{Kind: api.NotFound, Title: "These reasons are about something else", Next: "Ask again on the page of the proposal."}
	}
	switch {
	case j.Problem != nil:
		v.Said = j.Problem
		return false, nil
	case j.State == api.JobCancelled:
		return false, nil
	case j.State != api.JobDone:
		return true, v.back(address("/jobs/"+j.ID, "to", whyProposedAt(d.P.ID, j.ID)))
	}
	d.Asked, d.WhyTruck = true, q.Truck
	return false, json.Unmarshal(j.Answer, &d.Why)
}

// provenWords says in plain words what is known of a plan.
func provenWords(status plant.Status, tiers []plant.TierValue) string {
	switch status {
	case plant.Optimal:
		return "Proven: it obeys every rule, and no better plan exists."
	case plant.Infeasible:
		return "Proven: no plan obeys every rule and condition."
	case plant.Unknown:
		return "Neither a plan nor a proof was found in the time given."
	}
	for i, t := range tiers {
		if t.Value == t.Bound {
			continue
		}
		text := "It obeys every rule, but a better plan may exist. "
		if i > 0 {
			text += "Proven best: " + joinWords(tiers[:i]) + ". "
		}
		text += fmt.Sprintf("Not proven: %s are %d", tierWord(t.Name), t.Value)
		if t.Bound > 0 {
			text += fmt.Sprintf(", and no plan can have fewer than %d", t.Bound)
		} else {
			text += "; how low they can be is not known"
		}
		return text + "."
	}
	return "It obeys every rule. Whether a better plan exists was not proven to the end."
}

func joinWords(tiers []plant.TierValue) string {
	var names []string
	for _, t := range tiers {
		names = append(names, t.Name)
	}
	return strings.Join(names, ", ")
}

// tierWord says what a tier counts.
func tierWord(name string) string {
	switch name {
	case plant.TierFrozen:
		return "points for frozen visits broken, by heads"
	case plant.TierConfirmed:
		return "points for confirmed visits moved, by heads, distance and notice"
	case plant.TierDeadlines:
		return "hard deadlines missed"
	case plant.TierDamages:
		return "dollars of damages"
	case plant.TierLateness:
		return "days after the contract, weighted"
	case plant.TierWishes:
		return "points for tentative visits moved and preferred weekdays missed"
	}
	return "points for near work disturbed and days that finished trucks wait"
}

// by says how far something moves.
func by(n int) string {
	switch {
	case n > 0:
		return "+" + count(n, "working day")
	case n < 0:
		return "−" + count(-n, "working day")
	}
	return ""
}

// trucksOf are the trucks that a proposal changes, those first to whom it hurts most.
func (v *view) trucksOf(p *api.Proposal) []truckChange {
	m := p.Impact
	at := map[string]*truckChange{}
	var order []*truckChange
	of := func(truck, customer string) *truckChange {
		t := at[truck]
		if t == nil {
			t = &truckChange{Truck: truck, Customer: customer}
			if x := v.State.Plant.FindTruck(truck); x != nil && customer == "" {
				t.Customer = customerOf(v.State.Plant, x)
			}
			at[truck] = t
			order = append(order, t)
		}
		return t
	}
	for _, s := range p.Slips {
		if s.Truck != "" {
			t := of(s.Truck, "")
			t.Slipped = true
			t.weight[0] = 1 << 40
		}
	}
	firm := map[string]int64{"frozen": 4, plant.Confirmed: 3, plant.Tentative: 2, plant.Requested: 1}
	for _, x := range m.Visits {
		t := of(x.Truck, x.Customer)
		r := changed{What: plainWord(x.Kind), Before: v.Style.Day(x.From), After: v.Style.Day(x.To), By: by(x.WorkDays), Visit: x.Visit, Worse: x.To == calendar.None}
		if x.To == calendar.None {
			r.By = "broken: agree on other days"
		} else if x.To == x.Booked {
			r.By += ", back on the day booked"
		}
		t.Rows = append(t.Rows, r)
		t.Heads += x.Heads
		if firm[x.Promise()] > firm[t.Promise] {
			t.Promise = x.Promise()
		}
		t.weight[1] = max(t.weight[1], firm[x.Promise()])
	}
	for _, x := range m.Deliveries {
		t := of(x.Truck, x.Customer)
		r := changed{What: "delivery", Before: v.delivered(x.From), After: v.delivered(x.To), By: by(x.WorkDays), Worse: x.To.Late > x.From.Late || x.To.Missed && !x.From.Missed}
		t.Rows = append(t.Rows, r)
		if x.From.Damages != x.To.Damages {
			t.Rows = append(t.Rows, changed{What: "damages", Before: dollars(x.From.Damages), After: dollars(x.To.Damages), By: dollarsBy(x.To.Damages - x.From.Damages), Worse: x.To.Damages > x.From.Damages})
		}
		t.weight[2] += x.To.Damages - x.From.Damages
	}
	for _, x := range m.Near {
		t := of(x.Truck, "")
		r := changed{What: x.Name, Before: v.Style.Moment(x.From), After: v.Style.Moment(x.To)}
		if x.To == calendar.NoMoment {
			r.After = "not in the plan"
		}
		if x.FromBay != x.ToBay && x.To != calendar.NoMoment {
			r.Before += ", " + cmp.Or(x.FromBay, "no bay")
			r.After += ", " + cmp.Or(x.ToBay, "no bay")
		}
		t.Near = append(t.Near, r)
	}
	slices.SortStableFunc(order, func(x, y *truckChange) int { return slices.Compare(y.weight[:], x.weight[:]) })
	var list []truckChange
	for _, t := range order {
		list = append(list, *t)
	}
	return list
}

func plainWord(s string) string { return strings.ReplaceAll(s, "_", " ") }

func dollarsBy(n int64) string {
	if n > 0 {
		return "+" + dollars(n)
	}
	return dollars(n)
}

// delivered says a day of delivery against the contract.
func (v *view) delivered(d solver.Delivery) string {
	text := v.Style.Day(d.Day)
	switch {
	case d.Day == calendar.None:
		return "not in the plan"
	case d.Missed:
		text += ", hard deadline missed"
	case d.Late > 0:
		text += ", " + count(d.Late, "day") + " late"
	}
	return text
}

// compare lays two proposals side by side.
func (d *proposalData) compare(v *view) {
	type cellOf struct{ what, now, after string }
	type rows struct {
		customer string
		this     []cellOf
		that     []cellOf
	}
	at := map[string]*rows{}
	var order []string
	put := func(p *api.Proposal, that bool) {
		for _, t := range v.trucksOf(p) {
			r := at[t.Truck]
			if r == nil {
				r = &rows{customer: t.Customer}
				at[t.Truck] = r
				order = append(order, t.Truck)
			}
			for _, c := range t.Rows {
				x := cellOf{strings.TrimSpace(c.What + " " + c.Visit), c.Before, c.After}
				if that {
					r.that = append(r.that, x)
				} else {
					r.this = append(r.this, x)
				}
			}
		}
	}
	put(d.P, false)
	put(d.Other, true)
	for _, id := range order {
		r := at[id]
		for _, x := range r.this {
			b := bothTruck{Truck: id, Customer: r.customer, What: x.what, Now: x.now, This: x.after, That: x.now}
			for _, y := range r.that {
				if y.what == x.what {
					b.That = y.after
				}
			}
			b.Same = b.This == b.That
			d.Both = append(d.Both, b)
		}
		for _, y := range r.that {
			if !slices.ContainsFunc(r.this, func(x cellOf) bool { return x.what == y.what }) {
				d.Both = append(d.Both, bothTruck{Truck: id, Customer: r.customer, What: y.what, Now: y.now, This: y.now, That: y.after})
			}
		}
	}
	decided := false
	for i, t := range d.P.Impact.Tiers {
		b := bothTier{Name: t.Name, Word: tierWord(t.Name), Now: t.Before, This: t.After, Dollars: t.Name == plant.TierDamages}
		if i < len(d.Other.Impact.Tiers) {
			b.That = d.Other.Impact.Tiers[i].After
		}
		if !decided && b.This != b.That {
			decided, b.Shorter = true, true
		}
		d.Tiers = append(d.Tiers, b)
	}
}

// ask asks for a plan: for all slips, for some, or again under conditions.
func (w *Web) ask(v *view) error {
	var q api.ProposeQuestion
	if v.r.PostFormValue("slips") != "all" {
		q.Slips = append([]string{}, v.r.PostForm["slip"]...)
	}
	if id := v.r.PostFormValue("again"); id != "" {
		p, err := w.app.Proposal(v.ctx, v.Who, id)
		if err != nil {
			return err
		}
		for _, s := range p.Slips {
			if slices.ContainsFunc(v.State.Plant.Slips, func(x plant.Slip) bool { return x.ID == s.ID }) {
				q.Slips = append(q.Slips, s.ID)
			}
		}
	}
	var j *api.Job
	var err error
	if q.Conditions, err = v.conditions(); err == nil {
		j, err = w.app.AskProposal(v.ctx, v.Who, q)
	}
	if err != nil {
		if id := v.r.PostFormValue("again"); id != "" && api.AsProblem(err).Kind != api.Broken {
			v.Said = api.AsProblem(err)
			v.r.SetPathValue("id", id)
			return v.showProposal(statusOf(v.Said.Kind))
		}
		return err
	}
	return v.back("/jobs/" + j.ID)
}

func (w *Web) accept(v *view) error {
	id := v.r.PathValue("id")
	_, err := w.app.Accept(v.ctx, v.Who, api.Intent{Why: v.r.PostFormValue("why")}, id)
	return v.decided(err)
}

func (w *Web) drop(v *view) error {
	_, err := w.app.DropProposal(v.ctx, v.Who, v.r.PathValue("id"))
	return v.decided(err)
}

// decided goes back to the proposal, or shows there why it could not be decided.
func (v *view) decided(err error) error {
	if err == nil {
		return v.back("/proposals/" + v.r.PathValue("id"))
	}
	v.Said = api.AsProblem(err)
	if v.Said.Kind == api.Broken || v.Said.Kind == api.NotFound {
		return err
	}
	if v.State, err = v.app.State(v.ctx, v.Who, 0); err != nil {
		return err
	}
	return v.showProposal(statusOf(v.Said.Kind))
}
