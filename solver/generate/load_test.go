package generate

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// busy returns how much of the time that a tight means offers in the busy weeks
// the trucks that come off the line in them will take: from the file alone, its
// line, route, calendars, closures and heads, not from what the generator planned.
func busy(t *testing.T, p *plant.Plant, m *means) float64 {
	t.Helper()
	line, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	from, through := asOf.Date(), lastOff(t, p) // a few late feeders are no busy weeks
	grid, err := p.Grid(from, through)
	if err != nil {
		t.Fatal(err)
	}
	hours, err := p.Hours(m.cal, grid)
	if err != nil {
		t.Fatal(err)
	}
	offered := 0
	for s := range grid.Slots() {
		if hours.Work(s) == 0 {
			continue
		}
		d := grid.Date(s)
		if m.isCrew {
			offered += p.FindCrew(m.id).SizeOn(d)
			continue
		}
		for _, b := range p.Bays {
			if slices.Contains(b.Kinds, m.kinds[0]) && (m.hall == "" || slices.Contains(b.Needs, m.hall)) && !slices.ContainsFunc(b.Closures, func(r plant.Range) bool { return r.Contains(d) }) {
				offered++
			}
		}
	}
	taken := 0
	for i := range p.Trucks {
		tr := &p.Trucks[i]
		if m.hall != "" && !slices.Contains(tr.Options, m.hall) {
			continue
		}
		if off := line.LineOff(tr.ID); off < from || off > through {
			continue
		}
		for k := range p.Route {
			s := &p.Route[k]
			v := p.VisitOf(tr, s.Visit)
			if !p.Applies(tr, s) {
				continue
			}
			halves := 0
			if v != nil {
				halves = v.Halves
				for _, id := range v.Wishes {
					taken += m.use(p.FindWish(id).Bay, p.FindWish(id).Crews, 1, 1)
				}
			}
			held, worked := heldParts(p, tr, s, halves)
			taken += m.use(s.Bay, s.Crews, held, worked)
		}
	}
	return float64(taken) / float64(offered)
}

// The bottlenecks are as busy as asked for: on average within 7 points, none of
// them more than 12 points off (bays are whole, and the orders of the busy weeks
// are not the average of all).
func TestLoad(t *testing.T) {
	for _, load := range []float64{0.8, 0.9, 1.0} {
		for seed := range uint64(4) {
			p := Generate(Options{Trucks: 300, Seed: seed, Load: load})
			sum, n, text := 0.0, 0, ""
			for _, m := range houseMeans() {
				if !m.tight {
					continue
				}
				b := busy(t, p, &m)
				text += fmt.Sprintf(" %s %.2f", m.id, b)
				if math.Abs(b-load) > 0.12 {
					t.Errorf("load %.2f, seed %d: %s is busy %.2f", load, seed, m.id, b)
				}
				sum += b
				n++
			}
			t.Logf("load %.2f, seed %d:%s", load, seed, text)
			if math.Abs(sum/float64(n)-load) > 0.07 {
				t.Errorf("load %.2f, seed %d: the bottlenecks are busy %.3f on average", load, seed, sum/float64(n))
			}
		}
	}
}

// So are those of every hall, and the people that all of them share. A hall has fewer
// bays than a plant of all its trucks, and three bottlenecks in place of five: single ones
// are up to 15 points off, and a hall on average up to 10.
func TestLoad_Halls(t *testing.T) {
	for seed := range uint64(3) {
		p := Generate(Options{Trucks: 600, Halls: 3, Seed: seed, Load: 0.9})
		sums, n, text := map[string]float64{}, map[string]float64{}, ""
		for _, m := range inHalls(houseMeans(), hallNames(3)) {
			if !m.tight {
				continue
			}
			b := busy(t, p, &m)
			text += fmt.Sprintf(" %s %s %.2f", m.hall, m.id, b)
			if math.Abs(b-0.9) > 0.15 {
				t.Errorf("seed %d: %s %s is busy %.2f", seed, m.hall, m.id, b)
			}
			sums[m.hall] += b
			n[m.hall]++
		}
		t.Logf("seed %d:%s", seed, text)
		for _, hall := range append(hallNames(3), "") {
			if b := sums[hall] / n[hall]; math.Abs(b-0.9) > 0.10 {
				t.Errorf("seed %d, %q: the bottlenecks are busy %.3f on average", seed, hall, b)
			}
		}
	}
}

