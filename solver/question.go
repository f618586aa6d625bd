package solver

import (
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A question is a plant turned into tasks over the parts of the days: which task
// is which stage of which truck, what every start of it means on the calendar,
// and the abstract problem.
type question struct {
	p       *plant.Plant
	grid    *calendar.Grid
	lineOff *plant.Projection
	house   *calendar.Hours            // the plant's own calendar
	hours   map[string]*calendar.Hours // the plant's calendars, by id
	guests  map[string]*calendar.Hours // the customers'
	now     calendar.Slot              // of AsOf
	work    []work                     // one per task
	at      map[rowKey]int
	problem schedule.Problem
	ones    []int32
	masks   map[string][]bool
	first   []int    // by truck: its first task; one more at the end
	arcs    []int    // by truck: the first arc of its route; one more at the end
	heir    *heir    // what it takes over from the question before; nil for the first
	ledger  *ledger  // what it takes over and adds to; nil: none
	reading *reading // what it has in a ledger; nil without one
	apart   *apart   // nil: every rule is in the problem

	demands    []demand        // beside the rules
	only       map[string]bool // trucks that it is about; nil: all
	conditions []Condition     // that the demands spell out, for the judge
	whole      *plant.Plant    // what p was before the conditions changed it; nil without conditions
}

// rowKey names a row of a plan.
type rowKey struct{ truck, stage string }

// work is one task in plant words.
type work struct {
	truck *plant.Truck
	stage *plant.Stage
	wish  *plant.Wish // nil for a stage
	visit *plant.Visit
	hours *calendar.Hours
	moves []move // one per start of the task
	run   *plant.Running

	against []rules // by move: the rules kept apart that it breaks; nil where none are
	noted   bool    // the moves lie in a ledger
}

// A move is what one start of a task means.
type move struct {
	start  calendar.Moment // first working minute
	end    calendar.Moment // exclusive
	hold   calendar.Slot   // the bay is held from this part
	begin  calendar.Slot   // the part of start
	finish calendar.Slot   // the part in which the last minute lies
}

func (m move) day() calendar.Date  { return m.start.Date() }
func (m move) last() calendar.Date { return (m.end - 1).Date() }

// row is the stage id of the task's row in a plan.
func (w *work) row() string {
	if w.wish != nil {
		return w.stage.ID + "." + w.wish.ID
	}
	return w.stage.ID
}

// A stuck task has no start at all: no plan can hold it.
type stuck struct {
	Truck, Stage string
	Why          string
}

// ask turns a plant into a question. Stages that have no start at all are
// returned; the problem then has no answer. The error tells of a plant that a
// validated file cannot give.
func ask(p *plant.Plant) (*question, []stuck, error) { return askAfter(p, nil) }

// askAfter is ask for a plant that follows from the one of an earlier question, or
// nil: what is the same in both is not worked out again. The answer is that of ask.
func askAfter(p *plant.Plant, old *question) (*question, []stuck, error) { return pose(p, old, nil) }

// pose is askAfter with some rules kept apart from the problem, or with demands
// beside the rules; nothing is then taken over.
func pose(p *plant.Plant, old *question, a *apart, demands ...demand) (*question, []stuck, error) {
	return poseSome(p, old, nil, a, nil, demands...)
}

// poseSome is pose about some trucks alone, nil for all: as if the others were not
// in the shop, though they are on the line. What is impossible for some is impossible
// for all. What a ledger has, which may be nil, is taken from there.
func poseSome(p *plant.Plant, old *question, l *ledger, a *apart, only map[string]bool, demands ...demand) (*question, []stuck, error) {
	q := &question{p: p, hours: map[string]*calendar.Hours{}, guests: map[string]*calendar.Hours{}, at: map[rowKey]int{}, masks: map[string][]bool{}, apart: a, demands: demands, only: only}
	from := min(p.Horizon.From, p.AsOf.Date())
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			from = min(from, r.Started.Date())
		}
		for _, d := range p.Trucks[i].Done { // waits and the buffer count from there
			from = min(from, max(d.Ended.Date(), p.Horizon.From-history))
		}
	}
	var err error
	// More before the first day: line-ups and the working day before a visit, over a
	// shutdown as well.
	if old != nil && (len(demands)+len(old.demands) > 0 || only != nil || old.only != nil || !sameFrame(old.p, p) || old.grid.From() != from-earlier) {
		old = nil
	}
	if l != nil && (a != nil || !l.serves(p) || l.grid != nil && l.grid.From() != from-earlier) {
		l = nil
	}
	switch {
	case old != nil:
		q.grid, q.hours, q.guests, q.ones, q.masks = old.grid, old.hours, old.guests, old.ones, old.masks
	case l != nil && l.grid != nil:
		q.grid, q.guests, q.ones = l.grid, l.guests, l.ones
	default:
		if q.grid, err = p.Grid(from-earlier, p.Horizon.Through); err != nil {
			return nil, nil, err
		}
		q.ones = slices.Repeat([]int32{1}, int(q.grid.Slots()))
	}
	q.ledger = l
	if l != nil {
		l.grid, l.guests, l.ones = q.grid, q.guests, q.ones
	}
	if q.house, err = q.calendar(p.Calendar); err != nil {
		return nil, nil, err
	}
	if q.lineOff, err = p.Project(); err != nil {
		return nil, nil, err
	}
	var ok bool
	if q.now, ok = q.grid.At(p.AsOf); !ok {
		return nil, nil, fmt.Errorf("the plant's moment %s lies outside its horizon %s to %s: move one of them", p.AsOf, p.Horizon.From, p.Horizon.Through)
	}
	q.problem.Slots = q.grid.Slots()
	for _, b := range p.Bays {
		q.problem.Machines = append(q.problem.Machines, q.machine(&b))
	}
	if old != nil {
		q.inherit(old)
	}
	if l != nil {
		q.reading = l.open(q)
	}
	var lost []stuck
	for i := range p.Trucks {
		q.first = append(q.first, len(q.work))
		l, err := q.truck(i)
		if err != nil {
			return nil, nil, err
		}
		lost = append(lost, l...)
	}
	q.first = append(q.first, len(q.work))
	if len(lost) > 0 {
		return q, lost, nil
	}
	for i := range p.Trucks {
		q.arcs = append(q.arcs, len(q.problem.Arcs))
		q.route(i)
	}
	q.arcs = append(q.arcs, len(q.problem.Arcs))
	q.crews()
	q.tiers()
	if err := q.problem.Validate(); err != nil {
		return nil, nil, fmt.Errorf("the plant makes no well-formed problem: %w", err)
	}
	if q.heir != nil {
		q.heir.old = nil // let it go
	}
	return q, nil, nil
}

