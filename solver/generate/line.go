package generate

import (
	"math/rand/v2"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Stations of the line, in order: the pump before the truck first moves under its
// own power, the body before the water tank; body and final assembly are split by
// work content (common practice, no source).
var stations = []struct {
	id, name string
	lanes    bool
	feeder   string // what the station waits for, "" for nothing
}{
	{"chassis", "Chassis", false, "chassis"},
	{"pump", "Pump and plumbing", false, "pump"},
	{"body", "Body", true, "body"},
	{"tank", "Water tank", false, ""},
	{"paint", "Paint", false, ""},
	{"cab", "Cab", false, "painted cab"},
	{"wiring", "Wiring", false, ""},
	{"final", "Final assembly", true, ""},
}

// Longest takts, in minutes: with few trucks a station stands idle between them.
const (
	longestTakt     = 300
	longestLaneTakt = 960
)

// addLine makes the stations, fast enough for so many trucks a week.
func addLine(p *plant.Plant, jobs []*job, week float64) {
	count := map[string]int{}
	for _, j := range jobs {
		count[j.truck.Content]++
	}
	perTruck := 2400 / week // working minutes of the line
	takt := func(share float64, longest int) int {
		return max(15, min(longest, int(perTruck*share)/15*15))
	}
	lane := func(content string) int {
		return takt(0.9*float64(len(jobs))/float64(max(1, count[content])), longestLaneTakt)
	}
	all := plant.Takt{LightMinutes: takt(0.8, longestTakt), MediumMinutes: takt(0.88, longestTakt), HeavyMinutes: takt(0.95, longestTakt)}
	lanes := plant.Takt{LightMinutes: lane(plant.Light), MediumMinutes: lane(plant.Medium), HeavyMinutes: lane(plant.Heavy)}
	lanes.LightMinutes = min(lanes.LightMinutes, lanes.HeavyMinutes/2)
	lanes.MediumMinutes = min(lanes.MediumMinutes, lanes.HeavyMinutes)
	p.Line = plant.Line{Calendar: "plant"}
	for _, s := range stations {
		k := plant.Station{ID: s.id, Name: s.name, Takt: all, Lanes: s.lanes}
		if s.lanes {
			k.Takt = lanes
		}
		p.Line.Stations = append(p.Line.Stations, k)
	}
}

// runLine sends the orders down the line, evenly spaced, from long before now,
// and leaves each where it stands now: off the line, at a station, or to come. It
// returns them in the order in which they come off.
func runLine(p *plant.Plant, o Options, jobs []*job, week float64) []*job {
	addLine(p, jobs, week)
	past := *p
	past.AsOf = p.Horizon.From.At(6 * 60)
	past.Trucks = nil
	days := workDays(p, p.Horizon.From, len(jobs), week)
	for i, j := range jobs {
		t := j.truck
		t.ID = trackID(i)
		t.Line.Enters = days[i]
		past.Trucks = append(past.Trucks, t)
	}
	run, err := past.Project()
	if err != nil {
		panic(err) // stations, takts and calendar are those of this package
	}
	for i, j := range jobs {
		j.truck.Line = stand(p, run, trackID(i))
	}
	now := *p
	now.Trucks = nil
	r := o.random(streamLine)
	for i, j := range jobs {
		addFeeders(r, p, j, run, trackID(i))
		t := j.truck
		t.ID = trackID(i)
		now.Trucks = append(now.Trucks, t)
	}
	// People's words on line-off need the line's own first.
	said, err := now.Project()
	if err != nil {
		panic(err)
	}
	for i, j := range jobs {
		if j.truck.Line.Off == calendar.None && chance(r, 6) {
			j.truck.Line.Overrides = overrides(r, said.LineOff(trackID(i)))
			now.Trucks[i].Line.Overrides = j.truck.Line.Overrides
		}
	}
	if said, err = now.Project(); err != nil {
		panic(err)
	}
	for i, j := range jobs {
		j.off = said.LineOff(trackID(i))
		station := "body"
		stay, ok := said.Stay(trackID(i), station)
		if !ok {
			stay, _ = run.Stay(trackID(i), station)
		}
		j.stay = stay
	}
	addFreeSlots(p, r, week, past.Trucks[len(jobs)-1].Line.Enters)
	list := slices.Clone(jobs)
	slices.SortStableFunc(list, func(a, b *job) int { return int(a.off - b.off) })
	return list
}

// trackID names the i-th order while it has no number yet, in order.
func trackID(i int) string {
	return string([]byte{byte('a' + i/17576%26), byte('a' + i/676%26), byte('a' + i/26%26), byte('a' + i%26)})
}

// workDays returns the days on which n orders enter the line, evenly spaced over
// its working days.
func workDays(p *plant.Plant, from calendar.Date, n int, week float64) []calendar.Date {
	g, err := p.Grid(from, from+calendar.Date(float64(n)/week*7*1.3)+120)
	if err != nil {
		panic(err)
	}
	h, err := p.Hours(p.Line.Calendar, g)
	if err != nil {
		panic(err)
	}
	days := make([]calendar.Date, n)
	d, _ := h.NextWorkDay(from)
	for i, k := 0, 0; i < n; i++ {
		for want := int(float64(i) * 5 / week); k < want; k++ {
			if next, ok := h.NextWorkDay(d); ok {
				d = next
			}
		}
		days[i] = d
	}
	return days
}

// stand tells where a truck of the run stands at the start of today's work: at
// the last station it entered before today.
func stand(p *plant.Plant, run *plant.Projection, id string) plant.Place {
	place := plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None}
	today := asOf.Date()
	if off := run.LineOff(id); off < today {
		place.Off = off
		return place
	}
	for _, s := range p.Line.Stations {
		if stay, ok := run.Stay(id, s.ID); ok && stay.From < today {
			place.Station, place.Since = s.ID, stay.From
		}
	}
	if place.Station == "" {
		stay, _ := run.Stay(id, p.Line.Stations[0].ID)
		place.Enters = max(stay.From, today)
	}
	return place
}

