package maxsat

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/cdcl"
	"wetdown/solver/sat"
)

var background = context.Background()

// An instance is a random question small enough to enumerate: variable v is
// bit v-1 of a model.
type instance struct {
	vars    int
	clauses [][]sat.Lit
	sums    [][]Soft // minimised one after the other
}

// random makes an instance: clauses of three, sometimes a unit clause, and two
// sums in which literals come twice, together with their negations, and forced.
func random(seed uint64) instance {
	r := rand.New(rand.NewPCG(seed, 11))
	in := instance{vars: 3 + r.IntN(6)}
	lit := func() sat.Lit {
		l := sat.Lit(1 + r.IntN(in.vars))
		if r.IntN(2) == 0 {
			return -l
		}
		return l
	}
	for range r.IntN(4 * in.vars) {
		in.clauses = append(in.clauses, []sat.Lit{lit(), lit(), lit()})
	}
	forced := lit()
	if r.IntN(3) == 0 {
		in.clauses = append(in.clauses, []sat.Lit{forced})
	}
	heavy := int64(1 + r.IntN(60)) // some instances have weights far apart
	for range 2 {
		var sum []Soft
		for range 1 + r.IntN(2*in.vars) {
			f := Soft{Lit: lit(), Weight: 1 + r.Int64N(4)}
			if r.IntN(3) == 0 {
				f.Weight *= heavy
			}
			sum = append(sum, f)
			switch r.IntN(6) {
			case 0:
				sum = append(sum, f)
			case 1:
				sum = append(sum, Soft{Lit: -f.Lit, Weight: 1 + r.Int64N(4)})
			case 2:
				sum = append(sum, Soft{Lit: forced, Weight: 1 + r.Int64N(4)})
			}
		}
		in.sums = append(in.sums, sum)
	}
	return in
}

// session holds the clauses of the instance.
func (in *instance) session() *cdcl.Solver {
	s := cdcl.New()
	for range in.vars {
		s.Lit()
	}
	for _, c := range in.clauses {
		s.Add(c...)
	}
	return s
}

// divide divides the variables into parts, the last of them into none.
func (in *instance) divide(s *cdcl.Solver, parts int) int {
	for v := 1; v < in.vars && parts > 0; v++ {
		s.Part(1+v%parts, sat.Lit(v))
	}
	return parts
}

func holds(model int, l sat.Lit) bool { return (model>>(l.Var()-1)&1 == 1) == (l > 0) }

// models enumerates what obeys the clauses.
func (in *instance) models() (list []int) {
	for m := range 1 << in.vars {
		if !slices.ContainsFunc(in.clauses, func(c []sat.Lit) bool {
			return !slices.ContainsFunc(c, func(l sat.Lit) bool { return holds(m, l) })
		}) {
			list = append(list, m)
		}
	}
	return list
}

func cost(sum []Soft, model int) (c int64) {
	for _, f := range sum {
		if holds(model, f.Lit) {
			c += f.Weight
		}
	}
	return c
}

// cheapest keeps the models of least cost; there must be one.
func cheapest(sum []Soft, models []int) (best []int, least int64) {
	least = cost(sum, models[0])
	for _, m := range models {
		least = min(least, cost(sum, m))
	}
	for _, m := range models {
		if cost(sum, m) == least {
			best = append(best, m)
		}
	}
	return best, least
}

// read is the model that the session holds, over the variables of the instance.
func (in *instance) read(s *cdcl.Solver) (model int) {
	for v := range in.vars {
		if s.Value(sat.Lit(v + 1)) {
			model |= 1 << v
		}
	}
	return model
}

// block forbids a model.
func (in *instance) block(s *cdcl.Solver, model int) {
	var c []sat.Lit
	for v := range in.vars {
		l := sat.Lit(v + 1)
		if holds(model, l) {
			l = -l
		}
		c = append(c, l)
	}
	s.Add(c...)
}

// left empties the session of its models and lists them.
func (in *instance) left(s *cdcl.Solver) (list []int) {
	for s.Solve(background, nil) == sat.Sat {
		m := in.read(s)
		list = append(list, m)
		in.block(s, m)
	}
	slices.Sort(list)
	return list
}

func runs() uint64 {
	if testing.Short() {
		return 150
	}
	return 1500
}

