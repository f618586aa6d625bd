package plant

import (
	"fmt"
	"reflect"
	"slices"

	"wetdown/calendar"
)

// Actions lists what the price list makes possible in the plant as it is: every
// measure at every place and on every day where it could be taken, in the order of
// the list, then of places and days. Plan in force or promises play no part in it.
//
//   - saturday_shift: each Saturday on which the department does not work anyway. A
//     department whose visits may run over a weekend is left out: a Saturday would cut
//     them short.
//   - extra_heads: from each day on which the crew works, for so many days.
//   - hired_bay: from the first day on, then every seven days.
//   - ask_customer: each confirmed visit for which no travel is bought.
//   - fly_later: each frozen visit, by one working day of the plant, two, ... as far as
//     the measure goes. A visit under way is left out.
//   - shorter_buffer: each truck with a final inspection to come and a longer buffer.
//   - pay_damages: each truck whose contract has damages, by one day, two, ...
func (p *Plant) Actions() ([]Action, error) {
	g, err := p.Grid(p.AsOf.Date()-7, p.Horizon.Through+60)
	if err != nil {
		return nil, err
	}
	o := &offering{p: p, g: g}
	for i := range p.Measures {
		o.m = &p.Measures[i]
		o.from = p.AsOf.Date().AddDays(o.m.LeadDays)
		o.through = min(p.Horizon.Through, p.AsOf.Date().AddDays(7*o.m.Weeks))
		switch o.m.Kind {
		case SaturdayShift:
			err = o.saturdays()
		case ExtraHeads:
			err = o.heads()
		case HiredBay:
			o.bays()
		case AskCustomer, FlyLater:
			err = o.visits()
		case ShorterBuffer, PayDamages:
			o.trucks()
		}
		if err != nil {
			return nil, err
		}
	}
	return o.list, nil
}

// An offering works out where and when one measure can be taken.
type offering struct {
	p             *Plant
	g             *calendar.Grid
	m             *Measure
	from, through calendar.Date
	list          []Action
}

func (o *offering) add(a Action, days, heads int) {
	a.Measure, a.Kind = o.m.ID, o.m.Kind
	a.Dollars = int64(o.m.Dollars) + int64(o.m.PerDay)*int64(days) + int64(o.m.PerHead)*int64(heads)
	o.list = append(o.list, a)
}

func (o *offering) saturdays() error {
	for i := range o.p.Departments {
		d := &o.p.Departments[i]
		if o.m.Department != "" && d.ID != o.m.Department || !o.p.worksOn(d.ID) || o.p.visitsOverWeekend(d.ID) {
			continue
		}
		h, err := o.p.Hours(d.Calendar, o.g)
		if err != nil {
			return err
		}
		for day := o.from; day <= o.through; day++ {
			if day.Weekday() != 6 || h.WorksDay(day) {
				continue
			}
			shifts := o.m.Shifts
			if len(shifts) == 0 {
				shifts = lastShift(o.p.FindCalendar(d.Calendar).Rules.Week, day)
			}
			if len(shifts) == 0 {
				continue
			}
			a := Action{Department: d.ID, From: day, Through: day, Shifts: shifts}
			if o.p.With([]Action{a.of(SaturdayShift)}).sound() {
				o.add(a, 1, 0)
			}
		}
	}
	return nil
}

func (a Action) of(kind string) Action { a.Kind = kind; return a }

// lastShift is the first shift of the last working day of the week before a Saturday.
func lastShift(w calendar.Week, saturday calendar.Date) []calendar.Shift {
	for day := saturday - 1; day > saturday-6; day-- {
		if list := w[day.Weekday()]; len(list) > 0 {
			return list[:1]
		}
	}
	return nil
}

// sound reports whether every calendar can be compiled.
func (p *Plant) sound() bool {
	return !slices.ContainsFunc(p.Calendars, func(c Calendar) bool { return len(c.Rules.Check()) > 0 })
}

// worksOn reports whether a stage of the department works by the hour or drives.
func (p *Plant) worksOn(department string) bool {
	return slices.ContainsFunc(p.Route, func(s Stage) bool { return s.Department == department && s.Length != LengthVisit })
}

