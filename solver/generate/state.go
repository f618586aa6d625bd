package generate

import (
	"math/rand/v2"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// state writes down what the run has finished and begun by now.
func (w *shop) state(jobs []*job, r *rand.Rand) {
	for _, j := range jobs {
		calm := j.expects(asOf.Date() + 21)
		for i := range w.plant.Route {
			s := &w.plant.Route[i]
			f, ok := j.fits[s.ID]
			switch {
			case !ok:
			case f.end <= asOf:
				j.truck.Done = append(j.truck.Done, plant.Done{Stage: s.ID, Ended: f.end})
				if v := j.visit(s.Visit); v != nil {
					v.Booking.State, v.Booking.Day = plant.Held, f.begin.Date()
				}
			case f.begin < asOf:
				j.truck.Running = append(j.truck.Running, plant.Running{
					Stage: s.ID, Started: f.begin, Bay: f.bayID, RemainingMinutes: w.remaining(r, s, f, calm),
				})
			case f.linedUp(w.now):
				j.truck.Standing = plant.Standing{Stage: s.ID, Bay: f.bayID}
			case !calm && j.off <= asOf.Date() && s.Length == plant.LengthHours && chance(r, 2):
				j.truck.Overruns = append(j.truck.Overruns, plant.Overrun{Stage: s.ID, Minutes: 60 * between(r, 1, 3)})
			}
		}
		w.lapsed(j, r)
	}
}

// expects reports whether the run found a day for a visit from now until before a
// day.
func (j *job) expects(until calendar.Date) bool {
	return slices.ContainsFunc(j.visits, func(v plant.Visit) bool {
		for _, f := range j.fits {
			if f.stage.Visit == v.Kind && f.begin >= asOf && f.begin.Date() < until {
				return true
			}
		}
		return false
	})
}

// remaining returns what is left of running work: what the estimate leaves, said
// or not, or, unless a visit is near, more.
func (w *shop) remaining(r *rand.Rand, s *plant.Stage, f fit, calm bool) int {
	left := w.dept[s.Department].Between(asOf, f.end)
	switch {
	case s.Length != plant.LengthHours || chance(r, 30):
		return -1
	case !calm && chance(r, 30):
		return left + 30*between(r, 1, 4)
	}
	return left
}

// lapsed gives some trucks past paint a pre-paint visit that never took place: the
// customer called it off, or did not come.
func (w *shop) lapsed(j *job, r *rand.Rand) {
	visited := slices.IndexFunc(j.truck.Done, func(d plant.Done) bool { return d.Stage == "pre_paint" })
	past := j.truck.Line.Off != calendar.None || visited >= 0
	if !past || !chance(r, 12) {
		return
	}
	ended := pick(r, share[string]{1, plant.Cancelled}, share[string]{1, plant.NoShow})
	if visited >= 0 {
		j.truck.Done = slices.Delete(j.truck.Done, visited, visited+1)
		if len(j.truck.Done) == 0 {
			j.truck.Done = nil
		}
	}
	v := j.visit(plant.PrePaint)
	if v == nil {
		j.visits = append([]plant.Visit{{
			ID: j.truck.ID + "-P", Truck: j.truck.ID, Kind: plant.PrePaint, Heads: 2, Halves: 1,
			Booking: plant.Booking{HoldUntil: calendar.None},
		}}, j.visits...)
		v = &j.visits[0]
	}
	v.Booking.State = ended
	v.Booking.Day = max(min(j.stay.From, asOf.Date()-1), w.grid.From())
}
