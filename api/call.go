package api

import (
	"context"
	"fmt"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
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
	Tries    []Try  // calls in which nothing was agreed yet, the first first

	// What became of the visit and of the delivery, for who makes the call; nil for
	// nothing, and in calls that were kept before these were.
	Move     *solver.VisitMove
	Delivery *solver.DeliveryMove
	Was, Is  *Held // when the plan before and the plan that was accepted hold the visit
}

// A Try is a call after which it has to be called again.
type Try struct {
	Who   string
	At    time.Time
	Again calendar.Date // when to call again
	Note  string
}

// Again is the day on which to call once more; calendar.None for a call that was not
// tried yet, or is over.
func (c *Call) Again() calendar.Date {
	if n := len(c.Tries); n > 0 && c.State == CallOpen {
		return c.Tries[n-1].Again
	}
	return calendar.None
}

// Held is when a plan holds a visit: [Start, End).
type Held struct{ Start, End calendar.Moment }

// held is when the plan in force holds a visit, nil for never.
func held(p *plant.Plant, visit string) *Held {
	v := p.FindVisit(visit)
	if v == nil || p.Plan == nil {
		return nil
	}
	for _, r := range p.Plan.Stages {
		if g := p.FindStage(r.Stage); r.Truck == v.Truck && g != nil && g.Visit == v.Kind {
			return &Held{r.Start, r.End}
		}
	}
	return nil
}

// addCalls keeps the calls of a plan that was accepted as a revision, in place of the plan
// of the plant before. Open calls about the same truck and visit are idle from then on.
func addCalls(tx Tx, r Revision, m *solver.Impact, before, after *plant.Plant) error {
	for n, c := range m.Calls {
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
		for i := range m.Visits {
			if v := m.Visits[i]; v.Visit == c.Visit {
				e.val.Move, e.val.Was, e.val.Is = &v, held(before, v.Visit), held(after, v.Visit)
			}
		}
		for i := range m.Deliveries {
			if d := m.Deliveries[i]; d.Truck == c.Truck && d.To.Late > d.From.Late {
				e.val.Delivery = &d
			}
		}
		if err := e.keep(tx); err != nil {
			return err
		}
	}
	return nil
}

// about is what a call is about: a visit, or the delivery of a truck.
type about struct{ truck, visit string }

// toldOf is what customers were called about for a revision, whatever came of it.
func toldOf(tx Tx, revision int64) (map[about]bool, error) {
	told := map[about]bool{}
	for _, state := range []string{CallOpen, CallDone} {
		list, err := query[Call](tx, Query{Kind: KindCall, State: state})
		if err != nil {
			return nil, err
		}
		for _, c := range list {
			if c.val.Revision == revision && (state == CallDone || len(c.val.Tries) > 0) {
				told[about{c.val.Truck, c.val.Visit}] = true
			}
		}
	}
	return told, nil
}

// calledFor reports whether a revision made calls necessary, whatever came of them: who of
// them was told is known for sure only when it is taken back.
func calledFor(tx Tx, revision int64) (bool, error) {
	list, err := query[Call](tx, Query{Kind: KindCall})
	return slices.ContainsFunc(list, func(e entry[Call]) bool { return e.val.Revision == revision }), err
}

// takeBackCalls is about the calls of a revision that was taken back: who was not called yet
// need not be, and who was called is to be called again, about what m says of the way back.
func takeBackCalls(tx Tx, r Revision, number int64, m *solver.Impact, before, after *plant.Plant) error {
	told, err := toldOf(tx, number)
	if err != nil {
		return err
	}
	open, err := query[Call](tx, Query{Kind: KindCall, State: CallOpen})
	if err != nil {
		return err
	}
	for i := range open {
		if c := &open[i]; c.val.Revision == number && len(c.val.Tries) == 0 {
			c.rec.State = CallIdle
			if err := c.keep(tx); err != nil {
				return err
			}
		}
	}
	back := *m
	back.Calls = slices.DeleteFunc(slices.Clone(m.Calls), func(c solver.Call) bool { return !told[about{c.Truck, c.Visit}] })
	return addCalls(tx, r, &back, before, after)
}

// Calls lists calls in the order in which they came up, those in one state or, with "",
// all.
func (a *App) Calls(ctx context.Context, who Actor, state string, page Page) (list []*Call, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Call](tx, page.of(Query{Kind: KindCall, State: state}))
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
	return a.setCall(ctx, who, id, note, func(e *entry[Call]) error {
		if e.rec.State == CallIdle {
			return &Problem{Kind: Conflict, Title: "What was to be said does not hold any more", Detail: "The plan that made this call necessary was taken back, or another one came after it.", Next: "Look at the calls as they are now. If they were told already, call once more and say what holds by the plan in force."}
		}
		e.rec.State, e.val.DoneBy, e.val.DoneAt, e.val.Note = CallOpen, "", time.Time{}, note
		if done {
			e.rec.State, e.val.DoneBy, e.val.DoneAt = CallDone, who.Name, a.now()
		}
		return nil
	})
}

// mostTries bounds how many calls without an answer are kept of one.
const mostTries = 50

// CallAgain says that somebody was called, that nothing is agreed yet, and on which day to
// call again.
func (a *App) CallAgain(ctx context.Context, who Actor, id string, again calendar.Date, note string) (*Call, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	switch today := a.today(s.Plant); {
	case again == calendar.None:
		return nil, invalid("again", "On which day to call again is missing.", "Give the day.")
	case again < today:
		return nil, invalid("again", fmt.Sprintf("%s has passed.", again), fmt.Sprintf("Give a day from %s on.", today))
	}
	return a.setCall(ctx, who, id, note, func(e *entry[Call]) error {
		if e.rec.State != CallOpen {
			return &Problem{Kind: Conflict, Title: "This call is over", Detail: fmt.Sprintf("It is %s.", e.rec.State), Next: "Take it back first if it has to be made again."}
		}
		e.val.Note = note
		e.val.Tries = append(e.val.Tries, Try{who.Name, a.now(), again, note})
		e.val.Tries = e.val.Tries[max(0, len(e.val.Tries)-mostTries):]
		return nil
	})
}

// setCall changes what is kept of a call.
func (a *App) setCall(ctx context.Context, who Actor, id, note string, f func(e *entry[Call]) error) (*Call, error) {
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
		if err := f(&e); err != nil {
			return err
		}
		if err := e.keep(tx); err != nil {
			return err
		}
		c = e.call()
		return nil
	})
	return c, err
}
