package solver

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// An Action is a measure taken at one place on one day; see plant.Action.
type Action = plant.Action

// A vow is something a plan promises that repairs are to save, or are to make
// possible: a visit on a day or on some day, or a delivery by a day.
type vow struct {
	visit string
	day   calendar.Date // of the visit; calendar.None: any
	truck string        // of the delivery, when visit is ""
	by    calendar.Date // day of the delivery; calendar.None: any, damages are at their cap
	due   calendar.Date // day from which damages are paid, if they are; else calendar.None
}

// vows lists what the plan in force of before promises, as far as it can still be
// kept in after: confirmed visits on the day that the plan gives them, other visits on
// some day, and deliveries that cost no more damages and miss no deadline anew. Where the
// plan pays damages up to the cap, they are vowed without a day: they cannot grow.
func vows(before, after *plant.Plant) (list []vow) {
	for _, r := range before.Plan.Visits {
		v := after.FindVisit(r.Visit)
		if v == nil || !v.Planned() || r.Day == calendar.None {
			continue
		}
		w := vow{visit: v.ID, truck: v.Truck, day: calendar.None}
		if v.Booking.State == plant.Confirmed {
			w.day = r.Day
		}
		list = append(list, w)
	}
	for _, d := range Deliveries(before, before.Plan) {
		t := after.FindTruck(d.Truck)
		if t == nil || d.Day == calendar.None {
			continue
		}
		c, w := t.Contract, vow{truck: t.ID, by: calendar.None, due: calendar.None}
		if c.DamagesPerDay > 0 && (c.DamagesCap == 0 || d.Damages < int64(c.DamagesCap)) {
			w.by = max(c.Due, d.Day)
			w.due = c.Due
		}
		if c.Deadline != calendar.None && !d.Missed && (w.by == calendar.None || c.Deadline < w.by) {
			w.by, w.due = c.Deadline, calendar.None
		}
		if w.by != calendar.None {
			list = append(list, w)
		}
		if most := int64(c.DamagesCap); most > 0 && d.Damages >= most {
			list = append(list, vow{truck: t.ID, by: calendar.None, due: c.Due})
		}
	}
	return list
}

// under turns vows into conditions, as they are when the actions have been taken:
// customers who were asked, or who fly later, or are delivered later, are promised
// less.
func under(p *plant.Plant, list []vow, actions []plant.Action) (conditions []Condition) {
	none := plant.Range{From: calendar.None, Through: calendar.None}
	for _, w := range list {
		if w.visit == "" && w.by == calendar.None {
			continue
		}
		c := Condition{Kind: plant.KeepVisit, Visit: w.visit, Day: w.day, Over: none}
		if w.visit == "" {
			c = Condition{Kind: plant.KeepDelivery, Truck: w.truck, Day: w.by, Over: none}
		}
		for i := range actions {
			switch a := &actions[i]; {
			case w.visit != "" && a.Visit == w.visit && a.Kind == plant.AskCustomer:
				c.Day = calendar.None
			case w.visit != "" && a.Visit == w.visit && a.Kind == plant.FlyLater:
				c.Day = a.From
			case w.visit == "" && a.Truck == w.truck && a.Kind == plant.PayDamages:
				c.Day = max(c.Day, w.later(p, a.Days))
			}
		}
		if w.visit != "" && c.Day == calendar.None {
			c.Kind = plant.HoldVisit
		}
		conditions = append(conditions, c)
	}
	return conditions
}

// later is the last day of delivery when damages are paid for so many days more; no
// deadline is missed for it.
func (w vow) later(p *plant.Plant, days int) calendar.Date {
	day := w.by.AddDays(days)
	if d := p.FindTruck(w.truck).Contract.Deadline; d != calendar.None && w.by <= d {
		day = min(day, d)
	}
	return day
}

// contractDamages is what the contract of a truck asks for a delivery on a day, in dollars.
func contractDamages(t *plant.Truck, day calendar.Date) int64 {
	n := int64(max(0, day-t.Contract.Due)) * int64(t.Contract.DamagesPerDay)
	if most := int64(t.Contract.DamagesCap); most > 0 {
		n = min(n, most)
	}
	return n
}

