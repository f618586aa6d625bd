package solver

import (
	"wetdown/calendar"
	"wetdown/solver/plant"
)

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
