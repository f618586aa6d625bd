package solver

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// small are generated plants that are planned in well under a second each.
var small = []generate.Options{
	{Trucks: 3, Seed: 11, Load: 0.8},
	{Trucks: 4, Seed: 12, Load: 1},
	{Trucks: 5, Seed: 13, Load: 0.9},
	{Trucks: 6, Seed: 6, Load: 0.9},
	{Trucks: 6, Seed: 14, Load: 1},
	{Trucks: 7, Seed: 15, Load: 0.8},
	{Trucks: 8, Seed: 16, Load: 0.95},
	{Trucks: 9, Seed: 17, Load: 1},
	{Trucks: 10, Seed: 18, Load: 0.9},
	{Trucks: 11, Seed: 19, Load: 1},
	{Trucks: 12, Seed: 12, Load: 0.8},
	{Trucks: 12, Seed: 12, Load: 1},
	{Trucks: 9, Seed: 4, Load: 0.9, LinedUp: true},
	{Trucks: 10, Seed: 6, Load: 0.9, LinedUp: true},
}

// eachSmall runs a test on every small plant, with the best values it has.
func eachSmall(t *testing.T, test func(t *testing.T, p *plant.Plant, best []int64)) {
	for _, o := range small {
		t.Run(fmt.Sprintf("trucks=%d/seed=%d/load=%g", o.Trucks, o.Seed, o.Load), func(t *testing.T) {
			p := generate.Generate(o)
			test(t, p, vector(optimal(t, p)))
		})
	}
}

// optimal plans to proof, and has the judge look at the plan.
func optimal(t *testing.T, p *plant.Plant) *Result {
	t.Helper()
	r, err := Plan(context.Background(), p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	proven(t, p, r)
	return r
}

// proven fails the test unless the result is optimal, its bounds meet its values,
// the judge passes the plan and scores it the same, and no frozen visit has moved.
func proven(t *testing.T, p *plant.Plant, r *Result) {
	t.Helper()
	if r.Status != plant.Optimal || r.Plan == nil {
		t.Fatalf("the plan is %s, want it optimal: %v", r.Status, r.Reasons)
	}
	for _, v := range r.Tiers {
		if v.Value != v.Bound {
			t.Errorf("tier %s is %d with a bound of %d, and called optimal", v.Name, v.Value, v.Bound)
		}
	}
	judge(t, p, r.Plan, vector(r))
}

// judge fails the test unless the plan breaks no rule, costs the values, and moves
// no frozen visit.
func judge(t *testing.T, p *plant.Plant, plan *plant.Plan, values []int64) {
	t.Helper()
	verdict := check.Plan(p, plan)
	for _, b := range verdict.Broken {
		t.Errorf("%s: %s", b.Rule, b.Sentence)
	}
	if !verdict.Right() {
		t.Errorf("%d things were asked for, %d looked at", verdict.Asked, verdict.Looked)
	}
	for n, v := range verdict.Tiers {
		if v.Name != plant.TierNames[n] || v.Value != values[n] {
			t.Errorf("the judge has %d in tier %s, the planner %d in %s", v.Value, v.Name, values[n], plant.TierNames[n])
		}
	}
	for _, v := range plan.Visits {
		if x := p.FindVisit(v.Visit); p.Frozen(x) && !hasBegun(p, x) && v.Outcome != plant.Kept && v.Outcome != plant.Broken {
			t.Errorf("the frozen visit %s is %s", v.Visit, v.Outcome)
		}
	}
}

func vector(r *Result) (values []int64) {
	for _, v := range r.Tiers {
		values = append(values, v.Value)
	}
	return values
}

// copied is a plant of its own: what the file of p says.
func copied(t *testing.T, p *plant.Plant) *plant.Plant {
	t.Helper()
	return readPlant(t, string(plant.Write(p)))
}

// TestPlan_Optimal has every small plant planned to proof. Among them every kind of
// cost that ordinary weeks have must occur.
func TestPlan_Optimal(t *testing.T) {
	sum := make([]int64, len(plant.TierNames))
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		t.Log(best)
		for n, v := range best {
			sum[n] += v
		}
	})
	for _, name := range []string{plant.TierConfirmed, plant.TierDamages, plant.TierLateness, plant.TierWishes, plant.TierCalm} {
		if sum[slices.Index(plant.TierNames, name)] == 0 {
			t.Errorf("tier %s costs nothing in any plant: these plants test too little", name)
		}
	}
}

// TestPlan_SameBytes plans twice and compares the files.
func TestPlan_SameBytes(t *testing.T) {
	for _, o := range small {
		var files [2][]byte
		for n := range files {
			p := generate.Generate(o)
			p.Plan = optimal(t, p).Plan
			files[n] = plant.Write(p)
		}
		if !bytes.Equal(files[0], files[1]) {
			t.Errorf("%+v: the second plan differs from the first", o)
		}
	}
}

