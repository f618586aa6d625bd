package forecast

import (
	"cmp"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// beyond is how many days past the horizon, and past the last line-off, are looked at.
// What is not over by then counts as later.
const beyond = 182

// A model is a plant worked out into a shop, with what its tables mean.
type model struct {
	shop
	p      *plant.Plant
	grid   *calendar.Grid
	line   *plant.Projection
	house  *calendar.Hours
	clocks map[string]*clock // by calendar
	titles []title           // by op
	takes  []take            // by op: how long
	waits  []wait            // by op: who keeps it waiting
	offs   []off             // by truck
	lineUp *calendar.Hours   // the line's own calendar
	days   []int32           // by day: working days of the line before it
	nth    []int32           // the line's working days
	starts map[startKey]*startTable
	ready  map[int][]int32
	at     map[titleKey]int32
	laws   *Laws
	seed   uint64
	tables map[[3]float64]*chance.Table // of three-point estimates
}

// A title says what an op is.
type title struct {
	truck *plant.Truck
	stage *plant.Stage
	wish  *plant.Wish
	visit *plant.Visit
}

type titleKey struct{ truck, row string }

// row is the stage id of the op's row in a plan.
func (t *title) row() string {
	if t.wish != nil {
		return t.stage.ID + "." + t.wish.ID
	}
	return t.stage.ID
}

// compile works a plant out on a grid of its days. Of the trucks those take part that
// only names, all with "". Those of the truck that loose names, if any, are not
// kept to their planned times: they begin as soon as they can.
func compile(p *plant.Plant, g *calendar.Grid, only, loose string, o *Options) (*model, error) {
	m := &model{
		p: p, grid: g, laws: &o.Laws, seed: o.Seed, tables: map[[3]float64]*chance.Table{},
		clocks: map[string]*clock{}, starts: map[startKey]*startTable{}, ready: map[int][]int32{}, at: map[titleKey]int32{},
	}
	var err error
	if m.line, err = p.Project(); err != nil {
		return nil, err
	}
	if err := m.open(); err != nil {
		return nil, err
	}
	if err := m.furnish(); err != nil {
		return nil, err
	}
	rows := map[titleKey]*plant.Planned{}
	broken := map[string]bool{}
	if p.Plan != nil {
		for i := range p.Plan.Stages {
			r := &p.Plan.Stages[i]
			rows[titleKey{r.Truck, r.Stage}] = r
		}
		for _, v := range p.Plan.Visits {
			broken[v.Visit] = v.Outcome == plant.Broken
		}
	}
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if only != "" && t.ID != only {
			continue
		}
		first := len(m.ops)
		if err := m.truck(t, rows, broken, t.ID == loose); err != nil {
			return nil, err
		}
		for k := first; t.ID == loose && k < len(m.ops); k++ {
			m.ops[k].planStart, m.ops[k].ahead = -1, false
		}
	}
	m.arrange()
	m.promise()
	return m, nil
}

// gridOf is the grid of the days that are looked at.
func gridOf(p *plant.Plant) (*calendar.Grid, error) {
	line, err := p.Project()
	if err != nil {
		return nil, err
	}
	from := min(p.Horizon.From, p.AsOf.Date())
	through := max(p.Horizon.Through, p.AsOf.Date())
	for i := range p.Trucks {
		for _, r := range p.Trucks[i].Running {
			from = min(from, r.Started.Date())
		}
		through = max(through, line.LineOff(p.Trucks[i].ID))
	}
	return p.Grid(from-7, through+beyond)
}

// open makes what is the same for all trucks.
func (m *model) open() (err error) {
	p := m.p
	m.slots, m.parts = m.grid.Slots(), int32(m.grid.Parts())
	m.shop.days = m.slots / m.parts
	m.width = words(m.slots)
	m.now = int32(p.AsOf.Date() - m.grid.From())
	if m.house, err = p.Hours(p.Calendar, m.grid); err != nil {
		return err
	}
	if m.lineUp, err = p.Hours(cmp.Or(p.Line.Calendar, p.Calendar), m.grid); err != nil {
		return err
	}
	for d := int32(0); d <= m.shop.days; d++ {
		m.days = append(m.days, int32(len(m.nth)))
		if d < m.shop.days && m.lineUp.WorksDay(m.grid.From()+calendar.Date(d)) {
			m.nth = append(m.nth, d)
		}
	}
	return nil
}