// visitsOverWeekend reports whether a visit to the department may run over a weekend.
func (p *Plant) visitsOverWeekend(department string) bool {
	return slices.ContainsFunc(p.Route, func(s Stage) bool {
		return s.Department == department && s.Length == LengthVisit && slices.Contains(s.Crosses, CrossWeekend)
	})
}

func (o *offering) heads() error {
	for i := range o.p.Crews {
		c := &o.p.Crews[i]
		if o.m.Crew != "" && c.ID != o.m.Crew || o.m.Crew == "" && !o.p.drives(c.ID) {
			continue
		}
		h, err := o.p.Hours(c.Calendar, o.g)
		if err != nil {
			return err
		}
		for day := o.from; day <= o.through; day++ {
			if h.WorksDay(day) {
				o.add(Action{Crew: c.ID, From: day, Through: day.AddDays(o.m.Days - 1), Heads: o.m.Heads}, o.m.Days, o.m.Heads)
			}
		}
	}
	return nil
}

// drives reports whether the crew drives trucks to their customers.
func (p *Plant) drives(crew string) bool {
	return slices.ContainsFunc(p.Route, func(s Stage) bool {
		return s.Length == LengthDrive && slices.ContainsFunc(s.Crews, func(n Need) bool { return n.Crew == crew })
	})
}

func (o *offering) bays() {
	used := slices.ContainsFunc(o.p.Route, func(s Stage) bool { return s.Bay == o.m.BayKind }) ||
		slices.ContainsFunc(o.p.Wishes, func(w Wish) bool { return w.Bay == o.m.BayKind })
	for day := o.from; used && day <= o.through; day += 7 {
		o.add(Action{BayKind: o.m.BayKind, From: day, Through: day.AddDays(o.m.Days - 1)}, o.m.Days, 0)
	}
}

func (o *offering) visits() error {
	for i := range o.p.Visits {
		v := &o.p.Visits[i]
		t := o.p.FindTruck(v.Truck)
		if t == nil || v.Booking.State != Confirmed || o.m.Customer != "" && t.Customer != o.m.Customer {
			continue
		}
		at := slices.IndexFunc(o.p.Route, func(s Stage) bool { return s.Visit == v.Kind })
		if at < 0 || t.running(o.p.Route[at].ID) != nil {
			continue
		}
		frozen := o.p.Frozen(v)
		a := Action{Truck: t.ID, Visit: v.ID, Customer: t.Customer, Heads: v.Heads}
		if o.m.Kind == AskCustomer {
			if !frozen {
				o.add(a, 0, v.Heads)
			}
			continue
		}
		if !frozen {
			continue
		}
		h, err := o.p.DepartmentHours(o.p.Route[at].Department, o.g)
		if err != nil {
			return err
		}
		day := v.Booking.Day
		for a.Days = 1; a.Days <= o.m.Days; a.Days++ {
			var ok bool
			if day, ok = h.NextWorkDay(day); !ok || day > o.p.Horizon.Through {
				break
			}
			a.From = day
			o.add(a, a.Days, v.Heads)
		}
	}
	return nil
}

func (o *offering) trucks() {
	for i := range o.p.Trucks {
		t := &o.p.Trucks[i]
		if o.m.Kind == PayDamages {
			for n := 1; n <= o.m.Days && t.Contract.DamagesPerDay > 0; n++ {
				o.add(Action{Truck: t.ID, Customer: t.Customer, Days: n}, 0, 0)
			}
		} else if o.p.VisitOf(t, FinalInspection) != nil && o.p.ReadyWorkDays(t) > o.m.WorkDays {
			o.add(Action{Truck: t.ID, Customer: t.Customer, Approver: o.m.Approver, WorkDays: o.m.WorkDays}, 0, 0)
		}
	}
}

// With returns the plant in which the actions have been taken, and leaves p as it is.
// Asking a customer and paying damages change nothing in the plant: they lift a
// promise.
//
//   - saturday_shift: the department, and each crew that its stages need, works these
//     shifts on that day, by a calendar of its own.
//   - extra_heads: the crew has more heads on these days.
//   - hired_bay: one more bay, of any length, height and flow, closed on all other days.
//   - fly_later: the visit is booked, still with travel bought, for the new day, which
//     the customer's windows then contain. Of several for one visit the last counts.
//   - shorter_buffer: approved for the truck.
func (p *Plant) With(actions []Action) *Plant {
	out := p.clone()
	out.Calendars = slices.Clone(p.Calendars)
	out.Departments = slices.Clone(p.Departments)
	for i := range actions {
		out.take(&actions[i])
	}
	return out
}