// TestPlan_OrderOfTheFile shuffles trucks, visits, bays, crews and customers.
func TestPlan_OrderOfTheFile(t *testing.T) {
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		q, r := copied(t, p), rand.New(rand.NewPCG(1, uint64(len(p.Trucks))))
		mix(r, q.Trucks)
		mix(r, q.Visits)
		mix(r, q.Bays)
		mix(r, q.Crews)
		mix(r, q.Customers)
		if got := vector(optimal(t, q)); !slices.Equal(got, best) {
			t.Errorf("values %v, want %v as before the shuffle", got, best)
		}
	})
}

func mix[T any](r *rand.Rand, list []T) {
	r.Shuffle(len(list), func(i, k int) { list[i], list[k] = list[k], list[i] })
}

// TestPlan_MoreHeads adds a head to one crew after the other, to every second one in
// each plant: no plan becomes worse by it.
func TestPlan_MoreHeads(t *testing.T) {
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		for i := range p.Crews {
			if (i+len(p.Trucks))%2 == 0 {
				continue // plants with another number of trucks ask about this one
			}
			q := copied(t, p)
			c := &q.Crews[i]
			c.Size++
			for k := range c.Days {
				c.Days[k].Size++
			}
			if got := vector(optimal(t, q)); slices.Compare(got, best) > 0 {
				t.Errorf("one more of %s: values %v, worse than %v", c.ID, got, best)
			}
		}
	})
}

// TestPlan_MoreBays adds a twin to the first bay of each kind in turn: no plan becomes
// worse by it.
func TestPlan_MoreBays(t *testing.T) {
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		for i := range p.Bays {
			if i > 0 && slices.Equal(p.Bays[i].Kinds, p.Bays[i-1].Kinds) {
				continue // as good as the one before, or nearly
			}
			q := copied(t, p)
			twin := q.Bays[i]
			twin.ID += "-twin"
			q.Bays = append(q.Bays, twin)
			if got := vector(optimal(t, q)); slices.Compare(got, best) > 0 {
				t.Errorf("%s: values %v, worse than %v", twin.ID, got, best)
			}
		}
	})
}

// TestPlan_FewerTrucks takes each truck out in turn: no plan becomes worse by it.
// Trucks on the line stay, since others behind them would come off it on other
// days, and so do trucks with running work, since crews lend it heads they lack.
func TestPlan_FewerTrucks(t *testing.T) {
	taken := 0
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		for i := range p.Trucks {
			if len(p.Trucks[i].Running) > 0 || p.Trucks[i].Line.Off == calendar.None {
				continue
			}
			taken++
			q := copied(t, p)
			id := q.Trucks[i].ID
			q.Trucks = slices.Delete(q.Trucks, i, i+1)
			q.Visits = slices.DeleteFunc(q.Visits, func(v plant.Visit) bool { return v.Truck == id })
			if got := vector(optimal(t, q)); slices.Compare(got, best) > 0 {
				t.Errorf("without %s: values %v, worse than %v", id, got, best)
			}
		}
	})
	if taken < 10 {
		t.Errorf("%d trucks were taken out: these plants test too little", taken)
	}
}

// TestPlan_Names gives the trucks other numbers, in another order.
func TestPlan_Names(t *testing.T) {
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		q := copied(t, p)
		name := map[string]string{}
		for i := range q.Trucks {
			id := fmt.Sprintf("R%03d", len(q.Trucks)-i)
			name[q.Trucks[i].ID] = id
			q.Trucks[i].ID = id
		}
		for i := range q.Visits {
			q.Visits[i].Truck = name[q.Visits[i].Truck]
		}
		if got := vector(optimal(t, q)); !slices.Equal(got, best) {
			t.Errorf("values %v, want %v as before", got, best)
		}
	})
}

// TestReplan_NothingHappened plans again with the best plan in force. Its calm has
// only waiting in it and cannot be lower, so nothing near may be disturbed.
func TestReplan_NothingHappened(t *testing.T) {
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		p.Plan = optimal(t, p).Plan
		r, err := Replan(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		proven(t, p, r)
		if got := vector(r); !slices.Equal(got, best) {
			t.Errorf("values %v, want %v as in the plan in force", got, best)
		}
		for _, d := range near(p.Plan, p, r.Plan) {
			if d.Shifted() {
				t.Error(d.Sentence())
			}
		}
		if r.Plan.Revision != p.Plan.Revision+1 {
			t.Errorf("revision %d after %d", r.Plan.Revision, p.Plan.Revision)
		}
	})
}

