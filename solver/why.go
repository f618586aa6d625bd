package solver

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// What an explanation is about.
const (
	AboutDay    = "day"    // whether a visit can be on a day
	AboutBroken = "broken" // why the plan holds a visit on no day
	AboutMoved  = "moved"  // why the plan holds a visit on another day than the booked one
	AboutLate   = "late"   // why the plan delivers a truck after its contract, or after its deadline
)

// An Explanation says whether something can be, and if not, why.
type Explanation struct {
	About    string
	Truck    string
	Visit    string        // "" for a delivery
	Day      calendar.Date // asked for, booked, of the contract or of the deadline; None for a visit that was only requested
	Possible bool
	Status   plant.Status // optimal: decided; unknown: time ran out
	Sentence string       // the answer in one sentence
	Reasons  []string     // together they rule it out, and without any one of them the others do not
	Helps    []string     // what a person can do about it
	Grounds  []Reason     // the same, for machines: one for each of Reasons
	// Sharp: proven that the reasons rule it out together and that without any one of
	// them it can be, by an answer that obeys the others.
	Sharp bool
	Least bool   // proven that no set of reasons weighs less
	Note  string // what is not proven, in a sentence; "" when all is
	// Given is what the conditions change in the plan in force even without the day that is
	// asked about, in sentences.
	Given []string
	Calls int // questions to the SAT solver
}

// Why explains a day for the visit of a truck, in the sense of Offers. With
// o.Conditions these are among the reasons; when no plan obeys them, the error is a
// Contradiction.
func Why(ctx context.Context, p *plant.Plant, truck string, day calendar.Date, o Options) (*Explanation, error) {
	at, err := insist(ctx, p, truck, o.Conditions)
	if err != nil {
		return nil, err
	}
	s, err := at.explained(ctx, truck)
	if err != nil {
		return nil, err
	}
	return s.why(ctx, day)
}

// A standing is a plant with a plan that obeys all of its rules.
type standing struct {
	q      *question
	plan   *plant.Plan
	called string // the plan, for people
	truck  *plant.Truck
	at     *sitting // nil for a plan that was given

	conditions []Condition
	whole      *plant.Plant // the plant without the conditions
}

// explained is what there is to explain for a truck at a sitting.
func (at *sitting) explained(ctx context.Context, truck string) (*standing, error) {
	s := &standing{truck: at.p.FindTruck(truck), called: "the best plan", at: at}
	if err := at.stand(ctx, truck); err != nil {
		return nil, err
	}
	s.q = at.q
	s.plan = s.q.plan(at.standing)
	if s.conditions, s.whole = s.q.conditions, s.q.whole; len(s.conditions) > 0 {
		s.called = "the best plan under what you ask"
	}
	if at.p.Plan != nil && s.q.obeys(at.p.Plan) && len(check.Conditions(at.p, at.p.Plan, s.conditions)) == 0 {
		s.called = fmt.Sprintf("plan %d", at.p.Plan.Revision)
	}
	return s, nil
}

// obeys reports whether a plan answers q as it is.
func (q *question) obeys(plan *plant.Plan) bool {
	_, faults := schedule.Verify(&q.problem, q.recall(plan))
	return len(faults) == 0
}

// dispute lays out what stands against something about a row of the truck, in the
// tiers up to one.
func (s *standing) dispute(row string, tier string) (*dispute, error) {
	loose, lost, err := pose(s.q.p, nil, &apart{s.truck.ID})
	if err != nil {
		return nil, err
	}
	if len(lost) > 0 {
		return nil, &NoVisit{lost[0].Truck, fmt.Sprintf("no plan holds its stage %s: %s", lost[0].Stage, lost[0].Why)}
	}
	return newDispute(loose, s.truck, s.plan, s.called, rowKey{s.truck.ID, row}, tier, s.conditions)
}

// settle decides whether something about a row of the truck can be, and finds the
// reasons why not. wish is what is wanted, false when it has no start at all; the
// dispute then tells why.
func (s *standing) settle(ctx context.Context, x *Explanation, row, tier string, wish func(d *dispute) ([]schedule.Limit, bool)) (d *dispute, ok bool, err error) {
	if d, err = s.dispute(row, tier); err != nil {
		return nil, false, err
	}
	want, ok := wish(d)
	if !ok {
		return d, false, nil
	}
	if err := d.explain(ctx, x, want); err != nil || x.Possible || x.Status != plant.Optimal {
		return d, true, err
	}
	return d, true, s.worked(ctx, x, row, tier, wish)
}

