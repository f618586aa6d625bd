package ical

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"strings"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// A Contact is what an event needs and a plant file does not say.
type Contact struct {
	Domain       string    // part of every UID after its @, such as plant.example; never change it
	Organizer    Person    // of the plant
	Attendees    []Person  // whom to invite; feeds take none
	Address      string    // of the plant
	Arrival      string    // where to come to, what to bring, in words for visitors
	URL          string    // page about the visit; "" for none
	Stamp        time.Time // when the event is written
	LastModified time.Time // when what it says last changed; zero: not said
}

// Visit returns the invitation to one visit, as its first revision; what follows
// an earlier one is for Next. The hours are those of the plan in force.
//
// A visit that is booked tentatively is Tentative, a confirmed one Confirmed. A
// confirmed one that the plan has moved to another day is Tentative until its
// booking has that day: nobody has agreed to it yet. A cancelled visit, and one
// that the plan breaks, is Cancelled and has no hours. Visits that are only
// requested, done or missed are refused, and so is one that the plan in force does
// not know.
func Visit(p *plant.Plant, v *plant.Visit, c Contact) (Event, error) {
	s, err := lookUp(p, v)
	if err != nil {
		return Event{}, err
	}
	switch v.Booking.State {
	case plant.Tentative, plant.Confirmed, plant.Cancelled:
	case plant.Requested:
		return Event{}, fmt.Errorf("visit %s is only requested, nobody has been promised a day: book it tentatively, then invite", v.ID)
	default:
		return Event{}, fmt.Errorf("visit %s is over (%s): there is nothing to invite to, make a new visit", v.ID, spoken(v.Booking.State))
	}
	e, err := c.event(p, "visit", v.ID)
	if err != nil {
		return Event{}, err
	}
	e.URL, e.Attendees = c.URL, c.Attendees
	what := spoken(v.Kind) + " of truck " + v.Truck
	if s.off() {
		e.Status = Cancelled
		e.Summary = "Cancelled: " + what
		e.Description = cancelled(p, v, what)
		return e, nil
	}
	e.Status, e.Start, e.End = s.status(), s.row.Start, s.row.End
	e.Summary = capital(what)
	e.Location = joined(position(p, s.row.Bay), p.Name, c.Address)
	e.Description = s.invitation(p, what, c.Arrival)
	return e, nil
}

// event begins the event about something that the plant calls by names.
func (c *Contact) event(p *plant.Plant, names ...string) (Event, error) {
	if c.Domain == "" || len(c.Domain) > 253 || strings.Trim(c.Domain, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-") != "" {
		return Event{}, fmt.Errorf("%.80q is no domain for the UIDs of events: give one of the plant's own, of letters, digits, dots and hyphens", c.Domain)
	}
	// What is hashed names each part with its length, so that no two things are
	// written alike. UIDs stay for life: this may never change.
	h := sha256.New()
	for _, name := range append([]string{p.Name}, names...) {
		fmt.Fprintf(h, "%d:%s,", len(name), name)
	}
	return Event{
		UID:          fmt.Sprintf("%x@%s", h.Sum(nil)[:16], c.Domain),
		Zone:         p.Zone,
		Start:        calendar.NoMoment,
		End:          calendar.NoMoment,
		Organizer:    c.Organizer,
		Stamp:        c.Stamp,
		LastModified: c.LastModified,
	}, nil
}

// A stay is a visit and what the plan in force says of it.
type stay struct {
	visit  *plant.Visit
	stage  *plant.Stage // that is the visit; nil if the visit does not take place
	row    plant.Planned
	wishes []plant.Planned // by start
	day    calendar.Date   // of the plan's visit
}

// off reports whether the visit does not take place.
func (s *stay) off() bool { return s.stage == nil }

