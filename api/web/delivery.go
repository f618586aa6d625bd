package web

import (
	"cmp"
	"net/http"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/forecast"
)

type deliveriesData struct {
	List     []deliveryLine
	Leaf     leaf
	Unlikely int // as likely late as not, or more
	AtRisk   int // others that are not safe
	Weeks    []mark
	Due      int // where the contract is drawn
	Width    int
	Sample   sample
}

// A deliveryLine is a truck to be delivered, its days and its contract.
type deliveryLine struct {
	forecast.DeliveryOdds
	Customer string
	PerDay   int  // damages
	Reserved bool // for an order that is not placed
	Range    reach
}

// A reach draws the days of 50, 80 and 95 in 100 and that of the plan beside the contract,
// in the units of its SVG.
type reach struct {
	Half, Most, Nearly int
	Before, Beyond     bool // it begins before the drawing does, or goes on after it
	Planned            int  // 0: outside of the drawing
}

const (
	rangeWidth = 260
	rangeMost  = 42 // calendar days before the contract, and after it, that are drawn at most
)

// deliveries lists the trucks to be delivered with their days at three chances, those that
// are most likely late first.
func (w *Web) deliveries(v *view) error {
	o, p := v.odds(), v.State.Plant
	d := deliveriesData{Width: rangeWidth, Sample: o.Sample}
	for _, x := range o.Deliveries {
		t := p.FindTruck(x.Truck)
		if t == nil {
			continue // it went since
		}
		d.List = append(d.List, deliveryLine{DeliveryOdds: x, Customer: customerOf(p, t), PerDay: t.Contract.DamagesPerDay, Reserved: t.Reserved.For != ""})
		switch {
		case x.OnTime.Share < 0.5:
			d.Unlikely++
		case x.OnTime.Share < forecast.SafeShare:
			d.AtRisk++
		}
	}
	slices.SortStableFunc(d.List, func(x, y deliveryLine) int {
		return cmp.Or(cmp.Compare(x.OnTime.Share, y.OnTime.Share), cmp.Compare(x.Due, y.Due))
	})
	d.draw()
	d.List, d.Leaf = leafOf(v, d.List)
	v.Title, v.Place, v.Data = "Risk of being late", "late", d
	v.show(http.StatusOK, "deliveries")
	return nil
}

// draw draws all trucks on one scale, with their contracts above each other.
func (d *deliveriesData) draw() {
	early, late := 7, 7 // calendar days that are drawn
	for i := range d.List {
		x := &d.List[i]
		for _, day := range []calendar.Date{x.P50, x.P95, x.Planned} {
			if day != calendar.None {
				early, late = max(early, int(x.Due-day)), max(late, int(day-x.Due))
			}
		}
	}
	early, late = min(early, rangeMost)+1, min(late, rangeMost)+1
	at := func(days int) int { return 8 + (d.Width-16)*(days+early)/(early+late) }
	d.Due = at(0)
	for n := -early / 7; n <= late/7; n++ {
		d.Weeks = append(d.Weeks, mark{X: at(7 * n)})
	}
	for i := range d.List {
		x := &d.List[i]
		end := func(day calendar.Date) int {
			if day == calendar.None {
				return at(late)
			}
			return at(max(-early, min(int(day-x.Due), late)))
		}
		x.Range = reach{Half: end(x.P50), Most: end(x.P80), Nearly: end(x.P95), Before: x.P50 != calendar.None && int(x.Due-x.P50) > early, Beyond: x.P95 == calendar.None || int(x.P95-x.Due) > late}
		if n := int(x.Planned - x.Due); x.Planned != calendar.None && -early <= n && n <= late {
			x.Range.Planned = at(n)
		}
	}
}