// addFeeders names what the stations ahead of the truck wait for: most of it
// there in time, a few things late.
func addFeeders(r *rand.Rand, p *plant.Plant, j *job, run *plant.Projection, id string) {
	if j.truck.Line.Off != calendar.None {
		return
	}
	for _, s := range stations {
		stay, ok := run.Stay(id, s.id)
		if !ok || s.feeder == "" || stay.From <= asOf.Date() || s.feeder == "pump" && j.truck.FlowGPM == 0 {
			continue
		}
		if !chance(r, 40) {
			continue
		}
		days := -between(r, 2, 12)
		if chance(r, 12) {
			days = between(r, 1, 4)
		}
		j.truck.Line.Feeders = append(j.truck.Line.Feeders, plant.Feeder{Name: s.feeder, Station: s.id, Expected: stay.From.AddDays(days)})
	}
}

// overrides are the words of people on a line-off day, oldest first.
func overrides(r *rand.Rand, off calendar.Date) []plant.Override {
	said := []plant.Override{{
		On: asOf.Date() - calendar.Date(between(r, 8, 20)), Off: off + calendar.Date(between(r, -2, 2)),
		By: "line lead", Reason: "first estimate", Cause: "estimate",
	}}
	if chance(r, 50) {
		said = append(said, plant.Override{
			On: asOf.Date() - calendar.Date(between(r, 1, 7)), Off: off + calendar.Date(between(r, 0, 4)),
			By: "production manager", Reason: "parts short at final assembly", Cause: "parts",
		})
	}
	return said
}

// addFreeSlots offers places on the line from the week after the last order enters
// it.
func addFreeSlots(p *plant.Plant, r *rand.Rand, week float64, last calendar.Date) {
	monday := last + 7 - calendar.Date((last.Weekday()+6)%7)
	for i := range 12 {
		for _, content := range []string{plant.Light, plant.Medium, plant.Heavy} {
			if n := between(r, 0, max(1, int(week/4))); n > 0 {
				p.Line.FreeSlots = append(p.Line.FreeSlots, plant.FreeSlot{Week: monday + calendar.Date(7*i), Content: content, Count: n})
			}
		}
	}
}
