package solver

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A Reason is one of the things that together stand in the way.
type Reason struct {
	Kind     string // ReasonBay, ReasonPromise, ...
	Sentence string // with the facts of the plan that blocks
	Help     string // what a person can do about it, "" where nobody can
	Truck    string // whose promise, stage or work it is; "" for what all share
	Visit    string
	Stage    string
	Crew     string
	Bays     []string
	From     calendar.Date // days in which it matters, where that is known; else calendar.None
	Through  calendar.Date // inclusive
}

// causes turns a finding into reasons, in the order in which a truck meets them.
func (d *dispute) causes(ctx context.Context, f *schedule.Finding, want []schedule.Limit) []Reason {
	d.frame(want)
	var list []Reason
	order := []string{ReasonWork, ReasonLineOff, ReasonRunning, ReasonOrder, ReasonWait, ReasonWish, ReasonUnfit, ReasonBay, ReasonClosed, ReasonCrew, ReasonCondition, ReasonPromise, ReasonBuffer, ReasonCustomer, ReasonNotice, ReasonTravel}
	at := slices.Clone(f.Grounds)
	slices.SortStableFunc(at, func(x, y int) int {
		return slices.Index(order, d.grounds[x].kind) - slices.Index(order, d.grounds[y].kind)
	})
	for _, n := range at {
		periods := f.Periods[slices.Index(f.Grounds, n)]
		r := d.cause(ctx, n, f, periods)
		r.Sentence = strings.ToUpper(r.Sentence[:1]) + r.Sentence[1:]
		list = append(list, r)
	}
	if len(list) == 0 { // nothing that could be given up
		list = append(list, Reason{Kind: ReasonCalendar, From: calendar.None, Through: d.q.grid.Through(), Help: laterHorizon,
			Sentence: fmt.Sprintf("Even with everything else given up, the working hours and the horizon, which ends on %s, leave no way.", say(d.q.grid.Through()))})
	}
	return list
}

// A span is the parts of days between which a task must hold its place.
type span struct {
	from, to calendar.Slot
	ok       bool
	work     calendar.Slot // when work can begin, where that is later than from: the line-up
}

// frame works out between when the truck's own stages would have to take place, by
// its own rules alone.
func (d *dispute) frame(want []schedule.Limit) {
	d.spans = make([]span, len(d.q.work))
	if d.truck == nil {
		return
	}
	on := make([]bool, len(d.grounds))
	for _, n := range d.own {
		on[n] = true
	}
	p := d.Under(want, on)
	var limits []schedule.Limit
	for i := range d.q.work {
		w := &d.q.work[i]
		if w.truck != d.truck || len(w.against) == 0 {
			continue
		}
		l := schedule.Limit{Task: i, Hi: len(w.moves) - 1}
		for l.Lo < l.Hi && w.against[l.Lo] != 0 {
			l.Lo++
		}
		for l.Lo < l.Hi && w.against[l.Hi] != 0 {
			l.Hi--
		}
		limits = append(limits, l)
	}
	for i := range p.Tasks {
		if d.q.work[i].run != nil {
			p.Tasks[i].Skip = false
		}
	}
	lo, hi, ok := schedule.Reach(p, limits)
	if !ok {
		return
	}
	d.soon = lo
	for i := range d.q.work {
		if w := &d.q.work[i]; w.truck == d.truck && lo[i] <= hi[i] {
			d.spans[i] = span{w.moves[lo[i]].hold, w.moves[hi[i]].finish, true, w.moves[lo[i]].begin}
		}
	}
}

// between says a run of parts of days by its days.
func (d *dispute) between(s span) string {
	from, to := d.q.grid.Date(s.from), d.q.grid.Date(s.to)
	if from == to {
		return "on " + say(from)
	}
	return fmt.Sprintf("between %s and %s", say(from), say(to))
}

// weeks is the run of parts that periods cover.
func (d *dispute) weeks(periods []int) span {
	if len(periods) == 0 {
		return span{}
	}
	parts := calendar.Slot(7 * d.q.grid.Parts())
	return span{from: calendar.Slot(periods[0]) * parts, to: min(d.q.grid.Slots()-1, calendar.Slot(periods[len(periods)-1]+1)*parts-1), ok: true}
}

