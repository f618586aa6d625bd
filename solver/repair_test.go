package solver

import (
	"cmp"
	"context"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
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
	if seed >= 70 { // the drivers were to be away for long, and are not: the plan in force pays more than it must
		for i := range p.Trucks {
			p.Trucks[i].Contract.DamagesPerDay = 100 * (1 + r.IntN(2))
		}
		away, err := p.Apply([]plant.Slip{{ID: "A", Kind: plant.CrewAway, Crew: "drivers", Heads: 1,
			Over: plant.Range{From: p.AsOf.Date() + 7, Through: p.AsOf.Date() + 20 + calendar.Date(r.IntN(10))}, Known: calendar.None}})
		if err != nil {
			t.Fatal(err)
		}
		away.Plan = nil
		if n := optimal(t, away); n.Plan != nil {
			p.Plan = n.Plan
		}
	}
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
	var met tally
	for seed := range uint64(110) {
		m := trouble(t, seed)
		goal := Goal{Day: calendar.None}
		r := rand.New(rand.NewPCG(seed, 5))
		switch way := seed % 4; {
		case way == 1 || seed >= 70 && way != 0: // a day that may be refused
			v := &m.before.Visits[r.IntN(len(m.before.Visits))]
			goal = Goal{Truck: v.Truck, Day: v.Windows[0].From.AddDays(r.IntN(5))}
			if seed >= 70 { // late, so that its truck pays more
				goal.Day = v.Windows[0].Through.AddDays(-r.IntN(5))
			}
			m.after, m.nothing = m.before, m.before.Plan
		case way == 2: // a truck that may be late
			goal.Truck = m.before.Trucks[r.IntN(len(m.before.Trucks))].ID
		}
		if m.nothing != nil {
			m.everySet(t, goal, &met)
		}
	}
	met.met(t, 20, "plants")
	met.met(t, 10, "repaired")
	met.met(t, 3, "something beyond saving")
	met.met(t, 2, "by two measures or more")
	met.met(t, 1, "cheaper by the sum of damages")
}

// everySet has the repairs of a mending compared with every set of measures there is, if there are
// not too many.
func (m *mending) everySet(t *testing.T, goal Goal, met *tally) {
	t.Helper()
	got, err := Mend(context.Background(), m.before, m.after, m.nothing, goal, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Promises == 0 {
		return
	}
	if !got.Whole {
		t.Errorf("the search did not end: %s", got.Word)
	}
	s := &search{ctx: context.Background(), p: m.after, before: m.before, nothing: m.nothing, vows: vows(m.before, m.after),
		known: map[string]verdict{}, plans: map[string]*plant.Plan{}, shown: map[string]map[string]bool{}, asks: map[string]verdict{}}
	if err := s.aim(goal); err != nil {
		t.Fatal(err)
	}
	if err := s.universe(s.broken(m.nothing), goal); err != nil {
		t.Fatal(err)
	}
	if len(s.actions) > 11 {
		met.add("too many measures")
		return
	}
	met.add("plants")
	if len(got.Lost) > 0 || got.Word != "" && len(got.List) == 0 { // what was given up truly cannot be saved
		met.add("something beyond saving")
		if set, _ := bruteForce(t, s); set != nil {
			t.Errorf("%v saves everything, and it is said that nothing does: %v %s", s.taken(set), got.Lost, got.Word)
		}
		if err := s.hopeless(&Repairs{}, goal); err != nil {
			t.Fatal(err)
		}
	}
	set, cost := bruteForce(t, s)
	if each, c := bruteForceBy(t, s, false); set != nil && (each == nil || c > cost) {
		met.add("cheaper by the sum of damages")
	}
	if len(got.List) == 0 {
		if set != nil && len(got.Lost) == 0 {
			t.Errorf("brute force finds %v at %d, the search nothing", s.taken(set), cost)
		}
		return
	}
	for i := range got.List {
		truly(t, m, s, &got.List[i])
	}
	met.add("repaired")
	if len(set) > 1 {
		met.add("by two measures or more")
	}
	least := slices.MinFunc(got.List, func(a, b Repair) int { return cmp.Compare(s.costOf(a.Actions), s.costOf(b.Actions)) })
	if c := s.costOf(least.Actions); set == nil || c != cost {
		t.Errorf("brute force finds %v at %d, the search %v at %d", s.taken(set), cost, least.Actions, c)
	}
}

// TestForeign_Mend has the best plan of odd plants in force, lets things happen, and compares the
// ways out with every set of measures there is.
func TestForeign_Mend(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 300**foreign, func(t *testing.T, seed uint64) {
		if m := oddTrouble(t, seed); m != nil {
			m.everySet(t, Goal{Day: calendar.None}, &met)
		}
	})
	met.met(t, 10, "plants", "repaired", "something beyond saving")
}

