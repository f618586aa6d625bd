package check_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// An oracle judges plans a second time, slowly and in another way: every calendar
// is a mark on every minute, worked out from its rules here; every length is
// counted minute by minute; what a row occupies is a set of parts of the day;
// real time comes from package time. It says only which rules are broken.
type oracle struct {
	p      *plant.Plant
	from   calendar.Moment // of the first minute
	work   map[string][]int
	firsts map[string]map[part]calendar.Moment
	closed map[string]map[calendar.Date]bool
	line   *plant.Projection
	loc    *time.Location
}

// A part names a part of a day: the day and the index of the part.
type part struct {
	day calendar.Date
	i   int
}

func newOracle(t testing.TB, p *plant.Plant) *oracle {
	t.Helper()
	o := &oracle{p: p, from: (p.Horizon.From - 30).At(0), work: map[string][]int{}, firsts: map[string]map[part]calendar.Moment{}, closed: map[string]map[calendar.Date]bool{}}
	var err error
	if o.line, err = p.Project(); err != nil {
		t.Fatal(err)
	}
	if o.loc, err = time.LoadLocation(p.Zone); err != nil {
		t.Fatal(err)
	}
	last := p.Horizon.Through + 30
	for _, c := range p.Calendars {
		closed := map[calendar.Date]bool{}
		for _, r := range c.Rules.Closures {
			for d := r.From; d <= r.Through; d++ {
				closed[d] = true
			}
		}
		for _, s := range c.Rules.Holidays {
			holidays, err := s.Dates(p.Horizon.From-60, last)
			if err != nil {
				t.Fatal(err)
			}
			for _, h := range holidays {
				closed[h.Day], closed[h.Actual] = true, true
			}
		}
		// One number a minute: 0 for no work, else the number of the shift.
		minutes := make([]int, (last+2).At(0)-o.from)
		shift := 0
		mark := func(d calendar.Date, s calendar.Shift) {
			shift++
			for m := s.From; m < s.To; m++ {
				free := slices.ContainsFunc(s.Breaks, func(b calendar.Span) bool { return b.From <= m && m < b.To })
				if i := d.At(m) - o.from; !free && i >= 0 && int(i) < len(minutes) {
					minutes[i] = shift
				}
			}
		}
		for d := p.Horizon.From - 31; d <= last; d++ {
			if !closed[d] {
				for _, s := range c.Rules.Week[d.Weekday()] {
					mark(d, s)
				}
			}
			for _, extra := range c.Rules.Overtime {
				if extra.Day == d {
					for _, s := range extra.Shifts {
						mark(d, s)
					}
				}
			}
		}
		o.work[c.ID], o.closed[c.ID] = minutes, closed
		o.firsts[c.ID] = map[part]calendar.Moment{}
		for at := o.part(o.from); at.day.At(0) < o.ends(); at = o.next(at) {
			begin, end := o.bounds(at)
			for m := begin; m < end; m++ {
				if minutes[m-o.from] > 0 {
					o.firsts[c.ID][at] = m
					break
				}
			}
		}
	}
	return o
}

// shift returns the number of the shift at a minute, 0 for none.
func (o *oracle) shift(cal string, m calendar.Moment) int {
	if i := m - o.from; i >= 0 && int(i) < len(o.work[cal]) {
		return o.work[cal][i]
	}
	return 0
}

// ends returns the end of the minutes that the oracle knows.
func (o *oracle) ends() calendar.Moment { return (o.p.Horizon.Through + 32).At(0) }

func (o *oracle) part(m calendar.Moment) part {
	at := part{day: m.Date()}
	for i, p := range o.p.Parts {
		if i > 0 && m.Clock() >= p.From {
			at.i = i
		}
	}
	return at
}

// less orders parts in time.
func (a part) less(b part) bool { return a.day < b.day || a.day == b.day && a.i < b.i }

// next and prev return the neighbours of a part.
func (o *oracle) next(a part) part {
	if a.i+1 < len(o.p.Parts) {
		return part{a.day, a.i + 1}
	}
	return part{a.day + 1, 0}
}