// calendar compiles a calendar once.
func (q *question) calendar(id string) (*calendar.Hours, error) {
	if h, ok := q.hours[id]; ok {
		return h, nil
	}
	rules := ""
	if c := q.p.FindCalendar(id); q.ledger != nil && c != nil {
		rules = text(c.Rules)
		if h, ok := q.ledger.hours[rules]; ok {
			q.hours[id] = h
			return h, nil
		}
	}
	h, err := q.p.Hours(id, q.grid)
	if err != nil {
		return nil, err
	}
	q.hours[id] = h
	if rules != "" {
		q.ledger.hours[rules] = h
	}
	return h, nil
}

// customer compiles a customer's calendar once, with the days of travel around the
// horizon.
func (q *question) customer(id string) (*calendar.Hours, error) {
	if h, ok := q.guests[id]; ok {
		return h, nil
	}
	g, err := q.p.Grid(q.grid.From()-travelMargin, q.grid.Through()+travelMargin)
	if err != nil {
		return nil, err
	}
	h, err := q.p.Hours(id, g)
	if err != nil {
		return nil, err
	}
	q.guests[id] = h
	return h, nil
}

// A question reaches back so many days before the first thing that counts, and counts
// what was done so many days before the horizon.
const (
	earlier = 60
	history = 3660
)

