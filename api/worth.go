package api

import (
	"context"
	"errors"
	"fmt"
	"time"

	"wetdown/solver"
	"wetdown/solver/plant"
)

// WorstDays is how many of the days lost are worked out when nobody says how many.
const WorstDays = 10

// A WorthQuestion asks whose day hurts most if it is lost, and what one more would buy. The
// answer of its job is a solver.Worth, for the plan in force; recorded slips have not
// happened.
type WorthQuestion struct {
	Trucks, Bays, Crews []string      // ask about a day of these alone; all empty: about everything
	Top                 int           // of the days lost, work out so many, the worst; 0: all
	Limit               time.Duration // of each planning; 0: no limit
}

// AskWorth asks what days are worth.
func (a *App) AskWorth(ctx context.Context, who Actor, q WorthQuestion) (*Job, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	if q.Top < 0 {
		return nil, invalid("top", fmt.Sprintf("%d is no number of days.", q.Top), "Say how many are worked out, 0 for all.")
	}
	known := []struct {
		noun string
		ids  []string
		has  func(id string) bool
		all  []string
	}{
		{"truck", q.Trucks, func(id string) bool { return s.Plant.FindTruck(id) != nil }, names(s.Plant.Trucks, func(t *plant.Truck) string { return t.ID })},
		{"bay", q.Bays, func(id string) bool { return s.Plant.FindBay(id) != nil }, names(s.Plant.Bays, func(b *plant.Bay) string { return b.ID })},
		{"crew", q.Crews, func(id string) bool { return s.Plant.FindCrew(id) != nil }, names(s.Plant.Crews, func(c *plant.Crew) string { return c.ID })},
	}
	for _, k := range known {
		for _, id := range k.ids {
			if !k.has(id) {
				return nil, noSuch(k.noun, id, k.all)
			}
		}
	}
	return a.ask(ctx, who, JobWorth, q)
}

func (a *App) worth(ctx context.Context, s *State, j *Job, q WorthQuestion) (*solver.Worth, error) {
	if s.Plant.Plan == nil {
		return nil, noPlan()
	}
	sc := solver.Scope{Trucks: q.Trucks, Bays: q.Bays, Crews: q.Crews, Top: q.Top, Report: func(k solver.Weighing) {
		word := fmt.Sprintf("Looking at %d of %d: %s", k.Looked+1, k.Looks, k.About)
		if k.Planning {
			word = fmt.Sprintf("Planning %d: %s", k.Planned+1, k.About)
			if k.Plans > 0 {
				word = fmt.Sprintf("Planning %d of at most %d: %s", k.Planned+1, k.Plans, k.About)
			}
		}
		a.live.set(j.ID, &JobProgress{Word: word})
	}}
	if q.Limit > 0 {
		sc.Each = func(ctx context.Context) (context.Context, context.CancelFunc) {
			return context.WithTimeout(ctx, q.Limit)
		}
	}
	w, err := solver.Weigh(ctx, s.Plant, sc)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil && !errors.Is(context.Cause(ctx), errTimeUp) {
		return nil, err
	}
	return w, nil
}