// worked looks whether conditions that take working time away are among the reasons:
// each without which the wanted would be possible. The reasons in x are those in the
// plant without that time; they are found anew where some of it is given back.
func (s *standing) worked(ctx context.Context, x *Explanation, row, tier string, wish func(d *dispute) ([]schedule.Limit, bool)) error {
	var needed []Condition
	left, freed := s, false
	for _, c := range s.conditions {
		if c.Kind != plant.NoOvertime || Under(s.whole, []Condition{c}) == s.whole {
			continue
		}
		less := *left
		less.conditions = slices.DeleteFunc(slices.Clone(left.conditions), func(k Condition) bool { return k == c })
		q, lost, err := ask(Under(s.whole, less.conditions))
		if err != nil {
			return err
		}
		if len(lost) > 0 {
			continue
		}
		less.q, less.truck = q, q.p.FindTruck(s.truck.ID)
		d, err := less.dispute(row, tier)
		if err != nil {
			return err
		}
		status := schedule.Infeasible
		if want, ok := wish(d); ok {
			if _, status, err = d.Possible(ctx, want, d.everything()); err != nil {
				return err
			}
		}
		switch status {
		case schedule.Infeasible:
			left, freed = &less, true
		default:
			needed = append(needed, c)
			x.Sharp = x.Sharp && status == schedule.Feasible
		}
	}
	if freed {
		d, err := left.dispute(row, tier)
		if err != nil {
			return err
		}
		if want, ok := wish(d); ok {
			sharp := x.Sharp
			x.Reasons, x.Helps, x.Grounds = nil, nil, nil
			if err := d.explain(ctx, x, want); err != nil {
				return err
			}
			x.Sharp = x.Sharp && (sharp || len(needed) == 0)
		}
	}
	if len(needed) == 0 {
		return nil
	}
	var list []Reason
	for _, c := range needed {
		r := insisting(s.q.p, c)
		r.Sentence = upper(r.Sentence)
		list = append(list, r)
	}
	list = append(x.Grounds, list...)
	x.Reasons, x.Helps = nil, nil
	x.give(list)
	if x.Least = false; x.Note == "" {
		x.Note = "None of these reasons can be left out. Whether others would be fewer or lighter was not looked into."
	}
	return nil
}

// why explains a day for the visit of the truck.
func (s *standing) why(ctx context.Context, day calendar.Date) (*Explanation, error) {
	task, ok := s.q.inspection(s.truck.ID)
	if !ok {
		return nil, &NoVisit{s.truck.ID, "it has no visit that still has to take place: add one under visits"}
	}
	row := s.q.work[task].row()
	x := &Explanation{About: AboutDay, Truck: s.truck.ID, Visit: s.q.work[task].visit.ID, Day: day, Status: plant.Optimal}
	x.Given = s.at.given()
	d, ok, err := s.settle(ctx, x, row, plant.TierDamages, func(d *dispute) ([]schedule.Limit, bool) { return d.onDay(row, day) })
	if err != nil {
		return nil, err
	}
	if !ok {
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s.", x.Truck, say(day))
		x.give([]Reason{d.nobodyWorks(&d.q.work[d.q.at[rowKey{s.truck.ID, row}]], day)})
		x.Sharp, x.Least = true, true
		d.q.ends(x)
		return x, nil
	}
	if !x.Possible && x.Status == plant.Optimal && slices.ContainsFunc(x.Grounds, func(r Reason) bool { return r.Kind == ReasonPromise && r.Visit == "" }) {
		if done, err := s.traded(ctx, x, day); done || err != nil {
			return x, err
		}
	}
	switch {
	case x.Possible:
		x.possible()
	case x.Status == plant.Unknown:
		return s.byName(ctx, x, task, day)
	case slices.ContainsFunc(x.Grounds, func(r Reason) bool { return r.Kind == ReasonCondition }):
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s under what you ask.", x.Truck, say(day))
	case slices.ContainsFunc(x.Grounds, func(r Reason) bool { return r.Kind == ReasonPromise }):
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s without moving a confirmed visit or adding damages.", x.Truck, say(day))
	default:
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s, whatever other visit or delivery moves.", x.Truck, say(day))
	}
	d.q.ends(x)
	return x, nil
}

// possible says that a day is possible.
func (x *Explanation) possible() {
	beyond := ""
	if len(x.Given) > 0 {
		beyond = " beyond that"
	}
	x.Sentence = fmt.Sprintf("%s can be shown on %s: no other confirmed visit moves and no damages are added%s.", x.Truck, say(x.Day), beyond)
}

