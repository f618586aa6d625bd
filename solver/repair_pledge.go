package solver

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Agreed is the repair's plant in which the customers that it asks to move a visit have
// agreed: the visit is booked for the day that it has in the repair's plan, if it has one.
// The repair must have a plan.
func (r *Repair) Agreed() *plant.Plant {
	p := *r.Plant
	p.Visits = slices.Clone(p.Visits)
	for _, a := range r.Actions {
		i := slices.IndexFunc(r.Plan.Visits, func(v plant.PlannedVisit) bool { return v.Visit == a.Visit })
		if a.Kind == plant.AskCustomer && i >= 0 && r.Plan.Visits[i].Day != calendar.None {
			p.FindVisit(a.Visit).Booking.Day = r.Plan.Visits[i].Day
		}
	}
	return &p
}

// Pledges are what the repair's plan holds for customers, as conditions for a plan that
// is to be as good in all else: confirmed visits stay on the days they have in it, other
// visits that it holds are held, and no delivery costs more damages or misses a deadline
// that it keeps. The repair must have a plan.
func (r *Repair) Pledges() (list []Condition) {
	none := plant.Range{From: calendar.None, Through: calendar.None}
	for _, v := range r.Plan.Visits {
		visit := r.Plant.FindVisit(v.Visit)
		switch {
		case visit == nil || v.Day == calendar.None:
		case visit.Booking.State == plant.Confirmed:
			list = append(list, Condition{Kind: plant.KeepVisit, Visit: v.Visit, Day: v.Day, Over: none})
		default:
			list = append(list, Condition{Kind: plant.HoldVisit, Visit: v.Visit, Day: calendar.None, Over: none})
		}
	}
	for _, d := range Deliveries(r.Plant, r.Plan) {
		by := calendar.None
		if r.Plant.FindTruck(d.Truck).Contract.DamagesPerDay > 0 {
			by = max(d.Due, d.Day)
		}
		if d.Deadline != calendar.None && !d.Missed && (by == calendar.None || d.Deadline < by) {
			by = d.Deadline
		}
		if by != calendar.None {
			list = append(list, Condition{Kind: plant.KeepDelivery, Truck: d.Truck, Day: by, Over: none})
		}
	}
	return list
}
