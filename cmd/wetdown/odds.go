package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"

	"wetdown/solver/forecast"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// oddsFlags say how often the plant is simulated.
type oddsFlags struct {
	Runs int    `default:"2000" placeholder:"N" help:"Simulate the plant so many times for the chances; 0 leaves them out."`
	Seed uint64 `default:"1" placeholder:"N" help:"Seed of chance: equal seeds give equal chances."`
	Past string `name:"history" placeholder:"FILE" help:"History of projections as CSV or XLSX, as backtest reads it: how far line-off days slip. Default: estimates."`
}

// maxRuns bounds what a typing error can cost.
const maxRuns = 200_000

// options are those of a simulation of the plant that s watches by w. with names a would-be
// truck.
func (f *oddsFlags) options(s *session, w *watch, p *plant.Plant, with ...plant.Truck) (forecast.Options, error) {
	if f.Runs < 0 || f.Runs > maxRuns {
		return forecast.Options{}, refuse("--runs %d cannot be simulated: ask for 1 to %s, or for 0 to leave the chances out", f.Runs, thousands(maxRuns))
	}
	var laws forecast.Laws
	if f.Past != "" && p.Plan != nil && f.Runs > 0 {
		past, err := s.history(f.Past)
		if err != nil {
			return forecast.Options{}, err
		}
		if laws, err = forecast.Learned(history.New(past, history.Options{}), p, with...); err != nil {
			return forecast.Options{}, err
		}
	}
	return forecast.Options{
		Laws: laws, Runs: f.Runs, Seed: f.Seed, Workers: runtime.GOMAXPROCS(0),
		Report: func(done, runs int) {
			w.set(fmt.Sprintf("chances: run %s of %s", thousands(int64(done)), thousands(int64(runs))))
		},
	}, nil
}

// without says why there are no chances. What was asked for wrongly stays an error.
func (f *oddsFlags) without(p *plant.Plant, err error) (string, error) {
	var r refusal
	switch {
	case errors.As(err, &r):
		return "", err
	case f.Runs == 0:
		return "No chances, as asked: --runs 2000 works them out.", nil
	case p.Plan == nil:
		return "No chances: there is no plan in force to simulate. wetdown plan FILE -o FILE makes one.", nil
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return fmt.Sprintf("No chances: the time given was over before %s. Give more with --limit, or ask for fewer with --runs.", count(f.Runs, "run")), nil
	}
	return fmt.Sprintf("No chances: %v.", err), nil
}

// percent writes a share of runs, for a table.
func percent(share float64) string {
	switch n := forecast.InHundred(share); {
	case n >= 100:
		return ">99%"
	case n <= 0:
		return "<1%"
	default:
		return fmt.Sprintf("%d%%", n)
	}
}

// withError writes a chance with its error.
func withError(c forecast.Chance) string {
	return fmt.Sprintf("%s (standard error %.1f%%, interval of %.0f%%: %.1f to %.1f%%)",
		percent(c.Share), 100*c.Error, 100*forecast.Confidence, 100*c.Low, 100*c.High)
}

// basis tells what chances rest on.
func basis(pg *page, b forecast.Basis) {
	pg.gap("What the chances rest on")
	pg.item("%s of the plant under plan %d, seed %d. The same file, runs and seed give the same chances.", count(b.Runs, "simulated run"), b.Revision, b.Seed)
	for _, line := range b.Assumptions {
		pg.item("%s", line)
	}
}
