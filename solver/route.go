package solver

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A link is a predecessor of a stage as it applies to one truck.
type link struct {
	stage *plant.Stage
	after plant.After // zero waits where the link passes through a stage that does not apply
}

// links resolves the predecessors of s for the truck. Those that do not apply are
// passed through; visits that may be left out are passed through as well as kept.
// What is done or runs is passed through to what is open before it: that is
// repeated, and comes before s all the same.
func (q *question) links(t *plant.Truck, s *plant.Stage) (list []link) {
	type way struct {
		stage string
		past  bool // it leads through what is done or runs
	}
	seen, walked := map[string]bool{}, map[way]bool{}
	var walk func(s *plant.Stage, direct, past bool)
	walk = func(s *plant.Stage, direct, past bool) {
		if walked[way{s.ID, past}] {
			return
		}
		walked[way{s.ID, past}] = true
		for _, a := range s.After {
			b := q.p.FindStage(a.Stage)
			if b == nil {
				continue
			}
			beyond := past
			if done := isDone(t, b.ID); done || q.p.Applies(t, b) {
				l := link{b, plant.After{Stage: b.ID}}
				if direct {
					l.after = a
				}
				if (direct || !seen[b.ID]) && !(done && past) {
					list = append(list, l)
					seen[b.ID] = true
				}
				switch {
				case done || isRunning(t, b.ID):
					beyond = true
				case b.Visit == "":
					continue
				}
			}
			walk(b, false, beyond)
		}
	}
	walk(s, true, false)
	return list
}

// route writes the order of one truck's stages, the readiness buffer, and that a
// truck is in one place at a time.
func (q *question) route(n int) {
	t := &q.p.Trucks[n]
	var own []int
	inherited := q.inheritedOrder(n)
	for i := range q.p.Route {
		s := &q.p.Route[i]
		to, ok := q.at[rowKey{t.ID, s.ID}]
		if !ok {
			continue
		}
		own = append(own, to)
		if inherited || q.work[to].run != nil || q.apart.has(t) {
			continue // written already; or it has begun, and what came before is past; or kept apart
		}
		for _, l := range q.links(t, s) {
			if from, ok := q.at[rowKey{t.ID, l.stage.ID}]; ok {
				q.after(from, to, l.after)
			}
		}
		if s.Visit == plant.FinalInspection {
			for _, c := range q.ancestors(s) {
				if from, ok := q.at[rowKey{t.ID, c.ID}]; ok && c.Certifies {
					q.buffer(from, to)
				}
			}
		}
	}
	q.onePlace(t, own)
}

// after writes an arc from the end of one stage to the start of another.
func (q *question) after(from, to int, a plant.After) {
	q.problem.Arcs = append(q.problem.Arcs, q.arc(from, to, a, 0, func() schedule.Arc { return q.waits(from, to, a) }))
}

// waits works out the arc of a link.
func (q *question) waits(from, to int, a plant.After) schedule.Arc {
	arc := schedule.Arc{From: from, To: to}
	w := &q.work[to]
	target := &q.problem.Tasks[to]
	bounded := a.MaxWorkMinutes > 0 || a.MaxElapsedMinutes > 0
	j, last := 0, -1
	for _, m := range q.work[from].moves {
		for j < len(w.moves) && !q.reached(w, w.moves[j], m.end, m.finish, a) {
			j++
		}
		arc.Earliest = append(arc.Earliest, startOr(target, j, q.grid.Slots()+1))
		if bounded {
			for last+1 < len(w.moves) && !q.exceeded(w, w.moves[last+1], m.end, a) {
				last++
			}
			if last < 0 {
				arc.Latest = append(arc.Latest, -1)
			} else {
				arc.Latest = append(arc.Latest, target.Starts[last])
			}
		}
	}
	return arc
}

// startOr is the task's k-th start, or none past the last.
func startOr(t *schedule.Task, k int, none schedule.Slot) schedule.Slot {
	if k < len(t.Starts) {
		return t.Starts[k]
	}
	return none
}

// reached reports whether a move may follow a stage that ended so, as far as the
// order and the least waits go.
func (q *question) reached(w *work, m move, end calendar.Moment, finish calendar.Slot, a plant.After) bool {
	return m.hold > finish && m.start >= end &&
		(a.MinWorkMinutes == 0 || w.hours.Between(end, m.start) >= a.MinWorkMinutes) &&
		(a.MinElapsedMinutes == 0 || q.grid.ElapsedMinutes(end, m.start) >= a.MinElapsedMinutes)
}

// exceeded reports whether a move comes later than the greatest waits allow.
func (q *question) exceeded(w *work, m move, end calendar.Moment, a plant.After) bool {
	return m.start > end && (a.MaxWorkMinutes > 0 && w.hours.Between(end, m.start) > a.MaxWorkMinutes ||
		a.MaxElapsedMinutes > 0 && q.grid.ElapsedMinutes(end, m.start) > a.MaxElapsedMinutes)
}