// onDay is the wish that a row of the truck starts on a day.
func (d *dispute) onDay(row string, day calendar.Date) ([]schedule.Limit, bool) {
	i, ok := d.q.at[rowKey{d.truck.ID, row}]
	if !ok {
		return nil, false
	}
	k := slices.IndexFunc(d.q.work[i].moves, func(m move) bool { return m.day() == day })
	if k < 0 {
		return nil, false
	}
	lo, hi := d.q.work[i].sameDay(k)
	return []schedule.Limit{{Task: i, Lo: lo, Hi: hi}}, true
}

// delivered is the wish that a row of the truck is over by a day.
func (d *dispute) delivered(row string, by calendar.Date) ([]schedule.Limit, bool) {
	i, ok := d.q.at[rowKey{d.truck.ID, row}]
	k := -1
	for ok && k+1 < len(d.q.work[i].moves) && d.q.work[i].moves[k+1].last() <= by {
		k++
	}
	return []schedule.Limit{{Task: i, Hi: k}}, k >= 0
}

// explain decides whether something wanted can be, and finds the reasons why not.
func (d *dispute) explain(ctx context.Context, x *Explanation, want []schedule.Limit) error {
	d.want = want
	f, err := d.find(ctx, want)
	if err != nil {
		return err
	}
	if f == nil {
		_, status, err := d.Possible(ctx, want, d.everything())
		switch {
		case err != nil:
			return err
		case status == schedule.Feasible:
			x.Possible = true
		case status == schedule.Infeasible: // wider windows show it
			if f, err = d.find(ctx, want); err != nil {
				return err
			}
		}
		if f == nil && !x.Possible {
			x.Status = plant.Unknown
		}
	}
	if f != nil {
		x.give(d.causes(ctx, f, want))
		x.Sharp, x.Least = f.Sharp, f.Least
		switch {
		case !f.Sharp:
			x.Note = "Whether every one of these reasons is needed was not decided."
		case !f.Least && d.budget() == 0:
			x.Note = "None of these reasons can be left out. Whether others would be fewer or lighter was not looked into: with so many trucks that takes too long."
		case !f.Least:
			x.Note = fmt.Sprintf("None of these reasons can be left out. The search for fewer or lighter ones was ended after %s questions; there may be some.", thousands(d.Calls()))
		}
	}
	x.Calls = d.Calls()
	return nil
}

// give puts the reasons into an explanation.
func (x *Explanation) give(list []Reason) {
	x.Grounds = list
	for _, r := range list {
		x.Reasons = append(x.Reasons, r.Sentence)
		if r.Help != "" && !slices.Contains(x.Helps, r.Help) {
			x.Helps = append(x.Helps, r.Help)
		}
	}
}

// byName decides a day that nothing but telling the bays apart is left to decide, or
// for which time ran out.
func (s *standing) byName(ctx context.Context, x *Explanation, task int, day calendar.Date) (*Explanation, error) {
	x.Sentence = fmt.Sprintf("Whether %s can be shown on %s was not decided in the time given: give more with --limit.", x.Truck, say(day))
	if ctx.Err() != nil {
		return x, nil
	}
	d, err := s.at.at(ctx, x.Truck)
	if err != nil {
		return nil, err
	}
	w := &d.q.work[d.task]
	k := slices.IndexFunc(w.moves, func(m move) bool { return m.day() == day })
	if k < 0 {
		return x, nil
	}
	lo, hi := w.sameDay(k)
	_, status, err := d.prober.Possible(ctx, d.task, lo, hi)
	if err != nil {
		return nil, err
	}
	switch status {
	case schedule.Feasible:
		x.Possible, x.Status = true, plant.Optimal
		x.possible()
	case schedule.Infeasible:
		c := d.prober.Conflict(ctx, d.task, lo, hi)
		x.Status, x.Note = plant.Optimal, "The stays do not fit into the bays as they are cut up, each truck in one bay all of its time; whether every one of these reasons is needed was not decided."
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s without moving a confirmed visit or adding damages.", x.Truck, say(day))
		x.Reasons, x.Helps = d.reasons(c, day)
		for _, r := range x.Reasons {
			x.Grounds = append(x.Grounds, Reason{Kind: ReasonBay, Sentence: r, From: calendar.None, Through: calendar.None})
		}
	}
	return x, nil
}

