package solver

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// A worthCase is a plant with a plan in force whose days are worth something.
type worthCase struct {
	name string
	*plant.Plant
}

// worths are generated plants, and some of three trucks that are tight in many ways.
func worths(t *testing.T, generated ...generate.Options) (list []worthCase) {
	t.Helper()
	for _, o := range generated {
		list = append(list, worthCase{fmt.Sprintf("trucks=%d/seed=%d", o.Trucks, o.Seed), inForce(t, o)})
	}
	for seed := range uint64(4) {
		p := three(t, rand.New(rand.NewPCG(seed, 99)))
		p.Measures = plant.DefaultMeasures()
		list = append(list, worthCase{fmt.Sprintf("three/%d", seed), p})
	}
	return list
}

// lost edits a copy of the plant by hand so that the slip has happened.
func lost(t *testing.T, p *plant.Plant, s *plant.Slip) *plant.Plant {
	t.Helper()
	out := copied(t, p)
	switch s.Kind {
	case plant.LineOffMoved:
		was, err := p.Project()
		if err != nil {
			t.Fatal(err)
		}
		g, err := p.Grid(p.AsOf.Date(), p.Horizon.Through+400)
		if err != nil {
			t.Fatal(err)
		}
		h, err := p.Hours(p.Line.Calendar, g)
		if err != nil {
			t.Fatal(err)
		}
		next := was.LineOff(s.Truck) + 1
		for !h.WorksDay(next) {
			next++
		}
		l := &out.FindTruck(s.Truck).Line
		on := p.AsOf.Date()
		for _, o := range l.Overrides {
			on = max(on, o.On)
		}
		l.Overrides = append(l.Overrides, plant.Override{On: on, Off: next, By: "test"})
	case plant.StageOverran:
		truck := out.FindTruck(s.Truck)
		i := slices.IndexFunc(truck.Running, func(r plant.Running) bool { return r.Stage == s.Stage })
		switch {
		case i < 0:
			truck.Overruns = append(truck.Overruns, plant.Overrun{Stage: s.Stage, Minutes: s.Minutes})
		case truck.Running[i].RemainingMinutes >= 0:
			truck.Running[i].RemainingMinutes += s.Minutes
		default:
			return nil // what is left of it is the plant's own affair
		}
	case plant.BayDown:
		b := out.FindBay(s.Bay)
		b.Closures = append(b.Closures, s.Over)
		for i := range out.Trucks {
			if x := &out.Trucks[i]; x.Standing.Bay == s.Bay && s.Over.From >= p.AsOf.Date() {
				x.Standing = plant.Standing{}
			}
		}
	case plant.CrewAway:
		c := out.FindCrew(s.Crew)
		c.Days = append(c.Days, plant.CrewChange{Range: s.Over, Size: c.SizeOn(s.Over.From) - s.Heads})
	}
	out.Plan = p.Plan
	return out
}

// bought edits a copy of the plant by hand so that it has what is bought.
func bought(t *testing.T, p *plant.Plant, a *plant.Action) *plant.Plant {
	t.Helper()
	out := copied(t, p)
	switch a.Kind {
	case plant.HiredBay:
		out.Bays = append(out.Bays, plant.Bay{ID: "one more", Kinds: []string{a.BayKind}})
	case plant.ExtraHeads:
		c := out.FindCrew(a.Crew)
		c.Size++
		for i := range c.Days {
			c.Days[i].Size++
		}
	case plant.SaturdayShift:
		out = p.With([]plant.Action{*a})
	}
	out.Plan = p.Plan
	return out
}

// differences are what a plan from nothing costs more in each tier.
func differences(t *testing.T, p *plant.Plant, before []int64) (list []int64, possible bool) {
	t.Helper()
	r, err := Plan(context.Background(), p, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status == plant.Infeasible {
		return nil, false
	}
	proven(t, p, r)
	for n, v := range vector(r) {
		list = append(list, v-before[n])
	}
	return list, true
}

func stakeDifferences(s *Stake) (list []int64) {
	for _, x := range s.Tiers {
		list = append(list, x.AtLeast)
	}
	return list
}

// TestWeigh_BruteForce plans each stake from nothing, see everyStake.
func TestWeigh_BruteForce(t *testing.T) {
	var met tally
	for _, c := range worths(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9}, generate.Options{Trucks: 8, Seed: 16, Load: 0.95}, generate.Options{Trucks: 9, Seed: 4, Load: 0.9, LinedUp: true}) {
		t.Run(c.name, func(t *testing.T) { everyStake(t, c.Plant, &met) })
	}
	met.met(t, 1, plant.LineOffMoved, plant.StageOverran, plant.BayDown, plant.CrewAway, plant.HiredBay, plant.ExtraHeads, plant.SaturdayShift,
		"known without a planning", "costs something", "gains something")
}

