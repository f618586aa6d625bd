package solver

import (
	"fmt"
	"reflect"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A ledger keeps the starts of stages and the arcs between them, each by all that it
// follows from, so that a question about a plant in which some measures are taken works
// out only what these touch. It serves plants of one frame: the same moment, days, parts,
// customers and order of work, and the same calendars of plant and customers. Another
// plant is answered without it.
//
// What starts follow from is numbered: equal texts of it have equal numbers. That is the
// truck's record with its visits, its line-off day and its days on the line; the row of
// the stage; the rules of its department's calendar; the crews it needs, with the rules
// of theirs; the bays of its kind, with their closures; for a visit, the notice.
type ledger struct {
	p      *plant.Plant // whose frame it is
	grid   *calendar.Grid
	ones   []int32
	shared []string                   // calendars that all plants have alike
	hours  map[string]*calendar.Hours // by the text of the rules
	guests map[string]*calendar.Hours // by id
	number map[string]int             // by text
	starts map[startsOf][]move
	arcs   map[arcOf]schedule.Arc
	moves  int // in all starts
	kept   ledgerCounts
}

// ledgerCounts say how much of the starts of stages was taken over. They repeat exactly.
type ledgerCounts struct {
	Stages, StagesKept int // stages of all questions
	Arcs, ArcsKept     int // arcs of the routes
}

// startsOf is all that starts follow from.
type startsOf struct {
	truck, stage                              string
	record, row, hours, crews, bays, noticing int
}

// arcOf is all that an arc follows from: the starts at both ends, as they lie in the
// ledger, the waits, the calendar in which they are counted, or the working days of the
// readiness buffer and one more.
type arcOf struct {
	from, to   *move
	nFrom, nTo int
	after      plant.After
	hours      *calendar.Hours
	ready      int
}

// mostMoves is how many starts a ledger holds before it begins anew: of some 50 bytes.
const mostMoves = 3_000_000

// newLedger begins with nothing.
func newLedger(p *plant.Plant) *ledger {
	l := &ledger{p: p, guests: map[string]*calendar.Hours{}, shared: []string{p.Calendar}}
	for i := range p.Customers {
		if id := p.Customers[i].Calendar; id != "" && !slices.Contains(l.shared, id) {
			l.shared = append(l.shared, id)
		}
	}
	l.clear()
	return l
}

func (l *ledger) clear() {
	l.hours, l.number = map[string]*calendar.Hours{}, map[string]int{}
	l.starts, l.arcs, l.moves = map[startsOf][]move{}, map[arcOf]schedule.Arc{}, 0
}

// serves reports whether p has the ledger's frame.
func (l *ledger) serves(p *plant.Plant) bool {
	a, b := l.p.Buffer, p.Buffer
	a.NoticeDays, b.NoticeDays = 0, 0
	if l.p.Zone != p.Zone || l.p.AsOf != p.AsOf || l.p.Horizon != p.Horizon || l.p.Calendar != p.Calendar || a != b ||
		!same(l.p.Parts, p.Parts) || !same(l.p.Notice, p.Notice) || !same(l.p.Customers, p.Customers) || !sameOrder(l.p.Route, p.Route) {
		return false
	}
	for _, id := range l.shared {
		if x, y := l.p.FindCalendar(id), p.FindCalendar(id); x != y && (x == nil || y == nil || !reflect.DeepEqual(x, y)) {
			return false
		}
	}
	return true
}

// sameOrder reports whether two routes have the same stages, but for greatest waits.
func sameOrder(a, b []plant.Stage) bool {
	if same(a, b) {
		return true
	}
	plain := func(s plant.Stage) plant.Stage {
		s.After = slices.Clone(s.After)
		for i := range s.After {
			s.After[i].MaxElapsedMinutes, s.After[i].MaxWorkMinutes = 0, 0
		}
		return s
	}
	return slices.EqualFunc(a, b, func(x, y plant.Stage) bool { return reflect.DeepEqual(plain(x), plain(y)) })
}

// text says everything about a value, quoted, so that two that differ have two texts.
func text(v any) string { return fmt.Sprintf("%#v", v) }

func (l *ledger) numbered(of string, v any) int {
	key := of + " " + text(v)
	n, ok := l.number[key]
	if !ok {
		n = len(l.number) + 1
		l.number[key] = n
	}
	return n
}

// A reading is what one question has in the ledger: the numbers of what its starts
// follow from.
type reading struct {
	*ledger
	record, row, rules, crew, bays map[string]int
}

// open numbers what the starts of q follow from.
func (l *ledger) open(q *question) *reading {
	if l.moves > mostMoves {
		l.clear()
	}
	r := &reading{ledger: l, record: map[string]int{}, row: map[string]int{}, rules: map[string]int{}, crew: map[string]int{}, bays: map[string]int{}}
	rules := func(id string) int {
		n, ok := r.rules[id]
		if c := q.p.FindCalendar(id); !ok && c != nil {
			n = l.numbered("rules", c.Rules)
			r.rules[id] = n
		}
		return n
	}
	visits := visitsByTruck(q.p)
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		if q.only != nil && !q.only[t.ID] {
			continue
		}
		var stays []plant.Range
		for _, s := range q.p.Line.Stations {
			stay, known := q.lineOff.Stay(t.ID, s.ID)
			if !known {
				stay = plant.Range{From: calendar.None, Through: calendar.None}
			}
			stays = append(stays, stay)
		}
		r.record[t.ID] = l.numbered("truck", []any{*t, visits[t.ID], q.lineOff.LineOff(t.ID), stays})
	}
	for i := range q.p.Route {
		s := &q.p.Route[i]
		r.row[s.ID] = l.numbered("stage", *s)
		if d := q.p.FindDepartment(s.Department); d != nil {
			rules(d.Calendar)
		}
	}
	for i := range q.p.Crews {
		c := q.p.Crews[i]
		n := rules(c.Calendar)
		c.Calendar = ""
		r.crew[c.ID] = l.numbered("crew", []any{c, n})
	}
	kinds := map[string][]any{}
	for i := range q.p.Bays {
		for _, k := range q.p.Bays[i].Kinds {
			kinds[k] = append(kinds[k], q.p.Bays[i], q.problem.Machines[i].Closed)
		}
	}
	for i := range q.p.Route {
		k := q.p.Route[i].Bay
		r.bays[k] = l.numbered("bays", kinds[k])
	}
	return r
}

