package check_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// A mutant is a plan to be broken in one place.
type mutant struct {
	*plant.Plan
	o    *oracle
	jobs map[string]*job
	rng  *rand.Rand
}

// clone copies a plan.
func clone(plan *plant.Plan) *plant.Plan {
	c := *plan
	c.Stages = slices.Clone(plan.Stages)
	c.Visits = slices.Clone(plan.Visits)
	return &c
}

// row and visit pick a row at random.
func (m *mutant) row() *plant.Planned { return &m.Stages[m.rng.IntN(len(m.Stages))] }

func (m *mutant) visit() *plant.PlannedVisit { return &m.Visits[m.rng.IntN(len(m.Visits))] }

// bay picks a bay at random, sometimes none.
func (m *mutant) bay() string {
	if i := m.rng.IntN(len(m.o.p.Bays) + 1); i > 0 {
		return m.o.p.Bays[i-1].ID
	}
	return ""
}

// some picks a length of time, forward or back.
func (m *mutant) some() calendar.Moment {
	steps := []calendar.Moment{1, 30, 240, 24 * 60, 7 * 24 * 60}
	return steps[m.rng.IntN(len(steps))] * calendar.Moment(1-2*m.rng.IntN(2))
}

// put moves a row to the first working part at or after a part of the day, with
// the hold and end that belong there.
func (m *mutant) put(r *plant.Planned, at part) {
	j := m.jobs[r.Truck+" "+r.Stage]
	for m.o.first(j.cal, at) == calendar.NoMoment {
		if at = m.o.next(at); at.day.At(0) > m.o.ends() {
			return
		}
	}
	start := m.o.first(j.cal, at)
	end, hold := m.o.length(j, start), m.o.hold(j, start)
	if end != calendar.NoMoment && hold != calendar.NoMoment {
		r.Start, r.End, r.Hold = start, end, hold
	}
}

// shift moves a row by some parts of the day.
func (m *mutant) shift(r *plant.Planned, parts int) {
	at := m.o.part(r.Start)
	for ; parts > 0; parts-- {
		at = m.o.next(at)
	}
	for ; parts < 0; parts++ {
		at = m.o.prev(at)
	}
	m.put(r, at)
}

// declare makes the outcome of every visit what the stages say.
func (m *mutant) declare() {
	m.Visits = nil
	for _, v := range m.o.p.Visits {
		if !v.Planned() {
			continue
		}
		said := plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
		for _, r := range m.Stages {
			j := m.jobs[r.Truck+" "+r.Stage]
			if j == nil || j.v == nil || j.v.ID != v.ID || j.w != nil {
				continue
			}
			said.Day, said.Bay, said.Outcome = r.Start.Date(), r.Bay, plant.Moved
			if v.Booking.State == plant.Requested {
				said.Outcome = plant.Placed
			} else if said.Day == v.Booking.Day {
				said.Outcome = plant.Kept
			}
		}
		m.Visits = append(m.Visits, said)
	}
}