// afterDone drops the moves of w that the stages done before it do not allow.
func (q *question) afterDone(w *work) {
	for _, l := range q.links(w.truck, w.stage) {
		for _, d := range w.truck.Done {
			if d.Stage != l.stage.ID {
				continue
			}
			finish, ok := q.grid.At(d.Ended - 1)
			if !ok {
				finish = -1
			}
			w.moves = slices.DeleteFunc(w.moves, func(m move) bool {
				return !q.reached(w, m, d.Ended, finish, l.after) || q.exceeded(w, m, d.Ended, l.after)
			})
		}
	}
}

// buffer writes the working days between a certificate and the final inspection.
func (q *question) buffer(from, to int) {
	ready := 1 + q.p.ReadyWorkDays(q.work[to].truck)
	q.problem.Arcs = append(q.problem.Arcs, q.arc(from, to, plant.After{}, ready, func() schedule.Arc { return q.readies(from, to) }))
}

// readies works out the arc of the readiness buffer.
func (q *question) readies(from, to int) schedule.Arc {
	arc := schedule.Arc{From: from, To: to}
	w := &q.work[to]
	j := 0
	for _, m := range q.work[from].moves {
		for j < len(w.moves) && !q.ready(w.truck, m.last(), w.moves[j].day()) {
			j++
		}
		arc.Earliest = append(arc.Earliest, startOr(&q.problem.Tasks[to], j, q.grid.Slots()+1))
	}
	return arc
}

// onePlace keeps stages of a truck apart that each hold a bay and that the route
// leaves unordered: branches side by side, and work that runs with what is repeated
// before it.
func (q *question) onePlace(t *plant.Truck, own []int) {
	before := make([]bool, len(own)*len(own)) // own[i] before own[j], at i*len(own)+j
	for j, to := range own {
		if q.work[to].run != nil || q.apart.has(t) {
			continue
		}
		for _, l := range q.links(t, q.work[to].stage) {
			if from, ok := q.at[rowKey{t.ID, l.stage.ID}]; ok {
				before[slices.Index(own, from)*len(own)+j] = true
			}
		}
	}
	for k := range own {
		for i := range own {
			for j := range own {
				if before[i*len(own)+k] && before[k*len(own)+j] {
					before[i*len(own)+j] = true
				}
			}
		}
	}
	r := schedule.Resource{Name: t.ID, Capacity: q.ones}
	for i, task := range own {
		if len(q.problem.Tasks[task].Able) == 0 {
			continue
		}
		for j, other := range own {
			if j != i && len(q.problem.Tasks[other].Able) > 0 && !before[i*len(own)+j] && !before[j*len(own)+i] {
				r.Uses = append(r.Uses, schedule.Use{Task: task, Need: 1})
				break
			}
		}
	}
	if len(r.Uses) > 1 {
		q.problem.Resources = append(q.problem.Resources, r)
	}
}

// crews turns the crews into pools.
func (q *question) crews() {
	for n := range q.p.Crews {
		c := &q.p.Crews[n]
		r := schedule.Resource{Name: c.ID, Capacity: make([]int32, q.grid.Slots())}
		for s := range r.Capacity {
			r.Capacity[s] = q.heads(c.ID, calendar.Slot(s))
		}
		under := make([]int32, q.grid.Slots()) // needed by work that runs
		for i := range q.work {
			w := &q.work[i]
			needs := w.stage.Crews
			if w.wish != nil {
				needs = w.wish.Crews
			}
			var heads int32
			for _, need := range needs {
				if need.Crew == c.ID {
					heads += int32(need.Heads)
				}
			}
			if heads == 0 {
				continue
			}
			u := schedule.Use{Task: i, Need: heads, On: q.mask(w)}
			for _, m := range w.moves {
				u.From = append(u.From, m.begin)
			}
			r.Uses = append(r.Uses, u)
			if w.run != nil {
				m := w.moves[0]
				for s := m.begin; s <= m.finish; s++ {
					if w.hours.Work(s) > 0 {
						under[s] += heads
					}
				}
			}
		}
		for s := range r.Capacity {
			r.Capacity[s] = max(r.Capacity[s], under[s])
		}
		q.problem.Resources = append(q.problem.Resources, r)
	}
}

// mask marks the slots in which the department of w works.
func (q *question) mask(w *work) []bool {
	id := w.stage.Department
	if w.wish != nil {
		id = w.wish.Department
	}
	on, ok := q.masks[id]
	if !ok {
		on = make([]bool, q.grid.Slots())
		for s := range on {
			on[s] = w.hours.Work(calendar.Slot(s)) > 0
		}
		q.masks[id] = on
	}
	return on
}
