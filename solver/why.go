package solver

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// An Explanation says whether a visit can take a day, and if not, why.
type Explanation struct {
	Truck    string
	Visit    string
	Day      calendar.Date
	Possible bool
	Status   plant.Status // optimal: decided; unknown: time ran out
	Sentence string       // the answer in one sentence
	Reasons  []string     // together they rule the day out, and without any one of them the others do not
	Helps    []string     // what a person can do about it
}

// Why explains a day for the visit of a truck, in the sense of Offers.
func Why(ctx context.Context, p *plant.Plant, truck string, day calendar.Date, o Options) (*Explanation, error) {
	d, err := sitDown(ctx, p, truck)
	if err != nil {
		return nil, err
	}
	x := &Explanation{Truck: truck, Visit: d.visit().ID, Day: day, Status: plant.Optimal}
	w := &d.q.work[d.task]
	k := slices.IndexFunc(w.moves, func(m move) bool { return m.day() == day })
	if k < 0 {
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s.", truck, say(day))
		x.Reasons, x.Helps = d.q.unsuited(w, day)
		d.q.ends(x)
		return x, nil
	}
	lo, hi := w.sameDay(k)
	_, status, err := d.prober.Possible(ctx, d.task, lo, hi)
	if err != nil {
		return nil, err
	}
	switch status {
	case schedule.Feasible:
		x.Possible = true
		x.Sentence = fmt.Sprintf("%s can be shown on %s: no other confirmed visit moves and no damages are added.", truck, say(day))
	case schedule.Infeasible:
		c := d.prober.Conflict(ctx, d.task, lo, hi)
		if !c.Whole {
			x.Status = plant.Unknown
		}
		x.Sentence = fmt.Sprintf("%s cannot be shown on %s without moving a confirmed visit or adding damages.", truck, say(day))
		x.Reasons, x.Helps = d.reasons(c, day)
		d.q.ends(x)
	default:
		x.Status = plant.Unknown
		x.Sentence = fmt.Sprintf("Whether %s can be shown on %s was not decided in the time given: give more with --limit.", truck, say(day))
	}
	return x, nil
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
	off := q.lineOff.LineOff(w.truck.ID)
	if m.hold < 0 || h.First(m.hold) < q.p.AsOf || off != calendar.None && w.stage.Station == "" && q.grid.Date(m.hold) <= off {
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
	if able := q.able(w.truck, w.stage.Bay, nil); w.stage.Bay != "" && (len(able) == 0 || !q.anyOpen(able, m)) {
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
