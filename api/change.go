package api

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"wetdown/api/sheet"
	"wetdown/solver/plant"
)

// An Intent is what every change of the plant says of itself.
type Intent struct {
	Why string // in the words of who does it; may be empty
	// Expect names a piece of the plant and the newest revision of it that the asker
	// has seen. If it changed since, the change is refused. "" asks for nothing.
	Expect Expectation
}

// Whole is the key of the plant as a whole in an Expectation.
const Whole = "*"

// An Expectation is a piece of the plant, or Whole, as the asker knows it.
type Expectation struct {
	Key      string
	Revision int64
}

// A step makes the next plant out of the newest one, says in a sentence what it
// changes, and may write what follows from it. It runs again when somebody was faster,
// so it must change nothing in s and have no effects but in its result.
type step func(s *State) (*next, error)

// A next is what a step makes.
type next struct {
	plant *plant.Plant
	// plan asks the planner for the plant, at its desk; nil: it is there already. It may
	// take long, and others change the plant meanwhile.
	plan   func(context.Context) (*plant.Plant, error)
	what   string
	undoes int64
	base   int64 // 0: the newest
	// follow writes records that belong to the revision, in its transaction.
	follow func(tx Tx, r Revision) error
}

// tries is how often a change starts over from the revision of somebody faster.
const tries = 20

// mostInTurn is how long the planner is asked while others wait for their turn.
const mostInTurn = time.Second

// change makes the next revision, all of it or nothing. A change that changes nothing
// makes none, and returns the revision there is.
func (a *App) change(ctx context.Context, who Actor, act string, i Intent, f step) (*State, error) {
	if err := who.must(act); err != nil {
		return nil, err
	}
	if len(i.Why) > maxWhy {
		return nil, invalid("why", fmt.Sprintf("The reason has %d characters; %d are taken.", len(i.Why), maxWhy), "Say it more briefly.")
	}
	for range tries {
		made, err := a.attempt(ctx, who, act, i, f)
		if !errors.Is(err, ErrMoved) {
			return made, err
		}
	}
	return nil, &Problem{Kind: Busy, Title: manyChange, Next: "Try again in a moment.", Wait: time.Second}
}

// attempt is one try of a change; ErrMoved: somebody was faster. Changes of this process
// take turns, so that they do not overtake one another for nothing. While the planner is
// asked, others have their turns; what it has found is then asked for once more within the
// turn, for the plant that they have made, which is quick as a rule.
func (a *App) attempt(ctx context.Context, who Actor, act string, i Intent, f step) (*State, error) {
	release, err := place(ctx, a.turn, manyChange)
	if err != nil {
		return nil, err
	}
	defer func() { release() }()
	s, n, err := a.step(ctx, f)
	if err != nil {
		return nil, err
	}
	if n.plan != nil {
		release()
		leave, err := a.desk.sit(ctx) // first the desk, then the turn: who has the turn never waits for the desk
		if err != nil {
			return nil, err
		}
		defer leave()
		if s, n, err = a.planned(ctx, f); err != nil {
			return nil, err
		}
		if release, err = place(ctx, a.turn, manyChange); err != nil {
			return nil, err
		}
		now, err := a.head(ctx)
		if err != nil {
			return nil, err
		}
		if now.Revision.Number != s.Revision.Number {
			brief, cancel := context.WithTimeout(ctx, mostInTurn)
			defer cancel()
			if s, n, err = a.planned(brief, f); err != nil && brief.Err() != nil && ctx.Err() == nil {
				err = ErrMoved
			}
			if err != nil {
				return nil, err
			}
		}
	}
	return a.keep(ctx, who, act, i, s, n)
}

// step is what a step makes of the newest state.
func (a *App) step(ctx context.Context, f step) (*State, *next, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, nil, err
	}
	n, err := f(s)
	return s, n, err
}

// planned is step with the planner asked. The caller sits at the desk.
func (a *App) planned(ctx context.Context, f step) (*State, *next, error) {
	s, n, err := a.step(ctx, f)
	if err == nil && n.plan != nil {
		n.plant, err = n.plan(ctx)
	}
	return s, n, err
}

