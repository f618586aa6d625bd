package calendar

import (
	"slices"
	"testing"
	"time"
)

// Conversions of hours: 40 working hours from Monday 06:00 on 4x10 end on Thursday
// 16:30, from Monday 07:00 on 5x8 on Friday 15:30 (computed from the patterns).
func TestFortyHours(t *testing.T) {
	g := mustGrid(t, chicago, "2027-03-01", "2027-04-30", noon)
	tests := []struct {
		pattern   string
		from, end string
	}{
		{"4x10", "2027-03-01T06:00", "2027-03-04T16:30"},
		{"5x8", "2027-03-01T07:00", "2027-03-05T15:30"},
	}
	for _, tt := range tests {
		h := mustCompile(t, g, Rules{Week: mustPattern(t, tt.pattern)})
		s := h.Next(0)
		if h.First(s) != moment(tt.from) {
			t.Errorf("%s: work begins at %v, want %s", tt.pattern, h.First(s), tt.from)
		}
		end, last, ok := h.Finish(s, 40*60)
		if !ok || end != moment(tt.end) || last != g.Slot(moment(tt.end).Date(), 1) {
			t.Errorf("%s: 40 hours end at %v in slot %d (%v), want %s", tt.pattern, end, last, ok, tt.end)
		}
		if end, ok := h.Add(moment(tt.from), 40*60); !ok || end != moment(tt.end) {
			t.Errorf("%s: 40 hours after %s is %v (%v), want %s", tt.pattern, tt.from, end, ok, tt.end)
		}
		if n := h.Between(moment(tt.from), moment(tt.end)); n != 40*60 {
			t.Errorf("%s: %d minutes in the week, want 2400", tt.pattern, n)
		}
	}
}

// A worked fortnight around Christmas 2027: Christmas Day is a Saturday, observed
// on Friday 24 December; New Year's Day 2028 on Friday 31 December 2027.
func TestYearEnd(t *testing.T) {
	g := mustGrid(t, chicago, "2027-12-20", "2028-01-07", noon)
	h := mustCompile(t, g, Rules{
		Week:     mustPattern(t, "5x8"),
		Holidays: []HolidaySet{{Set: "us-federal"}},
		Closures: []Closure{{date("2027-12-27"), date("2027-12-29"), "stocktaking"}},
		Overtime: []Overtime{{Day: date("2027-12-28"), Shifts: []Shift{{Span: Span{8 * 60, 12 * 60}}}, Note: "boiler"}},
	})
	var worked []string
	for d := g.From(); d <= g.Through(); d++ {
		if h.WorksDay(d) {
			worked = append(worked, d.String()[8:])
		}
	}
	want := []string{"20", "21", "22", "23", "28", "30", "03", "04", "05", "06", "07"}
	if !slices.Equal(worked, want) {
		t.Errorf("works on %v, want %v", worked, want)
	}
	for day, want := range map[string]string{
		"2027-12-23": "",
		"2027-12-24": "Christmas Day (observed)",
		"2027-12-25": "Christmas Day",
		"2027-12-26": "",
		"2027-12-28": "stocktaking",
		"2027-12-31": "New Year's Day (observed)",
		"2028-01-01": "New Year's Day",
		"2028-01-03": "",
	} {
		if got, closed := h.Closed(date(day)); got != want || closed != (want != "") {
			t.Errorf("%s closed %v: %q, want %q", day, closed, got, want)
		}
	}
	if !h.PatternWorks(date("2027-12-24")) || h.PatternWorks(date("2027-12-25")) {
		t.Error("the week alone works on Fridays and not on Saturdays")
	}
	if got := h.Between(date("2027-12-28").At(0), date("2027-12-29").At(0)); got != 240 {
		t.Errorf("overtime in the closure is %d minutes, want 240", got)
	}
	if d, ok := h.NextWorkDay(date("2027-12-23")); !ok || d != date("2027-12-28") {
		t.Errorf("after 23 December comes %v (%v)", d, ok)
	}
	if d, ok := h.PrevWorkDay(date("2028-01-03")); !ok || d != date("2027-12-30") {
		t.Errorf("before 3 January comes %v (%v)", d, ok)
	}
	if n := h.WorkDaysBetween(date("2027-12-23"), date("2028-01-03")); n != 2 {
		t.Errorf("%d working days between, want 2", n)
	}
	if n := h.WorkDaysBetween(date("2028-01-03"), date("2028-01-03")); n != 0 {
		t.Errorf("%d working days between a day and itself", n)
	}
}

