package calendar

// Rules say when one group of people works. They are plain data; Compile turns
// them into Hours.
//
// A day works the shifts of its weekday, unless it is closed: a holiday or a
// closure takes away every shift that begins on it. A night shift that began the
// evening before runs to its end all the same. A holiday that is moved off a weekend
// closes the day on which it is observed and its own. Overtime adds shifts to a day,
// whether it is closed or not: a person said so, and later than the calendar.
type Rules struct {
	Week     Week
	Holidays []HolidaySet
	Closures []Closure
	Overtime []Overtime
}

// A Closure is a run of days without work. Through is the last of them,
// inclusive, as people write it.
type Closure struct {
	From, Through Date
	Reason        string
}

// Overtime is extra shifts on one day, beside those of its weekday. An overtime
// shift that joins a shift of the week without a gap lengthens it: the two are
// one shift.
type Overtime struct {
	Day    Date
	Shifts []Shift
	Note   string
}
