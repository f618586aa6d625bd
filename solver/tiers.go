package solver

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// tiers writes what each start costs, tier by tier.
func (q *question) tiers() {
	for _, name := range plant.TierNames {
		q.problem.Tiers = append(q.problem.Tiers, schedule.Tier{Name: name})
	}
	tier := func(name string) *schedule.Tier { return &q.problem.Tiers[slices.Index(plant.TierNames, name)] }
	before := q.before()
	for i := range q.work {
		w := &q.work[i]
		if w.visit != nil && w.wish == nil && w.run == nil {
			q.visitCosts(i, tier)
		}
		if w.stage.Delivers && w.wish == nil {
			q.deliveryCosts(i, tier)
			q.waiting(i, tier(plant.TierCalm))
		}
		if at, ok := before[rowKey{w.truck.ID, w.row()}]; ok && w.run == nil {
			price := int64(q.p.Prices.DisturbedStage)
			q.cost(tier(plant.TierCalm), i, price, func(m move) int64 {
				if m.start == at {
					return 0
				}
				return price
			})
		}
	}
}

// cost appends a cost by move unless it is nothing at all.
func (q *question) cost(t *schedule.Tier, i int, skip int64, at func(move) int64) {
	c := schedule.Cost{Task: i, At: make([]int64, len(q.work[i].moves))}
	some := false
	for k, m := range q.work[i].moves {
		c.At[k] = at(m)
		some = some || c.At[k] > 0
	}
	if q.problem.Tasks[i].Skip {
		c.Skip = skip
	}
	if some || c.Skip > 0 {
		t.Costs = append(t.Costs, c)
	}
}

// visitCosts prices the days of a visit, and its being held on none.
func (q *question) visitCosts(i int, tier func(string) *schedule.Tier) {
	v, price := q.work[i].visit, &q.p.Prices
	heads := int64(v.Heads)
	frozen := q.p.Frozen(v)
	booked := v.Booking.State != plant.Requested
	off := func(m move) int64 { // preferred days of the week
		if booked && m.day() == v.Booking.Day || len(v.Weekdays) == 0 || slices.Contains(v.Weekdays, m.day().Weekday()) {
			return 0
		}
		return int64(price.WeekdayMissed)
	}
	nothing := func(move) int64 { return 0 }
	if frozen {
		q.cost(tier(plant.TierFrozen), i, heads*int64(price.FrozenPerHead), nothing)
		return
	}
	broken := heads * int64(price.BrokenPerHead)
	if v.Booking.State != plant.Confirmed {
		q.cost(tier(plant.TierConfirmed), i, broken, nothing)
		moved := int64(0)
		if v.Booking.State == plant.Tentative {
			moved = heads * int64(price.TentativePerHead)
		}
		q.cost(tier(plant.TierWishes), i, 0, func(m move) int64 {
			if booked && m.day() == v.Booking.Day {
				return 0
			}
			return moved + off(m)
		})
		return
	}
	factor := int64(1)
	if int(v.Booking.Day-q.p.AsOf.Date()) <= price.ShortNoticeDays {
		factor = int64(price.ShortNoticeFactor)
	}
	q.cost(tier(plant.TierConfirmed), i, broken, func(m move) int64 {
		days := int(m.day() - v.Booking.Day)
		if days == 0 {
			return 0
		}
		return heads * int64(price.MovedPerHead+price.MovedPerHeadDay*min(max(days, -days), price.MovedDaysCap)) * factor
	})
	q.cost(tier(plant.TierWishes), i, 0, off)
}

// deliveryCosts prices the day of delivery.
func (q *question) deliveryCosts(i int, tier func(string) *schedule.Tier) {
	c, price := &q.work[i].truck.Contract, &q.p.Prices
	late := func(m move) int64 { return int64(max(0, m.last()-c.Due)) }
	if c.Deadline != calendar.None {
		q.cost(tier(plant.TierDeadlines), i, 0, func(m move) int64 {
			if m.last() > c.Deadline {
				return int64(price.DeadlineMissed)
			}
			return 0
		})
	}
	q.cost(tier(plant.TierDamages), i, 0, func(m move) int64 {
		d := late(m) * int64(c.DamagesPerDay)
		if c.DamagesCap > 0 {
			d = min(d, int64(c.DamagesCap))
		}
		return d
	})
	q.cost(tier(plant.TierLateness), i, 0, func(m move) int64 { return late(m) * int64(price.LateDay) * int64(c.Weight) })
}

// waiting prices the days between a final inspection and the start of delivery.
func (q *question) waiting(delivery int, calm *schedule.Tier) {
	for i := range q.work {
		w := &q.work[i]
		if w.truck != q.work[delivery].truck || w.wish != nil || w.stage.Visit != plant.FinalInspection {
			continue
		}
		g := schedule.Gap{From: i, To: delivery, Cap: int32(q.p.Buffer.WaitCapDays), Weight: int64(q.p.Prices.WaitDay)}
		for _, m := range w.moves {
			g.FromDay = append(g.FromDay, int32(m.last()))
		}
		for _, m := range q.work[delivery].moves {
			g.ToDay = append(g.ToDay, int32(m.day()))
		}
		calm.Gaps = append(calm.Gaps, g)
	}
}

// before lists the starts that the plan in force gave to near work.
func (q *question) before() map[rowKey]calendar.Moment {
	near := map[rowKey]calendar.Moment{}
	if q.p.Plan == nil {
		return near
	}
	end := q.p.AsOf + calendar.Moment(q.p.Buffer.NearDays)*1440
	for _, r := range q.p.Plan.Stages {
		if r.Start >= q.p.AsOf && r.Start < end {
			if i, ok := q.at[rowKey{r.Truck, r.Stage}]; ok && q.work[i].wish == nil {
				near[rowKey{r.Truck, r.Stage}] = r.Start
			}
		}
	}
	return near
}
