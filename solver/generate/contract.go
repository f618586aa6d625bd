package generate

import (
	"math/rand/v2"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// promise invents the contracts around the delivery that the run found: most with
// room, some tight, some past hope. Damages of 50 to 500 dollars a day with a cap
// are common practice, no source.
func promise(jobs []*job, r *rand.Rand) {
	for _, j := range jobs {
		c := plant.Contract{Deadline: calendar.None, Weight: pick(r, share[int]{70, 1}, share[int]{20, 2}, share[int]{10, 3})}
		found := j.off + 60
		if d := j.delivery(); d != nil {
			found = (d.end - 1).Date()
		}
		found += calendar.Date(j.later)
		room := pick(r, share[int]{60, between(r, 6, 20)}, share[int]{30, between(r, 0, 5)}, share[int]{10, -between(r, 1, 7)})
		c.Due = found.AddDays(room)
		if chance(r, 40) {
			c.DamagesPerDay = 50 * between(r, 1, 10)
			c.DamagesCap = 500 * between(r, 2, 60)
		}
		if chance(r, 6) {
			c.Deadline = c.Due.AddDays(between(r, 0, 20))
		}
		j.truck.Contract = c
	}
}

// deliver puts the jobs into the plant and closes the horizon: from before the
// oldest thing the file tells to twelve weeks after the last line-off, and six
// after the last delivery of the run.
func deliver(p *plant.Plant, jobs []*job) {
	last, first := asOf.Date(), asOf.Date()
	for _, j := range jobs {
		last = max(last, j.off+12*7)
		if d := j.delivery(); d != nil {
			last = max(last, d.end.Date()+6*7)
		}
		for _, d := range j.truck.Done {
			first = min(first, d.Ended.Date())
		}
		for _, s := range j.truck.Running {
			first = min(first, s.Started.Date())
		}
		p.Trucks = append(p.Trucks, j.truck)
		p.Visits = append(p.Visits, j.visits...)
	}
	p.Horizon = plant.Range{From: first - 7, Through: last}
	for i := range p.Calendars {
		c := &p.Calendars[i].Rules
		c.Closures = slices.DeleteFunc(slices.Clone(c.Closures), func(k calendar.Closure) bool { return k.Through < p.Horizon.From })
	}
	for i := range p.Bays {
		p.Bays[i].Closures = within(p.Bays[i].Closures, p.Horizon, func(r plant.Range) plant.Range { return r })
	}
	for i := range p.Crews {
		p.Crews[i].Days = within(p.Crews[i].Days, p.Horizon, func(c plant.CrewChange) plant.Range { return c.Range })
	}
}

// within leaves out what does not touch the horizon.
func within[T any](list []T, horizon plant.Range, of func(T) plant.Range) []T {
	var left []T
	for _, v := range list {
		if r := of(v); r.Through >= horizon.From && r.From <= horizon.Through {
			left = append(left, v)
		}
	}
	return left
}
