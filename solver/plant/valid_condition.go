package plant

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
)

// Conditions looks for faults of conditions for the plant, however they were made.
// The faults come without file and line.
func (p *Plant) Conditions(list []Condition) []Fault {
	c := &checker{known: newKnown(p)}
	format := FormatVersion
	conditionKeys(c, &format, &list)
	var faults []Fault
	for _, v := range append(c.findings, conditionFindings(p, list)...) {
		if len(list) > 0 {
			faults = append(faults, v.fault(v.at))
		}
	}
	return faults
}

// conditionFindings looks at each condition: that it says what it must and no more,
// and speaks of what is there to be kept.
func conditionFindings(p *Plant, list []Condition) []finding {
	q := &inquiry{p: p}
	for i := range list {
		c := &list[i]
		at := place{key("conditions"), nth(i, c.Kind)}
		uses, ok := conditionUses[c.Kind]
		if !ok {
			continue
		}
		all := slices.Concat(uses.needs, uses.may)
		for _, g := range []struct {
			key string
			yes bool
		}{
			{"truck", c.Truck != ""}, {"than", c.Than != ""}, {"visit", c.Visit != ""}, {"department", c.Department != ""},
			{"customer", c.Customer != ""}, {"day", c.Day != calendar.None},
			{"over", c.Over.From != calendar.None || c.Over.Through != calendar.None},
		} {
			switch {
			case !g.yes && slices.Contains(uses.needs, g.key):
				q.find(wrong{fmt.Sprintf("a condition of the kind %s needs %s", c.Kind, g.key), strings.Join(all, ", "), "write " + g.key}, at.key(g.key)...)
			case g.yes && !slices.Contains(all, g.key):
				q.find(wrong{fmt.Sprintf("a condition of the kind %s has no use for %s", c.Kind, g.key), strings.Join(all, ", "), "take " + g.key + " away, or correct the kind"}, at.key(g.key)...)
			}
		}
		q.conditionSense(c, at)
	}
	return q.findings
}

func (q *inquiry) conditionSense(c *Condition, at place) {
	switch c.Kind {
	case KeepVisit:
		switch {
		case (c.Truck == "") == (c.Visit == ""):
			q.find(wrong{"it speaks of no visit, or of two things at once", "a truck, or one visit", "write truck or visit, one of them"}, at...)
		case c.Day != calendar.None && c.Visit == "":
			q.find(wrong{"a day is given for all the visits to a truck", "a day for one visit", "name the visit"}, at.key("day")...)
		case c.Day == calendar.None:
			q.kept(c.Truck, c.Visit, at.key(map[bool]string{true: "truck", false: "visit"}[c.Visit == ""]))
		}
	case HoldVisit:
		if v := q.p.FindVisit(c.Visit); v != nil && !v.Planned() {
			q.find(wrong{fmt.Sprintf("visit %s is %s", v.ID, v.Booking.State), "a visit that has yet to take place", "correct the visit"}, at.key("visit")...)
		}
	case KeepDelivery:
		if t := q.p.FindTruck(c.Truck); t != nil && c.Day == calendar.None && q.p.PlannedDelivery(t) == calendar.None {
			q.find(wrong{fmt.Sprintf("nothing says when %s is delivered", t.ID), "a truck with a delivery in the plan or the contract", "give the day"}, at.key("truck")...)
		}
	case MoveRather:
		if c.Truck != "" && c.Truck == c.Than {
			q.find(wrong{"a truck cannot move rather than itself", "two trucks", "correct one of them"}, at.key("than")...)
		} else if c.Than != "" {
			q.kept(c.Than, "", at.key("than"))
		}
	case NoVisits:
		if c.Over.From != calendar.None || c.Over.Through != calendar.None {
			if c.Over.From == calendar.None || c.Over.Through == calendar.None {
				q.find(wrong{"one end of the days is missing", "a first and a last day", "write from and through"}, at.key("over")...)
			}
			q.span(c.Over.From, c.Over.Through, at.key("over")...)
		}
	}
}

// kept looks whether there is a visit with a day that can be kept.
func (q *inquiry) kept(truck, visit string, at place) {
	if q.p.FindTruck(truck) == nil && q.p.FindVisit(visit) == nil {
		return // said of the reference
	}
	if len(q.p.Keeping(truck, visit)) == 0 {
		q.find(wrong{fmt.Sprintf("%s%s has no visit with a day that could be kept", truck, visit), "a visit with a day in the plan in force or in its booking", "plan first (wetdown plan FILE -o FILE), or name another"}, at...)
	}
}

// A Stay is a visit and the day on which it stays.
type Stay struct {
	Visit *Visit
	Day   calendar.Date
}

// Keeping lists the visits to a truck, or the one visit named, that have yet to take
// place and have a day: that of the plan in force, else that of the booking.
func (p *Plant) Keeping(truck, visit string) (list []Stay) {
	for i := range p.Visits {
		v := &p.Visits[i]
		if !v.Planned() || v.Truck != truck && v.ID != visit {
			continue
		}
		if day := p.PlannedDay(v); day != calendar.None {
			list = append(list, Stay{v, day})
		}
	}
	return list
}

// PlannedDay is the day of a visit by the plan in force, else by its booking;
// calendar.None when neither says one.
func (p *Plant) PlannedDay(v *Visit) calendar.Date {
	if p.Plan != nil {
		for _, r := range p.Plan.Visits {
			if r.Visit == v.ID && r.Day != calendar.None {
				return r.Day
			}
		}
	}
	if v.Booking.State == Requested {
		return calendar.None
	}
	return v.Booking.Day
}

// PlannedDelivery is the day on which the plan in force delivers the truck, else the
// day of its contract.
func (p *Plant) PlannedDelivery(t *Truck) calendar.Date {
	day := calendar.None
	if p.Plan != nil {
		for _, r := range p.Plan.Stages {
			if s := p.FindStage(r.Stage); r.Truck == t.ID && s != nil && s.Delivers {
				day = max(day, (r.End - 1).Date())
			}
		}
	}
	if day == calendar.None {
		return t.Contract.Due
	}
	return day
}
