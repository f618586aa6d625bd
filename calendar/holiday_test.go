package calendar

import (
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"
)

// usObserved is the table of observed days by 5 U.S.C. 6103 and Executive Order
// 11582. The column 2026 was compared with the holiday page of the court of
// appeals for the eleventh circuit (ca11.uscourts.gov/federal-holidays), the rule
// with that of the sixth (ca6.uscourts.gov/federal-holidays). A star marks days
// moved off a weekend.
var usObserved = []struct {
	name string
	days [4]string // for the holidays of 2025 to 2028
}{
	{"new-years-day", [4]string{"Wed 2025-01-01", "Thu 2026-01-01", "Fri 2027-01-01", "Fri 2027-12-31*"}},
	{"martin-luther-king-day", [4]string{"Mon 2025-01-20", "Mon 2026-01-19", "Mon 2027-01-18", "Mon 2028-01-17"}},
	{"washingtons-birthday", [4]string{"Mon 2025-02-17", "Mon 2026-02-16", "Mon 2027-02-15", "Mon 2028-02-21"}},
	{"memorial-day", [4]string{"Mon 2025-05-26", "Mon 2026-05-25", "Mon 2027-05-31", "Mon 2028-05-29"}},
	{"juneteenth", [4]string{"Thu 2025-06-19", "Fri 2026-06-19", "Fri 2027-06-18*", "Mon 2028-06-19"}},
	{"independence-day", [4]string{"Fri 2025-07-04", "Fri 2026-07-03*", "Mon 2027-07-05*", "Tue 2028-07-04"}},
	{"labor-day", [4]string{"Mon 2025-09-01", "Mon 2026-09-07", "Mon 2027-09-06", "Mon 2028-09-04"}},
	{"columbus-day", [4]string{"Mon 2025-10-13", "Mon 2026-10-12", "Mon 2027-10-11", "Mon 2028-10-09"}},
	{"veterans-day", [4]string{"Tue 2025-11-11", "Wed 2026-11-11", "Thu 2027-11-11", "Fri 2028-11-10*"}},
	{"thanksgiving", [4]string{"Thu 2025-11-27", "Thu 2026-11-26", "Thu 2027-11-25", "Thu 2028-11-23"}},
	{"christmas-day", [4]string{"Thu 2025-12-25", "Fri 2026-12-25", "Fri 2027-12-24*", "Mon 2028-12-25"}},
}

// caActual is the table of the days themselves, not moved, computed from the
// rules on the page Public holidays in Canada of en.wikipedia.org and
// publicholidays.ca. Some days are kept by some provinces only.
var caActual = []struct {
	name string
	days [4]string
}{
	{"new-years-day", [4]string{"Wed 2025-01-01", "Thu 2026-01-01", "Fri 2027-01-01", "Sat 2028-01-01"}},
	{"family-day", [4]string{"Mon 2025-02-17", "Mon 2026-02-16", "Mon 2027-02-15", "Mon 2028-02-21"}},
	{"good-friday", [4]string{"Fri 2025-04-18", "Fri 2026-04-03", "Fri 2027-03-26", "Fri 2028-04-14"}},
	{"victoria-day", [4]string{"Mon 2025-05-19", "Mon 2026-05-18", "Mon 2027-05-24", "Mon 2028-05-22"}},
	{"fete-nationale", [4]string{"Tue 2025-06-24", "Wed 2026-06-24", "Thu 2027-06-24", "Sat 2028-06-24"}},
	{"canada-day", [4]string{"Tue 2025-07-01", "Wed 2026-07-01", "Thu 2027-07-01", "Sat 2028-07-01"}},
	{"civic-holiday", [4]string{"Mon 2025-08-04", "Mon 2026-08-03", "Mon 2027-08-02", "Mon 2028-08-07"}},
	{"labour-day", [4]string{"Mon 2025-09-01", "Mon 2026-09-07", "Mon 2027-09-06", "Mon 2028-09-04"}},
	{"truth-and-reconciliation", [4]string{"Tue 2025-09-30", "Wed 2026-09-30", "Thu 2027-09-30", "Sat 2028-09-30"}},
	{"thanksgiving", [4]string{"Mon 2025-10-13", "Mon 2026-10-12", "Mon 2027-10-11", "Mon 2028-10-09"}},
	{"remembrance-day", [4]string{"Tue 2025-11-11", "Wed 2026-11-11", "Thu 2027-11-11", "Sat 2028-11-11"}},
	{"christmas-day", [4]string{"Thu 2025-12-25", "Fri 2026-12-25", "Sat 2027-12-25", "Mon 2028-12-25"}},
	{"boxing-day", [4]string{"Fri 2025-12-26", "Sat 2026-12-26", "Sun 2027-12-26", "Tue 2028-12-26"}},
}

