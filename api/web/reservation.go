package web

import (
	"context"
	"encoding/json"
	"strings"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// holdDays is for how many calendar days the form proposes to hold a place: common
// practice, no source.
const holdDays = 14

// A holdForm is what was typed to hold a place, as it was typed.
type holdForm struct {
	Truck, Until, Why string
	First, Last       calendar.Date // days until which a place can be held
}

func (v *view) holdForm(d *quoteData) *holdForm {
	f := &holdForm{First: v.State.Plant.AsOf.Date(), Last: d.Result.Delivery}
	f.Until = min(f.First+holdDays, f.Last).String()
	return f
}

// reserve asks to hold the place of a quote. A refusal comes back on the page of the quote.
func (w *Web) reserve(v *view) error {
	q := api.ReserveQuestion{Quote: v.r.PathValue("id"), Truck: strings.TrimSpace(v.r.PostFormValue("truck")), Why: strings.TrimSpace(v.r.PostFormValue("why"))}
	var j *api.Job
	var err error
	if q.Until, err = v.date("until"); err == nil {
		switch {
		case q.Truck == "":
			err = &api.Problem{Kind: api.Invalid, Title: "The order has no number yet", Detail: "A place is held by a truck.", Next: "Give it a number of its own."}
		case q.Until == calendar.None:
			err = &api.Problem{Kind: api.Invalid, Title: "Until when?", Detail: "No last day was given.", Next: "Give the last day on which the place is held."}
		default:
			j, err = w.app.AskReservation(v.ctx, v.Who, q)
		}
	}
	if err != nil {
		return v.refusedHold(api.AsProblem(err), q.Quote, holdForm{Truck: q.Truck, Until: v.r.PostFormValue("until"), Why: q.Why})
	}
	return v.back("/jobs/" + j.ID)
}

// heldNot shows the quote whose place could not be held, and why.
func (v *view) heldNot(j *api.Job) error {
	var q api.ReserveQuestion
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return err
	}
	return v.refusedHold(j.Problem, q.Quote, holdForm{Truck: q.Truck, Until: q.Until.String(), Why: q.Why})
}

func (v *view) refusedHold(p *api.Problem, quote string, typed holdForm) error {
	if p.Kind == api.Broken || p.Kind == api.NotFound {
		return p
	}
	v.Said = p
	return v.showQuote(statusOf(p.Kind), quote, &typed)
}

// ordered makes a truck that holds its place one that is ordered.
func (w *Web) ordered(v *view) error { return v.settle(w.app.Ordered) }

// release gives up the place that a truck holds.
func (w *Web) release(v *view) error { return v.settle(w.app.Release) }

func (v *view) settle(do func(context.Context, api.Actor, api.Intent, string) (*api.State, error)) error {
	if _, err := do(v.ctx, v.Who, api.Intent{Why: strings.TrimSpace(v.r.PostFormValue("why"))}, v.r.PathValue("id")); err != nil {
		return err
	}
	return v.back(inside(v.r.PostFormValue("to")))
}

// A heldPlace is the place that a truck holds for an order that is not placed.
type heldPlace struct {
	Truck    *plant.Truck
	To, Gone string // where to go when it is ordered, and when it is given up
}

// held is the place of a truck, nil for one that is ordered.
func held(t *plant.Truck, to, gone string) *heldPlace {
	if t == nil || t.Reserved.For == "" {
		return nil
	}
	return &heldPlace{t, to, gone}
}

// outcomeWords are what became of quotes.
var outcomeWords = map[string]string{
	api.QuoteOpen: "quoted", api.QuoteHeld: "place held", api.QuoteOrdered: "ordered", api.QuoteDelivered: "delivered", api.QuoteGivenUp: "given up",
}

// A tally counts how many delivered quotes came by a day that had been stated.
type tally struct {
	Name     string
	Came, Of int
}

// tallies counts, for each day that was stated, how many came by it.
func tallies(list []*api.QuoteOutcome) []tally {
	out := []tally{{Name: "the earliest day"}, {Name: "50 in 100"}, {Name: "80 in 100"}, {Name: "95 in 100"}}
	for _, o := range list {
		if o.Actual == calendar.None {
			continue
		}
		for i, day := range []calendar.Date{o.Quoted, o.P50, o.P80, o.P95} {
			if day == calendar.None {
				continue
			}
			out[i].Of++
			if o.Actual <= day {
				out[i].Came++
			}
		}
	}
	return out
}

// fewest is the number of outcomes below which nothing is told of shares.
const fewest = 8

// Thin reports whether there are too few to say anything.
func (t tally) Thin() bool { return t.Of < fewest }
