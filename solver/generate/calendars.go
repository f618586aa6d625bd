package generate

import (
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// addCalendars gives the plant its working time: five days of eight hours, four
// of ten for the test people; holidays with Good Friday, the Friday after
// Thanksgiving and Christmas Eve; shutdowns around the Fourth of July and at the
// year's end (common in US plants [SHUT1], [SHUT2]). Customers keep public holidays.
func addCalendars(p *plant.Plant) {
	off := calendar.HolidaySet{
		Set:  "us-federal",
		Add:  []string{"good-friday", "friday-after-thanksgiving", "christmas-eve"},
		Drop: []string{"columbus-day", "martin-luther-king-day", "veterans-day", "washingtons-birthday"},
	}
	var closures []calendar.Closure
	first, _, _ := p.Horizon.From.YMD()
	last, _, _ := p.Horizon.Through.YMD()
	for y := first; y <= last; y++ {
		monday := calendar.NewDate(y, time.July, 6) // Saturday and Sunday the 4th belong to the week after
		for monday.Weekday() != time.Monday {
			monday--
		}
		closures = append(closures,
			calendar.Closure{From: monday, Through: monday + 4, Reason: "summer shutdown"},
			calendar.Closure{From: calendar.NewDate(y, time.December, 24), Through: calendar.NewDate(y+1, time.January, 1), Reason: "year-end shutdown"})
	}
	ours := func(id, pattern string) plant.Calendar {
		return plant.Calendar{ID: id, Rules: calendar.Rules{Week: week(pattern), Holidays: []calendar.HolidaySet{off}, Closures: closures}}
	}
	graphics := ours("graphics", "5x8")
	for _, saturday := range []calendar.Date{asOf.Date() + 12, asOf.Date() + 26} {
		graphics.Rules.Overtime = append(graphics.Rules.Overtime, calendar.Overtime{
			Day: saturday, Shifts: week("5x8")[time.Monday], Note: "graphics catches up",
		})
	}
	theirs := func(id, set string) plant.Calendar {
		return plant.Calendar{ID: id, Rules: calendar.Rules{Week: week("5x8"), Holidays: []calendar.HolidaySet{{Set: set}}}}
	}
	p.Calendar = "plant"
	p.Calendars = []plant.Calendar{
		graphics, ours("plant", "5x8"), theirs("public", "us-federal"), theirs("public_ca", "ca-on"), ours("test", "4x10"),
	}
	p.Departments = plant.DefaultDepartments()
	for i := range p.Departments {
		p.Departments[i].Calendar = departmentCalendars[p.Departments[i].ID]
	}
}

// departmentCalendars tells who works by which calendar.
var departmentCalendars = map[string]string{
	"delivery": "plant", "electrical": "test", "graphics": "graphics", "office": "plant",
	"paint": "plant", "quality": "plant", "showroom": "plant", "testing": "test",
}

// week returns a named week.
func week(pattern string) calendar.Week {
	w, err := calendar.Pattern(pattern)
	if err != nil {
		panic(err) // a name misspelt in this package
	}
	return w
}