func (o *oracle) prev(a part) part {
	if a.i > 0 {
		return part{a.day, a.i - 1}
	}
	return part{a.day - 1, len(o.p.Parts) - 1}
}

// bounds returns first minute and end of a part.
func (o *oracle) bounds(a part) (calendar.Moment, calendar.Moment) {
	begin := a.day.At(0)
	if a.i > 0 {
		begin = a.day.At(o.p.Parts[a.i].From)
	}
	end := (a.day + 1).At(0)
	if a.i+1 < len(o.p.Parts) {
		end = a.day.At(o.p.Parts[a.i+1].From)
	}
	return begin, end
}

// first returns the first working minute of a part, NoMoment if there is none.
func (o *oracle) first(cal string, a part) calendar.Moment {
	if m, works := o.firsts[cal][a]; works {
		return m
	}
	return calendar.NoMoment
}

// worksDay reports whether a day has a working minute.
func (o *oracle) worksDay(cal string, d calendar.Date) bool {
	for i := range o.p.Parts {
		if o.first(cal, part{d, i}) != calendar.NoMoment {
			return true
		}
	}
	return false
}

// after counts so many working minutes from m on and returns their end.
func (o *oracle) after(cal string, m calendar.Moment, minutes int) calendar.Moment {
	for ; minutes > 0; m++ {
		if m >= o.ends() {
			return calendar.NoMoment
		}
		if o.shift(cal, m) > 0 {
			minutes--
		}
	}
	return m
}

// worked counts the working minutes from a to b.
func (o *oracle) worked(cal string, a, b calendar.Moment) int {
	n := 0
	for m := a; m < b; m++ {
		if o.shift(cal, m) > 0 {
			n++
		}
	}
	return n
}

// elapsed returns the real minutes from a to b.
func (o *oracle) elapsed(a, b calendar.Moment) int {
	instant := func(m calendar.Moment) time.Time {
		y, mon, d := m.Date().YMD()
		return time.Date(y, mon, d, 0, int(m.Clock()), 0, 0, o.loc)
	}
	return int(instant(b).Sub(instant(a)).Minutes())
}

func (o *oracle) calendarOf(dept string) string {
	for _, d := range o.p.Departments {
		if d.ID == dept {
			return d.Calendar
		}
	}
	return ""
}

// fits reports whether the truck has the features.
func fits(t *plant.Truck, needs []string) bool {
	for _, n := range needs {
		if t.Kind != n && t.Graphics != n && !slices.Contains(t.Options, n) && !(n == "pump" && t.FlowGPM > 0) {
			return false
		}
	}
	return true
}

// A job is a stage or wish that a plan may have, or has.
type job struct {
	plant.Planned
	t       *plant.Truck
	s       *plant.Stage
	w       *plant.Wish
	v       *plant.Visit
	running *plant.Running
	cal     string
	bay     string
	crews   []plant.Need
}

// jobs lists what the plant may ask for, visits and their wishes included.
func (o *oracle) jobs() map[string]*job {
	all := map[string]*job{}
	for i := range o.p.Trucks {
		t := &o.p.Trucks[i]
		for k := range o.p.Route {
			s := &o.p.Route[k]
			j := &job{t: t, s: s, cal: o.calendarOf(s.Department), bay: s.Bay, crews: s.Crews}
			done := slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == s.ID })
			if s.Visit != "" {
				j.v = o.p.VisitOf(t, s.Visit)
			}
			if done || !fits(t, s.Needs) || s.Visit != "" && j.v == nil {
				continue
			}
			for n := range t.Running {
				if t.Running[n].Stage == s.ID {
					j.running = &t.Running[n]
				}
			}
			all[t.ID+" "+s.ID] = j
			if j.v == nil {
				continue
			}
			for n := range o.p.Wishes {
				w := &o.p.Wishes[n]
				if slices.Contains(j.v.Wishes, w.ID) && fits(t, w.Needs) {
					all[t.ID+" "+s.ID+"."+w.ID] = &job{t: t, s: s, w: w, v: j.v, cal: o.calendarOf(w.Department), bay: w.Bay, crews: w.Crews}
				}
			}
		}
	}
	return all
}