// lookUp finds the visit in the plan in force.
func lookUp(p *plant.Plant, v *plant.Visit) (stay, error) {
	s := stay{visit: v}
	if !v.Planned() {
		return s, nil
	}
	if p.Plan == nil {
		return s, noPlan(p)
	}
	known := false
	for _, out := range p.Plan.Visits {
		if out.Visit == v.ID {
			if known, s.day = true, out.Day; out.Outcome == plant.Broken {
				return s, nil
			}
		}
	}
	for _, r := range p.Plan.Stages {
		id, _, inside := strings.Cut(r.Stage, ".")
		stage := p.FindStage(id)
		switch {
		case r.Truck != v.Truck || stage == nil || stage.Visit != v.Kind:
		case inside:
			s.wishes = append(s.wishes, r)
		default:
			s.stage, s.row = stage, r
		}
	}
	if !known || s.off() {
		return s, fmt.Errorf("the plan in force does not know visit %s of truck %s: plan the plant again", v.ID, v.Truck)
	}
	return s, nil
}

func noPlan(p *plant.Plant) error {
	return fmt.Errorf("plant %s has no plan in force, so nothing has hours: plan it first", p.Name)
}

// moved reports whether the plan has the visit on another day than was booked.
func (s *stay) moved() bool {
	return s.visit.Booking.State != plant.Requested && s.day != s.visit.Booking.Day
}

// status is that of a visit that takes place.
func (s *stay) status() string {
	if s.visit.Booking.State == plant.Confirmed && !s.moved() {
		return Confirmed
	}
	return Tentative
}

// invitation says what a delegation has to know.
func (s *stay) invitation(p *plant.Plant, what, arrival string) string {
	v := s.visit
	t := &page{}
	t.say("%s, shop order %s of %s.", capital(spoken(v.Kind)), v.Truck, p.Name)
	t.say("Delegation: %s.", people(v.Heads))
	t.say("%s, by the clock of the plant (%s).", capital(span(s.row.Start, s.row.End)), p.Zone)
	if s.row.Bay != "" {
		t.say("The truck stands at: %s.", position(p, s.row.Bay))
	}
	for _, r := range s.wishes {
		t.say("- %s: %s, at %s.", wishName(p, r), span(r.Start, r.End), position(p, r.Bay))
	}
	t.gap()
	b := v.Booking
	switch {
	case s.moved() && b.State == plant.Confirmed:
		t.say("This day is proposed in place of %s, which was agreed. Please accept or decline it.", onDay(b.Day))
	case s.moved():
		t.say("This day is proposed in place of %s, which was held for you. Please accept or decline it.", onDay(b.Day))
	case b.State == plant.Confirmed:
		t.say("This day is agreed. The hours are those of the plan in force; a change of them is sent to you.")
	default:
		t.say("This day is held for you and not agreed yet. Please accept or decline it.")
	}
	if b.State == plant.Tentative && b.HoldUntil != calendar.None {
		t.say("It is held through %s.", onDay(b.HoldUntil))
	}
	if arrival != "" {
		t.gap()
		t.say("Arrival: %s", arrival)
	}
	s.cautions(p, t)
	return t.String()
}

// cancelled says that a visit does not take place.
func cancelled(p *plant.Plant, v *plant.Visit, what string) string {
	t := &page{}
	day := ""
	if v.Booking.Day != calendar.None {
		day = " on " + onDay(v.Booking.Day)
	}
	t.say("The %s at %s%s does not take place.", what, p.Name, day)
	if v.Planned() {
		t.say("The plant has no day for it yet that it can keep, and will propose another.")
	}
	return t.String()
}

// cautions ends a page with what to look out for in the work of the visit.
func (s *stay) cautions(p *plant.Plant, t *page) {
	list := p.Hazards(&plant.Plan{Stages: append([]plant.Planned{s.row}, s.wishes...)})
	if len(list) == 0 {
		return
	}
	t.gap()
	t.say("Cautions")
	for _, h := range list {
		t.say("- %s: %s", h.Work, h.Brief)
	}
	t.say("%s", plant.Deferral)
}

// wishName is what the delegation wants to do in the row.
func wishName(p *plant.Plant, r plant.Planned) string {
	_, id, _ := strings.Cut(r.Stage, ".")
	if w := p.FindWish(id); w != nil {
		return cmp.Or(w.Name, capital(spoken(id)))
	}
	return capital(spoken(id))
}

// position is what people call a bay.
func position(p *plant.Plant, bay string) string {
	if b := p.FindBay(bay); b != nil {
		return cmp.Or(b.Name, spoken(b.ID))
	}
	return bay
}
