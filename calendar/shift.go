package calendar

import "slices"

// A Span is a stretch of the clock, half-open: From is in it, To is not.
type Span struct {
	From, To Clock
}

// Minutes returns the length of the span.
func (s Span) Minutes() int { return int(s.To) - int(s.From) }

// overlaps reports whether the two spans share a minute.
func (s Span) overlaps(t Span) bool { return s.From < t.To && t.From < s.To }

// A Shift is a stretch of work on one day. It begins on that day and may run
// past midnight: To goes up to 36:00, which is noon of the next day. Breaks lie
// inside it, on the same clock (a break at half past midnight of a night shift
// is 24:30).
type Shift struct {
	Span
	Breaks []Span
}

// Minutes returns the working minutes of the shift, breaks taken off.
func (s Shift) Minutes() int {
	n := s.Span.Minutes()
	for _, b := range s.Breaks {
		n -= b.Minutes()
	}
	return n
}

// work returns the shift without its breaks, in order.
func (s Shift) work() []Span {
	breaks := slices.SortedFunc(slices.Values(s.Breaks), func(a, b Span) int { return int(a.From) - int(b.From) })
	work := make([]Span, 0, len(breaks)+1)
	from := s.From
	for _, b := range breaks {
		if from < b.From {
			work = append(work, Span{from, b.From})
		}
		from = b.To
	}
	if from < s.To {
		work = append(work, Span{from, s.To})
	}
	return work
}

// clone copies the shift with its breaks.
func (s Shift) clone() Shift {
	s.Breaks = slices.Clone(s.Breaks)
	return s
}