// Two sums one after the other on one session are the best in the order of the
// sums; what is left in the session afterwards is every best model and no other.
// Bounds only grow, to the optimum at most, and what is called fixed is true in
// every best model. An upper cost known beforehand changes nothing.
func TestMinimize_Enumeration(t *testing.T) {
	solved, refused, paid := 0, 0, 0
	for seed := range runs() {
		in := random(seed)
		for _, known := range []bool{false, true} {
			s, models := in.session(), in.models()
			for n, sum := range in.sums {
				if len(models) == 0 {
					if _, status := Minimize(background, s, sum, &Hopes{}, -1, Watch{}); status != sat.Unsat {
						t.Fatalf("seed %d: status %v, want unsat", seed, status)
					}
					refused++
					break
				}
				best, least := cheapest(sum, models)
				upper := int64(-1)
				if known { // an answer anywhere from the best to the worst
					upper = cost(sum, models[int(seed)%len(models)])
				}
				var bounds []int64
				var fixed []sat.Lit
				got, status := Minimize(background, s, sum, &Hopes{}, upper, Watch{
					Parts: in.divide(s, int(seed%4)),
					Bound: func(lower int64) int64 { bounds = append(bounds, lower); return -1 },
					Fixed: func(l sat.Lit) { fixed = append(fixed, l) },
				})
				if status != sat.Sat || got != least {
					t.Fatalf("seed %d sum %d: %v %d, want sat %d", seed, n, status, got, least)
				}
				for i, b := range bounds {
					if b > least || i > 0 && b <= bounds[i-1] {
						t.Fatalf("seed %d sum %d: bounds %v do not grow, or pass %d", seed, n, bounds, least)
					}
				}
				if least > 0 && (len(bounds) == 0 || bounds[len(bounds)-1] != least) {
					t.Fatalf("seed %d sum %d: bounds %v do not end at %d", seed, n, bounds, least)
				}
				for _, l := range fixed {
					if l.Var() > in.vars {
						continue
					}
					for _, m := range best {
						if !holds(m, l) {
							t.Fatalf("seed %d sum %d: %d is called fixed, but model %b is best without it", seed, n, l, m)
						}
					}
				}
				if least > 0 {
					paid++
				}
				solved++
				models = best
			}
			if len(models) > 0 {
				if got := in.left(s); !slices.Equal(got, models) {
					t.Fatalf("seed %d: models left %b, want %b", seed, got, models)
				}
			}
		}
	}
	if solved < int(runs()) || paid < int(runs())/2 || refused == 0 {
		t.Errorf("%d solved, %d of them at a cost, %d without model: too one-sided to test anything", solved, paid, refused)
	}
}

// Hopes never change the value; all are kept where keeping them costs nothing
// whatever is minimised; what is kept at the end is possible at the least cost.
func TestMinimize_Hopes(t *testing.T) {
	free, lost := 0, 0
	for seed := range runs() {
		in := random(seed)
		models := in.models()
		if len(models) == 0 {
			continue
		}
		r := rand.New(rand.NewPCG(seed, 12))
		hopes := &Hopes{}
		for v := range in.vars {
			if l := sat.Lit(v + 1); r.IntN(2) == 0 {
				hopes.Lits = append(hopes.Lits, l)
			} else if r.IntN(2) == 0 {
				hopes.Lits = append(hopes.Lits, -l)
			}
		}
		all := slices.Clone(hopes.Lits)
		sum := in.sums[0]
		best, least := cheapest(sum, models)
		s := in.session()
		got, status := Minimize(background, s, sum, hopes, -1, Watch{})
		if status != sat.Sat || got != least {
			t.Fatalf("seed %d: %v %d, want sat %d", seed, status, got, least)
		}
		keeps := func(m int, lits []sat.Lit) bool {
			return !slices.ContainsFunc(lits, func(l sat.Lit) bool { return !holds(m, l) })
		}
		some := func(list []int, lits []sat.Lit) bool {
			return slices.ContainsFunc(list, func(m int) bool { return keeps(m, lits) })
		}
		if !some(best, hopes.Lits) {
			t.Fatalf("seed %d: kept %v of %v, but no best model has them", seed, hopes.Lits, all)
		}
		if !some(best, all) {
			lost++
			if len(hopes.Lits) == len(all) {
				t.Fatalf("seed %d: all of %v kept", seed, all)
			}
		}
		// A core holds a hope only if its softs cannot all be spared with it:
		// nothing is given up when some model has all hopes and no cost.
		zero := slices.DeleteFunc(slices.Clone(models), func(m int) bool { return cost(sum, m) > 0 })
		if some(zero, all) {
			free++
			if len(hopes.Lits) != len(all) {
				t.Fatalf("seed %d: kept %v of %v, which cost nothing together", seed, hopes.Lits, all)
			}
		}
		if got := in.left(s); !slices.Equal(got, best) {
			t.Fatalf("seed %d: models left %b, want %b", seed, got, best)
		}
	}
	if free == 0 || lost == 0 {
		t.Errorf("%d with hopes for free, %d with hopes lost: too one-sided to test anything", free, lost)
	}
}