// TestForeign_Weigh does the same with odd plants.
func TestForeign_Weigh(t *testing.T) {
	t.Parallel()
	var met tally
	spread(t, 40**foreign, func(t *testing.T, seed uint64) {
		s := anyOf(t, seed)
		p := deep(s.p)
		if len(p.Trucks) > 0 {
			p.Measures = measuresOf(p)
		}
		in, err := inBest(p)
		if err != nil {
			t.Fatal(err)
		}
		if in != nil {
			met.add("plants")
			everyStake(t, in, &met)
		}
	})
	met.met(t, 3, "plants", plant.LineOffMoved, plant.StageOverran, plant.BayDown, plant.CrewAway, plant.HiredBay, plant.ExtraHeads, plant.SaturdayShift,
		"known without a planning", "costs something", "no plan")
}

// everyStake plans each stake of a plant from nothing, in a copy of the plant that is edited by
// hand, and compares the differences of all tiers. Nothing bought makes anything worse, but for a
// Saturday, by which work ends earlier that may not lie long, and on which work over the weekend needs
// its crew: without limits on how long work may lie, and with heads enough, it does not either. Of a
// department's Saturdays none is better than the one named.
func everyStake(t *testing.T, p *plant.Plant, met *tally) {
	t.Helper()
	w, err := Weigh(context.Background(), p, Scope{})
	if err != nil {
		t.Fatal(err)
	}
	before := vector(optimal(t, p))
	for n, v := range w.Before {
		if v.Value != before[n] || v.Bound != before[n] {
			t.Fatalf("tier %s of the plant as it stands is %d with bound %d, want %d", v.Name, v.Value, v.Bound, before[n])
		}
	}
	for i := range w.Days {
		s := &w.Days[i]
		met.add(s.Slip.Kind)
		after := lost(t, p, s.Slip)
		if after == nil {
			after, _ = p.Apply([]plant.Slip{*s.Slip})
		}
		want, ok := differences(t, after, before)
		if !ok || s.Status == plant.Infeasible {
			met.add("no plan")
			if ok || s.Status != plant.Infeasible {
				t.Errorf("%s: %s, and planned from nothing there is a plan: %v", s.Title(p), s.Status, ok)
			}
			continue
		}
		if got := stakeDifferences(s); !s.Exact() || !slices.Equal(got, want) {
			t.Errorf("%s: exact is %v, it costs %v, planned from nothing %v (by a planning: %v)", s.Title(p), s.Exact(), got, want, s.Solved)
		}
		judge(t, s.after, s.plan, s.values)
		if !s.Solved {
			met.add("known without a planning")
		}
		if s.Differs() {
			met.add("costs something")
		}
	}
	for i := range w.More {
		s := &w.More[i]
		met.add(s.Action.Kind)
		want, _ := differences(t, bought(t, p, s.Action), before)
		got := stakeDifferences(s)
		if !s.Exact() || !slices.Equal(got, want) {
			t.Errorf("%s: exact is %v, it gains %v, planned from nothing %v", s.Title(p), s.Exact(), got, want)
		}
		if nothing := make([]int64, len(got)); slices.Compare(got, nothing) > 0 {
			if s.Action.Kind == plant.SaturdayShift {
				met.add("a Saturday that makes something worse")
				free := unhurried(t, p)
				with := unhurried(t, bought(t, p, s.Action))
				for n := range with.Crews {
					c := &with.Crews[n]
					c.Days = append(c.Days, plant.CrewChange{Range: plant.Range{From: s.Action.From, Through: s.Action.From}, Size: 1000})
				}
				got, _ = differences(t, with, vector(optimal(t, free)))
			}
			if slices.Compare(got, nothing) > 0 {
				t.Errorf("%s makes something worse: %v", s.Title(p), got)
			}
		}
		if s.Differs() {
			met.add("gains something")
		}
		if s.Action.Kind != plant.SaturdayShift {
			continue
		}
		if s.Choice > 0 && !s.Best {
			t.Errorf("%s is not proven to be the best Saturday", s.Title(p))
		}
		actions, err := p.Actions()
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range actions {
			if a.Kind == plant.SaturdayShift && a.Department == s.Action.Department {
				if other, _ := differences(t, p.With([]plant.Action{a}), before); slices.Compare(other, got) < 0 {
					t.Errorf("%s gains %v, and on %s it would gain %v", s.Title(p), got, a.From, other)
				}
			}
		}
	}
	ordered(t, w)
}