// A closure takes the shifts that begin on its days; the night shift of the evening
// before ends on the closed morning.
func TestClosedNight(t *testing.T) {
	var w Week
	for d := time.Monday; d <= time.Friday; d++ {
		w[d] = []Shift{{Span: Span{22 * 60, 30 * 60}}}
	}
	g := mustGrid(t, chicago, "2027-03-01", "2027-03-14", noon)
	h := mustCompile(t, g, Rules{Week: w, Closures: []Closure{{date("2027-03-03"), date("2027-03-03"), "audit"}}})
	wed, thu := date("2027-03-03"), date("2027-03-04")
	if n := h.Between(wed.At(0), thu.At(0)); n != 360 {
		t.Errorf("the closed day has %d working minutes, want the 360 of the night before", n)
	}
	if n := h.Between(thu.At(0), thu.At(12*60)); n != 0 {
		t.Errorf("the morning after has %d working minutes, want 0", n)
	}
	if reason, closed := h.Closed(wed); !closed || reason != "audit" || !h.WorksDay(wed) {
		t.Errorf("closed %v %q, works %v", closed, reason, h.WorksDay(wed))
	}
	if !h.PatternWorks(date("2027-03-06")) || h.PatternWorks(date("2027-03-07")) || h.PatternWorks(date("2027-03-01")) != true {
		t.Error("Saturday morning belongs to Friday's night, Sunday to nobody")
	}
}

// The night shift of the day before the grid runs into it.
func TestGridBeginsInTheNight(t *testing.T) {
	var w Week
	w[time.Sunday] = []Shift{{Span: Span{22 * 60, 30 * 60}}}
	w[time.Monday] = []Shift{{Span: Span{22 * 60, 30 * 60}}}
	g := mustGrid(t, chicago, "2027-03-01", "2027-03-01", noon)
	h := mustCompile(t, g, Rules{Week: w})
	if h.Work(0) != 360 || h.Work(1) != 120 || h.Before(g.Slots()) != 480 {
		t.Errorf("slots have %d and %d minutes, %d in all; want 360, 120, 480", h.Work(0), h.Work(1), h.Before(2))
	}
	if _, ok := h.Add(moment("2027-03-01T22:00"), 121); ok {
		t.Error("work goes on beyond the grid")
	}
	if end, ok := h.Add(moment("2027-03-01T22:00"), 120); !ok || end != moment("2027-03-02T00:00") {
		t.Errorf("work to the end of the grid ends at %v (%v)", end, ok)
	}
}

// Overtime that joins a shift without a gap lengthens it; two shifts of the week
// that meet stay two.
func TestShiftNumbers(t *testing.T) {
	g := mustGrid(t, chicago, "2027-03-01", "2027-03-07", noon)
	h := mustCompile(t, g, Rules{
		Week: mustPattern(t, "two-shift"),
		Overtime: []Overtime{
			{Day: date("2027-03-01"), Shifts: []Shift{{Span: Span{4 * 60, 6 * 60}}}},                  // before the first
			{Day: date("2027-03-02"), Shifts: []Shift{{Span: Span{23 * 60, 24 * 60}}}},                // after the second
			{Day: date("2027-03-03"), Shifts: []Shift{{Span: Span{23*60 + 30, 24 * 60}}}},             // with a gap
			{Day: date("2027-03-06"), Shifts: []Shift{{Span: Span{360, 600}}, {Span{600, 840}, nil}}}, // two shifts on Saturday
		},
	})
	tests := []struct {
		a, b string
		same bool
	}{
		{"2027-03-01T04:00", "2027-03-01T14:29", true},
		{"2027-03-01T14:29", "2027-03-01T14:30", false},
		{"2027-03-02T14:30", "2027-03-02T23:59", true},
		{"2027-03-03T22:59", "2027-03-03T23:30", false},
		{"2027-03-06T09:59", "2027-03-06T10:00", false},
		{"2027-03-04T06:00", "2027-03-05T06:00", false},
	}
	for _, tt := range tests {
		a, b := h.Shift(moment(tt.a)), h.Shift(moment(tt.b))
		if a < 0 || b < 0 || (a == b) != tt.same {
			t.Errorf("%s is in shift %d, %s in %d; want same %v", tt.a, a, tt.b, b, tt.same)
		}
	}
	for _, m := range []string{"2027-03-01T03:59", "2027-03-01T10:15", "2027-03-03T23:15", "2027-03-07T12:00"} {
		if n := h.Shift(moment(m)); n != -1 {
			t.Errorf("%s is in shift %d, want none", m, n)
		}
	}
}

