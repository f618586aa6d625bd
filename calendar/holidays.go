package calendar

import (
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/aa"
	"github.com/rickar/cal/v2/ca"
	"github.com/rickar/cal/v2/us"
)

// A namedHoliday is a holiday with the name that files use.
type namedHoliday struct {
	name string
	rule *cal.Holiday
}

// A holidaySet is a set of holidays out of those of a country.
type holidaySet struct {
	name    string
	country []namedHoliday
	names   []string
}

// usHolidays: the eleven of 5 U.S.C. 6103, observed on Friday for Saturday (6103(b))
// and on Monday for Sunday (Executive Order 11582), and days that plants commonly
// add. The days that plants add are not moved off a weekend.
var usHolidays = []namedHoliday{
	{"new-years-day", us.NewYear},
	{"martin-luther-king-day", us.MlkDay},
	{"washingtons-birthday", us.PresidentsDay.Clone(&cal.Holiday{Name: "Washington's Birthday"})},
	{"good-friday", aa.GoodFriday},
	{"memorial-day", us.MemorialDay},
	{"juneteenth", us.Juneteenth},
	{"independence-day", us.IndependenceDay},
	{"labor-day", us.LaborDay},
	{"columbus-day", us.ColumbusDay},
	{"veterans-day", us.VeteransDay},
	{"thanksgiving", us.ThanksgivingDay},
	{"friday-after-thanksgiving", us.DayAfterThanksgivingDay.Clone(&cal.Holiday{Name: "Friday after Thanksgiving"})},
	{"christmas-eve", day("Christmas Eve", time.December, 24)},
	{"christmas-day", us.ChristmasDay},
	{"new-years-eve", day("New Year's Eve", time.December, 31)},
}

// caHolidays: on a Saturday or Sunday observed on the Monday after, as the library
// has it for federally regulated work; Boxing Day after Christmas Day. Fête
// nationale moves from a Sunday only. Provinces, and plants, differ about
// Saturdays: where it is otherwise, drop the holiday and write a closure. Family
// Day is Louis Riel Day in Manitoba, Heritage Day in Nova Scotia, Islander Day in
// Prince Edward Island; Victoria Day is the Journée nationale des patriotes in
// Quebec.
var caHolidays = []namedHoliday{
	{"new-years-day", ca.NewYear},
	{"family-day", nthMonday("Family Day", time.February, 3)},
	{"good-friday", ca.GoodFriday},
	{"easter-monday", ca.EasterMonday},
	{"victoria-day", ca.VictoriaDay},
	{"fete-nationale", sundayToMonday(day("Fête nationale", time.June, 24))},
	{"canada-day", ca.CanadaDay},
	{"civic-holiday", nthMonday("Civic Holiday", time.August, 1)},
	{"labour-day", ca.LabourDay},
	{"truth-and-reconciliation", ca.NationalDayForTruthAndReconciliation},
	{"thanksgiving", ca.ThanksgivingDay},
	{"remembrance-day", ca.RemembranceDay},
	{"christmas-eve", day("Christmas Eve", time.December, 24)},
	{"christmas-day", ca.ChristmasDay},
	{"boxing-day", ca.BoxingDay},
	{"new-years-eve", day("New Year's Eve", time.December, 31)},
}

// holidaySets, sorted by name. Ca-federal is the list of the Canada Labour Code,
// which leaves out Easter Monday, kept by the federal public service alone. The
// provinces have the nationwide five and what each adds, as listed on the page
// Public holidays in Canada of en.wikipedia.org, and compared with the data of
// the python package holidays.
var holidaySets = []holidaySet{
	{"ca-ab", caHolidays, nationwide("family-day", "victoria-day", "thanksgiving", "remembrance-day")},
	{"ca-bc", caHolidays, nationwide("family-day", "victoria-day", "civic-holiday", "truth-and-reconciliation", "thanksgiving", "remembrance-day")},
	{"ca-federal", caHolidays, nationwide("victoria-day", "truth-and-reconciliation", "thanksgiving", "remembrance-day", "boxing-day")},
	{"ca-mb", caHolidays, nationwide("family-day", "victoria-day", "truth-and-reconciliation", "thanksgiving")},
	{"ca-nb", caHolidays, nationwide("family-day", "civic-holiday", "remembrance-day")},
	{"ca-nl", caHolidays, nationwide("remembrance-day")},
	{"ca-none", caHolidays, nil},
	{"ca-ns", caHolidays, nationwide("family-day", "remembrance-day")},
	{"ca-on", caHolidays, nationwide("family-day", "victoria-day", "thanksgiving", "boxing-day")},
	{"ca-pe", caHolidays, nationwide("family-day", "truth-and-reconciliation", "remembrance-day")},
	{"ca-qc", caHolidays, nationwide("victoria-day", "fete-nationale", "thanksgiving")},
	{"ca-sk", caHolidays, nationwide("family-day", "victoria-day", "civic-holiday", "thanksgiving", "remembrance-day")},
	{"us-federal", usHolidays, []string{"new-years-day", "martin-luther-king-day", "washingtons-birthday", "memorial-day", "juneteenth", "independence-day", "labor-day", "columbus-day", "veterans-day", "thanksgiving", "christmas-day"}},
	{"us-none", usHolidays, nil},
}

// nationwide are the five holidays kept in all of Canada, and others.
func nationwide(others ...string) []string {
	return append([]string{"new-years-day", "good-friday", "canada-day", "labour-day", "christmas-day"}, others...)
}

// day is a holiday on a fixed date that is never moved.
func day(title string, month time.Month, day int) *cal.Holiday {
	return &cal.Holiday{Name: title, Month: month, Day: day, Func: cal.CalcDayOfMonth}
}

// nthMonday is a holiday on the n-th Monday of a month.
func nthMonday(title string, month time.Month, n int) *cal.Holiday {
	return &cal.Holiday{Name: title, Month: month, Weekday: time.Monday, Offset: n, Func: cal.CalcWeekdayOffset}
}

// sundayToMonday is the holiday, observed a day later when it falls on a Sunday.
func sundayToMonday(h *cal.Holiday) *cal.Holiday {
	return h.Clone(&cal.Holiday{Observed: []cal.AltDay{{Day: time.Sunday, Offset: 1}}})
}
