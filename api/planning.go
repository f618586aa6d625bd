package api

import (
	"context"
	"errors"
	"sync"
	"time"

	"wetdown/solver"
	"wetdown/solver/plant"
)

// A desk is the planner's desk. It goes with the revisions of the plant. One at a time
// sits at it.
type desk struct {
	seat chan struct{} // one place
	d    *solver.Desk  // nil until it is asked for
}

// onDesk has the desk hold the plant of a state. The caller sits at it. What it held may
// be older, or a booking that was only foreseen.
func (a *App) onDesk(ctx context.Context, s *State) (*solver.Desk, error) {
	k := &a.desk
	var err error
	if k.d == nil {
		k.d, err = solver.Open(ctx, s.Plant, solver.Options{Clock: a.clock})
	} else {
		err = k.d.Follow(ctx, s.Plant)
	}
	if err != nil {
		return nil, planning(err)
	}
	return k.d, nil
}

// sit takes the seat at the desk, and gives it back by the function returned. When it is
// taken it waits as long as ctx lasts.
func (k *desk) sit(ctx context.Context) (func(), error) { return place(ctx, k.seat, plannerBusy) }

// What somebody waited for in vain.
const (
	plannerBusy = "The planner is busy"
	manyChange  = "Too many people change the plant at this moment"
)

// place takes a place, and gives it back by the function returned, which may be called
// more than once, also with an error.
func place(ctx context.Context, places chan struct{}, busy string) (leave func(), err error) {
	select {
	case places <- struct{}{}:
		return sync.OnceFunc(func() { <-places }), nil
	case <-ctx.Done():
		return func() {}, &Problem{Kind: Busy, Title: busy, Next: "Try again in a moment.", Wait: 5 * time.Second}
	}
}

func (k *desk) close() {
	if k.d != nil {
		k.d.Close()
		k.d = nil
	}
}

// planning turns an error of the planner into a problem where it is one.
func planning(err error) error {
	var none *solver.NoPlan
	var visit *solver.NoVisit
	switch {
	case errors.As(err, &none):
		return &Problem{Kind: Conflict, Title: "There is no plan to work from", Detail: err.Error(), Next: "Correct what the reasons name, then plan again."}
	case errors.As(err, &visit):
		return &Problem{Kind: Conflict, Title: "There is no visit to ask about", Detail: err.Error(), Next: "Add a visit for the truck first."}
	case errors.Is(err, plant.ErrNoSlot):
		return &Problem{Kind: Conflict, Title: "There is no place on the line", Detail: sentence(err.Error()), Next: "Say on which day it would enter the line, choose another work content, or have a free place marked."}
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return AsProblem(err)
	}
	return err
}

// solve takes a place for one question, and gives it back by the function returned.
// When all are taken it waits as long as ctx lasts.
func (a *App) solve(ctx context.Context) (func(), error) { return place(ctx, a.solves, plannerBusy) }

// Close lets go of what the application holds in memory. The store stays open.
func (a *App) Close() error {
	a.desk.seat <- struct{}{}
	defer func() { <-a.desk.seat }()
	a.desk.close()
	return nil
}