// nobodyWorks says why a visit cannot start on a day at all, whoever gives way.
func (d *dispute) nobodyWorks(w *work, day calendar.Date) Reason {
	q := d.q
	r := Reason{Kind: ReasonCalendar, Truck: w.truck.ID, Visit: w.visit.ID, Stage: w.stage.ID, From: day, Through: day}
	first := w.hours.Next(q.now)
	switch {
	case day < q.p.AsOf.Date():
		r.Sentence, r.Help = fmt.Sprintf("The day is past: the plant file speaks as of %s.", say(q.p.AsOf.Date())), "a day from now on"
	case day > q.grid.Through():
		r.Sentence, r.Help = fmt.Sprintf("Nothing after %s is planned.", say(q.grid.Through())), laterHorizon
	case !w.hours.WorksDay(day):
		r.Help = "work on that day as overtime"
		if why, closed := w.hours.Closed(day); closed {
			r.Sentence = fmt.Sprintf("The showroom is closed: %s.", why)
		} else {
			r.Sentence = fmt.Sprintf("The showroom does not work on a %s.", day.Weekday())
		}
	case first < q.grid.Slots() && q.grid.Date(first) >= day:
		r.Sentence, r.Help = fmt.Sprintf("The truck has to be lined up before the visit, and now, %s, it is too late for that.", sayTime(q.p.AsOf)), "a later day"
	default:
		r.Sentence = fmt.Sprintf("A visit of %s that starts on a %s would run over a weekend, a closure, the end of a shift or the end of the horizon, which it may not.", count(w.visit.Halves, "half day"), day.Weekday())
		r.Help = "another day of the week, or a shorter visit"
	}
	return r
}

// Causes explains every visit that the plan breaks or moves and every delivery that it
// makes late, of one truck or, with "", of all, in the order of the plant's trucks. The
// plan must obey the rules of the plant, and o.Conditions, which are among the reasons.
func Causes(ctx context.Context, p *plant.Plant, plan *plant.Plan, truck string, o Options) ([]*Explanation, error) {
	whole := p
	p = Under(p, o.Conditions)
	q, lost, err := ask(p)
	if err != nil {
		return nil, err
	}
	if len(lost) > 0 || !q.obeys(plan) || len(check.Conditions(p, plan, o.Conditions)) > 0 {
		return nil, ErrStale
	}
	called := "this plan"
	if p.Plan == plan {
		called = fmt.Sprintf("plan %d", plan.Revision)
	}
	var list []*Explanation
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if truck != "" && t.ID != truck {
			continue
		}
		s := &standing{q: q, plan: plan, called: called, truck: t, conditions: o.Conditions, whole: whole}
		for _, out := range plan.Visits {
			v := p.FindVisit(out.Visit)
			if v.Truck != t.ID || out.Outcome != plant.Broken && out.Outcome != plant.Moved {
				continue
			}
			x, err := s.causeOfVisit(ctx, v, out)
			if err != nil {
				return nil, err
			}
			list = append(list, x)
		}
	}
	for _, late := range Deliveries(p, plan) {
		if late.Late == 0 && !late.Missed || truck != "" && late.Truck != truck {
			continue
		}
		s := &standing{q: q, plan: plan, called: called, truck: p.FindTruck(late.Truck), conditions: o.Conditions, whole: whole}
		x, err := s.causeOfLateness(ctx, late)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	at := map[string]int{}
	for i := range p.Trucks {
		at[p.Trucks[i].ID] = i
	}
	slices.SortStableFunc(list, func(x, y *Explanation) int { return at[x.Truck] - at[y.Truck] })
	return list, nil
}

// ErrStale is returned for a plan that does not obey the rules of the plant as it is.
var ErrStale = errors.New("the plan does not fit the plant any more")

