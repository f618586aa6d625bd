package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestDesk_Follows changes a plant in every way, and asks the planner between the changes:
// an application that has seen them all, and one that is opened on the same store for this
// question alone. They say the same of every day, and to every booking.
func TestDesk_Follows(t *testing.T) {
	seeds := uint64(4)
	if testing.Short() {
		seeds = 1
	}
	calls := map[string]int{}
	for seed := range seeds {
		t.Run(fmt.Sprint(seed+1), func(t *testing.T) { followed(t, seed+1, calls) })
	}
	t.Log(calls)
	for _, what := range []string{"move", "book", "report", "withdraw", "undo", "accept", "line-off", "set-up", "give back"} {
		if calls[what] == 0 && !testing.Short() {
			t.Errorf("%s: never done", what)
		}
	}
	if calls["yes"] == 0 || calls["no"] == 0 {
		t.Errorf("%d days foreseen, %d refused", calls["yes"], calls["no"])
	}
}

func followed(t *testing.T, seed uint64, calls map[string]int) {
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "wetdown.db"))
	if err != nil {
		t.Fatal(err)
	}
	p := generate.Generate(generate.Options{Trucks: 8, Seed: seed, Load: 0.95})
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	open := func() *api.App {
		a := api.New(db, api.Options{Clock: func() time.Time { return now }, Solves: 2})
		a.Serve(inline{a})
		return a
	}
	a := open()
	defer func() {
		if err := errors.Join(a.Close(), db.Close()); err != nil {
			t.Error(err)
		}
	}()
	if _, err := a.Load(ctx, manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	accepted(t, a, api.ProposeQuestion{Slips: []string{}})
	dice := rand.New(rand.NewPCG(seed, 1))
	for range 25 {
		s := newest(t, a)
		what, err := disturb(t, a, s.Plant, s.Revision.Number, dice)
		if problem(t, err) == 0 {
			calls[what]++
		}
		s = newest(t, a)
		fresh := open()
		v := toCome(s.Plant, dice)
		here, there := offers(t, a, v.Truck), offers(t, fresh, v.Truck)
		if x, y := decided(here), decided(there); x != y {
			t.Fatalf("after %s, truck %s: the desk says\n%s\na new one\n%s", what, v.Truck, x, y)
		}
		o := order(s.Plant, v, here, dice)
		_, x := a.Foresee(ctx, coordinator, v.ID, o)
		_, y := fresh.Foresee(ctx, coordinator, v.ID, o)
		if problem(t, x) != problem(t, y) {
			t.Fatalf("after %s, visit %s on %s: the desk says %v, a new one %v", what, v.ID, o.Day, x, y)
		}
		if x == nil {
			calls["yes"]++
		} else {
			calls["no"]++
		}
		if err := fresh.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// toCome is one of the visits that are still to take place.
func toCome(p *plant.Plant, dice *rand.Rand) *plant.Visit {
	list := slices.DeleteFunc(slices.Clone(p.Visits), func(v plant.Visit) bool { return !v.Planned() })
	return &list[dice.IntN(len(list))]
}

// order is one for a day that is offered, or for one near that of the plan.
func order(p *plant.Plant, v *plant.Visit, l *solver.OfferList, dice *rand.Rand) api.BookingOrder {
	o := api.BookingOrder{State: plant.Confirmed, Day: p.AsOf.Date().AddDays(30), HoldUntil: calendar.None}
	if v.Booking.State != plant.Tentative && dice.IntN(2) == 0 {
		o.State = plant.Tentative
	}
	switch at := planDay(p, v.ID); {
	case l != nil && l.Visit == v.ID && len(l.Offers) > 0 && dice.IntN(3) > 0:
		o.Day = l.Offers[dice.IntN(len(l.Offers))].Day
	case at != calendar.None:
		o.Day = at.AddDays(dice.IntN(15) - 3)
	}
	return o
}

// planDay is the day that the plan in force has for a visit.
func planDay(p *plant.Plant, visit string) calendar.Date {
	if p.Plan == nil {
		return calendar.None
	}
	return p.Plan.Day(visit)
}

// disturb changes something, and says what it tried.
func disturb(t *testing.T, a *api.App, p *plant.Plant, revision int64, dice *rand.Rand) (what string, err error) {
	ctx := context.Background()
	truck := p.Trucks[dice.IntN(len(p.Trucks))]
	v := toCome(p, dice)
	day := p.AsOf.Date().AddDays(5 + dice.IntN(40))
	switch dice.IntN(9) {
	case 0:
		_, err = a.Book(ctx, coordinator, api.Intent{}, v.ID, order(p, v, offers(t, a, v.Truck), dice))
		return "move", err
	case 1:
		o := order(p, v, nil, dice)
		o.Day = planDay(p, v.ID)
		_, err = a.Book(ctx, coordinator, api.Intent{}, v.ID, o)
		return "book", err
	case 2:
		slip := plant.Slip{Kind: plant.BayDown, Bay: p.Bays[dice.IntN(len(p.Bays))].ID, Over: plant.Range{From: day, Through: day.AddDays(1)}}
		_, _, err = a.ReportSlip(ctx, manager, api.Intent{}, slip)
		return "report", err
	case 3:
		if len(p.Slips) == 0 {
			return "withdraw", nil
		}
		_, err = a.WithdrawSlip(ctx, manager, api.Intent{}, p.Slips[0].ID)
		return "withdraw", err
	case 4:
		_, err = a.Undo(ctx, manager, api.Intent{}, max(2, revision-int64(dice.IntN(2))))
		return "undo", err
	case 5:
		j, err := a.AskProposal(ctx, manager, api.ProposeQuestion{})
		if err == nil {
			_, err = a.Accept(ctx, manager, api.Intent{}, j.ID)
		}
		return "accept", err
	case 6:
		_, err = a.ReportLineOff(ctx, manager, api.Intent{}, api.LineOff{Truck: truck.ID, Day: day})
		return "line-off", err
	case 7:
		key, text := "buffer", fmt.Sprintf(`{"notice_days": %d}`, dice.IntN(4))
		if dice.IntN(2) == 0 {
			kind := p.Bays[dice.IntN(len(p.Bays))].Kinds[0]
			key, text = fmt.Sprintf("bays/more-%d", revision), fmt.Sprintf(`{"id": "more-%d", "kinds": [%q]}`, revision, kind)
		}
		_, err = a.Put(ctx, who(api.RoleAdministrator), api.Intent{}, key, []byte(text))
		return "set-up", err
	}
	_, err = a.Book(ctx, coordinator, api.Intent{}, v.ID, api.BookingOrder{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None})
	return "give back", err
}

// offers are the days on offer for the visit of a truck; nil when there is nothing to
// offer.
func offers(t *testing.T, a *api.App, truck string) *solver.OfferList {
	t.Helper()
	ctx := context.Background()
	j, err := a.AskOffers(ctx, coordinator, api.OffersQuestion{Truck: truck})
	if err != nil {
		t.Fatal(err)
	}
	if j, err = a.Job(ctx, coordinator, j.ID); err != nil {
		t.Fatal(err)
	}
	if j.State == api.JobFailed && j.Problem.Kind == api.Conflict {
		return nil
	}
	var l solver.OfferList
	if err := json.Unmarshal(j.Answer, &l); err != nil {
		t.Fatalf("%s %v: %v", j.State, j.Problem, err)
	}
	return &l
}

// decided writes what is decided of each day.
func decided(l *solver.OfferList) string {
	if l == nil {
		return "nothing"
	}
	var days []string
	for _, o := range l.Offers {
		days = append(days, fmt.Sprint(o.Day, " yes ", o.Kept))
	}
	for _, r := range l.Refused {
		days = append(days, fmt.Sprint(r.Day, " no ", r.Decided))
	}
	slices.Sort(days)
	return fmt.Sprintln(l.Visit, l.Status) + strings.Join(days, "\n")
}
