package api

import (
	"context"
	"errors"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A QuoteQuestion asks when a would-be order could be delivered.
type QuoteQuestion struct {
	Order solver.Order
	Note  string // for whom, in words
}

// A Quote is a dated answer. It is kept, and never changes.
type Quote struct {
	ID       string
	Seq      int64
	At       time.Time
	Who      string
	Note     string
	Revision int64 // of the plant
	Program  string
	Order    solver.Order
	Result   *solver.QuoteResult
}

// AskQuote asks for a quote.
func (a *App) AskQuote(ctx context.Context, who Actor, q QuoteQuestion) (*Job, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	with := *s.Plant
	with.Trucks = append(slices.Clone(with.Trucks), q.Order.Truck)
	if t := &with.Trucks[len(with.Trucks)-1]; t.Line.Enters == calendar.None { // it takes the first free place
		t.Line.Enters = with.AsOf.Date()
	}
	if q.Order.Visit.ID != "" {
		with.Visits = append(slices.Clone(with.Visits), q.Order.Visit)
	}
	if faults := plant.Validate(&with); len(faults) > 0 {
		return nil, faulty(faults)
	}
	return a.ask(ctx, who, JobQuote, q)
}

func (a *App) quote(ctx context.Context, s *State, j *Job, q QuoteQuestion) (*Quote, error) {
	r, err := solver.Quote(ctx, s.Plant, q.Order, solver.Options{Clock: a.clock})
	if err != nil {
		return nil, quoting(err)
	}
	if ctx, err = found(ctx); err != nil {
		return nil, err
	}
	made := &Quote{ID: j.ID, At: a.now(), Who: j.Who, Note: q.Note, Revision: s.Revision.Number, Program: solver.Program, Order: q.Order, Result: r}
	err = a.store.Update(ctx, func(tx Tx) error {
		if old, err := fetch[Quote](tx, KindQuote, j.ID); err == nil {
			made = &old.val // kept by a process that died before it could say so
			return nil
		}
		e := entry[Quote]{Record{Kind: KindQuote, ID: j.ID, State: string(r.Status), Ref: j.Who}, *made}
		return e.keep(tx)
	})
	return made, err
}

// quoting turns an error of a quote into a problem where it is one.
func quoting(err error) error {
	if none := (*solver.NoVisit)(nil); errors.As(err, &none) {
		return &Problem{Kind: Conflict, Title: "Nothing can be quoted", Detail: sentence(none.Error()), Next: "Correct what the sentence names of that truck, then ask for the quote again."}
	}
	return err
}

// Quote returns a quote.
func (a *App) Quote(ctx context.Context, who Actor, id string) (q *Quote, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Quote](tx, KindQuote, id)
		e.val.Seq = e.rec.Seq
		q = &e.val
		return err
	})
	return q, err
}

// Quotes lists quotes in the order in which they were made, or the newest first.
func (a *App) Quotes(ctx context.Context, who Actor, page Page) (list []*Quote, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Quote](tx, page.of(Query{Kind: KindQuote}))
		for i := range es {
			es[i].val.Seq = es[i].rec.Seq
			list = append(list, &es[i].val)
		}
		return err
	})
	return list, err
}