// meets is what two runs of parts share; the second where they share nothing.
func (s span) meets(t span) span {
	if !s.ok {
		return t
	}
	if m := (span{from: max(s.from, t.from), to: min(s.to, t.to), ok: true}); t.ok && m.from <= m.to {
		return m
	}
	return t
}

func (d *dispute) cause(ctx context.Context, n int, f *schedule.Finding, periods []int) Reason {
	g, q := &d.grounds[n], d.q
	r := Reason{Kind: g.kind, From: calendar.None, Through: calendar.None}
	when := d.weeks(periods)
	dated := func(s span) {
		if s.ok {
			r.From, r.Through = q.grid.Date(s.from), q.grid.Date(s.to)
		}
	}
	if g.task >= 0 {
		r.Truck, r.Stage = q.work[g.task].truck.ID, q.work[g.task].row()
	}
	switch g.kind {
	case ReasonWork:
		r.Truck = g.truck.ID
		r.Sentence = fmt.Sprintf("%s has to be finished before the horizon ends on %s.", g.truck.ID, say(q.grid.Through()))
		r.Help = laterHorizon
	case ReasonLineOff:
		off := q.lineOff.LineOff(d.truck.ID)
		r.Truck, r.Stage, r.From, r.Through = d.truck.ID, "", off, off
		r.Sentence = fmt.Sprintf("%s comes off the line on %s.", d.truck.ID, say(off))
		r.Help = fmt.Sprintf("bring %s off the line earlier", d.truck.ID)
	case ReasonRunning:
		w := &q.work[g.task]
		in := ""
		if w.run.Bay != "" {
			in, r.Bays = " in bay "+w.run.Bay, []string{w.run.Bay}
		}
		r.Sentence = fmt.Sprintf("%s of %s is under way%s and takes until %s.", w.stage.Name, w.truck.ID, in, sayTime(w.moves[0].end))
		r.Help = fmt.Sprintf("overtime for %s of %s, which is under way", w.stage.Name, w.truck.ID)
	case ReasonOrder:
		d.inOrder(&r, f)
	case ReasonWait:
		d.waiting(&r, g)
	case ReasonWish:
		w := &q.work[g.task]
		r.Visit = w.visit.ID
		r.Sentence = fmt.Sprintf("the delegation of %s wants in its visit: %s, %s of %s.", w.truck.ID, cmp.Or(w.wish.Name, w.wish.ID), working(w.wish.Minutes), d.departmentName(w.wish.Department))
		r.Help = fmt.Sprintf("agree to leave it out of the visit: %s", cmp.Or(w.wish.Name, w.wish.ID))
	case ReasonUnfit:
		d.unfitting(&r, g)
	case ReasonBay:
		d.taken(&r, g, when)
		dated(d.where(g.set).meets(when))
	case ReasonClosed:
		d.shut(&r, g, when)
	case ReasonCrew:
		d.busy(&r, g, when)
	case ReasonCondition:
		r = insisting(q.p, *g.condition)
	case ReasonPromise:
		d.promised(&r, g.promise)
	case ReasonBuffer:
		d.buffered(ctx, &r, f)
	case ReasonCustomer:
		d.away(&r, g)
	case ReasonNotice:
		least := q.p.AsOf.Date().AddDays(q.p.Buffer.NoticeDays)
		r.Sentence = fmt.Sprintf("a customer gets %d days of notice: no visit is newly placed before %s.", q.p.Buffer.NoticeDays, say(least))
		r.Help = fmt.Sprintf("ask the customer of %s whether fewer than %d days of notice will do", d.truck.ID, q.p.Buffer.NoticeDays)
	case ReasonTravel:
		v := q.work[g.task].visit
		r.Visit = v.ID
		r.Sentence = fmt.Sprintf("the visit %s is frozen on %s: travel is bought.", v.ID, say(v.Booking.Day))
		r.Help = fmt.Sprintf("ask the customer of %s whether the travel can be changed", d.truck.ID)
	}
	return r
}

// insisting says what the person who asks insists on.
func insisting(p *plant.Plant, c Condition) Reason {
	r := Reason{Kind: ReasonCondition, Truck: c.Truck, Visit: c.Visit, From: c.Day, Through: c.Day}
	verb := "that"
	switch c.Kind {
	case plant.MoveRather:
		r.Truck = c.Than
	case plant.NotBefore:
		r.Through, verb = calendar.None, "for"
	case plant.NoVisits:
		r.From, r.Through, verb = c.Over.From, c.Over.Through, "for"
	case plant.NoOvertime:
		verb = "for"
	}
	r.Sentence = fmt.Sprintf("you ask %s %s.", verb, Say(p, c))
	r.Help = "give up what you ask: " + Say(p, c)
	return r
}

