package generate

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A job is one truck on its way through the plant.
type job struct {
	entry  int    // place in the order in which the trucks enter the line
	hall   string // the feature of its hall, "" where there is only one
	truck  plant.Truck
	visits []plant.Visit // their days are given by the run, then by booking
	off    calendar.Date
	stay   plant.Range // at the station of the pre-paint visit
	later  int         // days by which the final inspection is booked later than the run found
	fits   map[string]fit
	busy   []fit // those that hold a bay
}

// visit returns the visit of a kind, or nil.
func (j *job) visit(kind string) *plant.Visit {
	for i := range j.visits {
		if j.visits[i].Kind == kind {
			return &j.visits[i]
		}
	}
	return nil
}

// applies reports whether the stage is part of the job.
func (j *job) applies(s *plant.Stage) bool {
	return j.truck.Has(s.Needs) && (s.Visit == "" || j.visit(s.Visit) != nil)
}

// A share is a value with its weight in a draw.
type share[T any] struct {
	weight int
	value  T
}

// pick draws one of the values by weight.
func pick[T any](r *rand.Rand, list ...share[T]) T {
	sum := 0
	for _, s := range list {
		sum += s.weight
	}
	n := r.IntN(sum)
	for _, s := range list {
		if n -= s.weight; n < 0 {
			return s.value
		}
	}
	panic("unreachable: the weights were summed above")
}

// chance is true in so many of a hundred cases.
func chance(r *rand.Rand, percent int) bool { return r.IntN(100) < percent }

// between draws a whole number, both ends in it.
func between(r *rand.Rand, least, most int) int { return least + r.IntN(most-least+1) }

// A build describes one kind of truck.
type build struct {
	kind            string
	light, medium   int // percent of work contents; the rest is heavy
	flows           []int
	noPump          int // percent without a pump
	shortFt, longFt int
	lowIn, highIn   int // height in inches
	generator, air  int // percent
}

var builds = []share[build]{
	{46, build{"pumper", 22, 62, []int{1250, 1500, 1500, 1750, 2000}, 0, 29, 34, 112, 128, 50, 8}},
	{18, build{"aerial", 0, 25, []int{1500, 2000, 2250}, 15, 38, 47, 130, 146, 75, 12}},
	{13, build{"tanker", 30, 55, []int{750, 1000, 1250}, 0, 27, 36, 112, 126, 25, 0}},
	{13, build{"rescue", 10, 45, []int{1000, 1250}, 65, 30, 38, 118, 132, 90, 45}},
	{10, build{"brush", 90, 10, []int{750}, 30, 20, 24, 96, 108, 15, 0}},
}

// draw invents n orders, and the customers that buy them.
func draw(p *plant.Plant, o Options, n int) []*job {
	r := o.random(streamOrders)
	addCustomers(p, r, max(1, n*3/5))
	jobs := make([]*job, n)
	for i := range jobs {
		j := &job{entry: i, truck: drawTruck(r, p)}
		if halls := hallNames(o.Halls); len(halls) > 0 { // in turn, so that each gets as many
			j.hall = halls[i%len(halls)]
			j.truck.Options = append(j.truck.Options, j.hall)
		}
		j.visits = drawVisits(r, p.FindCustomer(j.truck.Customer), &j.truck)
		jobs[i] = j
	}
	return jobs
}

func addCustomers(p *plant.Plant, r *rand.Rand, n int) {
	for i, town := range towns(r, n) {
		c := plant.Customer{
			ID:       fmt.Sprintf("C%03d", i+1),
			Name:     fmt.Sprintf(departmentForms[r.IntN(len(departmentForms))], town),
			Town:     town,
			Calendar: pick(r, share[string]{80, "public"}, share[string]{12, "public_ca"}, share[string]{8, ""}),
			Miles:    pick(r, share[int]{30, between(r, 40, 400)}, share[int]{55, between(r, 401, 1200)}, share[int]{15, between(r, 1201, 2400)}),
		}
		p.Customers = append(p.Customers, c)
	}
}