// causeOfVisit explains a visit that the plan breaks or moves.
func (s *standing) causeOfVisit(ctx context.Context, v *plant.Visit, out plant.PlannedVisit) (*Explanation, error) {
	p := s.q.p
	x := &Explanation{About: AboutBroken, Truck: v.Truck, Visit: v.ID, Day: v.Booking.Day, Status: plant.Optimal}
	if out.Outcome == plant.Moved {
		x.About = AboutMoved
	}
	row := ""
	for i := range p.Route {
		if p.Route[i].Visit == v.Kind && p.Applies(s.truck, &p.Route[i]) {
			row = p.Route[i].ID
		}
	}
	tier := plant.TierConfirmed
	switch {
	case p.Frozen(v):
		tier = plant.TierFrozen
	case x.About == AboutMoved && v.Booking.State != plant.Confirmed:
		tier = plant.TierWishes
	}
	lead := fmt.Sprintf("The %s %s of %s is held on no day by %s", kindName(v.Kind), v.ID, v.Truck, s.called)
	if x.About == AboutMoved {
		lead = fmt.Sprintf("The %s %s of %s moves from %s to %s by %s", kindName(v.Kind), v.ID, v.Truck, say(v.Booking.Day), say(out.Day), s.called)
	}
	d, ok, err := s.settle(ctx, x, row, tier, func(d *dispute) ([]schedule.Limit, bool) {
		if x.About == AboutMoved {
			return d.onDay(row, v.Booking.Day)
		}
		i, known := d.q.at[rowKey{v.Truck, row}]
		if !known || len(d.q.work[i].moves) == 0 {
			return nil, false
		}
		return []schedule.Limit{{Task: i, Hi: len(d.q.work[i].moves) - 1}}, true
	})
	if err != nil {
		return nil, err
	}
	if !ok {
		x.Sentence = lead + "."
		if i, known := d.q.at[rowKey{v.Truck, row}]; known && v.Booking.Day != calendar.None {
			x.give([]Reason{d.nobodyWorks(&d.q.work[i], v.Booking.Day)})
			x.Sharp, x.Least = true, true
		} else {
			x.Status = plant.Unknown
		}
		return x, nil
	}
	return x, x.conclude(lead, map[string]string{AboutBroken: "it cannot be held", AboutMoved: "it cannot stay"}[x.About])
}

// causeOfLateness explains a late delivery.
func (s *standing) causeOfLateness(ctx context.Context, late Delivery) (*Explanation, error) {
	x := &Explanation{About: AboutLate, Truck: late.Truck, Day: late.Due, Status: plant.Optimal}
	tier, what := plant.TierLateness, "its contract"
	switch c := &s.truck.Contract; {
	case late.Missed:
		x.Day, tier, what = late.Deadline, plant.TierDeadlines, "its hard deadline"
	case c.DamagesPerDay > 0:
		tier = plant.TierDamages
	}
	row := ""
	for i := range s.q.p.Route {
		if s.q.p.Route[i].Delivers && s.q.p.Applies(s.truck, &s.q.p.Route[i]) {
			row = s.q.p.Route[i].ID
		}
	}
	lead := fmt.Sprintf("%s is delivered on %s by %s, %s after %s", late.Truck, say(late.Day), s.called, count(int(late.Day-x.Day), "day"), what)
	_, ok, err := s.settle(ctx, x, row, tier, func(d *dispute) ([]schedule.Limit, bool) {
		return d.delivered(row, x.Day)
	})
	if err != nil {
		return nil, err
	}
	if !ok {
		x.Sentence = lead + "."
		x.give([]Reason{s.q.noDrive(late.Truck, row, x.Day)})
		x.Sharp, x.Least = true, true
		return x, nil
	}
	return x, x.conclude(lead, fmt.Sprintf("it cannot be delivered by %s", say(x.Day)))
}

// noDrive says that no drive of a truck ends by a day, whoever gives way.
func (q *question) noDrive(truck, row string, by calendar.Date) Reason {
	return Reason{Kind: ReasonCalendar, Truck: truck, Stage: row, From: by, Through: by,
		Sentence: fmt.Sprintf("As of %s, no drive to the customer of %s ends by %s.", say(q.p.AsOf.Date()), truck, say(by)),
		Help:     "agree on a later day of delivery"}
}

// conclude writes the sentence of an explanation about a plan.
func (x *Explanation) conclude(lead, cannot string) error {
	switch {
	case x.Possible:
		x.Sentence = lead + ", and nothing that comes first stands in the way: a better plan exists, make it with wetdown plan."
	case x.Status == plant.Unknown:
		x.Sentence = lead + "; why was not decided in the time given: give more with --limit."
	default:
		x.Sentence = lead + ": " + cannot + "."
	}
	return nil
}

// contradiction says why no plan obeys all the rules of a plant whose stages all have
// some start: which trucks, bays and crews do not go together.
func contradiction(ctx context.Context, p *plant.Plant) ([]Reason, error) {
	q, lost, err := pose(p, nil, &apart{})
	if err != nil || len(lost) > 0 {
		return nil, err
	}
	d, err := newDispute(q, nil, nil, "", rowKey{}, "", nil)
	if err != nil {
		return nil, err
	}
	f, err := d.find(ctx, nil)
	if err != nil || f == nil {
		return nil, err
	}
	return d.causes(ctx, f, nil), nil
}

