package plant

import "wetdown/calendar"

// SizeOn returns the heads of the crew on a day: those of the change that covers
// it, the last in the list when several do, else Size. Whether the crew works at
// all on the day is its calendar's business.
func (c *Crew) SizeOn(d calendar.Date) int {
	for i := len(c.Days) - 1; i >= 0; i-- {
		if c.Days[i].Contains(d) {
			return c.Days[i].Size
		}
	}
	return c.Size
}

// away takes heads away on a run of days. Changes that are there already are cut
// where the run covers them, so that no two changes share a day.
func (c *Crew) away(heads int, over Range) {
	size := func(d calendar.Date) int { return max(0, c.SizeOn(d)-heads) }
	var fresh []CrewChange
	for d := over.From; d <= over.Through; d++ {
		if n := len(fresh); n > 0 && fresh[n-1].Size == size(d) {
			fresh[n-1].Through = d
			continue
		}
		fresh = append(fresh, CrewChange{Range{From: d, Through: d, Reason: over.Reason}, size(d)})
	}
	var kept []CrewChange
	for _, k := range c.Days {
		if before := k; before.From < over.From {
			before.Through = min(before.Through, over.From-1)
			kept = append(kept, before)
		}
		if after := k; after.Through > over.Through {
			after.From = max(after.From, over.Through+1)
			kept = append(kept, after)
		}
	}
	c.Days = append(kept, fresh...)
}
