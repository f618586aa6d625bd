package check

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A hearing is one plan before the judge: the plant, opened for looking things
// up, the rows of the plan put beside what they are about, and the complaints
// so far.
type hearing struct {
	p    *plant.Plant
	plan *plant.Plan

	grid        *calendar.Grid
	hours       map[string]*calendar.Hours // by calendar id
	line        *plant.Projection
	departments map[string]*plant.Department
	stages      map[string]*plant.Stage
	wishes      map[string]*plant.Wish
	bays        map[string]*plant.Bay
	crews       map[string]*plant.Crew
	customers   map[string]*plant.Customer

	dockets []*docket // one per truck, in the order of the plant
	visits  []*visit  // those that still have to take place, in the order of the plant
	rows    []*row    // rows that are asked for, once each, by truck, stage and start
	strays  []stray   // rows that are not

	rule   string // being judged
	broken []Violation
}

// A row is a row of the plan beside what it is about.
type row struct {
	plant.Planned
	docket  *docket
	stage   *plant.Stage
	visit   *visit          // of a stage that is a visit, and of a wish
	wish    *plant.Wish     // nil unless the row is a wish; stage is then that of the visit
	running *plant.Running  // nil unless the work is under way
	hours   *calendar.Hours // of its department
	dept    string          // name of its department
	bay     string          // kind of bay it needs
	needs   []plant.Need

	// sound tells that Hold, Start and End come in this order within the days
	// that the calendars know. Only then do the slots below mean something.
	sound       bool
	first, last calendar.Slot // parts of the day that it occupies, both in it
	begin       calendar.Slot // part in which work begins
}

// A visit is a visit that still has to take place, beside its stage in the plan.
type visit struct {
	*plant.Visit
	row *row // nil when it is held on no day
}

// A stray is a row that nobody asked for, with the reason.
type stray struct {
	row plant.Planned
	why string
}

// name names the row for people: Pump test of truck 4711.
func (r *row) name() string {
	what := named(r.stage.Name, r.stage.ID)
	if r.wish != nil {
		what = named(r.wish.Name, r.wish.ID) + " (" + what + ")"
	}
	return what + " of truck " + r.Truck
}

// end returns the last minute of work.
func (r *row) end() calendar.Moment { return r.End - 1 }

// firstDay and lastDay return the days of the first and the last minute of work.
func (r *row) firstDay() calendar.Date { return r.Start.Date() }
func (r *row) lastDay() calendar.Date  { return r.end().Date() }

// margin is how many days around the horizon the calendars are worked out for:
// enough for travel, for the last working day before a shutdown, and for work
// that began or ended not long ago. Older history counts from maxHistory on.
const (
	margin     = 60
	maxHistory = 3660
)

// open puts the rows of a plan beside the plant. It fails if the plant is no
// plant to judge by.
func open(p *plant.Plant, plan *plant.Plan) (*hearing, error) {
	b, err := Open(p)
	if err != nil {
		return nil, err
	}
	return b.hear(plan)
}

// A Bench judges any number of plans for one plant, which must stay as it is. Its
// verdicts are those of Plan; working time is worked out once for all of them.
type Bench struct{ plant hearing }

// Open makes a bench. It fails if the plant is no plant to judge by, see Plan.
func Open(p *plant.Plant) (*Bench, error) {
	if p == nil {
		return nil, fmt.Errorf("there is no plant")
	}
	h := hearing{p: p}
	if err := h.compile(); err != nil {
		return nil, err
	}
	var err error
	if h.line, err = p.Project(); err != nil {
		return nil, err
	}
	h.departments = index(p.Departments, func(d *plant.Department) string { return d.ID })
	h.stages = index(p.Route, func(s *plant.Stage) string { return s.ID })
	h.wishes = index(p.Wishes, func(w *plant.Wish) string { return w.ID })
	h.bays = index(p.Bays, func(b *plant.Bay) string { return b.ID })
	h.crews = index(p.Crews, func(c *plant.Crew) string { return c.ID })
	h.customers = index(p.Customers, func(c *plant.Customer) string { return c.ID })
	return &Bench{h}, nil
}

// hear puts the rows of a plan beside the plant.
func (b *Bench) hear(plan *plant.Plan) (*hearing, error) {
	h := b.plant
	if h.plan = plan; plan == nil {
		h.plan = &plant.Plan{}
	}
	p := h.p
	for i := range p.Visits {
		if v := &p.Visits[i]; v.Planned() {
			h.visits = append(h.visits, &visit{Visit: v})
		}
	}
	byTruck := make(map[string]*docket, len(p.Trucks))
	for i := range p.Trucks {
		d := newDocket(&p.Trucks[i])
		h.dockets = append(h.dockets, d)
		if byTruck[d.truck.ID] == nil {
			byTruck[d.truck.ID] = d
		}
	}
	for _, v := range h.visits {
		if d := byTruck[v.Truck]; d != nil && d.visits[v.Kind] == nil {
			d.visits[v.Kind] = v
		}
	}
	if err := h.place(byTruck); err != nil {
		return nil, err
	}
	return &h, nil
}