// laterHorizon helps against the end of what the plant file plans.
const laterHorizon = "a later day under through of the horizon, in the plant file"

// ends says plainly when it is the plant file that ends, and not the plant that
// cannot.
func (q *question) ends(x *Explanation) {
	if slices.Contains(x.Helps, laterHorizon) {
		x.Sentence = fmt.Sprintf("The horizon of the plant file ends on %s, too early for a visit to %s on %s: what a longer one would allow is not known.", say(q.grid.Through()), x.Truck, say(x.Day))
	}
}

// say writes a day for people.
func say(d calendar.Date) string {
	return d.Weekday().String()[:3] + " " + d.String()
}

// because is the reasons in one sentence.
func (d *desk) because(c schedule.Conflict, day calendar.Date) string {
	r, _ := d.reasons(c, day)
	return strings.TrimSuffix(strings.Join(r, " "), ".")
}

// reasons turns a conflict into sentences, and into what would lift each of them.
// The order of the stages and the calendar are always among the reasons; they are
// said by the earliest day that they alone allow.
func (d *desk) reasons(c schedule.Conflict, day calendar.Date) (reasons, helps []string) {
	q := d.q
	w := &q.work[d.task]
	if len(c.Limits)+len(c.Resources)+len(c.Sets) == 0 {
		pace, help := d.pace(w, day)
		reasons, helps = append(reasons, pace), append(helps, help)
	}
	for _, set := range c.Sets {
		reasons = append(reasons, fmt.Sprintf("%s %s %s full when it would need %s%s.", bays(len(set)), joined(q.bayNames(set), "and"), are(len(set)), them(len(set)), d.holders(set)))
		helps = append(helps, fmt.Sprintf("one more bay like %s", joined(q.bayNames(set), "or")))
	}
	for _, r := range c.Resources {
		name := q.problem.Resources[r].Name
		if crew := q.p.FindCrew(name); crew != nil {
			reasons = append(reasons, fmt.Sprintf("%s (%d on a full day) have no heads to spare in the parts of the days that matter.", crew.Name, crew.Size))
			helps = append(helps, fmt.Sprintf("one more head among %s", crew.Name))
		} else {
			reasons = append(reasons, fmt.Sprintf("%s can stand in one place only at a time.", strings.TrimSuffix(name, " during its visit")))
		}
	}
	for _, n := range c.Limits {
		pr := d.promises[n]
		switch {
		case pr.visit != nil && pr.visit.Booking.State == plant.Confirmed:
			m := q.work[pr.limit.Task].moves[pr.limit.Lo]
			reasons = append(reasons, fmt.Sprintf("the visit %s to %s is confirmed and stays on %s.", pr.visit.ID, pr.truck.ID, say(m.day())))
			if !q.p.Frozen(pr.visit) {
				helps = append(helps, fmt.Sprintf("ask the customer of %s to move its visit", pr.truck.ID))
			}
		case pr.visit != nil:
			reasons = append(reasons, fmt.Sprintf("the visit %s to %s has to be held on some day of its windows.", pr.visit.ID, pr.truck.ID))
			helps = append(helps, fmt.Sprintf("wider windows for the visit to %s", pr.truck.ID))
		default:
			m := q.work[pr.limit.Task].moves[pr.limit.Hi]
			reasons = append(reasons, fmt.Sprintf("%s has to be delivered by %s, or damages grow or a hard deadline is missed.", pr.truck.ID, say(m.last())))
			helps = append(helps, fmt.Sprintf("accept a later delivery of %s", pr.truck.ID))
		}
	}
	for i := range reasons {
		reasons[i] = strings.ToUpper(reasons[i][:1]) + reasons[i][1:]
	}
	return reasons, helps
}

// holders says who holds the bays around the time the truck would need them, by
// the plan in force.
func (d *desk) holders(set []int) string {
	q := d.q
	truck := q.work[d.task].truck.ID
	var from, to schedule.Slot = -1, -1
	for i := range q.work { // the truck's own stay in such a bay, by the same plan
		if q.work[i].truck.ID == truck && d.standing.Start[i] >= 0 && slices.Contains(set, d.standing.Machine[i]) {
			m := q.work[i].moves[d.standing.Start[i]]
			from, to = m.hold, m.finish
		}
	}
	if from < 0 {
		return ""
	}
	var who []string
	for i := range q.work {
		k := d.standing.Start[i]
		if k < 0 || q.work[i].truck.ID == truck || !slices.Contains(set, d.standing.Machine[i]) {
			continue
		}
		if m := q.work[i].moves[k]; m.hold <= to && m.finish >= from-4 {
			who = append(who, fmt.Sprintf("%s holds %s until %s", q.work[i].truck.ID, q.p.Bays[d.standing.Machine[i]].ID, m.end))
		}
	}
	if len(who) > 4 {
		who = append(who[:4], "and others")
	}
	if len(who) == 0 {
		return ""
	}
	return ": in the plan in force " + strings.Join(who, ", ")
}

