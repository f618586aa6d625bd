package history

import "wetdown/calendar"

// What a projection may be about, besides kinds of visits and stages of the route.
const (
	LineOff  = "line_off"
	Delivery = "delivery"
)

// Owners of the clock: whose doing a slip was.
const (
	Plant    = "plant"
	Supplier = "supplier"
	Customer = "customer"
)

// Owners lists the owners of the clock.
var Owners = []string{Plant, Supplier, Customer}

// An Event is one projection of a day for a truck, and what came of it. Text that
// is not known is "", days calendar.None.
type Event struct {
	Truck    string
	Customer string
	Kind     string // of the truck: pumper, aerial ...
	Content  string // work content
	What     string // LineOff, Delivery, the kind of a visit, or the stage of the route that ends
	Owner    string // of the clock on which it slipped

	Said      calendar.Date // day on which the projection was made
	Projected calendar.Date
	Actual    calendar.Date // calendar.None while it is to come
	Requested calendar.Date // day that the customer asked for
	Contract  calendar.Date // day of the contract
	Cause     string
}

// Days counts working days.
type Days interface {
	// Between returns the working days from one day, that one included, to
	// another, that one not; negative if the other comes before.
	Between(from, to calendar.Date) int
	// Add returns the first working day that is n working days after the day or
	// more; for negative n the last that is -n before it or more.
	Add(from calendar.Date, n int) calendar.Date
}

// Weekdays counts Monday to Friday, and knows no holidays.
type Weekdays struct{}

// Between returns the weekdays of [from, to).
func (Weekdays) Between(from, to calendar.Date) int {
	return weekdaysBefore(to) - weekdaysBefore(from)
}

// weekdaysBefore counts the weekdays from a Monday long ago up to the day.
func weekdaysBefore(d calendar.Date) int {
	n := int(d) + 3 + 7*1_000_000 // days since a Monday: day 0 was a Thursday
	return n/7*5 + min(5, n%7)
}

// Add returns the weekday n weekdays after the day.
func (w Weekdays) Add(from calendar.Date, n int) calendar.Date {
	step, weeks := calendar.Date(1), n/5
	if n < 0 {
		step, weeks = -1, n/5+1
	}
	d := from + calendar.Date(weeks*7)
	for (w.Between(from, d)-n)*int(step) < 0 || d.Weekday() == 0 || d.Weekday() == 6 {
		d += step
	}
	return d
}
