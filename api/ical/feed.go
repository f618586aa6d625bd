package ical

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Bay returns who stands in a bay when, by the plan in force, for people of the
// plant: one event for each stage and wish in it, from when the bay is taken to
// the end of the part of the day in which the work ends. Visits have the status of
// their booking as in Visit, those only requested are Tentative; all other work is
// Confirmed. Events are sorted by start.
func Bay(p *plant.Plant, bay string, c Contact) ([]Event, error) {
	b := p.FindBay(bay)
	if b == nil {
		return nil, fmt.Errorf("there is no bay %.80q in plant %s: name one of its bays", bay, p.Name)
	}
	if p.Plan == nil {
		return nil, noPlan(p)
	}
	var list []Event
	for _, r := range p.Plan.Stages {
		if r.Bay != bay {
			continue
		}
		e, err := c.event(p, "stage", r.Truck, r.Stage)
		if err != nil {
			return nil, err
		}
		if e.End, err = leaves(p, r); err != nil {
			return nil, err
		}
		e.Status, e.Start = Confirmed, r.Hold
		if v := visitIn(p, r); v != nil {
			s, err := lookUp(p, v)
			if err != nil {
				return nil, err
			}
			e.Status = s.status()
		}
		work := stageName(p, r)
		e.Summary = r.Truck + ": " + work
		e.Location = joined(position(p, bay), p.Name)
		t := &page{}
		t.say("%s of truck %s for %s.", work, r.Truck, owner(p, r.Truck))
		t.say("Work: %s.", span(r.Start, r.End))
		(&stay{row: r}).cautions(p, t)
		e.Description = t.String()
		list = append(list, e)
	}
	return sorted(list), nil
}

// leaves returns when a row gives its bay up: the end of the part of the day in
// which its last minute lies.
func leaves(p *plant.Plant, r plant.Planned) (calendar.Moment, error) {
	last := r.End - 1
	g, err := p.Grid(last.Date(), last.Date())
	if err != nil {
		return 0, err
	}
	slot, _ := g.At(last)
	return g.End(slot), nil
}

// Crew returns the visits in which a crew is needed, such as that of the hosts, by
// the plan in force, for people of the plant: who comes, what the crew is needed
// for, what the delegation wants to do. Visits only requested are Tentative.
// Events are sorted by start.
func Crew(p *plant.Plant, crew string, c Contact) ([]Event, error) {
	k := p.FindCrew(crew)
	if k == nil {
		return nil, fmt.Errorf("there is no crew %.80q in plant %s: name one of its crews", crew, p.Name)
	}
	if p.Plan == nil {
		return nil, noPlan(p)
	}
	var list []Event
	for i := range p.Visits {
		v := &p.Visits[i]
		s, err := lookUp(p, v)
		if err != nil {
			return nil, err
		}
		if s.off() {
			continue
		}
		needs := s.needs(p, crew)
		if len(needs) == 0 {
			continue
		}
		e, err := c.event(p, "crew", crew, v.ID)
		if err != nil {
			return nil, err
		}
		e.Status, e.Start, e.End = s.status(), s.row.Start, s.row.End
		e.Summary = fmt.Sprintf("%s of truck %s: %s, %s", capital(spoken(v.Kind)), v.Truck, owner(p, v.Truck), people(v.Heads))
		e.Location = joined(position(p, s.row.Bay), p.Name)
		t := &page{}
		t.say("%s: %s from %s.", capital(spoken(v.Kind)), people(v.Heads), owner(p, v.Truck))
		t.say("%s.", capital(span(s.row.Start, s.row.End)))
		if s.row.Hold < s.row.Start {
			t.say("The truck is lined up from %s %v.", onDay(s.row.Hold.Date()), s.row.Hold.Clock())
		}
		t.gap()
		t.say("%s needed:", capital(cmp.Or(k.Name, spoken(k.ID))))
		for _, n := range needs {
			t.say("- %s", n)
		}
		if len(s.wishes) > 0 {
			t.gap()
			t.say("The delegation wants:")
			for _, r := range s.wishes {
				t.say("- %s: %s, at %s", wishName(p, r), span(r.Start, r.End), position(p, r.Bay))
			}
		}
		s.cautions(p, t)
		e.Description = t.String()
		list = append(list, e)
	}
	return sorted(list), nil
}

// needs says for what and when the visit needs the crew, in words.
func (s *stay) needs(p *plant.Plant, crew string) (list []string) {
	add := func(what string, r plant.Planned, needs []plant.Need) {
		for _, n := range needs {
			if n.Crew == crew && n.Heads > 0 {
				list = append(list, fmt.Sprintf("%s for %s: %s", heads(n.Heads), what, span(r.Start, r.End)))
			}
		}
	}
	add("the visit", s.row, s.stage.Crews)
	for _, r := range s.wishes {
		_, id, _ := strings.Cut(r.Stage, ".")
		if w := p.FindWish(id); w != nil {
			add(wishName(p, r), r, w.Crews)
		}
	}
	return list
}

// Customer returns the visits to the trucks of one customer that are booked and
// take place by the plan in force, as Visit says them, and nothing of anybody
// else. Visits only requested are left out: nobody has been promised their day.
// Events are sorted by start.
func Customer(p *plant.Plant, customer string, c Contact) ([]Event, error) {
	if p.FindCustomer(customer) == nil {
		return nil, fmt.Errorf("there is no customer %.80q of plant %s: name one of its customers", customer, p.Name)
	}
	if p.Plan == nil {
		return nil, noPlan(p)
	}
	var list []Event
	for i := range p.Visits {
		v := &p.Visits[i]
		t := p.FindTruck(v.Truck)
		if t == nil || t.Customer != customer || !v.Planned() || v.Booking.State == plant.Requested {
			continue
		}
		e, err := Visit(p, v, c)
		if err != nil {
			return nil, err
		}
		if e.Status != Cancelled {
			list = append(list, e)
		}
	}
	return sorted(list), nil
}

// sorted orders events by start, then by UID.
func sorted(list []Event) []Event {
	slices.SortFunc(list, func(a, b Event) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), strings.Compare(a.UID, b.UID))
	})
	return list
}

// visitIn returns the visit that a row, or the visit around a wish, is; nil for
// other work.
func visitIn(p *plant.Plant, r plant.Planned) *plant.Visit {
	id, _, _ := strings.Cut(r.Stage, ".")
	s, t := p.FindStage(id), p.FindTruck(r.Truck)
	if s == nil || t == nil || s.Visit == "" {
		return nil
	}
	return p.VisitOf(t, s.Visit)
}

// stageName is what people call the work of a row.
func stageName(p *plant.Plant, r plant.Planned) string {
	id, _, inside := strings.Cut(r.Stage, ".")
	name := capital(spoken(id))
	if s := p.FindStage(id); s != nil {
		name = cmp.Or(s.Name, name)
	}
	if inside {
		name += ", " + wishName(p, r)
	}
	return name
}

// owner is the name of a truck's customer.
func owner(p *plant.Plant, truck string) string {
	if t := p.FindTruck(truck); t != nil {
		if c := p.FindCustomer(t.Customer); c != nil {
			return cmp.Or(c.Name, c.ID)
		}
	}
	return "a customer that the plant does not name"
}