// keep keeps what a step has made of s, if s is still the newest; else it returns
// ErrMoved.
func (a *App) keep(ctx context.Context, who Actor, act string, i Intent, s *State, n *next) (*State, error) {
	now, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	if now.Revision.Number != s.Revision.Number {
		return nil, ErrMoved
	}
	pieces := plant.Split(n.plant)
	changes := plant.Diff(s.pieces, pieces)
	if len(changes) == 0 && n.follow == nil {
		return s, nil
	}
	if faults := plant.Validate(n.plant); len(faults) > 0 {
		return nil, faulty(faults)
	}
	r := Revision{Number: s.Revision.Number + 1, Base: n.base, At: a.now(), Who: who.Name, Act: act, Why: i.Why, What: n.what, Undoes: n.undoes}
	if r.Base == 0 {
		r.Base = s.Revision.Number
	}
	if len(changes) == 0 {
		r = s.Revision
	}
	var said []sheet.Past
	if dating(changes) {
		if said, err = learned(s.Plant, n.plant); err != nil {
			return nil, err
		}
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		head, err := tx.Head()
		if err != nil {
			return err
		}
		if head != s.Revision.Number {
			return ErrMoved
		}
		if err := i.Expect.hold(tx); err != nil {
			return err
		}
		if len(changes) > 0 {
			if err := tx.AddRevision(r, changes); err != nil {
				return err
			}
			if err := recorded(tx, r, said); err != nil {
				return err
			}
		}
		if n.follow != nil {
			if err := n.follow(tx, r); err != nil {
				return err
			}
		}
		return made(ctx, tx, fmt.Sprintf("revisions/%d", r.Number))
	})
	if err != nil {
		return nil, err
	}
	if len(changes) == 0 {
		return s, nil
	}
	made := &State{Revision: r, Plant: n.plant, pieces: pieces}
	a.remember(made)
	return made, nil
}

const maxWhy = 1000

// hold returns a problem when the piece has changed since.
func (e Expectation) hold(tx Tx) error {
	if e.Key == "" {
		return nil
	}
	n, err := int64(0), error(nil)
	if e.Key == Whole {
		n, err = tx.Head()
	} else {
		n, err = tx.Changed(e.Key)
	}
	if err != nil && !errors.Is(err, ErrNone) {
		return err
	}
	if n <= e.Revision {
		return nil
	}
	r, err := tx.Revision(n)
	if err != nil {
		return err
	}
	return &Problem{
		Kind: Stale, Title: "It has changed meanwhile",
		Detail: fmt.Sprintf("%s made revision %d after what you have seen: %s", r.Who, n, r.What),
		Next:   "Look at it as it is now, and ask again if you still want to.",
		Extra:  map[string]any{"revision": n, "seen": e.Revision, "piece": strings.TrimSuffix(e.Key, "/")},
	}
}

// Load puts a whole plant in place of what is there: the first revision of a new
// database, or set-up by file. Its faults must have been looked at.
func (a *App) Load(ctx context.Context, who Actor, i Intent, p *plant.Plant) (*State, error) {
	if err := who.must(ActSetUp); err != nil {
		return nil, err
	}
	if faults := plant.Validate(p); len(faults) > 0 {
		return nil, faulty(faults)
	}
	first := false
	err := a.store.Update(ctx, func(tx Tx) error {
		n, err := tx.Head()
		if err != nil {
			return err
		}
		if first = n == 0; !first {
			return nil
		}
		pieces := plant.Split(p)
		r := Revision{Number: 1, At: a.now(), Who: who.Name, Act: ActSetUp, Why: i.Why, What: fmt.Sprintf("The plant %s was loaded.", p.Name)}
		if err := tx.AddRevision(r, plant.Diff(nil, pieces)); err != nil {
			return err
		}
		said, err := learned(nil, p)
		if err != nil {
			return err
		}
		if err := recorded(tx, r, said); err != nil {
			return err
		}
		return made(ctx, tx, "revisions/1")
	})
	if err != nil {
		return nil, err
	}
	if first {
		return a.head(ctx)
	}
	return a.change(ctx, who, ActSetUp, i, func(s *State) (*next, error) {
		return &next{plant: p, what: fmt.Sprintf("The plant %s was loaded from a file.", p.Name)}, nil
	})
}
