package api

import (
	"context"

	"wetdown/solver/plant"
)

// A Look is what a change of the plant would come to. Nothing of it is kept.
type Look struct {
	Revision int64 // of the plant that it would change
	Changes  []plant.PieceChange
	Before   *Fit // what the judge says of the plan in force as things are; nil without a plan
	After    *Fit // and after the change
}

// LookPut says what Put would come to.
func (a *App) LookPut(ctx context.Context, who Actor, key string, text []byte) (*Look, error) {
	act, f, err := put(key, text)
	if err != nil {
		return nil, err
	}
	return a.look(ctx, who, act, f)
}

// LookDrop says what Drop would come to.
func (a *App) LookDrop(ctx context.Context, who Actor, key string) (*Look, error) {
	act, f, err := drop(key)
	if err != nil {
		return nil, err
	}
	return a.look(ctx, who, act, f)
}

// LookLoad says what Load would come to for a plant that is kept already. Its faults
// must have been looked at.
func (a *App) LookLoad(ctx context.Context, who Actor, p *plant.Plant) (*Look, error) {
	return a.look(ctx, who, ActSetUp, func(*State) (*next, error) { return &next{plant: p}, nil })
}

func (a *App) look(ctx context.Context, who Actor, act string, f step) (*Look, error) {
	if err := who.must(act); err != nil {
		return nil, err
	}
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	n, err := f(s)
	if err != nil {
		return nil, err
	}
	if faults := plant.Validate(n.plant); len(faults) > 0 {
		return nil, faulty(faults)
	}
	after := &State{Plant: n.plant}
	return &Look{Revision: s.Revision.Number, Changes: plant.Diff(s.pieces, plant.Split(n.plant)), Before: s.Fit(), After: after.Fit()}, nil
}