// mutations change one thing each. Those that move a row with care often leave a
// right plan.
var mutations = []struct {
	name string
	do   func(*mutant)
}{
	{"move a row", func(m *mutant) { m.shift(m.row(), m.rng.IntN(13)-6) }},
	{"move a row and declare", func(m *mutant) { m.shift(m.row(), m.rng.IntN(13)-6); m.declare() }},
	{"move a row a part", func(m *mutant) { m.shift(m.row(), 1-2*m.rng.IntN(2)); m.declare() }},
	{"move a visit and its wishes", func(m *mutant) {
		r, parts := *m.row(), 2*(m.rng.IntN(11)-5)
		for i := range m.Stages {
			s := &m.Stages[i]
			if j, k := m.jobs[s.Truck+" "+s.Stage], m.jobs[r.Truck+" "+r.Stage]; j.v != nil && j.v == k.v {
				m.shift(s, parts)
			}
		}
		m.declare()
	}},
	{"move the rest of a truck", func(m *mutant) {
		from, parts := *m.row(), 1+m.rng.IntN(6)
		for i := range m.Stages {
			if s := &m.Stages[i]; s.Truck == from.Truck && s.Start >= from.Start {
				m.shift(s, parts)
			}
		}
		m.declare()
	}},
	{"exchange the times of two rows", func(m *mutant) {
		a, b := m.row(), m.row()
		at := m.o.part(a.Start)
		m.put(a, m.o.part(b.Start))
		m.put(b, at)
	}},
	{"exchange the bays of two rows", func(m *mutant) {
		a, b := m.row(), m.row()
		a.Bay, b.Bay = b.Bay, a.Bay
	}},
	{"another bay", func(m *mutant) { m.row().Bay = m.bay() }},
	{"another bay of the kind", func(m *mutant) {
		r := m.row()
		var list []string
		for _, b := range m.o.p.Bays {
			if slices.Contains(b.Kinds, m.jobs[r.Truck+" "+r.Stage].bay) {
				list = append(list, b.ID)
			}
		}
		if len(list) > 0 {
			r.Bay = list[m.rng.IntN(len(list))]
		}
		m.declare()
	}},
	{"push a row by minutes", func(m *mutant) {
		r, by := m.row(), m.some()
		r.Hold, r.Start, r.End = r.Hold+by, r.Start+by, r.End+by
	}},
	{"another start", func(m *mutant) { m.row().Start += m.some() }},
	{"another end", func(m *mutant) { m.row().End += m.some() }},
	{"another hold", func(m *mutant) { m.row().Hold += m.some() }},
	{"drop a row", func(m *mutant) {
		i := m.rng.IntN(len(m.Stages))
		m.Stages = slices.Delete(m.Stages, i, i+1)
	}},
	{"drop a row and declare", func(m *mutant) {
		i := m.rng.IntN(len(m.Stages))
		m.Stages = slices.Delete(m.Stages, i, i+1)
		m.declare()
	}},
	{"break a visit", func(m *mutant) {
		v := m.o.p.FindVisit(m.visit().Visit)
		m.Stages = slices.DeleteFunc(m.Stages, func(r plant.Planned) bool { return m.jobs[r.Truck+" "+r.Stage].v == v })
		m.declare()
	}},
	{"a row twice", func(m *mutant) { m.Stages = append(m.Stages, *m.row()) }},
	{"another truck's row", func(m *mutant) { m.row().Truck = m.o.p.Trucks[m.rng.IntN(len(m.o.p.Trucks))].ID }},
	{"another outcome", func(m *mutant) {
		m.visit().Outcome = []string{plant.Kept, plant.Moved, plant.Placed, plant.Broken, ""}[m.rng.IntN(5)]
	}},
	{"another day of a visit", func(m *mutant) { m.visit().Day += calendar.Date(1 - 2*m.rng.IntN(2)) }},
	{"another bay of a visit", func(m *mutant) { m.visit().Bay = m.bay() }},
	{"drop a visit", func(m *mutant) {
		i := m.rng.IntN(len(m.Visits))
		m.Visits = slices.Delete(m.Visits, i, i+1)
	}},
	{"a visit twice", func(m *mutant) { m.Visits = append(m.Visits, *m.visit()) }},
	{"a visit that was cancelled", func(m *mutant) {
		m.Visits = append(m.Visits, plant.PlannedVisit{Visit: "V-207", Outcome: plant.Broken, Day: calendar.None})
	}},
}

// TestMutants walks from the right plan through right plans, changing one thing
// at a time. For every plan on the way the judge and the oracle must name the
// same rules; so a change that the judge does not mind is proven to leave a right
// plan.
func TestMutants(t *testing.T) {
	steps := 1200
	if testing.Short() {
		steps = 300
	}
	const seed = 20270303
	rng := rand.New(rand.NewPCG(seed, 0))
	p := right(t)
	p.FindTruck("W-203").Standing = plant.Standing{Stage: "final_inspection", Bay: "floor_2"}
	o := newOracle(t, p)
	start := p.Plan
	at := start
	stillRight, named := 0, map[string]int{}
	for step := range steps {
		if step%400 == 0 {
			at = start
		}
		m := &mutant{clone(at), o, o.jobs(), rng}
		change := mutations[rng.IntN(len(mutations))]
		change.do(m)
		got := map[string]bool{}
		v := check.Plan(p, m.Plan)
		for _, b := range v.Broken {
			got[b.Rule] = true
		}
		want, whole := o.judge(m.Plan)
		same := words(got) == words(want)
		if !whole {
			same = true // the oracle gave up after what it found
			for rule := range want {
				same = same && (got[rule] || got["started"])
			}
		}
		if !same || v.Right() != (len(got) == 0) {
			t.Fatalf("seed %d, step %d, %s: the judge says %s, right %v; the oracle says %s", seed, step, change.name, words(got), v.Right(), words(want))
		}
		for rule := range got {
			named[rule]++
		}
		if v.Right() && !slices.Equal(m.Stages, at.Stages) {
			stillRight++
			at = m.Plan
		}
	}
	t.Logf("%d of %d changes left another right plan; rules broken: %v", stillRight, steps, named)
	if stillRight < steps/50 {
		t.Errorf("only %d changes of %d left another right plan: the walk does not get anywhere", stillRight, steps)
	}
	for _, r := range check.Rules {
		rare := r.Name == "floor" || r.Name == "readiness" // see TestRefused and TestPlants
		if named[r.Name] == 0 && !rare && !testing.Short() {
			t.Errorf("no change broke the rule %s", r.Name)
		}
	}
}
