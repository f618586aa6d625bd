package calendar

import (
	"strings"
	"testing"
	"time"
)

// sp makes a span of hours and minutes, such as sp(730, 1530).
func sp(from, to int) Span {
	return Span{Clock(from/100*60 + from%100), Clock(to/100*60 + to%100)}
}

func TestCheck(t *testing.T) {
	day := func(shifts ...Shift) Rules { return Rules{Week: Week{time.Monday: shifts}} }
	closures := func(c ...Closure) Rules { return Rules{Closures: c} }
	mon := date("2027-03-01")
	over := func(week Rules, o ...Overtime) Rules { week.Overtime = o; return week }
	tests := []struct {
		name  string
		rules Rules
		place string // "" for no problem
		text  string // part of the text
	}{
		{"nothing", Rules{}, "", ""},
		{"two shifts that meet", day(Shift{sp(600, 1400), nil}, Shift{sp(1400, 2200), nil}), "", ""},
		{"to noon of the next day", day(Shift{sp(2200, 3600), nil}), "", ""},
		{"a break of a night", day(Shift{sp(2200, 3000), []Span{sp(2600, 2630)}}), "", ""},
		{"breaks in any order", day(Shift{sp(600, 1400), []Span{sp(1200, 1230), sp(900, 915)}}), "", ""},
		{"begins next day", day(Shift{sp(2400, 3000), nil}), "Monday, shift 1", "begins at 24:00"},
		{"ends before it begins", day(Shift{sp(2200, 600), nil}), "Monday, shift 1", "write 30:00"},
		{"ends before it begins, too late to wrap", day(Shift{sp(2200, 1300), nil}), "Monday, shift 1", "the end comes after the begin"},
		{"takes no time", day(Shift{sp(600, 600), nil}), "Monday, shift 1", "the end comes after the begin"},
		{"too long", day(Shift{sp(2200, 3601), nil}), "Monday, shift 1", "ends at 36:01"},
		{"overlap", day(Shift{sp(600, 1400), nil}, Shift{sp(1330, 2200), nil}), "Monday, shift 2", "overlaps shift 1 from 06:00 to 14:00"},
		{"the same twice", day(Shift{sp(600, 1400), nil}, Shift{sp(600, 1400), nil}), "Monday, shift 2", "overlaps shift 1"},
		{"break outside", day(Shift{sp(600, 1400), []Span{sp(500, 630)}}), "Monday, shift 1, break 1", "outside the shift from 06:00 to 14:00"},
		{"break of a night on the wrong clock", day(Shift{sp(2200, 3000), []Span{sp(200, 230)}}), "Monday, shift 1, break 1", "24:00"},
		{"break backwards", day(Shift{sp(600, 1400), []Span{sp(900, 800)}}), "Monday, shift 1, break 1", "end comes after"},
		{"breaks overlap", day(Shift{sp(600, 1400), []Span{sp(900, 930), sp(915, 945)}}), "Monday, shift 1, break 2", "overlaps break 1"},
		{"all breaks", day(Shift{sp(600, 1400), []Span{sp(600, 1000), sp(1000, 1400)}}), "Monday, shift 1", "all breaks"},
		{"night into the morning shift", Rules{Week: Week{time.Saturday: {{sp(2200, 3000), nil}}, time.Sunday: {{sp(500, 900), nil}}}}, "Saturday, shift 1", "overlaps shift 1 of Sunday from 05:00"},
		{"night up to the morning shift", Rules{Week: Week{time.Saturday: {{sp(2200, 3000), nil}}, time.Sunday: {{sp(600, 900), nil}}}}, "", ""},
		{"unknown set", Rules{Holidays: []HolidaySet{{Set: "us-federal"}, {Set: "us-state"}}}, "holidays 2", "us-federal"},
		{"closure backwards", closures(Closure{mon, mon - 1, ""}), "closures 1", "last day does not come before"},
		{"closure without a day", closures(Closure{None, mon, ""}), "closures 1", "a day is missing"},
		{"closures overlap", closures(Closure{mon, mon + 4, ""}, Closure{mon + 9, mon + 9, ""}, Closure{mon + 4, mon + 5, ""}), "closures 3", "overlaps closure 1 from 2027-03-01 through 2027-03-05"},
		{"closures that meet", closures(Closure{mon, mon + 4, ""}, Closure{mon + 5, mon + 5, ""}), "", ""},
		{"overtime without a day", over(Rules{}, Overtime{Day: None, Shifts: []Shift{{sp(600, 900), nil}}}), "overtime 1", "no day"},
		{"overtime without a shift", over(Rules{}, Overtime{Day: mon}), "overtime 1", "no shift on 2027-03-01"},
		{"overtime with a bad shift", over(Rules{}, Overtime{Day: mon, Shifts: []Shift{{sp(900, 600), nil}}}), "overtime 1, shift 1", "end comes after"},
		{"overtime over a shift", over(day(Shift{sp(600, 1400), nil}), Overtime{Day: mon, Shifts: []Shift{{sp(1330, 1600), nil}}}), "overtime 1, shift 1", "overlaps the work from 2027-03-01T06:00 to 2027-03-01T14:00"},
		{"overtime after a shift", over(day(Shift{sp(600, 1400), nil}), Overtime{Day: mon, Shifts: []Shift{{sp(1400, 1600), nil}}}), "", ""},
		{"overtime under the night before", over(day(Shift{sp(2200, 3000), nil}), Overtime{Day: mon + 1, Shifts: []Shift{{sp(500, 900), nil}}}), "overtime 1, shift 1", "overlaps the work from 2027-03-01T22:00"},
		{"overtime into the morning after", over(day(Shift{sp(600, 1400), nil}), Overtime{Day: mon - 1, Shifts: []Shift{{sp(2200, 3030), nil}}}), "overtime 1, shift 1", "overlaps the work from 2027-03-01T06:00"},
		{"overtime twice", over(Rules{}, Overtime{Day: mon, Shifts: []Shift{{sp(600, 900), nil}}}, Overtime{Day: mon, Shifts: []Shift{{sp(800, 1000), nil}}}), "overtime 2, shift 1", "overlaps the work"},
		{"overtime on a closed day", over(Rules{Week: Week{time.Monday: {{sp(600, 1400), nil}}}, Closures: []Closure{{mon, mon, ""}}}, Overtime{Day: mon, Shifts: []Shift{{sp(600, 900), nil}}}), "", ""},
		{"overtime on a holiday", over(Rules{Week: Week{time.Thursday: {{sp(600, 1400), nil}}}, Holidays: []HolidaySet{{Set: "us-federal"}}}, Overtime{Day: date("2027-11-25"), Shifts: []Shift{{sp(600, 900), nil}}}), "", ""},
	}
	for _, tt := range tests {
		problems := tt.rules.Check()
		if tt.place == "" {
			if problems != nil {
				t.Errorf("%s: %v, want none", tt.name, problems)
			}
			continue
		}
		if len(problems) != 1 {
			t.Errorf("%s: %d problems %v, want 1", tt.name, len(problems), problems)
			continue
		}
		got := problems[0].Error()
		if !strings.HasPrefix(got, tt.place+": ") || !strings.Contains(got, tt.text) {
			t.Errorf("%s: %q, want %q: ... %q", tt.name, got, tt.place, tt.text)
		}
		g := mustGrid(t, chicago, "2027-01-01", "2027-12-31", nil)
		if _, err := Compile(g, tt.rules); err == nil || err.Error() != got {
			t.Errorf("%s: compiling says %v, want %q", tt.name, err, got)
		}
	}
}

// Every problem is told, in the order of the rules.
func TestCheckAll(t *testing.T) {
	r := Rules{
		Week:     Week{time.Sunday: {{sp(900, 800), nil}}, time.Friday: {{sp(600, 1400), []Span{sp(500, 530), sp(1300, 1500)}}}},
		Holidays: []HolidaySet{{Set: "nowhere"}},
		Closures: []Closure{{10, 9, ""}},
		Overtime: []Overtime{{Day: 20}},
	}
	var got []string
	for _, p := range r.Check() {
		place, _, _ := strings.Cut(p.Error(), ":")
		got = append(got, place)
	}
	want := "Sunday, shift 1|Friday, shift 1, break 1|Friday, shift 1, break 2|holidays 1|closures 1|overtime 1"
	if strings.Join(got, "|") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "|"), want)
	}
}