// loosened is what no plant with all actions of given and some of the others taken allows
// more than: whatever plan there is with a part of the others taken and the vows kept, its starts are a plan of
// the loosened plant within the loosened demands. It allows too much: crews that come
// on a Saturday without end, no greatest waits before and after the work of a
// department that has one, and visits of delegations that fly later on the old day as
// well as on the new ones.
//
// Why that holds: a Saturday, more heads, a bay or a shorter buffer leave every start
// that there was, with an end no later and a bay taken no earlier. So what was free
// stays free, and what followed still follows, but for heads on that Saturday, which
// are not asked for here, and for greatest waits. Of these, one in elapsed time counts
// from an end that a Saturday of the department before may bring forward, one in
// working time also over Saturdays of the department after: none of the two is asked
// for here, and all others are as they were.
//
// What is given is taken as it is. No visit flies later twice.
//
// The demands are returned as a function of the vows that are to be kept.
func loosened(p *plant.Plant, given, actions []plant.Action) (*plant.Plant, func([]vow) []demand) {
	here := append(slices.Clone(given), slices.DeleteFunc(slices.Clone(actions), func(a plant.Action) bool { return a.Kind == plant.FlyLater })...)
	out := p.With(here)
	var saturdays, flown []string // departments, visits
	for i := range actions {
		a := &actions[i]
		switch a.Kind {
		case plant.SaturdayShift:
			saturdays = append(saturdays, a.Department)
			for _, s := range p.Route {
				for _, n := range s.Crews {
					if c := out.FindCrew(n.Crew); c != nil && s.Department == a.Department {
						c.Days = append(slices.Clone(c.Days), plant.CrewChange{Range: plant.Range{From: a.From, Through: a.From + 1}, Size: 1 << 16})
					}
				}
			}
		case plant.FlyLater:
			flown = append(flown, a.Visit)
			v := out.FindVisit(a.Visit)
			v.Booking.State, v.Booking.TravelBought = plant.Tentative, false
			v.Windows = append(slices.Clone(v.Windows), p.With([]plant.Action{*a}).FindVisit(a.Visit).Windows...)
			out.Buffer.NoticeDays = 0
		}
	}
	if len(saturdays) > 0 {
		out.Route = slices.Clone(out.Route)
	}
	for i := range out.Route {
		if len(saturdays) == 0 {
			break
		}
		s := &out.Route[i]
		s.After = slices.Clone(s.After)
		for j := range s.After {
			x := &s.After[j]
			before := slices.Contains(saturdays, out.FindStage(x.Stage).Department)
			if before {
				x.MaxElapsedMinutes = 0
			}
			if before || slices.Contains(saturdays, s.Department) {
				x.MaxWorkMinutes = 0
			}
		}
	}
	days := map[string][]calendar.Date{} // to which a delegation may fly, by visit
	for i := range actions {
		if a := &actions[i]; a.Kind == plant.FlyLater {
			days[a.Visit] = append(days[a.Visit], a.From)
		}
	}
	var told []demand
	if len(flown) > 0 { // all others get their notice
		least := p.AsOf.Date().AddDays(p.Buffer.NoticeDays)
		for i := range out.Visits {
			v := &out.Visits[i]
			if !v.Planned() || slices.Contains(flown, v.ID) {
				continue
			}
			booked := v.Booking.State != plant.Requested
			for _, s := range p.Route {
				if s.Visit == v.Kind {
					told = append(told, demand{truck: v.Truck, stage: s.ID, may: func(m move) bool { return booked && m.day() == v.Booking.Day || m.day() >= least }})
				}
			}
		}
	}
	return out, func(list []vow) []demand {
		ds := demands(out, under(p, list, here))
		for j := range ds {
			if v := p.VisitOf(p.FindTruck(ds[j].truck), p.FindStage(ds[j].stage).Visit); v != nil && days[v.ID] != nil {
				may := ds[j].may
				ds[j].may = func(m move) bool { return may(m) || slices.Contains(days[v.ID], m.day()) }
			}
		}
		return append(ds, told...)
	}
}

// matter is what a measure is taken on: two actions of one matter differ in dates and
// numbers only.
func matter(a *plant.Action) string {
	return a.Kind + " " + cmp.Or(a.Department, a.Crew, a.BayKind, a.Visit, a.Truck)
}

// SayAction says an action for people, as what is done.
func SayAction(p *plant.Plant, a plant.Action) string {
	who := a.Customer
	if c := p.FindCustomer(a.Customer); c != nil {
		who = c.Name
	}
	switch a.Kind {
	case plant.SaturdayShift:
		name := a.Department
		if d := p.FindDepartment(a.Department); d != nil && d.Name != "" {
			name = d.Name
		}
		return fmt.Sprintf("%s works on %s", name, say(a.From))
	case plant.ExtraHeads:
		name := a.Crew
		if c := p.FindCrew(a.Crew); c != nil && c.Name != "" {
			name = c.Name
		}
		return fmt.Sprintf("%d more of %s %s", a.Heads, name, days(plant.Range{From: a.From, Through: a.Through}))
	case plant.HiredBay:
		return fmt.Sprintf("a hired bay for %s, %s", spaced(a.BayKind), days(plant.Range{From: a.From, Through: a.Through}))
	case plant.AskCustomer:
		return fmt.Sprintf("ask %s to move visit %s to %s", who, a.Visit, a.Truck)
	case plant.FlyLater:
		return fmt.Sprintf("fly the delegation of %s (visit %s to %s) %s later, to be here on %s", who, a.Visit, a.Truck, count(a.Days, "working day"), say(a.From))
	case plant.ShorterBuffer:
		return fmt.Sprintf("%s between the last certificate of %s and its visit, if the %s approves", atLeast(a.WorkDays), a.Truck, lower(a.Approver))
	case plant.PayDamages:
		return fmt.Sprintf("deliver %s up to %s later than promised, and pay the damages", a.Truck, count(a.Days, "day"))
	}
	return a.Kind
}

func atLeast(workDays int) string {
	if workDays == 0 {
		return "no full working day"
	}
	return "only " + count(workDays, "working day")
}

func spaced(word string) string { return strings.ReplaceAll(word, "_", " ") }

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
