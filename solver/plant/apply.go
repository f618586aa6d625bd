package plant

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"wetdown/calendar"
)

// Apply returns the plant with the slips made facts, in their order, and leaves
// p as it is. Slips of p that were applied are no longer in the result; the plan
// in force stays, for the next plan to be compared with.
//
//   - line_off_moved adds an override: the projected line-off day moved by so many
//     working days of the line, not to a day before now.
//   - stage_overran lengthens the stage: what remains of it when it runs, else an
//     overrun of the truck.
//   - test_failed opens the stage again, done or running, and with it every done or
//     running stage that comes after it on the route, visits and lasting work
//     (Stage.Lasting) excepted: a stripe stays on the truck when a test is repeated.
//     What is open after such work still waits for the test: After says so. A truck
//     that stands ready for a later stage goes back to work.
//   - bay_down closes the bay. A truck that stands ready in it on one of these days
//     leaves it.
//   - crew_away takes heads off the crew, down to none.
//   - customer_moves adds a blackout. When it meets a booked day, travel included,
//     the customer gives the day back: the booking is tentative again, and a truck that
//     stands ready for the visit leaves. Work before
//     the visit that keeps only so long (a maximum wait) is then opened again, if
//     done or running.
//
// Every slip that cannot be applied is an error that names it; they come joined.
func (p *Plant) Apply(slips []Slip) (*Plant, error) {
	out := p.clone()
	var errs []error
	for i := range slips {
		s := &slips[i]
		if err := out.apply(s); err != nil {
			errs = append(errs, fmt.Errorf("slip %s (%s): %w", cmp.Or(s.ID, fmt.Sprintf("number %d", i+1)), s.Kind, err))
		}
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	out.Slips = slices.DeleteFunc(out.Slips, func(s Slip) bool { return slices.Contains(slips, s) })
	return out, nil
}

// clone copies what Apply may change, and shares the rest.
func (p *Plant) clone() *Plant {
	out := *p
	out.Trucks = slices.Clone(p.Trucks)
	for i := range out.Trucks {
		t := &out.Trucks[i]
		t.Line.Overrides = slices.Clone(t.Line.Overrides)
		t.Done = slices.Clone(t.Done)
		t.Running = slices.Clone(t.Running)
		t.Overruns = slices.Clone(t.Overruns)
	}
	out.Visits = slices.Clone(p.Visits)
	for i := range out.Visits {
		out.Visits[i].Blackouts = slices.Clone(out.Visits[i].Blackouts)
	}
	out.Bays = slices.Clone(p.Bays)
	for i := range out.Bays {
		out.Bays[i].Closures = slices.Clone(out.Bays[i].Closures)
	}
	out.Crews = slices.Clone(p.Crews)
	for i := range out.Crews {
		out.Crews[i].Days = slices.Clone(out.Crews[i].Days)
	}
	out.Slips = slices.Clone(p.Slips)
	return &out
}

// apply makes one slip a fact, in place.
func (p *Plant) apply(s *Slip) error {
	switch s.Kind {
	case LineOffMoved:
		return p.lineOffMoved(s)
	case StageOverran:
		return p.stageOverran(s)
	case TestFailed:
		return p.testFailed(s)
	case BayDown:
		b := p.FindBay(s.Bay)
		if b == nil {
			return fmt.Errorf("there is no bay %q: name one of the plant's bays", s.Bay)
		}
		over, err := s.days()
		if err == nil {
			b.Closures = append(b.Closures, over)
			p.leave(s.Bay, over)
		}
		return err
	case CrewAway:
		c := p.FindCrew(s.Crew)
		if c == nil {
			return fmt.Errorf("there is no crew %q: name one of the plant's crews", s.Crew)
		}
		if s.Heads <= 0 {
			return fmt.Errorf("%d heads of crew %s are away: say how many, at least 1", s.Heads, s.Crew)
		}
		over, err := s.days()
		if err == nil {
			c.away(s.Heads, over)
		}
		return err
	case CustomerMoves:
		return p.customerMoves(s)
	}
	return fmt.Errorf("%q is no kind of slip: use %s, %s, %s, %s, %s or %s", s.Kind,
		LineOffMoved, StageOverran, TestFailed, BayDown, CrewAway, CustomerMoves)
}

// maxSlipDays bounds the days that one slip may name.
const maxSlipDays = 3 * 366

// days returns the days of the slip with its cause as their reason.
func (s *Slip) days() (Range, error) {
	r := s.Over
	if r.From == calendar.None || r.Through == calendar.None || r.Through < r.From {
		return r, fmt.Errorf("it lasts from %q through %q: give a first day and a last day not before it", r.From, r.Through)
	}
	if r.Through-r.From >= maxSlipDays {
		return r, fmt.Errorf("it lasts from %v through %v: at most %d days are possible, give a nearer last day", r.From, r.Through, maxSlipDays)
	}
	r.Reason = cmp.Or(r.Reason, s.Cause)
	return r, nil
}

// slipTruck returns the truck of the slip.
func (p *Plant) slipTruck(s *Slip) (*Truck, error) {
	if t := p.FindTruck(s.Truck); t != nil {
		return t, nil
	}
	return nil, fmt.Errorf("there is no truck %q: give a shop order number of the file", s.Truck)
}

// slipStage returns the truck and the stage of the slip, which must be on the
// truck's route.
func (p *Plant) slipStage(s *Slip) (*Truck, *Stage, error) {
	t, err := p.slipTruck(s)
	if err != nil {
		return nil, nil, err
	}
	g := p.FindStage(s.Stage)
	switch {
	case g == nil:
		return nil, nil, fmt.Errorf("there is no stage %q: name one of the route", s.Stage)
	case !p.Applies(t, g) && !t.done(g.ID) && t.running(g.ID) == nil:
		return nil, nil, fmt.Errorf("stage %s is not on the route of truck %s: name one that is", g.ID, t.ID)
	}
	return t, g, nil
}

// done reports whether the stage is finished.
func (t *Truck) done(stage string) bool {
	return slices.ContainsFunc(t.Done, func(d Done) bool { return d.Stage == stage })
}

// running returns the stage's record when it is under way, or nil.
func (t *Truck) running(stage string) *Running {
	return find(t.Running, func(r *Running) string { return r.Stage }, stage)
}

// reopen makes the stage open again and reports whether it was not.
func (t *Truck) reopen(stage string) bool {
	n := len(t.Done) + len(t.Running)
	t.Done = slices.DeleteFunc(t.Done, func(d Done) bool { return d.Stage == stage })
	t.Running = slices.DeleteFunc(t.Running, func(r Running) bool { return r.Stage == stage })
	return len(t.Done)+len(t.Running) < n
}

func (p *Plant) lineOffMoved(s *Slip) error {
	t, err := p.slipTruck(s)
	switch {
	case err != nil:
		return err
	case t.Line.Off != calendar.None:
		return fmt.Errorf("truck %s is off the line since %s: say which stage overran instead", t.ID, t.Line.Off)
	case s.Days == 0:
		return errors.New("the line-off day moves by no days: give the working days, negative for earlier")
	}
	j, err := p.Project()
	if err != nil {
		return err
	}
	off := j.LineOff(t.ID)
	step := j.hours.NextWorkDay
	if s.Days < 0 {
		step = j.hours.PrevWorkDay
	}
	for range max(s.Days, -s.Days) {
		next, ok := step(off)
		if !ok {
			return fmt.Errorf("%d working days from %s lead outside the calendar of the line: give fewer days", s.Days, off)
		}
		off = next
	}
	o := Override{On: p.AsOf.Date(), Off: max(off, p.AsOf.Date()), By: cmp.Or(s.Clock, "slip"), Reason: "slip " + s.ID, Cause: s.Cause}
	if s.Known != calendar.None {
		o.On = s.Known
	}
	if n := t.Line.newest(); n != nil {
		o.On = max(o.On, n.On)
	}
	t.Line.Overrides = append(t.Line.Overrides, o)
	return nil
}

func (p *Plant) stageOverran(s *Slip) error {
	t, g, err := p.slipStage(s)
	switch {
	case err != nil:
		return err
	case s.Minutes == 0:
		return errors.New("the stage overran by no minutes: give the working minutes, negative for less work")
	case t.done(g.ID):
		return fmt.Errorf("stage %s of truck %s is done: if it must be repeated, say test_failed", g.ID, t.ID)
	}
	if r := t.running(g.ID); r != nil {
		if r.RemainingMinutes < 0 {
			if r.RemainingMinutes, err = p.remaining(t, g, r); err != nil {
				return err
			}
		}
		r.RemainingMinutes = max(1, r.RemainingMinutes+s.Minutes)
		return nil
	}
	if g.Length != LengthHours {
		return fmt.Errorf("stage %s has no minutes of its own to overrun: change the visit's length, or move the truck's line-off or an earlier stage", g.ID)
	}
	t.Overruns = append(t.Overruns, Overrun{Stage: g.ID, Minutes: s.Minutes})
	return nil
}

// remaining returns the working minutes that a running stage still needs by the
// estimate from its start, at least 1.
func (p *Plant) remaining(t *Truck, g *Stage, r *Running) (int, error) {
	if g.Length != LengthHours {
		return 0, fmt.Errorf("stage %s of truck %s runs without a word on what remains of it: give its remaining minutes in the file first", g.ID, t.ID)
	}
	grid, err := p.Grid(min(r.Started.Date(), p.AsOf.Date()), max(p.Horizon.Through, p.AsOf.Date()))
	if err != nil {
		return 0, err
	}
	h, err := p.DepartmentHours(g.Department, grid)
	if err != nil {
		return 0, err
	}
	return max(1, p.StageMinutes(t, g)-h.Between(r.Started, p.AsOf)), nil
}

func (p *Plant) testFailed(s *Slip) error {
	t, g, err := p.slipStage(s)
	switch {
	case err != nil:
		return err
	case g.Visit != "":
		return fmt.Errorf("stage %s is a visit, which cannot fail: add a re-inspection visit instead", g.ID)
	case !t.reopen(g.ID):
		return fmt.Errorf("stage %s of truck %s is neither done nor running: say stage_overran if it needs longer", g.ID, t.ID)
	}
	for _, f := range p.following(g.ID) {
		if f.ID == t.Standing.Stage {
			t.Standing = Standing{}
		}
		if f.Visit == "" && !f.Lasting {
			t.reopen(f.ID)
		}
	}
	return nil
}

// following returns the stages that come after the stage on the route, whatever
// lies between, in the order of the route's list.
func (p *Plant) following(stage string) []*Stage {
	after := map[string]bool{stage: true}
	for grown := true; grown; {
		grown = false
		for i := range p.Route {
			g := &p.Route[i]
			if !after[g.ID] && slices.ContainsFunc(g.After, func(a After) bool { return after[a.Stage] }) {
				after[g.ID] = true
				grown = true
			}
		}
	}
	var list []*Stage
	for i := range p.Route {
		if g := &p.Route[i]; after[g.ID] && g.ID != stage {
			list = append(list, g)
		}
	}
	return list
}

// leave has the trucks leave a bay that stand ready in it on one of these days: from now
// until the end of what they stand for, by the plan in force, or on the day it is booked for.
func (p *Plant) leave(bay string, over Range) {
	for i := range p.Trucks {
		t := &p.Trucks[i]
		if t.Standing.Bay != bay {
			continue
		}
		until := p.AsOf.Date()
		if g := p.FindStage(t.Standing.Stage); g != nil && g.Visit != "" {
			if v := p.VisitOf(t, g.Visit); v != nil {
				until = max(until, v.Booking.Day)
			}
		}
		if p.Plan != nil {
			for _, r := range p.Plan.Stages {
				if r.Truck == t.ID && r.Stage == t.Standing.Stage {
					until = max(until, (r.End - 1).Date())
				}
			}
		}
		if over.Through >= p.AsOf.Date() && over.From <= until {
			t.Standing = Standing{}
		}
	}
}

func (p *Plant) customerMoves(s *Slip) error {
	v := p.FindVisit(s.Visit)
	switch {
	case v == nil:
		return fmt.Errorf("there is no visit %q: name one of the file", s.Visit)
	case !v.Planned():
		return fmt.Errorf("visit %s is %s: only a visit that has yet to take place can move", v.ID, v.Booking.State)
	}
	over, err := s.days()
	if err != nil {
		return err
	}
	v.Blackouts = append(v.Blackouts, over)
	if v.Booking.Day == calendar.None {
		return nil
	}
	t := p.FindTruck(v.Truck)
	at := slices.IndexFunc(p.Route, func(g Stage) bool { return g.Visit == v.Kind })
	if t == nil || at < 0 {
		return fmt.Errorf("visit %s has no truck or no stage in the route: correct the file", v.ID)
	}
	g := &p.Route[at]
	if t.running(g.ID) != nil {
		return fmt.Errorf("visit %s is under way: it can no longer move; add a re-inspection visit if the customer must come again", v.ID)
	}
	last, err := p.lastDay(v, g)
	if err != nil {
		return err
	}
	if over.Through < v.Booking.Day.AddDays(-v.TravelDays) || over.From > last.AddDays(v.TravelDays) {
		return nil
	}
	v.Booking = Booking{State: Tentative, Day: v.Booking.Day, HoldUntil: calendar.None}
	if t.Standing.Stage == g.ID {
		t.Standing = Standing{}
	}
	for _, a := range g.After {
		if a.MaxWorkMinutes > 0 || a.MaxElapsedMinutes > 0 {
			t.reopen(a.Stage)
		}
	}
	return nil
}

// lastDay returns the last day of a visit that starts in the first working part
// of the day it is booked for.
func (p *Plant) lastDay(v *Visit, g *Stage) (calendar.Date, error) {
	grid, err := p.Grid(v.Booking.Day, v.Booking.Day+60)
	if err != nil {
		return calendar.None, err
	}
	h, err := p.DepartmentHours(g.Department, grid)
	if err != nil {
		return calendar.None, err
	}
	slot := h.Next(0)
	for range v.Halves - 1 {
		slot = h.Next(min(slot+1, grid.Slots()))
	}
	return grid.Date(min(slot, grid.Slots()-1)), nil
}