func named(d Date) string { return d.Weekday().String()[:3] + " " + d.String() }

// holidays of one name whose own day lies in the year.
func holidaysOf(t *testing.T, s HolidaySet, name string, year int) []Holiday {
	t.Helper()
	all, err := s.Dates(NewDate(year-1, time.December, 1), NewDate(year+1, time.January, 31))
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(all, func(h Holiday) bool {
		y, _, _ := h.Actual.YMD()
		return h.Name != name || y != year
	})
}

func TestUSFederal(t *testing.T) {
	rows := 0
	for _, row := range usObserved {
		for i, want := range row.days {
			found := holidaysOf(t, HolidaySet{Set: "us-federal"}, row.name, 2025+i)
			if len(found) != 1 {
				t.Fatalf("%s %d: found %v", row.name, 2025+i, found)
			}
			got := named(found[0].Day)
			if found[0].Day != found[0].Actual {
				got += "*"
			}
			if got != want {
				t.Errorf("%s %d: %s, want %s", row.name, 2025+i, got, want)
			}
			rows++
		}
	}
	if rows != 44 {
		t.Errorf("looked at %d days, want 44", rows)
	}
}

// No day but those of the table, year by year: eleven a year, but twelve in 2027,
// which has two New Year's days, and ten in 2028.
func TestUSFederalIsComplete(t *testing.T) {
	for i, count := range []int{11, 11, 12, 10} {
		year := fmt.Sprint(2025 + i)
		var want []string
		for _, row := range usObserved {
			for _, d := range row.days {
				if day := strings.TrimSuffix(d[4:], "*"); day[:4] == year {
					want = append(want, day)
				}
			}
		}
		slices.Sort(want)
		from, through := date(year+"-01-01"), date(year+"-12-31")
		all, err := HolidaySet{Set: "us-federal"}.Dates(from, through)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, h := range all {
			if from <= h.Day && h.Day <= through {
				got = append(got, h.Day.String())
			}
		}
		if !slices.Equal(got, want) || len(got) != count {
			t.Errorf("%d days %v\nwant %d %v", len(got), got, count, want)
		}
	}
}

// A day that is a holiday of its own, though observed on another, is found alone.
func TestActualDayAlone(t *testing.T) {
	day := date("2028-01-01")
	all, err := HolidaySet{Set: "us-federal"}.Dates(day, day)
	if err != nil || len(all) != 1 || all[0].Actual != day || all[0].Day != date("2027-12-31") {
		t.Errorf("on %v: %v, %v; want New Year's Day, observed the day before", day, all, err)
	}
}

func TestCanada(t *testing.T) {
	names, err := HolidayNames("ca-none")
	if err != nil {
		t.Fatal(err)
	}
	every := HolidaySet{Set: "ca-none", Add: names}
	rows := 0
	for _, row := range caActual {
		for i, want := range row.days {
			found := holidaysOf(t, every, row.name, 2025+i)
			if len(found) != 1 {
				t.Fatalf("%s %d: found %v", row.name, 2025+i, found)
			}
			if got := named(found[0].Actual); got != want {
				t.Errorf("%s %d: %s, want %s", row.name, 2025+i, got, want)
			}
			rows++
		}
	}
	if rows != 52 {
		t.Errorf("looked at %d days, want 52", rows)
	}
}

// Moved days in Canada: Saturday and Sunday to the Monday after, Boxing Day to
// the Tuesday if Christmas Day has the Monday (data of the python package
// holidays for federally regulated work; Fête nationale: Quebec's National
// Holiday Act, from memory).
func TestCanadaObserved(t *testing.T) {
	tests := []struct {
		set, name string
		year      int
		want      string
	}{
		{"ca-federal", "new-years-day", 2028, "Mon 2028-01-03"},
		{"ca-federal", "canada-day", 2028, "Mon 2028-07-03"},
		{"ca-federal", "truth-and-reconciliation", 2028, "Mon 2028-10-02"},
		{"ca-federal", "remembrance-day", 2028, "Mon 2028-11-13"},
		{"ca-federal", "christmas-day", 2027, "Mon 2027-12-27"},
		{"ca-federal", "boxing-day", 2027, "Tue 2027-12-28"},
		{"ca-on", "boxing-day", 2026, "Mon 2026-12-28"},
		{"ca-qc", "fete-nationale", 2028, "Sat 2028-06-24"},
		{"ca-qc", "fete-nationale", 2029, "Mon 2029-06-25"},
	}
	for _, tt := range tests {
		found := holidaysOf(t, HolidaySet{Set: tt.set}, tt.name, tt.year)
		if len(found) != 1 || named(found[0].Day) != tt.want {
			t.Errorf("%s %s %d: %v, want %s", tt.set, tt.name, tt.year, found, tt.want)
		}
	}
}

