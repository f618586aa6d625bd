package solver

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// An Impact is the difference between the plan in force and the plan that answers
// what has happened: what moves, whom to call by when, and what it costs.
type Impact struct {
	Happened   []string       // a sentence for each slip
	Visits     []VisitMove    // by new day
	Deliveries []DeliveryMove // those that change, the dearest change first
	Near       []Disturbed    // near work that changes, by its moment in the plan in force
	Displaced  []Displacement // which truck took whose place, each after what leads to it
	Apart      []string       // trucks that move although no such chain leads to them
	Calls      []Call         // the most urgent first
	Tiers      []TierChange   // in order of the tiers
	Damages    [2]int64       // dollars, before and after
}

// A VisitMove is a visit that the new plan holds on another day than the plan in
// force, or on no day, or on a day again.
type VisitMove struct {
	Visit    string
	Truck    string
	Customer string // name for people
	Kind     string
	Heads    int
	State    string        // of the booking, before what happened: requested, tentative or confirmed
	Frozen   bool          // the customer had bought travel, before what happened
	Booked   calendar.Date // day agreed with the customer, calendar.None when only requested
	From, To calendar.Date // calendar.None: held on no day
	WorkDays int           // working days of the plant from From to To, negative for earlier; 0 when one of them is no day
	Bay      string        // where the truck stands now
}

// A DeliveryMove is a truck whose delivery changes.
type DeliveryMove struct {
	Truck    string
	Customer string
	Due      calendar.Date
	From, To Delivery
	WorkDays int // working days of the plant from the one to the other, negative for earlier; 0 when one of them is no day
}

// Disturbed is near work that starts at another time than in the plan in force, or
// in another bay.
type Disturbed struct {
	Truck, Stage, Name string
	From, To           calendar.Moment // starts; To is calendar.NoMoment when the work is not in the new plan
	FromBay, ToBay     string
}

// Shifted reports whether the work starts at another time; if not, only its bay
// is another.
func (d Disturbed) Shifted() bool { return d.From != d.To }

// A Call is one customer to be called about one truck.
type Call struct {
	By       calendar.Date // last day for it, never before now
	Overdue  bool          // the day that fixes it has passed: call at once
	Truck    string
	Customer string
	Visit    string // "" when the call is about the delivery alone
	Heads    int    // of the delegation
	About    string // what to say, in a sentence
	Because  string // what fixes the day
}

// TierChange is the value of a tier in the plan in force and in the new plan.
type TierChange struct {
	Name          string
	Before, After int64
}

// Compare works out the impact. The plan in force is before.Plan, plan answers the
// slips, and after is before with the slips made facts. Both plants must compile,
// see plant.Apply.
func Compare(before, after *plant.Plant, slips []plant.Slip, plan *plant.Plan) (*Impact, error) {
	m := &Impact{}
	var err error
	if m.Happened, err = happened(before, after, slips); err != nil {
		return nil, err
	}
	workdays, err := workDays(before, after)
	if err != nil {
		return nil, err
	}
	m.Visits = visitMoves(before, after, plan, workdays)
	m.deliveries(before, after, plan, workdays)
	m.Near = near(before.Plan, after, plan)
	if m.Displaced, m.Apart, err = displaced(before, after, slips, plan, m.told()); err != nil {
		return nil, err
	}
	m.calls(after)
	now := check.Score(after, plan)
	for i, t := range check.Score(before, before.Plan) {
		m.Tiers = append(m.Tiers, TierChange{t.Name, t.Value, now[i].Value})
	}
	return m, nil
}

// told are the trucks that something of the impact is about.
func (m *Impact) told() map[string]bool {
	told := map[string]bool{}
	for _, v := range m.Visits {
		told[v.Truck] = true
	}
	for _, d := range m.Deliveries {
		told[d.Truck] = true
	}
	for _, d := range m.Near {
		told[d.Truck] = true
	}
	return told
}

// workDays returns a function that counts the working days of the plant from one day
// to another; 0 when one of them is no day.
func workDays(before, after *plant.Plant) (func(from, to calendar.Date) int, error) {
	g, err := after.Grid(min(before.AsOf.Date(), after.Horizon.From), after.Horizon.Through)
	if err != nil {
		return nil, err
	}
	h, err := after.Hours(after.Calendar, g)
	if err != nil {
		return nil, err
	}
	return func(from, to calendar.Date) int {
		if from == calendar.None || to == calendar.None {
			return 0
		}
		return h.WorkDaysBetween(from, to+1) - h.WorkDaysBetween(to, from+1)
	}, nil
}