// TestReplan_SameValues answers slips from the plan in force and from nothing.
func TestReplan_SameValues(t *testing.T) {
	changed := 0
	for _, o := range small {
		o.Slips = true
		p := generate.Generate(o)
		before := optimal(t, p)
		p.Plan = before.Plan
		q, err := p.Apply(p.Slips)
		if err != nil {
			t.Fatal(err)
		}
		want := optimal(t, q)
		got, err := Replan(context.Background(), q, Options{})
		if err != nil {
			t.Fatal(err)
		}
		proven(t, q, got)
		if !slices.Equal(vector(got), vector(want)) {
			t.Errorf("%+v: Replan has %v, Plan %v", o, vector(got), vector(want))
		}
		if !slices.Equal(vector(want), vector(before)) {
			changed++
		}
	}
	if changed < len(small)/2 {
		t.Errorf("slips cost something in %d plants only: these plants test too little", changed)
	}
}

// TestPlan_EndedEarly ends the planning at its n-th report: what is returned is
// judged, at best the best plan, and no worse than what an earlier end returned.
// A bound holds while every tier before it is at its own bound.
func TestPlan_EndedEarly(t *testing.T) {
	unfinished := 0
	eachSmall(t, func(t *testing.T, p *plant.Plant, best []int64) {
		var last []int64
		for n := 1; n <= 32; n *= 2 {
			ctx, cancel := context.WithCancel(context.Background())
			left := n
			r, err := Plan(ctx, p, Options{Report: func(pr Progress) {
				if left--; left == 0 {
					cancel()
				}
			}})
			cancel()
			if err != nil {
				t.Fatal(err)
			}
			if r.Status == plant.Optimal {
				proven(t, p, r)
				if !slices.Equal(vector(r), best) {
					t.Errorf("after %d reports: optimal with %v, want %v", n, vector(r), best)
				}
				break
			}
			unfinished++
			for i, v := range r.Tiers {
				if v.Bound > best[i] {
					t.Errorf("after %d reports: tier %s cannot be under %d, and is %d in the best plan", n, v.Name, v.Bound, best[i])
				}
				if v.Bound < best[i] {
					break
				}
			}
			if r.Status == plant.Unknown {
				if r.Plan != nil || last != nil {
					t.Errorf("after %d reports: nothing is known, and there was a plan", n)
				}
				continue
			}
			if r.Status != plant.Feasible || r.Plan.Status != plant.Feasible {
				t.Fatalf("after %d reports: %s, and the plan %s", n, r.Status, r.Plan.Status)
			}
			judge(t, p, r.Plan, vector(r))
			if slices.Compare(vector(r), best) < 0 {
				t.Errorf("after %d reports: values %v, better than the best %v", n, vector(r), best)
			}
			if last != nil && slices.Compare(vector(r), last) > 0 {
				t.Errorf("after %d reports: values %v, worse than %v earlier", n, vector(r), last)
			}
			last = vector(r)
		}
	})
	if unfinished < len(small) {
		t.Errorf("%d plannings ended early: this tests too little", unfinished)
	}
}

// outcome of a visit in a plan of the house of impact_test.go, changed by edit.
func outcomeOf(t *testing.T, visit string, edits ...string) (plant.PlannedVisit, *plant.Plant, *Result) {
	t.Helper()
	p := readPlant(t, strings.NewReplacer(edits...).Replace(impactPlant))
	r := optimal(t, p)
	i := slices.IndexFunc(r.Plan.Visits, func(v plant.PlannedVisit) bool { return v.Visit == visit })
	if i < 0 {
		t.Fatalf("visit %s has no row", visit)
	}
	return r.Plan.Visits[i], p, r
}

