package generate

import (
	"math/rand/v2"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// book turns the days of the run into bookings: most of them with some room, so
// that they can be kept, some too early to be kept at all. The nearer, the firmer.
// Booked visits share floor and hosts in a rough tally, so that not too many fall
// on one day.
func (w *shop) book(jobs []*job, r *rand.Rand) {
	t := w.newTally()
	for _, onLine := range []bool{true, false} { // those on the line have no choice: they come first
		for _, j := range jobs {
			w.bookJob(r, t, j, onLine)
		}
	}
}

// bookJob books the visits of one order that are, or are not, at a station.
func (w *shop) bookJob(r *rand.Rand, t *tally, j *job, onLine bool) {
	for i := range j.visits {
		v := &j.visits[i]
		s := w.visitStage(v.Kind)
		if (s.Station != "") != onLine {
			continue
		}
		if !v.Planned() {
			opened(r, v, v.Booking.Day, v.Booking.Day)
			continue
		}
		f, ok := j.fits[s.ID]
		if !ok {
			f = fit{start: w.now, begin: asOf} // found no place in the run: asked for soon, and too early
		}
		found := f.begin.Date()
		if v.Kind == plant.ReInspection {
			found += calendar.Date(j.later)
		}
		day, last := w.agree(r, j, v, s, found, t)
		if v.Kind == plant.FinalInspection {
			j.later = max(0, int(day-found))
		}
		t.enter(s, w, j.hall, day, v.Halves)
		w.firm(r, v, day, day >= found && (s.Station == "" || last <= j.stay.Through))
		opened(r, v, day, last)
	}
}

// A tally counts by part of the day how many more visits the floor of each hall takes,
// and how many the hosts.
type tally struct {
	floor map[string][]int
	hosts []int
}

func (w *shop) newTally() *tally {
	t := &tally{map[string][]int{}, make([]int, w.grid.Slots())}
	hosts := w.plant.FindCrew("hosts")
	for s := range w.grid.Slots() {
		t.hosts[s] = hosts.SizeOn(w.grid.Date(s))
	}
	for _, b := range w.plant.Bays {
		if !slices.Contains(b.Kinds, "floor") {
			continue
		}
		hall := strings.Join(b.Needs, "")
		if t.floor[hall] == nil {
			t.floor[hall] = make([]int, w.grid.Slots())
		}
		for s := range w.grid.Slots() {
			if !slices.ContainsFunc(b.Closures, func(r plant.Range) bool { return r.Contains(w.grid.Date(s)) }) {
				t.floor[hall][s]++
			}
		}
	}
	return t
}

// counts returns the counts that a visit of the stage takes from, in a hall.
func (t *tally) counts(s *plant.Stage, hall string) [][]int {
	var list [][]int
	if s.Bay == "floor" {
		list = append(list, t.floor[hall])
	}
	if slices.ContainsFunc(s.Crews, func(n plant.Need) bool { return n.Crew == "hosts" }) {
		list = append(list, t.hosts)
	}
	return list
}

// roomy reports whether there is room for a visit of the stage on a day.
func (t *tally) roomy(s *plant.Stage, w *shop, hall string, d calendar.Date, halves int) bool {
	from, last := w.visitSpan(s, d, halves)
	for _, left := range t.counts(s, hall) {
		if slices.Min(left[from:last+1]) <= 0 {
			return false
		}
	}
	return true
}

// enter takes the room.
func (t *tally) enter(s *plant.Stage, w *shop, hall string, d calendar.Date, halves int) {
	from, last := w.visitSpan(s, d, halves)
	for _, left := range t.counts(s, hall) {
		for k := from; k <= last; k++ {
			left[k]--
		}
	}
}

// visitSpan returns the parts that a visit on a day takes, the line-up in it.
func (w *shop) visitSpan(s *plant.Stage, d calendar.Date, halves int) (from, last calendar.Slot) {
	h := w.dept[s.Department]
	from = h.Next(w.slot(d))
	_, last, _ = visitEnd(h, from, halves)
	last = max(from, last)
	for range s.HoldBefore {
		from = max(0, h.Prev(from-1))
	}
	return from, last
}

// visitStage returns the stage that is a visit of the kind.
func (w *shop) visitStage(kind string) *plant.Stage {
	i := slices.IndexFunc(w.plant.Route, func(s plant.Stage) bool { return s.Visit == kind })
	return &w.plant.Route[i]
}

// agree returns the first and the last day of a visit for which the run found a
// day: that day, or later for want of luck or for convenience, now and then
// earlier. It is that day when what keeps only so long for it is done or begun.
func (w *shop) agree(r *rand.Rand, j *job, v *plant.Visit, s *plant.Stage, found calendar.Date, t *tally) (first, last calendar.Date) {
	early := false
	want := found
	if j.waiting(s) {
		return found, w.grid.Date(j.fits[s.ID].last)
	}
	near := found <= asOf.Date()+calendar.Date(w.plant.Buffer.NoticeDays)
	if !near || chance(r, 15) {
		switch n := r.IntN(100); {
		case s.Station != "" && (near || n < 90):
		case n < 50:
			want += calendar.Date(between(r, 0, 2))
		case n < 92 || near:
			want += calendar.Date(between(r, 3, 9))
		default:
			early = true
			want -= calendar.Date(between(r, 2, 6))
		}
	}
	want = max(want, asOf.Date())
	fallback := want
	none := true
	for d := want; d < want+40 && (none || s.Station == ""); d++ {
		last, ok := w.possible(v, s, d)
		if !ok || !w.welcome(j, v, d, last) {
			continue
		}
		if none {
			fallback, none = d, false
		}
		if early || t.roomy(s, w, j.hall, d, v.Halves) {
			return d, last
		}
	}
	last, _ = w.possible(v, s, fallback)
	return fallback, last
}

// waiting reports whether work that keeps only so long for the stage, a maximum
// wait, was begun before now.
func (j *job) waiting(s *plant.Stage) bool {
	return slices.ContainsFunc(s.After, func(a plant.After) bool {
		f, ok := j.fits[a.Stage]
		return ok && f.begin < asOf && a.MaxWorkMinutes > 0
	})
}

// possible returns the last day of a visit that starts on a day, and whether the
// plant can hold it then: working parts enough, nothing crossed, hosts in the
// house, the test people there for its wishes.
func (w *shop) possible(v *plant.Visit, s *plant.Stage, d calendar.Date) (calendar.Date, bool) {
	h := w.dept[s.Department]
	start := h.Next(w.slot(d))
	if w.grid.Date(start) != d || !w.startsIn(s, start) || !w.dept["showroom"].WorksDay(d) {
		return calendar.None, false
	}
	end, last, ok := visitEnd(h, start, v.Halves)
	if !ok || !w.crosses(s, h, fit{start: start, last: last, begin: h.First(start), end: end}) {
		return calendar.None, false
	}
	return w.grid.Date(last), w.wishes(v, start, last)
}

// firm sets the state of a booking by how near its day is. Travel is bought only
// for a day on which the truck can be there.
func (w *shop) firm(r *rand.Rand, v *plant.Visit, day calendar.Date, there bool) {
	b := &v.Booking
	type s = share[string]
	switch days := int(day - asOf.Date()); {
	case days <= 7:
		b.State = plant.Confirmed
		b.TravelBought = chance(r, 90) && there
	case days <= 21:
		b.State = pick(r, s{85, plant.Confirmed}, s{15, plant.Tentative})
		b.TravelBought = b.State == plant.Confirmed && chance(r, 25) && there
	case days <= 45:
		b.State = pick(r, s{45, plant.Confirmed}, s{40, plant.Tentative}, s{15, plant.Requested})
	case days <= 90:
		b.State = pick(r, s{15, plant.Confirmed}, s{45, plant.Tentative}, s{40, plant.Requested})
	default:
		b.State = pick(r, s{15, plant.Tentative}, s{85, plant.Requested})
	}
	if b.State != plant.Requested {
		b.Day = day
	}
	if b.State == plant.Tentative {
		b.HoldUntil = asOf.Date() + calendar.Date(between(r, 4, 14))
	}
}

// opened gives a visit its windows and blackouts around the days it was agreed,
// or found, for.
func opened(r *rand.Rand, v *plant.Visit, first, last calendar.Date) {
	around := func(before, after int) plant.Range {
		return plant.Range{From: first.AddDays(-before), Through: last.AddDays(after)}
	}
	v.Windows = []plant.Range{around(between(r, 3, 10), between(r, 8, 30))}
	if chance(r, 25) {
		late := around(0, 0)
		late.From += calendar.Date(between(r, 14, 17))
		late.Through += calendar.Date(between(r, 24, 40))
		v.Windows = []plant.Range{around(between(r, 1, 3), between(r, 2, 5)), late}
	}
	for range pick(r, share[int]{60, 0}, share[int]{30, 1}, share[int]{10, 2}) {
		reason := pick(r, share[string]{2, "council week"}, share[string]{2, "trade show"}, share[string]{1, "academy"}, share[string]{1, "budget hearing"})
		b := plant.Range{Reason: reason}
		if chance(r, 60) {
			b.From = last.AddDays(v.TravelDays + between(r, 1, 12))
			b.Through = b.From.AddDays(between(r, 0, 4))
		} else {
			b.Through = first.AddDays(-v.TravelDays - between(r, 1, 6))
			b.From = b.Through.AddDays(-between(r, 0, 3))
		}
		apart := func(o plant.Range) bool { return b.Through+1 < o.From || o.Through+1 < b.From }
		if !slices.ContainsFunc(v.Blackouts, func(o plant.Range) bool { return !apart(o) }) {
			v.Blackouts = append(v.Blackouts, b)
		}
	}
	slices.SortFunc(v.Blackouts, func(a, b plant.Range) int { return int(a.From - b.From) })
}