// travelMargin is how many days around the horizon a customer's calendar reaches.
const travelMargin = 60

func (q *question) department(id string) (*calendar.Hours, error) {
	d := q.p.FindDepartment(id)
	if d == nil {
		return nil, fmt.Errorf("there is no department %q", id)
	}
	return q.calendar(d.Calendar)
}

// machine turns a bay with its closures into a machine. Work that runs in a
// closed bay is there already: the closure is cut where it is. A truck that stands ready
// in it was not kept out of it before now.
func (q *question) machine(b *plant.Bay) schedule.Machine {
	shut := make([]bool, q.grid.Slots())
	for _, c := range b.Closures {
		for d := max(c.From, q.grid.From()); d <= min(c.Through, q.grid.Through()); d++ {
			for part := range q.grid.Parts() {
				shut[q.grid.Slot(d, part)] = true
			}
		}
	}
	for i := range q.p.Trucks {
		if q.p.Trucks[i].Standing.Bay == b.ID {
			for s := range q.now {
				shut[s] = false
			}
		}
		for n := range q.p.Trucks[i].Running {
			r := &q.p.Trucks[i].Running[n]
			if r.Bay != b.ID {
				continue
			}
			if m, ok := q.running(&q.p.Trucks[i], r); ok {
				for s := m.hold; s <= m.finish; s++ {
					shut[s] = false
				}
			}
		}
	}
	m := schedule.Machine{Name: b.ID}
	for s := calendar.Slot(0); s < q.grid.Slots(); s++ {
		if !shut[s] {
			continue
		}
		if n := len(m.Closed); n > 0 && m.Closed[n-1].To == s {
			m.Closed[n-1].To++
		} else {
			m.Closed = append(m.Closed, schedule.Interval{From: s, To: s + 1})
		}
	}
	return m
}

// truck makes the tasks of one truck: its open stages and the wishes of its
// visits.
func (q *question) truck(n int) (lost []stuck, err error) {
	t := &q.p.Trucks[n]
	if q.only != nil && !q.only[t.ID] {
		return nil, nil
	}
	for i := range q.p.Route {
		s := &q.p.Route[i]
		if !q.p.Applies(t, s) || isDone(t, s.ID) {
			continue
		}
		h, err := q.department(s.Department)
		if err != nil {
			return nil, err
		}
		w := work{truck: t, stage: s, hours: h}
		if s.Visit != "" {
			w.visit = q.p.VisitOf(t, s.Visit)
		}
		for r := range t.Running {
			if t.Running[r].Stage == s.ID {
				w.run = &t.Running[r]
			}
		}
		why, ok := "", false
		if w.run != nil {
			if m, ok := q.running(t, w.run); ok {
				w.moves = []move{m}
			} else {
				why = "it runs past the end of the horizon: move the horizon's last day"
			}
		} else if q.apart.has(t) && s.Station == "" {
			if w.moves, err = q.looseMoves(&w); err != nil {
				return nil, err
			}
		} else if w.moves, ok = q.inherited(&w); ok {
		} else if w.moves, ok = q.recalled(&w); !ok {
			if w.moves, err = q.moves(&w); err != nil {
				return nil, err
			}
			q.afterDone(&w)
			q.note(&w)
		}
		able := q.able(t, s.Bay, w.stands())
		held := w.run == nil && q.demanded(&w)
		skip := w.visit != nil && w.run == nil && !held
		if len(w.moves) == 0 && !skip {
			if len(q.demands) > 0 && why == "" {
				why = "what is asked of it leaves it no start"
			}
			if why == "" {
				why = q.lostSentence(&w)
			}
			lost = append(lost, stuck{t.ID, s.ID, why})
			continue
		}
		q.add(n, w, able, skip)
		if w.visit != nil && w.run == nil {
			l, err := q.wishes(n, &w)
			if err != nil {
				return nil, err
			}
			lost = append(lost, l...)
		}
	}
	return lost, nil
}

