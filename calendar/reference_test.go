package calendar

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A reference is working time told minute by minute, from the words of the rules
// and with none of the code that compiles them. Only the dates of holidays are
// taken over: they have tables of their own.
type reference struct {
	from    Moment // two days before the grid
	begin   Moment
	end     Moment
	owner   []int // by minute since from: the shift it lies in, breaks or not, -1 for none
	works   []bool
	root    []int // by shift: the shift it is one with
	closed  map[Date]bool
	before  []int // by minute: working minutes of the grid before it
	pattern [7]bool
}

func newReference(t *rapid.T, g *Grid, r Rules) *reference {
	ref := &reference{from: (g.From() - 2).At(0), begin: g.From().At(0), end: (g.Through() + 1).At(0), closed: make(map[Date]bool)}
	for _, c := range r.Closures {
		for d := c.From; d <= c.Through; d++ {
			ref.closed[d] = true
		}
	}
	for _, s := range r.Holidays {
		holidays, err := s.Dates(g.From()-10, g.Through()+10)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range holidays {
			ref.closed[h.Day], ref.closed[h.Actual] = true, true
		}
	}

	n := int((g.Through() + 4).At(0) - ref.from)
	ref.owner = slices.Repeat([]int{-1}, n)
	ref.works = make([]bool, n)
	var overtime []bool
	put := func(d Date, s Shift, over bool) {
		id := len(ref.root)
		ref.root, overtime = append(ref.root, id), append(overtime, over)
		for c := s.From; c < s.To; c++ {
			i := int(d.At(c) - ref.from)
			if ref.owner[i] >= 0 {
				t.Fatalf("two shifts at %v, and Check said nothing", d.At(c))
			}
			ref.owner[i] = id
			ref.works[i] = !inBreak(s, c)
		}
	}
	for d := g.From() - 2; d <= g.Through()+1; d++ {
		if !ref.closed[d] {
			for _, s := range r.Week[d.Weekday()] {
				put(d, s, false)
			}
		}
	}
	for _, o := range r.Overtime {
		for _, s := range o.Shifts {
			put(o.Day, s, true)
		}
	}
	for i := 1; i < n; i++ { // overtime that meets a shift of the week is one with it
		if a, b := ref.owner[i-1], ref.owner[i]; a >= 0 && b >= 0 && overtime[a] != overtime[b] {
			ref.root[b] = ref.root[a]
		}
	}
	ref.before = make([]int, n+1)
	for i := range n {
		ref.before[i+1] = ref.before[i]
		if m := ref.from + Moment(i); ref.works[i] && ref.begin <= m && m < ref.end {
			ref.before[i+1]++
		}
	}
	for d := range r.Week {
		for _, s := range r.Week[d] {
			for c := s.From; c < s.To; c++ {
				if !inBreak(s, c) {
					ref.pattern[(d+int(c)/minutesPerDay)%7] = true
				}
			}
		}
	}
	return ref
}

func inBreak(s Shift, c Clock) bool {
	return slices.ContainsFunc(s.Breaks, func(b Span) bool { return b.From <= c && c < b.To })
}

// minutes returns the working minutes before m.
func (ref *reference) minutes(m Moment) int {
	return ref.before[min(max(int(m-ref.from), 0), len(ref.before)-1)]
}

// worked reports whether the minute that begins at m is worked.
func (ref *reference) worked(m Moment) bool { return ref.minutes(m+1) > ref.minutes(m) }

// shift returns the shift of the working minute that begins at m, -1 for none.
func (ref *reference) shift(m Moment) int {
	if !ref.worked(m) {
		return -1
	}
	return ref.root[ref.owner[m-ref.from]]
}

// add walks minute by minute.
func (ref *reference) add(m Moment, minutes int) (Moment, bool) {
	for ; minutes > 0 && m < ref.end; m++ {
		if ref.worked(m) {
			minutes--
		}
	}
	return m, minutes == 0
}

// drawSpan draws a span between two clock times, half the time of whole hours so
// that ends meet.
func drawSpan(t *rapid.T, from, to int) Span {
	a := rapid.IntRange(from, to-1).Draw(t, "from")
	b := rapid.IntRange(a+1, to).Draw(t, "to")
	if hour := 60; rapid.Bool().Draw(t, "whole hours") {
		if down, up := a/hour*hour, (b+hour-1)/hour*hour; from <= down && up <= to {
			a, b = down, up
		}
	}
	return Span{Clock(a), Clock(b)}
}

// drawShift draws a shift between two clock times, with breaks.
func drawShift(t *rapid.T, from, to int) Shift {
	s := Shift{Span: drawSpan(t, from, to)}
	for range rapid.IntRange(0, 2).Draw(t, "breaks") {
		s.Breaks = append(s.Breaks, drawSpan(t, int(s.From), int(s.To)))
		if (Rules{Week: Week{{s}}}).Check() != nil {
			s.Breaks = s.Breaks[:len(s.Breaks)-1]
		}
	}
	return s
}

