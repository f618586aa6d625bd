package solver

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A Goal is what repairs are to make possible while everything else that the plan in
// force promises is kept. The zero value with Day calendar.None: to keep all of it.
type Goal struct {
	Truck string
	Day   calendar.Date // the next visit to Truck is on this day; calendar.None: Truck is delivered by its contract
}

// A Repair is a set of measures that makes the goal possible, with the plan that
// proves it.
type Repair struct {
	Actions  []plant.Action // in the order of the price list; none: do nothing
	Dollars  int64          // what the measures cost, damages not among it
	Plant    *plant.Plant   // with the measures taken; the plan is one for it
	Plan     *plant.Plan    // passed by the judge, rules and promises; nil if there is none
	Moved    []string       // confirmed visits on another day than in the plan in force, and visits held no more
	Heads    int            // people of these
	Damages  int64          // dollars that the plan costs in damages
	Missed   int            // hard deadlines missed
	Trades   []Trade        // who pays more damages than in the plan in force and who less, where some pay more than the measures pay for them
	Cheapest bool           // proven: no set of measures at all, or none that differs as it does from those before it, costs less
	kept     bool           // it keeps every promise
	instead  string         // of nothing: what does not come about
	Frontier bool           // no other alternative is as good in heads, damages and dollars, and better in one
}

// Total is the price of a repair in dollars: of its measures, and of the damages.
func (r *Repair) Total() int64 { return r.Dollars + r.Damages }

// Repairs are the ways out.
type Repairs struct {
	Goal     Goal
	Nothing  *Repair  // to do nothing: what it costs
	Promises int      // promises that doing nothing breaks, the goal among them
	Lost     []string // sentences about those of them that no measure on the list saves
	List     []Repair
	Measures int    // what the price list makes possible: at a place, on a day
	Asked    int    // questions that were answered to find them
	Whole    bool   // the search came to its end: what is not listed does not exist, or costs more
	AtLeast  int64  // dollars: with no way proven to be the cheapest, proven that no measures for less, damages paid for them included, will do
	Word     string // what is to be said of the search, for people
}

// Bounds of a search.
const (
	alternatives   = 3       // beside doing nothing, and better than that in something
	leastBudget    = 60      // questions about the whole plant
	budgetStages   = 200_000 // stages in all questions
	questionStages = 50      // what a question costs beside its stages
)

// Mend finds the cheapest ways out. before has the plan in force; after is before with
// what has happened made facts, and nothing the plan that answers it without any
// measure, nil if there is none. The price list is that of after.
//
// First, ways that work are looked for, and told to o.Seek as they are found (quick); then
// the cheapest, with the proof. A search that is ended lists after what it has proven what
// it has found so far.
//
// The first repair is the cheapest set of measures there is. Each that follows is the
// cheapest that does without at least one kind of measure of each one before it; when
// there are no more of these, without one matter: a department, a crew, a kind of bay,
// a customer, a truck. With o.Conditions, all of them obey these.
func Mend(ctx context.Context, before, after *plant.Plant, nothing *plant.Plan, goal Goal, o Options) (*Repairs, error) {
	return mend(ctx, before, after, nothing, goal, o, nil)
}

// mend is Mend with a ledger, nil for one of its own.
func mend(ctx context.Context, before, after *plant.Plant, nothing *plant.Plan, goal Goal, o Options, l *ledger) (*Repairs, error) {
	if before.Plan == nil {
		return nil, fmt.Errorf("there is no plan in force whose promises could be kept: plan first")
	}
	after = Under(after, o.Conditions)
	if l == nil {
		l = newLedger(after)
	}
	s := &search{ctx: ctx, p: after, before: before, nothing: nothing, vows: vows(before, after), conditions: o.Conditions, seek: o.Seek, ledger: l,
		known: map[string]verdict{}, plans: map[string]*plant.Plan{}, shown: map[string]map[string]bool{}, asks: map[string]verdict{}}
	if err := s.aim(goal); err != nil {
		return nil, err
	}
	r := &Repairs{Goal: goal, Whole: true}
	var broken []check.Violation
	if nothing != nil {
		n, err := s.price(nil, after, nothing)
		if err != nil {
			return nil, err
		}
		r.Nothing = n
		if goal.Truck != "" {
			n.instead = goal.missed(after) + ", "
		}
		broken = s.broken(nothing)
		r.Promises = len(broken)
	} else {
		r.Nothing = &Repair{Plant: after}
	}
	if nothing != nil && len(broken) == 0 {
		r.Nothing.Frontier, r.Nothing.Cheapest, r.Nothing.instead = true, true, ""
		r.Word = "Nothing that is promised is in danger: no measure is needed."
		return r, nil
	}
	if err := s.universe(broken, goal); err != nil {
		return nil, err
	}
	r.Measures = len(s.actions)
	err := s.hopeless(r, goal)
	if err == nil && r.Word == "" {
		err = s.ways(r)
	}
	r.Asked = s.asked
	if err != nil {
		return nil, err
	}
	frontier(r)
	return r, nil
}