// inOrder says the order of the truck's stages, and how early they alone let it be
// shown and delivered.
func (d *dispute) inOrder(r *Reason, f *schedule.Finding) {
	r.Truck, r.Stage = d.truck.ID, ""
	var names, hours []string
	for i := range d.q.work {
		if w := &d.q.work[i]; w.truck == d.truck && w.wish == nil && w.run == nil {
			names = append(names, w.stage.Name)
			if dep := d.departmentName(w.stage.Department); w.stage.Length == plant.LengthHours && !slices.Contains(hours, dep) {
				hours = append(hours, dep)
			}
		}
	}
	if len(names) > 5 {
		names = append(names[:3], fmt.Sprintf("%d more", len(names)-4), names[len(names)-1])
	}
	r.Sentence = fmt.Sprintf("the work that is left on %s is done one stage after the other (%s)", d.truck.ID, joined(names, "and"))
	if i, ok := d.q.at[d.subject]; ok && len(d.want) > 0 {
		w := &d.q.work[i]
		k, wanted := d.soonest(i), d.want[0]
		delivery := slices.IndexFunc(d.q.work, func(w work) bool { return w.truck == d.truck && w.stage.Delivers && w.wish == nil })
		switch {
		case k > wanted.Hi && k < len(w.moves) && w.stage.Delivers:
			r.Sentence += fmt.Sprintf(": with the plant to itself it can be delivered on %s at the earliest", say(w.moves[k].last()))
		case w.visit != nil && k < len(w.moves) && (k > wanted.Hi || d.soon == nil && wanted.Lo == 0 && wanted.Hi == len(w.moves)-1):
			r.Sentence += fmt.Sprintf(": with the plant to itself it can be shown on %s at the earliest", say(w.moves[k].day()))
		case d.soon == nil && w.visit != nil && k < len(w.moves):
			r.Sentence = fmt.Sprintf("after a visit on %s, the stages of %s up to delivery do not fit before the horizon ends on %s.", say(w.moves[wanted.Lo].day()), d.truck.ID, say(d.q.grid.Through()))
			r.Help = laterHorizon
			return
		case d.soon != nil && w.visit != nil && delivery >= 0 && slices.ContainsFunc(f.Grounds, func(n int) bool {
			g := &d.grounds[n]
			return g.kind == ReasonPromise && g.task == delivery || g.kind == ReasonCondition && g.condition.Kind == plant.KeepDelivery && g.condition.Truck == d.truck.ID
		}):
			r.Sentence += fmt.Sprintf(": after a visit on %s it can be delivered on %s at the earliest", say(w.moves[wanted.Lo].day()), say(d.q.work[delivery].moves[d.soon[delivery]].last()))
		}
	}
	r.Sentence += "."
	if len(hours) > 4 {
		hours = append(hours[:4], "others")
	}
	r.Help = "overtime, a Saturday for instance"
	if len(hours) > 0 {
		r.Help += ", in " + joined(hours, "or")
	}
	r.Help += fmt.Sprintf(", or less work on %s", d.truck.ID)
}

// soonest is the first start that the truck's own rules leave a task of it.
func (d *dispute) soonest(task int) int {
	on := make([]bool, len(d.grounds))
	for _, n := range d.own {
		on[n] = true
	}
	p := d.Under(nil, on)
	p.Tasks[task].Skip = false
	var limits []schedule.Limit
	for i := range d.q.work {
		w := &d.q.work[i]
		if w.truck != d.truck || len(w.moves) == 0 {
			continue
		}
		if w.run != nil {
			p.Tasks[i].Skip = false
		}
		k := 0
		for k < len(w.against) && w.against[k] != 0 {
			k++
		}
		if k < len(w.moves) {
			limits = append(limits, schedule.Limit{Task: i, Lo: k, Hi: len(w.moves) - 1})
		}
	}
	lo, hi, ok := schedule.Reach(p, limits)
	if !ok || lo[task] > hi[task] {
		return len(d.q.work[task].moves)
	}
	return lo[task]
}

