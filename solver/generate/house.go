package generate

import (
	"fmt"
	"math"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A means is a family of bays or a crew, as it is counted.
type means struct {
	id     string // of the crew, or of the bays
	hall   string // whose trucks alone the bays take, "" for all
	name   string // of the crew, or of each bay, numbered
	kinds  []string
	cal    string
	tight  bool    // one of the bottlenecks that are as busy as asked for
	parts  float64 // parts of the day that an order holds it for, on average
	units  int     // bays, or heads
	spare  float64 // units more than the load asks for
	isCrew bool
}

// houseMeans lists what is counted. The last kind of a family that serves two is
// the rarer one.
func houseMeans() []means {
	return []means{
		{id: "scale", name: "Scale", kinds: []string{"scale"}, cal: "test"},
		{id: "road", name: "Road slot", kinds: []string{"test_drive"}, cal: "test"},
		{id: "electric", name: "Electrical bay", kinds: []string{"electrical", "air_test"}, cal: "test"},
		{id: "pump", name: "Pump bay", kinds: []string{"pump_test"}, cal: "test", tight: true},
		{id: "pad", name: "Aerial pad", kinds: []string{"aerial_pad"}, cal: "test"},
		{id: "paint", name: "Touch-up booth", kinds: []string{"paint"}, cal: "plant"},
		{id: "quality", name: "Quality bay", kinds: []string{"release_check", "correction"}, cal: "plant"},
		{id: "graphic", name: "Graphics bay", kinds: []string{"graphics"}, cal: "graphics", tight: true},
		{id: "ready", name: "Make-ready bay", kinds: []string{"make_ready"}, cal: "plant"},
		{id: "floor", name: "Floor position", kinds: []string{"floor"}, cal: "plant", tight: true},

		{id: "artists", name: "Graphics artists", cal: "graphics", tight: true, isCrew: true},
		{id: "clerks", name: "Order clerks", cal: "plant", isCrew: true},
		{id: "correctors", name: "Correction crew", cal: "plant", isCrew: true},
		{id: "detailers", name: "Detailers", cal: "plant", isCrew: true},
		{id: "drivers", name: "Delivery drivers", cal: "plant", isCrew: true},
		{id: "electricians", name: "Electricians", cal: "test", isCrew: true},
		{id: "gilders", name: "Gold-leaf artists", cal: "graphics", isCrew: true},
		{id: "hosts", name: "Hosts", cal: "plant", tight: true, isCrew: true},
		{id: "inspectors", name: "Inspectors", cal: "plant", isCrew: true},
		{id: "painters", name: "Painters", cal: "plant", isCrew: true},
		{id: "pump_operators", name: "Pump operators", cal: "test", isCrew: true},
		{id: "test_drivers", name: "Test drivers", cal: "test", isCrew: true},
		{id: "witnesses", name: "Third-party witnesses", cal: "test", isCrew: true},
	}
}

// looseLoad is the load, of that asked for, of what is no bottleneck.
const looseLoad = 0.75

// weekParts returns the parts of a day that a calendar works in a week.
func weekParts(cal string) float64 {
	if cal == "test" {
		return 8
	}
	return 10
}

// partMinutes returns the working minutes of a part of the day of a calendar.
func partMinutes(cal string) int {
	if cal == "test" {
		return 300
	}
	return 240
}

// heldParts returns the parts of the day for which a stage keeps its bay from
// anybody else, and those in which it works, for a truck whose visit of the
// stage's kind, if it is one, takes halves. Both are counted in working parts.
//
// A visit that begins in the morning and is lined up the afternoon before loses
// the morning before that, unless the visit before it ended at noon: its time on
// the floor is rounded up to whole days.
func heldParts(p *plant.Plant, t *plant.Truck, s *plant.Stage, halves int) (held, worked int) {
	switch s.Length {
	case plant.LengthVisit:
		held, worked = halves, halves
		if s.HoldBefore > 0 {
			held = (halves + s.HoldBefore + 1) / 2 * 2
		}
	case plant.LengthDrive:
		held = 2 * p.DriveDays(t)
		worked = held
	default:
		m := partMinutes(departmentCalendars[s.Department])
		held = (p.StageMinutes(t, s) + m - 1) / m
		worked = held
	}
	return held, worked
}

// addHouse counts bays and crews for the orders and returns the trucks a week for
// which they fit best, near the pace that was asked for. Every hall has bays of its
// own; crews go where the work is.
//
// Holidays take more from the line than from people who are off on Fridays
// anyway: two parts in a hundred are added for it.
func addHouse(p *plant.Plant, jobs []*job, halls []string, week, load float64) float64 {
	load *= 1.02
	list := houseMeans()
	if len(halls) > 0 {
		list = inHalls(list, halls)
	}
	for i := range list {
		list[i].parts = demand(p, jobs, &list[i])
	}
	best, least := week, math.Inf(1)
	for percent := 80; percent <= 110; percent++ {
		w := week * float64(percent) / 100
		loss := 0.0
		for i := range list {
			if m := &list[i]; m.tight {
				gap := load - m.need(w)/float64(m.count(w, load))
				loss += gap * gap
			}
		}
		if loss < least {
			best, least = w, loss
		}
	}
	for i := range list {
		m := &list[i]
		if m.tight {
			m.units = m.count(best, load)
			m.spare = float64(m.units) - m.need(best)/load
		} else {
			m.units = m.count(best, load*looseLoad)
		}
		if m.isCrew {
			p.Crews = append(p.Crews, plant.Crew{ID: m.id, Name: m.name, Calendar: m.cal, Size: m.units, Days: m.away(p, i)})
		} else {
			p.Bays = append(p.Bays, m.bays(p, i)...)
		}
	}
	return best
}

// inHalls gives each hall the families of bays.
func inHalls(list []means, halls []string) (all []means) {
	for _, hall := range halls {
		for _, m := range list {
			if !m.isCrew {
				m.hall = hall
				all = append(all, m)
			}
		}
	}
	for _, m := range list {
		if m.isCrew {
			all = append(all, m)
		}
	}
	return all
}

// demand returns the parts for which an order holds the means, on average of all.
func demand(p *plant.Plant, jobs []*job, m *means) float64 {
	sum := 0
	for _, j := range jobs {
		if m.hall != "" && m.hall != j.hall {
			continue
		}
		for i := range p.Route {
			s := &p.Route[i]
			if !j.applies(s) {
				continue
			}
			halves := 0
			if v := j.visit(s.Visit); v != nil {
				halves = v.Halves
			}
			held, worked := heldParts(p, &j.truck, s, halves)
			sum += m.use(s.Bay, s.Crews, held, worked)
		}
		for _, v := range j.visits {
			for _, id := range v.Wishes {
				w := p.FindWish(id)
				sum += m.use(w.Bay, w.Crews, 1, 1)
			}
		}
	}
	return float64(sum) / float64(len(jobs))
}

// use returns the parts that work in a kind of bay with some crews takes of the
// means.
func (m *means) use(bay string, crews []plant.Need, held, worked int) int {
	sum := 0
	for _, k := range m.kinds {
		if k == bay {
			sum += held
		}
	}
	for _, n := range crews {
		if m.isCrew && n.Crew == m.id {
			sum += n.Heads * worked
		}
	}
	return sum
}

// need returns the units that so many trucks a week keep busy all the time.
func (m *means) need(week float64) float64 { return m.parts * week / weekParts(m.cal) }

// count returns the units for which the load is not passed by more than a hair.
func (m *means) count(week, load float64) int {
	return max(1, int(math.Ceil(m.need(week)/(load*1.02))))
}

// cycle is the working days after which closures and absences come again.
const cycle = 20

// idle returns the runs of days, five at the most in a cycle, on which one unit
// is not there, so that what is left is as busy as asked for. A means that has
// only one unit, or would miss it half the time, keeps it.
func (m *means) idle(p *plant.Plant, nth int) []plant.Range {
	days := int(math.Round(m.spare * cycle))
	if m.units < 2 || days < 1 || days > cycle/2 {
		return nil
	}
	var list []plant.Range
	first := p.Horizon.From + calendar.Date(nth*5%4*7)
	for monday := first; monday+calendar.Date(days*2) <= p.Horizon.Through; monday += cycle / 5 * 7 {
		for left := days; left > 0; left -= 5 {
			from := monday + calendar.Date((days-left)/5*7)
			list = append(list, plant.Range{From: from, Through: from + calendar.Date(min(left, 5)-1)})
		}
	}
	return list
}

// away returns the changes of a crew's size.
func (m *means) away(p *plant.Plant, nth int) []plant.CrewChange {
	var list []plant.CrewChange
	for _, r := range m.idle(p, nth) {
		r.Reason = "training"
		list = append(list, plant.CrewChange{Range: r, Size: m.units - 1})
	}
	return list
}

// bays returns the bays of a family. The first ones take less than the last:
// short positions, old pits that cannot serve a large pump [WFC-PIT].
func (m *means) bays(p *plant.Plant, nth int) []plant.Bay {
	list := make([]plant.Bay, m.units)
	for i := range list {
		b := plant.Bay{ID: fmt.Sprintf("%s-%d", m.id, i+1), Name: fmt.Sprintf("%s %d", m.name, i+1), Kinds: m.kinds}
		if m.hall != "" {
			b.ID, b.Name, b.Needs = m.hall+"-"+b.ID, fmt.Sprintf("%s, hall %s", b.Name, strings.TrimPrefix(m.hall, "hall_")), []string{m.hall}
		}
		short := 5*(i+1) <= 3*m.units // three in five
		switch m.id {
		case "pump":
			if short && m.units > 1 {
				b.MaxFlowGPM = 1750
			}
			if short && i == 0 && m.units > 2 {
				b.MaxFlowGPM = 1500
			}
		case "graphic", "ready", "floor", "quality":
			b.MaxHeightFt = 12.5
			if short {
				b.MaxLengthFt = 40
				b.MaxHeightFt = 11.5
			}
		}
		if i == m.units-1 {
			for _, r := range m.idle(p, nth) {
				r.Reason = "maintenance"
				b.Closures = append(b.Closures, r)
			}
		}
		list[i] = b
	}
	return list
}
