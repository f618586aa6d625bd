package queue

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"time"

	"wetdown/api"
)

// A Worker is what a queue calls: the application.
type Worker interface {
	// Work answers a job; see api.App.
	Work(ctx context.Context, id string) error
	// Idle lists jobs that should be worked on and are not.
	Idle(ctx context.Context) ([]api.Turn, error)
	// Orphan declares whoever was working dead.
	Orphan(ctx context.Context) error
}

var (
	_ Worker    = (*api.App)(nil)
	_ api.Queue = (*Local)(nil)
	_ api.Queue = (*Shared)(nil)
)

// Options of a queue. The zero value is fine.
type Options struct {
	Workers int           // jobs at the same time in this process; 0: one
	Sweep   time.Duration // how often it looks for jobs that nobody works on; 0: 10 s
	Log     *slog.Logger  // nil: nothing is logged
}

func (o Options) withDefaults() Options {
	o.Workers = max(1, o.Workers)
	o.Sweep = cmp.Or(o.Sweep, 10*time.Second)
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

// report logs what came of a call of Work, if it is worth it, and reports whether the
// job has to be worked on again.
func (o *Options) report(ctx context.Context, id string, err error) (again bool) {
	switch {
	case err == nil, errors.Is(err, api.ErrHeld):
		return false
	case ctx.Err() != nil:
		return true
	}
	o.Log.ErrorContext(ctx, "a job was not answered", "job", id, "error", err)
	return true
}

// sweep tells add of all jobs that nobody works on, at once and then every o.Sweep until
// ctx ends.
func (o *Options) sweep(ctx context.Context, w Worker, add func([]api.Turn) error) {
	every := time.NewTicker(o.Sweep)
	defer every.Stop()
	for {
		idle, err := w.Idle(ctx)
		if err == nil && len(idle) > 0 {
			err = add(idle)
		}
		if err != nil && ctx.Err() == nil {
			o.Log.ErrorContext(ctx, "the jobs that wait cannot be seen", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
	}
}