// waiting says a wait between two stages.
func (d *dispute) waiting(r *Reason, g *ground) {
	w := &d.q.work[g.task]
	if g.before == nil { // after what is done
		var after []string
		for _, l := range d.q.links(w.truck, w.stage) {
			for _, done := range w.truck.Done {
				if done.Stage == l.stage.ID && l.after != (plant.After{Stage: l.stage.ID}) {
					after = append(after, fmt.Sprintf("%s, which ended on %s: %s", l.stage.Name, sayTime(done.Ended), waits(l.after)))
				}
			}
		}
		r.Sentence = fmt.Sprintf("%s of %s has to keep the wait after %s.", w.stage.Name, w.truck.ID, joined(after, "and"))
		return
	}
	r.Sentence = fmt.Sprintf("between %s and %s of %s lie %s.", g.before.Name, w.stage.Name, w.truck.ID, waits(g.after))
	if g.after.MaxWorkMinutes > 0 || g.after.MaxElapsedMinutes > 0 {
		r.Help = fmt.Sprintf("repeat %s later, if that can be", g.before.Name)
	}
}

func (d *dispute) departmentName(id string) string {
	if x := d.q.p.FindDepartment(id); x != nil && x.Name != "" {
		return x.Name
	}
	return id
}

// waits says the least and the greatest waits of a link.
func waits(a plant.After) string {
	var list []string
	for _, x := range []struct {
		minutes int
		how     string
	}{{a.MinElapsedMinutes, "at least %s, nights and weekends included"}, {a.MinWorkMinutes, "at least %s of working time"},
		{a.MaxElapsedMinutes, "at most %s, nights and weekends included"}, {a.MaxWorkMinutes, "at most %s of working time"}} {
		if x.minutes > 0 {
			list = append(list, fmt.Sprintf(x.how, working(x.minutes)))
		}
	}
	return joined(list, "and")
}

// unfitting says which bays do not take the truck, and for which of its properties.
func (d *dispute) unfitting(r *Reason, g *ground) {
	what := map[string]string{ // none for features
		"length": fmt.Sprintf("%g ft long", d.truck.LengthFt), "height": fmt.Sprintf("%g ft high", d.truck.HeightFt),
		"flow": fmt.Sprintf("rated %s gpm", thousands(d.truck.FlowGPM)),
	}[g.property]
	r.Stage = d.q.work[g.task].stage.ID
	if g.property == "" {
		r.Sentence = fmt.Sprintf("there is no bay of the kind %s, which %s needs.", g.need, d.q.work[g.task].stage.Name)
		r.Help = "a bay of the kind " + g.need
		return
	}
	var limits []string
	for b := range d.q.p.Bays {
		bay := &d.q.p.Bays[b]
		if !slices.Contains(bay.Kinds, g.need) || !excludes(bay, d.truck, g.property) {
			continue
		}
		r.Bays = append(r.Bays, bay.ID)
		if g.property == "features" {
			limits = append(limits, fmt.Sprintf("%s is for trucks with %s", bay.ID, joined(bay.Needs, "and")))
			continue
		}
		limits = append(limits, fmt.Sprintf("%s takes %s at the most", bay.ID, map[string]string{
			"length": fmt.Sprintf("%g ft", bay.MaxLengthFt), "height": fmt.Sprintf("%g ft", bay.MaxHeightFt), "flow": thousands(bay.MaxFlowGPM) + " gpm",
		}[g.property]))
	}
	if g.property == "features" {
		r.Sentence = fmt.Sprintf("%s is not for every bay: bay %s.", d.truck.ID, joined(limits, "and"))
		r.Help = fmt.Sprintf("let %s stand in bay %s", d.truck.ID, joined(r.Bays, "or"))
		return
	}
	r.Sentence = fmt.Sprintf("%s is %s: bay %s.", d.truck.ID, what, joined(limits, "and"))
	r.Help = fmt.Sprintf("make room for %s, %s, in bay %s, or hire a bay that takes it", d.truck.ID, what, joined(r.Bays, "or"))
}

func thousands(n int) string { return strings.TrimPrefix(Dollars(int64(n)), "$") }

// user is the truck's own work that is confined to a set of bays, -1 if none is.
func (d *dispute) user(set []int) int {
	for i := range d.q.work {
		if able := d.q.problem.Tasks[i].Able; d.truck != nil && d.q.work[i].truck == d.truck && len(able) > 0 && within(able, set) && d.q.work[i].run == nil {
			return i
		}
	}
	return -1
}

