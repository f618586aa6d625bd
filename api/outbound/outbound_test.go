package outbound_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/outbound"
	"wetdown/api/store"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

func TestMain(m *testing.M) {
	if file := os.Getenv(mailerEnv); file != "" {
		if err := mailer(file); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// admin may do everything.
var admin = api.Actor{Name: "admin", Acts: api.Acts()}

// morning is when these tests begin: the morning of the demo plant.
var morning = time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)

// planned is the demo plant with its plan. It is shared: nothing in it is changed.
var planned = sync.OnceValues(func() (*plant.Plant, error) {
	p, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		return nil, fmt.Errorf("%v", faults[0])
	}
	r, err := solver.Plan(context.Background(), p, solver.Options{})
	if err != nil {
		return nil, err
	}
	p.Plan = r.Plan
	return p, nil
})

// A house is an application with a clock that is set by hand.
type house struct {
	*api.App
	t    *testing.T
	file string
	mu   sync.Mutex
	now  time.Time
	log  bytes.Buffer
	say  *slog.Logger // writes log; one for all runners, which write side by side
}

func (h *house) clock() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now
}

func (h *house) pass(d time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.now = h.now.Add(d)
}

// inviter is as whom these tests write.
var inviter = api.Inviter{Domain: "pellanmere.example", Name: "Pellanmere Apparatus Works", Mail: "visits@pellanmere.example", Address: "1 Foundry Lane, Pellanmere", Arrival: "The north gate; bring safety shoes."}

// open opens the application of a file.
func open(file string, clock func() time.Time) (*api.App, *store.Store, error) {
	s, err := store.Open(context.Background(), file)
	if err != nil {
		return nil, nil, err
	}
	app := api.New(s, api.Options{Clock: clock})
	app.InviteAs(inviter)
	return app, s, nil
}

// build opens a house in which the demo plant is planned.
func build(t *testing.T) *house {
	t.Helper()
	p, err := planned()
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, now: morning, file: filepath.Join(t.TempDir(), "wetdown.db")}
	h.say = slog.New(slog.NewTextHandler(&h.log, nil))
	app, s, err := open(h.file, h.clock)
	if err != nil {
		t.Fatal(err)
	}
	h.App = app
	t.Cleanup(func() {
		if err := errors.Join(s.Check(context.Background()), app.Close(), s.Close()); err != nil {
			t.Error(err)
		}
	})
	if _, err := app.Load(t.Context(), admin, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	return h
}

// runner is a runner that is not started: tests take its steps.
func (h *house) runner(o outbound.Options) *outbound.Runner {
	o.Clock, o.Seed = h.clock, 7
	o.Log = h.say
	r := outbound.New(h.App, o)
	h.t.Cleanup(func() { r.Close(context.Background()) })
	return r
}

// book changes a booking.
func (h *house) book(visit, state string) {
	h.t.Helper()
	if _, err := h.Book(h.t.Context(), admin, api.Intent{}, visit, api.BookingOrder{State: state, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
		h.t.Fatal(err)
	}
}

// steps takes steps until nothing is due, and counts them.
func (h *house) steps(step func(context.Context) (bool, error)) (n int) {
	h.t.Helper()
	for ; ; n++ {
		worked, err := step(h.t.Context())
		if err != nil {
			h.t.Fatal(err)
		}
		if !worked {
			return n
		}
		if n > 100 {
			h.t.Fatal("it never comes to an end")
		}
	}
}

// until lets time pass, ten minutes at a time, and takes steps, until done or days have
// passed; it returns how many were taken.
func (h *house) until(days int, step func(context.Context) (bool, error), done func() bool) (n int) {
	h.t.Helper()
	for range days * 24 * 6 {
		n += h.steps(step)
		if done() {
			return n
		}
		h.pass(10 * time.Minute)
	}
	return n
}

// silent checks that the log has none of these texts.
func (h *house) silent(texts ...string) {
	h.t.Helper()
	for _, text := range texts {
		if strings.Contains(h.log.String(), text) {
			h.t.Errorf("the log has %q:\n%s", text, h.log.String())
		}
	}
}

// A tally counts what a runner reports.
type tally struct {
	mu sync.Mutex
	n  map[string]int
}

func (c *tally) Sent(what, outcome string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.n == nil {
		c.n = map[string]int{}
	}
	c.n[what+" "+outcome]++
}

// trail is what the trail says, a line for each.
func (h *house) trail() (string, error) {
	list, err := h.Trail(h.t.Context(), admin, 0, 100)
	var b strings.Builder
	for _, e := range list {
		fmt.Fprintf(&b, "%s %s %s\n", e.Subject, e.Outcome, e.Detail)
	}
	return b.String(), err
}