// index maps the elements of list by id; of two with one id the first counts.
func index[T any](list []T, id func(*T) string) map[string]*T {
	m := make(map[string]*T, len(list))
	for i := range list {
		if _, taken := m[id(&list[i])]; !taken {
			m[id(&list[i])] = &list[i]
		}
	}
	return m
}

// compile works out every calendar of the plant.
func (h *hearing) compile() error {
	p := h.p
	if len(p.Parts) == 0 {
		return fmt.Errorf("the day has no parts")
	}
	cuts := make([]calendar.Clock, 0, len(p.Parts))
	for _, part := range p.Parts[1:] {
		cuts = append(cuts, part.From)
	}
	if p.Horizon.From == calendar.None || p.Horizon.Through == calendar.None {
		return fmt.Errorf("the horizon lacks a day")
	}
	from, through := p.Horizon.From, p.Horizon.Through
	before := func(m calendar.Moment) {
		if m != calendar.NoMoment && m.Date() < from {
			from = max(m.Date(), p.Horizon.From-maxHistory)
		}
	}
	before(p.AsOf)
	for i := range p.Trucks {
		for _, d := range p.Trucks[i].Done {
			before(d.Ended)
		}
		for _, r := range p.Trucks[i].Running {
			before(r.Started)
		}
	}
	travel := 0
	for i := range p.Visits {
		travel = max(travel, p.Visits[i].TravelDays)
	}
	travel = min(travel, maxHistory)
	var err error
	h.grid, err = calendar.NewGrid(p.Zone, from-margin-calendar.Date(travel), through+margin+calendar.Date(travel), cuts)
	if err != nil {
		return err
	}
	h.hours = make(map[string]*calendar.Hours, len(p.Calendars))
	for _, c := range p.Calendars {
		hours, err := calendar.Compile(h.grid, c.Rules)
		if err != nil {
			return fmt.Errorf("calendar %q: %w", c.ID, err)
		}
		h.hours[c.ID] = hours
	}
	if h.hours[p.Calendar] == nil {
		return fmt.Errorf("the plant's calendar %q is not there", p.Calendar)
	}
	return nil
}

// place puts every row of the plan beside its truck and stage, or among the
// strays.
func (h *hearing) place(byTruck map[string]*docket) error {
	rows := slices.Clone(h.plan.Stages)
	slices.SortFunc(rows, func(a, b plant.Planned) int {
		return cmp.Or(
			cmp.Compare(a.Truck, b.Truck),
			cmp.Compare(a.Stage, b.Stage),
			cmp.Compare(a.Start, b.Start),
			cmp.Compare(a.Hold, b.Hold),
			cmp.Compare(a.End, b.End),
			cmp.Compare(a.Bay, b.Bay),
		)
	})
	// Stages before wishes: whether a wish is asked for depends on its visit's row.
	for _, wishes := range []bool{false, true} {
		for _, planned := range rows {
			r := &row{Planned: planned, docket: byTruck[planned.Truck]}
			if why := h.identify(r); (r.wish != nil) != wishes {
				continue
			} else if why != "" {
				h.strays = append(h.strays, stray{planned, why})
				continue
			}
			if err := h.measure(r); err != nil {
				return err
			}
			r.docket.rows[planned.Stage] = r
			if r.visit != nil && r.wish == nil {
				r.visit.row = r
			}
			h.rows = append(h.rows, r)
		}
	}
	return nil
}

// measure finds the calendar, the needs and the parts of the day of a row.
func (h *hearing) measure(r *row) error {
	id := r.stage.Department
	r.bay, r.needs = r.stage.Bay, r.stage.Crews
	if r.wish != nil {
		id = r.wish.Department
		r.bay, r.needs = r.wish.Bay, r.wish.Crews
	}
	d := h.departments[id]
	if d == nil || h.hours[d.Calendar] == nil {
		return fmt.Errorf("department %q of stage %q, or its calendar, is not there", id, r.Stage)
	}
	r.hours, r.dept = h.hours[d.Calendar], named(d.Name, d.ID)
	var in [3]bool
	r.first, in[0] = h.grid.At(r.Hold)
	r.begin, in[1] = h.grid.At(r.Start)
	r.last, in[2] = h.grid.At(r.end())
	r.sound = in == [3]bool{true, true, true} && r.Hold <= r.Start && r.Start < r.End
	return nil
}

// report adds a complaint about the rule being judged.
func (h *hearing) report(v Violation, format string, args ...any) {
	v.Rule = h.rule
	v.Sentence = fmt.Sprintf(format, args...)
	h.broken = append(h.broken, v)
}

// about adds a complaint about a row.
func (h *hearing) about(r *row, at calendar.Moment, format string, args ...any) {
	h.report(r.subject(at), format, args...)
}

// subject starts a complaint about a row.
func (r *row) subject(at calendar.Moment) Violation {
	v := Violation{Truck: r.Truck, Stage: r.Stage, At: at}
	if r.visit != nil {
		v.Visit = r.visit.ID
	}
	return v
}
