package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A Plan is a plan, row by row.
type Plan struct {
	Revision   int        `json:"revision"`
	Plant      string     `json:"plant"`
	Made       *string    `json:"made"`
	Program    string     `json:"program"`
	Seed       uint64     `json:"seed"`
	Stages     []Stage    `json:"stages"`
	Visits     []Visit    `json:"visits"`
	Deliveries []Delivery `json:"deliveries"`
}

// A Stage is one row of a plan.
type Stage struct {
	Truck string  `json:"truck"`
	Stage string  `json:"stage"`
	Hold  *string `json:"hold"`
	Start *string `json:"start"`
	End   *string `json:"end"`
	Bay   *string `json:"bay"`
}

// A Visit is what a plan makes of a visit.
type Visit struct {
	Visit   string  `json:"visit"`
	Truck   string  `json:"truck"`
	Kind    string  `json:"kind"`
	State   string  `json:"state"`
	Heads   int     `json:"heads"`
	Booked  *string `json:"booked"`
	Outcome string  `json:"outcome"`
	Day     *string `json:"day"`
	Bay     *string `json:"bay"`
}

// A Delivery is what a plan makes of the contract of one truck.
type Delivery struct {
	Truck          string  `json:"truck"`
	Customer       string  `json:"customer"`
	Due            *string `json:"due"`
	Day            *string `json:"day"`
	DaysLate       int     `json:"days_late"`
	Damages        int64   `json:"damages"`
	Deadline       *string `json:"deadline"`
	DeadlineMissed bool    `json:"deadline_missed"`
}

// ToPlan writes a plan of p.
func ToPlan(p *plant.Plant, plan *plant.Plan) *Plan {
	return &Plan{
		Revision: plan.Revision, Plant: plan.Plant, Made: Moment(plan.Made), Program: plan.Program, Seed: plan.Seed,
		Stages: Each(plan.Stages, func(r plant.Planned) Stage {
			return Stage{r.Truck, r.Stage, Moment(r.Hold), Moment(r.Start), Moment(r.End), Text(r.Bay)}
		}),
		Visits: Each(plan.Visits, func(r plant.PlannedVisit) Visit {
			w := Visit{Visit: r.Visit, Outcome: r.Outcome, Day: Day(r.Day), Bay: Text(r.Bay)}
			if v := p.FindVisit(r.Visit); v != nil {
				w.Truck, w.Kind, w.State, w.Heads, w.Booked = v.Truck, v.Kind, v.Booking.State, v.Heads, Day(v.Booking.Day)
			}
			return w
		}),
		Deliveries: Each(solver.Deliveries(p, plan), ToDelivery),
	}
}

// ToDelivery writes a delivery.
func ToDelivery(d solver.Delivery) Delivery {
	return Delivery{d.Truck, d.Customer, Day(d.Due), Day(d.Day), d.Late, d.Damages, Day(d.Deadline), d.Missed}
}
