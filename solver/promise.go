package solver

import (
	"slices"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A promise is something a plan holds for somebody, as a limit on a task.
type promise struct {
	limit schedule.Limit
	visit *plant.Visit // the visit stays on its day; nil for a delivery
	truck *plant.Truck // the delivery misses no deadline anew
	pays  bool         // the delivery costs no more damages
}

// promises lists what the answer a holds for everybody but one truck: confirmed
// visits on the days they have in a, other visits on some day, and deliveries that
// cost no more damages than in a and miss no hard deadline that a keeps. With
// strict, deliveries also get no later than the contract, or than in a where that
// is later.
func (q *question) promises(a *schedule.Answer, but string, strict bool) (list []promise) {
	for i := range q.work {
		w, k := &q.work[i], a.Start[i]
		if w.wish != nil || w.truck.ID == but || w.run != nil || k < 0 {
			continue
		}
		last := len(w.moves) - 1
		if w.visit != nil {
			l := schedule.Limit{Task: i, Lo: 0, Hi: last}
			if strict || w.visit.Booking.State == plant.Confirmed {
				l.Lo, l.Hi = w.sameDay(k)
			}
			list = append(list, promise{limit: l, visit: w.visit, truck: w.truck})
		}
		if !w.stage.Delivers {
			continue
		}
		by := func(pays bool, tiers ...string) {
			l := schedule.Limit{Task: i, Lo: 0, Hi: last}
			for l.Hi > k && q.worse(w, l.Hi, k, tiers) {
				l.Hi--
			}
			if l.Hi < last {
				list = append(list, promise{limit: l, truck: w.truck, pays: pays})
			}
		}
		if strict {
			by(false, plant.TierDeadlines, plant.TierDamages, plant.TierLateness)
		} else {
			by(false, plant.TierDeadlines)
			by(true, plant.TierDamages)
		}
	}
	return list
}

// sameDay is the range of moves that start on the day of the k-th.
func (w *work) sameDay(k int) (lo, hi int) {
	lo, hi = k, k
	for lo > 0 && w.moves[lo-1].day() == w.moves[k].day() {
		lo--
	}
	for hi < len(w.moves)-1 && w.moves[hi+1].day() == w.moves[k].day() {
		hi++
	}
	return lo, hi
}

// worse reports whether a delivery by move j costs more in one of the tiers than by
// move k.
func (q *question) worse(w *work, j, k int, tiers []string) bool {
	for t := range q.problem.Tiers {
		if !slices.Contains(tiers, q.problem.Tiers[t].Name) {
			continue
		}
		for _, c := range q.problem.Tiers[t].Costs {
			if &q.work[c.Task] == w && c.At[j] > c.At[k] {
				return true
			}
		}
	}
	return false
}

func limitsOf(list []promise) []schedule.Limit {
	limits := make([]schedule.Limit, len(list))
	for i, p := range list {
		limits[i] = p.limit
	}
	return limits
}

// inspection finds the task of the truck's next visit: its final inspection, or
// the first visit that still has to take place.
func (q *question) inspection(truck string) (int, bool) {
	best := -1
	for i := range q.work {
		w := &q.work[i]
		if w.truck.ID != truck || w.visit == nil || w.wish != nil || w.run != nil {
			continue
		}
		if best < 0 || w.stage.Visit == plant.FinalInspection {
			best = i
		}
	}
	return best, best >= 0
}

// bayNames lists bays by their numbers.
func (q *question) bayNames(set []int) (names []string) {
	for _, b := range set {
		names = append(names, q.p.Bays[b].ID)
	}
	slices.Sort(names)
	return names
}