// happened says what every slip was. Slips of the line are told by the line-off
// days that came of them.
func happened(before, after *plant.Plant, slips []plant.Slip) ([]string, error) {
	was, err := before.Project()
	if err != nil {
		return nil, err
	}
	is, err := after.Project()
	if err != nil {
		return nil, err
	}
	var list []string
	for _, s := range slips {
		list = append(list, happening(after, &s, was.LineOff(s.Truck), is.LineOff(s.Truck)))
	}
	return list, nil
}

func happening(p *plant.Plant, s *plant.Slip, was, is calendar.Date) string {
	text := ""
	switch s.Kind {
	case plant.LineOffMoved:
		text = fmt.Sprintf("%s comes off the line on %s instead of %s, %s.", s.Truck, say(is), say(was), shift(s.Days))
	case plant.StageOverran:
		if s.Minutes < 0 {
			text = fmt.Sprintf("%s of %s needs %s less.", stageName(p, s.Stage), s.Truck, working(-s.Minutes))
		} else {
			text = fmt.Sprintf("%s of %s needs %s more.", stageName(p, s.Stage), s.Truck, working(s.Minutes))
		}
	case plant.TestFailed:
		text = fmt.Sprintf("%s of %s has failed and must be repeated.", stageName(p, s.Stage), s.Truck)
	case plant.BayDown:
		text = fmt.Sprintf("Bay %s is down, %s.", s.Bay, days(s.Over))
	case plant.CrewAway:
		name := s.Crew
		if c := p.FindCrew(s.Crew); c != nil && c.Name != "" {
			name = c.Name
		}
		text = fmt.Sprintf("%s: %s away, %s.", name, people(s.Heads), days(s.Over))
	case plant.CustomerMoves:
		who := "The customer"
		if v := p.FindVisit(s.Visit); v != nil {
			if t := p.FindTruck(v.Truck); t != nil {
				who = fmt.Sprintf("%s (visit %s to %s)", customerName(p, t), s.Visit, t.ID)
			}
		}
		text = fmt.Sprintf("%s cannot come after all, %s.", who, days(s.Over))
	}
	if s.Cause != "" {
		text += " Cause: " + strings.ReplaceAll(s.Cause, "_", " ") + "."
	}
	return text
}

// visitMoves lists the visits whose day the plan changes.
func visitMoves(before, after *plant.Plant, plan *plant.Plan, workdays func(from, to calendar.Date) int) []VisitMove {
	was, is := map[string]*plant.PlannedVisit{}, map[string]*plant.PlannedVisit{}
	for i := range before.Plan.Visits {
		was[before.Plan.Visits[i].Visit] = &before.Plan.Visits[i]
	}
	for i := range plan.Visits {
		is[plan.Visits[i].Visit] = &plan.Visits[i]
	}
	var list []VisitMove
	for i := range before.Visits {
		v := &before.Visits[i]
		old, now := was[v.ID], is[v.ID]
		if old == nil || now == nil || old.Day == now.Day {
			continue
		}
		t := after.FindTruck(v.Truck)
		move := VisitMove{
			Visit: v.ID, Truck: v.Truck, Customer: customerName(after, t), Kind: v.Kind, Heads: v.Heads,
			State: v.Booking.State, Frozen: before.Frozen(v), Booked: v.Booking.Day, From: old.Day, To: now.Day, WorkDays: workdays(old.Day, now.Day), Bay: now.Bay,
		}
		list = append(list, move)
	}
	slices.SortStableFunc(list, func(a, b VisitMove) int {
		return cmp.Or(cmp.Compare(a.To, b.To), cmp.Compare(a.Visit, b.Visit))
	})
	return list
}

