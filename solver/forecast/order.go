package forecast

import (
	"context"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A bid is a would-be order in all its variants, beside the plant without it.
type bid struct {
	base   *model
	calm   *room    // the plant as it is most likely
	orders []*order // the first is the order as it is asked for
	parts  []part   // of chance

	off, held *sample // of the first order: days of line-off and visit
	frozen    *sample // by part: days of delivery of the first order
}

// An order is the would-be truck in one variant: a model of it alone, that works in the
// room that the plant leaves.
type order struct {
	Variant
	*model
	enters           calendar.Date // day on which it enters the line; calendar.None: it is on it, or past it
	visit, delivery  int32         // ops; no visit: -1
	outside          bool          // the visit is booked outside its windows
	more             []int16       // by crew and slot: heads that are there beside the plant's; nil: none
	saturdays        []saturday
	ready, delivered *sample
	spent            *sample // dollars
}

// A saturday is a shift that is paid for if the order is worked on in it.
type saturday struct {
	department string
	from, last int32
	dollars    int32
}

// A part of chance goes as planned.
type part struct {
	name   string
	still  *freeze
	around bool // everything around the order goes as planned
}

// book makes the models of an order and its variants.
func book(p *plant.Plant, t plant.Truck, v plant.Visit, o *Options) (*bid, error) {
	list, err := places(p, &t)
	if err != nil {
		return nil, err
	}
	var grid *calendar.Grid
	var with []*plant.Plant
	for _, place := range list {
		t.Line = place
		w := join(p, t, v)
		g, err := gridOf(w)
		if err != nil {
			return nil, err
		}
		if grid == nil || g.Through() > grid.Through() {
			grid = g
		}
		with = append(with, w)
	}
	b := &bid{}
	if b.base, err = compile(p, grid, "", "", o); err != nil {
		return nil, err
	}
	b.calm = newRoom(&b.base.shop)
	b.base.once(b.calm, 0, calm)
	for i, w := range with {
		x, err := newOrder(w, b.base, t.ID, o)
		if err != nil {
			return nil, err
		}
		x.enters = list[i].Enters
		if i > 0 {
			x.Variant = Variant{Kind: VariantSlot, Name: fmt.Sprintf("The place on the line of %s instead of %s", x.enters, list[0].Enters)}
		}
		b.orders = append(b.orders, x)
	}
	if err := b.overtime(with[0], t.ID, o); err != nil {
		return nil, err
	}
	b.divide()
	return b, nil
}

// places are where the order may enter the line: where it is said to or in the first free
// slot, then the first free slot before and the one after.
func places(p *plant.Plant, t *plant.Truck) ([]plant.Place, error) {
	var days []calendar.Date
	for _, s := range p.Line.FreeSlots {
		if s.Content == t.Content && s.Count > 0 && s.Week.AddDays(6) >= p.AsOf.Date() {
			days = append(days, max(s.Week, p.AsOf.Date()))
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	_, enters, err := p.Slot(t)
	if err != nil {
		return nil, err
	}
	at := func(d calendar.Date) plant.Place {
		return plant.Place{Enters: d, Since: calendar.None, Off: calendar.None, Feeders: t.Line.Feeders}
	}
	var list []plant.Place
	switch l := &t.Line; {
	case l.Off != calendar.None || l.Station != "":
		return []plant.Place{*l}, nil
	case l.Enters != calendar.None && l.Enters != 0:
		list = append(list, *l)
	default:
		list = append(list, at(enters))
	}
	if days = slices.DeleteFunc(days, func(d calendar.Date) bool { return d == list[0].Enters }); len(days) > 0 {
		if days[0] < list[0].Enters {
			list = append(list, at(days[0]))
		}
		if i, _ := slices.BinarySearch(days, list[0].Enters); i < len(days) {
			list = append(list, at(days[i]))
		}
	}
	return list, nil
}

// farther is how many days a window of the order's visit goes on that reaches the horizon's last
// day: nobody has said more than that it lies so far ahead.
const farther = 10 * 366

// join is the plant with the order in it.
func join(p *plant.Plant, t plant.Truck, v plant.Visit) *plant.Plant {
	with := *p
	with.Trucks = append(slices.Clone(p.Trucks), t)
	if v.Truck == t.ID {
		v.Booking = plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
		if len(v.Windows) == 0 {
			v.Windows = []plant.Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}}
		}
		v.Windows = slices.Clone(v.Windows)
		for i := range v.Windows {
			if w := &v.Windows[i]; w.Through == p.Horizon.Through {
				w.Through = w.Through.AddDays(farther)
			}
		}
		with.Visits = append(slices.Clone(p.Visits), v)
	}
	return &with
}

// newOrder makes the model of the order alone.
func newOrder(with *plant.Plant, base *model, id string, o *Options) (*order, error) {
	m, err := compile(with, base.grid, id, "", o)
	if err != nil {
		return nil, err
	}
	x := &order{model: m, enters: calendar.None, visit: -1, delivery: -1}
	for i := range m.titles {
		switch ti := &m.titles[i]; {
		case ti.stage.Delivers:
			x.delivery = int32(i)
		case ti.visit != nil && ti.wish == nil && ti.visit.Kind == plant.FinalInspection:
			x.visit = int32(i)
		}
	}
	if x.delivery < 0 {
		return nil, fmt.Errorf("the route has no stage that delivers: mark one in the plant file")
	}
	return x, nil
}

// overtime adds the variants in which departments work on Saturdays, by the price list as if
// it reached so far ahead: each alone, and all together.
func (b *bid) overtime(with *plant.Plant, id string, o *Options) error {
	main := b.orders[0]
	r := newRoom(&main.shop)
	main.in(r, b.calm, 0, calm)
	if r.last[main.delivery] >= main.slots {
		return nil
	}
	from, through := main.date(r.off[0]/main.parts), main.date(r.last[main.delivery]/main.parts).AddDays(28)
	list := *with
	list.Measures = nil
	list.Horizon.Through = max(list.Horizon.Through, through)
	for _, k := range with.Measures {
		if k.Kind == plant.SaturdayShift {
			k.Weeks = 10000
			list.Measures = append(list.Measures, k)
		}
	}
	actions, err := list.Actions()
	if err != nil {
		return err
	}
	// The cheapest of several measures for one department and day.
	best := map[string]plant.Action{}
	var departments []string
	of := map[string][]plant.Action{}
	for _, a := range actions {
		if a.From < from || a.From > through || !slices.ContainsFunc(main.titles, func(t title) bool { return t.stage.Department == a.Department }) {
			continue
		}
		k := a.Department + a.From.String()
		if c, ok := best[k]; ok && c.Dollars <= a.Dollars {
			continue
		}
		best[k] = a
	}
	for _, a := range actions {
		if c, ok := best[a.Department+a.From.String()]; ok && c.Measure == a.Measure {
			if of[a.Department] == nil {
				departments = append(departments, a.Department)
			}
			of[a.Department] = append(of[a.Department], a)
		}
	}
	add := func(name string, actions []plant.Action) error {
		x, err := newOrder(with.With(actions), b.base, id, o)
		if err != nil {
			return err
		}
		x.Variant, x.enters = Variant{Kind: VariantSaturdays, Name: name}, main.enters
		for _, a := range actions {
			day := main.dayOf(a.From)
			x.saturdays = append(x.saturdays, saturday{a.Department, day * x.parts, (day+1)*x.parts - 1, int32(a.Dollars)})
		}
		x.more = make([]int16, len(x.heads))
		for i := range x.heads {
			x.more[i] = x.heads[i] - b.base.heads[i]
		}
		b.orders = append(b.orders, x)
		return nil
	}
	var all []plant.Action
	for _, d := range departments {
		name := d
		if x := with.FindDepartment(d); x != nil && x.Name != "" {
			name = x.Name
		}
		if err := add(name+" works on Saturdays", of[d]); err != nil {
			return err
		}
		all = append(all, of[d]...)
	}
	if len(departments) > 1 {
		return add("All departments work on Saturdays", all)
	}
	return nil
}

// divide lists the parts of chance of the order.
func (b *bid) divide() {
	x := b.orders[0]
	if x.offs[0].slip != nil {
		b.parts = append(b.parts, part{name: "Line-off", still: &freeze{line: true, op: -1}})
	}
	if len(x.offs[0].feeders) > 0 {
		b.parts = append(b.parts, part{name: "Deliveries to the line", still: &freeze{suppliers: true, op: -1}})
	}
	for i := range x.takes {
		if x.takes[i].law != nil || x.waits[i].law != nil {
			b.parts = append(b.parts, part{name: x.titles[i].stage.Name, still: &freeze{op: int32(i)}})
		}
	}
	b.parts = append(b.parts, part{name: "The other trucks", still: free, around: true})
}

// in runs the order in what another room leaves.
func (x *order) in(r, others *room, run int, still *freeze) {
	x.enterAfter(r, others)
	x.draw(r, run, still)
	r.run()
}

// enterAfter makes the room as others leave it.
func (x *order) enterAfter(r, others *room) {
	copy(r.bay, others.bay)
	clear(r.lane)
	copy(r.seen, others.seen)
	copy(r.left, others.left)
	copy(r.hosts, others.hosts)
	for i, n := range x.more {
		r.left[i] += n
		r.hosts[i] += n
	}
}

// agree books the visit of the order, in each variant for itself: on the first day for which
// the truck is ready in SafeShare of the first runs and on which the plan in force leaves a
// bay and people for it.
func (b *bid) agree(ctx context.Context, o *Options, runs int) error {
	if b.orders[0].visit < 0 {
		return nil
	}
	for _, x := range b.orders {
		x.ready = newSample(1, runs)
	}
	err := each(ctx, o, runs, b.worker(func(r *room, rooms []*room, run int) {
		for k, x := range b.orders {
			x.in(rooms[k], r, run, free)
			x.ready.put(0, run, rooms[k].ready[x.visit])
		}
	}))
	if err != nil {
		return err
	}
	for _, x := range b.orders {
		day := rank(x.ready.sorted(0), SafeShare)
		if day >= x.shop.days {
			continue
		}
		v := &x.ops[x.visit]
		r := newRoom(&x.shop)
		x.enterAfter(r, b.calm)
		from := min(max(day, x.now+int32(x.p.Buffer.NoticeDays))*x.parts, x.slots)
		s := x.vacant(r, v, v.starts, from)
		if s >= x.slots {
			x.outside, v.starts = true, v.later
			s = x.vacant(r, v, v.starts, from)
		}
		if s < x.slots {
			v.planStart, v.planHold = s, v.holdOf(s)
		}
	}
	return nil
}

// vacant is the first start of a visit from slot from on for which the room has a bay and people.
func (x *order) vacant(r *room, v *op, starts []int32, from int32) int32 {
	s := starts[from]
	for s < x.slots {
		if _, until := r.fits(v, v.holdOf(s), s, v.ends[s]); until < 0 {
			break
		}
		s = starts[s+1]
	}
	return s
}

// worker is one of those that run the plant, and then what else is done in the run.
func (b *bid) worker(do func(r *room, rooms []*room, run int)) func() func(int) {
	return func() func(int) {
		r := newRoom(&b.base.shop)
		rooms := make([]*room, len(b.orders))
		for k, x := range b.orders {
			rooms[k] = newRoom(&x.shop)
		}
		return func(run int) {
			b.base.once(r, run, free)
			do(r, rooms, run)
		}
	}
}

// simulate fills the samples: the order as it is in all runs, variants and parts of chance in the
// first of them.
func (b *bid) simulate(ctx context.Context, o *Options, runs, first int) error {
	main := b.orders[0]
	for k, x := range b.orders {
		n := first
		if k == 0 {
			n = runs
		}
		x.ready, x.delivered, x.spent = newSample(1, n), newSample(1, n), newSample(1, n)
	}
	b.off, b.held, b.frozen = newSample(1, runs), newSample(1, runs), newSample(len(b.parts), first)
	return each(ctx, o, runs, b.worker(func(r *room, rooms []*room, run int) {
		for k, x := range b.orders {
			if run >= x.delivered.runs {
				break
			}
			x.in(rooms[k], r, run, free)
			x.delivered.put(0, run, rooms[k].last[x.delivery]/x.parts)
			x.spent.put(0, run, x.pays(rooms[k]))
			if x.visit >= 0 {
				x.ready.put(0, run, rooms[k].ready[x.visit])
			}
		}
		b.off.put(0, run, max(rooms[0].off[0]/main.parts-1, 0))
		if main.visit >= 0 {
			b.held.put(0, run, rooms[0].begin[main.visit]/main.parts)
		}
		if run >= first {
			return
		}
		for k, p := range b.parts {
			others := r
			if p.around {
				others = b.calm
			}
			main.in(rooms[0], others, run, p.still)
			b.frozen.put(k, run, rooms[0].last[main.delivery]/main.parts)
		}
	}))
}

// pays sums the Saturdays on which the order is worked on.
func (x *order) pays(r *room) (dollars int32) {
	for _, s := range x.saturdays {
		for i := range x.titles {
			if x.titles[i].stage.Department == s.department && r.begin[i] <= s.last && r.last[i] >= s.from {
				dollars += s.dollars
				break
			}
		}
	}
	return dollars
}