func isDone(t *plant.Truck, stage string) bool {
	return slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == stage })
}

func isRunning(t *plant.Truck, stage string) bool {
	return slices.ContainsFunc(t.Running, func(r plant.Running) bool { return r.Stage == stage })
}

// lostSentence says why a stage has no start.
func (q *question) lostSentence(w *work) string {
	return fmt.Sprintf("between line-off on %s and the end of the horizon on %s there is no start for %q that its department's calendar, its bays and its crews allow: move the horizon's last day, or look at the closures and crews of those weeks",
		q.lineOff.LineOff(w.truck.ID), q.grid.Through(), w.stage.Name)
}

// add appends a task. A visit that no day suits has no moves: it is left out.
func (q *question) add(job int, w work, able []int, skip bool) int {
	t := schedule.Task{Name: w.truck.ID + " " + w.row(), Job: job, Able: able, Skip: skip}
	for _, m := range w.moves {
		t.Starts = append(t.Starts, m.hold)
		t.Ends = append(t.Ends, m.finish+1)
	}
	i := len(q.problem.Tasks)
	q.problem.Tasks = append(q.problem.Tasks, t)
	q.work = append(q.work, w)
	q.at[rowKey{w.truck.ID, w.row()}] = i
	return i
}

// stands is the bay in which the truck is for this task already: its work runs there, or
// it stands ready. "" for none.
func (w *work) stands() string {
	switch {
	case w.run != nil:
		return w.run.Bay
	case w.ready():
		return w.truck.Standing.Bay
	}
	return ""
}

// ready reports whether the truck stands in its bay for the task, which has not begun:
// the bay may have been taken before now.
func (w *work) ready() bool {
	return w.wish == nil && w.run == nil && w.truck.Standing.Stage == w.stage.ID
}

// able lists the bays that can take the truck for a stage of the kind. Where it is in one
// already that is the only one.
func (q *question) able(t *plant.Truck, kind, stands string) (able []int) {
	if kind == "" {
		return nil
	}
	for b := range q.p.Bays {
		bay := &q.p.Bays[b]
		if stands != "" {
			if bay.ID == stands {
				able = append(able, b)
			}
		} else if bay.Takes(kind, t) {
			able = append(able, b)
		}
	}
	return able
}

// running is the one move of work under way.
func (q *question) running(t *plant.Truck, r *plant.Running) (m move, ok bool) {
	s := q.p.FindStage(r.Stage)
	if s == nil {
		return m, false
	}
	h, err := q.department(s.Department)
	if err != nil {
		return m, false
	}
	m.start = r.Started
	if m.begin, ok = q.grid.At(r.Started); !ok {
		return m, false
	}
	m.hold = m.begin
	if r.RemainingMinutes >= 0 {
		m.end, ok = h.Add(q.p.AsOf, max(1, r.RemainingMinutes))
	} else {
		if m.end, _, ok = q.lasting(t, s, q.p.VisitOf(t, s.Visit), h, m.begin, r.Started); ok && m.end <= q.p.AsOf {
			m.end, ok = h.Add(q.p.AsOf, 1)
		}
	}
	if !ok {
		return m, false
	}
	m.finish, ok = q.grid.At(m.end - 1)
	return m, ok
}

