package paper

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A top is what stands at the top and the foot of every sheet.
type top struct {
	Title string // what the sheet is
	For   string // the day, truck or bay that it is for
	Plant string
	Plan  string // which plan it is read off
	Note  string // what the reader must know first, "" for nothing
	Wide  bool   // landscape
}

func topOf(p *plant.Plant, title, what string) top {
	t := top{Title: title, For: what, Plant: fit(p.Name), Note: "No plan is in force: plan first, then print this sheet again."}
	t.Plan = "As of " + atTime(p.AsOf)
	if p.Plan != nil {
		t.Plan = fmt.Sprintf("Plan %d, as of %s", p.Plan.Revision, atTime(p.AsOf))
		t.Note = ""
	}
	return t
}

func print(name string, data any) ([]byte, error) {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		return nil, fmt.Errorf("the sheet cannot be printed: %w", err)
	}
	return b.Bytes(), nil
}

// refuse is an error for people; it says what to do.
func refuse(format string, args ...any) error { return fmt.Errorf(format, args...) }

// onDay writes a day: Tue 30 Mar 2027.
func onDay(d calendar.Date) string {
	if d == calendar.None {
		return "no day"
	}
	y, _, _ := d.YMD()
	return fmt.Sprintf("%s %d", shortDay(d), y)
}

// shortDay writes a day without its year: Tue 30 Mar.
func shortDay(d calendar.Date) string {
	_, m, day := d.YMD()
	return fmt.Sprintf("%s %d %s", d.Weekday().String()[:3], day, m.String()[:3])
}

// inFull writes a day: Tuesday, 30 March 2027.
func inFull(d calendar.Date) string {
	y, m, day := d.YMD()
	return fmt.Sprintf("%v, %d %v %d", d.Weekday(), day, m, y)
}

// atTime writes a moment: Tue 30 Mar 2027, 07:00.
func atTime(m calendar.Moment) string {
	if m == calendar.NoMoment {
		return "no time"
	}
	return onDay(m.Date()) + ", " + m.Clock().String()
}

// lastDay is the day of the last minute before an end.
func lastDay(end calendar.Moment) calendar.Date { return (end - 1).Date() }

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// spoken writes a word of a plant file for people: final inspection.
func spoken(word string) string {
	if one, two, _ := strings.Cut(word, "_"); one == "pre" || one == "re" {
		return one + "-" + two
	}
	return strings.ReplaceAll(word, "_", " ")
}

// maxName is how many characters of a name a sheet has room for.
const maxName = 72

// fit shortens a name for which a sheet has no room.
func fit(name string) string {
	if r := []rune(name); len(r) > maxName {
		return string(r[:maxName-1]) + "…"
	}
	return name
}

// named is what something is called on a sheet.
func named(name, id string) string {
	if name == "" {
		return fit(spoken(id))
	}
	return fit(name)
}

func bayName(p *plant.Plant, id string) string {
	if b := p.FindBay(id); b != nil {
		return named(b.Name, b.ID)
	}
	return id
}

// crews writes who is needed: 1 of Hosts.
func crews(p *plant.Plant, needs []plant.Need) string {
	var list []string
	for _, n := range needs {
		name := n.Crew
		if c := p.FindCrew(n.Crew); c != nil {
			name = named(c.Name, c.ID)
		}
		list = append(list, fmt.Sprintf("%d of %s", n.Heads, name))
	}
	return strings.Join(list, ", ")
}

// A truckLine says which truck it is.
type truckLine struct {
	ID       string
	What     string // rescue, 37 ft long, 10.25 ft high
	Customer string
	Town     string
}

func truckOf(p *plant.Plant, id string) truckLine {
	t := p.FindTruck(id)
	if t == nil {
		return truckLine{ID: id}
	}
	l := truckLine{ID: id, What: fmt.Sprintf("%s, %v ft long, %v ft high", fit(spoken(t.Kind)), t.LengthFt, t.HeightFt), Customer: t.Customer}
	if c := p.FindCustomer(t.Customer); c != nil {
		l.Customer, l.Town = fit(c.Name), fit(c.Town)
	}
	return l
}

// rowOf returns the row of a stage, or of a wish in it, of a truck in the plan.
func rowOf(p *plant.Plant, truck, stage string) *plant.Planned {
	if p.Plan == nil {
		return nil
	}
	for i := range p.Plan.Stages {
		if r := &p.Plan.Stages[i]; r.Truck == truck && r.Stage == stage {
			return r
		}
	}
	return nil
}

// stageOf returns the stage that is a visit of a kind, or nil.
func stageOf(p *plant.Plant, kind string) *plant.Stage {
	i := slices.IndexFunc(p.Route, func(s plant.Stage) bool { return s.Visit == kind })
	if i < 0 {
		return nil
	}
	return &p.Route[i]
}

// outcomeOf returns what the plan makes of a visit, or nil.
func outcomeOf(p *plant.Plant, visit string) *plant.PlannedVisit {
	if p.Plan == nil {
		return nil
	}
	for i := range p.Plan.Visits {
		if v := &p.Plan.Visits[i]; v.Visit == visit {
			return v
		}
	}
	return nil
}

// on returns from when to when a row works on a day by the hours of its
// department; false if it does not.
func on(h *calendar.Hours, r *plant.Planned, day calendar.Date) (from, to calendar.Clock, ok bool) {
	if !h.Grid().Contains(day) {
		return 0, 0, false
	}
	begin, end := max(r.Start, day.At(0)), min(r.End, (day+1).At(0))
	for part := range h.Grid().Parts() {
		s := h.Grid().Slot(day, part)
		first, last := max(h.First(s), begin), min(h.Last(s), end)
		if h.Work(s) == 0 || first >= last {
			continue
		}
		if !ok {
			from, ok = first.Clock(), true
		}
		to = calendar.Clock(last - day.At(0))
	}
	return from, to, ok
}

// A wishLine is what a delegation wants to do inside its visit.
type wishLine struct {
	Name string
	When string // the day and time, or why there is none
	Bay  string
	With string // who is needed
}

// wishesOf lists the wishes of a visit as the plan has them, those on one day only
// if it is one.
func wishesOf(p *plant.Plant, v *plant.Visit, s *plant.Stage, day calendar.Date) (list []wishLine) {
	for _, id := range v.Wishes {
		w := p.FindWish(id)
		if w == nil {
			continue
		}
		l := wishLine{Name: named(w.Name, w.ID), When: "not in the plan", With: crews(p, w.Crews)}
		if r := rowOf(p, v.Truck, s.ID+"."+id); r != nil {
			if day != calendar.None && (day < r.Start.Date() || day > lastDay(r.End)) {
				continue
			}
			l.When = r.Start.Clock().String() + "–" + r.End.Clock().String()
			if day == calendar.None {
				l.When = onDay(r.Start.Date()) + ", " + l.When
			}
			if r.Bay != "" {
				l.Bay = bayName(p, r.Bay)
			}
		} else if t := p.FindTruck(v.Truck); t != nil && !t.Has(w.Needs) {
			l.When = "not for this truck: it has no " + spoken(strings.Join(w.Needs, ", "))
		}
		list = append(list, l)
	}
	return list
}

// stateOf says how firm the day of a visit is.
func stateOf(p *plant.Plant, v *plant.Visit) string {
	if p.Frozen(v) {
		return "frozen"
	}
	return spoken(v.Booking.State)
}
