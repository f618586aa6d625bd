package api

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// A Revision is the plant as somebody left it. Revisions are numbered from 1 without
// gaps and never change.
type Revision struct {
	Number int64
	Base   int64     // the revision from which it was made: Number-1, but for an undo, which returns to an older one
	At     time.Time // UTC, whole milliseconds
	Who    string    // account or token
	Act    string    // of the Act constants
	Why    string    // given by a person, "" if nothing was
	What   string    // what changed, in a sentence
	Undoes int64     // the revision that it takes back, 0 for none
}

// Revisions lists revisions, the newest first, from below `before` (0: all).
func (a *App) Revisions(ctx context.Context, who Actor, before int64, limit int) (list []Revision, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		list, err = tx.Revisions(before, limit)
		return err
	})
	return list, err
}

// Changes returns a revision with what it changed, piece by piece.
func (a *App) Changes(ctx context.Context, who Actor, number int64) (r Revision, list []plant.PieceChange, err error) {
	if err := who.must(ActRead); err != nil {
		return r, nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		if r, err = tx.Revision(number); err != nil {
			return err
		}
		list, err = tx.Changes(number)
		return err
	})
	if errors.Is(err, ErrNone) {
		err = noRevision(number)
	}
	return r, list, err
}

// Undo takes a revision back by a new one. The newest is simply taken back. Of an older
// one, every piece it changed must be as it left it, so that nothing of what others have
// done since is lost.
func (a *App) Undo(ctx context.Context, who Actor, i Intent, number int64) (*State, error) {
	return a.change(ctx, who, ActDecide, i, func(s *State) (*next, error) {
		if number <= 1 || number > s.Revision.Number {
			return nil, &Problem{Kind: NotFound, Title: "There is nothing to undo", Detail: fmt.Sprintf("Revision %d cannot be taken back: there are revisions 2 to %d.", number, s.Revision.Number), Next: "Look it up in the list of revisions."}
		}
		var undone Revision
		var list []plant.PieceChange
		var called bool
		err := a.store.View(ctx, func(tx Tx) (err error) {
			if undone, err = tx.Revision(number); err != nil {
				return err
			}
			if list, err = tx.Changes(number); err != nil {
				return err
			}
			called, err = calledFor(tx, number)
			return err
		})
		if err != nil {
			return nil, err
		}
		pieces, err := revert(s.pieces, list)
		if err != nil {
			return nil, err
		}
		text, err := plant.Join(pieces)
		if err != nil {
			return nil, err
		}
		p, faults := plant.Read("undo", text)
		if len(faults) > 0 {
			return nil, faulty(faults)
		}
		if p.Plan != nil && number < s.Revision.Number {
			if v := check.Plan(p, p.Plan); !v.Right() {
				return nil, &Problem{Kind: Conflict, Title: "What came after rests on it", Detail: "Without revision " + strconv.FormatInt(number, 10) + " the plan would break a rule: " + v.Broken[0].Sentence, Next: "Undo what came after it first, the newest before all."}
			}
		}
		m := &solver.Impact{}
		if called && p.Plan != nil {
			if m, err = solver.Compare(s.Plant, p, nil, p.Plan); err != nil {
				return nil, err
			}
		}
		return &next{
			plant: p, what: fmt.Sprintf("Revision %d was taken back: %s", number, undone.What), undoes: number, base: number - 1,
			follow: func(tx Tx, r Revision) error { return takeBackCalls(tx, r, number, m, s.Plant, p) },
		}, nil
	})
}

// revert takes changes back, each of which must still stand.
func revert(pieces []plant.Piece, changes []plant.PieceChange) ([]plant.Piece, error) {
	back := make([]plant.PieceChange, len(changes))
	for i, c := range changes {
		back[i] = plant.PieceChange{Key: c.Key, Before: c.After, After: c.Before}
	}
	out, err := advance(pieces, back)
	if err != nil {
		return nil, &Problem{Kind: Conflict, Title: "It has changed since", Detail: sentence(err.Error()), Next: "Undo the later change first, or make this one by hand."}
	}
	return out, nil
}

// advance makes changes, each of which must find what it changes as it was.
func advance(pieces []plant.Piece, changes []plant.PieceChange) ([]plant.Piece, error) {
	at := map[string]string{}
	for _, p := range pieces {
		at[p.Key] = p.Text
	}
	for _, c := range changes {
		if at[c.Key] != c.Before {
			return nil, fmt.Errorf("%s is not as it was", c.Key)
		}
		at[c.Key] = c.After
	}
	var out []plant.Piece
	for _, k := range slices.Sorted(maps.Keys(at)) {
		if at[k] != "" {
			out = append(out, plant.Piece{Key: k, Text: at[k]})
		}
	}
	return out, nil
}

func noRevision(number int64) *Problem {
	return &Problem{Kind: NotFound, Title: "There is no such revision", Detail: fmt.Sprintf("Revision %d does not exist.", number), Next: "Look it up in the list of revisions."}
}