// length returns when a job that starts at m is over.
func (o *oracle) length(j *job, m calendar.Moment) calendar.Moment {
	switch {
	case j.w != nil:
		return o.after(j.cal, m, j.w.Minutes)
	case j.s.Length == plant.LengthVisit:
		left, end := j.v.Halves, calendar.NoMoment
		for a := o.part(m); left > 0 && a.day.At(0) < o.ends(); a = o.next(a) {
			if o.first(j.cal, a) == calendar.NoMoment {
				continue
			}
			left--
			begin, until := o.bounds(a)
			for k := begin; k < until; k++ {
				if o.shift(j.cal, k) > 0 {
					end = k + 1
				}
			}
		}
		return end
	case j.s.Length == plant.LengthDrive:
		days := 1
		for _, c := range o.p.Customers {
			for c.ID == j.t.Customer && days*o.p.Prices.DriveMilesPerDay < c.Miles {
				days++
			}
		}
		end := calendar.NoMoment
		for d := m.Date(); days > 0 && d.At(0) < o.ends(); d++ {
			if o.worksDay(j.cal, d) {
				days--
				for k := d.At(0); k < (d + 1).At(0); k++ {
					if o.shift(j.cal, k) > 0 {
						end = k + 1
					}
				}
			}
		}
		return end
	}
	minutes := map[string]plant.Estimate{plant.Light: j.s.Hours.Light, plant.Medium: j.s.Hours.Medium, plant.Heavy: j.s.Hours.Heavy}[j.t.Content].LikelyMinutes
	for _, x := range j.s.Extra {
		if fits(j.t, []string{x.Feature}) {
			minutes += x.Minutes
		}
	}
	for _, x := range j.t.Overruns {
		if x.Stage == j.s.ID {
			minutes += x.Minutes
		}
	}
	return o.after(j.cal, m, minutes)
}

// hold returns when a job that starts at m takes its bay.
func (o *oracle) hold(j *job, m calendar.Moment) calendar.Moment {
	if j.w != nil {
		return m
	}
	a := o.part(m)
	for n := j.s.HoldBefore; n > 0; n-- {
		for a = o.prev(a); o.first(j.cal, a) == calendar.NoMoment; a = o.prev(a) {
			if a.day.At(0) < o.from {
				return calendar.NoMoment
			}
		}
		m = o.first(j.cal, a)
	}
	return m
}

// occupied returns the parts that minutes from a to b lie in.
func (o *oracle) occupied(a, b calendar.Moment) map[part]bool {
	set := map[part]bool{}
	last := part{}
	for m := a; m < b; m++ {
		if at := o.part(m); at != last {
			set[at], last = true, at
		}
	}
	return set
}

func shared(a, b map[part]bool) bool {
	for k := range a {
		if b[k] {
			return true
		}
	}
	return false
}

// judge returns the rules that the plan breaks. Whole is false if rows of the
// plan make no sense at all, so that only some of the rules could be asked.
func (o *oracle) judge(plan *plant.Plan) (broken map[string]bool, whole bool) {
	broken = map[string]bool{}
	all := o.jobs()
	rows := map[string]*job{}
	var list []*job
	for _, r := range plan.Stages {
		key := r.Truck + " " + r.Stage
		j := all[key]
		if j == nil || rows[key] != nil {
			broken["complete"] = true
			return broken, false
		}
		if !(r.Hold <= r.Start && r.Start < r.End) || r.Hold < o.from || r.End > o.ends() {
			broken["hours"] = true
			return broken, false
		}
		j.Planned = r
		rows[key] = j
		list = append(list, j)
	}
	held := func(j *job) *job { return rows[j.t.ID+" "+j.s.ID] } // the visit of a wish
	for key, j := range all {
		switch {
		case rows[key] != nil:
			if j.w != nil && held(j) == nil {
				broken["complete"] = true
			}
		case j.w != nil:
			broken["complete"] = broken["complete"] || held(j) != nil && held(j).running == nil
		default:
			broken["complete"] = broken["complete"] || j.v == nil || j.running != nil
		}
	}
	if broken["complete"] && slices.ContainsFunc(list, func(j *job) bool { return j.w != nil && held(j) == nil }) {
		return broken, false
	}
	o.judgeRows(list, rows, broken)
	o.judgePairs(list, broken)
	o.judgeCrews(list, broken)
	o.judgeVisits(plan, rows, broken)
	for rule, is := range broken {
		if !is {
			delete(broken, rule)
		}
	}
	return broken, true
}

