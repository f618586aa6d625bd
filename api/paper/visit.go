package paper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Lines that are left blank on the sheet of a visit.
const findingLines = 10

// Visit prints the sheet of one visit: the truck and who comes to see it, when and
// where, what they want to do, which certificates must be there before, what to
// look out for, and blank lines for findings and signatures. A visit that does not
// exist is an error.
func Visit(p *plant.Plant, visit string) ([]byte, error) {
	v := p.FindVisit(visit)
	if v == nil {
		var names []string
		for i := range p.Visits {
			names = append(names, p.Visits[i].ID)
		}
		if near := plant.Nearest(visit, names); near != "" {
			return nil, refuse("there is no visit %q: did you mean %s?", visit, near)
		}
		return nil, refuse("there is no visit %q: name one of the plant's %d", visit, len(names))
	}
	data := struct {
		top
		Truck        truckLine
		Facts        []fact
		Wishes       []wishLine
		Certificates []certificate
		Ready        string
		Cautions     []caution
		Briefs       []plant.Hazard // other work on the truck
		Deferral     string
		Findings     []int
		Signatures   []string
	}{
		top:        topOf(p, "Visit sheet", v.Truck),
		Truck:      truckOf(p, v.Truck),
		Deferral:   plant.Deferral,
		Signatures: []string{"For the customer", "Host", "Quality"},
	}
	for n := range findingLines {
		data.Findings = append(data.Findings, n+1)
	}
	s := stageOf(p, v.Kind)
	var r *plant.Planned
	if s != nil {
		r = rowOf(p, v.Truck, s.ID)
	}
	times, err := timesOf(p, v, s, r)
	if err != nil {
		return nil, err
	}
	data.Facts = []fact{
		{"Visit", fmt.Sprintf("%s, %s", v.ID, spoken(v.Kind))},
		{"Booking", bookingOf(p, v)},
		{"People", count(v.Heads, "person", "people")},
	}
	if t := p.FindTruck(v.Truck); t != nil {
		features := slices.Clone(t.Features())
		for i := range features {
			features[i] = fit(spoken(features[i]))
		}
		pump := ""
		if t.FlowGPM > 0 {
			pump = fmt.Sprintf("; pump rated at %d gpm", t.FlowGPM)
		}
		data.Facts = append(data.Facts, fact{"Has", strings.Join(features, ", ") + pump}, fact{"Contract delivery", onDay(t.Contract.Due)})
		if s != nil {
			data.Certificates, data.Ready = readiness(p, t, s, r)
		}
	}
	data.Facts = append(data.Facts, times...)
	if s != nil {
		data.Wishes = wishesOf(p, v, s, calendar.None)
		data.Cautions, data.Briefs = cautionsOf(p, v, s)
		if len(s.Crews) > 0 {
			data.Facts = append(data.Facts, fact{"Hosts", crews(p, s.Crews)})
		}
	}
	if o := outcomeOf(p, v.ID); data.Note == "" && v.Planned() && (o == nil || o.Outcome == plant.Broken) {
		data.Note = "By this plan the visit is held on no day. Ask the coordinator before anybody travels."
	} else if data.Note == "" && o != nil && o.Outcome == plant.Moved {
		data.Note = fmt.Sprintf("By this plan the visit moves from %s to %s. Ask the coordinator whether the customer knows.", onDay(v.Booking.Day), onDay(o.Day))
	} else if data.Note == "" && !v.Planned() {
		data.Note = "This visit is " + spoken(v.Booking.State) + "."
	}
	return print("visit", data)
}

// A fact is a line of what is known.
type fact struct{ Name, Value string }

// timesOf says when and where a visit takes place, a line a day.
func timesOf(p *plant.Plant, v *plant.Visit, s *plant.Stage, r *plant.Planned) (list []fact, err error) {
	if r == nil {
		return nil, nil
	}
	if r.Bay != "" {
		list = append(list, fact{"Position", bayName(p, r.Bay) + ", in place from " + atTime(r.Hold)})
	} else if st := p.FindStation(s.Station); st != nil {
		list = append(list, fact{"Position", "on the line: " + named(st.Name, st.ID)})
	}
	first, last := r.Start.Date(), lastDay(r.End)
	g, err := p.Grid(first, last)
	if err != nil {
		return nil, fmt.Errorf("the sheet of visit %s: %w", v.ID, err)
	}
	h, err := p.DepartmentHours(s.Department, g)
	if err != nil {
		return nil, fmt.Errorf("the sheet of visit %s: %w", v.ID, err)
	}
	for day := first; day <= last; day++ {
		if from, to, ok := on(h, r, day); ok {
			list = append(list, fact{onDay(day), from.String() + "–" + to.String()})
		}
	}
	return list, nil
}