func drawTruck(r *rand.Rand, p *plant.Plant) plant.Truck {
	b := pick(r, builds...)
	t := plant.Truck{
		Reserved: plant.Reserved{Until: calendar.None},
		Customer: p.Customers[r.IntN(len(p.Customers))].ID,
		Kind:     b.kind,
		Content: pick(r, share[string]{b.light, plant.Light}, share[string]{b.medium, plant.Medium},
			share[string]{100 - b.light - b.medium, plant.Heavy}),
		LengthFt: float64(between(r, 2*b.shortFt, 2*b.longFt)) / 2,
		HeightFt: float64(between(r, b.lowIn, b.highIn)/3) / 4,
		Graphics: pick(r, share[string]{25, "stripes"}, share[string]{40, "lettering"}, share[string]{20, "custom"}, share[string]{15, "gold_leaf"}),
		Line:     plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None},
	}
	if !chance(r, b.noPump) {
		t.FlowGPM = b.flows[r.IntN(len(b.flows))]
	}
	if t.FlowGPM > 0 && chance(r, 35) {
		t.Options = append(t.Options, "foam")
	}
	if chance(r, b.generator) {
		t.Options = append(t.Options, "generator")
	}
	if chance(r, b.air) {
		t.Options = append(t.Options, "breathing_air")
	}
	if chance(r, 15) {
		t.Options = append(t.Options, "touch_up")
	}
	return t
}

// drawVisits invents the visits of one order: two or three people as advised,
// more now and then; a final inspection of one or two days, two or three for an
// aerial (lengths: common practice, no source).
func drawVisits(r *rand.Rand, c *plant.Customer, t *plant.Truck) []plant.Visit {
	travel := 1
	if c.Miles < 250 {
		travel = 0
	}
	visit := func(kind string, heads, halves int) plant.Visit {
		v := plant.Visit{Kind: kind, Heads: heads, Halves: halves, TravelDays: travel,
			Booking: plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}}
		if chance(r, 35) {
			v.Weekdays = pick(r, share[[]calendar.Weekday]{1, []calendar.Weekday{1, 2}},
				share[[]calendar.Weekday]{2, []calendar.Weekday{2, 3}}, share[[]calendar.Weekday]{1, []calendar.Weekday{3, 4}})
		}
		return v
	}
	var list []plant.Visit
	if chance(r, 30) {
		list = append(list, visit(plant.PrePaint, between(r, 2, 3), pick(r, share[int]{80, 1}, share[int]{20, 2})))
	}
	if chance(r, 15) {
		list = append(list, visit(plant.GraphicsLayout, between(r, 1, 2), 1))
	}
	if chance(r, 93) {
		halves := pick(r, share[int]{45, 2}, share[int]{15, 3}, share[int]{40, 4})
		if t.Kind == "aerial" {
			halves = pick(r, share[int]{75, 4}, share[int]{25, 6})
		}
		heads := pick(r, share[int]{25, 2}, share[int]{45, 3}, share[int]{18, 4}, share[int]{8, 5}, share[int]{4, between(r, 6, 9)})
		v := visit(plant.FinalInspection, heads, halves)
		if chance(r, 45) {
			v.Wishes = append(v.Wishes, "drive")
		}
		if t.FlowGPM > 0 && chance(r, 35) {
			v.Wishes = append(v.Wishes, "pump")
		}
		list = append(list, v)
	}
	if chance(r, 6) {
		list = append(list, visit(plant.ReInspection, between(r, 1, 2), 1))
	}
	return list
}

// number sorts the orders as they entered the line, gives them and their visits
// the numbers by which the file knows them, and leaves the plant the customers who
// buy them.
func number(p *plant.Plant, jobs []*job) {
	slices.SortFunc(jobs, func(a, b *job) int { return a.entry - b.entry })
	buys := map[string]bool{}
	for i, j := range jobs {
		j.truck.ID = fmt.Sprintf("H%0*d", max(4, len(fmt.Sprint(1000+len(jobs)))), 1001+i)
		for k := range j.visits {
			v := &j.visits[k]
			v.Truck = j.truck.ID
			v.ID = j.truck.ID + "-" + strings.ToUpper(v.Kind[:1])
		}
		buys[j.truck.Customer] = true
	}
	var left []plant.Customer
	for _, c := range p.Customers {
		if buys[c.ID] {
			left = append(left, c)
		}
	}
	p.Customers = left
}