// lasting is the end of a stage that starts at the moment in the slot.
func (q *question) lasting(t *plant.Truck, s *plant.Stage, v *plant.Visit, h *calendar.Hours, slot calendar.Slot, start calendar.Moment) (end calendar.Moment, last calendar.Slot, ok bool) {
	switch s.Length {
	case plant.LengthVisit:
		halves := 1
		if v != nil {
			halves = max(1, v.Halves)
		}
		at := h.Next(slot)
		for halves--; halves > 0; halves-- {
			at = h.Next(at + 1)
			if at >= q.grid.Slots() {
				return 0, 0, false
			}
		}
		if at >= q.grid.Slots() {
			return 0, 0, false
		}
		return h.Last(at), at, true
	case plant.LengthDrive:
		day := start.Date()
		more := q.p.DriveDays(t) - 1
		if !h.WorksDay(day) {
			more++
		}
		for range more {
			next, ok := h.NextWorkDay(day)
			if !ok {
				return 0, 0, false
			}
			day = next
		}
		for part := q.grid.Parts() - 1; part >= 0; part-- {
			if at := q.grid.Slot(day, part); h.Work(at) > 0 {
				return h.Last(at), at, true
			}
		}
		return 0, 0, false
	}
	minutes := q.p.StageMinutes(t, s)
	if end, ok = h.Add(start, minutes); !ok {
		return 0, 0, false
	}
	last, ok = q.grid.At(end - 1)
	return end, last, ok
}

// moves lists the starts of a stage that the rules about it alone allow: the
// calendar, the parts of the day, line-off, crossing, the customer, notice, crews
// and closed bays.
func (q *question) moves(w *work) (list []move, err error) {
	t, s, h := w.truck, w.stage, w.hours
	first := calendar.Slot(0) // the bay may be taken from here
	last := q.grid.Slots()
	if s.Station == "" {
		if off := q.lineOff.LineOff(t.ID); off != calendar.None && off >= q.grid.From() {
			if off >= q.grid.Through() {
				return nil, nil
			}
			first = max(first, q.grid.Slot(off+1, 0))
		}
	} else {
		stay, ok := q.lineOff.Stay(t.ID, s.Station)
		if !ok || stay.From > q.grid.Through() {
			return nil, nil
		}
		first = max(first, q.grid.Slot(max(stay.From, q.grid.From()), 0))
		last = q.grid.Slot(min(stay.Through, q.grid.Through()), q.grid.Parts()-1) + 1
	}
	able := q.able(t, s.Bay, w.stands())
	var customer *calendar.Hours
	if w.visit != nil {
		if c := q.p.FindCustomer(t.Customer); c != nil && c.Calendar != "" {
			if customer, err = q.customer(c.Calendar); err != nil {
				return nil, err
			}
		}
	}
	for slot := h.Next(max(first, q.now)); slot < last; slot = h.Next(slot + 1) {
		if len(s.StartIn) > 0 && !slices.Contains(s.StartIn, q.p.Parts[q.grid.Part(slot)].ID) {
			continue
		}
		m := move{start: h.First(slot), begin: slot, hold: slot}
		if m.start < q.p.AsOf {
			continue
		}
		for range s.HoldBefore {
			m.hold = h.Prev(m.hold - 1)
		}
		if m.hold < first || !w.ready() && q.past(h, m.hold) {
			continue
		}
		var ok bool
		if m.end, m.finish, ok = q.lasting(t, s, w.visit, h, slot, m.start); !ok {
			break
		}
		if s.Station != "" && m.finish >= last {
			break
		}
		if q.crosses(w, m) || w.visit != nil && !q.suits(w, m, customer) || q.apart == nil && (!q.staffed(s.Crews, h, m) || len(able) > 0 && !q.anyOpen(able, m)) {
			continue
		}
		list = append(list, m)
	}
	if s.Bay != "" && len(able) == 0 {
		return nil, nil
	}
	return list, nil
}

// past reports whether a bay that is taken at the first work in a slot was taken before
// now.
func (q *question) past(h *calendar.Hours, s calendar.Slot) bool {
	return s < q.now || h.First(s) < q.p.AsOf
}