// judgeRows asks what each row can be asked alone, or with its predecessors.
func (o *oracle) judgeRows(list []*job, rows map[string]*job, broken map[string]bool) {
	p := o.p
	for _, j := range list {
		if j.End > (p.Horizon.Through + 1).At(0) {
			broken["horizon"] = true
		}
		if r := j.running; r != nil {
			end := o.after(j.cal, p.AsOf, max(r.RemainingMinutes, 1))
			if r.RemainingMinutes < 0 {
				end = max(end, o.length(j, r.Started))
			}
			if j.Hold != r.Started || j.Start != r.Started || j.Bay != r.Bay || j.End != end {
				broken["started"] = true
			}
			continue
		}
		stands := j.w == nil && j.t.Standing.Stage == j.s.ID
		begin := j.Hold
		if stands {
			begin = j.Start
			if j.Bay != j.t.Standing.Bay {
				broken["standing"] = true
			}
		}
		if begin < p.Horizon.From.At(0) {
			broken["horizon"] = true
		}
		if begin < p.AsOf {
			broken["release"] = true
		}
		if j.s.Station == "" {
			if j.Hold.Date() <= o.line.LineOff(j.Truck) {
				broken["release"] = true
			}
		} else if stay, ok := o.line.Stay(j.Truck, j.s.Station); !ok || j.Hold.Date() < stay.From || (j.End-1).Date() > stay.Through {
			broken["release"] = true
		}
		at := o.part(j.Start)
		first := o.first(j.cal, at)
		if j.w != nil { // both departments must be at work
			visit := rows[j.t.ID+" "+j.s.ID]
			from, end := o.bounds(at)
			first = calendar.NoMoment
			for m := from; m < end && first == calendar.NoMoment; m++ {
				if o.shift(j.cal, m) > 0 && o.shift(visit.cal, m) > 0 {
					first = m
				}
			}
		}
		if first != j.Start || o.hold(j, j.Start) != j.Hold || o.length(j, j.Start) != j.End ||
			j.w == nil && len(j.s.StartIn) > 0 && !slices.Contains(j.s.StartIn, p.Parts[at.i].ID) {
			broken["hours"] = true
		}
		o.judgeCrossing(j, broken)
		if j.w == nil {
			o.judgeRoute(j, rows, broken)
		}
		o.judgeBay(j, broken)
	}
}

func (o *oracle) judgeCrossing(j *job, broken map[string]bool) {
	if j.w != nil {
		return
	}
	may := func(what string) bool { return slices.Contains(j.s.Crosses, what) }
	var rules calendar.Rules
	for _, c := range o.p.Calendars {
		if c.ID == j.cal {
			rules = c.Rules
		}
	}
	shifts := map[int]bool{}
	for m := j.Start; m < j.End; m++ {
		if m == j.Start || m == j.End-1 || o.shift(j.cal, m) > 0 {
			shifts[o.shift(j.cal, m)] = true
		}
	}
	if len(shifts) > 1 && !may(plant.CrossShift) {
		broken["crossing"] = true
	}
	for d := j.Start.Date() + 1; d < (j.End - 1).Date(); d++ {
		weekend := d.Weekday() == time.Saturday || d.Weekday() == time.Sunday
		free := len(rules.Week[d.Weekday()]) == 0
		for _, s := range rules.Week[(d - 1).Weekday()] {
			free = free && s.To <= 24*60
		}
		if weekend && free && !may(plant.CrossWeekend) || !free && o.closed[j.cal][d] && !may(plant.CrossClosure) {
			broken["crossing"] = true
		}
	}
}

