package check_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// pick returns an element of a list at random.
func pick[T any](rng *rand.Rand, list []T) *T { return &list[rng.IntN(len(list))] }

// someDays returns a run of one to three days in the horizon.
func someDays(rng *rand.Rand, p *plant.Plant) plant.Range {
	from := p.Horizon.From + calendar.Date(rng.IntN(int(p.Horizon.Through-p.Horizon.From)))
	return plant.Range{From: from, Through: from + calendar.Date(rng.IntN(3))}
}

// changes change one thing each about the plant.
var changes = []func(*rand.Rand, *plant.Plant){
	func(rng *rand.Rand, p *plant.Plant) { // calendars: another week
		week, _ := calendar.Pattern(*pick(rng, calendar.PatternNames()))
		pick(rng, p.Calendars).Rules.Week = week
	},
	func(rng *rand.Rand, p *plant.Plant) {
		days := someDays(rng, p)
		r := &pick(rng, p.Calendars).Rules
		r.Closures = []calendar.Closure{{From: days.From, Through: days.Through}}
	},
	func(rng *rand.Rand, p *plant.Plant) { // a Saturday shift, apart from any night before
		d := someDays(rng, p).From
		d += calendar.Date((6 - int(d.Weekday())) % 7)
		r := &pick(rng, p.Calendars).Rules
		r.Overtime = []calendar.Overtime{{Day: d, Shifts: []calendar.Shift{{Span: calendar.Span{From: 8 * 60, To: 12 * 60}}}}}
	},
	func(rng *rand.Rand, p *plant.Plant) { // stages
		s := pick(rng, p.Route)
		s.HoldBefore = rng.IntN(4)
	},
	func(rng *rand.Rand, p *plant.Plant) {
		s := pick(rng, p.Route)
		s.Crosses = nil
		for _, c := range []string{plant.CrossShift, plant.CrossWeekend, plant.CrossClosure} {
			if rng.IntN(2) == 0 {
				s.Crosses = append(s.Crosses, c)
			}
		}
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Route).StartIn = []string{pick(rng, p.Parts).ID} },
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Route).Certifies = rng.IntN(3) > 0 },
	func(rng *rand.Rand, p *plant.Plant) {
		s := pick(rng, p.Route)
		s.Hours.Light.LikelyMinutes, s.Hours.Medium.LikelyMinutes, s.Hours.Heavy.LikelyMinutes = 60+rng.IntN(900), 60+rng.IntN(900), 60+rng.IntN(900)
	},
	func(rng *rand.Rand, p *plant.Plant) {
		s := pick(rng, p.Route)
		if len(s.After) > 0 {
			a := pick(rng, s.After)
			switch wait := rng.IntN(5000); rng.IntN(4) {
			case 0:
				a.MinElapsedMinutes = wait
			case 1:
				a.MaxElapsedMinutes = wait
			case 2:
				a.MinWorkMinutes = wait / 4
			default:
				a.MaxWorkMinutes = wait / 4
			}
		}
	},
	func(rng *rand.Rand, p *plant.Plant) { // a link from an earlier stage
		i := 1 + rng.IntN(len(p.Route)-1)
		s := &p.Route[i]
		s.After = append(slices.Clone(s.After), plant.After{Stage: p.Route[rng.IntN(i)].ID})
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Route).Needs = []string{"pump"} },
	func(rng *rand.Rand, p *plant.Plant) { // bays
		b := pick(rng, p.Bays)
		b.Closures = append(b.Closures, someDays(rng, p))
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Bays).MaxLengthFt = float64(30 + rng.IntN(20)) },
	func(rng *rand.Rand, p *plant.Plant) { // crews
		c := pick(rng, p.Crews)
		c.Days = append(c.Days, plant.CrewChange{Range: someDays(rng, p), Size: rng.IntN(3)})
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Crews).Size = rng.IntN(3) },
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Crews).Calendar = pick(rng, p.Calendars).ID },
	func(rng *rand.Rand, p *plant.Plant) { // visits
		v := pick(rng, p.Visits)
		v.Halves = 1 + rng.IntN(4)
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Visits).Windows[0] = someDays(rng, p) },
	func(rng *rand.Rand, p *plant.Plant) {
		v := pick(rng, p.Visits)
		v.Blackouts = append(v.Blackouts, someDays(rng, p))
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Visits).TravelDays = rng.IntN(4) },
	func(rng *rand.Rand, p *plant.Plant) {
		v := pick(rng, p.Visits)
		v.Booking.State = *pick(rng, []string{plant.Requested, plant.Tentative, plant.Confirmed, plant.Held, plant.Cancelled, plant.NoShow})
		v.Booking.TravelBought = rng.IntN(2) == 0
	},
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Visits).Booking.Day = someDays(rng, p).From },
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Customers).Calendar = pick(rng, p.Calendars).ID },
	func(rng *rand.Rand, p *plant.Plant) { pick(rng, p.Customers).Miles = rng.IntN(2000) },
	func(rng *rand.Rand, p *plant.Plant) { // trucks
		t := pick(rng, p.Trucks)
		t.Line.Overrides = []plant.Override{{On: p.AsOf.Date(), Off: someDays(rng, p).From}}
	},
	func(rng *rand.Rand, p *plant.Plant) {
		t := pick(rng, p.Trucks)
		t.Overruns = append(t.Overruns, plant.Overrun{Stage: pick(rng, p.Route).ID, Minutes: rng.IntN(600) - 100})
	},
	func(rng *rand.Rand, p *plant.Plant) {
		t, s := pick(rng, p.Trucks), pick(rng, p.Route)
		if s.Visit == "" && !slices.ContainsFunc(t.Running, func(r plant.Running) bool { return r.Stage == s.ID }) {
			t.Done = append(t.Done, plant.Done{Stage: s.ID, Ended: p.AsOf - calendar.Moment(rng.IntN(3000))})
		}
	},
	func(rng *rand.Rand, p *plant.Plant) {
		if t := pick(rng, p.Trucks); len(t.Done) > 0 {
			t.Done = t.Done[1:]
		}
	},
	func(rng *rand.Rand, p *plant.Plant) {
		pick(rng, p.Trucks).Standing = plant.Standing{Stage: pick(rng, p.Route).ID, Bay: pick(rng, p.Bays).ID}
	},
	func(rng *rand.Rand, p *plant.Plant) { p.Trucks[0].Running[0].RemainingMinutes = rng.IntN(1500) - 1 },
	func(rng *rand.Rand, p *plant.Plant) { p.Buffer.ReadyWorkDays = rng.IntN(9) }, // the house
	func(rng *rand.Rand, p *plant.Plant) { p.Buffer.NoticeDays = rng.IntN(20) },
	func(rng *rand.Rand, p *plant.Plant) { p.Calendar = pick(rng, p.Calendars).ID },
	func(rng *rand.Rand, p *plant.Plant) { p.Horizon.Through -= calendar.Date(rng.IntN(20)) },
	func(rng *rand.Rand, p *plant.Plant) { p.AsOf += calendar.Moment(rng.IntN(2000)) },
	func(rng *rand.Rand, p *plant.Plant) { // three parts of the day
		p.Parts = append(slices.Clone(p.Parts[:2]), plant.Part{ID: "evening", From: 16 * 60})
	},
}