// deliveries lists the deliveries that change, and sums the damages.
func (m *Impact) deliveries(before, after *plant.Plant, plan *plant.Plan, workdays func(from, to calendar.Date) int) {
	was := map[string]Delivery{}
	for _, d := range Deliveries(before, before.Plan) {
		was[d.Truck] = d
		m.Damages[0] += d.Damages
	}
	for _, d := range Deliveries(after, plan) {
		m.Damages[1] += d.Damages
		if old, ok := was[d.Truck]; ok && (old.Day != d.Day || old.Damages != d.Damages || old.Missed != d.Missed) {
			m.Deliveries = append(m.Deliveries, DeliveryMove{Truck: d.Truck, Customer: d.Customer, Due: d.Due, From: old, To: d, WorkDays: workdays(old.Day, d.Day)})
		}
	}
	slices.SortStableFunc(m.Deliveries, func(a, b DeliveryMove) int {
		return cmp.Or(cmp.Compare(b.To.Damages-b.From.Damages, a.To.Damages-a.From.Damages), cmp.Compare(b.To.Late-b.From.Late, a.To.Late-a.From.Late))
	})
}

// near lists work of the plan in force that was to start within the days that
// count as near and that now starts at another time, or stands in another bay.
// Work that runs by now, is done, or no longer applies, is not disturbed.
func near(old *plant.Plan, p *plant.Plant, plan *plant.Plan) []Disturbed {
	now := map[rowKey]*plant.Planned{}
	for i := range plan.Stages {
		now[rowKey{plan.Stages[i].Truck, plan.Stages[i].Stage}] = &plan.Stages[i]
	}
	end := p.AsOf + calendar.Moment(p.Buffer.NearDays)*24*60
	var list []Disturbed
	for _, r := range old.Stages {
		t, s := p.FindTruck(r.Truck), p.FindStage(r.Stage)
		if r.Start < p.AsOf || r.Start >= end || t == nil || s == nil || !p.Applies(t, s) || isDone(t, s.ID) ||
			slices.ContainsFunc(t.Running, func(x plant.Running) bool { return x.Stage == s.ID }) {
			continue
		}
		d := Disturbed{Truck: r.Truck, Stage: r.Stage, Name: stageName(p, r.Stage), From: r.Start, To: calendar.NoMoment, FromBay: r.Bay}
		if n := now[rowKey{r.Truck, r.Stage}]; n != nil {
			d.To, d.ToBay = n.Start, n.Bay
		}
		if d.Shifted() || d.FromBay != d.ToBay {
			list = append(list, d)
		}
	}
	slices.SortStableFunc(list, func(a, b Disturbed) int { return cmp.Compare(a.From, b.From) })
	return list
}

// calls lists whom to call. A customer whose visit had a day, agreed or held, or asked
// for one and gets none, is called about the visit; about the delivery as well if it is now later than both
// the contract and the plan in force said.
func (m *Impact) calls(p *plant.Plant) {
	later := map[string]*DeliveryMove{}
	for i := range m.Deliveries {
		if d := &m.Deliveries[i]; d.To.Late > d.From.Late {
			later[d.Truck] = d
		}
	}
	called := map[string]bool{}
	for _, v := range m.Visits {
		if v.State == plant.Requested && v.To != calendar.None {
			continue // nobody was told of the old day
		}
		c := Call{Truck: v.Truck, Customer: v.Customer, Visit: v.Visit, Heads: v.Heads, About: v.Sentence()}
		day, because := deadline(p, &v)
		c.settle(p, day, because)
		if d := later[v.Truck]; d != nil {
			c.About += " " + d.Sentence()
		}
		called[v.Truck] = true
		m.Calls = append(m.Calls, c)
	}
	for _, d := range m.Deliveries {
		if later[d.Truck] == nil || called[d.Truck] {
			continue
		}
		c := Call{Truck: d.Truck, Customer: d.Customer, About: d.Sentence()}
		c.settle(p, d.Due, "contract delivery is on "+say(d.Due))
		m.Calls = append(m.Calls, c)
	}
	slices.SortStableFunc(m.Calls, func(a, b Call) int {
		return cmp.Or(cmp.Compare(a.By, b.By), overdue(a)-overdue(b), cmp.Compare(b.Heads, a.Heads), cmp.Compare(a.Truck, b.Truck))
	})
}

// overdue orders calls of one day: those that are overdue first.
func overdue(c Call) int {
	if c.Overdue {
		return 0
	}
	return 1
}