// where is between when the truck's own work needs one of the bays.
func (d *dispute) where(set []int) span {
	if i := d.user(set); i >= 0 {
		return d.spans[i]
	}
	return span{}
}

// taken says who holds the bays of a set, by the plan.
func (d *dispute) taken(r *Reason, g *ground, when span) {
	names := d.q.bayNames(g.set)
	r.Bays = names
	one := fmt.Sprintf("bay %s", joined(names, "and"))
	if len(names) > 1 {
		one = fmt.Sprintf("one of the bays %s", joined(names, "and"))
	}
	i := d.user(g.set)
	seen := when
	if i >= 0 {
		w := &d.q.work[i]
		r.Truck, r.Stage = w.truck.ID, w.row()
		seen = d.spans[i].meets(when)
		r.Sentence = fmt.Sprintf("%s of %s needs %s", w.stage.Name, w.truck.ID, one)
		if d.spans[i].ok {
			r.Sentence += " " + d.between(d.spans[i])
		}
	} else {
		r.Sentence = fmt.Sprintf("%s can hold one truck at a time", "bay "+joined(names, "and"))
		if len(names) > 1 {
			r.Sentence = fmt.Sprintf("bays %s can hold %d trucks at a time", joined(names, "and"), len(names))
		}
		if when.ok {
			r.Sentence += " " + d.between(when)
		}
	}
	r.Sentence += d.holding(g.set, seen) + "."
	r.Help = "one more bay like " + joined(names, "or")
}

// holding says whom the plan has in the bays in a run of parts.
func (d *dispute) holding(set []int, when span) string {
	if !when.ok || d.near == nil {
		return ""
	}
	type stay struct {
		bay  string
		m    move
		text string
	}
	var who []stay
	for i := range d.q.work {
		w, k := &d.q.work[i], d.near.Start[i]
		if k < 0 || w.truck == d.truck || !slices.Contains(set, d.near.Machine[i]) {
			continue
		}
		if m := w.moves[k]; m.hold <= when.to && m.finish >= when.from {
			bay := d.q.p.Bays[d.near.Machine[i]].ID
			who = append(who, stay{bay, m, fmt.Sprintf("%s holds %s until %s", bay, w.truck.ID, sayTime(m.end))})
		}
	}
	if len(who) == 0 {
		return ""
	}
	slices.SortStableFunc(who, func(x, y stay) int { return cmp.Or(cmp.Compare(x.m.hold, y.m.hold), cmp.Compare(x.bay, y.bay)) })
	var said []string
	for _, s := range who {
		said = append(said, s.text)
	}
	if n := len(said); n > 4 {
		said = append(said[:3], fmt.Sprintf("%d more stays follow", n-3))
	}
	return fmt.Sprintf("; by %s %s", d.called, joined(said, "and"))
}

// shut says when a bay is closed.
func (d *dispute) shut(r *Reason, g *ground, when span) {
	bay := &d.q.p.Bays[g.bay]
	r.Bays = []string{bay.ID}
	var list []string
	for _, c := range bay.Closures {
		if when.ok && (c.Through < d.q.grid.Date(when.from) || c.From > d.q.grid.Date(when.to)) || c.Through < d.q.p.AsOf.Date() {
			continue
		}
		text := days(plant.Range{From: c.From, Through: c.Through})
		if c.Reason != "" {
			text += " (" + c.Reason + ")"
		}
		list = append(list, text)
		if r.From == calendar.None {
			r.From = c.From
		}
		r.Through = c.Through
	}
	r.Sentence = fmt.Sprintf("bay %s is closed %s.", bay.ID, joined(list, "and"))
	r.Help = "open bay " + bay.ID + " on these days"
}

