package forecast

import "wetdown/solver/plant"

// Insert is a plant with a would-be order and a plan of both: the plan in force, and the order in
// the room that it leaves, as everything is most likely.
func Insert(p *plant.Plant, t plant.Truck, v plant.Visit) (*plant.Plant, *plant.Plan, error) {
	b, err := book(p, t, v, &Options{})
	if err != nil {
		return nil, nil, err
	}
	x := b.orders[0]
	r := newRoom(&x.shop)
	x.in(r, b.calm, 0, calm)
	own := x.plan(r)
	plan := b.base.plan(b.calm)
	plan.Stages = append(plan.Stages, own.Stages...)
	for _, o := range own.Visits {
		if o.Visit == v.ID {
			plan.Visits = append(plan.Visits, o)
		}
	}
	with := *x.p
	with.Plan = p.Plan
	return &with, plan, nil
}
