package solver

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Displacement is one link of the chain from what happened to the trucks that move:
// By is, by the new plan, where Truck was to be by the plan in force, and Truck is
// there no more. It follows from the two plans alone: that a plan exists in which
// Truck keeps its place is neither said nor denied.
type Displacement struct {
	Step    int             // links from what happened, 1 for the first
	By      string          // the truck that took the place; "" where a bay is down or a crew is away
	ByStage string          // with which work of it
	Truck   string          // whose place it was
	Stage   string          // the work that was to be there; a wish as "stage.wish"
	Bay     string          // the place: a bay ...
	Crew    string          // ... or heads of a crew that has none left for both, by its name
	At      calendar.Moment // first part of a day in which both would be there, as its first moment
	From    calendar.Moment // start of Stage in the plan in force
	To      calendar.Moment // and in the new plan; calendar.NoMoment when it is not in it
	ByName  string          // ByStage for people
	Name    string          // Stage for people
}

// Sentence says the link.
func (d Displacement) Sentence() string {
	text := ""
	switch {
	case d.By == "" && d.Crew != "":
		text = fmt.Sprintf("%s of %s was to have %s on %s, of whom too few are there.", d.Name, d.Truck, d.Crew, say(d.At.Date()))
	case d.By == "":
		text = fmt.Sprintf("%s of %s was to be in bay %s on %s, when it is down.", d.Name, d.Truck, d.Bay, say(d.At.Date()))
	case d.Crew != "":
		text = fmt.Sprintf("%s took the place of %s: its %s has %s on %s, when %s of %s was to have them; there are not enough for both.", d.By, d.Truck, d.ByName, d.Crew, say(d.At.Date()), d.Name, d.Truck)
	default:
		text = fmt.Sprintf("%s took the place of %s: its %s has bay %s on %s, where %s of %s was to be.", d.By, d.Truck, d.ByName, d.Bay, say(d.At.Date()), d.Name, d.Truck)
	}
	switch {
	case d.To == calendar.NoMoment:
		return text + fmt.Sprintf(" That, from %s on, is in the plan no more.", sayTime(d.From))
	case d.To == d.From:
		return text + " That is at the same time elsewhere."
	}
	return text + fmt.Sprintf(" That starts on %s instead of %s.", sayTime(d.To), sayTime(d.From))
}

// A stay is a row of a plan on a grid.
type stay struct {
	row                 plant.Planned
	hold, begin, finish calendar.Slot
	needs               []plant.Need
	hours               *calendar.Hours
}

// inBay reports whether the stay is in the bay in a slot.
func (s *stay) inBay(bay string, t calendar.Slot) bool {
	return s.row.Bay == bay && s.hold <= t && t <= s.finish
}

// heads is how many of a crew the stay has in a slot.
func (s *stay) heads(crew string, t calendar.Slot) (n int) {
	if t < s.begin || t > s.finish || s.hours.Work(t) == 0 {
		return 0
	}
	for _, need := range s.needs {
		if need.Crew == crew {
			n += need.Heads
		}
	}
	return n
}

// A tracer compares two plans slot by slot.
type tracer struct {
	before, after *plant.Plant
	grid          *calendar.Grid
	hours         map[string]*calendar.Hours // by calendar
	was, is       map[rowKey]*stay
	rows          []*stay // of the plan in force, by its order
	now           []*stay // of the new plan
}