// busy says how many of a crew are there, and where the plan has them.
func (d *dispute) busy(r *Reason, g *ground, when span) {
	c, q := g.crew, d.q
	r.Crew = c.ID
	name := cmp.Or(c.Name, c.ID)
	need := func(w *work) (heads int) {
		list := w.stage.Crews
		if w.wish != nil {
			list = w.wish.Crews
		}
		for _, n := range list {
			if n.Crew == c.ID {
				heads += n.Heads
			}
		}
		return heads
	}
	seen, who, heads := when, "", 0
	for i := range q.work { // the truck's own work that needs them and where that matters
		w := &q.work[i]
		if d.truck == nil || w.truck != d.truck || w.run != nil || need(w) == 0 {
			continue
		}
		s := d.spans[i]
		s.from = s.work
		if who == "" || s.ok && when.ok && s.from <= when.to && s.to >= when.from {
			what := w.stage.Name
			if w.wish != nil {
				what = w.wish.Name
			}
			r.Truck, r.Stage = w.truck.ID, w.row()
			who, heads, seen = fmt.Sprintf("%s of %s needs %d of %s", what, w.truck.ID, need(w), name), need(w), s.meets(when)
			if s.ok {
				who += " " + d.between(s)
			}
		}
	}
	if seen.ok {
		r.From, r.Through = q.grid.Date(seen.from), q.grid.Date(seen.to)
	}
	r.Sentence = cmp.Or(who, name+" are needed by others as well")
	// Days on which fewer are there than on others.
	var few []string
	if seen.ok {
		for day := r.From; day <= r.Through; day++ {
			if n := c.SizeOn(day); n < max(heads, c.Size) {
				few = append(few, fmt.Sprintf("%d on %s", n, say(day)))
			}
		}
	}
	if len(few) > 3 {
		few = append(few[:3], "and so on")
	}
	r.Sentence += fmt.Sprintf("; there %s %d", isAre(c.Size), c.Size)
	if len(few) > 0 {
		r.Sentence += ", but " + joined(few, "and")
	}
	var with []string
	for i := range q.work {
		w := &q.work[i]
		if d.near == nil || d.near.Start[i] < 0 || w.truck == d.truck || need(w) == 0 || !seen.ok {
			continue
		}
		if m := w.moves[d.near.Start[i]]; m.begin <= seen.to && m.finish >= seen.from {
			with = append(with, fmt.Sprintf("%d %s with %s until %s", need(w), isAre(need(w)), w.truck.ID, sayTime(m.end)))
		}
	}
	if n := len(with); n > 4 {
		with = append(with[:3], fmt.Sprintf("others with %d more", n-3))
	}
	if len(with) > 0 {
		r.Sentence += fmt.Sprintf("; by %s, %s", d.called, joined(with, "and"))
	}
	r.Sentence += "."
	r.Help = "one more head among " + name
	if r.From != calendar.None {
		r.Help += " " + days(plant.Range{From: r.From, Through: r.Through})
	}
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// promised says what the plan holds for somebody.
func (d *dispute) promised(r *Reason, pr *promise) {
	q := d.q
	w := &q.work[pr.limit.Task]
	r.Truck, r.Stage = pr.truck.ID, w.stage.ID
	k := d.near.Start[pr.limit.Task]
	switch v := pr.visit; {
	case v != nil && (pr.limit.Lo > 0 || pr.limit.Hi < len(w.moves)-1 || q.p.Frozen(v)):
		r.Visit = v.ID
		day := w.moves[k].day()
		r.From, r.Through = day, w.moves[k].last()
		state := v.Booking.State
		switch {
		case q.p.Frozen(v):
			r.Sentence = fmt.Sprintf("the visit %s to %s is frozen and stays on %s.", v.ID, pr.truck.ID, say(day))
			return
		case v.Booking.Day == day:
			r.Sentence = fmt.Sprintf("the visit %s to %s is %s and stays on %s.", v.ID, pr.truck.ID, state, say(day))
		default:
			r.Sentence = fmt.Sprintf("the visit %s to %s is held on %s, by %s.", v.ID, pr.truck.ID, say(day), d.called)
		}
		r.Help = fmt.Sprintf("ask the customer of %s to move its visit", pr.truck.ID)
	case v != nil:
		r.Visit = v.ID
		r.Sentence = fmt.Sprintf("the visit %s to %s has to be held on some day of its windows.", v.ID, pr.truck.ID)
		r.Help = fmt.Sprintf("ask the customer of %s for wider windows", pr.truck.ID)
	default:
		last := w.moves[pr.limit.Hi].last()
		r.Through = last
		c := &pr.truck.Contract
		loss := "is late by its contract"
		switch {
		case c.Deadline != calendar.None && last <= c.Deadline && (pr.limit.Hi+1 >= len(w.moves) || w.moves[pr.limit.Hi+1].last() > c.Deadline):
			loss = "misses its hard deadline"
		case c.DamagesPerDay > 0:
			loss = "costs more damages"
		case last > c.Due:
			loss = "is later still by its contract"
		}
		r.Sentence = fmt.Sprintf("%s has to be delivered by %s, or it %s; by %s it is on %s.", pr.truck.ID, say(last), loss, d.called, say(w.moves[k].last()))
		r.Help = fmt.Sprintf("accept a later delivery of %s", pr.truck.ID)
	}
}

// buffered says the readiness buffer and how early the last certificate can be in
// hand, as the other reasons stand.
func (d *dispute) buffered(ctx context.Context, r *Reason, f *schedule.Finding) {
	r.Truck, r.Stage = d.truck.ID, ""
	n := d.q.p.ReadyWorkDays(d.truck)
	r.Sentence = fmt.Sprintf("the plant keeps %s between the last certificate and the visit", count(n, "full working day"))
	on := make([]bool, len(d.grounds))
	for _, g := range f.Grounds {
		on[g] = true
	}
	var end calendar.Moment
	name, earliest := "", ""
	inspection := -1
	for i := range d.q.work {
		if w := &d.q.work[i]; w.truck == d.truck && w.wish == nil && w.stage.Visit == plant.FinalInspection {
			inspection = i
		}
	}
	if inspection >= 0 {
		for _, c := range d.q.ancestors(d.q.work[inspection].stage) {
			if !c.Certifies {
				continue
			}
			if i, ok := d.q.at[rowKey{d.truck.ID, c.ID}]; ok {
				if k := d.Least(ctx, i, on); k < len(d.q.work[i].moves) && d.q.work[i].moves[k].end > end {
					end, name, earliest = d.q.work[i].moves[k].end, c.Name, " at the earliest"
				}
			}
			for _, done := range d.truck.Done {
				if done.Stage == c.ID && done.Ended > end {
					end, name, earliest = done.Ended, c.Name, ""
				}
			}
		}
	}
	if name != "" {
		verb := "ends"
		if earliest == "" {
			verb = "ended"
		}
		r.Sentence += fmt.Sprintf("; %s of %s %s on %s%s", name, d.truck.ID, verb, sayTime(end), earliest)
	}
	r.Sentence += "."
	r.Help = fmt.Sprintf("a shorter buffer for %s, if its approver agrees", d.truck.ID)
}

// away says when the customer cannot come.
func (d *dispute) away(r *Reason, g *ground) {
	w := &d.q.work[g.task]
	v := w.visit
	r.Visit = v.ID
	switch g.rule {
	case byWindow:
		var list []string
		for _, x := range v.Windows {
			list = append(list, days(plant.Range{From: x.From, Through: x.Through}))
		}
		if len(list) > 4 {
			list = append(list[:4], "and later")
		}
		r.Sentence = fmt.Sprintf("the customer of %s can come %s only: other days lie in none of the windows.", d.truck.ID, joined(list, "and"))
		r.Help = "ask the customer for wider windows"
	case byBlackout:
		var list []string
		for _, x := range v.Blackouts {
			text := days(plant.Range{From: x.From, Through: x.Through})
			if x.Reason != "" {
				text += " (" + x.Reason + ")"
			}
			list = append(list, text)
		}
		r.Sentence = fmt.Sprintf("the customer of %s is away %s%s.", d.truck.ID, joined(list, "and"), travelling(v))
		r.Help = "ask the customer about these days"
	default:
		var list []string
		if c := d.q.p.FindCustomer(d.truck.Customer); c != nil && c.Calendar != "" {
			if h, err := d.q.customer(c.Calendar); err == nil {
				for k, m := range w.moves {
					for day := m.day().AddDays(-v.TravelDays); w.against[k]&byHoliday != 0 && day <= m.last().AddDays(v.TravelDays); day++ {
						if why, closed := h.Closed(day); closed && !slices.Contains(list, say(day)+" ("+why+")") {
							list = append(list, say(day)+" ("+why+")")
						}
					}
				}
			}
		}
		if len(list) > 4 {
			list = append(list[:4], "later days")
		}
		r.Sentence = fmt.Sprintf("the customer of %s has days off on %s%s.", d.truck.ID, joined(list, "and"), travelling(v))
		r.Help = "ask the customer about these days"
	}
}

// travelling reminds of the days of travel around a visit.
func travelling(v *plant.Visit) string {
	if v.TravelDays == 0 {
		return ""
	}
	return fmt.Sprintf(", and travels %s before and after a visit", count(v.TravelDays, "day"))
}