// pace says between which days the truck could be shown if it were alone in the
// plant, and what would change that.
func (d *desk) pace(w *work, day calendar.Date) (reason, help string) {
	q := d.q
	help = "an earlier line-off, shorter stages, or a smaller buffer between the last certificate and the visit"
	lo, hi := d.prober.Window(d.task)
	off := fmt.Sprintf("%s comes off the line on %s", w.truck.ID, say(q.lineOff.LineOff(w.truck.ID)))
	switch {
	case lo > hi:
		return off + ", and no day of the visit's windows leaves room for its stages before and after, even with the plant to itself.", help + "; or a later last day of the horizon"
	case day < w.moves[lo].day():
		return fmt.Sprintf("%s, and with its stages up to the visit, their waits and the buffer of %d working days after the last certificate it can be shown on %s at the earliest, even with the plant to itself.",
			off, q.p.Buffer.ReadyWorkDays, say(w.moves[lo].day())), help
	case day > w.moves[hi].day():
		return fmt.Sprintf("after a visit later than %s, its stages up to delivery do not fit before the horizon ends on %s.", say(w.moves[hi].day()), q.grid.Through()), laterHorizon
	}
	return off + ", and the order of its stages, with what is done and what runs already, leaves no way to that day.", help
}

// unsuited says why a visit has no start at all on a day.
func (q *question) unsuited(w *work, day calendar.Date) (reasons, helps []string) {
	v := w.visit
	add := func(help, format string, args ...any) {
		reasons = append(reasons, fmt.Sprintf(format, args...))
		if help != "" {
			helps = append(helps, help)
		}
	}
	switch {
	case day < q.p.AsOf.Date():
		add("a day from now on", "The day is past: the plant file speaks as of %s.", say(q.p.AsOf.Date()))
		return reasons, helps
	case day > q.grid.Through():
		add(laterHorizon, "Nothing after %s is planned.", say(q.grid.Through()))
		return reasons, helps
	case !w.hours.WorksDay(day):
		if why, closed := w.hours.Closed(day); closed {
			add("work on that day as overtime", "The showroom is closed: %s.", why)
		} else {
			add("work on that day as overtime", "The showroom does not work on a %s.", day.Weekday())
		}
	}
	if q.p.Frozen(v) && day != v.Booking.Day {
		add("", "The visit is frozen on %s: travel is bought.", say(v.Booking.Day))
	}
	if !slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(day) }) {
		add("ask the customer for wider windows", "The customer cannot come on that day: it lies in none of the windows.")
	}
	for d := day.AddDays(-v.TravelDays); d <= day.AddDays(v.TravelDays); d++ {
		for _, b := range v.Blackouts {
			if b.Contains(d) {
				add("ask the customer about "+d.String(), "The customer is away on %s: %s.", say(d), b.Reason)
			}
		}
	}
	if day < q.p.AsOf.Date().AddDays(q.p.Buffer.NoticeDays) && day != v.Booking.Day {
		add("", "It is nearer than the %d days of notice that a customer gets.", q.p.Buffer.NoticeDays)
	}
	if off := q.lineOff.LineOff(w.truck.ID); off != calendar.None && day <= off {
		add("", "The truck comes off the line on %s.", say(off))
	}
	if len(reasons) > 0 {
		return reasons, helps
	}
	for part := range q.grid.Parts() {
		slot := q.grid.Slot(day, part)
		if w.hours.Work(slot) == 0 || len(w.stage.StartIn) > 0 && !slices.Contains(w.stage.StartIn, q.p.Parts[part].ID) {
			continue
		}
		q.objections(w, slot, add)
		if len(reasons) > 0 {
			return reasons, helps
		}
	}
	add("another day", "The visit cannot start on a %s: its department does not work then in a part of the day in which the visit may start.", day.Weekday())
	return reasons, helps
}

