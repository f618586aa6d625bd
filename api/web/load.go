package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type loadsData struct {
	Weeks []calendar.Date // their Mondays
	Bays  []load
	Crews []load
}

// A load is how much of a family of bays, or of a crew, the plan takes week by week.
type load struct {
	Name, Of string
	Weeks    []weekLoad
}

// weekLoad counts parts of the day: of bays, or of heads.
type weekLoad struct{ Used, All int }

// Percent of what there is.
func (l weekLoad) Percent() int {
	if l.All == 0 {
		return 0
	}
	return (200*l.Used + l.All) / (2 * l.All)
}

// Bar is the width of the bar, of 60.
func (l weekLoad) Bar() int { return min(60, 60*l.Percent()/100) }

// Word is what to think of it.
func (l weekLoad) Word() string {
	switch n := l.Percent(); {
	case l.All == 0:
		return "closed"
	case n >= 100:
		return "full"
	case n >= 85:
		return "tight"
	}
	return ""
}

const weeksShown = 8

func (w *Web) loads(v *view) error {
	d, err := loadsOf(v.State.Plant)
	if err != nil {
		return err
	}
	v.Title, v.Place, v.Data = "Loads of bays and crews", "loads", d
	v.show(http.StatusOK, "loads")
	return nil
}

// loadsOf counts what the plan takes in the weeks to come, of what there is.
func loadsOf(p *plant.Plant) (*loadsData, error) {
	from := p.AsOf.Date()
	from -= (calendar.Date(from.Weekday()) + 6) % 7 // its Monday
	g, err := p.Grid(from, from+7*weeksShown-1)
	if err != nil {
		return nil, err
	}
	d := &loadsData{}
	for i := range weeksShown {
		d.Weeks = append(d.Weeks, from+calendar.Date(7*i))
	}
	hours := map[string]*calendar.Hours{}
	of := func(id string) (*calendar.Hours, error) {
		if hours[id] == nil {
			h, err := p.Hours(id, g)
			if err != nil {
				return nil, err
			}
			hours[id] = h
		}
		return hours[id], nil
	}
	week := func(s calendar.Slot) int { return int(g.Date(s)-from) / 7 }
	now, ok := g.At(p.AsOf)
	if !ok {
		now = 0
	}
	house, err := of(p.Calendar)
	if err != nil {
		return nil, err
	}
	family := map[string]int{}
	for i := range p.Bays {
		b := &p.Bays[i]
		name := strings.Join(slices.Sorted(slices.Values(b.Kinds)), ", ")
		at, ok := family[name]
		if !ok {
			at = len(d.Bays)
			family[name] = at
			d.Bays = append(d.Bays, load{Name: plainWord(name), Weeks: make([]weekLoad, weeksShown)})
		}
		d.Bays[at].Of = strings.TrimPrefix(d.Bays[at].Of+", "+cmp.Or(b.Name, b.ID), ", ")
		for s := now; s < g.Slots(); s++ {
			if house.Work(s) > 0 && !slices.ContainsFunc(b.Closures, func(c plant.Range) bool { return c.Contains(g.Date(s)) }) {
				d.Bays[at].Weeks[week(s)].All++
			}
		}
	}
	crew := map[string]int{}
	for i := range p.Crews {
		c := &p.Crews[i]
		h, err := of(c.Calendar)
		if err != nil {
			return nil, err
		}
		l := load{Name: cmp.Or(c.Name, c.ID), Of: count(c.Size, "head"), Weeks: make([]weekLoad, weeksShown)}
		for s := now; s < g.Slots(); s++ {
			if h.Work(s) > 0 {
				l.Weeks[week(s)].All += c.SizeOn(g.Date(s))
			}
		}
		crew[c.ID] = len(d.Crews)
		d.Crews = append(d.Crews, l)
	}
	if p.Plan == nil {
		return d, nil
	}
	for i := range p.Plan.Stages {
		r := &p.Plan.Stages[i]
		stage, wish, _ := strings.Cut(r.Stage, ".")
		x := p.FindStage(stage)
		if x == nil {
			continue
		}
		department, needs := x.Department, x.Crews
		if k := p.FindWish(wish); k != nil {
			department, needs = k.Department, k.Crews
		}
		first, last := max(r.Hold, g.Begin(now)), min(r.End, g.Through().At(0)+24*60)-1
		if last < first {
			continue
		}
		one, ok1 := g.At(first)
		end, ok2 := g.At(last)
		if !ok1 || !ok2 {
			continue
		}
		if b := p.FindBay(r.Bay); b != nil {
			at := family[strings.Join(slices.Sorted(slices.Values(b.Kinds)), ", ")]
			for s := one; s <= end; s++ {
				if house.Work(s) > 0 && !slices.ContainsFunc(b.Closures, func(c plant.Range) bool { return c.Contains(g.Date(s)) }) {
					d.Bays[at].Weeks[week(s)].Used++
				}
			}
		}
		dep := p.FindDepartment(department)
		if dep == nil {
			continue
		}
		h, err := of(dep.Calendar)
		if err != nil {
			return nil, err
		}
		for _, n := range needs {
			at, ok := crew[n.Crew]
			if !ok {
				continue
			}
			for s := one; s <= end; s++ {
				if h.Work(s) > 0 && g.End(s) > r.Start {
					d.Crews[at].Weeks[week(s)].Used += n.Heads
				}
			}
		}
	}
	return d, nil
}

type lateData struct {
	List    []lateTruck
	Leaf    leaf
	Damages int64
	Missed  int
	Trucks  int // that are still to be delivered
}

type lateTruck struct {
	solver.Delivery
	PerDay, Cap int
	Share       int // of the longest delay, of 100
}

// late lists the trucks that the plan delivers after their contracts.
func (w *Web) late(v *view) error {
	d := lateData{}
	p := v.State.Plant
	plan := p.Plan
	if plan == nil {
		plan = &plant.Plan{}
	}
	most := 1
	for _, x := range solver.Deliveries(p, plan) {
		d.Trucks++
		if x.Late == 0 && x.Day != calendar.None && !x.Missed {
			continue
		}
		t := p.FindTruck(x.Truck)
		d.List = append(d.List, lateTruck{Delivery: x, PerDay: t.Contract.DamagesPerDay, Cap: t.Contract.DamagesCap})
		d.Damages += x.Damages
		most = max(most, x.Late)
		if x.Missed {
			d.Missed++
		}
	}
	for i := range d.List {
		d.List[i].Share = 100 * d.List[i].Late / most
	}
	slices.SortStableFunc(d.List, func(x, y lateTruck) int {
		return cmp.Or(cmp.Compare(y.Damages, x.Damages), cmp.Compare(y.Late, x.Late))
	})
	v.Title, v.Place = "Late by the plan", "late"
	if n := len(d.List); n > 0 {
		v.Title += ": " + strconv.Itoa(n)
	}
	d.List, d.Leaf = leafOf(v, d.List)
	v.Data = d
	v.show(http.StatusOK, "late")
	return nil
}