// unhurried is a copy of a plant in which work may lie as long as it likes.
func unhurried(t *testing.T, p *plant.Plant) *plant.Plant {
	t.Helper()
	out := copied(t, p)
	for i := range out.Route {
		for j := range out.Route[i].After {
			out.Route[i].After[j].MaxElapsedMinutes, out.Route[i].After[j].MaxWorkMinutes = 0, 0
		}
	}
	out.Plan = p.Plan
	return out
}

// ordered fails the test unless what hurts more, and what helps more, comes first.
func ordered(t *testing.T, w *Worth) {
	t.Helper()
	for i := 1; i < len(w.Days); i++ {
		if a, b := &w.Days[i-1], &w.Days[i]; a.Exact() && b.Exact() && slices.Compare(stakeDifferences(a), stakeDifferences(b)) < 0 {
			t.Errorf("%v comes before %v among the days lost", stakeDifferences(a), stakeDifferences(b))
		}
	}
	for i := 1; i < len(w.More); i++ {
		if a, b := &w.More[i-1], &w.More[i]; slices.Compare(stakeDifferences(a), stakeDifferences(b)) > 0 {
			t.Errorf("%v comes before %v among what may be bought", stakeDifferences(a), stakeDifferences(b))
		}
	}
}

// TestWeigh_Slack: a truck whose next work begins two working days or more after it comes off the line
// loses nothing by one, and the plan stays.
func TestWeigh_Slack(t *testing.T) {
	slack := 0
	for _, c := range worths(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9}) {
		name, p := c.name, c.Plant
		off, err := p.Project()
		if err != nil {
			t.Fatal(err)
		}
		w, err := Weigh(context.Background(), p, Scope{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range w.Days {
			s := &w.Days[i]
			if s.Slip.Kind != plant.LineOffMoved {
				continue
			}
			first := calendar.NoMoment
			station := false // it shifts with the line
			for _, r := range p.Plan.Stages {
				if r.Truck == s.Slip.Truck {
					station = station || p.FindStage(r.Stage) != nil && p.FindStage(r.Stage).Station != ""
					if first == calendar.NoMoment || r.Hold < first {
						first = r.Hold
					}
				}
			}
			if station || int(first.Date()-off.LineOff(s.Slip.Truck)) < 6 { // so many days have two working days among them
				continue
			}
			slack++
			if !s.Untouched || s.Solved || !s.Exact() || s.Differs() {
				t.Errorf("%s: %s: untouched %v, by a planning %v, exact %v, costs %v", name, s.Title(p), s.Untouched, s.Solved, s.Exact(), stakeDifferences(s))
			}
		}
	}
	if slack == 0 {
		t.Error("no truck has slack: this tests too little")
	}
}

// TestWeigh_Top works out the worst three alone, with fewer plannings and the same
// numbers; a filter gives what everything gives.
func TestWeigh_Top(t *testing.T) {
	spared := 0
	for _, c := range worths(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9}) {
		name, p := c.name, c.Plant
		all, err := Weigh(context.Background(), p, Scope{})
		if err != nil {
			t.Fatal(err)
		}
		top, err := Weigh(context.Background(), p, Scope{Top: 3})
		if err != nil {
			t.Fatal(err)
		}
		spared += all.Asked - top.Asked
		if len(all.Days) != len(top.Days) {
			t.Fatalf("%s: %d days lost, with a top %d", name, len(all.Days), len(top.Days))
		}
		for i := range min(3, len(all.Days)) {
			a, b := &all.Days[i], &top.Days[i]
			if a.Status != b.Status || !slices.Equal(stakeDifferences(a), stakeDifferences(b)) {
				t.Errorf("%s: the %d. worst costs %v, with a top %v", name, i+1, stakeDifferences(a), stakeDifferences(b))
			}
		}
		exact := map[string][]int64{}
		for i := range all.Days {
			exact[all.Days[i].Title(p)] = stakeDifferences(&all.Days[i])
		}
		for i := range top.Days {
			s := &top.Days[i]
			want := exact[s.Title(p)]
			if s.Less && slices.Compare(want, stakeDifferences(&top.Days[min(2, len(top.Days)-1)])) > 0 {
				t.Errorf("%s: %s is said to hurt no more than the third, and costs %v", name, s.Title(p), want)
			}
		}
		bay := p.Bays[len(p.Bays)-1].ID
		one, err := Weigh(context.Background(), p, Scope{Bays: []string{bay}, Trucks: []string{p.Trucks[0].ID}})
		if err != nil {
			t.Fatal(err)
		}
		if len(one.More) > 0 || len(one.Days)+len(one.None) != 2 {
			t.Errorf("%s: %d days lost, %d without one and %d that may be bought for one bay and one truck", name, len(one.Days), len(one.None), len(one.More))
		}
		for i := range one.Days {
			if got := stakeDifferences(&one.Days[i]); !slices.Equal(got, exact[one.Days[i].Title(p)]) {
				t.Errorf("%s: %s costs %v alone, %v among all", name, one.Days[i].Title(p), got, exact[one.Days[i].Title(p)])
			}
		}
	}
	if spared == 0 {
		t.Error("no planning was spared: this tests too little")
	}
}