// objections says what stands against a visit that starts in a slot of a day that
// its customer could come on.
func (q *question) objections(w *work, slot calendar.Slot, add func(help, format string, args ...any)) {
	v, h := w.visit, w.hours
	m := move{start: h.First(slot), begin: slot, hold: slot}
	for range w.stage.HoldBefore {
		m.hold = h.Prev(m.hold - 1)
	}
	var ok bool
	if m.end, m.finish, ok = q.lasting(w.truck, w.stage, v, h, slot, m.start); !ok {
		add(laterHorizon, "The visit would run past the end of the horizon, %s.", q.grid.Through())
		return
	}
	for _, x := range q.demands {
		if x.truck == w.truck.ID && x.stage == w.stage.ID && !x.may(m) {
			r := insisting(q.p, x.of)
			add(r.Help, "%s", upper(r.Sentence))
		}
	}
	off := q.lineOff.LineOff(w.truck.ID)
	if m.hold < 0 || !w.ready() && q.past(h, m.hold) || off != calendar.None && w.stage.Station == "" && q.grid.Date(m.hold) <= off {
		add("", "The truck would have to take its place on the floor before it is there: it comes off the line on %s.", say(off))
	}
	if q.crosses(w, m) {
		add("a day earlier in the week, or a shorter visit", "A visit of %d halves that starts then runs until %s, over a weekend, a closure or a shift's end that it may not cross.", v.Halves, say(m.last()))
	}
	for s := m.begin; s <= m.finish; s++ {
		d := q.grid.Date(s)
		if h.Work(s) > 0 && !slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(d) }) {
			add("ask the customer for wider windows, or for a shorter visit", "The visit runs until %s, and the customer cannot stay: that day lies in none of the windows.", say(m.last()))
			break
		}
	}
	for d := day0(m, v); d <= m.last().AddDays(v.TravelDays); d++ {
		for _, b := range v.Blackouts {
			if b.Contains(d) {
				add("ask the customer about "+d.String(), "The customer is away on %s: %s.", say(d), b.Reason)
			}
		}
		if c := q.p.FindCustomer(w.truck.Customer); c != nil && c.Calendar != "" {
			if away, err := q.customer(c.Calendar); err == nil {
				if why, closed := away.Closed(d); closed {
					add("another week", "%s is a day off for the customer: %s.", say(d), why)
				}
			}
		}
	}
	for _, n := range w.stage.Crews {
		for s := m.begin; s <= m.finish; s++ {
			if have := q.heads(n.Crew, s); h.Work(s) > 0 && have < int32(n.Heads) {
				name := n.Crew
				if c := q.p.FindCrew(n.Crew); c != nil {
					name = c.Name
				}
				add("one more head among "+name+" on that day", "%s: %d of the %d needed are there on %s.", name, have, n.Heads, say(q.grid.Date(s)))
				break
			}
		}
	}
	if able := q.able(w.truck, w.stage.Bay, w.stands()); w.stage.Bay != "" && (len(able) == 0 || !q.anyOpen(able, m)) {
		add("open one of them", "No bay that can take the truck is open throughout: %s.", joined(q.bayNames(able), "and"))
	}
	if !q.certified(w, m) {
		add("a shorter buffer, if its approver agrees", "It comes sooner than %d full working days after the last certificate.", q.p.Buffer.ReadyWorkDays)
	}
	for _, l := range q.links(w.truck, w.stage) {
		for _, d := range w.truck.Done {
			if finish, ok := q.grid.At(d.Ended - 1); d.Stage == l.stage.ID && ok {
				switch {
				case !q.reached(w, m, d.Ended, finish, l.after):
					add("", "It comes too soon after %s, which ended on %s.", l.stage.Name, say(d.Ended.Date()))
				case q.exceeded(w, m, d.Ended, l.after):
					add("repeat "+l.stage.Name, "It comes too long after %s, which ended on %s.", l.stage.Name, say(d.Ended.Date()))
				}
			}
		}
	}
}

// day0 is the first day of travel to a visit.
func day0(m move, v *plant.Visit) calendar.Date { return m.day().AddDays(-v.TravelDays) }

func joined(names []string, word string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " " + word + " " + names[n-1]
	}
	return strings.Join(names, "")
}

func bays(n int) string {
	if n > 1 {
		return "bays"
	}
	return "bay"
}

func are(n int) string {
	if n > 1 {
		return "are"
	}
	return "is"
}

func them(n int) string {
	if n > 1 {
		return "one of them"
	}
	return "it"
}