// A hope that the clauses refuse is given up, its neighbour is kept.
func TestMinimize_HopeRefused(t *testing.T) {
	s := cdcl.New()
	a, b, d := s.Lit(), s.Lit(), s.Lit()
	s.Add(-a)
	s.Add(d)
	hopes := &Hopes{Lits: []sat.Lit{a, b}}
	got, status := Minimize(background, s, []Soft{{Lit: d, Weight: 2}}, hopes, -1, Watch{})
	if status != sat.Sat || got != 2 || !slices.Equal(hopes.Lits, []sat.Lit{b}) {
		t.Errorf("%v %d, kept %v, want sat 2 [%d]", status, got, hopes.Lits, b)
	}
}

// Of what a core needs, the hopes to stay near are given up first, and change nothing.
func TestMinimize_Near(t *testing.T) {
	lost, kept := 0, 0
	for seed := range runs() {
		in := random(seed)
		models := in.models()
		if len(models) == 0 {
			continue
		}
		best, least := cheapest(in.sums[0], models)
		var near []sat.Lit
		for v := 1; v <= in.vars; v++ { // stay where any one model is
			l := sat.Lit(v)
			if !holds(models[0], l) {
				l = -l
			}
			near = append(near, l)
		}
		s := in.session()
		hopes := &Hopes{Near: slices.Clone(near)}
		got, status := Minimize(background, s, in.sums[0], hopes, -1, Watch{})
		if status != sat.Sat || got != least {
			t.Fatalf("seed %d: %v %d, want sat %d", seed, status, got, least)
		}
		if cost(in.sums[0], models[0]) == 0 && len(hopes.Near) != len(near) {
			t.Fatalf("seed %d: a model that costs nothing was left", seed)
		}
		if len(hopes.Near) < len(near) {
			lost++
		} else {
			kept++
		}
		if got := in.left(s); !slices.Equal(got, best) {
			t.Fatalf("seed %d: models left %b, want %b", seed, got, best)
		}
		// With its cost known beforehand, no model is needed to prove it.
		known := in.session()
		if got, status := Minimize(background, known, in.sums[0], &Hopes{}, least, Watch{Floor: least}); status != sat.Sat || got != least {
			t.Fatalf("seed %d: known: %v %d, want sat %d", seed, status, got, least)
		}
		if got := in.left(known); !slices.Equal(got, best) {
			t.Fatalf("seed %d: known: models left %b, want %b", seed, got, best)
		}
		// As a bound proven before, it is proven again before any model is looked at.
		early := Watch{Floor: least, Model: func(lower int64, _ bool) (int64, Verdict) {
			if lower < least {
				t.Fatalf("seed %d: a model at bound %d, below the floor %d", seed, lower, least)
			}
			return -1, Accept
		}}
		if got, status := Minimize(background, in.session(), in.sums[0], &Hopes{}, -1, early); status != sat.Sat || got != least {
			t.Fatalf("seed %d: from a floor: %v %d, want sat %d", seed, status, got, least)
		}
	}
	if lost == 0 || kept == 0 {
		t.Errorf("%d left their model, %d stayed: too one-sided to test anything", lost, kept)
	}
}

// A search ended after any number of bounds or models leaves a bound that is true.
func TestMinimize_Cancelled(t *testing.T) {
	early := 0
	for seed := range runs() / 3 {
		in := random(seed)
		models := in.models()
		if len(models) == 0 {
			continue
		}
		_, least := cheapest(in.sums[0], models)
		for after := range 4 {
			ctx, cancel := context.WithCancel(background)
			n := 0
			count := func() {
				if n++; n >= after {
					cancel()
				}
			}
			if after == 0 {
				cancel()
			}
			got, status := Minimize(ctx, in.session(), in.sums[0], &Hopes{}, -1, Watch{
				Model: func(int64, bool) (int64, Verdict) { count(); return -1, Accept },
				Bound: func(int64) int64 { count(); return -1 },
			})
			cancel()
			switch {
			case status == sat.Unknown && got <= least:
				early++
			case status == sat.Sat && got == least && after > 0:
			default:
				t.Fatalf("seed %d after %d: %v %d, least cost %d", seed, after, status, got, least)
			}
		}
	}
	if early == 0 {
		t.Error("no search was ended early")
	}
}

// Stop ends a search with a bound that is true.
func TestMinimize_Stop(t *testing.T) {
	for seed := range runs() / 3 {
		in := random(seed)
		models := in.models()
		if len(models) == 0 {
			continue
		}
		_, least := cheapest(in.sums[0], models)
		got, status := Minimize(background, in.session(), in.sums[0], &Hopes{}, -1, Watch{
			Model: func(int64, bool) (int64, Verdict) { return -1, Stop },
		})
		if status != sat.Unknown || got > least {
			t.Fatalf("seed %d: %v %d, want unknown, at most %d", seed, status, got, least)
		}
	}
}

