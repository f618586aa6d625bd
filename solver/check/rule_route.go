package check

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// route: a stage starts after its predecessors, with the waits between them. The
// last part of the day that a predecessor occupies comes before the part in which
// the follower takes its bay. A predecessor that is done counts with the moment
// it ended. One that does not apply, or is a visit that the plan breaks, is passed
// through to its own predecessors, of which only the order is asked. So is one that
// is done or runs, to those before it that are in the plan: work that is repeated
// comes before all that follows on the route.
func route(h *hearing) {
	for _, r := range h.rows {
		if r.running != nil || r.wish != nil || !r.sound {
			continue
		}
		for _, b := range h.before(r.docket, r.stage) {
			h.follows(r, b)
		}
	}
}

// A before is a predecessor of a stage that counts for one truck.
type before struct {
	stage *plant.Stage
	after plant.After     // the waits; zero where the link passes through others
	row   *row            // nil when it is done
	ended calendar.Moment // end of work
}

// before returns the predecessors of a stage that are done or in the plan. The
// direct ones come first.
func (h *hearing) before(d *docket, s *plant.Stage) []before {
	type step struct {
		stage *plant.Stage
		past  bool // the way to it leads through what is done or runs
	}
	var found []before
	way := []step{{s, false}}
	for i := 0; i < len(way); i++ {
		at := way[i]
		for _, a := range at.stage.After {
			pred := h.stages[a.Stage]
			if pred == nil {
				continue
			}
			b := before{stage: pred, row: d.rows[a.Stage]}
			if i == 0 {
				b.after = a
			}
			counts, next := true, step{pred, true}
			ended, done := d.done[a.Stage]
			switch {
			case b.row != nil:
				b.ended = b.row.End
				counts = b.row.sound
				if b.row.running == nil {
					next.stage = nil // what is before it, it follows itself
				}
			case done:
				b.ended = ended
				counts = !at.past
			case d.demands(pred):
				continue // missing: the rule complete has said so
			default:
				counts, next.past = false, at.past
			}
			if counts && (i == 0 || !slices.ContainsFunc(found, func(f before) bool { return f.stage == pred })) {
				found = append(found, b)
			}
			if next.stage != nil && !slices.Contains(way, next) {
				way = append(way, next)
			}
		}
	}
	return found
}

// follows asks order and waits of a row and one predecessor.
func (h *hearing) follows(r *row, b before) {
	name := named(b.stage.Name, b.stage.ID)
	last, known := h.grid.At(b.ended - 1)
	if b.row != nil {
		last = b.row.last
	}
	if known && last >= r.first {
		h.about(r, r.Hold, "%s begins on %s, and %s before it takes up the day through %s. Start it in a later part.",
			r.name(), atTime(r.Hold), name, h.inPart(last))
		return
	}
	elapsed := h.grid.ElapsedMinutes(b.ended, r.Start)
	if b.after.MinElapsedMinutes > 0 && elapsed < b.after.MinElapsedMinutes {
		h.about(r, r.Start, "%s starts on %s, %s after %s ended on %s; at least %s must pass, nights and weekends included. Start it later.",
			r.name(), atTime(r.Start), long(elapsed), name, atTime(b.ended), long(b.after.MinElapsedMinutes))
	}
	if b.after.MaxElapsedMinutes > 0 && elapsed > b.after.MaxElapsedMinutes {
		h.about(r, r.Start, "%s starts on %s, %s after %s ended on %s; at most %s may pass, nights and weekends included. Start it earlier, or %s later.",
			r.name(), atTime(r.Start), long(elapsed), name, atTime(b.ended), long(b.after.MaxElapsedMinutes), name)
	}
	worked := r.hours.Between(b.ended, r.Start)
	if b.after.MinWorkMinutes > 0 && worked < b.after.MinWorkMinutes {
		h.about(r, r.Start, "%s starts on %s, %s of working time of %s after %s ended on %s; there must be at least %s. Start it later.",
			r.name(), atTime(r.Start), long(worked), r.dept, name, atTime(b.ended), long(b.after.MinWorkMinutes))
	}
	if b.after.MaxWorkMinutes > 0 && worked > b.after.MaxWorkMinutes {
		h.about(r, r.Start, "%s starts on %s, %s of working time of %s after %s ended on %s; there may be at most %s. Start it earlier, or %s later.",
			r.name(), atTime(r.Start), long(worked), r.dept, name, atTime(b.ended), long(b.after.MaxWorkMinutes), name)
	}
}
