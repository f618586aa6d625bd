package paper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// BayWeek prints the week of one bay, Monday to Sunday, in which a day lies: the
// days across, the parts of the day down, in each the truck that holds the bay and
// for which stage. A bay that does not exist is an error.
func BayWeek(p *plant.Plant, bay string, day calendar.Date) ([]byte, error) {
	b := p.FindBay(bay)
	if b == nil {
		var names []string
		for i := range p.Bays {
			names = append(names, p.Bays[i].ID)
		}
		if near := plant.Nearest(bay, names); near != "" {
			return nil, refuse("there is no bay %q: did you mean %s?", bay, near)
		}
		return nil, refuse("there is no bay %q: name one of the plant's %d", bay, len(names))
	}
	if day == calendar.None {
		return nil, refuse("the week of bay %s is that of no day: name one", bay)
	}
	monday := day.AddDays(-((int(day.Weekday()) + 6) % 7))
	data := struct {
		top
		Takes string
		Days  []string
		Parts []part
		Stays []stay
	}{top: topOf(p, "Bay week", named(b.Name, b.ID)), Takes: takes(b)}
	data.Wide = true
	var rows []*plant.Planned
	if p.Plan != nil {
		for i := range p.Plan.Stages {
			r := &p.Plan.Stages[i]
			if r.Bay == b.ID && r.Hold.Date() < monday+7 && lastDay(r.End) >= monday {
				rows = append(rows, r)
			}
		}
	}
	slices.SortStableFunc(rows, func(a, b *plant.Planned) int { return cmp.Compare(a.Hold, b.Hold) })
	for d := monday; d < monday+7; d++ {
		data.Days = append(data.Days, shortDay(d))
	}
	for i := range p.Parts {
		begin, end := p.Parts[i].From, calendar.Clock(24*60)
		if i == 0 {
			begin = 0
		}
		if i+1 < len(p.Parts) {
			end = p.Parts[i+1].From
		}
		line := part{Name: spoken(p.Parts[i].ID)}
		for d := monday; d < monday+7; d++ {
			line.Cells = append(line.Cells, held(p, b, rows, d, d.At(begin), d.At(end)))
		}
		data.Parts = append(data.Parts, line)
	}
	for _, r := range rows {
		data.Stays = append(data.Stays, stay{truckOf(p, r.Truck), stageName(p, r.Stage), atTime(r.Hold), atTime(r.Start), atTime(r.End)})
	}
	data.Title = fmt.Sprintf("Bay week, %s to %s", onDay(monday), onDay(monday+6))
	return print("bay", data)
}

// A part is one part of the day through the week.
type part struct {
	Name  string
	Cells []content
}

// content is what holds the bay in one part of one day.
type content struct {
	Truck, Stage, Note string
	Begins             bool // it takes the bay in this part
}

// A stay is a truck in the bay.
type stay struct {
	Truck            truckLine
	Stage            string
	Hold, Start, End string
}

// held says what holds the bay from begin to end.
func held(p *plant.Plant, b *plant.Bay, rows []*plant.Planned, day calendar.Date, begin, end calendar.Moment) content {
	for _, r := range rows {
		if r.Hold >= end || r.End <= begin {
			continue
		}
		c := content{Truck: r.Truck, Stage: stageName(p, r.Stage), Begins: r.Hold >= begin}
		switch {
		case r.Start >= end:
			c.Note = "line-up"
		case r.Start >= begin:
			c.Note = "from " + r.Start.Clock().String()
		}
		if r.End <= end {
			c.Note = strings.TrimSpace(c.Note + " to " + calendar.Clock(r.End-day.At(0)).String())
		}
		return c
	}
	for _, c := range b.Closures {
		if c.Contains(day) {
			return content{Note: strings.TrimSpace("closed " + fit(c.Reason))}
		}
	}
	return content{}
}

// stageName is what a stage, or a wish in it, is called.
func stageName(p *plant.Plant, id string) string {
	stage, wish, inside := strings.Cut(id, ".")
	name := spoken(stage)
	if s := p.FindStage(stage); s != nil {
		name = named(s.Name, s.ID)
	}
	if inside {
		if w := p.FindWish(wish); w != nil {
			return named(w.Name, w.ID) + " (" + name + ")"
		}
		return spoken(wish) + " (" + name + ")"
	}
	return name
}

// takes says which trucks a bay takes.
func takes(b *plant.Bay) string {
	var list []string
	if b.MaxLengthFt > 0 {
		list = append(list, fmt.Sprintf("up to %v ft long", b.MaxLengthFt))
	}
	if b.MaxHeightFt > 0 {
		list = append(list, fmt.Sprintf("up to %v ft high", b.MaxHeightFt))
	}
	if b.MaxFlowGPM > 0 {
		list = append(list, fmt.Sprintf("up to %d gpm", b.MaxFlowGPM))
	}
	if len(b.Needs) > 0 {
		list = append(list, "with "+strings.Join(b.Needs, ", "))
	}
	if len(list) == 0 {
		return ""
	}
	return "Trucks " + strings.Join(list, ", ")
}
