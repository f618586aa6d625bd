package check

import (
	"fmt"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A docket is what the plant says of one truck, and what the plan has for it.
type docket struct {
	truck    *plant.Truck
	features map[string]bool
	visits   map[string]*visit // that still have to take place, by kind
	done     map[string]calendar.Moment
	running  map[string]*plant.Running
	rows     map[string]*row // by id of the row
}

func newDocket(t *plant.Truck) *docket {
	d := &docket{
		truck:    t,
		features: map[string]bool{},
		visits:   map[string]*visit{},
		done:     make(map[string]calendar.Moment, len(t.Done)),
		running:  make(map[string]*plant.Running, len(t.Running)),
		rows:     map[string]*row{},
	}
	for _, f := range t.Features() {
		d.features[f] = true
	}
	for _, s := range t.Done {
		ended, again := d.done[s.Stage]
		if !again || s.Ended > ended {
			d.done[s.Stage] = s.Ended
		}
	}
	for i := range t.Running {
		d.running[t.Running[i].Stage] = &t.Running[i]
	}
	return d
}

// has reports whether the truck has every one of the features.
func (d *docket) has(needs []string) bool {
	for _, n := range needs {
		if !d.features[n] {
			return false
		}
	}
	return true
}

// applies reports whether the plant makes the stage part of the truck's route,
// whatever the plan makes of its visits.
func (d *docket) applies(s *plant.Stage) bool {
	return d.has(s.Needs) && (s.Visit == "" || d.visits[s.Visit] != nil)
}

// open reports whether the stage applies and is not done.
func (d *docket) open(s *plant.Stage) bool {
	_, done := d.done[s.ID]
	return d.applies(s) && !done
}

// demands reports whether the plan must have a row for the stage: it is open,
// and is not a visit that the plan breaks. A visit under way cannot be broken.
func (d *docket) demands(s *plant.Stage) bool {
	return d.open(s) && (s.Visit == "" || d.rows[s.ID] != nil || d.running[s.ID] != nil)
}

// wishesOf returns the ids of the rows, such as final_inspection.drive, that the
// wishes of a visit stage ask for when it takes place.
func (h *hearing) wishesOf(d *docket, s *plant.Stage) []string {
	v := d.visits[s.Visit]
	if s.Visit == "" || v == nil || !d.demands(s) {
		return nil
	}
	var ids []string
	seen := map[string]bool{}
	for _, id := range v.Wishes {
		if w := h.wishes[id]; w != nil && d.has(w.Needs) && !seen[id] {
			seen[id] = true
			ids = append(ids, s.ID+"."+id)
		}
	}
	return ids
}

// owes reports whether the plan must have the row of a wish of the stage. Nobody
// records which wishes of a visit under way have been met, so they may be in the
// plan or not.
func (d *docket) owes(s *plant.Stage, id string) bool {
	return d.running[s.ID] == nil || d.rows[id] != nil
}

// count returns how many stages, wishes and visits the plant asks for, and how
// many of them stand in the plan.
func (h *hearing) count() (asked, looked int) {
	for _, d := range h.dockets {
		for i := range h.p.Route {
			s := &h.p.Route[i]
			if d.demands(s) {
				asked++
			}
			for _, id := range h.wishesOf(d, s) {
				if d.owes(s, id) {
					asked++
				}
			}
		}
	}
	asked += len(h.visits)
	said := map[string]bool{}
	for _, v := range h.plan.Visits {
		said[v.Visit] = true
	}
	for _, v := range h.visits {
		if said[v.ID] {
			looked++
		}
	}
	return asked, looked + len(h.rows)
}

// identify finds what a row is about. It returns why the plan should not have
// the row, "" if it should.
func (h *hearing) identify(r *row) (why string) {
	stage, wish, isWish := strings.Cut(r.Stage, ".")
	r.stage = h.stages[r.Stage]
	if r.stage == nil && isWish {
		r.stage, r.wish = h.stages[stage], h.wishes[wish]
		if r.wish == nil {
			r.wish = &plant.Wish{ID: wish}
			return "the plant knows no wish " + wish
		}
	}
	switch {
	case r.docket == nil:
		return "the plant has no such truck"
	case r.stage == nil:
		return "the route has no such stage"
	case r.docket.rows[r.Stage] != nil:
		return "it is in the plan already"
	case r.wish != nil:
		return h.identifyWish(r)
	}
	ended, done := r.docket.done[r.Stage]
	switch {
	case done:
		return "it ended on " + atTime(ended)
	case !r.docket.has(r.stage.Needs):
		return "the truck has no " + list(r.stage.Needs, "or")
	case !r.docket.applies(r.stage):
		return "the truck has no such visit before it"
	}
	r.visit = r.docket.visits[r.stage.Visit]
	r.running = r.docket.running[r.Stage]
	return ""
}

// identifyWish is identify for a wish whose truck, stage and wish exist.
func (h *hearing) identifyWish(r *row) (why string) {
	r.visit = r.docket.visits[r.stage.Visit]
	for _, id := range h.wishesOf(r.docket, r.stage) {
		if id == r.Stage {
			return ""
		}
	}
	switch {
	case r.visit == nil || !r.docket.demands(r.stage):
		return "the visit does not take place"
	case !r.docket.has(r.wish.Needs):
		return "the truck has no " + list(r.wish.Needs, "or")
	}
	return fmt.Sprintf("visit %s did not ask for it", r.visit.ID)
}

// need returns the working minutes of a row of a length in hours.
func (r *row) need() int {
	if r.wish != nil {
		return max(r.wish.Minutes, 1)
	}
	t := r.docket.truck
	var e plant.Estimate
	switch t.Content {
	case plant.Light:
		e = r.stage.Hours.Light
	case plant.Heavy:
		e = r.stage.Hours.Heavy
	default:
		e = r.stage.Hours.Medium
	}
	minutes := e.LikelyMinutes
	for _, x := range r.stage.Extra {
		if r.docket.features[x.Feature] {
			minutes += x.Minutes
		}
	}
	for _, o := range t.Overruns {
		if o.Stage == r.stage.ID {
			minutes += o.Minutes
		}
	}
	return max(minutes, 1)
}

// finish returns the end of work of a row that starts at the moment, and false
// if that lies beyond what the calendars know.
func (h *hearing) finish(r *row, start calendar.Moment) (calendar.Moment, bool) {
	length := r.stage.Length
	if r.wish != nil {
		length = plant.LengthHours
	}
	switch length {
	case plant.LengthVisit:
		return h.finishParts(r, start, max(1, r.visit.halves()))
	case plant.LengthDrive:
		return h.finishDays(r, start, h.driveDays(r))
	}
	return r.hours.Add(start, r.need())
}

// halves returns the length of a visit; a stage that is no visit has none.
func (v *visit) halves() int {
	if v == nil {
		return 0
	}
	return v.Halves
}

// finishParts returns the end of work in the n-th working part from start's on.
func (h *hearing) finishParts(r *row, start calendar.Moment, n int) (calendar.Moment, bool) {
	s, ok := h.grid.At(start)
	if !ok {
		return calendar.NoMoment, false
	}
	for s = r.hours.Next(s); n > 1 && s < h.grid.Slots(); n-- {
		s = r.hours.Next(s + 1)
	}
	if s == h.grid.Slots() {
		return calendar.NoMoment, false
	}
	return r.hours.Last(s), true
}

// finishDays returns the end of work on the n-th working day from start's on.
func (h *hearing) finishDays(r *row, start calendar.Moment, n int) (calendar.Moment, bool) {
	d := start.Date() - 1
	for ; n > 0; n-- {
		next, ok := r.hours.NextWorkDay(d)
		if !ok {
			return calendar.NoMoment, false
		}
		d = next
	}
	return r.hours.Last(r.hours.Prev(h.grid.Slot(d, h.grid.Parts()-1))), true
}

// driveDays returns the days on the road: miles over the planning rate, rounded
// up, at least one.
func (h *hearing) driveDays(r *row) int {
	c, rate := h.customers[r.docket.truck.Customer], h.p.Prices.DriveMilesPerDay
	if c == nil || rate <= 0 || c.Miles <= 0 {
		return 1
	}
	return 1 + (c.Miles-1)/rate
}