// displaced follows the chains to the trucks that are told about. Trucks to which none
// leads from what happened come apart, in the order in which their work was to begin.
func displaced(before, after *plant.Plant, slips []plant.Slip, plan *plant.Plan, told map[string]bool) (list []Displacement, apart []string, err error) {
	c := &tracer{before: before, after: after, hours: map[string]*calendar.Hours{}}
	if err := c.lay(plan); err != nil {
		return nil, nil, err
	}
	links := c.links()
	step := map[string]int{"": 0}
	var queue []string
	for i := range slips {
		for _, id := range []string{slips[i].Truck, visited(after, slips[i].Visit)} {
			if _, ok := step[id]; !ok && id != "" {
				step[id] = 0
				queue = append(queue, id)
			}
		}
	}
	follow := func(by string) {
		for _, l := range links {
			if _, ok := step[l.Truck]; ok || l.By != by {
				continue
			}
			step[l.Truck] = step[by] + 1
			l.Step = step[l.Truck]
			list = append(list, l)
			queue = append(queue, l.Truck)
		}
	}
	follow("") // what bays that are down and crews that are away take from whom
	chase := func() {
		for ; len(queue) > 0; queue = queue[1:] {
			follow(queue[0])
		}
	}
	chase()
	for _, s := range c.rows { // those who moved, but not for anybody in a chain
		if _, ok := step[s.row.Truck]; ok || !c.changed(s) {
			continue
		}
		id := s.row.Truck
		for seen := map[string]bool{}; !seen[id]; { // back to the first of its own chain
			seen[id] = true
			if n := slices.IndexFunc(links, func(l Displacement) bool { _, ok := step[l.By]; return l.Truck == id && !ok && !seen[l.By] }); n >= 0 {
				id = links[n].By
			}
		}
		step[id] = 0
		apart = append(apart, id)
		queue = append(queue, id)
		chase()
	}
	by := map[string]string{}
	for _, l := range list {
		by[l.Truck] = l.By
	}
	needed := map[string]bool{}
	need := func(id string) { // with what leads to it
		for id != "" && !needed[id] {
			needed[id] = true
			id = by[id]
		}
	}
	for _, id := range slices.Sorted(maps.Keys(told)) {
		need(id)
	}
	var places []Displacement // who took the very place of a visit that moves for another reason first
	shown := func(truck string) bool {
		of := func(l Displacement) bool { return l.Truck == truck && c.isVisit(l.Stage) }
		return slices.ContainsFunc(list, of) || slices.ContainsFunc(places, of)
	}
	for _, l := range links {
		was, ok := step[l.By]
		if _, moves := step[l.Truck]; ok && moves && told[l.Truck] && c.isVisit(l.Stage) && !shown(l.Truck) {
			l.Step = was + 1
			places = append(places, l)
			need(l.By)
		}
	}
	list = slices.DeleteFunc(list, func(l Displacement) bool { return !needed[l.Truck] })
	list = append(chained(list), places...)
	return list, slices.DeleteFunc(apart, func(id string) bool { return !needed[id] }), nil
}

// isVisit reports whether a row is a visit.
func (c *tracer) isVisit(row string) bool {
	s := c.after.FindStage(row)
	return s != nil && s.Visit != ""
}

// chained puts each link right after the one that leads to it, with all that follows.
func chained(list []Displacement) (out []Displacement) {
	var after func(by string)
	after = func(by string) {
		for _, l := range list {
			if l.By == by {
				out = append(out, l)
				after(l.Truck)
			}
		}
	}
	for n, l := range list {
		if l.Step == 1 && !slices.ContainsFunc(list[:n], func(m Displacement) bool { return m.By == l.By }) {
			after(l.By)
		}
	}
	return out
}

// visited is the truck of a visit.
func visited(p *plant.Plant, visit string) string {
	if v := p.FindVisit(visit); v != nil {
		return v.Truck
	}
	return ""
}

// lay lays both plans on a grid.
func (c *tracer) lay(plan *plant.Plan) error {
	from, through := c.after.AsOf.Date(), c.after.Horizon.Through
	for _, p := range []*plant.Plan{c.before.Plan, plan} {
		for _, r := range p.Stages {
			from, through = min(from, r.Hold.Date(), r.Start.Date()), max(through, r.End.Date())
		}
	}
	var err error
	if c.grid, err = c.after.Grid(from, through); err != nil {
		return err
	}
	if c.rows, c.was, err = c.stays(c.before.Plan); err != nil {
		return err
	}
	c.now, c.is, err = c.stays(plan)
	return err
}

func (c *tracer) stays(plan *plant.Plan) (list []*stay, at map[rowKey]*stay, err error) {
	at = map[rowKey]*stay{}
	for _, r := range plan.Stages {
		s := &stay{row: r}
		department := ""
		if stage := c.after.FindStage(r.Stage); stage != nil {
			department, s.needs = stage.Department, stage.Crews
		} else if wish := wishOf(c.after, r.Stage); wish != nil {
			department, s.needs = wish.Department, wish.Crews
		} else {
			continue
		}
		d := c.after.FindDepartment(department)
		if d == nil {
			continue
		}
		if s.hours, err = c.calendar(d.Calendar); err != nil {
			return nil, nil, err
		}
		hold, okH := c.grid.At(r.Hold)
		begin, okB := c.grid.At(r.Start)
		finish, okF := c.grid.At(r.End - 1)
		if !okH || !okB || !okF {
			continue
		}
		s.hold, s.begin, s.finish = hold, begin, finish
		at[rowKey{r.Truck, r.Stage}] = s
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(a, b *stay) int { return cmp.Compare(a.row.Start, b.row.Start) })
	return list, at, nil
}

func (c *tracer) calendar(id string) (*calendar.Hours, error) {
	if h, ok := c.hours[id]; ok {
		return h, nil
	}
	h, err := c.after.Hours(id, c.grid)
	c.hours[id] = h
	return h, err
}