// drawRules draws rules without problems for a grid: whatever brings one is left
// out again. Whether Check leaves out enough is for the reference to say.
func drawRules(t *rapid.T, g *Grid) Rules {
	var r Rules
	for d := range r.Week {
		next := 0
		for range rapid.IntRange(0, 3).Draw(t, "shifts") {
			if next >= minutesPerDay-2 {
				break
			}
			before := slices.Clone(r.Week[d])
			s := drawShift(t, next, min(next+900, int(maxClock)))
			r.Week[d] = append(r.Week[d], s)
			if next = int(s.To); r.Check() != nil {
				r.Week[d] = before
			}
		}
	}
	if rapid.Bool().Draw(t, "holidays") {
		r.Holidays = append(r.Holidays, HolidaySet{Set: rapid.SampledFrom(HolidaySets()).Draw(t, "set")})
	}
	day := func(name string) Date {
		return g.From() + Date(rapid.IntRange(-1, g.days).Draw(t, name))
	}
	for range rapid.IntRange(0, 2).Draw(t, "closures") {
		from := day("closed from")
		r.Closures = append(r.Closures, Closure{From: from, Through: from + Date(rapid.IntRange(0, 3).Draw(t, "closed days")), Reason: "closed"})
		if r.Check() != nil {
			r.Closures = r.Closures[:len(r.Closures)-1]
		}
	}
	for range rapid.IntRange(0, 4).Draw(t, "overtimes") {
		o := Overtime{Day: day("overtime")}
		from, to := 0, int(maxClock)
		if week := r.Week[o.Day.Weekday()]; len(week) > 0 && rapid.Bool().Draw(t, "joins") {
			from = int(week[len(week)-1].To)
		}
		if from >= minutesPerDay {
			continue
		}
		s := drawShift(t, from, to)
		if from > 0 {
			s = Shift{Span: Span{Clock(from), s.To}}
		}
		o.Shifts = []Shift{s}
		r.Overtime = append(r.Overtime, o)
		if r.Check() != nil {
			r.Overtime = r.Overtime[:len(r.Overtime)-1]
		}
	}
	return r
}

func TestHoursAgainstReference(t *testing.T) {
	var withWork, joined, nights, over int // what the drawn rules had in them
	rapid.Check(t, func(t *rapid.T) {
		g := drawGrid(t)
		r := drawRules(t, g)
		h, err := Compile(g, r)
		if err != nil {
			t.Fatal(err)
		}
		ref := newReference(t, g, r)
		if h.Before(g.Slots()) > 0 {
			withWork++
		}
		over += len(r.Overtime)
		for i, id := range ref.root {
			if i != id {
				joined++
			}
		}
		for d := g.From(); d <= g.Through(); d++ {
			if i := d.At(0) - ref.from; ref.owner[i] >= 0 && ref.owner[i] == ref.owner[i-1] {
				nights++
			}
		}
		compareSlots(t, h, ref)
		compareDays(t, h, ref)
		compareMoments(t, h, ref)
	})
	if withWork == 0 || joined == 0 || nights == 0 || over == 0 {
		t.Errorf("nothing was tried of: %d rules with work, %d joined shifts, %d nights, %d overtimes", withWork, joined, nights, over)
	}
}

func compareSlots(t *rapid.T, h *Hours, ref *reference) {
	g := h.Grid()
	last := Slot(-1)
	for s := Slot(0); s < g.Slots(); s++ {
		begin, end := g.Begin(s), g.End(s)
		first, until := NoMoment, NoMoment
		for m := begin; m < end; m++ {
			if ref.worked(m) {
				if first == NoMoment {
					first = m
				}
				until = m + 1
			}
		}
		work := ref.minutes(end) - ref.minutes(begin)
		if h.Work(s) != work || h.Before(s) != int64(ref.minutes(begin)) || h.First(s) != first || h.Last(s) != until {
			t.Fatalf("slot %d: %d minutes, %d before, from %v to %v; want %d, %d, from %v to %v", s, h.Work(s), h.Before(s), h.First(s), h.Last(s), work, ref.minutes(begin), first, until)
		}
		if work > 0 {
			for q := last + 1; q <= s; q++ {
				if h.Next(q) != s {
					t.Fatalf("next slot from %d is %d, want %d", q, h.Next(q), s)
				}
			}
			last = s
		}
		if h.Prev(s) != last {
			t.Fatalf("last slot until %d is %d, want %d", s, h.Prev(s), last)
		}
		minutes := rapid.IntRange(0, 3000).Draw(t, "minutes")
		wantEnd, wantOK := NoMoment, false
		if first != NoMoment {
			wantEnd, wantOK = ref.add(first, minutes)
		}
		gotEnd, gotSlot, ok := h.Finish(s, minutes)
		if ok != wantOK {
			t.Fatalf("slot %d and %d minutes: %v, want %v", s, minutes, ok, wantOK)
		}
		if !ok {
			continue
		}
		wantSlot := s
		if minutes > 0 {
			wantSlot, _ = g.At(wantEnd - 1)
		}
		if gotEnd != wantEnd || gotSlot != wantSlot {
			t.Fatalf("slot %d and %d minutes: %v in %d, want %v in %d", s, minutes, gotEnd, gotSlot, wantEnd, wantSlot)
		}
	}
	for q := last + 1; q <= g.Slots(); q++ {
		if h.Next(q) != g.Slots() {
			t.Fatalf("next slot from %d is %d, want none", q, h.Next(q))
		}
	}
	if h.Prev(g.Slots()) != last || h.Prev(-1) != -1 || h.Before(g.Slots()) != int64(ref.minutes(ref.end)) {
		t.Fatal("the end of the grid is wrong")
	}
}

