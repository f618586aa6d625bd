package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"wetdown/api"
)

// A fault is an error of the database for whom runs it: place, cause, next step. It
// unwraps to that error, and to a problem that tells other people no more than they
// need.
type fault struct {
	text    string
	problem *api.Problem
	cause   error
}

func (f *fault) Error() string { return fmt.Sprintf("%s (%v)", f.text, f.cause) }

func (f *fault) Unwrap() []error { return []error{f.problem, f.cause} }

// passing is a fault that may be gone in a minute.
func passing(format string, args ...any) *fault {
	return &fault{text: fmt.Sprintf(format, args...), problem: &api.Problem{
		Kind:   api.Busy,
		Title:  "The database does not answer at the moment",
		Detail: "Nothing is known to have been changed.",
		Next:   "Look whether it was done, and try again in a minute. If it stays, tell your administrator.",
		Wait:   time.Minute,
	}}
}

// lasting is a fault that stays until somebody does something.
func lasting(format string, args ...any) *fault {
	return &fault{text: fmt.Sprintf(format, args...), problem: &api.Problem{
		Kind:   api.Broken,
		Title:  "The database cannot do its work",
		Detail: "Nothing was changed.",
		Next:   "Tell your administrator: the log of the service says what is the matter.",
	}}
}

// explain adds to an error of the database what to do about it. Errors of others pass.
func (s *Store) explain(ctx context.Context, err error) error {
	if err == nil {
		return nil
	}
	var p *api.Problem
	if errors.As(err, &p) {
		return err
	}
	f := s.base.fault(err)
	switch {
	case ctx.Err() != nil && (f != nil || errors.Is(err, sql.ErrTxDone)):
		return ctx.Err() // which is why it failed
	case f != nil:
		f.cause = err
		return f
	}
	return err
}
