package calendar

import (
	"cmp"
	"slices"
)

// An instance is one shift of one day: what a Shift of the rules becomes.
type instance struct {
	from, to Moment
	work     []Span // without breaks, on the clock of day
	day      Date
	overtime int // index into Rules.Overtime, -1 for a shift of the week
}

// expand returns the instances that begin on the days from through through, in
// order of time. Closed comes from closedDays for the same days.
func (r Rules) expand(from, through Date, closed []string) []instance {
	list := make([]instance, 0, int(through-from)+1)
	add := func(d Date, s Shift, work []Span, overtime int) {
		list = append(list, instance{d.At(s.From), d.At(s.To), work, d, overtime})
	}
	var work [7][][]Span // the same for every week
	for d, shifts := range r.Week {
		for _, s := range shifts {
			work[d] = append(work[d], s.work())
		}
	}
	weekday := from.Weekday()
	for d := from; d <= through; d++ {
		if closed[d-from] == "" {
			for i, s := range r.Week[weekday] {
				add(d, s, work[weekday][i], -1)
			}
		}
		weekday = (weekday + 1) % 7
	}
	for i, o := range r.Overtime {
		if from <= o.Day && o.Day <= through {
			for _, s := range o.Shifts {
				add(o.Day, s, s.work(), i)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b instance) int { return cmp.Compare(a.from, b.from) })
	return list
}

// closedDays returns, for the days from through through, why each is closed, ""
// for a day that is not. A closure's own reason goes before a holiday's, the
// earlier set's before the later's. Sets that cannot be read close nothing: Check
// reports them.
func (r Rules) closedDays(from, through Date) []string {
	closed := make([]string, through-from+1)
	put := func(d Date, reason string) {
		if from <= d && d <= through && closed[d-from] == "" {
			closed[d-from] = reason
		}
	}
	for _, c := range r.Closures {
		reason := c.Reason
		if reason == "" {
			reason = "closed"
		}
		for d := max(c.From, from); d <= min(c.Through, through); d++ {
			put(d, reason)
		}
	}
	for _, s := range r.Holidays {
		holidays, _ := s.Dates(from, through)
		for _, h := range holidays {
			put(h.Actual, h.Title)
			if h.Day != h.Actual {
				put(h.Day, h.Title+" (observed)")
			}
		}
	}
	return closed
}
