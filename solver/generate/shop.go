package generate

import (
	"cmp"
	"math"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A fit is a stage in its place: the parts of the day it occupies, its first
// minute and its end, and its bay (an index, -1 for none).
type fit struct {
	stage      *plant.Stage
	from, last calendar.Slot // from the line-up to the end
	start      calendar.Slot
	begin, end calendar.Moment
	bay        int
	bayID      string // "" for none
}

// linedUp reports whether the truck stands in its bay at a part of the day, for work that
// has not begun.
func (f *fit) linedUp(now calendar.Slot) bool {
	return f.stage.HoldBefore > 0 && f.from < now && f.start >= now
}

// A shop is the plant after line-off while it is run by hand.
type shop struct {
	plant *plant.Plant
	grid  *calendar.Grid
	hours map[string]*calendar.Hours // by calendar
	dept  map[string]*calendar.Hours // by department
	now   calendar.Slot

	linedUp bool // trucks may stand lined up now for a visit to come

	bays  []place
	crews map[string]*roster
}

// A place is a bay and when it is taken or closed.
type place struct {
	bay   *plant.Bay
	taken []bool
}

// A roster is a crew and how many heads are left in each part of the day.
type roster struct {
	left []int
}

// runAll runs the orders through the shop, first come, earliest place, drops the
// orders that are delivered by now, and keeps the first n of the rest. It returns
// them in the order of line-off.
func (w *shop) runAll(jobs []*job, n int) []*job {
	var list []*job
	for _, j := range jobs {
		w.run(j)
		if d := j.delivery(); d != nil && d.end <= asOf {
			continue
		}
		if list = append(list, j); len(list) == n {
			break
		}
	}
	return list
}

// delivery returns the delivering stage, nil when it found no place.
func (j *job) delivery() *fit {
	for _, f := range j.fits {
		if f.stage.Delivers {
			return &f
		}
	}
	return nil
}

func openShop(p *plant.Plant) *shop {
	g, err := p.Grid(p.Horizon.From, p.Horizon.Through)
	if err != nil {
		panic(err) // zone, parts and calendars are those of this package
	}
	w := &shop{plant: p, grid: g, hours: map[string]*calendar.Hours{}, dept: map[string]*calendar.Hours{}, crews: map[string]*roster{}}
	for _, c := range p.Calendars {
		h, err := p.Hours(c.ID, g)
		if err != nil {
			panic(err)
		}
		w.hours[c.ID] = h
	}
	for _, d := range p.Departments {
		w.dept[d.ID] = w.hours[d.Calendar]
	}
	w.now, _ = g.At(asOf)
	for i := range p.Bays {
		b := place{bay: &p.Bays[i], taken: make([]bool, g.Slots())}
		for s := range g.Slots() {
			b.taken[s] = slices.ContainsFunc(b.bay.Closures, func(r plant.Range) bool { return r.Contains(g.Date(s)) })
		}
		w.bays = append(w.bays, b)
	}
	// What takes least comes first, so that long positions are left for long trucks.
	slices.SortStableFunc(w.bays, func(a, b place) int {
		return cmp.Or(cmp.Compare(limit(a.bay.MaxLengthFt), limit(b.bay.MaxLengthFt)), cmp.Compare(limit(float64(a.bay.MaxFlowGPM)), limit(float64(b.bay.MaxFlowGPM))))
	})
	for i := range p.Crews {
		c := &p.Crews[i]
		r := &roster{left: make([]int, g.Slots())}
		for s := range g.Slots() {
			if w.hours[c.Calendar].Work(s) > 0 {
				r.left[s] = c.SizeOn(g.Date(s))
			}
		}
		w.crews[c.ID] = r
	}
	return w
}

// limit makes "no limit" the largest one.
func limit(v float64) float64 {
	if v == 0 {
		return math.Inf(1)
	}
	return v
}

// run places every stage of the order. A stage that finds no place before the end
// of the grid is left out, and with it what comes after; visits at a station that
// find none are given up.
func (w *shop) run(j *job) {
	j.fits = map[string]fit{}
	for i := range w.plant.Route {
		s := &w.plant.Route[i]
		if !j.applies(s) {
			continue
		}
		if !w.settle(j, s) && s.Station != "" {
			j.visits = slices.DeleteFunc(j.visits, func(v plant.Visit) bool { return v.Kind == s.Visit })
		}
	}
}

// settle places one stage after those before it. Where a stage before keeps only
// so long (a maximum wait), it is placed anew, later, until both suit.
func (w *shop) settle(j *job, s *plant.Stage) bool {
	for range 500 {
		f, ok := w.fit(j, s)
		if !ok {
			return false
		}
		stale := w.stale(j, s, f)
		if stale == nil {
			w.take(j, f)
			return true
		}
		w.release(j, *stale)
		g, ok := w.fitFrom(j, stale.stage, stale.start+1)
		if !ok {
			return false
		}
		w.take(j, g)
	}
	return false
}

// stale returns the stage before s that would not keep until f, or nil.
func (w *shop) stale(j *job, s *plant.Stage, f fit) *fit {
	for _, a := range s.After {
		b, ok := j.fits[a.Stage]
		if ok && a.MaxWorkMinutes > 0 && w.dept[s.Department].Between(b.end, f.begin) > a.MaxWorkMinutes {
			return &b
		}
	}
	return nil
}

// fit returns the earliest place of a stage.
func (w *shop) fit(j *job, s *plant.Stage) (fit, bool) { return w.fitFrom(j, s, 0) }

// fitFrom returns the earliest place of a stage that starts in a part of the day
// or later.
func (w *shop) fitFrom(j *job, s *plant.Stage, least calendar.Slot) (fit, bool) {
	h := w.dept[s.Department]
	from, notBefore, ok := w.earliest(j, s)
	if !ok {
		return fit{}, false
	}
	until := w.grid.Slots()
	if s.Station != "" {
		until = min(until, w.grid.Slot(min(j.stay.Through, w.grid.Through()), w.grid.Parts()-1)+1)
	}
	for start := h.Next(max(from, least)); start < until; start = h.Next(start + 1) {
		f := fit{stage: s, from: start, start: start, begin: h.First(start), bay: -1}
		if f.begin < notBefore || !w.startsIn(s, start) {
			continue
		}
		for range s.HoldBefore {
			f.from = h.Prev(f.from - 1)
		}
		if f.from < from || f.linedUp(w.now) && !w.linedUp {
			continue
		}
		var ends bool
		f.end, f.last, ends = w.span(j, s, start)
		if !ends {
			return fit{}, false
		}
		if s.Station != "" && f.last >= until {
			continue
		}
		if v := j.visit(s.Visit); v != nil && !(w.wishes(v, start, f.last) && w.welcome(j, v, f.begin.Date(), w.grid.Date(f.last))) {
			continue
		}
		if w.crosses(s, h, f) && w.ready(j, s, f) && w.manned(s, h, f) && w.parked(j, s, &f) {
			return f, true
		}
	}
	return fit{}, false
}

// earliest returns the first part of the day that a stage may occupy and the
// moment before which it may not start; false when a stage before it has no place.
func (w *shop) earliest(j *job, s *plant.Stage) (calendar.Slot, calendar.Moment, bool) {
	if s.Station != "" {
		return w.slot(j.stay.From), calendar.NoMoment, true
	}
	from, notBefore := w.slot(j.off+1), calendar.NoMoment
	h := w.dept[s.Department]
	whole := true
	var visit func(s *plant.Stage, own bool)
	visit = func(s *plant.Stage, own bool) {
		for _, a := range s.After {
			before := w.plant.FindStage(a.Stage)
			if !j.applies(before) {
				visit(before, false)
				continue
			}
			b, ok := j.fits[a.Stage]
			if !ok {
				whole = false
				continue
			}
			from = max(from, b.last+1)
			if !own {
				continue
			}
			notBefore = max(notBefore, w.grid.Elapsed(b.end, a.MinElapsedMinutes))
			if m, ok := h.Add(b.end, a.MinWorkMinutes); ok {
				notBefore = max(notBefore, m)
			}
		}
	}
	visit(s, true)
	return from, notBefore, whole
}

// slot returns the first part of a day, or the nearest in the grid.
func (w *shop) slot(d calendar.Date) calendar.Slot {
	return w.grid.Slot(min(max(d, w.grid.From()), w.grid.Through()), 0)
}

func (w *shop) startsIn(s *plant.Stage, start calendar.Slot) bool {
	return len(s.StartIn) == 0 || slices.Contains(s.StartIn, w.plant.Parts[w.grid.Part(start)].ID)
}

// span returns the end of a stage that starts in a part of the day, and the part
// in which its last minute lies.
func (w *shop) span(j *job, s *plant.Stage, start calendar.Slot) (calendar.Moment, calendar.Slot, bool) {
	h := w.dept[s.Department]
	switch s.Length {
	case plant.LengthVisit:
		return visitEnd(h, start, j.visit(s.Visit).Halves)
	case plant.LengthDrive:
		d := w.grid.Date(start)
		for range w.plant.DriveDays(&j.truck) - 1 {
			next, ok := h.NextWorkDay(d)
			if !ok {
				return 0, 0, false
			}
			d = next
		}
		last := h.Prev(w.grid.Slot(d, w.grid.Parts()-1))
		return h.Last(last), last, true
	}
	return h.Finish(start, w.plant.StageMinutes(&j.truck, s))
}

// visitEnd returns the end of a visit that starts in a part of the day.
func visitEnd(h *calendar.Hours, start calendar.Slot, halves int) (calendar.Moment, calendar.Slot, bool) {
	last := start
	for range halves - 1 {
		if last = h.Next(last + 1); last == h.Grid().Slots() {
			return 0, 0, false
		}
	}
	return h.Last(last), last, true
}

// wishes reports whether the test people are there in as many parts of the visit
// as it has wishes.
func (w *shop) wishes(v *plant.Visit, start, last calendar.Slot) bool {
	parts := 0
	for t := start; t <= last; t++ {
		if w.dept["testing"].Work(t) > 0 {
			parts++
		}
	}
	return parts >= len(v.Wishes)
}

// welcome reports whether the customer can travel and come on these days by its
// own calendar.
func (w *shop) welcome(j *job, v *plant.Visit, first, last calendar.Date) bool {
	c := w.plant.FindCustomer(j.truck.Customer)
	if c.Calendar == "" {
		return true
	}
	for d := first - calendar.Date(v.TravelDays); d <= last+calendar.Date(v.TravelDays); d++ {
		if _, closed := w.hours[c.Calendar].Closed(d); closed {
			return false
		}
	}
	return true
}

// crosses reports whether the stage runs over nothing that it may not.
func (w *shop) crosses(s *plant.Stage, h *calendar.Hours, f fit) bool {
	if !slices.Contains(s.Crosses, plant.CrossShift) && h.Shift(f.begin) != h.Shift(f.end-1) {
		return false
	}
	for d := f.begin.Date() + 1; d < (f.end - 1).Date(); d++ {
		weekend := (d.Weekday() == 0 || d.Weekday() == 6) && !h.PatternWorks(d)
		_, closed := h.Closed(d)
		if weekend && !slices.Contains(s.Crosses, plant.CrossWeekend) ||
			closed && h.PatternWorks(d) && !slices.Contains(s.Crosses, plant.CrossClosure) {
			return false
		}
	}
	return true
}

// ready reports whether a final inspection keeps the plant's distance from the
// last certificate.
func (w *shop) ready(j *job, s *plant.Stage, f fit) bool {
	if s.Visit != plant.FinalInspection {
		return true
	}
	last := calendar.None
	for _, b := range j.fits {
		if b.stage.Certifies {
			last = max(last, (b.end - 1).Date())
		}
	}
	return w.hours[w.plant.Calendar].WorkDaysBetween(last, f.begin.Date()) >= w.plant.Buffer.ReadyWorkDays
}

// manned reports whether every crew has the heads.
func (w *shop) manned(s *plant.Stage, h *calendar.Hours, f fit) bool {
	for _, n := range s.Crews {
		for t := f.start; t <= f.last; t++ {
			if h.Work(t) > 0 && w.crews[n.Crew].left[t] < n.Heads {
				return false
			}
		}
	}
	return true
}

// parked finds a bay; true as well when none is needed.
func (w *shop) parked(j *job, s *plant.Stage, f *fit) bool {
	if s.Bay == "" {
		return true
	}
	if slices.ContainsFunc(j.busy, func(b fit) bool { return b.from <= f.last && f.from <= b.last }) {
		return false
	}
	f.bay = slices.IndexFunc(w.bays, func(b place) bool {
		return b.bay.Takes(s.Bay, &j.truck) && !slices.Contains(b.taken[f.from:f.last+1], true)
	})
	if f.bay < 0 {
		return false
	}
	f.bayID = w.bays[f.bay].bay.ID
	return true
}

// take enters a fit into the books.
func (w *shop) take(j *job, f fit) {
	j.fits[f.stage.ID] = f
	w.enter(f, true)
	if f.bay >= 0 {
		j.busy = append(j.busy, f)
	}
}

// release takes a fit out of the books.
func (w *shop) release(j *job, f fit) {
	delete(j.fits, f.stage.ID)
	w.enter(f, false)
	j.busy = slices.DeleteFunc(j.busy, func(b fit) bool { return b.stage == f.stage })
}

func (w *shop) enter(f fit, taken bool) {
	if f.bay >= 0 {
		for t := f.from; t <= f.last; t++ {
			w.bays[f.bay].taken[t] = taken
		}
	}
	h := w.dept[f.stage.Department]
	for _, n := range f.stage.Crews {
		for t := f.start; t <= f.last; t++ {
			if h.Work(t) == 0 {
				continue
			}
			if taken {
				w.crews[n.Crew].left[t] -= n.Heads
			} else {
				w.crews[n.Crew].left[t] += n.Heads
			}
		}
	}
}
