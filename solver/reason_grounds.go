package solver

import (
	"context"
	"fmt"
	"math/bits"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// What a reason is about.
const (
	ReasonPromise  = "promise"  // a visit or delivery of another truck, or of this one
	ReasonBay      = "bay"      // bays are taken
	ReasonClosed   = "closed"   // a bay is closed
	ReasonUnfit    = "unfit"    // a bay does not take the truck
	ReasonCrew     = "crew"     // a crew has no heads to spare
	ReasonBuffer   = "buffer"   // working days between the last certificate and the visit
	ReasonWait     = "wait"     // a wait between two stages
	ReasonCustomer = "customer" // days on which the customer cannot come
	ReasonNotice   = "notice"   // days of notice that a customer gets
	ReasonTravel   = "travel"   // travel is bought for another day
	ReasonLineOff  = "line_off" // the day on which the truck comes off the line
	ReasonRunning  = "running"  // work under way
	ReasonWish     = "wish"     // what the delegation wants to do in its visit
	ReasonOrder    = "order"    // the stages of the truck come one after the other
	ReasonCalendar = "calendar" // nobody works then, or the plant file ends
	ReasonWork     = "work"     // another truck has to be finished

	ReasonCondition = "condition" // what the person who asks insists on
)

// weights say how gladly a reason is named: each costs, and what nobody can change
// costs more, so that few reasons are found and among as few those that a person can
// act on.
var weights = map[string]int64{
	ReasonBay: 10, ReasonCrew: 10, ReasonClosed: 10, ReasonUnfit: 11, ReasonBuffer: 11,
	ReasonCustomer: 12, ReasonWish: 12, ReasonCondition: 12, ReasonPromise: 13, ReasonNotice: 16, ReasonLineOff: 16, ReasonWork: 16,
	ReasonRunning: 22, ReasonTravel: 24, ReasonWait: 25, ReasonOrder: 30,
}

// heavyPromise is the weight of a promise that nobody moves: a frozen visit, a hard
// deadline.
const heavyPromise = 24

// A ground is one thing that a set of reasons may name.
type ground struct {
	kind     string
	weight   int64
	set      []int // ReasonBay: the bays, by number
	bay      int   // ReasonClosed
	property string
	need     string // ReasonUnfit: the kind of bay
	crew     *plant.Crew
	promise  *promise
	task     int // what waits, runs, or is ruled out; -1 for all of the truck's
	before   *plant.Stage
	after    plant.After
	rule     rules
	truck    *plant.Truck // ReasonWork

	condition *Condition // ReasonCondition
}

// A dispute is a plan and something about one truck that is not so in it.
type dispute struct {
	q       *question // with the truck's own rules kept apart
	truck   *plant.Truck
	plan    *plant.Plan // the plan that blocks
	called  string      // its name for people
	near    *schedule.Answer
	grounds []ground
	own     []int // grounds that are rules of the truck's own
	closed  map[int]int
	sets    [][]int
	full    []int          // ground by set
	unfit   map[string]int // ground by kind of bay and property
	subject rowKey         // what is asked about
	want    []schedule.Limit
	spans   []span // by task, see frame
	soon    []int  // by task: its first start as things are wanted, see frame; nil when there is none
	*schedule.Dispute
}

// newDispute lays out everything that the plan holds for somebody in the tiers up to
// one, what the plant has, the rules of one truck, and conditions. The task that is asked
// about is in no promise; without a tier, nothing is promised.
func newDispute(q *question, truck *plant.Truck, plan *plant.Plan, called string, asked rowKey, tier string, conditions []Condition) (*dispute, error) {
	d := &dispute{q: q, truck: truck, plan: plan, called: called, closed: map[int]int{}, unfit: map[string]int{}, subject: asked}
	if plan != nil {
		d.near = q.recall(plan)
	}
	p := q.problem
	p.Tiers = nil
	p.Tasks = slices.Clone(p.Tasks)
	crews := len(p.Resources) - len(q.p.Crews)
	p.Resources = slices.Clone(p.Resources[:crews])
	job := -1
	for i := range p.Tasks {
		if q.work[i].truck == truck {
			job = p.Tasks[i].Job
		}
	}
	d.Dispute = &schedule.Dispute{Problem: &p, Job: job, Near: d.near, Rooms: d.rooms}
	for s := range q.grid.Slots() {
		d.Period = append(d.Period, int(q.grid.Date(s)-q.grid.From())/7)
	}
	d.running()
	insisted := d.conditions(conditions, tier != "")
	if truck == nil {
		d.everybody()
	} else {
		d.ownRules()
		d.ownOrder()
		d.wishes()
		for _, pr := range q.stakes(d.near, asked, tier) {
			if slices.ContainsFunc(insisted, func(l schedule.Limit) bool {
				return l.Task == pr.limit.Task && l.Lo >= pr.limit.Lo && l.Hi <= pr.limit.Hi
			}) {
				continue // a condition asks for no less
			}
			n := d.add(ground{kind: ReasonPromise, promise: &pr, task: pr.limit.Task})
			if pr.visit != nil && q.p.Frozen(pr.visit) || pr.visit == nil && pr.truck.Contract.DamagesPerDay == 0 && tier == plant.TierDamages {
				d.grounds[n].weight = heavyPromise
			}
			d.term(schedule.Term{Limit: &pr.limit}, n)
		}
	}
	for n := range q.p.Crews {
		g := d.add(ground{kind: ReasonCrew, crew: &q.p.Crews[n], task: -1})
		d.term(schedule.Term{Resource: &q.problem.Resources[crews+n]}, g)
	}
	d.bays()
	for i := range p.Tasks { // where they stand is in the terms
		p.Tasks[i].Able = nil
	}
	d.Grounds = len(d.grounds)
	return d, d.Open()
}

func (d *dispute) add(g ground) int {
	g.weight = weights[g.kind]
	d.grounds = append(d.grounds, g)
	return len(d.grounds) - 1
}

func (d *dispute) term(t schedule.Term, on ...int) {
	t.Grounds = append(t.Grounds, on...)
	slices.Sort(t.Grounds)
	d.Terms = append(d.Terms, t)
}

// running lets work under way be over, but for a ground.
func (d *dispute) running() {
	for i := range d.q.work {
		w := &d.q.work[i]
		if w.run == nil {
			continue
		}
		d.Problem.Tasks[i].Skip = true
		d.term(schedule.Term{Limit: &schedule.Limit{Task: i}}, d.add(ground{kind: ReasonRunning, task: i}))
	}
}

// conditions writes what conditions ask for, each under a ground of its own, and returns
// the limits among it. Where promises are grounds as well, a frozen visit stays where it
// is anyway.
func (d *dispute) conditions(list []Condition, promised bool) (limits []schedule.Limit) {
	q := d.q
	for n := range list {
		c := &list[n]
		g := -1
		ground := func() int {
			if g < 0 {
				g = d.add(ground{kind: ReasonCondition, condition: c, task: -1})
			}
			return g
		}
		never := &schedule.Resource{Name: c.Kind, Capacity: make([]int32, q.grid.Slots())} // no visit then
		for _, x := range demands(q.p, list[n:n+1]) {
			i, ok := q.at[rowKey{x.truck, x.stage}]
			if !ok || q.work[i].run != nil {
				continue
			}
			w := &q.work[i]
			if !x.held && w.visit != nil {
				use := schedule.Use{Task: i, Need: 1}
				for _, m := range w.moves {
					use.From = append(use.From, m.begin)
				}
				never.Uses = append(never.Uses, use)
				continue
			}
			if promised && w.visit != nil && q.p.Frozen(w.visit) && (rowKey{x.truck, x.stage}) != d.subject {
				continue
			}
			l, ok := w.allowed(x)
			l.Task = i
			if !ok {
				d.term(schedule.Term{Ban: &schedule.Limit{Task: i, Hi: len(w.moves) - 1}}, ground())
			}
			d.term(schedule.Term{Limit: &l}, ground())
			limits = append(limits, l)
		}
		if len(never.Uses) == 0 {
			continue
		}
		for s := range never.Capacity {
			if day := q.grid.Date(calendar.Slot(s)); c.Kind == plant.NotBefore && day >= c.Day || c.Kind == plant.NoVisits && !c.Over.Contains(day) {
				never.Capacity[s] = int32(len(never.Uses))
			}
		}
		d.term(schedule.Term{Resource: never}, ground())
	}
	return limits
}

// allowed is the run of moves that a demand allows; all of them and false when it allows
// none.
func (w *work) allowed(x demand) (schedule.Limit, bool) {
	l := schedule.Limit{Lo: -1}
	for k, m := range w.moves {
		if x.may(m) {
			if l.Lo < 0 {
				l.Lo = k
			}
			l.Hi = k
		}
	}
	if l.Lo < 0 {
		return schedule.Limit{Hi: len(w.moves) - 1}, false
	}
	return l, true
}

// everybody lets every truck be left out, but for a ground.
func (d *dispute) everybody() {
	for n := range d.q.p.Trucks {
		t := &d.q.p.Trucks[n]
		g := d.add(ground{kind: ReasonWork, truck: t, task: -1})
		for i := range d.q.work {
			if w := &d.q.work[i]; w.truck == t && w.run == nil && !d.q.problem.Tasks[i].Skip {
				d.Problem.Tasks[i].Skip = true
				d.term(schedule.Term{Limit: &schedule.Limit{Task: i, Hi: len(w.moves) - 1}}, g)
			}
		}
	}
}

// ownRules bans the starts that break a rule of the truck's own.
func (d *dispute) ownRules() {
	kinds := map[rules]string{byLineOff: ReasonLineOff, byWindow: ReasonCustomer, byBlackout: ReasonCustomer, byHoliday: ReasonCustomer,
		byNotice: ReasonNotice, byTravel: ReasonTravel, byReady: ReasonBuffer, byWait: ReasonWait}
	all := map[rules]int{}
	for i := range d.q.work {
		w := &d.q.work[i]
		for _, r := range eachRule {
			var bans []schedule.Limit
			for k, b := range w.against {
				if b&r == 0 {
					continue
				}
				if n := len(bans); n > 0 && bans[n-1].Hi == k-1 {
					bans[n-1].Hi = k
				} else {
					bans = append(bans, schedule.Limit{Task: i, Lo: k, Hi: k})
				}
			}
			if len(bans) == 0 {
				continue
			}
			n, ok := all[r]
			if !ok || r != byLineOff && r != byReady {
				n = d.add(ground{kind: kinds[r], rule: r, task: i})
				d.own = append(d.own, n)
				all[r] = n
			}
			for _, b := range bans {
				d.term(schedule.Term{Ban: &b}, n)
			}
		}
	}
}

// ownOrder writes the order of the truck's stages, the waits between them and the
// readiness buffer.
func (d *dispute) ownOrder() {
	q, t := d.q, d.truck
	arc := func(write func()) *schedule.Arc {
		n := len(q.problem.Arcs)
		write()
		a := q.problem.Arcs[n]
		q.problem.Arcs = q.problem.Arcs[:n]
		return &a
	}
	order := d.add(ground{kind: ReasonOrder, task: -1})
	d.own = append(d.own, order)
	buffer := slices.IndexFunc(d.grounds, func(g ground) bool { return g.kind == ReasonBuffer })
	for i := range q.p.Route {
		s := &q.p.Route[i]
		to, ok := q.at[rowKey{t.ID, s.ID}]
		if !ok || q.work[to].run != nil {
			continue
		}
		for _, l := range q.links(t, s) {
			from, ok := q.at[rowKey{t.ID, l.stage.ID}]
			if !ok {
				continue
			}
			d.term(schedule.Term{Arc: arc(func() { q.after(from, to, plant.After{}) })}, order)
			if l.after.MinWorkMinutes+l.after.MinElapsedMinutes+l.after.MaxWorkMinutes+l.after.MaxElapsedMinutes > 0 {
				n := d.add(ground{kind: ReasonWait, task: to, before: l.stage, after: l.after})
				d.own = append(d.own, n)
				d.term(schedule.Term{Arc: arc(func() { q.after(from, to, l.after) })}, order, n)
			}
		}
		if s.Visit != plant.FinalInspection {
			continue
		}
		for _, c := range q.ancestors(s) {
			from, ok := q.at[rowKey{t.ID, c.ID}]
			if !ok || !c.Certifies {
				continue
			}
			if buffer < 0 {
				buffer = d.add(ground{kind: ReasonBuffer, task: to})
				d.own = append(d.own, buffer)
			}
			d.term(schedule.Term{Arc: arc(func() { q.buffer(from, to) })}, order, buffer)
			d.term(schedule.Term{Arc: q.nextDay(from, to)}, order)
		}
	}
}

// wishes lets the visit that is asked about take place without what the delegation
// wants to do in it, but for a ground each.
func (d *dispute) wishes() {
	visit, ok := d.q.at[d.subject]
	if !ok || d.q.work[visit].visit == nil {
		return
	}
	d.Problem.Together = slices.DeleteFunc(slices.Clone(d.Problem.Together), func(pair [2]int) bool {
		if pair[0] != visit {
			return false
		}
		n := d.add(ground{kind: ReasonWish, task: pair[1]})
		d.own = append(d.own, n)
		d.term(schedule.Term{Limit: &schedule.Limit{Task: pair[1], Hi: len(d.q.work[pair[1]].moves) - 1}}, n)
		return true
	})
}

// nextDay is an arc that puts one task on a later day than the other ends.
func (q *question) nextDay(from, to int) *schedule.Arc {
	arc := &schedule.Arc{From: from, To: to}
	j := 0
	for _, m := range q.work[from].moves {
		for j < len(q.work[to].moves) && q.work[to].moves[j].day() <= m.last() {
			j++
		}
		arc.Earliest = append(arc.Earliest, startOr(&q.problem.Tasks[to], j, q.grid.Slots()+1))
	}
	return arc
}

// stakes lists what the plan holds for everybody in the tiers up to one: what must
// not be given up for something that counts in that tier. What is asked about is
// left out.
func (q *question) stakes(a *schedule.Answer, asked rowKey, tier string) (list []promise) {
	if tier == "" {
		return nil
	}
	upTo := slices.Index(plant.TierNames, tier)
	in := func(name string) bool { return upTo >= slices.Index(plant.TierNames, name) }
	for i := range q.work {
		w, k := &q.work[i], a.Start[i]
		if w.wish != nil || w.run != nil || k < 0 || (rowKey{w.truck.ID, w.stage.ID}) == asked {
			continue
		}
		last := len(w.moves) - 1
		if v := w.visit; v != nil {
			l := schedule.Limit{Task: i, Hi: last}
			switch {
			case q.p.Frozen(v), v.Booking.State == plant.Confirmed && in(plant.TierConfirmed), in(plant.TierWishes):
				l.Lo, l.Hi = w.sameDay(k)
			case !in(plant.TierConfirmed):
				continue
			}
			list = append(list, promise{limit: l, visit: v, truck: w.truck})
		}
		if w.stage.Delivers && in(plant.TierDeadlines) {
			l := schedule.Limit{Task: i, Hi: last}
			for l.Hi > k && q.costlier(w, i, l.Hi, k, upTo) {
				l.Hi--
			}
			if l.Hi < last {
				list = append(list, promise{limit: l, truck: w.truck})
			}
		}
	}
	return list
}

// costlier reports whether a delivery by move j costs more than by move k in the
// tiers of deliveries up to one.
func (q *question) costlier(w *work, task, j, k, upTo int) bool {
	for t := slices.Index(plant.TierNames, plant.TierDeadlines); t <= min(upTo, slices.Index(plant.TierNames, plant.TierLateness)); t++ {
		for _, c := range q.problem.Tiers[t].Costs {
			if c.Task == task && c.At[j] > c.At[k] {
				return true
			}
		}
	}
	return false
}

// properties of trucks that bays have limits for, or need.
var properties = []string{"length", "height", "flow", "features"}

// excludes reports whether a bay does not take the truck for one of its properties.
func excludes(b *plant.Bay, t *plant.Truck, property string) bool {
	switch property {
	case "length":
		return b.MaxLengthFt != 0 && t.LengthFt > b.MaxLengthFt
	case "height":
		return b.MaxHeightFt != 0 && t.HeightFt > b.MaxHeightFt
	case "features":
		return !t.Has(b.Needs)
	}
	return b.MaxFlowGPM != 0 && t.FlowGPM > b.MaxFlowGPM
}

// ableBut lists the bays of a kind that take the truck as far as some of its
// properties go: bit n stands for the n-th property.
func (d *dispute) ableBut(kind string, mask int) (able []int) {
	for b := range d.q.p.Bays {
		bay := &d.q.p.Bays[b]
		if !slices.Contains(bay.Kinds, kind) {
			continue
		}
		out := false
		for n, property := range properties {
			out = out || mask&(1<<n) != 0 && excludes(bay, d.truck, property)
		}
		if !out {
			able = append(able, b)
		}
	}
	return able
}

// kindOf is the kind of bay that a task needs, "" for none.
func (w *work) kindOf() string {
	if w.wish != nil {
		return w.wish.Bay
	}
	return w.stage.Bay
}

// bays writes how many trucks fit into every set of bays that some work is confined
// to, and what confines the truck's own.
func (d *dispute) bays() {
	q := d.q
	mine := func(i int) bool {
		w := &q.work[i]
		return d.truck != nil && w.truck == d.truck && w.stands() == "" && w.kindOf() != ""
	}
	kinds := map[string][]int{} // tasks of the truck's own, by kind of bay
	var names []string
	note := func(able []int) {
		if len(able) > 0 && !slices.ContainsFunc(d.sets, func(s []int) bool { return slices.Equal(s, able) }) {
			d.sets = append(d.sets, able)
		}
	}
	for i := range q.work {
		note(q.problem.Tasks[i].Able)
		if mine(i) {
			kind := q.work[i].kindOf()
			if kinds[kind] == nil {
				names = append(names, kind)
			}
			kinds[kind] = append(kinds[kind], i)
		}
	}
	relevant := map[string]int{} // properties that exclude some bay, by kind
	for _, kind := range names {
		for n, property := range properties {
			if slices.ContainsFunc(d.ableBut(kind, 0), func(b int) bool { return excludes(&q.p.Bays[b], d.truck, property) }) {
				relevant[kind] |= 1 << n
				g := d.add(ground{kind: ReasonUnfit, property: property, need: kind, task: kinds[kind][0]})
				d.unfit[kind+" "+property] = g
			}
		}
		for mask := relevant[kind]; ; mask = (mask - 1) & relevant[kind] {
			note(d.ableBut(kind, mask))
			if mask == 0 {
				break
			}
		}
		d.nowhere(kind, relevant[kind], kinds[kind])
	}
	d.unions()
	for b := range q.problem.Machines {
		if len(q.problem.Machines[b].Closed) > 0 {
			d.closed[b] = d.add(ground{kind: ReasonClosed, bay: b, task: -1})
		}
	}
	for _, set := range d.sets {
		d.full = append(d.full, d.add(ground{kind: ReasonBay, set: set, task: -1}))
	}
	for n, set := range d.sets {
		var uses []schedule.Use
		at := map[int][]schedule.Use{} // of the truck's own tasks, by the properties that confine them
		for i := range q.work {
			able := q.problem.Tasks[i].Able
			if mine(i) {
				for mask := range 1 << len(properties) {
					if kind := q.work[i].kindOf(); mask&^relevant[kind] == 0 && d.confines(kind, mask, set) {
						at[mask] = append(at[mask], schedule.Use{Task: i, Need: 1})
					}
				}
			} else if len(able) > 0 && within(able, set) {
				uses = append(uses, schedule.Use{Task: i, Need: 1})
			}
		}
		masks := []int{0}
		for mask := 1; mask < 1<<len(properties); mask++ {
			if len(at[mask]) > 0 {
				masks = append(masks, mask)
			}
		}
		for _, mask := range masks {
			all := slices.Clone(uses)
			on := []int{d.full[n]}
			for sub := range mask + 1 {
				if sub&^mask == 0 {
					all = append(all, at[sub]...)
				}
			}
			for _, u := range at[mask] {
				kind := q.work[u.Task].kindOf()
				for b, property := range properties {
					if g, ok := d.unfit[kind+" "+property]; ok && mask&(1<<b) != 0 && !slices.Contains(on, g) {
						on = append(on, g)
					}
				}
			}
			d.rows(set, all, on)
		}
	}
}

// nowhere bans the tasks where properties leave them no bay at all.
func (d *dispute) nowhere(kind string, relevant int, tasks []int) {
	for mask := range relevant + 1 {
		if mask&^relevant != 0 || len(d.ableBut(kind, mask)) > 0 {
			continue
		}
		var on []int
		for n, property := range properties {
			if mask&(1<<n) != 0 {
				on = append(on, d.unfit[kind+" "+property])
			}
		}
		if len(on) == 0 {
			on = append(on, d.add(ground{kind: ReasonUnfit, need: kind, task: tasks[0]}))
			d.unfit[kind+" "] = on[0]
		}
		for _, i := range tasks {
			d.term(schedule.Term{Ban: &schedule.Limit{Task: i, Hi: len(d.q.work[i].moves) - 1}}, on...)
		}
	}
}

// confines reports whether these properties, and no fewer of them, confine work of
// the truck's own to the bays of a set.
func (d *dispute) confines(kind string, mask int, set []int) bool {
	able := d.ableBut(kind, mask)
	if len(able) == 0 || !within(able, set) {
		return false
	}
	for n := range properties {
		if mask&(1<<n) != 0 {
			if less := d.ableBut(kind, mask&^(1<<n)); len(less) > 0 && within(less, set) {
				return false
			}
		}
	}
	return true
}

// within reports whether every bay of x is in set; both ascend.
func within(x, set []int) bool {
	return !slices.ContainsFunc(x, func(b int) bool { _, ok := slices.BinarySearch(set, b); return !ok })
}

// unions adds, for sets that share bays, all their bays together: trucks that can
// stand in either crowd each other.
func (d *dispute) unions() {
	slices.SortFunc(d.sets, slices.Compare)
	left := slices.Clone(d.sets)
	for len(left) > 0 {
		whole := left[0]
		left = left[1:]
		for again := true; again; {
			again = false
			left = slices.DeleteFunc(left, func(s []int) bool {
				if !slices.ContainsFunc(s, func(b int) bool { return slices.Contains(whole, b) }) {
					return false
				}
				again = true
				whole = slices.Concat(whole, s)
				slices.Sort(whole)
				whole = slices.Compact(whole)
				return true
			})
		}
		if !slices.ContainsFunc(d.sets, func(s []int) bool { return slices.Equal(s, whole) }) {
			d.sets = append(d.sets, whole)
		}
	}
	slices.SortFunc(d.sets, slices.Compare)
}

// manyClosed is from how many bays of a set closed at one time on their closures are
// only told together.
const manyClosed = 4

// rows writes that uses fit into a set of bays: for every combination of bays that
// are closed together, in the parts in which they are, under the grounds that each of
// them is.
func (d *dispute) rows(set []int, uses []schedule.Use, on []int) {
	var shut []int
	for _, b := range set {
		if _, ok := d.closed[b]; ok {
			shut = append(shut, b)
		}
	}
	at := make([]uint64, d.q.grid.Slots()) // by slot: the bays of shut that are closed
	for n, b := range shut {
		for _, c := range d.q.problem.Machines[b].Closed {
			for s := c.From; s < c.To; s++ {
				at[s] |= 1 << n
			}
		}
	}
	masks := []uint64{0}
	for _, all := range at {
		for mask := all; mask != 0; mask = (mask - 1) & all {
			if (bits.OnesCount64(all) < manyClosed || mask == all) && !slices.Contains(masks, mask) {
				masks = append(masks, mask)
			}
		}
	}
	slices.Sort(masks)
	for _, mask := range masks {
		r := &schedule.Resource{Name: fmt.Sprint(set), Uses: uses, Capacity: make([]int32, len(at))}
		grounds := slices.Clone(on)
		for n, b := range shut {
			if mask&(1<<n) != 0 {
				grounds = append(grounds, d.closed[b])
			}
		}
		for s := range r.Capacity {
			r.Capacity[s] = int32(len(set) - bits.OnesCount64(mask))
			if at[s]&mask != mask {
				r.Capacity[s] = int32(len(uses)) // said without them
			}
		}
		d.term(schedule.Term{Resource: r}, grounds...)
	}
}

// rooms is what a set of grounds makes of the bays. Work that is confined to bays of
// which there are enough need not be told where it stands.
func (d *dispute) rooms(on []bool) ([]schedule.Machine, [][]int) {
	machines := slices.Clone(d.q.problem.Machines)
	for b := range machines {
		if n, ok := d.closed[b]; ok && !on[n] {
			machines[b].Closed = nil
		}
	}
	able := make([][]int, len(d.q.work))
	for i := range able {
		w := &d.q.work[i]
		able[i] = d.q.problem.Tasks[i].Able
		if kind := w.kindOf(); d.truck != nil && w.truck == d.truck && w.run == nil && kind != "" {
			mask := 0
			for n, property := range properties {
				if g, ok := d.unfit[kind+" "+property]; ok && on[g] {
					mask |= 1 << n
				}
			}
			able[i] = d.ableBut(kind, mask)
		}
		if n := slices.IndexFunc(d.sets, func(s []int) bool { return slices.Equal(s, able[i]) }); n < 0 || !on[d.full[n]] {
			able[i] = nil
		}
	}
	return machines, able
}

// everything marks all grounds.
func (d *dispute) everything() []bool {
	on := make([]bool, len(d.grounds))
	for n := range on {
		on[n] = true
	}
	return on
}

// find looks for the reasons why something wanted is not so: among the truck's own
// rules and promises first, then among bays and crews, then among what others hold.
func (d *dispute) find(ctx context.Context, want []schedule.Limit) (*schedule.Finding, error) {
	var weight []int64
	var rank []int
	for _, g := range d.grounds {
		weight = append(weight, g.weight)
		r := 1
		switch {
		case g.kind == ReasonPromise && g.promise.truck != d.truck:
			r = 2
		case g.kind == ReasonPromise || g.kind == ReasonCondition || slices.Contains([]string{ReasonOrder, ReasonWait, ReasonBuffer, ReasonCustomer, ReasonNotice, ReasonTravel, ReasonLineOff, ReasonWish}, g.kind):
			r = 0
		}
		rank = append(rank, r)
	}
	return d.Find(ctx, want, weight, rank, d.budget())
}

func (d *dispute) budget() int {
	if len(d.q.work) > reasonWork {
		return 0
	}
	return reasonCalls
}

// reasonCalls is how many SAT calls go into finding the smallest set of reasons.
// In large plants a single one can take minutes: from reasonWork stages on, a set of
// which none can be left out has to do.
const (
	reasonCalls = 400
	reasonWork  = 600
)
