package api

import (
	"context"
	"sync"

	"wetdown/solver/history"
)

// A BacktestQuestion asks how well days would have held that were stated from the plant's own
// history, as it is when the job is worked on.
type BacktestQuestion struct{}

// backtests knows the newest job about a history.
type backtests struct {
	mu   sync.Mutex
	mark Mark
	job  string
}

// AskBacktest asks, as a job, how well days would have held that were stated from the
// history of the plant as it is now. Who asks about the same history again is given the
// same job.
func (a *App) AskBacktest(ctx context.Context, who Actor) (*Job, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var mark Mark
	err := a.store.View(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err == nil {
			mark, err = markIn(tx, s.Revision.Number)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	b := &a.backtests
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.job != "" && b.mark == mark {
		if j, err := a.Job(ctx, who, b.job); err == nil && j.State != JobFailed && j.State != JobCancelled {
			return j, nil
		}
	}
	j, err := a.ask(ctx, who, JobBacktest, BacktestQuestion{})
	if err == nil {
		b.mark, b.job = mark, j.ID
	}
	return j, err
}

// backtest walks through the history as it was by the state.
func (a *App) backtest(ctx context.Context, s *State) (*history.Report, error) {
	var h *history.History
	err := a.store.View(ctx, func(tx Tx) error {
		past, err := a.past(tx, s)
		if err == nil {
			h = past.told
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return h.Backtest(ctx, s.Plant.AsOf.Date())
}