// TestWeigh_Bounds ends plannings at once, from the first, the second or a later one on, and
// holds the bounds against the differences that are true.
func TestWeigh_Bounds(t *testing.T) {
	bounds := 0
	for _, c := range worths(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9}) {
		name, p := c.name, c.Plant
		whole, err := Weigh(context.Background(), p, Scope{})
		if err != nil {
			t.Fatal(err)
		}
		truth := map[string][]int64{}
		for _, list := range [][]Stake{whole.Days, whole.More} {
			for i := range list {
				truth[list[i].Title(p)] = stakeDifferences(&list[i])
			}
		}
		for _, after := range []int{0, 1, 4} {
			n := 0
			cut := func(ctx context.Context) (context.Context, context.CancelFunc) {
				ctx, cancel := context.WithCancel(ctx)
				if n++; n > after {
					cancel()
				}
				return ctx, cancel
			}
			w, err := Weigh(context.Background(), p, Scope{Each: cut})
			if err != nil {
				t.Fatal(err)
			}
			for _, list := range [][]Stake{w.Days, w.More} {
				for i := range list {
					s := &list[i]
					want := truth[s.Title(p)]
					if s.Choice > 1 && !s.Exact() { // of another Saturday, perhaps
						continue
					}
					for k, x := range s.Tiers {
						if x.Open || want == nil {
							continue
						}
						if !x.Exact() {
							bounds++
						}
						if want[k] < x.AtLeast || want[k] > x.AtMost {
							t.Errorf("%s, ended after %d: tier %s of %q is said to differ by %d to %d, and differs by %d", name, after, x.Name, s.Title(p), x.AtLeast, x.AtMost, want[k])
						}
					}
					if s.Status == plant.Optimal && s.Solved && n > after && !s.Exact() && w.Status == plant.Optimal {
						t.Errorf("%s, ended after %d: %s is called optimal and is not exact", name, after, s.Title(p))
					}
				}
			}
		}
	}
	if bounds == 0 {
		t.Error("nothing was open: this tests too little")
	}
}

// TestWeigh_Ended has no time at all, and says so.
func TestWeigh_Ended(t *testing.T) {
	p := inForce(t, generate.Options{Trucks: 5, Seed: 13, Load: 0.9})
	ctx, cancel := context.WithCancel(context.Background())
	var about []string
	w, err := Weigh(ctx, p, Scope{Report: func(k Weighing) {
		about = append(about, k.About)
		if k.Planned == 2 {
			cancel()
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if !w.Ended || w.Asked > 3 || len(about) < 3 {
		t.Errorf("ended %v after %d plannings, with %d reports", w.Ended, w.Asked, len(about))
	}
	open := 0
	for i := range w.More {
		if s := &w.More[i]; !s.Solved && !s.Exact() {
			open++
		}
	}
	if open == 0 {
		t.Error("everything that may be bought is known, though there was no time for it")
	}
	cancel()
	p.Plan = nil
	if _, err := Weigh(context.Background(), p, Scope{}); err == nil {
		t.Error("a plant without a plan in force was weighed")
	}
}