// settle sets the day of a call: the last on which the plant works, up to the one that is
// fixed, and never before now.
func (c *Call) settle(p *plant.Plant, day calendar.Date, because string) {
	now := p.AsOf.Date()
	c.By, c.Overdue, c.Because = max(day, now), day < now, because
	if c.By == now {
		return
	}
	g, err := p.Grid(now, c.By)
	if err != nil {
		return // the plant compiles
	}
	if h, err := p.Hours(p.Calendar, g); err == nil && !h.WorksDay(c.By) {
		before, ok := h.PrevWorkDay(c.By)
		if !ok {
			before = now // nobody works before
		}
		c.By = before
	}
}

// deadline returns the day by which the customer must know that the visit moves,
// by the notice ladder, and what fixes it. Travel that is bought: now. Else the
// next rung that the old day reaches, on which the customer would go on relying on
// it; or the rung on which the new day must have come to what the booking is, if
// that is earlier.
func deadline(p *plant.Plant, v *VisitMove) (calendar.Date, string) {
	now := p.AsOf.Date()
	if v.Frozen {
		return now, "travel is bought"
	}
	old := v.Booked
	if old == calendar.None {
		old = v.From
	}
	day, because := old, fmt.Sprintf("they come on %s", say(old)) // when no rung is left
	for _, n := range p.Notice {
		if at := old.AddDays(-n.DaysBefore); at >= now && at < day {
			day, because = at, fmt.Sprintf("the old day reaches %q on %s", n.Name, say(at))
		}
	}
	if v.To == calendar.None {
		return day, because
	}
	for _, n := range p.Notice {
		if at := v.To.AddDays(-n.DaysBefore); n.ID == v.State && at < day {
			day, because = at, fmt.Sprintf("the new day reaches %q on %s", n.Name, say(at))
		}
	}
	return day, because
}

// Promise is how firm the visit was before what happened: requested, tentative,
// confirmed or frozen.
func (v VisitMove) Promise() string {
	if v.Frozen {
		return "frozen"
	}
	return v.State
}

// Sentence says what becomes of the visit.
func (v VisitMove) Sentence() string {
	lead := fmt.Sprintf("The %s of %s (%s, %s)", kindName(v.Kind), v.Truck, v.Promise(), people(v.Heads))
	switch {
	case v.To == calendar.None && v.Frozen:
		return fmt.Sprintf("%s cannot be held on %s, and the plan moves no visit for which travel is bought: agree on another day.", lead, say(v.From))
	case v.To == calendar.None:
		return fmt.Sprintf("%s cannot be held on %s, nor on another day of its windows: agree on other windows.", lead, say(v.From))
	case v.From == calendar.None:
		return fmt.Sprintf("%s, which had no day, can be held on %s.", lead, say(v.To))
	}
	text := fmt.Sprintf("%s moves from %s to %s, %s", lead, say(v.From), say(v.To), shift(v.WorkDays))
	if v.To == v.Booked {
		text += ", back to the day it is booked for"
	} else if v.From != v.Booked && v.Booked != calendar.None {
		text += fmt.Sprintf("; the customer still counts on %s", say(v.Booked))
	}
	return text + "."
}

// Sentence says what becomes of the delivery.
func (d DeliveryMove) Sentence() string {
	switch {
	case d.To.Day == calendar.None:
		return fmt.Sprintf("The delivery of %s on %s is in the plan no more.", d.Truck, say(d.From.Day))
	case d.From.Day == calendar.None:
		return fmt.Sprintf("%s, which the plan in force does not deliver, is delivered on %s, %s.", d.Truck, say(d.To.Day), against(d.To))
	}
	text := fmt.Sprintf("The delivery of %s stays on %s, %s", d.Truck, say(d.To.Day), against(d.To))
	if d.From.Day != d.To.Day {
		text = fmt.Sprintf("The delivery of %s moves from %s to %s, %s, %s", d.Truck, say(d.From.Day), say(d.To.Day), shift(d.WorkDays), against(d.To))
	}
	if d.From.Damages != d.To.Damages {
		text += fmt.Sprintf("; damages go from %s to %s", Dollars(d.From.Damages), Dollars(d.To.Damages))
	}
	if d.To.Missed && !d.From.Missed {
		text += fmt.Sprintf("; the hard deadline on %s is missed", say(d.To.Deadline))
	}
	return text + "."
}

