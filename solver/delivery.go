package solver

import (
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Delivery is what a plan makes of the contract of one truck.
type Delivery struct {
	Truck    string
	Customer string        // name for people
	Due      calendar.Date // contract delivery day
	Day      calendar.Date // day on which it is delivered; calendar.None when the plan delivers it on none
	Late     int           // calendar days after Due, 0 when not late
	Damages  int64         // dollars, up to the contract's cap
	Deadline calendar.Date // hard deadline, calendar.None for none
	Missed   bool          // delivered after the hard deadline
}

// Deliveries lists what the plan makes of the contract of every truck that is
// still to be delivered, in the order of the plant's trucks.
func Deliveries(p *plant.Plant, plan *plant.Plan) []Delivery {
	last := map[string]calendar.Moment{} // end of the stage that delivers, by truck
	for _, r := range plan.Stages {
		if s := p.FindStage(r.Stage); s != nil && s.Delivers {
			if end, ok := last[r.Truck]; !ok || r.End > end {
				last[r.Truck] = r.End
			}
		}
	}
	var list []Delivery
	for i := range p.Trucks {
		t := &p.Trucks[i]
		end, ok := last[t.ID]
		if !ok && delivered(p, t) {
			continue
		}
		d := Delivery{Truck: t.ID, Customer: customerName(p, t), Due: t.Contract.Due, Day: calendar.None, Deadline: t.Contract.Deadline}
		if ok {
			d.Day = (end - 1).Date()
			d.Late = max(0, int(d.Day-d.Due))
			d.Damages = int64(d.Late) * int64(t.Contract.DamagesPerDay)
			if limit := int64(t.Contract.DamagesCap); limit > 0 {
				d.Damages = min(d.Damages, limit)
			}
			d.Missed = d.Deadline != calendar.None && d.Day > d.Deadline
		}
		list = append(list, d)
	}
	return list
}

// delivered reports whether the truck has left: a stage that delivers is done.
func delivered(p *plant.Plant, t *plant.Truck) bool {
	for _, d := range t.Done {
		if s := p.FindStage(d.Stage); s != nil && s.Delivers {
			return true
		}
	}
	return false
}

func customerName(p *plant.Plant, t *plant.Truck) string {
	if c := p.FindCustomer(t.Customer); c != nil {
		return c.Name
	}
	return t.Customer
}