// run makes a plant and the run behind it, without the noise of the bookings.
func run(o Options) (*plant.Plant, *shop, []*job) {
	p, w, jobs := start(o)
	number(p, jobs)
	return p, w, jobs
}

// The parts that are counted for a stage are those that the run held: its bay in
// working parts of its department, and for visits on the floor the line-up too.
func TestHeldPartsIsWhatTheRunHolds(t *testing.T) {
	p, w, jobs := run(Options{Trucks: 80, Seed: 2, Load: 0.9})
	looked := 0
	for _, j := range jobs {
		for id, f := range j.fits {
			halves := 0
			if v := j.visit(f.stage.Visit); v != nil {
				halves = v.Halves
			}
			want, _ := heldParts(p, &j.truck, f.stage, halves)
			got := 0
			h := w.dept[f.stage.Department]
			for s := f.from; s <= f.last; s++ {
				if h.Work(s) > 0 {
					got++
				}
			}
			looked++
			short := f.stage.Length == plant.LengthDrive || f.stage.HoldBefore > 0 // rounded up to days
			if got != want && !(short && got == want-1) {
				t.Errorf("%s of %s holds %d parts, counted %d", id, j.truck.ID, got, want)
			}
		}
	}
	if looked < 1000 {
		t.Errorf("looked at %d stages only", looked)
	}
}

// The judge, who knows nothing of this package, finds the run right: every rule
// but those on what the run leaves out (customers' days, bookings, wishes).
func TestRunObeysTheRules(t *testing.T) {
	p, w, jobs := run(Options{Trucks: 120, Seed: 4, Load: 0.95, LinedUp: true})
	w.state(jobs, Options{Seed: 4}.random(streamState))
	plan := &plant.Plan{Plant: p.Name}
	for _, j := range jobs {
		j.truck.Overruns = nil // these came after the run
		for i := range j.visits {
			v := &j.visits[i]
			v.Wishes = nil
			v.Windows = []plant.Range{p.Horizon}
		}
		for i := range j.truck.Running {
			j.truck.Running[i].RemainingMinutes = -1
		}
		for i := range p.Route {
			f, ok := j.fits[p.Route[i].ID]
			if !ok || f.end <= asOf {
				continue
			}
			hold := f.begin
			if f.from < f.start {
				hold = w.dept[f.stage.Department].First(f.from)
			}
			plan.Stages = append(plan.Stages, plant.Planned{Truck: j.truck.ID, Stage: f.stage.ID, Hold: hold, Start: f.begin, End: f.end, Bay: f.bayID})
			if v := j.visit(f.stage.Visit); v != nil {
				plan.Visits = append(plan.Visits, plant.PlannedVisit{Visit: v.ID, Outcome: plant.Placed, Day: f.begin.Date(), Bay: f.bayID})
			}
		}
		j.truck.Contract.Deadline = calendar.None
		p.Trucks = append(p.Trucks, j.truck)
		p.Visits = append(p.Visits, j.visits...)
	}
	if len(plan.Stages) < 1000 {
		t.Fatalf("only %d stages to judge", len(plan.Stages))
	}
	leftOut := []string{"customer", "notice"}
	for _, v := range check.Plan(p, plan).Broken {
		if !slices.Contains(leftOut, v.Rule) {
			t.Errorf("%s: %s", v.Rule, v.Sentence)
		}
	}
}

// The file's own projection says what the run worked with, but for a few trucks
// that take the room of orders left out.
func TestProjectionIsThatOfTheRun(t *testing.T) {
	o := Options{Trucks: 200, Seed: 6, Load: 0.9}
	p, _, jobs := run(o)
	deliver(p, jobs)
	line, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	off := 0
	for _, j := range jobs {
		if line.LineOff(j.truck.ID) != j.off {
			off++
		}
	}
	if off > len(jobs)*3/100 {
		t.Errorf("%d of %d trucks come off the line on another day than in the run", off, len(jobs))
	}
}