// crosses reports whether a move runs over something that its stage may not.
func (q *question) crosses(w *work, m move) bool {
	h := w.hours
	if !slices.Contains(w.stage.Crosses, plant.CrossShift) && h.Shift(m.start) != h.Shift(m.end-1) {
		return true
	}
	for d := m.day() + 1; d < m.last(); d++ {
		_, closed := h.Closed(d)
		switch {
		case closed && h.PatternWorks(d):
			if !slices.Contains(w.stage.Crosses, plant.CrossClosure) {
				return true
			}
		case !h.PatternWorks(d) && (d.Weekday() == 0 || d.Weekday() == 6):
			if !slices.Contains(w.stage.Crosses, plant.CrossWeekend) {
				return true
			}
		}
	}
	return false
}

// suits reports whether the customer can come, and is told early enough.
func (q *question) suits(w *work, m move, customer *calendar.Hours) bool {
	v := w.visit
	if q.p.Frozen(v) && m.day() != v.Booking.Day {
		return false
	}
	booked := v.Booking.State != plant.Requested && m.day() == v.Booking.Day
	if !booked && m.day() < q.p.AsOf.Date().AddDays(q.p.Buffer.NoticeDays) {
		return false
	}
	for s := m.begin; s <= m.finish; s++ {
		if w.hours.Work(s) == 0 {
			continue
		}
		d := q.grid.Date(s)
		if !slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(d) }) {
			return false
		}
	}
	for d := m.day().AddDays(-v.TravelDays); d <= m.last().AddDays(v.TravelDays); d++ {
		if slices.ContainsFunc(v.Blackouts, func(r plant.Range) bool { return r.Contains(d) }) {
			return false
		}
		if customer != nil {
			if _, closed := customer.Closed(d); closed {
				return false
			}
		}
	}
	if w.stage.HoldBefore > 0 {
		if before, ok := q.house.PrevWorkDay(m.day()); !ok || q.grid.Date(m.hold) < before {
			return false
		}
	}
	return q.certified(w, m)
}

// certified reports whether the certificates already in hand leave the buffer.
func (q *question) certified(w *work, m move) bool {
	if w.stage.Visit != plant.FinalInspection {
		return true
	}
	for _, c := range q.ancestors(w.stage) {
		for _, d := range w.truck.Done {
			if d.Stage == c.ID && c.Certifies && !q.ready(w.truck, (d.Ended-1).Date(), m.day()) {
				return false
			}
		}
	}
	return true
}

// ready reports whether enough working days lie between a certificate of the truck
// and a visit.
func (q *question) ready(t *plant.Truck, certificate, visit calendar.Date) bool {
	least := q.p.ReadyWorkDays(t)
	if least == 0 {
		return true // on the day itself; the order is the route's
	}
	if visit <= certificate {
		return false
	}
	return q.house.WorkDaysBetween(max(certificate, q.grid.From()), visit) >= least
}

// ancestors lists the stages that come before s in the route, directly or not.
func (q *question) ancestors(s *plant.Stage) (list []*plant.Stage) {
	seen := map[string]bool{}
	var walk func(s *plant.Stage)
	walk = func(s *plant.Stage) {
		for _, a := range s.After {
			if b := q.p.FindStage(a.Stage); b != nil && !seen[b.ID] {
				seen[b.ID] = true
				list = append(list, b)
				walk(b)
			}
		}
	}
	walk(s)
	return list
}

// staffed reports whether every crew alone has the heads in every part in which
// the stage works.
func (q *question) staffed(needs []plant.Need, h *calendar.Hours, m move) bool {
	for _, n := range needs {
		for s := m.begin; s <= m.finish; s++ {
			if h.Work(s) > 0 && q.heads(n.Crew, s) < int32(n.Heads) {
				return false
			}
		}
	}
	return true
}

// heads is how many of a crew are there in a slot.
func (q *question) heads(crew string, s calendar.Slot) int32 {
	c := q.p.FindCrew(crew)
	if c == nil {
		return 0
	}
	if h, err := q.calendar(c.Calendar); err != nil || h.Work(s) == 0 {
		return 0
	}
	return int32(c.SizeOn(q.grid.Date(s)))
}