// Work by the week alone is told to the minute, from both sides of midnight.
func TestPatternWorksAtMidnight(t *testing.T) {
	tests := []struct {
		shift     Shift
		mon, next bool
	}{
		{Shift{sp(2200, 2400), nil}, true, false},
		{Shift{sp(2200, 2401), nil}, true, true},
		{Shift{sp(2200, 2600), []Span{sp(2200, 2400)}}, false, true},
		{Shift{sp(2200, 2600), []Span{sp(2400, 2600)}}, true, false},
	}
	g := mustGrid(t, chicago, "2027-03-01", "2027-03-07", noon)
	for _, tt := range tests {
		h := mustCompile(t, g, Rules{Week: Week{time.Monday: {tt.shift}}})
		mon := date("2027-03-01")
		if h.PatternWorks(mon) != tt.mon || h.PatternWorks(mon+1) != tt.next || h.WorksDay(mon) != tt.mon || h.WorksDay(mon+1) != tt.next {
			t.Errorf("%v: Monday %v %v, Tuesday %v %v; want %v, %v", tt.shift, h.PatternWorks(mon), h.WorksDay(mon), h.PatternWorks(mon+1), h.WorksDay(mon+1), tt.mon, tt.next)
		}
	}
}

func TestNoWork(t *testing.T) {
	g := mustGrid(t, chicago, "2027-03-01", "2027-03-07", noon)
	h := mustCompile(t, g, Rules{})
	n := g.Slots()
	if h.Next(0) != n || h.Prev(n) != -1 || h.First(0) != NoMoment || h.Last(0) != NoMoment || h.Before(n) != 0 {
		t.Error("a calendar without work has work")
	}
	if _, _, ok := h.Finish(0, 0); ok {
		t.Error("work finishes that cannot begin")
	}
	if m, ok := h.Add(moment("2027-03-02T10:00"), 0); !ok || m != moment("2027-03-02T10:00") {
		t.Errorf("no work after a moment ends at %v (%v)", m, ok)
	}
	if _, ok := h.Add(moment("2027-03-02T10:00"), 1); ok {
		t.Error("work is done in a calendar without work")
	}
	if _, ok := h.NextWorkDay(g.From() - 1); ok {
		t.Error("a working day in a calendar without work")
	}
}

// Two years in three parts, as a plant would have it.
func benchRules(b *testing.B) (*Grid, Rules) {
	g := mustGrid(b, chicago, "2026-01-01", "2027-12-31", []Clock{12 * 60, 17 * 60})
	return g, Rules{
		Week:     mustPattern(b, "5x8"),
		Holidays: []HolidaySet{{Set: "us-federal", Add: []string{"friday-after-thanksgiving"}}},
		Closures: []Closure{{date("2026-07-06"), date("2026-07-10"), "summer"}, {date("2026-12-24"), date("2027-01-01"), "year end"}},
		Overtime: []Overtime{{Day: date("2026-03-07"), Shifts: []Shift{{Span: Span{360, 600}}}}},
	}
}

func BenchmarkCompile(b *testing.B) {
	g, r := benchRules(b)
	b.ReportAllocs()
	for b.Loop() {
		mustCompile(b, g, r)
	}
}

func BenchmarkFinish(b *testing.B) {
	g, r := benchRules(b)
	h := mustCompile(b, g, r)
	s := h.Next(700)
	for b.Loop() {
		if _, _, ok := h.Finish(s, 2400); !ok {
			b.Fatal("no end")
		}
	}
}

func BenchmarkElapsed(b *testing.B) {
	g, _ := benchRules(b)
	m := moment("2027-03-12T10:00")
	for b.Loop() {
		if g.Elapsed(m, 72*60) == m {
			b.Fatal("time stands still")
		}
	}
}
