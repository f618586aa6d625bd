package solver

import (
	"reflect"
	"slices"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// heir is what a question takes over from the one before it.
type heir struct {
	old    *question       // nil once the question is whole
	trucks map[string]bool // same record, same visits, same days on the line: by id
	kinds  map[string]bool // kinds of bays of which one has changed
	crews  map[string]bool // crews that have changed
	stages int             // whose starts were taken over
	routes int             // trucks whose order of work was taken over
}

// sameFrame reports whether everything that all trucks share is the same: the
// moment, the days, the calendars, the route, the rules.
func sameFrame(a, b *plant.Plant) bool {
	return a.Zone == b.Zone && a.AsOf == b.AsOf && a.Horizon == b.Horizon && a.Calendar == b.Calendar &&
		a.Prices == b.Prices && a.Buffer == b.Buffer &&
		equal(a.Parts, b.Parts) && equal(a.Calendars, b.Calendars) && equal(a.Departments, b.Departments) &&
		equal(a.Route, b.Route) && equal(a.Wishes, b.Wishes) && equal(a.Notice, b.Notice) && equal(a.Customers, b.Customers) &&
		len(a.Bays) == len(b.Bays) && len(a.Crews) == len(b.Crews)
}

// equal reports whether two lists say the same. Mostly they are one: who changes a plant
// copies what it changes.
func equal[T any](a, b []T) bool { return same(a, b) || reflect.DeepEqual(a, b) }

// same reports whether two lists are one.
func same[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// inherit finds out what q may take over from old. The bays of q are machines
// already, its grid and calendars are those of old.
func (q *question) inherit(old *question) {
	h := &heir{old: old, trucks: map[string]bool{}, kinds: map[string]bool{}, crews: map[string]bool{}}
	for i := range q.p.Bays {
		a, b := &old.p.Bays[i], &q.p.Bays[i]
		if reflect.DeepEqual(a, b) && slices.Equal(old.problem.Machines[i].Closed, q.problem.Machines[i].Closed) {
			continue
		}
		for _, k := range slices.Concat(a.Kinds, b.Kinds) {
			h.kinds[k] = true
		}
	}
	for i := range q.p.Crews {
		if a, b := &old.p.Crews[i], &q.p.Crews[i]; !reflect.DeepEqual(a, b) {
			h.crews[a.ID], h.crews[b.ID] = true, true
		}
	}
	was, is := visitsByTruck(old.p), visitsByTruck(q.p)
	for i := range q.p.Trucks {
		t := &q.p.Trucks[i]
		before := old.p.FindTruck(t.ID)
		h.trucks[t.ID] = before != nil && reflect.DeepEqual(before, t) && reflect.DeepEqual(was[t.ID], is[t.ID]) &&
			q.lineOff.LineOff(t.ID) == old.lineOff.LineOff(t.ID) && q.sameStays(old, t.ID)
	}
	q.heir = h
}

func visitsByTruck(p *plant.Plant) map[string][]plant.Visit {
	m := map[string][]plant.Visit{}
	for _, v := range p.Visits {
		m[v.Truck] = append(m[v.Truck], v)
	}
	return m
}

// sameStays reports whether the truck stands at every station of the line on the
// same days.
func (q *question) sameStays(old *question, truck string) bool {
	for _, s := range q.p.Line.Stations {
		a, knownA := old.lineOff.Stay(truck, s.ID)
		b, knownB := q.lineOff.Stay(truck, s.ID)
		if a != b || knownA != knownB {
			return false
		}
	}
	return true
}

// inherited returns the starts of a stage that the question before worked out, if
// nothing that they follow from has changed: its truck and the visits to it, the
// bays of its kind, its crews.
func (q *question) inherited(w *work) ([]move, bool) {
	h := q.heir
	if h == nil {
		return nil, false
	}
	at, ok := h.old.at[rowKey{w.truck.ID, w.stage.ID}]
	if !ok || !h.trucks[w.truck.ID] || h.kinds[w.stage.Bay] ||
		slices.ContainsFunc(w.stage.Crews, func(n plant.Need) bool { return h.crews[n.Crew] }) {
		return nil, false
	}
	h.stages++
	return h.old.work[at].moves, true
}

// inheritedOrder writes the arcs of the truck's route as the question before had
// them, if all of its stages have the starts they had there.
func (q *question) inheritedOrder(n int) bool {
	h := q.heir
	if h == nil || !h.trucks[q.p.Trucks[n].ID] {
		return false
	}
	old := h.old
	m := slices.IndexFunc(old.p.Trucks, func(t plant.Truck) bool { return t.ID == q.p.Trucks[n].ID })
	from, was := q.first[n], old.first[m]
	if q.first[n+1]-from != old.first[m+1]-was {
		return false
	}
	for i := range q.first[n+1] - from {
		if a, b := &q.work[from+i], &old.work[was+i]; a.row() != b.row() || !same(a.moves, b.moves) && !slices.Equal(a.moves, b.moves) {
			return false
		}
	}
	h.routes++
	for _, a := range old.problem.Arcs[old.arcs[m]:old.arcs[m+1]] {
		q.problem.Arcs = append(q.problem.Arcs, schedule.Arc{From: a.From - was + from, To: a.To - was + from, Earliest: a.Earliest, Latest: a.Latest})
	}
	return true
}

// sameMeaning reports whether two problems have the same right answers: all but
// what they cost is equal.
func sameMeaning(a, b *schedule.Problem) bool {
	return a.Slots == b.Slots &&
		slices.EqualFunc(a.Tasks, b.Tasks, func(x, y schedule.Task) bool {
			return x.Name == y.Name && x.Job == y.Job && x.Skip == y.Skip && slices.Equal(x.Starts, y.Starts) && slices.Equal(x.Ends, y.Ends) && slices.Equal(x.Able, y.Able)
		}) &&
		slices.EqualFunc(a.Arcs, b.Arcs, func(x, y schedule.Arc) bool {
			return x.From == y.From && x.To == y.To && sameSlots(x.Earliest, y.Earliest) && sameSlots(x.Latest, y.Latest)
		}) &&
		slices.EqualFunc(a.Resources, b.Resources, func(x, y schedule.Resource) bool {
			return x.Name == y.Name && slices.Equal(x.Capacity, y.Capacity) && slices.EqualFunc(x.Uses, y.Uses, func(u, v schedule.Use) bool {
				return u.Task == v.Task && u.Need == v.Need && sameSlots(u.From, v.From) && (same(u.On, v.On) || slices.Equal(u.On, v.On) && (u.On == nil) == (v.On == nil))
			})
		}) &&
		slices.EqualFunc(a.Machines, b.Machines, func(x, y schedule.Machine) bool {
			return x.Name == y.Name && slices.Equal(x.Closed, y.Closed)
		}) &&
		slices.Equal(a.Together, b.Together)
}

// sameSlots compares two lists of which nil means something else than empty.
func sameSlots(a, b []schedule.Slot) bool {
	return (a == nil) == (b == nil) && (same(a, b) || slices.Equal(a, b))
}
