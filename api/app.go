package api

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// An App does what is asked with what a store keeps. It may be used by many at once.
type App struct {
	store  Store
	clock  func() time.Time
	aside  func(f func())
	solves chan struct{} // one place for each question under way
	turn   chan struct{} // one place: whose turn it is to change the plant
	desk   desk
	live   live
	queue  Queue
	gate   *gate
	lease  time.Duration
	host   Inviter

	forecasting chan struct{} // one place: who works out chances
	forecasts   *signal       // there are newer ones
	chances     chances       // of single visits
	backtests   backtests
	pasts       pasts

	mu      sync.Mutex
	state   *State // the newest that was seen
	changed *signal
}

// Options of an App. The zero value is fine but for Clock.
type Options struct {
	Clock  func() time.Time // the time now
	Solves int              // questions answered at the same time, beside one booking; 0: one
	Aside  func(f func())   // runs f, which takes long, so that others go first, and returns when f does; nil: just runs it
	Lease  time.Duration    // so long after its last sign of life the worker on a job is taken for dead; 0: 30 s
}

// New returns the application on a store.
func New(s Store, o Options) *App {
	if o.Aside == nil {
		o.Aside = func(f func()) { f() }
	}
	return &App{store: s, clock: o.Clock, aside: o.Aside, solves: make(chan struct{}, max(1, o.Solves)), lease: cmp.Or(o.Lease, lease), turn: make(chan struct{}, 1), desk: desk{seat: make(chan struct{}, 1)}, changed: newSignal(), forecasting: make(chan struct{}, 1), forecasts: newSignal(), live: live{all: newSignal()}, gate: newGate()}
}

// Serve names the queue that works on jobs. It is called before the first job is asked.
func (a *App) Serve(q Queue) { a.queue = q }

// now is the time in whole milliseconds, as it is stored.
func (a *App) now() time.Time { return a.clock().UTC().Truncate(time.Millisecond) }

// A State is the plant as of one revision. It is shared: nothing in it may be changed.
type State struct {
	Revision Revision
	Plant    *plant.Plant
	pieces   []plant.Piece

	judge   sync.Once
	verdict check.Verdict
}

// Pieces are those of the plant, sorted by key.
func (s *State) Pieces() []plant.Piece { return s.pieces }

// Verdict is what the judge says of the plan in force, which there must be. It is asked once
// for each state.
func (s *State) Verdict() check.Verdict {
	s.judge.Do(func() { s.verdict = check.Plan(s.Plant, s.Plant.Plan) })
	return s.verdict
}

// ErrEmpty is the problem with a database in which no plant is kept yet.
var ErrEmpty = &Problem{
	Kind: Conflict, Title: "There is no plant here yet",
	Detail: "Nothing was loaded into this database.",
	Next:   "Load a plant file: wetdown serve --plant FILE, or PUT it to /plant.",
}

// head returns the newest state, out of memory when the database has no newer one.
func (a *App) head(ctx context.Context) (*State, error) {
	var s *State
	err := a.store.View(ctx, func(tx Tx) (err error) {
		s, err = a.headIn(tx)
		return err
	})
	return s, err
}

func (a *App) headIn(tx Tx) (*State, error) {
	n, err := tx.Head()
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, ErrEmpty
	}
	a.mu.Lock()
	s := a.state
	a.mu.Unlock()
	if s != nil && s.Revision.Number == n {
		return s, nil
	}
	if s, err = stateIn(tx, n); err != nil {
		return nil, err
	}
	a.remember(s)
	return s, nil
}

// remember keeps a state if it is the newest.
func (a *App) remember(s *State) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.state == nil || a.state.Revision.Number < s.Revision.Number {
		a.state = s
		a.changed.send()
	}
}

// Changed returns a channel that is closed when the plant has a newer revision than
// when it was called, as far as this process knows.
func (a *App) Changed() <-chan struct{} { return a.changed.next() }

// stateIn reads a revision.
func stateIn(tx Tx, number int64) (*State, error) {
	r, err := tx.Revision(number)
	if errors.Is(err, ErrNone) {
		return nil, noRevision(number)
	}
	if err != nil {
		return nil, err
	}
	s := &State{Revision: r}
	if s.pieces, err = tx.Pieces(number); err != nil {
		return nil, err
	}
	text, err := plant.Join(s.pieces)
	if err != nil {
		return nil, fmt.Errorf("revision %d: %w", number, err)
	}
	p, faults := plant.Read(fmt.Sprintf("revision %d", number), text)
	if len(faults) > 0 {
		return nil, fmt.Errorf("revision %d: %v", number, faults[0])
	}
	s.Plant = p
	return s, nil
}

// State returns the plant as of a revision, 0 for the newest.
func (a *App) State(ctx context.Context, who Actor, number int64) (*State, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	if number == 0 {
		return a.head(ctx)
	}
	var s *State
	err := a.store.View(ctx, func(tx Tx) (err error) {
		if s, err = a.headIn(tx); err != nil || s.Revision.Number != number {
			s, err = stateIn(tx, number)
		}
		return err
	})
	return s, err
}

// Now is the moment in the plant's zone, never before the one that the plant stands at.
func (a *App) Now(p *plant.Plant) calendar.Moment {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		zone = time.UTC
	}
	t := a.now().In(zone)
	return max(p.AsOf, calendar.NewDate(t.Date()).At(calendar.Clock(t.Hour()*60+t.Minute())))
}

// today is the day in the plant's zone.
func (a *App) today(p *plant.Plant) calendar.Date { return a.Now(p).Date() }

// A signal wakes everybody who waits.
type signal struct {
	mu sync.Mutex
	c  chan struct{}
}

func newSignal() *signal { return &signal{c: make(chan struct{})} }

func (s *signal) next() <-chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.c
}

func (s *signal) send() {
	s.mu.Lock()
	defer s.mu.Unlock()
	close(s.c)
	s.c = make(chan struct{})
}
