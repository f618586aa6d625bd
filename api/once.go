package api

import (
	"context"
	"errors"
	"time"
)

// KindOnce is the kind of record of a request that is carried out once, however often it
// is sent. Its ID is the SHA-256 of who sends it and the key it was given.
const KindOnce = "idempotency"

// States of a request that is carried out once.
const (
	onceBegun = "begun" // nothing was kept of it yet
	onceDone  = "done"  // what it asks for is done
)

const (
	onceKept = 24 * time.Hour // how long a repeated request gets the first answer
	// So long after its beginning a request that is not done is taken for dead: more than a
	// booking waits. One that lives all the same keeps nothing any more.
	onceLease = 2 * patience
)

// An Answer is what a request was answered, for whoever repeats it.
type Answer struct {
	Status int
	Header map[string]string
	Body   []byte
}

// keptOnce is the body of the record of such a request.
type keptOnce struct {
	Request string // stands for what was asked
	Begun   time.Time
	Made    string // what came of it, such as revisions/12
	Answer  *Answer
}

// A Once is a request under way that is carried out once.
type Once struct{ entry entry[keptOnce] }

type onceKey struct{}

// Begin begins a request that is carried out once. request stands for all that it asks.
// If it was carried out before, the answer comes back. A change that is asked for with
// the context that comes back is kept together with the word that it is done, in one
// transaction: no crash makes it happen twice.
func (a *App) Begin(ctx context.Context, who Actor, key, request string) (context.Context, *Once, *Answer, error) {
	now := a.now()
	o := &Once{entry[keptOnce]{Record{Kind: KindOnce, ID: digest(who.Name + "\n" + key), State: onceBegun, Ref: who.Name, Due: now.Add(onceKept)}, keptOnce{Request: request, Begun: now}}}
	var before *Answer
	err := a.store.Update(ctx, func(tx Tx) error {
		before = nil
		old, err := tx.List(Query{Kind: KindOnce, DueBefore: now, Limit: 20})
		if err != nil {
			return err
		}
		for _, r := range old {
			if err := tx.Delete(KindOnce, r.ID); err != nil {
				return err
			}
		}
		was, err := fetch[keptOnce](tx, KindOnce, o.entry.rec.ID)
		e := o.entry
		switch {
		case err != nil && AsProblem(err).Kind != NotFound:
			return err
		case err != nil:
			e.rec.Version = 0
		case was.val.Request != request:
			return &Problem{Kind: Invalid, Title: "The key belongs to another request", Detail: "The same Idempotency-Key was sent before with something else.", Next: "Take a new key for every new request.", Extra: map[string]any{"field": "Idempotency-Key"}}
		case was.val.Answer != nil:
			before = was.val.Answer
			return nil
		case was.rec.State == onceDone:
			return &Problem{Kind: Conflict, Title: "It is done already", Detail: "The request was carried out, and its answer is not there to be given again.", Next: "Look at what came of it; there is nothing to send again.", Extra: map[string]any{"made": was.val.Made}}
		case now.Sub(was.val.Begun) < onceLease:
			return &Problem{Kind: Conflict, Title: "The request is being carried out", Detail: "Another one with the same Idempotency-Key is under way.", Next: "Wait for its answer, or send it again in a moment."}
		default:
			e.rec.Version = was.rec.Version // whoever began it is dead, or can keep nothing any more
		}
		if err := e.keep(tx); err != nil {
			return err
		}
		o.entry = e
		return nil
	})
	if err != nil || before != nil {
		return ctx, nil, before, err
	}
	return context.WithValue(ctx, onceKey{}, o), o, nil, nil
}

// made says in the transaction of a change that the request that asked for it is done.
func made(ctx context.Context, tx Tx, what string) error {
	o, ok := ctx.Value(onceKey{}).(*Once)
	if !ok {
		return nil
	}
	e := o.entry
	e.rec.State, e.val.Made = onceDone, what
	err := e.keep(tx)
	if errors.Is(err, ErrMoved) || errors.Is(err, ErrExists) {
		return &Problem{Kind: Conflict, Title: "The request was taken over", Detail: "It took too long, and the same request was sent again.", Next: "Wait for the answer to the other one."}
	}
	return err
}

// orphanOnces forgets requests of which nothing was kept when their process died.
func orphanOnces(tx Tx) error {
	begun, err := tx.List(Query{Kind: KindOnce, State: onceBegun})
	for i := 0; i < len(begun) && err == nil; i++ {
		err = tx.Delete(KindOnce, begun[i].ID)
	}
	return err
}

// Finish keeps the answer to a request, for whoever repeats it. Without an answer it
// keeps only that it is done.
func (a *App) Finish(ctx context.Context, o *Once, answer *Answer) error {
	return a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[keptOnce](tx, KindOnce, o.entry.rec.ID)
		if err != nil || e.val.Begun != o.entry.val.Begun {
			return err
		}
		e.rec.State, e.val.Answer = onceDone, answer
		return e.keep(tx)
	})
}

// Forget is told that nothing came of a request: the same may be sent again.
func (a *App) Forget(ctx context.Context, o *Once) error {
	return a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[keptOnce](tx, KindOnce, o.entry.rec.ID)
		if err != nil && AsProblem(err).Kind == NotFound || err == nil && (e.rec.State == onceDone || e.val.Begun != o.entry.val.Begun) {
			return nil
		}
		if err != nil {
			return err
		}
		return tx.Delete(KindOnce, e.rec.ID)
	})
}
