package api

import (
	"context"
	"fmt"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/history"
)

// What on time can be grouped by.
var onTimeGroups = []string{"customer", "kind", "owner", "period"}

// OnTime is what came when it was said, against four days that differ: those said first and
// last, the one that the customer asked for, and that of the contract.
type OnTime struct {
	AsOf   calendar.Date    // what came before it counts
	Groups []history.OnTime // in the order of events, groupings and names; all without a name first
}

// OnTime counts by the history of the plant, without groups or by customer, kind (of
// truck), owner (of the clock) or period (half-year of the day that is measured against).
func (a *App) OnTime(ctx context.Context, who Actor, by string) (*OnTime, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	known := by == ""
	for _, g := range onTimeGroups {
		known = known || g == by
	}
	if !known {
		return nil, invalid("by", fmt.Sprintf("Nothing is counted by %.40q.", by), "Give one of: "+strings.Join(onTimeGroups, ", ")+", or leave it out.")
	}
	s, h, err := a.pastOf(ctx)
	if err != nil {
		return nil, err
	}
	out := &OnTime{AsOf: s.Plant.AsOf.Date()}
	for _, g := range h.OnTime(out.AsOf) {
		if g.By == by {
			out.Groups = append(out.Groups, g)
		}
	}
	return out, nil
}

// pastOf is the newest state with its history.
func (a *App) pastOf(ctx context.Context) (s *State, h *history.History, err error) {
	err = a.store.View(ctx, func(tx Tx) (err error) {
		if s, err = a.headIn(tx); err != nil {
			return err
		}
		past, err := a.past(tx, s)
		if err == nil {
			h = past.told
		}
		return err
	})
	return s, h, err
}