// TestPlan_Promises takes the floor away on the day of a visit of 3 heads. Costs
// are worked out by hand from the prices: travel bought, 3 x frozen per head;
// confirmed, moved by one day, 3 x (moved per head + 1 x moved per head and day),
// doubled since the booked day, 18 days away, is within the 21 days of short
// notice; with no other day left in its window, 3 x broken per head.
func TestPlan_Promises(t *testing.T) {
	const (
		open   = "{id: floor-1, kinds: [floor]}"
		closed = "{id: floor-1, kinds: [floor], closures: [{from: 2027-05-28, through: 2027-05-28, reason: lights}]}"
		booked = "booking: {state: confirmed, day: 2027-05-28}"
		bought = "booking: {state: confirmed, day: 2027-05-28, travel_bought: true}"
		wide   = "heads: 3, halves: 1, windows: [{from: 2027-05-10, through: 2027-07-30}]"
		narrow = "heads: 3, halves: 1, windows: [{from: 2027-05-28, through: 2027-05-28}]"
	)
	day := calendar.NewDate(2027, 5, 28)
	for _, c := range []struct {
		name    string
		edits   []string
		outcome string
		day     calendar.Date
		tier    string
		cost    func(plant.Prices) int
	}{
		{"confirmed", nil, plant.Kept, day, "", nil},
		{"frozen", []string{booked, bought}, plant.Kept, day, "", nil},
		{"frozen, no floor", []string{booked, bought, open, closed}, plant.Broken, calendar.None, plant.TierFrozen,
			func(p plant.Prices) int { return 3 * p.FrozenPerHead }},
		{"confirmed, no floor", []string{open, closed}, plant.Moved, day - 1, plant.TierConfirmed,
			func(p plant.Prices) int { return 3 * (p.MovedPerHead + p.MovedPerHeadDay) * p.ShortNoticeFactor }},
		{"confirmed, no floor, no other day", []string{open, closed, wide, narrow}, plant.Broken, calendar.None, plant.TierConfirmed,
			func(p plant.Prices) int { return 3 * p.BrokenPerHead }},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, p, r := outcomeOf(t, "V1", c.edits...)
			if got.Outcome != c.outcome || got.Day != c.day {
				t.Errorf("the visit is %s on %s, want %s on %s", got.Outcome, got.Day, c.outcome, c.day)
			}
			for _, name := range []string{plant.TierFrozen, plant.TierConfirmed} {
				want := int64(0)
				if name == c.tier {
					want = int64(c.cost(p.Prices))
				}
				if v := vector(r)[slices.Index(plant.TierNames, name)]; v != want {
					t.Errorf("tier %s is %d, want %d", name, v, want)
				}
			}
		})
	}
}

// TestReplan_AnySlips lets all kinds of things happen to 30 plants. Every plant has
// a judged and proven plan, or says why it has none.
func TestReplan_AnySlips(t *testing.T) {
	applied, infeasible := map[string]int{}, 0
	for seed := uint64(1); seed <= 30; seed++ {
		r := rand.New(rand.NewPCG(seed, 2))
		p := generate.Generate(generate.Options{Trucks: 5 + r.IntN(4), Seed: seed, Load: 0.8 + 0.2*r.Float64()})
		p.Plan = optimal(t, p).Plan
		for range 6 {
			s := anySlip(r, p)
			q, err := p.Apply([]plant.Slip{s})
			if err != nil {
				continue // the plant is in no state for it
			}
			if faults := plant.Validate(q); len(faults) > 0 {
				t.Errorf("seed %d: %+v makes a plant with faults: %v", seed, s, faults[0])
				continue
			}
			p = q
			applied[s.Kind]++
		}
		res, err := Replan(context.Background(), p, Options{})
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if res.Status == plant.Infeasible {
			infeasible++
			if len(res.Reasons) == 0 {
				t.Errorf("seed %d: infeasible without a reason", seed)
			}
			continue
		}
		t.Run(fmt.Sprint("seed=", seed), func(t *testing.T) { proven(t, p, res) })
	}
	t.Log(applied, infeasible, "infeasible")
	for _, kind := range slipKinds {
		if applied[kind] < 5 {
			t.Errorf("%s happened %d times: this tests too little", kind, applied[kind])
		}
	}
	if infeasible > 10 {
		t.Errorf("%d of 30 plants have no plan: this tests too little", infeasible)
	}
}

var slipKinds = []string{plant.LineOffMoved, plant.StageOverran, plant.TestFailed, plant.BayDown, plant.CrewAway, plant.CustomerMoves}

// anySlip invents something that may have happened, sensible or not.
func anySlip(r *rand.Rand, p *plant.Plant) plant.Slip {
	s := plant.Slip{ID: "S", Kind: slipKinds[r.IntN(len(slipKinds))], Known: p.AsOf.Date(), Over: plant.Range{From: calendar.None, Through: calendar.None}}
	t := p.Trucks[r.IntN(len(p.Trucks))]
	from := p.AsOf.Date().AddDays(r.IntN(20))
	over := plant.Range{From: from, Through: from.AddDays(r.IntN(4))}
	switch s.Kind {
	case plant.LineOffMoved:
		s.Truck, s.Days = t.ID, r.IntN(9)-2
	case plant.StageOverran:
		s.Truck, s.Stage, s.Minutes = t.ID, p.Route[r.IntN(len(p.Route))].ID, 30*(1+r.IntN(20))
	case plant.TestFailed:
		s.Truck, s.Stage = t.ID, p.Route[r.IntN(len(p.Route))].ID
		if n := len(t.Done); n > 0 {
			s.Stage = t.Done[r.IntN(n)].Stage
		}
	case plant.BayDown:
		s.Bay, s.Over = p.Bays[r.IntN(len(p.Bays))].ID, over
	case plant.CrewAway:
		s.Crew, s.Heads, s.Over = p.Crews[r.IntN(len(p.Crews))].ID, 1+r.IntN(2), over
	case plant.CustomerMoves:
		v := p.Visits[r.IntN(len(p.Visits))]
		s.Visit, s.Over = v.ID, over
	}
	return s
}