// Sentence says what becomes of near work.
func (d Disturbed) Sentence() string {
	switch {
	case d.To == calendar.NoMoment:
		return fmt.Sprintf("%s of %s on %s is in the plan no more.", d.Name, d.Truck, sayTime(d.From))
	case !d.Shifted():
		return fmt.Sprintf("%s of %s on %s goes to %s instead of %s.", d.Name, d.Truck, sayTime(d.From), d.ToBay, d.FromBay)
	}
	return fmt.Sprintf("%s of %s starts on %s instead of %s.", d.Name, d.Truck, sayTime(d.To), sayTime(d.From))
}

// Summary says in one sentence what changes.
func (m *Impact) Summary() string {
	var moved, broken []VisitMove
	for _, v := range m.Visits {
		if v.To == calendar.None {
			broken = append(broken, v)
		} else {
			moved = append(moved, v)
		}
	}
	visits := "No visit moves"
	if n := len(moved); n == 1 {
		visits = fmt.Sprintf("1 visit moves (%s)", promises(moved))
	} else if n > 1 {
		visits = fmt.Sprintf("%d visits move (%s)", n, promises(moved))
	}
	if n := len(broken); n == 1 {
		visits += fmt.Sprintf(", 1 is broken (%s)", promises(broken))
	} else if n > 1 {
		visits += fmt.Sprintf(", %d are broken (%s)", n, promises(broken))
	}
	deliveries := "no delivery changes"
	if n := len(m.Deliveries); n == 1 {
		deliveries = "1 delivery changes"
	} else if n > 1 {
		deliveries = fmt.Sprintf("%d deliveries change", n)
	}
	damages := fmt.Sprintf("damages stay at %s", Dollars(m.Damages[1]))
	if m.Damages[0] != m.Damages[1] {
		damages = fmt.Sprintf("damages go from %s to %s", Dollars(m.Damages[0]), Dollars(m.Damages[1]))
	}
	return fmt.Sprintf("%s, %s, %s.", visits, deliveries, damages)
}

// promises counts visits by how firm they were: 1 frozen and 2 confirmed.
func promises(list []VisitMove) string {
	var of []string
	for _, name := range []string{"frozen", plant.Confirmed, plant.Tentative, plant.Requested} {
		n := 0
		for _, v := range list {
			if v.Promise() == name {
				n++
			}
		}
		if n > 0 {
			of = append(of, fmt.Sprintf("%d %s", n, name))
		}
	}
	return joined(of, "and")
}

// against tells a delivery from its contract.
func against(d Delivery) string {
	switch n := int(d.Day - d.Due); {
	case n > 0:
		return count(n, "day") + " after the contract"
	case n < 0:
		return count(-n, "day") + " before the contract"
	}
	return "the day of the contract"
}

// shift says by how many working days something moves.
func shift(n int) string {
	switch {
	case n > 0:
		return count(n, "working day") + " later"
	case n < 0:
		return count(-n, "working day") + " earlier"
	}
	return "the same working day"
}

// working says a length of working time.
func working(minutes int) string {
	if h, m := minutes/60, minutes%60; m > 0 {
		return fmt.Sprintf("%d h %d min", h, m)
	} else {
		return fmt.Sprintf("%d h", h)
	}
}

// days says a run of days.
func days(r plant.Range) string {
	if r.From == r.Through {
		return "on " + say(r.From)
	}
	return fmt.Sprintf("%s through %s", say(r.From), say(r.Through))
}

func sayTime(m calendar.Moment) string { return say(m.Date()) + " " + m.Clock().String() }

func people(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// Dollars writes an amount of money: $12,500.
func Dollars(n int64) string {
	if n < 0 {
		return "-" + Dollars(-n)
	}
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return "$" + s
}

// kindName is the kind of a visit within a sentence.
func kindName(kind string) string {
	if one, two, _ := strings.Cut(kind, "_"); one == "pre" || one == "re" {
		return one + "-" + two + " visit"
	}
	return strings.ReplaceAll(kind, "_", " ") + " visit"
}

// stageName is the name of a stage for people.
func stageName(p *plant.Plant, id string) string {
	if s := p.FindStage(id); s != nil && s.Name != "" {
		return s.Name
	}
	return id
}