// aim adds the goal to the vows.
func (s *search) aim(goal Goal) error {
	if goal.Truck == "" {
		return nil
	}
	t := s.p.FindTruck(goal.Truck)
	if t == nil {
		return &NoVisit{goal.Truck, "there is no such truck in the plant file: look for its shop order number under trucks"}
	}
	if goal.Day == calendar.None {
		w := vow{truck: t.ID, by: t.Contract.Due, due: calendar.None}
		s.vows = slices.DeleteFunc(s.vows, func(v vow) bool { return v.visit == "" && v.truck == t.ID })
		s.vows = append(s.vows, w)
		return nil
	}
	v := nextVisit(s.p, t)
	if v == nil {
		return &NoVisit{goal.Truck, "it has no visit that still has to take place: add one under visits"}
	}
	s.vows = slices.DeleteFunc(s.vows, func(w vow) bool { return w.visit == v.ID })
	s.vows = append(s.vows, vow{visit: v.ID, truck: t.ID, day: goal.Day})
	s.wanted = v.ID
	return nil
}

// nextVisit is the visit to a truck that can be asked about: its final inspection, or
// the first that still has to take place.
func nextVisit(p *plant.Plant, t *plant.Truck) (first *plant.Visit) {
	for i := range p.Route {
		s := &p.Route[i]
		if s.Visit == "" || isDone(t, s.ID) || isRunning(t, s.ID) {
			continue
		}
		if v := p.VisitOf(t, s.Visit); v != nil && (first == nil || s.Visit == plant.FinalInspection) {
			first = v
		}
	}
	return first
}

// universe lists the actions that may be taken, and the trucks to begin with.
// Customers are asked, and damages paid, for what is promised; damages only for the
// trucks that doing nothing delivers too late, and for the truck of the goal.
func (s *search) universe(broken []check.Violation, goal Goal) error {
	late := map[string]bool{goal.Truck: true}
	s.only = map[string]bool{}
	for _, b := range broken {
		late[b.Truck] = true
		s.only[b.Truck] = true
	}
	if goal.Truck != "" {
		s.only[goal.Truck] = true
	}
	list, err := s.p.Actions()
	if err != nil {
		return err
	}
	for _, a := range list {
		cost := a.Dollars
		i := slices.IndexFunc(s.vows, func(w vow) bool {
			return a.Visit != "" && w.visit == a.Visit || a.Kind == plant.PayDamages && w.visit == "" && w.truck == a.Truck
		})
		switch a.Kind {
		case plant.AskCustomer, plant.FlyLater:
			if i < 0 || s.vows[i].day == calendar.None || a.Visit == s.wanted {
				continue
			}
		case plant.PayDamages:
			if i < 0 || !late[a.Truck] && s.nothing != nil || s.vows[i].due == calendar.None {
				continue
			}
			w, t := s.vows[i], s.p.FindTruck(a.Truck)
			a.From = w.later(s.p, a.Days)
			if a.From <= w.by {
				continue
			}
			cost = contractDamages(t, a.From) - contractDamages(t, w.by)
		case plant.SaturdayShift:
			if slices.ContainsFunc(s.conditions, func(c Condition) bool {
				return c.Kind == plant.NoOvertime && c.Department == a.Department
			}) {
				continue
			}
		}
		s.actions = append(s.actions, a)
		s.costs = append(s.costs, cost)
	}
	stages := 0
	for i := range s.p.Trucks {
		t := &s.p.Trucks[i]
		for j := range s.p.Route {
			if s.p.Applies(t, &s.p.Route[j]) && !isDone(t, s.p.Route[j].ID) {
				stages++
			}
		}
	}
	s.budget = max(leastBudget*(stages+questionStages), budgetStages)
	return nil
}

