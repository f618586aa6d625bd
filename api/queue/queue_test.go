package queue_test

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"wetdown/api"
	"wetdown/api/queue"
	"wetdown/api/store/pgtest"
)

// A board is a worker whose jobs are kept in memory.
type board struct {
	mu      sync.Mutex
	state   map[string]string
	turn    map[string]int
	orphans int
	most    int // jobs that ran at the same time
	begun   chan string
	ended   chan string
	// do is the work itself.
	do func(ctx context.Context, id string) error
}

func newBoard(do func(ctx context.Context, id string) error) *board {
	return &board{state: map[string]string{}, turn: map[string]int{}, do: do, begun: make(chan string, 1000), ended: make(chan string, 1000)}
}

// keep keeps a job that waits.
func (b *board) keep(ids ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, id := range ids {
		b.state[id] = api.JobWaiting
	}
}

func (b *board) set(id, state string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.state[id] = state
}

func (b *board) get(id string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.state[id]
}

func (b *board) Work(ctx context.Context, id string) error {
	b.mu.Lock()
	switch b.state[id] {
	case api.JobDone, api.JobCancelled:
		b.mu.Unlock()
		return nil
	case api.JobRunning:
		b.mu.Unlock()
		return api.ErrHeld
	}
	b.state[id] = api.JobRunning
	b.turn[id]++
	running := 0
	for _, s := range b.state {
		if s == api.JobRunning {
			running++
		}
	}
	b.most = max(b.most, running)
	b.mu.Unlock()
	b.begun <- id
	err := b.do(ctx, id)
	b.mu.Lock()
	if b.state[id] == api.JobRunning {
		b.state[id] = api.JobDone
		if err != nil {
			b.state[id] = api.JobWaiting
		}
	}
	b.mu.Unlock()
	b.ended <- id
	return err
}

func (b *board) Idle(context.Context) (list []api.Turn, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for id, s := range b.state {
		if s == api.JobWaiting {
			list = append(list, api.Turn{ID: id, Number: b.turn[id]})
		}
	}
	slices.SortFunc(list, func(x, y api.Turn) int { return cmp.Compare(x.ID, y.ID) })
	return list, nil
}

func (b *board) Orphan(context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.orphans++
	for id, s := range b.state {
		if s == api.JobRunning {
			b.state[id] = api.JobWaiting
		}
	}
	return nil
}

// A running queue is one that can be closed.
type running interface {
	api.Queue
	Close(ctx context.Context) error
}

// over is a context that has ended: no grace.
var over = func() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}()

// finish works at once.
func finish(context.Context, string) error { return nil }

// lie works until it is cancelled.
func lie(ctx context.Context, _ string) error {
	<-ctx.Done()
	return ctx.Err()
}

func closed(t *testing.T, q running, ctx context.Context) {
	t.Helper()
	if err := q.Close(ctx); err != nil {
		t.Error(err)
	}
}

func add(t *testing.T, q running, ids ...string) {
	t.Helper()
	for _, id := range ids {
		if err := q.Add(t.Context(), id); err != nil {
			t.Fatal(err)
		}
	}
}

// seen takes n names out of a channel, sorted.
func seen(c chan string, n int) (list []string) {
	for range n {
		list = append(list, <-c)
	}
	slices.Sort(list)
	return list
}

