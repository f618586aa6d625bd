package solver

import (
	"context"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// some draws a few conditions for a plant, sensible or not.
func some(r *rand.Rand, p *plant.Plant) (list []Condition) {
	for len(list) < 1+r.IntN(3) {
		v := &p.Visits[r.IntN(len(p.Visits))]
		t := &p.Trucks[r.IntN(len(p.Trucks))]
		day := p.AsOf.Date().AddDays(r.IntN(60))
		c := Condition{Day: calendar.None, Over: plant.Range{From: calendar.None, Through: calendar.None}}
		switch r.IntN(7) {
		case 0:
			c.Kind, c.Visit = plant.KeepVisit, v.ID
		case 1:
			c.Kind, c.Visit, c.Day = plant.KeepVisit, v.ID, day
		case 2:
			c.Kind, c.Truck = plant.KeepDelivery, t.ID
		case 3:
			c.Kind, c.Department = plant.NoOvertime, p.Departments[r.IntN(len(p.Departments))].ID
		case 4:
			c.Kind, c.Customer, c.Day = plant.NotBefore, t.Customer, day
		case 5:
			c.Kind, c.Truck, c.Than = plant.MoveRather, t.ID, v.Truck
		case 6:
			c.Kind, c.Over = plant.NoVisits, plant.Range{From: day, Through: day + 4}
		}
		if len(p.Conditions([]Condition{c})) == 0 {
			list = append(list, c)
		}
	}
	return list
}

// slipped is a small plant with a plan in force and the slips of its file made facts.
func slipped(t *testing.T, seed uint64, trucks int) *plant.Plant {
	t.Helper()
	p := generate.Generate(generate.Options{Trucks: trucks, Seed: seed, Load: 0.9, Slips: true, LinedUp: seed%2 == 1})
	p.Plan = optimal(t, p).Plan
	after, err := p.Apply(p.Slips)
	if err != nil {
		t.Fatal(err)
	}
	return after
}

// TestConditions_Random plans small plants under random conditions. A plan must pass
// the judge's own check of the conditions, and cost no less than the best without them;
// a contradiction must be irreducible.
func TestConditions_Random(t *testing.T) {
	plans, contradictions := 0, 0
	for seed := range uint64(24) {
		p := slipped(t, seed, 3+int(seed%4))
		r := rand.New(rand.NewPCG(seed, 7))
		if len(p.Visits) == 0 {
			continue
		}
		// Saturdays that may not be worked under no_overtime.
		d := p.Departments[r.IntN(len(p.Departments))].ID
		if actions, err := p.Actions(); err != nil {
			t.Fatal(err)
		} else if i := slices.IndexFunc(actions, func(a plant.Action) bool { return a.Department == d }); i >= 0 {
			p = p.With(actions[i : i+1])
		}
		list := some(r, p)
		free := optimalNear(t, p, nil)
		got, err := Replan(context.Background(), p, Options{Conditions: list})
		if err != nil {
			t.Fatal(err)
		}
		under := Under(p, list)
		switch got.Status {
		case plant.Optimal:
			plans++
			if broken := check.Conditions(under, got.Plan, list); len(broken) > 0 {
				t.Errorf("seed %d: %v", seed, broken[0].Sentence)
			}
			judge(t, under, got.Plan, vector(got))
			if !slices.ContainsFunc(list, func(c Condition) bool { return c.Kind == plant.NoOvertime }) && slices.Compare(vector(got), vector(free)) < 0 {
				t.Errorf("seed %d: %v with conditions, %v without", seed, vector(got), vector(free))
			}
		case plant.Infeasible:
			contradictions++
			irreducible(t, p, got.Contradiction)
		default:
			t.Errorf("seed %d: %s", seed, got.Status)
		}
	}
	if plans < 5 || contradictions < 2 {
		t.Errorf("%d plans, %d contradictions: too few of one to mean much", plans, contradictions)
	}
}

func optimalNear(t *testing.T, p *plant.Plant, list []Condition) *Result {
	t.Helper()
	r, err := Replan(context.Background(), p, Options{Conditions: list})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != plant.Optimal {
		t.Fatalf("%s: %v", r.Status, r.Reasons)
	}
	return r
}

// irreducible fails the test unless no plan obeys the conditions, and one does
// without any one of them.
func irreducible(t *testing.T, p *plant.Plant, c *Contradiction) {
	t.Helper()
	if c == nil || !c.Whole || c.Plant || len(c.Conditions) == 0 || len(c.Sentences) == 0 {
		t.Fatalf("no whole contradiction: %+v", c)
	}
	for i := -1; i < len(c.Conditions); i++ {
		list, want := slices.Clone(c.Conditions), plant.Infeasible
		if i >= 0 {
			list, want = slices.Delete(list, i, i+1), plant.Optimal
		}
		r, err := Plan(context.Background(), p, Options{Conditions: list})
		if err != nil {
			t.Fatal(err)
		}
		if r.Status != want {
			t.Errorf("without number %d of %v: %s, want %s", i, c.Conditions, r.Status, want)
		}
	}
}

// TestConditions_Found holds plans that break each condition before the judge.
func TestConditions_Found(t *testing.T) {
	p := slipped(t, 3, 6)
	r := optimalNear(t, p, nil)
	none := plant.Range{From: calendar.None, Through: calendar.None}
	at := slices.IndexFunc(r.Plan.Visits, func(v plant.PlannedVisit) bool { return v.Day != calendar.None })
	v, held := p.FindVisit(r.Plan.Visits[at].Visit), r.Plan.Visits[at]
	truck := p.FindTruck(v.Truck)
	without := *r.Plan // the visit is broken
	without.Visits = slices.Clone(without.Visits)
	without.Visits[at].Outcome, without.Visits[at].Day = plant.Broken, calendar.None
	without.Stages = slices.DeleteFunc(slices.Clone(without.Stages), func(s plant.Planned) bool {
		g, _, _ := strings.Cut(s.Stage, ".")
		return s.Truck == v.Truck && p.FindStage(g).Visit == v.Kind
	})
	drives := p.Route[slices.IndexFunc(p.Route, func(s plant.Stage) bool { return s.Delivers })]
	for _, c := range []struct {
		plan *plant.Plan
		ask  Condition
	}{
		{r.Plan, Condition{Kind: plant.KeepVisit, Visit: v.ID, Day: held.Day + 1, Over: none}},
		{&without, Condition{Kind: plant.HoldVisit, Visit: v.ID, Day: calendar.None, Over: none}},
		{&without, Condition{Kind: plant.KeepVisit, Visit: v.ID, Day: held.Day, Over: none}},
		{r.Plan, Condition{Kind: plant.KeepDelivery, Truck: truck.ID, Day: p.AsOf.Date(), Over: none}},
		{r.Plan, Condition{Kind: plant.NotBefore, Customer: truck.Customer, Day: held.Day + 1, Over: none}},
		{r.Plan, Condition{Kind: plant.NoVisits, Day: calendar.None, Over: plant.Range{From: held.Day, Through: held.Day}}},
	} {
		if list := check.Conditions(p, c.plan, []Condition{c.ask}); len(list) == 0 {
			t.Errorf("%+v: the judge sees nothing wrong", c.ask)
		}
	}
	// Work on a Saturday that is overtime.
	p = slipped(t, 3, 6)
	dep := drives.Department
	actions, err := p.Actions()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range actions {
		if a.Kind == plant.SaturdayShift && a.Department == dep {
			with := p.With([]plant.Action{a})
			plan := *r.Plan
			plan.Stages = slices.Clone(plan.Stages)
			i := slices.IndexFunc(plan.Stages, func(s plant.Planned) bool { return s.Stage == drives.ID })
			plan.Stages[i].Start, plan.Stages[i].Hold, plan.Stages[i].End = a.From.At(7*60), a.From.At(7*60), a.From.At(15*60)
			if list := check.Conditions(with, &plan, []Condition{{Kind: plant.NoOvertime, Department: dep, Day: calendar.None, Over: none}}); len(list) == 0 {
				t.Error("a drive on a Saturday: the judge sees no overtime")
			}
			return
		}
	}
	t.Fatal("the price list has no Saturday for the drivers")
}

// TestConditions_UnderWay asks of a delivery and of a visit that have begun what they do not do:
// that is not asked of them, by the planner and by the judge alike.
func TestConditions_UnderWay(t *testing.T) {
	p := readPlant(t, `
wetdown: 1
name: Vellimere Apparatus Works
zone: America/Chicago
as_of: 2027-04-07T10:00
horizon: {from: 2027-04-05, through: 2027-04-30}
calendar: plant
calendars: [{id: plant, pattern: 5x8}]
wishes: []
departments: [{id: showroom, calendar: plant}]
bays: [{id: floor, kinds: [floor], max_length_ft: 40}]
route:
  - {id: final_inspection, name: Final inspection, department: showroom, length: visit, visit: final_inspection, bay: floor, start_in: [morning], crosses: [shift]}
  - {id: delivery, name: Delivery, department: showroom, length: drive, after: [final_inspection], start_in: [morning], crosses: [shift], delivers: true}
customers: [{id: harrowlune, name: Harrowlune Fire Department, miles: 300}, {id: ostrafell, name: Ostrafell Fire District, miles: 700}]
trucks:
  - {id: T-1, customer: harrowlune, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-04-06}, line: {line_off: 2027-03-29},
     done: [{stage: final_inspection, ended: 2027-04-05T12:00}], running: [{stage: delivery, started: 2027-04-07T07:00}]}
  - {id: T-2, customer: ostrafell, kind: rescue, content: medium, length_ft: 36, height_ft: 10, contract: {due: 2027-04-30}, line: {line_off: 2027-04-02},
     running: [{stage: final_inspection, started: 2027-04-07T07:00, bay: floor}]}
visits:
  - {id: V-1, truck: T-1, kind: final_inspection, heads: 4, halves: 1, windows: [{from: 2027-04-05, through: 2027-04-05}], booking: {state: done, day: 2027-04-05}}
  - {id: V-2, truck: T-2, kind: final_inspection, heads: 3, halves: 4, windows: [{from: 2027-04-07, through: 2027-04-09}], booking: {state: confirmed, day: 2027-04-07}}
`)
	free := optimalNear(t, p, nil)
	none := plant.Range{From: calendar.None, Through: calendar.None}
	for _, c := range []Condition{
		{Kind: plant.KeepDelivery, Truck: "T-1", Day: p.AsOf.Date() - 1, Over: none},
		{Kind: plant.KeepVisit, Visit: "V-2", Day: p.AsOf.Date() + 1, Over: none},
		{Kind: plant.NotBefore, Customer: "ostrafell", Day: p.AsOf.Date() + 1, Over: none},
		{Kind: plant.NoVisits, Day: calendar.None, Over: plant.Range{From: p.AsOf.Date(), Through: p.AsOf.Date()}},
	} {
		if faults := p.Conditions([]Condition{c}); len(faults) > 0 {
			t.Fatal(faults[0])
		}
		if one := c.Truck + c.Visit; one != "" && !strings.Contains(Say(p, c), "it is under way") {
			t.Errorf("nothing tells that it is under way: %s", Say(p, c))
		}
		if got := optimalNear(t, p, []Condition{c}); !slices.Equal(vector(got), vector(free)) {
			t.Errorf("%+v: %v, and %v without", c, vector(got), vector(free))
		}
	}
}

// TestOffers_Conditions asks for days under conditions that the plan in force obeys: a day
// is offered if a planning under the same conditions keeps all promises, and no other. Why
// must say the same, and name a condition for each day that is lost by the conditions.
func TestOffers_Conditions(t *testing.T) {
	none := plant.Range{From: calendar.None, Through: calendar.None}
	offered, lost, refused, named := 0, 0, 0, map[string]int{}
	for _, o := range asked[:3] {
		p := inForce(t, o)
		damages := int64(0)
		for _, d := range Deliveries(p, p.Plan) {
			damages += d.Damages
		}
		for i := range p.Trucks {
			truck := &p.Trucks[i]
			free, err := Offers(context.Background(), p, truck.ID, Options{})
			if _, no := err.(*NoVisit); no {
				continue
			} else if err != nil {
				t.Fatal(err)
			}
			// Whoever is planned to be delivered or seen stays so; no visits in some week;
			// and the truck itself is delivered as planned.
			var list []Condition
			ask := func(c Condition) {
				if len(check.Conditions(p, p.Plan, []Condition{c})) == 0 {
					list = append(list, c)
				}
			}
			for _, d := range Deliveries(p, p.Plan) {
				ask(Condition{Kind: plant.KeepDelivery, Truck: d.Truck, Day: d.Day, Over: none})
			}
			for _, v := range p.Plan.Visits {
				if visit := p.FindVisit(v.Visit); visit.Truck != truck.ID && v.Day != calendar.None {
					ask(Condition{Kind: plant.KeepVisit, Visit: v.Visit, Day: v.Day, Over: none})
				}
			}
			for week := p.AsOf.Date(); week < p.AsOf.Date()+50; week += 2 {
				c := Condition{Kind: plant.NoVisits, Day: calendar.None, Over: plant.Range{From: week, Through: week + 1}}
				if n := len(list); len(free.Offers) > 2 && c.Over.Contains(free.Offers[1].Day) {
					if ask(c); len(list) > n {
						break
					}
				}
			}
			under, err := Offers(context.Background(), p, truck.ID, Options{Conditions: list})
			if err != nil {
				t.Fatal(err)
			}
			if len(under.Given) > 0 {
				t.Errorf("%+v, %s: %v, though the plan in force obeys the conditions", o, truck.ID, under.Given)
			}
			visit := p.FindVisit(under.Visit)
			q := bound(t, p, visit.ID, false)
			for n, f := range free.Offers {
				yes := slices.ContainsFunc(under.Offers, func(u Offer) bool { return u.Day == f.Day })
				if n > 3 && n%4 != 0 {
					continue // plannings take time
				}
				onDay := *q
				onDay.Visits = slices.Clone(q.Visits)
				freeze(onDay.FindVisit(visit.ID), f.Day)
				if want := kept(t, &onDay, damages, list...); yes != want {
					t.Errorf("%+v, %s, %s: offered is %v, and a plan that obeys the conditions and keeps all promises: %v", o, truck.ID, say(f.Day), yes, want)
				}
				x, err := Why(context.Background(), p, truck.ID, f.Day, Options{Conditions: list})
				if err != nil {
					t.Fatal(err)
				}
				if x.Possible != yes || x.Status != plant.Optimal {
					t.Errorf("%+v, %s, %s: why says possible: %v (%s), and offered is %v", o, truck.ID, say(f.Day), x.Possible, x.Status, yes)
				}
				if yes {
					offered++
					continue
				}
				lost++
				conditions := 0
				for _, r := range x.Grounds {
					if r.Kind != ReasonCondition {
						continue
					}
					conditions++
					switch {
					case strings.Contains(r.Sentence, "no visits"):
						named[plant.NoVisits]++
					case strings.Contains(r.Sentence, "delivered"):
						named[plant.KeepDelivery]++
					default:
						named[plant.KeepVisit]++
					}
				}
				if conditions == 0 {
					t.Errorf("%+v, %s, %s: lost by the conditions, and none is a reason: %q", o, truck.ID, say(f.Day), x.Reasons)
				}
			}
			for _, u := range under.Offers {
				if !slices.ContainsFunc(free.Offers, func(f Offer) bool { return f.Day == u.Day }) {
					t.Errorf("%+v, %s, %s: offered under conditions only", o, truck.ID, say(u.Day))
				}
			}
			for _, r := range under.Refused {
				if refused++; !r.Decided || r.Reason == "" {
					t.Errorf("%+v, %s, %s: refused without a reason", o, truck.ID, say(r.Day))
				}
			}
		}
	}
	t.Log(offered, "days offered,", lost, "lost by conditions,", refused, "refused in all; conditions named:", named)
	if offered < 5 || lost < 20 || len(named) < 2 {
		t.Error("this tests too little")
	}
}
