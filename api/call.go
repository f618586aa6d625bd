package api

import (
	"context"
	"fmt"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
)

// States of a call.
const (
	CallOpen = "open"
	CallDone = "done"
	// CallIdle is a call that a later plan made needless.
	CallIdle = "idle"
)

// A Call is a customer to be called about one truck after a plan was accepted.
type Call struct {
	ID       string
	Seq      int64
	State    string
	Revision int64 // that made it necessary
	By       calendar.Date
	Overdue  bool // the day that fixes it had passed already
	Truck    string
	Customer string // name for people
	Visit    string // "" when it is about the delivery alone
	Heads    int
	About    string // what to say
	Because  string // what fixes the day
	Place    int    // in the list of its revision: whom to call first
	DoneBy   string
	DoneAt   time.Time
	Note     string // what came of it
}

// addCalls keeps the calls of an accepted plan. Open calls about the same truck and visit
// are idle from then on.
func addCalls(tx Tx, r Revision, calls []solver.Call) error {
	for n, c := range calls {
		old, err := query[Call](tx, Query{Kind: KindCall, State: CallOpen, Ref: c.Truck})
		if err != nil {
			return err
		}
		for i := range old {
			if old[i].val.Visit == c.Visit {
				old[i].rec.State = CallIdle
				if err := old[i].keep(tx); err != nil {
					return err
				}
			}
		}
		e := entry[Call]{
			Record{Kind: KindCall, ID: fmt.Sprintf("%d-%d", r.Number, n+1), State: CallOpen, Ref: c.Truck},
			Call{Revision: r.Number, By: c.By, Overdue: c.Overdue, Truck: c.Truck, Customer: c.Customer, Visit: c.Visit, Heads: c.Heads, About: c.About, Because: c.Because, Place: n + 1},
		}
		if err := e.keep(tx); err != nil {
			return err
		}
	}
	return nil
}

// Calls lists calls in the order in which they came up, those in one state or, with "",
// all.
func (a *App) Calls(ctx context.Context, who Actor, state string, page Page) (list []*Call, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Call](tx, Query{Kind: KindCall, State: state, After: page.After, Limit: page.Limit})
		for i := range es {
			list = append(list, es[i].call())
		}
		return err
	})
	return list, err
}

func (e *entry[T]) call() *Call {
	c, ok := any(&e.val).(*Call)
	if ok {
		c.ID, c.Seq, c.State = e.rec.ID, e.rec.Seq, e.rec.State
	}
	return c
}

// TickCall says that a call was made, or with done false that it was not after all.
func (a *App) TickCall(ctx context.Context, who Actor, id string, done bool, note string) (*Call, error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	if len(note) > maxWhy {
		return nil, invalid("note", fmt.Sprintf("The note has %d characters; %d are taken.", len(note), maxWhy), "Say it more briefly.")
	}
	var c *Call
	err := a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[Call](tx, KindCall, id)
		if err != nil {
			return err
		}
		e.rec.State, e.val.DoneBy, e.val.DoneAt, e.val.Note = CallOpen, "", time.Time{}, note
		if done {
			e.rec.State, e.val.DoneBy, e.val.DoneAt = CallDone, who.Name, a.now()
		}
		if err := e.keep(tx); err != nil {
			return err
		}
		c = e.call()
		return nil
	})
	return c, err
}
