package calendar

import (
	"fmt"
	"slices"
)

// Where a Problem lies.
const (
	InWeek     = "week"
	InHolidays = "holidays"
	InClosures = "closures"
	InOvertime = "overtime"
)

// A Problem is something wrong with Rules, with its place, for those who know in
// which line of a file the place is.
type Problem struct {
	In    string // InWeek, InHolidays, InClosures or InOvertime
	Index int    // the weekday (Sunday 0) or the index into Holidays, Closures or Overtime
	Shift int    // index of the shift on that day, -1 if the problem is not about one shift
	Break int    // index of the break in that shift, -1 if the problem is not about one break
	Text  string // what is wrong and what to do about it
}

// Error returns the text with the place in front.
func (p Problem) Error() string {
	place := fmt.Sprintf("%s %d", p.In, p.Index+1)
	if p.In == InWeek {
		place = Weekday(p.Index).String()
	}
	if p.Shift >= 0 {
		place += fmt.Sprintf(", shift %d", p.Shift+1)
	}
	if p.Break >= 0 {
		place += fmt.Sprintf(", break %d", p.Break+1)
	}
	return place + ": " + p.Text
}

// Check returns what is wrong with the rules, nil if nothing is: the week first,
// then holidays, closures and overtime.
func (r Rules) Check() []Problem {
	var problems []Problem
	for d := range r.Week {
		problems = append(problems, checkShifts(InWeek, d, r.Week[d])...)
	}
	for i, s := range r.Holidays {
		if _, err := s.named(); err != nil {
			problems = append(problems, Problem{InHolidays, i, -1, -1, err.Error()})
		}
	}
	problems = append(problems, r.checkClosures()...)
	for i, o := range r.Overtime {
		switch {
		case o.Day == None:
			problems = append(problems, Problem{InOvertime, i, -1, -1, "no day: write the date of the overtime"})
		case len(o.Shifts) == 0:
			problems = append(problems, Problem{InOvertime, i, -1, -1, fmt.Sprintf("no shift on %v: write from when to when, or leave the overtime out", o.Day)})
		default:
			problems = append(problems, checkShifts(InOvertime, i, o.Shifts)...)
		}
	}
	if len(problems) > 0 {
		return problems // whether sound shifts collide can be said only when all are sound
	}
	problems = append(problems, r.checkNights()...)
	return append(problems, r.checkOvertime()...)
}

// checkShifts looks at the shifts of one day.
func checkShifts(in string, index int, shifts []Shift) []Problem {
	var problems []Problem
	for i, s := range shifts {
		report := func(format string, args ...any) {
			problems = append(problems, Problem{in, index, i, -1, fmt.Sprintf(format, args...)})
		}
		overlap := slices.IndexFunc(shifts[:i], func(t Shift) bool { return s.overlaps(t.Span) })
		switch {
		case s.From < 0 || s.From >= minutesPerDay:
			report("begins at %v: a shift begins from 00:00 to 23:59 of its day", s.From)
		case s.To <= s.From && s.To+minutesPerDay <= maxClock:
			report("runs from %v to %v: the end comes after the begin; write %v for an end on the next day", s.From, s.To, s.To+minutesPerDay)
		case s.To <= s.From:
			report("runs from %v to %v: the end comes after the begin", s.From, s.To)
		case s.To > maxClock:
			report("ends at %v: a shift ends by %v, noon of the next day", s.To, maxClock)
		case overlap >= 0:
			t := shifts[overlap]
			report("runs from %v to %v: it overlaps shift %d from %v to %v; let one end where the other begins", s.From, s.To, overlap+1, t.From, t.To)
		default:
			wrong := checkBreaks(in, index, i, s)
			problems = append(problems, wrong...)
			if len(wrong) == 0 && s.Minutes() == 0 {
				report("is all breaks from %v to %v: leave working time or leave the shift out", s.From, s.To)
			}
		}
	}
	return problems
}

// checkBreaks looks at the breaks of one shift.
func checkBreaks(in string, index, shift int, s Shift) []Problem {
	var problems []Problem
	for i, b := range s.Breaks {
		report := func(format string, args ...any) {
			problems = append(problems, Problem{in, index, shift, i, fmt.Sprintf(format, args...)})
		}
		overlap := slices.IndexFunc(s.Breaks[:i], b.overlaps)
		switch {
		case b.To <= b.From:
			report("runs from %v to %v: the end comes after the begin", b.From, b.To)
		case b.From < s.From || b.To > s.To:
			report("runs from %v to %v: it lies outside the shift from %v to %v; past midnight, go on counting from 24:00", b.From, b.To, s.From, s.To)
		case overlap >= 0:
			c := s.Breaks[overlap]
			report("runs from %v to %v: it overlaps break %d from %v to %v; make them one", b.From, b.To, overlap+1, c.From, c.To)
		}
	}
	return problems
}

// checkClosures looks at every closure and for overlaps.
func (r Rules) checkClosures() []Problem {
	var problems []Problem
	for i, c := range r.Closures {
		switch {
		case c.From == None || c.Through == None:
			problems = append(problems, Problem{InClosures, i, -1, -1, "a day is missing: write the first and the last day that is closed"})
		case c.Through < c.From:
			problems = append(problems, Problem{InClosures, i, -1, -1, fmt.Sprintf("runs from %v through %v: the last day does not come before the first", c.From, c.Through)})
		default:
			j := slices.IndexFunc(r.Closures[:i], func(b Closure) bool { return c.From <= b.Through && b.From <= c.Through })
			if j >= 0 {
				b := r.Closures[j]
				problems = append(problems, Problem{InClosures, i, -1, -1, fmt.Sprintf("runs from %v through %v: it overlaps closure %d from %v through %v; make them one or move an end", c.From, c.Through, j+1, b.From, b.Through)})
			}
		}
	}
	return problems
}

// checkNights looks for shifts of the week that run into a shift of the next day.
func (r Rules) checkNights() []Problem {
	var problems []Problem
	for d, shifts := range r.Week {
		next := (d + 1) % 7
		for i, s := range shifts {
			for j, t := range r.Week[next] {
				if s.To > t.From+minutesPerDay {
					problems = append(problems, Problem{InWeek, d, i, -1, fmt.Sprintf("runs to %v, %v of the next day: it overlaps shift %d of %v from %v; let one end where the other begins", s.To, s.To-minutesPerDay, j+1, Weekday(next), t.From)})
				}
			}
		}
	}
	return problems
}

// checkOvertime looks for overtime that collides with other work.
func (r Rules) checkOvertime() []Problem {
	var problems []Problem
	for i, o := range r.Overtime {
		from, through := o.Day-1, o.Day+1
		for _, n := range r.expand(from, through, r.closedDays(from, through)) {
			if n.overtime >= i {
				continue // of this overtime, or reported with the later one
			}
			for j, s := range o.Shifts {
				if o.Day.At(s.From) < n.to && n.from < o.Day.At(s.To) {
					problems = append(problems, Problem{InOvertime, i, j, -1, fmt.Sprintf("runs from %v to %v on %v: it overlaps the work from %v to %v; write only the hours beside it", s.From, s.To, o.Day, n.from, n.to)})
				}
			}
		}
	}
	return problems
}