// judgeRoute follows the links upwards through what does not apply, and through
// what is done or runs to what is to be done again.
func (o *oracle) judgeRoute(j *job, rows map[string]*job, broken map[string]bool) {
	var up func(s *plant.Stage, waits, again bool)
	up = func(s *plant.Stage, waits, again bool) {
		for _, a := range s.After {
			pred := o.p.FindStage(a.Stage)
			end := calendar.NoMoment
			if r := rows[j.Truck+" "+a.Stage]; r != nil {
				end = r.End
				if r.running != nil {
					up(pred, false, true)
				}
			}
			for _, d := range j.t.Done {
				if d.Stage == a.Stage {
					end = d.Ended
					up(pred, false, true)
				}
			}
			if over := slices.ContainsFunc(j.t.Done, func(d plant.Done) bool { return d.Stage == a.Stage }); over && again {
				continue
			}
			if end == calendar.NoMoment {
				missing := fits(j.t, pred.Needs) && pred.Visit == ""
				if !missing {
					up(pred, false, again)
				}
				continue
			}
			if !o.part(end - 1).less(o.part(j.Hold)) {
				broken["route"] = true
				continue
			}
			real, worked := o.elapsed(end, j.Start), o.worked(j.cal, end, j.Start)
			if waits && (real < a.MinElapsedMinutes || worked < a.MinWorkMinutes ||
				a.MaxElapsedMinutes > 0 && real > a.MaxElapsedMinutes || a.MaxWorkMinutes > 0 && worked > a.MaxWorkMinutes) {
				broken["route"] = true
			}
		}
	}
	up(j.s, true, false)
}

func (o *oracle) judgeBay(j *job, broken map[string]bool) {
	if (j.bay == "") != (j.Bay == "") {
		broken["able"] = true
	}
	if j.Bay == "" {
		return
	}
	b := o.p.FindBay(j.Bay)
	if j.bay != "" && (b == nil || !b.Takes(j.bay, j.t)) {
		broken["able"] = true
	}
	if b == nil {
		return
	}
	for a := range o.occupied(j.Hold, j.End) {
		for _, c := range b.Closures {
			if c.Contains(a.day) && !(j.w == nil && j.t.Standing.Stage == j.s.ID && a.day < o.p.AsOf.Date()) {
				broken["closed"] = true
			}
		}
	}
}

// judgePairs asks every pair of rows.
func (o *oracle) judgePairs(list []*job, broken map[string]bool) {
	sets := make([]map[part]bool, len(list))
	for i, j := range list {
		sets[i] = o.occupied(j.Hold, j.End)
	}
	for i, a := range list {
		for k, b := range list[:i] {
			if !shared(sets[i], sets[k]) {
				continue
			}
			if a.Bay != "" && a.Bay == b.Bay {
				broken["bay"] = true
			}
			if a.Truck == b.Truck && a.w == nil && b.w == nil && a.s.Bay != "" && b.s.Bay != "" {
				broken["place"] = true
			}
			if a.w != nil && b.w != nil && a.v == b.v {
				broken["wish"] = true
			}
		}
	}
}

// judgeCrews sums up heads part by part.
func (o *oracle) judgeCrews(list []*job, broken map[string]bool) {
	type seat struct {
		crew string
		at   part
	}
	need, running := map[seat]int{}, map[seat]int{}
	for _, j := range list {
		for at := range o.occupied(j.Start, j.End) {
			if o.first(j.cal, at) == calendar.NoMoment {
				continue
			}
			for _, n := range j.crews {
				need[seat{n.Crew, at}] += n.Heads
				if j.running != nil {
					running[seat{n.Crew, at}] += n.Heads
				}
			}
		}
	}
	for s, n := range need {
		have := 0
		if c := o.p.FindCrew(s.crew); c != nil && o.first(c.Calendar, s.at) != calendar.NoMoment {
			have = c.Size
			for _, d := range c.Days {
				if d.Contains(s.at.day) {
					have = d.Size
				}
			}
		}
		if n > max(have, running[s]) {
			broken["crew"] = true
		}
	}
}