// Clauses that a caller adds when it refuses a model count: each of the first
// final models is forbidden, and the answer is the best of what remains.
func TestMinimize_Refuse(t *testing.T) {
	dearer, none := 0, 0
	for seed := range runs() {
		in := random(seed)
		models := in.models()
		if len(models) == 0 {
			continue
		}
		sum := in.sums[0]
		_, first := cheapest(sum, models)
		s := in.session()
		got, status := Minimize(background, s, sum, &Hopes{}, -1, Watch{
			Model: func(lower int64, final bool) (int64, Verdict) {
				m := in.read(s)
				if c := cost(sum, m); c < lower || final && c != lower {
					t.Fatalf("seed %d: a model (final %v) costs %d under the bound %d", seed, final, c, lower)
				}
				if !final {
					return -1, Accept
				}
				if len(models) > 0 && slices.Contains(models, m) && int(seed)%3 >= in.refusals(models) {
					models = slices.DeleteFunc(models, func(x int) bool { return x == m })
					in.block(s, m)
					return -1, Refuse
				}
				return -1, Accept
			},
		})
		if len(models) == 0 {
			none++
			if status != sat.Unsat {
				t.Fatalf("seed %d: %v %d, want unsat", seed, status, got)
			}
			continue
		}
		best, least := cheapest(sum, models)
		if status != sat.Sat || got != least {
			t.Fatalf("seed %d: %v %d, want sat %d", seed, status, got, least)
		}
		if least > first {
			dearer++
		}
		if left := in.left(s); !slices.Equal(left, best) {
			t.Fatalf("seed %d: models left %b, want %b", seed, left, best)
		}
	}
	if dearer == 0 || none == 0 {
		t.Errorf("%d became dearer, %d impossible: too one-sided to test anything", dearer, none)
	}
}

// refusals is how many models of the instance have been struck from the list.
func (in *instance) refusals(models []int) int { return len(in.models()) - len(models) }

// Pigeons that may stay outside at a cost: of n pigeons for h holes exactly n-h do
// (pigeonhole principle), the cheapest of them where their weights differ.
func TestMinimize_Pigeons(t *testing.T) {
	for _, c := range []struct{ pigeons, holes int }{{3, 2}, {5, 3}, {6, 5}, {7, 3}} {
		for _, step := range []int64{0, 1, 20} {
			s := cdcl.New()
			var softs []Soft
			in := make([][]sat.Lit, c.pigeons)
			var want int64
			for p := range in {
				out := s.Lit()
				clause := []sat.Lit{out}
				for range c.holes {
					l := s.Lit()
					in[p] = append(in[p], l)
					clause = append(clause, l)
				}
				s.Add(clause...)
				softs = append(softs, Soft{Lit: out, Weight: 1 + step*int64(p)})
				if p < c.pigeons-c.holes {
					want += 1 + step*int64(p)
				}
			}
			for p := range in {
				for q := range p {
					for h := range c.holes {
						s.Add(-in[p][h], -in[q][h])
					}
				}
			}
			got, status := Minimize(background, s, softs, &Hopes{}, -1, Watch{})
			if status != sat.Sat || got != want {
				t.Errorf("%d pigeons, %d holes, step %d: %v %d, want sat %d", c.pigeons, c.holes, step, status, got, want)
			}
		}
	}
}

// TestMinimize_Groups has as many softs as a large plant: groups of six, of which two
// or more cost. The least cost is that of the two lightest of every group (arithmetic).
func TestMinimize_Groups(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 23))
	s := cdcl.New()
	var softs []Soft
	var least int64
	for range 250 {
		var lits []sat.Lit
		var weights []int64
		for range 6 {
			lits = append(lits, s.Lit())
			weights = append(weights, 1+r.Int64N(30))
			softs = append(softs, Soft{Lit: lits[len(lits)-1], Weight: weights[len(weights)-1]})
		}
		for n := range lits { // all but one still hold one that is true
			s.Add(slices.Concat(lits[:n], lits[n+1:])...)
		}
		slices.Sort(weights)
		least += weights[0] + weights[1]
	}
	got, status := Minimize(background, s, softs, &Hopes{}, -1, Watch{})
	if got != least || status != sat.Sat {
		t.Fatalf("%d, %v; want %d", got, status, least)
	}
	// What is left of the session is optimal.
	if s.Solve(background, nil) != sat.Sat {
		t.Fatal("nothing is left")
	}
	var cost int64
	for _, f := range softs {
		if s.Value(f.Lit) {
			cost += f.Weight
		}
	}
	if cost != least {
		t.Fatalf("the session still holds a model that costs %d, least is %d", cost, least)
	}
}
