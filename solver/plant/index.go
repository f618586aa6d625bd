package plant

// Applies reports whether the stage is part of the truck's route: the truck has
// every feature the stage needs and, where the stage is a visit, has a visit of
// that kind that still has to take place (Visit.Planned). A stage that applies
// may already be done.
func (p *Plant) Applies(t *Truck, s *Stage) bool {
	return t.Has(s.Needs) && (s.Visit == "" || p.VisitOf(t, s.Visit) != nil)
}

// VisitOf returns the truck's visit of the kind that still has to take place,
// or nil.
func (p *Plant) VisitOf(t *Truck, kind string) *Visit {
	for i := range p.Visits {
		if v := &p.Visits[i]; v.Truck == t.ID && v.Kind == kind && v.Planned() {
			return v
		}
	}
	return nil
}

// StageMinutes returns the working minutes that a stage of length hours takes
// for the truck: the likely estimate for its work content, the extras for its
// features, and what the truck's overruns add; at least 1. Stages of another
// length give 0: their length is the visit's or the road's.
func (p *Plant) StageMinutes(t *Truck, s *Stage) int {
	if s.Length != LengthHours {
		return 0
	}
	m := s.Hours.Of(t.Content).LikelyMinutes
	for _, e := range s.Extra {
		if t.Has([]string{e.Feature}) {
			m += e.Minutes
		}
	}
	for _, o := range t.Overruns {
		if o.Stage == s.ID {
			m += o.Minutes
		}
	}
	return max(m, 1)
}

// ReadyWorkDays returns the full working days that the plant keeps between the last
// certificate of the truck and the first day of its final inspection: those of the
// buffer, or those that were approved for this truck.
func (p *Plant) ReadyWorkDays(t *Truck) int {
	if t.Ready.Approver != "" {
		return t.Ready.WorkDays
	}
	return p.Buffer.ReadyWorkDays
}

// DriveDays returns the working days on the road to the truck's customer: miles
// over Prices.DriveMilesPerDay, rounded up, at least 1.
func (p *Plant) DriveDays(t *Truck) int {
	c := p.FindCustomer(t.Customer)
	if c == nil || p.Prices.DriveMilesPerDay <= 0 {
		return 1
	}
	return max(1, (c.Miles+p.Prices.DriveMilesPerDay-1)/p.Prices.DriveMilesPerDay)
}

// Of returns the estimate for a work content; that for Medium when the content
// is none of the three.
func (b *ByContent) Of(content string) Estimate {
	switch content {
	case Light:
		return b.Light
	case Heavy:
		return b.Heavy
	}
	return b.Medium
}

// Of returns the minutes for a work content, as ByContent.Of.
func (k *Takt) Of(content string) int {
	switch content {
	case Light:
		return k.LightMinutes
	case Heavy:
		return k.HeavyMinutes
	}
	return k.MediumMinutes
}

// find returns the element of list whose id, as id reads it, is the wanted one,
// or nil.
func find[T any](list []T, id func(*T) string, want string) *T {
	for i := range list {
		if id(&list[i]) == want {
			return &list[i]
		}
	}
	return nil
}

// FindTruck returns the truck with the shop order number, or nil.
func (p *Plant) FindTruck(id string) *Truck {
	return find(p.Trucks, func(t *Truck) string { return t.ID }, id)
}

// FindStage returns the stage of the route, or nil.
func (p *Plant) FindStage(id string) *Stage {
	return find(p.Route, func(s *Stage) string { return s.ID }, id)
}

// FindVisit returns the visit, or nil.
func (p *Plant) FindVisit(id string) *Visit {
	return find(p.Visits, func(v *Visit) string { return v.ID }, id)
}

// FindBay returns the bay, or nil.
func (p *Plant) FindBay(id string) *Bay {
	return find(p.Bays, func(b *Bay) string { return b.ID }, id)
}

// FindCrew returns the crew, or nil.
func (p *Plant) FindCrew(id string) *Crew {
	return find(p.Crews, func(c *Crew) string { return c.ID }, id)
}

// FindWish returns the wish, or nil.
func (p *Plant) FindWish(id string) *Wish {
	return find(p.Wishes, func(w *Wish) string { return w.ID }, id)
}

// FindCustomer returns the customer, or nil.
func (p *Plant) FindCustomer(id string) *Customer {
	return find(p.Customers, func(c *Customer) string { return c.ID }, id)
}

// FindDepartment returns the department, or nil.
func (p *Plant) FindDepartment(id string) *Department {
	return find(p.Departments, func(d *Department) string { return d.ID }, id)
}

// FindCalendar returns the calendar, or nil.
func (p *Plant) FindCalendar(id string) *Calendar {
	return find(p.Calendars, func(c *Calendar) string { return c.ID }, id)
}

// FindStation returns the station of the line, or nil.
func (p *Plant) FindStation(id string) *Station {
	return find(p.Line.Stations, func(s *Station) string { return s.ID }, id)
}
