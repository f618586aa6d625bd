package check

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// Conditions judges a plan by what a person insists on beside the rules. Where things
// are kept where they are, the plan in force is that of p. The violations carry the
// kind of the condition as their rule. Work under way is what it is: no condition is
// asked of it.
func Conditions(p *plant.Plant, plan *plant.Plan, list []plant.Condition) []Violation {
	h, err := open(p, plan)
	if err != nil {
		return []Violation{{Rule: "complete", At: calendar.NoMoment, Sentence: "Nothing can be judged: " + err.Error() + ". Mend the plant file first."}}
	}
	for i := range list {
		c := &list[i]
		h.rule = c.Kind
		switch c.Kind {
		case plant.KeepVisit:
			h.stays(c.Truck, c.Visit, c.Day)
		case plant.MoveRather:
			h.stays(c.Than, "", calendar.None)
		case plant.HoldVisit:
			if v := h.find(c.Visit); v != nil && v.row == nil {
				h.report(Violation{Visit: v.ID, At: calendar.NoMoment}, "Visit %s is held on no day, and it was to be held. Give it a day.", v.ID)
			}
		case plant.KeepDelivery:
			h.deliveredBy(c)
		case plant.NotBefore:
			for _, v := range h.visits {
				if r := v.row; r != nil && r.running == nil && r.docket.truck.Customer == c.Customer && r.Start.Date() < c.Day {
					h.report(Violation{Visit: v.ID, Truck: r.Truck, At: r.Start}, "Visit %s begins on %s, before %s. Visit later.", v.ID, onDay(r.Start.Date()), onDay(c.Day))
				}
			}
		case plant.NoVisits:
			for _, v := range h.visits {
				if r := v.row; r != nil && r.running == nil && r.Start.Date() <= c.Over.Through && (r.End-1).Date() >= c.Over.From {
					h.report(Violation{Visit: v.ID, Truck: r.Truck, At: r.Start}, "Visit %s takes place from %s, and from %s through %s there was to be none. Visit on another day.", v.ID, onDay(r.Start.Date()), onDay(c.Over.From), onDay(c.Over.Through))
				}
			}
		case plant.NoOvertime:
			h.inRegularTime(c.Department)
		}
	}
	return h.broken
}

func (h *hearing) find(id string) *visit {
	for _, v := range h.visits {
		if v.ID == id {
			return v
		}
	}
	return nil
}

// stays judges that visits are on their days.
func (h *hearing) stays(truck, id string, day calendar.Date) {
	for _, v := range h.visits {
		if v.Truck != truck && v.ID != id || v.row != nil && v.row.running != nil {
			continue
		}
		want := day
		if want == calendar.None {
			if want = h.p.PlannedDay(v.Visit); want == calendar.None {
				continue
			}
		}
		if v.row == nil {
			h.report(Violation{Visit: v.ID, Truck: v.Truck, At: calendar.NoMoment}, "Visit %s is held on no day, and it was to be on %s.", v.ID, onDay(want))
		} else if got := v.row.Start.Date(); got != want {
			h.report(Violation{Visit: v.ID, Truck: v.Truck, At: v.row.Start}, "Visit %s is on %s, and it was to be on %s.", v.ID, onDay(got), onDay(want))
		}
	}
}

func (h *hearing) deliveredBy(c *plant.Condition) {
	for _, d := range h.dockets {
		if d.truck.ID != c.Truck {
			continue
		}
		by := c.Day
		if by == calendar.None {
			by = h.p.PlannedDelivery(d.truck)
		}
		if r := h.delivers(d); r != nil && r.running == nil && (r.End-1).Date() > by {
			h.report(Violation{Truck: d.truck.ID, Stage: r.Stage, At: r.End}, "%s is delivered on %s, later than %s.", d.truck.ID, onDay((r.End - 1).Date()), onDay(by))
		}
	}
}

// inRegularTime judges that a department does all its work without overtime: what a
// row asks for fits between its start and its end into the shifts of the week from
// Monday to Friday alone, and it begins and ends in one of them.
func (h *hearing) inRegularTime(department string) {
	d := h.departments[department]
	if d == nil {
		return
	}
	c := h.p.FindCalendar(d.Calendar)
	if c == nil {
		return
	}
	rules := c.Rules
	rules.Overtime = nil
	rules.Week[0], rules.Week[6] = nil, nil
	regular, err := calendar.Compile(h.grid, rules)
	if err != nil {
		return
	}
	for _, r := range h.rows {
		owner := r.stage.Department
		if r.wish != nil {
			owner = r.wish.Department
		}
		if owner != department || r.running != nil {
			continue
		}
		at := Violation{Truck: r.Truck, Stage: r.Stage, At: r.Start}
		for _, m := range []calendar.Moment{r.Start, r.End - 1} {
			if regular.Between(m, m+1) == 0 {
				h.report(at, "%s of %s works at %s, which is overtime. Work in the regular shifts.", r.Stage, r.Truck, m)
			}
		}
		want := 0
		if r.wish != nil {
			want = r.wish.Minutes
		} else if r.stage.Length == plant.LengthHours {
			want = h.p.StageMinutes(r.docket.truck, r.stage)
		}
		if got := regular.Between(r.Start, r.End); got < want {
			h.report(at, "%s of %s takes %d minutes, of which only %d lie in regular shifts. Give it more time.", r.Stage, r.Truck, want, got)
		}
		if slices.Contains([]string{plant.LengthVisit, plant.LengthDrive}, r.stage.Length) && r.wish == nil {
			for day := r.Start.Date(); day <= (r.End - 1).Date(); day++ {
				if r.hours.WorksDay(day) && !regular.WorksDay(day) {
					h.report(at, "%s of %s takes up %s, which is overtime. Work on regular days.", r.Stage, r.Truck, onDay(day))
				}
			}
		}
	}
}