// judgeVisits asks every visit, and every wish about its visit.
func (o *oracle) judgeVisits(plan *plant.Plan, rows map[string]*job, broken map[string]bool) {
	p := o.p
	asOf := p.AsOf.Date()
	declared := map[string]int{}
	for _, said := range plan.Visits {
		declared[said.Visit]++
		if v := p.FindVisit(said.Visit); v == nil || !v.Planned() || declared[said.Visit] > 1 {
			broken["declared"] = true
		}
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		if !v.Planned() {
			continue
		}
		var j *job
		for _, r := range rows {
			if r.v == v && r.w == nil {
				j = r
			}
		}
		want := plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
		if j != nil {
			want.Day, want.Bay = j.Start.Date(), j.Bay
			want.Outcome = plant.Moved
			if want.Day == v.Booking.Day {
				want.Outcome = plant.Kept
			}
			if v.Booking.State == plant.Requested {
				want.Outcome = plant.Placed
			}
		}
		if !slices.Contains(plan.Visits, want) {
			broken["declared"] = true
		}
		if j != nil {
			inside := o.occupied(j.Start, j.End)
			for _, r := range rows {
				if r.w == nil || r.v != v {
					continue
				}
				for at := range o.occupied(r.Start, r.End) {
					if !inside[at] || j.running == nil && r.End > j.End {
						broken["wish"] = true
					}
				}
			}
		}
		if j == nil || j.running != nil {
			continue
		}
		day, last := want.Day, (j.End - 1).Date()
		if want.Outcome == plant.Moved && p.Frozen(v) {
			broken["frozen"] = true
		}
		if want.Outcome != plant.Kept && int(day-asOf) < p.Buffer.NoticeDays {
			broken["notice"] = true
		}
		for d := day; d <= last; d++ {
			inside := false
			for _, w := range v.Windows {
				inside = inside || w.Contains(d)
			}
			if o.worksDay(j.cal, d) && !inside {
				broken["customer"] = true
			}
		}
		cal := ""
		for _, c := range p.Customers {
			if c.ID == j.t.Customer {
				cal = c.Calendar
			}
		}
		for d := day.AddDays(-v.TravelDays); d <= last.AddDays(v.TravelDays); d++ {
			for _, b := range v.Blackouts {
				if b.Contains(d) {
					broken["customer"] = true
				}
			}
			if cal != "" && o.closed[cal][d] {
				broken["customer"] = true
			}
		}
		before := day - 1
		for !o.worksDay(p.Calendar, before) {
			before--
		}
		if j.Hold.Date() < before {
			broken["floor"] = true
		}
		if v.Kind == plant.FinalInspection {
			certified := calendar.None
			for id := range o.ancestors(j.s.ID) {
				s := p.FindStage(id)
				if r := rows[j.Truck+" "+id]; r != nil && s.Certifies {
					certified = max(certified, (r.End - 1).Date())
				}
				for _, d := range j.t.Done {
					if d.Stage == id && s.Certifies {
						certified = max(certified, (d.Ended - 1).Date())
					}
				}
			}
			full := 0
			for d := max(certified, day-200) + 1; d < day; d++ {
				if o.worksDay(p.Calendar, d) {
					full++
				}
			}
			if certified != calendar.None && full < p.Buffer.ReadyWorkDays {
				broken["readiness"] = true
			}
		}
	}
}

// ancestors returns the stages before a stage, however far, by repetition.
func (o *oracle) ancestors(id string) map[string]bool {
	set := map[string]bool{}
	for range o.p.Route {
		for _, s := range o.p.Route {
			for _, a := range s.After {
				if s.ID == id || set[s.ID] {
					set[a.Stage] = true
				}
			}
		}
	}
	return set
}

// words prints a set of rules.
func words(rules map[string]bool) string {
	var list []string
	for r, is := range rules {
		if is {
			list = append(list, r)
		}
	}
	slices.Sort(list)
	return fmt.Sprintf("[%s]", strings.Join(list, " "))
}