// same compares names.
func same(t *testing.T, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// conformance is what every queue does. open opens a queue, again and again on
// the same database in one case.
var conformance = map[string]func(t *testing.T, open func(t *testing.T, w queue.Worker, o queue.Options) running){
	"what is added is worked on, also when it is added often": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		b := newBoard(finish)
		q := open(t, b, queue.Options{Sweep: time.Hour})
		for i := range 20 {
			id := fmt.Sprintf("job%02d", i)
			b.keep(id)
			add(t, q, id, id)
		}
		if got := seen(b.ended, 20); got[0] != "job00" || got[19] != "job19" {
			t.Errorf("worked on %v", got)
		}
		closed(t, q, t.Context())
	},
	"what was kept and never added is found": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		b := newBoard(finish)
		b.keep("before")
		q := open(t, b, queue.Options{Sweep: 200 * time.Millisecond})
		same(t, seen(b.ended, 1), "before")
		b.keep("after")
		same(t, seen(b.ended, 1), "after")
		closed(t, q, t.Context())
	},
	"what fails is worked on again": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		tries := 0
		b := newBoard(func(context.Context, string) error {
			if tries++; tries < 3 {
				return errors.New("the database is away")
			}
			return nil
		})
		q := open(t, b, queue.Options{Sweep: 200 * time.Millisecond})
		b.keep("hard")
		add(t, q, "hard")
		same(t, seen(b.ended, 3), "hard", "hard", "hard")
		if got := b.get("hard"); got != api.JobDone {
			t.Errorf("after three tries it is %s", got)
		}
		closed(t, q, t.Context())
	},
	"no more at the same time than there are workers": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		goOn := make(chan bool)
		b := newBoard(func(context.Context, string) error { <-goOn; return nil })
		q := open(t, b, queue.Options{Workers: 3, Sweep: 200 * time.Millisecond})
		var ids []string
		for i := range 12 {
			ids = append(ids, fmt.Sprint("job", i))
		}
		b.keep(ids...)
		add(t, q, ids...)
		seen(b.begun, 3)
		for range 12 {
			goOn <- true
		}
		seen(b.ended, 12)
		if b.most != 3 {
			t.Errorf("%d ran at the same time, and there are 3 workers", b.most)
		}
		closed(t, q, t.Context())
	},
	"closing cancels what runs, and the next queue goes on": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		b := newBoard(lie)
		q := open(t, b, queue.Options{Workers: 2, Sweep: time.Hour})
		b.keep("a", "b", "c")
		add(t, q, "a", "b", "c")
		seen(b.begun, 2)
		closed(t, q, over)
		for _, id := range []string{"a", "b", "c"} {
			if got := b.get(id); got != api.JobWaiting {
				t.Errorf("%s is %s after closing", id, got)
			}
		}
		seen(b.ended, 2)
		b.do = finish
		q = open(t, b, queue.Options{Sweep: 200 * time.Millisecond})
		same(t, seen(b.ended, 3), "a", "b", "c")
		closed(t, q, t.Context())
	},
	"closing with grace lets what runs come to its end": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		goOn := make(chan bool)
		b := newBoard(func(ctx context.Context, _ string) error {
			select {
			case <-goOn:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
		q := open(t, b, queue.Options{Sweep: time.Hour})
		b.keep("slow")
		add(t, q, "slow")
		seen(b.begun, 1)
		go func() { goOn <- true }()
		closed(t, q, context.WithoutCancel(t.Context()))
		if got := b.get("slow"); got != api.JobDone {
			t.Errorf("it is %s", got)
		}
	},
	"stopping ends the work on one job": func(t *testing.T, open func(*testing.T, queue.Worker, queue.Options) running) {
		b := newBoard(lie)
		q := open(t, b, queue.Options{Workers: 2, Sweep: time.Hour})
		b.keep("a", "b")
		add(t, q, "a", "b")
		same(t, seen(b.begun, 2), "a", "b")
		b.set("a", api.JobCancelled)
		q.Stop("a")
		q.Stop("unheard of")
		same(t, seen(b.ended, 1), "a")
		if got := b.get("b"); got != api.JobRunning {
			t.Errorf("the other one is %s", got)
		}
		closed(t, q, over)
	},
}

func TestLocal(t *testing.T) {
	for name, test := range conformance {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { // ends only when every goroutine has
				test(t, func(t *testing.T, w queue.Worker, o queue.Options) running {
					q, err := queue.NewLocal(t.Context(), w, o)
					if err != nil {
						t.Fatal(err)
					}
					return q
				})
			})
		})
	}
}

func TestShared(t *testing.T) {
	for name, test := range conformance {
		t.Run(name, func(t *testing.T) {
			url := pgtest.URL(t)
			defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
			test(t, func(t *testing.T, w queue.Worker, o queue.Options) running {
				q, err := queue.NewShared(t.Context(), url, w, o)
				if err != nil {
					t.Fatal(err)
				}
				return q
			})
		})
	}
}

// TestLocal_Orphan takes up at its start what a dead process was working on.
func TestLocal_Orphan(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBoard(finish)
		b.set("left", api.JobRunning)
		q, err := queue.NewLocal(t.Context(), b, queue.Options{})
		if err != nil {
			t.Fatal(err)
		}
		same(t, seen(b.ended, 1), "left")
		closed(t, q, t.Context())
	})
}

// TestShared_Start opens many queues on one empty database at once.
func TestShared_Start(t *testing.T) {
	url := pgtest.URL(t)
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	b := newBoard(finish)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			q, err := queue.NewShared(t.Context(), url, b, queue.Options{})
			if err != nil {
				t.Error(err)
				return
			}
			closed(t, q, t.Context())
		})
	}
	all.Wait()
}

// TestShared_Stop stops in one process what another one works on.
func TestShared_Stop(t *testing.T) {
	url := pgtest.URL(t)
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	b := newBoard(lie)
	here, err := queue.NewShared(t.Context(), url, b, queue.Options{Sweep: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	b.keep("long")
	add(t, here, "long")
	seen(b.begun, 1)
	there, err := queue.NewShared(t.Context(), url, newBoard(finish), queue.Options{Sweep: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	b.set("long", api.JobCancelled)
	there.Stop("long")
	same(t, seen(b.ended, 1), "long")
	closed(t, there, t.Context())
	closed(t, here, t.Context())
}
