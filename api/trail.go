package api

import (
	"context"
	"errors"
	"regexp"
	"strings"
)

// Outcomes of an attempt.
const (
	OutcomeDone    = "done"
	OutcomeRefused = "refused" // with a problem that says why
	OutcomeFailed  = "failed"  // by a fault of the program or the database
)

// Outcome is what the trail says of an attempt that ended with err.
func Outcome(err error) string {
	switch {
	case err == nil:
		return OutcomeDone
	case AsProblem(err).Kind == Broken:
		return OutcomeFailed
	}
	return OutcomeRefused
}

// Record puts an attempt on the trail. Its time is now; its texts are cut to what a
// trail needs, and anything in them that looks like a token is left out. Attempts to
// log in, and those about accounts, sessions and tokens, are put there by their use
// cases and need no Record.
func (a *App) Record(ctx context.Context, e Event) error {
	return a.store.Update(ctx, func(tx Tx) error { return a.trace(tx, e) })
}

// trace puts an attempt on the trail in the transaction of what was done.
func (a *App) trace(tx Tx, e Event) error {
	e.Seq, e.At = 0, a.now()
	e.Who, e.Act, e.Subject, e.Detail = traced(e.Who, 100), traced(e.Act, 100), traced(e.Subject, 200), traced(e.Detail, 1000)
	switch e.Outcome {
	case OutcomeDone, OutcomeRefused, OutcomeFailed:
	default:
		return errors.New("an attempt is done, refused or failed, not " + e.Outcome)
	}
	return tx.AddEvent(e)
}

var tokenLike = regexp.MustCompile(tokenPrefix + `[A-Za-z0-9]{8,}`)

// traced is a text as the trail takes it: one line of at most so many characters,
// without tokens.
func traced(text string, most int) string {
	text = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(text, "?"), func(r rune) bool { return r < ' ' || r == 0x7f }), " ")
	text = tokenLike.ReplaceAllString(text, tokenPrefix+"…")
	if r := []rune(text); len(r) > most {
		text = string(r[:most-1]) + "…"
	}
	return text
}

// done puts what a transaction did on the trail, in that transaction.
func (a *App) done(tx Tx, e Event, detail string) error {
	e.Outcome, e.Detail = OutcomeDone, detail
	return a.trace(tx, e)
}

// missed puts what was not done on the trail, also when the asker has gone. It is
// deferred. A detail that e has stands; else it is that of the problem.
func (a *App) missed(ctx context.Context, e *Event, err *error) {
	if *err == nil {
		return
	}
	e.Outcome = Outcome(*err)
	if p := AsProblem(*err); e.Detail == "" {
		e.Detail = strings.TrimSuffix(p.Title, ".") + ". " + p.Detail
	}
	if kept := a.Record(context.WithoutCancel(ctx), *e); kept != nil {
		*err = errors.Join(*err, kept)
	}
}

// mostEvents is how many events are given at once.
const mostEvents = 1000

// Trail lists attempts, the newest first, those with Seq below `before` (0: all), at
// most `limit` and never more than 1000 (also for 0).
func (a *App) Trail(ctx context.Context, who Actor, before int64, limit int) (list []Event, err error) {
	if err := who.must(ActManage); err != nil {
		return nil, err
	}
	if limit <= 0 || limit > mostEvents {
		limit = mostEvents
	}
	err = a.store.View(ctx, func(tx Tx) error {
		list, err = tx.Events(before, limit)
		return err
	})
	return list, err
}
