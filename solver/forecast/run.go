package forecast

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"

	"wetdown/solver/plant"
)

// Runs is the number of runs where none is asked for.
const Runs = 2000

// Options steer a simulation. Equal plants and options give equal answers, whatever the
// number of workers.
type Options struct {
	Runs    int    // simulated runs, 0: Runs
	Seed    uint64 // of chance
	Laws    Laws
	Workers int                  // runs worked on at a time, 0: one
	Report  func(done, runs int) // called now and then, by one at a time
}

func (o *Options) runs() int {
	if o.Runs <= 0 {
		return Runs
	}
	return o.Runs
}

// ErrNoPlan is returned for a plant without a plan in force: the simulation keeps its order.
var ErrNoPlan = errors.New("there is no plan in force to simulate: make one with wetdown plan FILE -o FILE")

func planned(p *plant.Plant) error {
	if p.Plan == nil {
		return ErrNoPlan
	}
	return nil
}

// block is how many runs a worker takes at a time.
const block = 16

// each calls the function that worker makes, once for every run, from several workers at a
// time. It ends early, with the cause, when ctx does.
func each(ctx context.Context, o *Options, runs int, worker func() func(run int)) error {
	var next, done atomic.Int64
	var wg sync.WaitGroup
	var report sync.Mutex
	for range max(1, min(o.Workers, (runs+block-1)/block)) {
		wg.Go(func() {
			do := worker()
			for {
				from := int(next.Add(block)) - block
				if from >= runs {
					return
				}
				to := min(runs, from+block)
				for run := from; run < to; run++ {
					if ctx.Err() != nil {
						return
					}
					do(run)
				}
				report.Lock()
				if n := done.Add(int64(to - from)); o.Report != nil {
					o.Report(int(n), runs)
				}
				report.Unlock()
			}
		})
	}
	wg.Wait()
	return context.Cause(ctx)
}