// TestPlants judges plans for plants that are changed in a few places. Rows are
// first put where the changed hours want them, so that more than the hours is
// asked. The judge and the oracle must name the same rules.
func TestPlants(t *testing.T) {
	steps := 300
	if testing.Short() {
		steps = 60
	}
	const seed = 101
	rng := rand.New(rand.NewPCG(seed, 0))
	compared, named := 0, map[string]int{}
	for step := range steps {
		p := right(t)
		for range 1 + rng.IntN(3) {
			changes[rng.IntN(len(changes))](rng, p)
		}
		if _, err := p.Project(); err != nil {
			continue
		}
		o := newOracle(t, p)
		m := &mutant{clone(p.Plan), o, o.jobs(), rng}
		m.Stages = slices.DeleteFunc(m.Stages, func(r plant.Planned) bool {
			j := m.jobs[r.Truck+" "+r.Stage]
			return j == nil || j.w != nil && !slices.ContainsFunc(m.Stages, func(v plant.Planned) bool { return v.Truck == r.Truck && v.Stage == j.s.ID })
		})
		if rng.IntN(4) > 0 {
			for i := range m.Stages {
				if r := &m.Stages[i]; m.jobs[r.Truck+" "+r.Stage].running == nil {
					m.put(r, o.part(r.Start))
				}
			}
		}
		m.declare()
		got := map[string]bool{}
		v := check.Plan(p, m.Plan)
		for _, b := range v.Broken {
			got[b.Rule] = true
			named[b.Rule]++
		}
		want, whole := o.judge(m.Plan)
		if whole {
			compared++
		}
		if whole && words(got) != words(want) || v.Right() != (len(got) == 0) {
			for _, b := range v.Broken {
				t.Log(b.Rule, b.Sentence)
			}
			t.Fatalf("seed %d, step %d: the judge says %s, right %v; the oracle says %s", seed, step, words(got), v.Right(), words(want))
		}
	}
	t.Logf("%d of %d plants compared; complaints: %v", compared, steps, named)
	if compared < steps/2 {
		t.Errorf("only %d plants of %d could be compared", compared, steps)
	}
	for _, rule := range []string{"crossing", "customer", "readiness", "started"} {
		if named[rule] == 0 && !testing.Short() {
			t.Errorf("no plant made its plan break the rule %s", rule)
		}
	}
}