func (p *Plant) take(a *Action) {
	switch a.Kind {
	case SaturdayShift:
		d := p.FindDepartment(a.Department)
		d.Calendar = p.overtime(d.Calendar, d.ID, a)
		for _, crew := range p.crewsOf(d.ID) {
			c := p.FindCrew(crew)
			if len(p.FindCalendar(c.Calendar).Rules.Week[6]) > 0 {
				continue // it comes on Saturdays anyway
			}
			c.Calendar = p.overtime(c.Calendar, c.ID, a)
		}
	case ExtraHeads:
		p.FindCrew(a.Crew).away(-a.Heads, Range{From: a.From, Through: a.Through, Reason: "extra heads"})
	case HiredBay:
		p.hire(a)
	case FlyLater:
		v := p.FindVisit(a.Visit)
		length := v.Booking.Day
		if g := slices.IndexFunc(p.Route, func(s Stage) bool { return s.Visit == v.Kind }); g >= 0 {
			later := *v
			later.Booking.Day = a.From
			if last, err := p.lastDay(&later, &p.Route[g]); err == nil {
				length = last
			}
		}
		v.Booking.Day, v.Booking.TravelBought = a.From, true
		v.Windows = append(slices.Clone(v.Windows), Range{From: a.From, Through: max(a.From, length), Reason: "flies later"})
	case ShorterBuffer:
		p.FindTruck(a.Truck).Ready = Ready{WorkDays: a.WorkDays, Approver: a.Approver}
	}
}

// overtime returns a calendar of its owner's own that has the shifts on that day too.
func (p *Plant) overtime(calendarID, owner string, a *Action) string {
	own := owner + " overtime"
	if calendarID != own {
		c := *p.FindCalendar(calendarID)
		c.ID = own
		c.Rules.Overtime = slices.Clone(c.Rules.Overtime)
		p.Calendars = append(p.Calendars, c)
	}
	r := &p.FindCalendar(own).Rules
	for i := range r.Overtime {
		if o := &r.Overtime[i]; o.Day == a.From { // another department has called it in
			if !reflect.DeepEqual(o.Shifts, a.Shifts) {
				o.Shifts = covering(append(slices.Clone(o.Shifts), a.Shifts...))
			}
			return own
		}
	}
	r.Overtime = append(r.Overtime, calendar.Overtime{Day: a.From, Shifts: a.Shifts, Note: "Saturday shift"})
	return own
}

// covering is one shift, without breaks, from the first begin to the last end.
func covering(list []calendar.Shift) []calendar.Shift {
	all := list[0].Span
	for _, s := range list {
		all.From, all.To = min(all.From, s.From), max(all.To, s.To)
	}
	return []calendar.Shift{{Span: all}}
}

// crewsOf lists the crews that the stages of a department need.
func (p *Plant) crewsOf(department string) (list []string) {
	for i := range p.Route {
		for _, n := range p.Route[i].Crews {
			if p.Route[i].Department == department && p.FindCrew(n.Crew) != nil && !slices.Contains(list, n.Crew) {
				list = append(list, n.Crew)
			}
		}
	}
	return list
}

func (p *Plant) hire(a *Action) {
	id := ""
	for n := 1; id == "" || p.FindBay(id) != nil; n++ {
		id = fmt.Sprintf("hired-%s-%d", a.BayKind, n)
	}
	b := Bay{ID: id, Name: "Hired bay", Kinds: []string{a.BayKind}}
	first := min(p.Horizon.From, p.AsOf.Date())
	if first < a.From {
		b.Closures = append(b.Closures, Range{From: first, Through: a.From - 1, Reason: "not hired yet"})
	}
	if a.Through < p.Horizon.Through {
		b.Closures = append(b.Closures, Range{From: a.Through + 1, Through: p.Horizon.Through, Reason: "not hired any more"})
	}
	p.Bays = append(p.Bays, b)
}