// How many holidays each set has (page Public holidays in Canada of
// en.wikipedia.org; ten in the Canada Labour Code; eleven in 5 U.S.C. 6103), and
// that each name in it is one that can be named.
func TestHolidaySets(t *testing.T) {
	want := map[string]int{
		"ca-ab": 9, "ca-bc": 11, "ca-federal": 10, "ca-mb": 9, "ca-nb": 8, "ca-nl": 6, "ca-none": 0,
		"ca-ns": 7, "ca-on": 9, "ca-pe": 8, "ca-qc": 8, "ca-sk": 10, "us-federal": 11, "us-none": 0,
	}
	if !slices.IsSorted(HolidaySets()) || len(HolidaySets()) != len(want) {
		t.Errorf("sets %v", HolidaySets())
	}
	for _, set := range HolidaySets() {
		holidays, err := HolidaySet{Set: set}.Dates(date("2026-01-01"), date("2026-12-31"))
		if err != nil {
			t.Fatal(err)
		}
		if len(holidays) != want[set] {
			t.Errorf("%s has %d holidays in 2026, want %d: %v", set, len(holidays), want[set], holidays)
		}
		titles := make(map[string]bool)
		for _, h := range holidays {
			titles[h.Title] = true
		}
		if len(titles) != len(holidays) || titles[""] {
			t.Errorf("%s: titles are missing or double: %v", set, holidays)
		}
	}
}

// A plant's own picks, as is common practice, no source: the Friday after
// Thanksgiving and 24 December added, Columbus Day and Veterans Day dropped.
func TestPicks(t *testing.T) {
	s := HolidaySet{
		Set:  "us-federal",
		Add:  []string{"friday-after-thanksgiving", "christmas-eve"},
		Drop: []string{"columbus-day", "veterans-day"},
	}
	holidays, err := s.Dates(date("2026-10-01"), date("2027-01-01"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, h := range holidays {
		got = append(got, named(h.Day)+" "+h.Title)
	}
	want := []string{
		"Thu 2026-11-26 Thanksgiving Day",
		"Fri 2026-11-27 Friday after Thanksgiving",
		"Thu 2026-12-24 Christmas Eve",
		"Fri 2026-12-25 Christmas Day",
		"Fri 2027-01-01 New Year's Day",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestHolidaySetRefused(t *testing.T) {
	tests := []struct {
		set  HolidaySet
		want []string // parts of the message
	}{
		{HolidaySet{Set: "us"}, []string{`"us"`, "ca-federal", "us-federal"}},
		{HolidaySet{}, []string{`""`, "us-federal"}},
		{HolidaySet{Set: "us-federal", Add: []string{"boxing-day"}}, []string{`"boxing-day"`, "friday-after-thanksgiving", "closure"}},
		{HolidaySet{Set: "us-federal", Drop: []string{"columbus"}}, []string{`"columbus"`, "columbus-day"}},
		{HolidaySet{Set: "us-federal", Drop: []string{"christmas-eve"}}, []string{`"christmas-eve"`, "not in us-federal"}},
		{HolidaySet{Set: "us-federal", Add: []string{"christmas-day"}}, []string{`"christmas-day"`, "need not be added"}},
		{HolidaySet{Set: "us-none", Add: []string{"christmas-day", "christmas-day"}}, []string{"added twice"}},
	}
	for _, tt := range tests {
		_, err := tt.set.Dates(date("2026-01-01"), date("2026-12-31"))
		if err == nil {
			t.Errorf("%v was taken", tt.set)
			continue
		}
		for _, part := range tt.want {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%v: %q lacks %q", tt.set, err, part)
			}
		}
	}
	if _, err := HolidayNames("mars"); err == nil {
		t.Error("the holidays of mars are known")
	}
}

// Dates must not depend on the zone of the machine. Kiritimati skipped 31 December
// 1994 when it changed sides of the date line (time zone database); a machine there
// must find New Year's Eve on it all the same.
func TestHolidaysFarFromHere(t *testing.T) {
	if os.Getenv("CALENDAR_TEST_CHILD") != "" {
		for _, h := range holidaysOf(t, HolidaySet{Set: "us-none", Add: []string{"new-years-eve"}}, "new-years-eve", 1994) {
			fmt.Println("holiday", h.Day, time.Local)
		}
		return
	}
	cmd := exec.Command(os.Args[0], "-test.run=^TestHolidaysFarFromHere$")
	cmd.Env = append(os.Environ(), "CALENDAR_TEST_CHILD=1", "TZ=Pacific/Kiritimati")
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "holiday 1994-12-31 Pacific/Kiritimati") {
		t.Errorf("a machine in Kiritimati says %q, %v", out, err)
	}
}
