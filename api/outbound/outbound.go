package outbound

import (
	"cmp"
	"context"
	"errors"
	"hash/fnv"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"wetdown/api"
)

// Options of a Runner. Clock is needed; the zero value of the others is fine.
type Options struct {
	Clock  func() time.Time
	Seed   uint64         // of the random part of pauses
	GiveUp time.Duration  // how long something is tried; 0: 3 days
	Look   time.Duration  // how often it looks for what is due, beside being woken; 0: 5 s
	Hooks  int            // webhooks told at the same time; 0: four
	Allow  []netip.Prefix // addresses that are not public and that webhooks may have
	Mail   *MailServer    // nil: nothing is mailed
	Log    *slog.Logger   // nil: nothing is logged
	Meter  Meter          // nil: nothing is counted
}

// What is sent, and what came of it, for a Meter.
const (
	Webhook = "webhook"
	Mail    = "mail"

	Done    = "done"
	Later   = "later" // it will be tried again
	Refused = "refused"
)

// A Meter counts.
type Meter interface {
	// Sent is called after every try to send something.
	Sent(what, outcome string)
}

// A Runner sends what is due. It may be started once.
type Runner struct {
	app    *api.App
	o      Options
	client *http.Client

	looking context.Context // for something to send
	unlook  context.CancelFunc
	sending context.Context
	unsend  context.CancelFunc
	under   sync.WaitGroup
}

// New returns a runner for an application.
func New(app *api.App, o Options) *Runner {
	o.GiveUp = cmp.Or(o.GiveUp, 3*24*time.Hour)
	o.Look = cmp.Or(o.Look, 5*time.Second)
	o.Hooks = cmp.Or(o.Hooks, 4)
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	r := &Runner{app: app, o: o, client: newClient(guard{o.Allow})}
	r.sending, r.unsend = context.WithCancel(context.Background())
	r.looking, r.unlook = context.WithCancel(r.sending)
	return r
}

// Start begins to send, in the background, until Close.
func (r *Runner) Start() {
	for range r.o.Hooks {
		r.under.Go(func() { r.run(r.Tell) })
	}
	if r.o.Mail != nil {
		r.under.Go(func() { r.run(r.Post) })
	}
}

// Close takes up nothing more and waits for what is being sent. When ctx ends that is
// broken off, to be sent again by the next process.
func (r *Runner) Close(ctx context.Context) error {
	r.unlook()
	stop := context.AfterFunc(ctx, r.unsend)
	r.under.Wait()
	stop()
	r.unsend()
	r.client.CloseIdleConnections()
	return nil
}

// run does step again and again, pausing when there is nothing to do.
func (r *Runner) run(step func(context.Context) (bool, error)) {
	for r.looking.Err() == nil {
		changed := r.app.Changed()
		worked, err := step(r.sending)
		if err != nil && r.looking.Err() == nil {
			r.o.Log.Error("what is due cannot be found or kept", "error", err)
		}
		if worked && err == nil {
			continue
		}
		pause := time.NewTimer(r.o.Look)
		select {
		case <-r.looking.Done():
		case <-changed:
		case <-pause.C:
		}
		pause.Stop()
	}
}

// later is when to try again something that has been tried so often since then, zero if
// it is given up. The pauses double from ten seconds to an hour, and of each between
// half and all is waited: by dice, so that what failed together does not come back
// together.
func (r *Runner) later(id string, attempt int, since time.Time) time.Time {
	pause := min(time.Hour, 10*time.Second<<min(attempt-1, 10))
	h := fnv.New64a()
	h.Write([]byte(id))
	dice := rand.New(rand.NewPCG(r.o.Seed, h.Sum64()+uint64(attempt)))
	at := r.o.Clock().Add(pause/2 + time.Duration(dice.Int64N(int64(pause/2)+1)))
	if at.Sub(since) > r.o.GiveUp {
		return time.Time{}
	}
	return at
}

// tally logs and counts what came of a try.
func (r *Runner) tally(what, id string, attempt int, t api.Attempt) {
	outcome := Later
	switch {
	case t.Done:
		outcome = Done
	case t.Again.IsZero():
		outcome = Refused
	}
	if t.Done {
		r.o.Log.Info("sent", "what", what, "id", id, "attempt", attempt)
	} else {
		r.o.Log.Warn("not sent", "what", what, "id", id, "attempt", attempt, "outcome", outcome, "problem", t.Problem)
	}
	if r.o.Meter != nil {
		r.o.Meter.Sent(what, outcome)
	}
}

// Tell tells one webhook one thing, if something is due, and says whether it was.
func (r *Runner) Tell(ctx context.Context) (bool, error) {
	d, err := r.app.NextDelivery(ctx)
	if d == nil || err != nil {
		return false, err
	}
	at := r.o.Clock()
	no := r.tell(ctx, d, at)
	t := api.Attempt{Done: no == nil}
	if no != nil {
		t.Problem = no.Error()
		switch {
		case errors.Is(no, errGone):
		case ctx.Err() != nil:
			t.Again = at
		default:
			t.Again = r.later(d.ID, d.Attempt, d.Since)
		}
	}
	r.tally(Webhook, d.ID, d.Attempt, t)
	return true, r.app.Delivered(context.WithoutCancel(ctx), d, t)
}

// Post mails one invitation, if one is due, and says whether it was.
func (r *Runner) Post(ctx context.Context) (bool, error) {
	m, err := r.app.NextMessage(ctx)
	if m == nil || err != nil {
		return false, err
	}
	at := r.o.Clock()
	t := api.Attempt{Done: true}
	if no := r.o.Mail.send(ctx, m); no != nil {
		t = api.Attempt{Unknown: no.unknown, Problem: no.text}
		switch {
		case ctx.Err() != nil:
			t.Again = at
		case !no.final:
			t.Again = r.later(m.ID, m.Attempt, m.Since)
		}
	}
	r.tally(Mail, m.ID, m.Attempt, t)
	return true, r.app.Mailed(context.WithoutCancel(ctx), m, t)
}
