package solver

import (
	"context"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// Exactly the days on offer can be taken, and nobody else is the worse for it.
func TestDesk_Take(t *testing.T) {
	ctx := context.Background()
	taken, refused := 0, 0
	for seed := range uint64(4) {
		p := generate.Generate(generate.Options{Trucks: 5, Seed: seed + 1, Load: 1})
		desk, err := Open(ctx, p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.Trucks {
			truck := p.Trucks[i].ID
			list, err := desk.Offers(ctx, truck)
			if err != nil {
				continue // it has no visit to come
			}
			now, _ := desk.Plant()
			was := now.FindVisit(list.Visit).Booking
			if was.State == plant.Confirmed && now.Frozen(now.FindVisit(list.Visit)) {
				continue
			}
			for _, o := range list.Offers {
				b := plant.Booking{State: plant.Tentative, Day: o.Day, HoldUntil: calendar.None}
				no, err := desk.Take(ctx, list.Visit, b)
				if err != nil || no != nil {
					t.Errorf("seed %d: %s is on offer for %s and cannot be taken: %v %v", seed, o.Day, list.Visit, no, err)
					continue
				}
				after, _ := desk.Plant()
				left(t, now, after, list.Visit, o.Day)
				taken++
				if _, err := desk.Undo(); err != nil {
					t.Fatal(err)
				}
			}
			for _, r := range list.Refused {
				no, err := desk.Take(ctx, list.Visit, plant.Booking{State: plant.Tentative, Day: r.Day, HoldUntil: calendar.None})
				if after, _ := desk.Plant(); err == nil && (no == nil || no.Reason == "") || after != now {
					t.Errorf("seed %d: %s is not on offer for %s and was taken: %v %v", seed, r.Day, list.Visit, no, err)
				}
				refused++
			}
		}
		if err := desk.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if taken < 20 || refused < 20 {
		t.Errorf("%d days were taken and %d refused: too few to learn from", taken, refused)
	}
}

// left looks whether everybody but one visit was left in peace.
func left(t *testing.T, before, after *plant.Plant, visit string, day calendar.Date) {
	t.Helper()
	if v := check.Plan(after, after.Plan); !v.Right() {
		t.Error(v.Broken[0].Sentence)
	}
	if d := after.Plan.Day(visit); d != day {
		t.Errorf("%s is on %s, not on %s", visit, d, day)
	}
	for i := range before.Visits {
		v := &before.Visits[i]
		if v.ID == visit || !v.Planned() {
			continue
		}
		was, is := before.Plan.Day(v.ID), after.Plan.Day(v.ID)
		if v.Booking.State == plant.Confirmed && was != is || was != calendar.None && is == calendar.None {
			t.Errorf("%s (%s) moved from %s to %s for %s", v.ID, v.Booking.State, was, is, visit)
		}
	}
	b, a := check.Score(before, before.Plan), check.Score(after, after.Plan)
	for i := range b {
		if n := b[i].Name; (n == plant.TierDamages || n == plant.TierDeadlines) && a[i].Value > b[i].Value {
			t.Errorf("%s: %s grew from %d to %d", visit, n, b[i].Value, a[i].Value)
		}
	}
}