// of is all that the starts of a stage follow from.
func (r *reading) of(q *question, w *work) startsOf {
	key := startsOf{truck: w.truck.ID, stage: w.stage.ID, record: r.record[w.truck.ID], row: r.row[w.stage.ID],
		hours: r.rules[q.p.FindDepartment(w.stage.Department).Calendar], bays: r.bays[w.stage.Bay]}
	for _, n := range w.stage.Crews {
		key.crews = r.numbered("crews", []int{key.crews, r.crew[n.Crew]})
	}
	if w.visit != nil {
		key.noticing = q.p.Buffer.NoticeDays
	}
	return key
}

// recalled returns the starts of a stage as the ledger has them.
func (q *question) recalled(w *work) ([]move, bool) {
	r := q.reading
	if r == nil {
		return nil, false
	}
	r.kept.Stages++
	list, ok := r.starts[r.of(q, w)]
	if ok {
		r.kept.StagesKept++
		w.noted = true
	}
	return list, ok
}

// note writes the starts of a stage into the ledger.
func (q *question) note(w *work) {
	if r := q.reading; r != nil {
		w.moves = slices.Clip(w.moves)
		r.starts[r.of(q, w)] = w.moves
		r.moves += len(w.moves) + 10
		w.noted = true
	}
}

// arc is an arc between two tasks with these waits, or with the readiness buffer where
// ready is 1 or more, as the ledger has it, or as it is made.
func (q *question) arc(from, to int, a plant.After, ready int, make func() schedule.Arc) schedule.Arc {
	v, w := &q.work[from], &q.work[to]
	if q.reading == nil || !v.noted || !w.noted || len(v.moves) == 0 || len(w.moves) == 0 {
		return make()
	}
	r := q.reading
	key := arcOf{&v.moves[0], &w.moves[0], len(v.moves), len(w.moves), a, w.hours, ready}
	r.kept.Arcs++
	arc, ok := r.arcs[key]
	if ok {
		r.kept.ArcsKept++
		arc.From, arc.To = from, to
		return arc
	}
	arc = make()
	r.arcs[key] = arc
	r.moves += len(arc.Earliest)/5 + 10
	return arc
}
