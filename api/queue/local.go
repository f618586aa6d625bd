package queue

import (
	"context"
	"sync"

	"wetdown/api"
)

// A Local queue works on jobs in this process. All its methods may be called at once.
type Local struct {
	worker Worker
	o      Options

	mu      sync.Mutex
	news    *sync.Cond                    // of waiting and closing
	waiting []string                      // in the order in which they came
	known   map[string]context.CancelFunc // waiting (nil) or running
	closing bool

	working context.Context // of all jobs
	cancel  context.CancelFunc
	unsweep context.CancelFunc
	under   sync.WaitGroup
}

// NewLocal starts a queue for a database that no other process uses: jobs that were
// running when the last one died are taken up at once.
func NewLocal(ctx context.Context, w Worker, o Options) (*Local, error) {
	if err := w.Orphan(ctx); err != nil {
		return nil, err
	}
	q := &Local{worker: w, o: o.withDefaults(), known: map[string]context.CancelFunc{}}
	q.news = sync.NewCond(&q.mu)
	q.working, q.cancel = context.WithCancel(context.WithoutCancel(ctx))
	sweeping, unsweep := context.WithCancel(q.working)
	q.unsweep = unsweep
	for range q.o.Workers {
		q.under.Go(q.work)
	}
	q.under.Go(func() {
		q.o.sweep(sweeping, w, func(idle []api.Turn) error {
			for _, t := range idle {
				q.add(t.ID)
			}
			return nil
		})
	})
	return q, nil
}

// Add is told of a job that waits. It returns at once, and after Close it does nothing:
// the job waits for the next process.
func (q *Local) Add(_ context.Context, id string) error {
	q.add(id)
	return nil
}

func (q *Local) add(id string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if _, known := q.known[id]; known || q.closing {
		return
	}
	q.known[id] = nil
	q.waiting = append(q.waiting, id)
	q.news.Signal()
}

// Stop cancels the work on a job.
func (q *Local) Stop(id string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if cancel := q.known[id]; cancel != nil {
		cancel()
	}
}

// Close takes up no more jobs and waits for those that run. When ctx ends they are
// cancelled, and Close waits until they have given up; they are then worked on by
// the next process. It returns nil.
func (q *Local) Close(ctx context.Context) error {
	q.mu.Lock()
	q.closing, q.waiting = true, nil
	q.news.Broadcast()
	q.mu.Unlock()
	q.unsweep()
	stop := context.AfterFunc(ctx, q.cancel)
	q.under.Wait()
	stop()
	q.cancel()
	return nil
}

// work works on one job after the other.
func (q *Local) work() {
	for {
		id, ctx, ok := q.next()
		if !ok {
			return
		}
		q.o.report(ctx, id, q.worker.Work(ctx, id))
		q.mu.Lock()
		q.known[id]()
		delete(q.known, id)
		q.mu.Unlock()
	}
}

// next waits for a job; false when there will be no more.
func (q *Local) next() (id string, ctx context.Context, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for len(q.waiting) == 0 && !q.closing {
		q.news.Wait()
	}
	if q.closing {
		return "", nil, false
	}
	id, q.waiting = q.waiting[0], q.waiting[1:]
	ctx, q.known[id] = context.WithCancel(q.working)
	return id, ctx, true
}