// oddTrouble is an odd plant with a few measures, whose promises have no days to spare, and up to
// four slips; nil where there is no plan before or after them.
func oddTrouble(t *testing.T, seed uint64) *mending {
	t.Helper()
	s := anyOf(t, seed)
	if len(s.p.Trucks) == 0 {
		return nil
	}
	best := func(p *plant.Plant) *plant.Plan {
		res, err := Replan(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return res.Plan
	}
	p, r := deep(s.p), rand.New(rand.NewPCG(seed, 38))
	p.Slips, p.Measures = nil, measuresOf(p)
	r.Shuffle(len(p.Measures), reflect.Swapper(p.Measures))
	p.Measures = p.Measures[:3+r.IntN(2)]
	for i := range p.Measures {
		if m := &p.Measures[i]; slices.Contains([]string{plant.SaturdayShift, plant.ExtraHeads, plant.HiredBay}, m.Kind) {
			m.LeadDays = 0
		}
	}
	if p.Plan = best(p); p.Plan == nil {
		return nil
	}
	for _, row := range p.Plan.Visits { // who only asked has got an answer
		if v := p.FindVisit(row.Visit); row.Day != calendar.None && v.Booking.State == plant.Requested {
			v.Booking.State, v.Booking.Day = plant.Confirmed, row.Day
		}
	}
	for _, d := range Deliveries(p, p.Plan) {
		if c := &p.FindTruck(d.Truck).Contract; oneIn(r, 2) {
			c.Due, c.Deadline, c.DamagesPerDay = d.Day, calendar.None, 100*(1+r.IntN(4))
		}
	}
	if p.Plan = best(p); p.Plan == nil || len(plant.Validate(p)) > 0 {
		return nil
	}
	after := p
	for range 4 {
		with := told(r, after)
		var err error
		if after, err = with.Apply(with.Slips); err != nil {
			t.Fatal(err)
		}
		after.Slips = nil
	}
	m := &mending{p, after, best(after)}
	if m.nothing == nil {
		return nil
	}
	return m
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

// bruteForce tries every set in the order of its price, damages judged by their sum.
func bruteForce(t *testing.T, s *search) ([]int, int64) {
	t.Helper()
	return bruteForceBy(t, s, true)
}

// leastCharge is the least of what has to be made up for in damages, and the most that
// may be: of each truck, what it pays without that part of what it pays more than it did
// that the actions pay for.
func leastCharge(t *testing.T, s *search, q *question, actions []plant.Action) (least, most int64) {
	t.Helper()
	tier := schedule.Tier{Name: "charges"}
	for _, w := range s.vows {
		if w.visit != "" || w.due == calendar.None {
			continue
		}
		c := s.p.FindTruck(w.truck).Contract
		damages := func(day calendar.Date) int64 {
			n := int64(max(0, day-c.Due)) * int64(c.DamagesPerDay)
			if c.DamagesCap > 0 {
				n = min(n, int64(c.DamagesCap))
			}
			return n
		}
		was := int64(c.DamagesCap)
		if w.by != calendar.None {
			was = damages(w.by)
		}
		most += was
		paid := int64(0)
		for _, a := range actions {
			if a.Kind == plant.PayDamages && a.Truck == w.truck {
				paid = max(paid, damages(a.From)-was)
			}
		}
		for i := range q.work {
			if q.work[i].truck.ID != w.truck || !q.work[i].stage.Delivers || q.work[i].wish != nil {
				continue
			}
			cost := schedule.Cost{Task: i}
			for _, m := range q.work[i].moves {
				d := damages(m.last())
				cost.At = append(cost.At, d-min(paid, max(0, d-was)))
			}
			tier.Costs = append(tier.Costs, cost)
		}
	}
	q.problem.Tiers = []schedule.Tier{tier}
	r, err := schedule.Solve(context.Background(), &q.problem, schedule.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != schedule.Optimal {
		return most + 1, most
	}
	return r.Values[0], most
}

// bruteForceBy is bruteForce with damages judged by their sum or truck by truck.
func bruteForceBy(t *testing.T, s *search, sum bool) ([]int, int64) {
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
		vows := s.vows
		if sum {
			vows = summed(s.p, vows)
		}
		q, lost, err := pose(p, nil, nil, demands(p, under(s.p, vows, actions))...)
		if err != nil {
			t.Fatal(err)
		}
		if len(lost) > 0 {
			continue
		}
		if sum {
			if least, most := leastCharge(t, s, q, actions); least <= most {
				return x.set, x.cost
			}
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
	if list := check.Conditions(p, r.Plan, under(m.after, summed(m.after, s.vows), r.Actions)); len(list) > 0 {
		t.Errorf("%v does not keep what it promises: %s", r.Actions, list[0].Sentence)
	}
	most, pays := int64(0), int64(0)
	for _, d := range Deliveries(m.before, m.before.Plan) {
		most += d.Damages
	}
	for _, a := range r.Actions {
		if a.Kind == plant.PayDamages {
			pays += s.costOf([]plant.Action{a})
		}
	}
	lessened := slices.ContainsFunc(s.vows, func(w vow) bool { // beyond saving, or beyond what the goal asks for
		return w.pays() && !slices.ContainsFunc(vows(m.before, m.after), func(v vow) bool { return v == w })
	}) || len(s.vows) < len(vows(m.before, m.after))
	if r.Damages > most+pays && !lessened {
		t.Errorf("%v costs %d in damages, and %d were paid before, %d by measures", r.Actions, r.Damages, most, pays)
	}
	if len(r.Trades) > 0 && !strings.Contains(r.Sentence(p), " less") {
		t.Errorf("%v has some pay more and some less, and does not say so: %s", r.Actions, r.Sentence(p))
	}
}

// TestMend_Ended ends searches after every number of questions. What is listed without a
// proof works all the same, and no proven least price is more than the cheapest way costs.
func TestMend_Ended(t *testing.T) {
	least, listed, shown := 0, 0, 0
	for seed := range uint64(12) {
		m := trouble(t, seed)
		if m.nothing == nil {
			continue
		}
		goal := Goal{Day: calendar.None}
		s := &search{ctx: context.Background(), p: m.after, before: m.before, nothing: m.nothing, vows: vows(m.before, m.after),
			known: map[string]verdict{}, plans: map[string]*plant.Plan{}, shown: map[string]map[string]bool{}, asks: map[string]verdict{}}
		if err := s.universe(s.broken(m.nothing), goal); err != nil {
			t.Fatal(err)
		}
		whole, err := Mend(context.Background(), m.before, m.after, m.nothing, goal, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(whole.Lost) > 0 || whole.Promises == 0 {
			continue
		}
		for n := 1; n < whole.Asked; n += 1 + n/8 {
			ctx, cancel := context.WithCancel(context.Background())
			got, err := Mend(ctx, m.before, m.after, m.nothing, goal, Options{Seek: func(k Seeking) {
				if k.Asked >= n {
					cancel()
				}
				if k.Way != nil {
					shown++
					truly(t, m, s, k.Way)
				}
			}})
			cancel()
			if err != nil {
				t.Fatal(seed, n, err)
			}
			for i := range got.List {
				r := &got.List[i]
				truly(t, m, s, r)
				if !r.Cheapest {
					listed++
				}
			}
			if got.AtLeast == 0 {
				continue
			}
			least++
			if got.Whole {
				t.Errorf("seed %d, %d questions: the search came to its end, and only a bound is said", seed, n)
			}
			for i := range whole.List {
				if c := s.costOf(whole.List[i].Actions); c < got.AtLeast {
					t.Errorf("seed %d, %d questions: %v costs %d, and it is said that nothing costs less than %d", seed, n, whole.List[i].Actions, c, got.AtLeast)
				}
			}
		}
	}
	t.Logf("%d bounds, %d ways without a proof, %d shown", least, listed, shown)
	if least < 3 || listed < 3 || shown < 3 {
		t.Errorf("%d bounds, %d ways without a proof, %d shown: too few to mean much", least, listed, shown)
	}
}
