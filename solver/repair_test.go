package solver

import (
	"cmp"
	"context"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// shortList is a price list of a few measures, with a few places and days each and
// random prices: small enough to try every set.
func shortList(r *rand.Rand) []plant.Measure {
	price := func() int { return 100 * (1 + r.IntN(30)) }
	all := []plant.Measure{
		{ID: "graphics", Kind: plant.SaturdayShift, Department: "graphics", Weeks: 2, Dollars: price()},
		{ID: "quality", Kind: plant.SaturdayShift, Department: "quality", LeadDays: 7 * r.IntN(3), Weeks: 3, Dollars: price()},
		{ID: "driver", Kind: plant.ExtraHeads, Heads: 1, Days: 3, LeadDays: 12 + r.IntN(4), Weeks: 2, PerDay: price() / 4},
		{ID: "bay", Kind: plant.HiredBay, BayKind: "graphics", Days: 7, LeadDays: r.IntN(4), Weeks: 1, PerDay: price() / 4},
		{ID: "ask", Kind: plant.AskCustomer, Dollars: price(), PerHead: 50},
		{ID: "buffer", Kind: plant.ShorterBuffer, Approver: "Head of quality", WorkDays: 0, Dollars: price()},
		{ID: "fly", Kind: plant.FlyLater, Days: 1 + r.IntN(2), PerHead: price() / 3},
		{ID: "damages", Kind: plant.PayDamages, Days: 1 + r.IntN(3)},
	}
	r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for i := range all {
		m := &all[i]
		m.Heads, m.Days, m.Weeks = max(1, m.Heads), max(1, m.Days), max(1, m.Weeks)
	}
	return all[:4+r.IntN(3)]
}

// mending is a small plant with a slip, and its answer.
type mending struct {
	before, after *plant.Plant
	nothing       *plant.Plan
}

// three is a plant of three trucks, of which everything is drawn that makes it tight.
func three(t *testing.T, r *rand.Rand) *plant.Plant {
	t.Helper()
	data, err := os.ReadFile("testdata/three.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, faults := plant.Read("three.yaml", data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	p.Measures = shortList(r)
	for i := range p.Trucks {
		c := &p.Trucks[i].Contract
		c.Due += calendar.Date(r.IntN(12) - 8)
		c.DamagesPerDay = 100 * r.IntN(5)
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		if r.IntN(3) == 0 {
			v.Booking.TravelBought = v.Booking.State == plant.Confirmed && !v.Booking.TravelBought
		}
	}
	p.Buffer.ReadyWorkDays += r.IntN(3)
	p.Buffer.NoticeDays = []int{3, 7, 14}[r.IntN(3)]
	if r.IntN(3) == 0 { // graphics that keep only so long
		g := p.FindStage("final_inspection")
		g.After[0].MaxElapsedMinutes = 1440 * (6 + r.IntN(10))
	}
	p.Plan = optimal(t, p).Plan
	return p
}

func trouble(t *testing.T, seed uint64) *mending {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 99))
	p := three(t, r)
	slip := plant.Slip{ID: "S", Kind: plant.StageOverran, Truck: []string{"T-501", "T-502", "T-503"}[r.IntN(3)],
		Stage: []string{"graphics", "graphics", "corrections"}[r.IntN(3)], Minutes: 240 * (1 + r.IntN(12)), Known: calendar.None}
	after, err := p.Apply([]plant.Slip{slip})
	if err != nil {
		t.Fatal(err)
	}
	n, err := Replan(context.Background(), after, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &mending{p, after, n.Plan}
}

// TestMend_BruteForce compares the cheapest repair with the cheapest set that works
// among all sets, each asked about by a planning of its own.
func TestMend_BruteForce(t *testing.T) {
	plants, repaired, pairs, hopeless := 0, 0, 0, 0
	for seed := range uint64(70) {
		m := trouble(t, seed)
		goal := Goal{Day: calendar.None}
		r := rand.New(rand.NewPCG(seed, 5))
		switch seed % 4 {
		case 1: // a day that may be refused
			v := &m.before.Visits[r.IntN(len(m.before.Visits))]
			goal = Goal{Truck: v.Truck, Day: v.Windows[0].From.AddDays(r.IntN(5))}
			m.after, m.nothing = m.before, m.before.Plan
		case 2: // a truck that may be late
			goal.Truck = m.before.Trucks[r.IntN(len(m.before.Trucks))].ID
		}
		if m.nothing == nil {
			continue
		}
		got, err := Mend(context.Background(), m.before, m.after, m.nothing, goal, Options{})
		if err != nil {
			t.Fatal(seed, err)
		}
		if got.Promises == 0 {
			continue
		}
		if !got.Whole {
			t.Errorf("seed %d: the search did not end: %s", seed, got.Word)
		}
		s := &search{ctx: context.Background(), p: m.after, before: m.before, nothing: m.nothing, vows: vows(m.before, m.after),
			known: map[string]verdict{}, plans: map[string]*plant.Plan{}, shown: map[string]map[string]bool{}, asks: map[string]verdict{}}
		if err := s.aim(goal); err != nil {
			t.Fatal(err)
		}
		if err := s.universe(check.Conditions(m.after, m.nothing, under(m.after, s.vows, nil)), goal); err != nil {
			t.Fatal(err)
		}
		if len(s.actions) > 11 {
			continue
		}
		plants++
		if len(got.Lost) > 0 || got.Word != "" && len(got.List) == 0 { // what was given up truly cannot be saved
			hopeless++
			if set, _ := bruteForce(t, s); set != nil {
				t.Errorf("seed %d: %v saves everything, and it is said that nothing does: %v %s", seed, s.taken(set), got.Lost, got.Word)
			}
			if err := s.hopeless(&Repairs{}, goal); err != nil {
				t.Fatal(err)
			}
		}
		set, cost := bruteForce(t, s)
		if len(got.List) == 0 {
			if set != nil && len(got.Lost) == 0 {
				t.Errorf("seed %d: brute force finds %v at %d, the search nothing", seed, s.taken(set), cost)
			}
			continue
		}
		for i := range got.List {
			truly(t, m, s, &got.List[i])
		}
		repaired++
		if len(set) > 1 {
			pairs++
		}
		least := slices.MinFunc(got.List, func(a, b Repair) int { return cmp.Compare(s.costOf(a.Actions), s.costOf(b.Actions)) })
		if c := s.costOf(least.Actions); set == nil || c != cost {
			t.Errorf("seed %d: brute force finds %v at %d, the search %v at %d", seed, s.taken(set), cost, least.Actions, c)
		}
	}
	t.Logf("%d plants, %d repaired, %d by two measures or more, %d with something beyond saving", plants, repaired, pairs, hopeless)
	if plants < 20 || repaired < 10 || pairs < 2 || hopeless < 3 {
		t.Errorf("%d plants, %d repaired, %d by two measures or more, %d with something beyond saving: too few to mean much", plants, repaired, pairs, hopeless)
	}
}

func (s *search) costOf(actions []plant.Action) (cost int64) {
	for _, a := range actions {
		for i := range s.actions {
			if b := s.actions[i]; matter(&a) == matter(&b) && a.Measure == b.Measure && a.From == b.From && a.Days == b.Days {
				cost += s.costs[i]
			}
		}
	}
	return cost
}

// bruteForce tries every set in the order of its price.
func bruteForce(t *testing.T, s *search) ([]int, int64) {
	t.Helper()
	type try struct {
		set  []int
		cost int64
	}
	var all []try
	for bits := range 1 << len(s.actions) {
		x := try{set: []int{}}
		for a := range s.actions {
			if bits>>a&1 == 1 {
				x.set = append(x.set, a)
				x.cost += s.costs[a]
			}
		}
		all = append(all, x)
	}
	slices.SortStableFunc(all, func(x, y try) int { return cmp.Compare(x.cost, y.cost) })
	for _, x := range all {
		actions := s.taken(x.set)
		p := s.p.With(actions)
		q, lost, err := pose(p, nil, nil, demands(p, under(s.p, s.vows, actions))...)
		if err != nil {
			t.Fatal(err)
		}
		if len(lost) > 0 {
			continue
		}
		q.problem.Tiers = q.problem.Tiers[:1]
		if r, err := schedule.Solve(context.Background(), &q.problem, schedule.Options{}); err == nil && r.Status == schedule.Optimal {
			return x.set, x.cost
		}
	}
	return nil, 0
}

// truly fails the test unless the judge passes the plan of the repair, for the plant
// with the measures taken, and every vow is kept in it.
func truly(t *testing.T, m *mending, s *search, r *Repair) {
	t.Helper()
	p := m.after.With(r.Actions)
	if v := check.Plan(p, r.Plan); !v.Right() {
		t.Errorf("the judge refuses the plan of %v: %v", r.Actions, v.Broken)
	}
	if list := check.Conditions(p, r.Plan, under(m.after, s.vows, r.Actions)); len(list) > 0 {
		t.Errorf("%v does not keep what it promises: %s", r.Actions, list[0].Sentence)
	}
}
