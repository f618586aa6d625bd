package check

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Score returns what the plan costs in every tier, in the order of
// plant.TierNames, with all bounds 0. It returns nil for a plant that cannot be
// judged by, see Plan. Delivered trucks and visits that took place, or are
// under way, cost nothing any more.
func Score(p *plant.Plant, plan *plant.Plan) []plant.TierValue {
	h, err := open(p, plan)
	if err != nil {
		return nil
	}
	return h.score()
}

func (h *hearing) score() []plant.TierValue {
	values := map[string]int64{}
	for _, v := range h.visits {
		h.scoreVisit(v, values)
	}
	for _, d := range h.dockets {
		h.scoreDelivery(d, values)
		values[plant.TierCalm] += h.waits(d)
	}
	values[plant.TierCalm] += h.disturbed()
	tiers := make([]plant.TierValue, len(plant.TierNames))
	for i, name := range plant.TierNames {
		tiers[i] = plant.TierValue{Name: name, Value: values[name]}
	}
	return tiers
}

// scoreVisit adds what the plan costs for what it makes of one visit; nothing for
// one under way. Broken: by
// head. Confirmed and moved: by head and by days of distance, more when it stood
// near. Tentative and moved: by head. Newly on a day off the preferred weekdays:
// once.
func (h *hearing) scoreVisit(v *visit, values map[string]int64) {
	if v.row != nil && v.row.running != nil {
		return
	}
	price, heads := &h.p.Prices, int64(v.Heads)
	outcome := v.outcome()
	switch {
	case outcome == plant.Broken && h.p.Frozen(v.Visit):
		values[plant.TierFrozen] += heads * int64(price.FrozenPerHead)
	case outcome == plant.Broken:
		values[plant.TierConfirmed] += heads * int64(price.BrokenPerHead)
	case outcome == plant.Moved && v.Booking.State == plant.Confirmed:
		days := between(v.Booking.Day, v.row.firstDay())
		if days < 0 {
			days = -days
		}
		days = min(days, int64(price.MovedDaysCap))
		cost := heads * (int64(price.MovedPerHead) + int64(price.MovedPerHeadDay)*days)
		if between(h.p.AsOf.Date(), v.Booking.Day) <= int64(price.ShortNoticeDays) {
			cost *= int64(price.ShortNoticeFactor)
		}
		values[plant.TierConfirmed] += cost
	case outcome == plant.Moved:
		values[plant.TierWishes] += heads * int64(price.TentativePerHead)
	}
	if outcome == plant.Moved || outcome == plant.Placed {
		if len(v.Weekdays) > 0 && !slices.Contains(v.Weekdays, v.row.firstDay().Weekday()) {
			values[plant.TierWishes] += int64(price.WeekdayMissed)
		}
	}
}

// between returns the calendar days from a to b.
func between(a, b calendar.Date) int64 { return int64(b) - int64(a) }

// delivers returns the row in which the truck is delivered, the last if there
// are several; nil if it is not in the plan.
func (h *hearing) delivers(d *docket) *row {
	var last *row
	for i := range h.p.Route {
		s := &h.p.Route[i]
		if r := d.rows[s.ID]; s.Delivers && r != nil && (last == nil || r.End > last.End) {
			last = r
		}
	}
	return last
}

// scoreDelivery adds what the day of delivery costs: a missed deadline, damages
// up to their cap, weighted days late.
func (h *hearing) scoreDelivery(d *docket, values map[string]int64) {
	r := h.delivers(d)
	if r == nil {
		return
	}
	price, c := &h.p.Prices, &d.truck.Contract
	day := r.lastDay()
	if c.Deadline != calendar.None && day > c.Deadline {
		values[plant.TierDeadlines] += int64(price.DeadlineMissed)
	}
	if c.Due == calendar.None || day <= c.Due {
		return
	}
	late := between(c.Due, day)
	damages := int64(c.DamagesPerDay) * late
	if c.DamagesCap > 0 {
		damages = min(damages, int64(c.DamagesCap))
	}
	values[plant.TierDamages] += damages
	values[plant.TierLateness] += int64(price.LateDay) * int64(c.Weight) * late
}

// waits returns what the days cost that the truck stands finished between the
// last day of its final inspection and the start of its delivery.
func (h *hearing) waits(d *docket) int64 {
	v, r := d.visits[plant.FinalInspection], h.delivers(d)
	if v == nil || v.row == nil || r == nil {
		return 0
	}
	days := between(v.row.lastDay(), r.firstDay())
	return int64(h.p.Prices.WaitDay) * max(0, min(int64(h.p.Buffer.WaitCapDays), days))
}

// disturbed returns what it costs that near work of the plan before starts at
// another moment, or not at all. Wishes, and stages that run, are done or do not
// apply any more, do not count; a visit that the plan breaks does.
func (h *hearing) disturbed() int64 {
	if h.p.Plan == nil {
		return 0
	}
	end := h.p.AsOf + calendar.Moment(h.p.Buffer.NearDays)*24*60
	dockets := map[string]*docket{}
	for _, d := range h.dockets {
		dockets[d.truck.ID] = d
	}
	cost := int64(0)
	for _, old := range h.p.Plan.Stages {
		d, s := dockets[old.Truck], h.stages[old.Stage]
		if d == nil || s == nil || !d.open(s) || d.running[s.ID] != nil || old.Start < h.p.AsOf || old.Start >= end {
			continue
		}
		if now := d.rows[s.ID]; now == nil || now.Start != old.Start {
			cost += int64(h.p.Prices.DisturbedStage)
		}
	}
	return cost
}
