package solver

import (
	"slices"
	"testing"

	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// TestPlan_LinedUp plans for trucks that stand lined up. Compared with the same plant in
// which nobody says that one stands there: a plan that has its visit in that bay anyway is
// right in both, so the fact makes nothing worse; and a plan that takes the bay only from
// now on is right in both, so the fact made nothing better.
func TestPlan_LinedUp(t *testing.T) {
	stood, kept, needed := 0, 0, 0
	for seed := range uint64(24) {
		p := generate.Generate(generate.Options{Trucks: 6 + int(seed)%5, Seed: seed, Load: 0.9, LinedUp: true})
		for i := range p.Trucks {
			at := p.Trucks[i].Standing
			if at.Stage == "" {
				continue
			}
			stood++
			with := optimal(t, p)
			row := rowOf(with.Plan, p.Trucks[i].ID, at.Stage)
			q := copied(t, p)
			q.Trucks[i].Standing = plant.Standing{}
			without := optimal(t, q)
			other := rowOf(without.Plan, p.Trucks[i].ID, at.Stage)
			a, b := vector(with), vector(without)
			if (other == nil || other.Bay == at.Bay) && slices.Compare(a, b) > 0 {
				t.Errorf("seed %d, %s: %v is worse than %v, where nobody says that it stands in %s", seed, p.Trucks[i].ID, a, b, at.Bay)
			}
			if row == nil || row.Hold >= p.AsOf {
				if slices.Compare(a, b) < 0 {
					t.Errorf("seed %d, %s: %v is better than %v without the need to stand there", seed, p.Trucks[i].ID, a, b)
				}
				continue
			}
			kept++
			if slices.Compare(a, b) < 0 {
				needed++
			}
		}
	}
	t.Logf("%d trucks stand lined up, %d begin from there, %d plans are better for it", stood, kept, needed)
	if stood < 5 || kept == 0 || needed == 0 {
		t.Error("too few to say anything")
	}
}

// TestPlan_LinedUpBay closes the bay in which a truck stands lined up. From today on it
// cannot take place there; a closure that is over harms nobody.
func TestPlan_LinedUpBay(t *testing.T) {
	for seed := range uint64(24) {
		p := generate.Generate(generate.Options{Trucks: 8, Seed: seed, Load: 0.9, LinedUp: true})
		i := slices.IndexFunc(p.Trucks, func(t plant.Truck) bool { return t.Standing.Stage != "" })
		if i < 0 {
			continue
		}
		best := vector(optimal(t, p))
		at, today := p.Trucks[i].Standing, p.AsOf.Date()
		for _, c := range []struct {
			over plant.Range
			past bool
		}{
			{plant.Range{From: today - 3, Through: today - 1}, true},
			{plant.Range{From: today, Through: today}, false},
		} {
			q := copied(t, p)
			b := q.FindBay(at.Bay)
			b.Closures = append(b.Closures, c.over)
			r := optimal(t, q)
			for _, row := range r.Plan.Stages {
				if row.Bay == at.Bay && row.Hold.Date() <= today && (row.End-1).Date() >= today && !c.past {
					t.Errorf("seed %d: %s is in %s on %s, when it is closed", seed, row.Truck, at.Bay, today)
				}
			}
			if got := vector(r); c.past && !slices.Equal(got, best) {
				t.Errorf("seed %d: %v with a closure that is over, %v without", seed, got, best)
			}
		}
		return
	}
	t.Error("no truck stands lined up")
}