func bookingOf(p *plant.Plant, v *plant.Visit) string {
	b := stateOf(p, v)
	if v.Booking.Day != calendar.None {
		b += " for " + onDay(v.Booking.Day)
	}
	if v.Booking.HoldUntil != calendar.None {
		b += ", held until " + onDay(v.Booking.HoldUntil)
	}
	if v.Booking.TravelBought {
		b += ", travel bought"
	}
	return b
}

// A certificate must be there before the visit.
type certificate struct {
	Name, When, Bay string
	Done            bool
	at              calendar.Moment
}

// readiness lists the certificates that come before a visit in the route, in order
// of time, and says what the buffer asks of the last.
func readiness(p *plant.Plant, t *plant.Truck, visit *plant.Stage, r *plant.Planned) (list []certificate, ready string) {
	before := map[string]bool{}
	var walk func(s *plant.Stage)
	walk = func(s *plant.Stage) {
		for _, a := range s.After {
			if next := p.FindStage(a.Stage); next != nil && !before[a.Stage] {
				before[a.Stage] = true
				walk(next)
			}
		}
	}
	walk(visit)
	last := calendar.NoMoment
	open := false
	for i := range p.Route {
		s := &p.Route[i]
		if !s.Certifies || !before[s.ID] || !p.Applies(t, s) {
			continue
		}
		c := certificate{Name: named(s.Name, s.ID), When: "not in the plan", at: 1 << 60}
		if row := rowOf(p, t.ID, s.ID); row != nil {
			c.When, c.at = "due "+atTime(row.End), row.End
			if row.Bay != "" {
				c.Bay = bayName(p, row.Bay)
			}
		} else if d := slices.IndexFunc(t.Done, func(d plant.Done) bool { return d.Stage == s.ID }); d >= 0 {
			c.When, c.at, c.Done = "done "+atTime(t.Done[d].Ended), t.Done[d].Ended, true
		}
		open = open || c.at == 1<<60
		last = max(last, c.at)
		list = append(list, c)
	}
	slices.SortStableFunc(list, func(a, b certificate) int { return cmp.Compare(a.at, b.at) })
	if len(list) == 0 || visit.Visit != plant.FinalInspection {
		return list, ""
	}
	n := p.ReadyWorkDays(t)
	ready = fmt.Sprintf("Between the last certificate and the visit the plant keeps %s.", count(n, "full working day", "full working days"))
	if t.Ready.Approver != "" {
		ready += " Approved for this truck by: " + fit(t.Ready.Approver) + "."
	}
	if r != nil && !open && last != calendar.NoMoment {
		ready += fmt.Sprintf(" Last certificate: %s. Visit: %s.", onDay(lastDay(last)), onDay(r.Start.Date()))
	}
	return list, ready
}

// A caution as it stands on the sheet, without the deferral, which ends them all.
type caution struct{ Title, Text string }

// cautionsOf lists the cautions for the visit and what is done in it, each once;
// and for the other work on the truck what matters most.
func cautionsOf(p *plant.Plant, v *plant.Visit, s *plant.Stage) (list []caution, briefs []plant.Hazard) {
	inside, others := &plant.Plan{}, &plant.Plan{}
	if p.Plan != nil {
		for _, r := range p.Plan.Stages {
			if r.Truck != v.Truck {
				continue
			}
			if r.Stage == s.ID || strings.HasPrefix(r.Stage, s.ID+".") {
				inside.Stages = append(inside.Stages, r)
			} else {
				others.Stages = append(others.Stages, r)
			}
		}
	}
	if len(inside.Stages) == 0 {
		inside.Stages = []plant.Planned{{Truck: v.Truck, Stage: s.ID}}
		for _, w := range v.Wishes {
			inside.Stages = append(inside.Stages, plant.Planned{Truck: v.Truck, Stage: s.ID + "." + w})
		}
	}
	here := p.Hazards(inside)
	var ids []string
	for _, c := range plant.Cautions() {
		if slices.ContainsFunc(here, func(h plant.Hazard) bool {
			return slices.ContainsFunc(h.Cautions, func(o plant.Caution) bool { return o.ID == c.ID })
		}) {
			list = append(list, caution{c.Title, strings.TrimSuffix(c.Text, " "+plant.Deferral)})
			ids = append(ids, c.ID)
		}
	}
	for _, h := range p.Hazards(others) {
		if slices.ContainsFunc(h.Cautions, func(c plant.Caution) bool { return !slices.Contains(ids, c.ID) }) {
			briefs = append(briefs, h)
		}
	}
	return list, briefs
}