// changed reports whether work of the plan in force that is still to come starts at
// another time, is in another bay, or is in the plan no more.
func (c *tracer) changed(s *stay) bool {
	t := c.after.FindTruck(s.row.Truck)
	if t == nil || isDone(t, s.row.Stage) || isRunning(t, s.row.Stage) {
		return false
	}
	n := c.is[rowKey{s.row.Truck, s.row.Stage}]
	return n == nil || n.row.Start != s.row.Start || n.row.Bay != s.row.Bay
}

// links lists, for each truck and each one that took a place of it, the earliest such
// place; in order of time.
func (c *tracer) links() (list []Displacement) {
	known := map[[2]string]bool{}
	for _, s := range c.rows {
		if !c.changed(s) {
			continue
		}
		for _, l := range append(c.fromBay(s), c.fromCrews(s)...) {
			if known[[2]string{l.By, l.Truck}] {
				continue
			}
			known[[2]string{l.By, l.Truck}] = true
			list = append(list, l)
		}
	}
	slices.SortStableFunc(list, func(a, b Displacement) int { return cmp.Compare(a.At, b.At) })
	return list
}

// link is the link from work of another truck, nil for none, to a stay.
func (c *tracer) link(by, s *stay, t calendar.Slot) Displacement {
	l := Displacement{Truck: s.row.Truck, Stage: s.row.Stage, Name: rowName(c.after, s.row.Stage), At: max(c.grid.Begin(t), s.row.Hold), From: s.row.Start, To: calendar.NoMoment}
	if n := c.is[rowKey{s.row.Truck, s.row.Stage}]; n != nil {
		l.To = n.row.Start
	}
	if by != nil {
		l.By, l.ByStage, l.ByName = by.row.Truck, by.row.Stage, rowName(c.after, by.row.Stage)
	}
	return l
}

// fromBay finds who is now in the bay in which the stay was to be.
func (c *tracer) fromBay(s *stay) (list []Displacement) {
	if s.row.Bay == "" {
		return nil
	}
	down := func(p *plant.Plant, d calendar.Date) bool {
		b := p.FindBay(s.row.Bay)
		return b != nil && slices.ContainsFunc(b.Closures, func(r plant.Range) bool { return r.Contains(d) })
	}
	for t := s.hold; t <= s.finish; t++ {
		if d := c.grid.Date(t); down(c.after, d) && !down(c.before, d) {
			l := c.link(nil, s, t)
			l.Bay = s.row.Bay
			list = append(list, l)
			break
		}
	}
	for _, n := range c.now {
		old := c.was[rowKey{n.row.Truck, n.row.Stage}]
		for t := max(s.hold, n.hold); n.row.Truck != s.row.Truck && n.row.Bay == s.row.Bay && t <= min(s.finish, n.finish); t++ {
			if old == nil || !old.inBay(s.row.Bay, t) {
				l := c.link(n, s, t)
				l.Bay = s.row.Bay
				list = append(list, l)
				break
			}
		}
	}
	return list
}

// fromCrews finds who now has the heads that the stay was to have, in parts of days in
// which the crew has not enough for both.
func (c *tracer) fromCrews(s *stay) (list []Displacement) {
	for _, need := range s.needs {
		crew := c.after.FindCrew(need.Crew)
		if crew == nil {
			continue
		}
		name := cmp.Or(crew.Name, crew.ID)
		for t := s.begin; t <= s.finish; t++ {
			own := s.heads(crew.ID, t)
			if own == 0 {
				continue
			}
			load := 0
			for _, n := range c.now {
				if n.row.Truck != s.row.Truck || n.row.Stage != s.row.Stage {
					load += n.heads(crew.ID, t)
				}
			}
			day := c.grid.Date(t)
			if load+own <= crew.SizeOn(day) {
				continue
			}
			if old := c.before.FindCrew(crew.ID); old != nil && old.SizeOn(day) > crew.SizeOn(day) {
				l := c.link(nil, s, t)
				l.Crew = name
				list = append(list, l)
			}
			for _, n := range c.now {
				old := c.was[rowKey{n.row.Truck, n.row.Stage}]
				if n.row.Truck == s.row.Truck || n.heads(crew.ID, t) == 0 || old != nil && old.heads(crew.ID, t) > 0 {
					continue
				}
				l := c.link(n, s, t)
				l.Crew = name
				list = append(list, l)
			}
		}
	}
	return list
}

// wishOf finds the wish of a row "stage.wish".
func wishOf(p *plant.Plant, row string) *plant.Wish {
	for i := range p.Route {
		for k := range p.Wishes {
			if p.Route[i].ID+"."+p.Wishes[k].ID == row {
				return &p.Wishes[k]
			}
		}
	}
	return nil
}

// rowName is the name of the work of a row for people.
func rowName(p *plant.Plant, row string) string {
	if w := wishOf(p, row); w != nil {
		return cmp.Or(w.Name, w.ID)
	}
	return stageName(p, row)
}