// anyOpen reports whether some bay is open from hold to finish.
func (q *question) anyOpen(able []int, m move) bool {
	return slices.ContainsFunc(able, func(b int) bool {
		return !slices.ContainsFunc(q.problem.Machines[b].Closed, func(c schedule.Interval) bool {
			return c.From <= m.finish && m.hold < c.To
		})
	})
}

// inside is the move of a wish that starts in a slot: at the first minute in which its
// department and that of the visit both work. It ends no later than the visit works in
// the slot of its end.
func inside(visit, h *calendar.Hours, s calendar.Slot, minutes int) (move, bool) {
	m := move{begin: s, hold: s}
	from, to := max(h.First(s), visit.First(s)), min(h.Last(s), visit.Last(s))
	if h.Work(s) == 0 || visit.Work(s) == 0 || to <= from {
		return m, false
	}
	first, ok := h.Add(from, 1)
	if m.start = first - 1; !ok || m.start >= to {
		return m, false
	}
	if m.end, ok = h.Add(m.start, minutes); !ok {
		return m, false
	}
	m.finish, ok = h.Grid().At(m.end - 1)
	return m, ok && visit.Work(m.finish) > 0 && m.end <= visit.Last(m.finish)
}

// wishes makes the tasks of what a delegation wants to do inside its visit. Where the
// visit must take place, wishes without any start are lost.
func (q *question) wishes(job int, visit *work) (lost []stuck, err error) {
	v := len(q.problem.Tasks) - 1
	skip := q.problem.Tasks[v].Skip
	var tasks []int
	for _, id := range visit.visit.Wishes {
		wish := q.p.FindWish(id)
		if wish == nil || !visit.truck.Has(wish.Needs) {
			continue
		}
		h, err := q.department(wish.Department)
		if err != nil {
			return nil, err
		}
		w := work{truck: visit.truck, stage: visit.stage, wish: wish, visit: visit.visit, hours: h}
		able := q.able(visit.truck, wish.Bay, "")
		if len(visit.moves) > 0 && (wish.Bay == "" || len(able) > 0) {
			from, to := visit.moves[0].begin, visit.moves[len(visit.moves)-1].finish
			for s := h.Next(from); s <= to; s = h.Next(s + 1) {
				m, ok := inside(visit.hours, h, s, max(1, wish.Minutes))
				if !ok || m.finish > to {
					continue
				}
				if m.start >= q.p.AsOf && (q.apart != nil || q.staffed(wish.Crews, h, m) && (len(able) == 0 || q.anyOpen(able, m))) {
					w.moves = append(w.moves, m)
				}
			}
		}
		if len(w.moves) == 0 && !skip {
			lost = append(lost, stuck{w.truck.ID, w.row(), "the visit leaves it no time in which its bay and its people are there"})
			continue
		}
		i := q.add(job, w, able, skip)
		tasks = append(tasks, i)
		if skip {
			q.problem.Together = append(q.problem.Together, [2]int{v, i})
		}
		arc := schedule.Arc{From: v, To: i}
		inside := &q.problem.Tasks[i]
		for _, m := range q.work[v].moves {
			arc.Earliest = append(arc.Earliest, m.begin)
			latest := schedule.Slot(-1)
			for k := len(inside.Starts) - 1; k >= 0; k-- {
				if inside.Ends[k] <= m.finish+1 {
					latest = inside.Starts[k]
					break
				}
			}
			arc.Latest = append(arc.Latest, latest)
		}
		q.problem.Arcs = append(q.problem.Arcs, arc)
	}
	if len(tasks) > 1 {
		r := schedule.Resource{Name: visit.truck.ID + " during its visit", Capacity: q.ones}
		for _, i := range tasks {
			r.Uses = append(r.Uses, schedule.Use{Task: i, Need: 1})
		}
		q.problem.Resources = append(q.problem.Resources, r)
	}
	return lost, nil
}