// furnish fills in bays and crews.
func (m *model) furnish() error {
	p := m.p
	m.bays = len(p.Bays)
	m.shut = make([]uint64, m.bays*m.width)
	m.taken = make([]uint64, m.bays*m.width)
	for b := range p.Bays {
		for _, c := range p.Bays[b].Closures {
			from, through := max(c.From, m.grid.From()), min(c.Through, m.grid.Through())
			if from <= through {
				mark(m.bayOf(m.shut, b), m.grid.Slot(from, 0), m.grid.Slot(through, int(m.parts)-1))
			}
		}
	}
	for i := range p.Trucks { // who stands ready in a bay was not kept out of it before now
		b := slices.IndexFunc(p.Bays, func(b plant.Bay) bool { return b.ID == p.Trucks[i].Standing.Bay })
		for s := int32(0); b >= 0 && s < m.now*m.parts; s++ {
			m.bayOf(m.shut, b)[s>>6] &^= 1 << uint(s&63)
		}
	}
	if p.Plan != nil {
		for i := range p.Plan.Stages {
			r := &p.Plan.Stages[i]
			b := slices.IndexFunc(p.Bays, func(b plant.Bay) bool { return b.ID == r.Bay })
			hold, ok := m.grid.At(r.Hold)
			last, ok2 := m.grid.At(r.End - 1)
			if b >= 0 && ok && ok2 && hold <= last {
				mark(m.bayOf(m.taken, b), hold, last)
			}
		}
	}
	m.heads = make([]int16, len(p.Crews)*int(m.slots))
	for c := range p.Crews {
		crew := &p.Crews[c]
		k, err := m.clock(crew.Calendar)
		if err != nil {
			return err
		}
		for s := int32(0); s < m.slots; s++ {
			if k.works(s) {
				m.heads[int32(c)*m.slots+s] = int16(min(crew.SizeOn(m.grid.Date(s)), 1<<14))
			}
		}
	}
	return nil
}

func (m *model) bayOf(sets []uint64, b int) []uint64 { return sets[b*m.width:][:m.width] }

func (m *model) clock(id string) (*clock, error) {
	if c, ok := m.clocks[id]; ok {
		return c, nil
	}
	h, err := m.p.Hours(id, m.grid)
	if err != nil {
		return nil, err
	}
	c := newClock(h)
	m.clocks[id] = c
	return c, nil
}

func (m *model) department(id string) (*clock, error) {
	d := m.p.FindDepartment(id)
	if d == nil {
		return nil, fmt.Errorf("there is no department %q: add it to the plant's departments, or name one of them", id)
	}
	return m.clock(d.Calendar)
}

// arrange sorts the work: what runs, then by planned start. What the plan in force does
// not have comes with the first work after it that it has; an order that nobody knows
// yet comes last.
func (m *model) arrange() {
	n := len(m.ops)
	const never = int32(1) << 30
	key := make([]int32, n)
	for i := range key {
		key[i] = m.ops[i].turn
		if key[i] < 0 {
			key[i] = never
		}
	}
	// Ops of a truck are listed in an order of their route.
	for i := n - 1; i >= 0; i-- {
		for _, p := range m.ops[i].preds {
			if m.ops[p.op].turn < 0 {
				key[p.op] = min(key[p.op], key[i])
			}
		}
	}
	for i := range key {
		o := &m.ops[i]
		for _, p := range o.preds {
			key[i] = max(key[i], key[p.op])
		}
		if v := o.visit; v != nil {
			for _, c := range v.certs {
				key[i] = max(key[i], key[c])
			}
			if o.wish {
				key[i] = max(key[i], key[v.op])
			}
		}
		if o.fixed {
			key[i] = -1
		}
	}
	m.order = make([]int32, n)
	for i := range m.order {
		m.order[i] = int32(i)
	}
	slices.SortStableFunc(m.order, func(a, b int32) int { return cmp.Compare(key[a], key[b]) })
}

// promise keeps the planned places of visits, and of wishes in them, free for them.
func (m *model) promise() {
	m.promised = make([]uint64, len(m.shut))
	m.spare = slices.Clone(m.heads)
	m.claims = make([]bool, len(m.ops))
	for i := range m.ops {
		o := &m.ops[i]
		if s := o.planStart; o.visit == nil || o.fixed || s < 0 || o.starts[s] != s {
			continue
		}
		m.claims[i] = true
		last := o.ends[o.planStart]
		if o.planBay >= 0 {
			mark(m.bayOf(m.promised, int(o.planBay)), o.planHold, last)
		}
		for _, n := range o.needs {
			for s := o.planStart; s <= last; s++ {
				if o.clock.works(s) {
					m.spare[n.crew*m.slots+s] -= int16(n.heads)
				}
			}
		}
	}
}
