package api_test

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// A hand is a clock that is set by hand.
type hand struct {
	mu  sync.Mutex
	now time.Time
}

func (h *hand) clock() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now
}

func (h *hand) pass(d time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.now = h.now.Add(d)
}

// replicas are two applications on one database, with a plant that takes a while to plan.
func replicas(t *testing.T, trucks int, o api.Options) (one, two *api.App) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "wetdown.db")
	var apps []*api.App
	for range 2 {
		s, err := store.Open(t.Context(), file)
		if err != nil {
			t.Fatal(err)
		}
		a := api.New(s, o)
		t.Cleanup(func() {
			if err := errors.Join(a.Close(), s.Close()); err != nil {
				t.Error(err)
			}
		})
		apps = append(apps, a)
	}
	p := generate.Generate(generate.Options{Trucks: trucks, Seed: 2, Load: 0.9})
	p.Plan = nil
	if _, err := apps[0].Load(t.Context(), manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	return apps[0], apps[1]
}

// asked is a question that nobody works on yet.
func asked(t *testing.T, a *api.App) string {
	t.Helper()
	j, err := a.AskProposal(t.Context(), manager, api.ProposeQuestion{Slips: []string{}})
	if err != nil {
		t.Fatal(err)
	}
	return j.ID
}

// becomes waits until a job is as asked.
func becomes(t *testing.T, a *api.App, id string, as func(*api.Job) bool) *api.Job {
	t.Helper()
	for {
		j, err := a.Job(t.Context(), manager, id)
		if err != nil {
			t.Fatal(err)
		}
		if as(j) {
			return j
		}
		time.Sleep(time.Millisecond)
	}
}

func running(j *api.Job) bool { return j.State == api.JobRunning }

// work works on a job in the background; what came of it is sent.
func work(ctx context.Context, a *api.App, id string) <-chan error {
	came := make(chan error, 1)
	go func() { came <- a.Work(ctx, id) }()
	return came
}

// TestWork_Lease leaves a job alone while somebody lives who works on it, and takes it
// over after that. Of two answers one is kept.
func TestWork_Lease(t *testing.T) {
	at := &hand{now: time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)}
	one, two := replicas(t, 60, api.Options{Clock: at.clock, Lease: time.Hour})
	ctx := t.Context()
	id := asked(t, one)
	if idle, err := two.Idle(ctx); err != nil || len(idle) != 1 || idle[0] != (api.Turn{ID: id}) {
		t.Fatalf("idle before: %v, %v", idle, err)
	}
	first := work(ctx, one, id)
	becomes(t, two, id, running)
	at.pass(59 * time.Minute)
	for _, a := range []*api.App{one, two} {
		if err := a.Work(ctx, id); !errors.Is(err, api.ErrHeld) {
			t.Fatalf("within the lease: %v", err)
		}
	}
	if idle, err := two.Idle(ctx); err != nil || len(idle) != 0 {
		t.Fatalf("idle within the lease: %v, %v", idle, err)
	}
	at.pass(time.Minute)
	if idle, err := two.Idle(ctx); err != nil || len(idle) != 1 || idle[0] != (api.Turn{ID: id, Number: 1}) {
		t.Fatalf("idle after the lease: %v, %v", idle, err)
	}
	if err := two.Work(ctx, id); err != nil {
		t.Fatal(err)
	}
	if err := <-first; err != nil {
		t.Error(err)
	}
	j := becomes(t, two, id, (*api.Job).Finished)
	if j.State != api.JobDone || j.Turn != 2 || !j.Ended.Equal(at.clock()) {
		t.Errorf("%s (%v) after %d turns, ended %v", j.State, j.Problem, j.Turn, j.Ended)
	}
	if list, err := one.Proposals(ctx, manager, "", api.Page{}); err != nil || len(list) != 1 {
		t.Errorf("%d proposals, %v", len(list), err)
	}
	if err := one.Work(ctx, id); err != nil {
		t.Errorf("work on a finished job: %v", err)
	}
}

// TestWork_Cancelled finds out from its own signs of life that the job was cancelled
// elsewhere, where also its progress was seen.
func TestWork_Cancelled(t *testing.T) {
	one, two := replicas(t, 200, api.Options{Clock: time.Now, Lease: 30 * time.Millisecond})
	id := asked(t, one)
	came := work(t.Context(), one, id)
	if j := becomes(t, two, id, func(j *api.Job) bool { return j.Finished() || j.Progress != nil }); j.Finished() {
		t.Fatalf("%s before anything was seen of it: the plant is too easy for this test", j.State)
	}
	if _, err := two.Cancel(t.Context(), manager, id); err != nil {
		t.Fatal(err)
	}
	if err := <-came; err != nil {
		t.Error(err)
	}
	j := becomes(t, one, id, (*api.Job).Finished)
	if j.State != api.JobCancelled || string(j.Answer) != "null" || j.Progress != nil {
		t.Errorf("%s, answer %s, progress %+v", j.State, j.Answer, j.Progress)
	}
}

// TestWork_Stopped waits again when the process that works stops, and that is no attempt.
func TestWork_Stopped(t *testing.T) {
	one, two := replicas(t, 60, api.Options{Clock: time.Now})
	id := asked(t, one)
	for range 5 {
		ctx, stop := context.WithCancel(t.Context())
		came := work(ctx, one, id)
		becomes(t, two, id, running)
		stop()
		if err := <-came; !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		if j := becomes(t, two, id, func(*api.Job) bool { return true }); j.State != api.JobWaiting || j.Attempts != 0 {
			t.Fatalf("%s after %d attempts", j.State, j.Attempts)
		}
	}
}

// TestWork_Orphan takes up at once what a dead process was working on, and gives it up
// when it has killed three.
func TestWork_Orphan(t *testing.T) {
	one, two := replicas(t, 60, api.Options{Clock: time.Now})
	id := asked(t, one)
	ctx, stop := context.WithCancel(t.Context())
	var ended []<-chan error
	for n := range 3 {
		ended = append(ended, work(ctx, one, id)) // one is dead to two from here on
		if j := becomes(t, two, id, func(j *api.Job) bool { return j.Turn == n+1 }); j.Attempts != n+1 || j.State != api.JobRunning {
			t.Fatalf("%s after %d attempts", j.State, j.Attempts)
		}
		if err := two.Orphan(ctx); err != nil {
			t.Fatal(err)
		}
	}
	if err := two.Work(ctx, id); err != nil {
		t.Fatal(err)
	}
	if j := becomes(t, two, id, (*api.Job).Finished); j.State != api.JobFailed || j.Problem == nil || j.Problem.Next == "" {
		t.Errorf("%s: %v", j.State, j.Problem)
	}
	stop()
	for _, came := range ended {
		<-came // whatever it says: it is dead
	}
}

// What the planner has found when its time is up is kept: here nothing yet, or a plan that
// is not proven.
func TestJob_TimeUp(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	j, err := a.AskProposal(ctx, coordinator, api.ProposeQuestion{Limit: time.Nanosecond})
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, manager, j.ID); err != nil || j.State != api.JobDone {
		t.Fatalf("%v: %s, %v", err, j.State, j.Problem)
	}
	p, err := a.Proposal(ctx, manager, j.ID)
	if err != nil || p.Status != plant.Unknown && p.Status != plant.Feasible {
		t.Errorf("%v: %+v", err, p)
	}
}