func compareDays(t *rapid.T, h *Hours, ref *reference) {
	g := h.Grid()
	worked := func(d Date) bool { return ref.minutes((d + 1).At(0)) > ref.minutes(d.At(0)) }
	for d := g.From() - 1; d <= g.Through()+1; d++ {
		if h.WorksDay(d) != worked(d) {
			t.Fatalf("%v works %v, want %v", d, h.WorksDay(d), worked(d))
		}
		if h.PatternWorks(d) != ref.pattern[d.Weekday()] {
			t.Fatalf("%v works by the week alone %v, want %v", d, h.PatternWorks(d), ref.pattern[d.Weekday()])
		}
		if reason, closed := h.Closed(d); closed != (g.Contains(d) && ref.closed[d]) || closed != (reason != "") {
			t.Fatalf("%v closed %v %q, want %v", d, closed, reason, ref.closed[d])
		}
		next, n := None, 0
		for e := g.Through(); e > d; e-- {
			if worked(e) {
				next = e
			}
		}
		prev := None
		for e := g.From(); e < d; e++ {
			if worked(e) {
				prev = e
			}
		}
		if got, ok := h.NextWorkDay(d); got != next || ok != (next != None) {
			t.Fatalf("after %v comes %v (%v), want %v", d, got, ok, next)
		}
		if got, ok := h.PrevWorkDay(d); got != prev || ok != (prev != None) {
			t.Fatalf("before %v comes %v (%v), want %v", d, got, ok, prev)
		}
		for e := d + 1; e <= g.Through()+2; e++ {
			if got := h.WorkDaysBetween(d, e); got != n {
				t.Fatalf("between %v and %v lie %d working days, want %d", d, e, got, n)
			}
			if worked(e) {
				n++
			}
		}
		if h.WorkDaysBetween(d, d) != 0 || h.WorkDaysBetween(d+1, d) != 0 {
			t.Fatalf("working days between %v and itself or the day before", d)
		}
	}
}

func compareMoments(t *rapid.T, h *Hours, ref *reference) {
	shifts := make(map[int]int) // by shift of the reference
	seen := make(map[int]int)   // and back
	lastShift := -1
	for m := ref.begin - 60; m < ref.end+60; m++ {
		if got := h.Between(ref.begin, m); got != ref.minutes(m) {
			t.Fatalf("%d working minutes till %v, want %d", got, m, ref.minutes(m))
		}
		got, want := h.Shift(m), ref.shift(m)
		if (got < 0) != (want < 0) || got < -1 {
			t.Fatalf("%v is in shift %d, want %d", m, got, want)
		}
		if want < 0 {
			continue
		}
		if _, ok := shifts[want]; !ok {
			shifts[want] = got
		}
		if _, ok := seen[got]; !ok {
			seen[got] = want
		}
		if shifts[want] != got || seen[got] != want {
			t.Fatalf("%v is in shift %d, but shift %d of the reference was %d", m, got, want, shifts[want])
		}
		if got < lastShift {
			t.Fatalf("shift %d comes after %d", got, lastShift)
		}
		lastShift = got
	}
	draw := func(name string) Moment {
		return ref.begin + Moment(rapid.Int64Range(-100, int64(ref.end-ref.begin)+100).Draw(t, name))
	}
	for i := range 30 {
		a, b := draw("a"), draw("b")
		if i < 2 {
			a = []Moment{ref.begin, ref.end}[i]
		}
		want := max(0, ref.minutes(b)-ref.minutes(a))
		if got := h.Between(a, b); got != want {
			t.Fatalf("%d working minutes from %v to %v, want %d", got, a, b, want)
		}
		minutes := rapid.IntRange(0, 3000).Draw(t, "add") * (i % 3) // sometimes none
		wantEnd, wantOK := ref.add(a, minutes)
		wantOK = wantOK && ref.begin <= a && a <= ref.end
		if got, ok := h.Add(a, minutes); ok != wantOK || ok && got != wantEnd {
			t.Fatalf("%d minutes after %v are done at %v (%v), want %v (%v)", minutes, a, got, ok, wantEnd, wantOK)
		}
	}
	if _, ok := h.Add(ref.begin, -1); ok {
		t.Fatal("negative work is done")
	}
}