// missed says that the goal is not reached.
func (g Goal) missed(p *plant.Plant) string {
	if g.Day != calendar.None {
		return fmt.Sprintf("%s is not shown on %s", g.Truck, say(g.Day))
	}
	return fmt.Sprintf("%s is delivered after its contract day, %s", g.Truck, say(p.FindTruck(g.Truck).Contract.Due))
}

// hopeless finds the vows that all measures together cannot save, and lessens them: a
// visit to some day, or it is given up; a delivery to the day of doing nothing. What doing nothing keeps
// stays; of the rest, the goal comes first, then visits of many people. If nothing is
// left to be saved, it says so.
func (s *search) hopeless(r *Repairs, goal Goal) error {
	all := make([]int, len(s.actions))
	for a := range all {
		all[a] = a
	}
	could := func() (verdict, error) {
		s.asks = map[string]verdict{}
		return s.mayWork(nil, all, nil)
	}
	v, err := could()
	if err != nil || v != fails {
		return err
	}
	type threat struct {
		vow
		goal  bool
		heads int
	}
	keeping := func(w vow) []vow { return []vow{w} }
	if s.nothing != nil && purseOf(s.p, s.vows, nil).within(s.p, s.nothing) {
		keeping = func(w vow) []vow { return summed(s.p, []vow{w}) }
	}
	var kept []vow
	var danger []threat
	for _, w := range s.vows {
		c := threat{vow: w, goal: goal.Truck != "" && (w.visit == s.wanted && w.visit != "" || goal.Day == calendar.None && w.visit == "" && w.truck == goal.Truck)}
		if x := s.p.FindVisit(w.visit); x != nil {
			c.heads = x.Heads
		}
		if s.nothing != nil && len(check.Conditions(s.p, s.nothing, under(s.p, keeping(w), nil))) == 0 {
			kept = append(kept, w)
		} else {
			danger = append(danger, c)
		}
	}
	slices.SortStableFunc(danger, func(a, b threat) int {
		if a.goal != b.goal {
			if a.goal {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.heads, a.heads)
	})
	asIs := map[string]calendar.Date{} // days of delivery if nothing is done
	if s.nothing != nil {
		for _, d := range Deliveries(s.p, s.nothing) {
			asIs[d.Truck] = d.Day
		}
	}
	saved := 0
	for _, c := range danger {
		try := []vow{c.vow}
		if c.visit != "" && c.day != calendar.None && !c.goal {
			try = append(try, vow{visit: c.visit, truck: c.truck, day: calendar.None})
		}
		if day, ok := asIs[c.truck]; c.visit == "" && ok && !c.goal {
			w := c.vow // at least not later than if nothing is done
			w.by = max(w.by, day)
			try = append(try, w)
		}
		for i, w := range try {
			s.vows = append(slices.Clone(kept), w)
			if v, err = could(); err != nil {
				return err
			}
			if v != fails {
				kept = s.vows
				if i == 0 {
					saved++
				} else if c.visit == "" {
					r.Lost = append(r.Lost, fmt.Sprintf("No measure on the price list delivers %s by %s.", c.truck, say(c.by)))
				} else {
					r.Lost = append(r.Lost, fmt.Sprintf("No measure on the price list keeps visit %s to %s on %s.", c.visit, c.truck, say(c.day)))
				}
				break
			}
			if i < len(try)-1 {
				continue
			}
			if c.goal {
				r.Word = fmt.Sprintf("Nothing on the price list makes it possible, not even all %s together: proven. Longer lead, more weeks, or other measures on the list may.", count(len(s.actions), "measure"))
				return nil
			}
			if c.visit != "" {
				r.Lost = append(r.Lost, fmt.Sprintf("No measure on the price list lets visit %s to %s be held.", c.visit, c.truck))
			} else {
				r.Lost = append(r.Lost, fmt.Sprintf("No measure on the price list delivers %s by %s.", c.truck, say(c.by)))
			}
		}
	}
	s.vows = kept
	s.asks = map[string]verdict{}
	if saved == 0 {
		r.Word = fmt.Sprintf("No measure on the price list saves any of it, not even all %s together: proven. Longer lead, more weeks, or other measures on the list may.", count(len(s.actions), "measure"))
		return nil
	}
	broken := []check.Violation{}
	if s.nothing != nil {
		broken = s.broken(s.nothing)
	}
	s.actions, s.costs = nil, nil
	return s.universe(broken, goal)
}

// ways fills in the alternatives: first those that differ in kind, then, if these are
// too few, those that differ in a department, a customer, a truck.
func (s *search) ways(r *Repairs) error {
	kind := func(a *plant.Action) string { return a.Kind }
	if err := s.quick(); err != nil {
		return err
	}
	var sets [][]int
	useful := 0
	for _, of := range []func(*plant.Action) string{kind, matter} {
		for useful < alternatives && len(r.List) < 2*alternatives {
			best, cheapest, err := s.next(sets, of)
			if err != nil {
				return err
			}
			r.Whole = r.Whole && cheapest
			if len(sets) == 0 && !cheapest && best == nil {
				r.AtLeast = s.floor
			}
			if best == nil {
				break
			}
			repair, err := s.prove(best)
			if err != nil {
				return err
			}
			if repair == nil {
				r.Whole = false
				break
			}
			repair.Cheapest, repair.kept = cheapest, true
			r.List = append(r.List, *repair)
			sets = append(sets, best)
			if r.Goal.Truck != "" || repair.better(r.Nothing) {
				useful++
			}
			if len(best) == 0 {
				break // nothing need be done
			}
		}
	}
	if !r.Whole {
		if err := s.unproven(r, sets); err != nil {
			return err
		}
	}
	switch {
	case !r.Whole && s.ctx.Err() != nil:
		r.Word = fmt.Sprintf("Time ran out after %s: more or cheaper ways out may exist. Give more time.", count(s.asked, "question"))
	case !r.Whole:
		r.Word = fmt.Sprintf("The search was ended after %s: more or cheaper ways out may exist. A shorter price list, or fewer weeks in it, is searched to its end.", count(s.asked, "question"))
	case len(r.List) == 0:
		r.Word = fmt.Sprintf("Nothing on the price list makes it possible, not even all %s together: proven. Longer lead, more weeks, or other measures on the list may.", count(len(s.actions), "measure"))
	case useful < alternatives:
		r.Word = "Proven: the price list has no other way out that is not one of these with something added."
	}
	if r.AtLeast > 0 {
		r.Word += fmt.Sprintf(" None costs less than %s in measures and added damages: proven.", Dollars(r.AtLeast))
	}
	return nil
}

// prove plans with the actions taken, as well as promises can be kept.
func (s *search) prove(set []int) (*Repair, error) {
	actions := s.taken(set)
	p := Under(s.p.With(actions), s.conditions)
	conditions := append(under(s.p, s.vows, actions), s.conditions...)
	purse := purseOf(s.p, s.vows, actions)
	known := s.plans[key(set)]
	if len(check.Conditions(p, known, conditions)) > 0 { // damages are within the sum only
		conditions = append(under(s.p, summed(s.p, s.vows), actions), s.conditions...)
	}
	q, lost, err := poseSome(p, nil, s.ledger, nil, nil, demands(p, conditions)...)
	if err != nil || len(lost) > 0 {
		return nil, err
	}
	q.conditions = conditions
	problem := q.problem
	problem.Tiers = problem.Tiers[:promiseTiers]
	s.asked++
	a, err := schedule.Solve(s.ctx, &problem, schedule.Options{Prefer: q.recall(known)})
	if err != nil || a.Answer == nil {
		return nil, err
	}
	plan := q.plan(a.Answer)
	if !purse.within(p, plan) { // what it saves in visits would cost more damages: these first
		problem.Tiers = append([]schedule.Tier{purse.tier(q)}, problem.Tiers...)
		s.asked++
		if a, err = schedule.Solve(s.ctx, &problem, schedule.Options{Prefer: q.recall(known)}); err != nil || a.Answer == nil {
			return nil, err
		}
		if plan = q.plan(a.Answer); !purse.within(p, plan) {
			return nil, nil // time ran out
		}
		a.Values = a.Values[1:]
	}
	found := check.Plan(p, plan)
	if len(found.Broken) > 0 {
		return nil, fmt.Errorf("%w: %s (of a repair; and %d more)", ErrJudge, found.Broken[0].Sentence, len(found.Broken)-1)
	}
	for t, v := range a.Values {
		if found.Tiers[t].Value != v {
			return nil, fmt.Errorf("%w: tier %s of a repair is %d by the judge, %d by the planner", ErrJudge, found.Tiers[t].Name, found.Tiers[t].Value, v)
		}
	}
	if err := obeyed(p, plan, conditions); err != nil {
		return nil, err
	}
	plan.Status, plan.Tiers = plant.Feasible, found.Tiers
	return s.price(actions, p, plan)
}

// promiseTiers is how many tiers a repair's plan is the best in: those of promises and
// money. Comfort can wait until the repair is chosen.
const promiseTiers = 4

// price works out what a plan costs in promises and dollars.
func (s *search) price(actions []plant.Action, p *plant.Plant, plan *plant.Plan) (*Repair, error) {
	r := &Repair{Actions: actions, Plant: p, Plan: plan}
	for _, a := range actions {
		r.Dollars += a.Dollars
	}
	was := map[string]calendar.Date{}
	for _, v := range s.before.Plan.Visits {
		was[v.Visit] = v.Day
	}
	for _, v := range plan.Visits {
		visit := s.p.FindVisit(v.Visit)
		old, ok := was[v.Visit]
		if !ok || visit == nil || old == calendar.None || v.Visit == s.wanted {
			continue
		}
		if v.Day == calendar.None || visit.Booking.State == plant.Confirmed && v.Day != old {
			r.Moved = append(r.Moved, v.Visit)
			r.Heads += visit.Heads
		}
	}
	slices.Sort(r.Moved)
	r.Trades = s.trades(p, plan, actions)
	for _, d := range Deliveries(p, plan) {
		r.Damages += d.Damages
		if d.Missed {
			r.Missed++
		}
	}
	return r, nil
}

// better reports whether the repair is better than another in promises, damages or
// dollars.
func (r *Repair) better(than *Repair) bool {
	return than.Plan == nil || r.Heads < than.Heads || r.Damages < than.Damages || r.Dollars < than.Dollars
}

// frontier marks the alternatives that no other one makes pointless.
func frontier(r *Repairs) {
	var all []*Repair
	if r.Goal.Truck == "" { // else doing nothing does not reach the goal
		all = append(all, r.Nothing)
	}
	for i := range r.List {
		all = append(all, &r.List[i])
	}
	all = slices.DeleteFunc(all, func(x *Repair) bool { return x.Plan == nil })
	for _, x := range all {
		x.Frontier = !slices.ContainsFunc(all, func(y *Repair) bool {
			return y.Heads <= x.Heads && y.Damages <= x.Damages && y.Dollars <= x.Dollars &&
				(y.Heads < x.Heads || y.Damages < x.Damages || y.Dollars < x.Dollars)
		})
	}
	for i := len(r.List) - 1; i > 0; i-- { // what buys nothing is no alternative
		if r.Goal.Truck == "" && !r.List[i].better(r.Nothing) {
			r.List = slices.Delete(r.List, i, i+1)
		}
	}
	slices.SortStableFunc(r.List, func(x, y Repair) int { return cmp.Compare(x.Total(), y.Total()) })
}

// Sentence says what a repair does and costs.
func (r *Repair) Sentence(p *plant.Plant) string {
	text := "Do nothing"
	if r.kept {
		text = "Take no measure, but plan so that every promise is kept"
	}
	var do []string
	for _, a := range r.Actions {
		do = append(do, SayAction(p, a))
	}
	if len(do) > 0 {
		text = upper(joined(do, "and"))
	}
	text += ": " + r.instead
	switch {
	case r.Plan == nil:
		return text + "no plan obeys every rule."
	case len(r.Moved) == 0:
		text += "no promised day moves"
	default:
		var list []string
		for _, id := range r.Moved {
			list = append(list, r.fate(p, id))
		}
		text += joined(list, "and")
	}
	text += fmt.Sprintf(", damages are %s", Dollars(r.Damages))
	if len(r.Trades) > 0 && r.kept {
		text += fmt.Sprintf(" (%s)", traded(r.Trades))
	}
	if r.Missed > 0 {
		text += ", " + count(r.Missed, "hard deadline") + " missed"
	}
	if len(r.Actions) > 0 {
		text += ", the measures cost " + Dollars(r.Dollars)
	}
	return text + "."
}

// fate says what becomes of a visit.
func (r *Repair) fate(p *plant.Plant, id string) string {
	who := "visit " + id
	if v := p.FindVisit(id); v != nil {
		who = fmt.Sprintf("visit %s to %s (%s)", id, v.Truck, people(v.Heads))
	}
	for _, v := range r.Plan.Visits {
		if v.Visit == id && v.Day != calendar.None {
			return fmt.Sprintf("%s moves to %s", who, say(v.Day))
		}
	}
	return who + " is broken"
}
