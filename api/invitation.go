package api

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wetdown/api/ical"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// KindInvitation is the kind of record of what was mailed about a visit, with the
// visit's id for its ID.
const KindInvitation = "invitation"

// States of an invitation.
const (
	InvitationSent    = "sent"    // the customer knows how things are
	InvitationHeld    = "held"    // a message waits for a person to release it
	InvitationDue     = "due"     // a message is about to be mailed, or tried again
	InvitationRefused = "refused" // the mail server does not take the message
	InvitationNobody  = "nobody"  // there is something to say and no contact to say it to
)

// An Inviter is who invites delegations: the plant, as it writes to customers.
type Inviter struct {
	Domain  string // part of the names of all invitations, such as plant.example; it may never change
	Name    string // of the sender
	Mail    string // its address
	Address string // of the plant
	Arrival string // where to come to and what to bring
}

// InviteAs says who invites. It is called before anything is asked. Without it there
// are no invitations.
func (a *App) InviteAs(i Inviter) { a.host = i }

// An Invitation is where things stand with the mail about one visit.
type Invitation struct {
	Visit    string
	Truck    string
	Customer string // id
	State    string
	Method   string // of RFC 5546, of the message that waits: REQUEST or CANCEL; "" for none
	Sequence int    // of the message that waits, or else of the last one
	Start    calendar.Moment
	Seen     string // stands for what the message says: to be given back when it is released
	Summary  string
	SentAt   time.Time // when the last one was taken by the mail server; zero: none was
	Next     time.Time // when it is tried again
	Attempts int
	Problem  string // why the last try failed
}

// letters are what is kept about the mail of one visit.
type letters struct {
	Customer string
	Sent     *ical.Event // the last that the mail server took
	SentAt   time.Time
	Sending  *ical.Event // the last that was handed to the mail server
	Doubt    bool        // whether it took Sending nobody knows
	Released string      // what the event said that a person released
	Refused  string      // what the event said that the mail server refused
	Attempts int         // to send Sending
	Since    time.Time   // of the first
	Problem  string
}

// last is what the customer may know of.
func (l *letters) last() *ical.Event {
	if l.Doubt {
		return l.Sending
	}
	return l.Sent
}

// next is the message that is due when the visit is as in fresh, nil when the customer
// knows all there is. A message that was begun before and says the same is the
// same to the second, so that it has the same name.
func (l *letters) next(fresh *ical.Event, today calendar.Date) *ical.Event {
	if fresh == nil {
		return nil
	}
	e, last := *fresh, l.last()
	switch {
	case last == nil && e.Status == ical.Cancelled:
		return nil
	case last != nil:
		off := last.Status == ical.Cancelled && e.Status == ical.Cancelled // in whatever words
		e = ical.Next(*last, e)
		if off || saying(&e) == saying(last) {
			if l.Doubt {
				return l.Sending
			}
			return nil
		}
	}
	if e.Start.Date() < today {
		return nil // it is over: nobody wants to know
	}
	if l.Sending != nil && saying(&e) == saying(l.Sending) {
		return l.Sending
	}
	return &e
}

// saying stands for what an event says, whenever it was written.
func saying(e *ical.Event) string {
	bare := *e
	bare.Stamp, bare.LastModified = time.Time{}, time.Time{}
	text, err := json.Marshal(bare)
	if err != nil {
		panic(err) // it has nothing that cannot be written
	}
	return fmt.Sprintf("%x", sha256.Sum256(text))[:32]
}

// fresh is the event of a visit as it is now, nil when there is none. It is an error
// when the event cannot be written.
func (a *App) fresh(p *plant.Plant, visit string, c *Contact, l *letters) (*ical.Event, error) {
	last := l.last()
	v := p.FindVisit(visit)
	switch {
	case v == nil && last == nil:
		return nil, nil
	case v == nil: // nobody knows it any more
		e := *last
		e.Stamp = a.now()
		if e.Status != ical.Cancelled {
			e.Status, e.Summary = ical.Cancelled, "Cancelled: "+e.Summary
			e.Description = "The visit does not take place.\n"
		}
		return &e, nil
	case v.Booking.State == plant.Held || v.Booking.State == plant.NoShow:
		return nil, nil
	case v.Booking.State == plant.Requested || v.Booking.State == plant.Cancelled:
		if last == nil {
			return nil, nil
		}
		off := *v
		off.Booking.State = plant.Cancelled
		v = &off
	case p.Plan == nil:
		return nil, nil
	}
	with := a.writer(p, a.now())
	if c != nil {
		with.Attendees = []ical.Person{{Name: c.Name, Mail: c.Mail}}
	}
	e, err := ical.Visit(p, v, with)
	return &e, err
}

// writer is who writes events for calendars, at a time. RFC 5546 3.2.1 asks for an
// organizer, also where nobody said as whom this plant writes; it is then an address that is
// nobody's (.invalid, RFC 2606).
func (a *App) writer(p *plant.Plant, at time.Time) ical.Contact {
	c := ical.Contact{Domain: a.host.Domain, Organizer: ical.Person{Name: a.host.Name, Mail: a.host.Mail}, Address: a.host.Address, Arrival: a.host.Arrival, Stamp: at}
	if c.Domain == "" {
		c.Domain, c.Organizer = noDomain, ical.Person{Name: p.Name, Mail: "nobody@" + noDomain}
	}
	return c
}

// noDomain is part of the names of events where nobody said as whom this plant writes.
const noDomain = "wetdown.invalid"

// A post is all that the mail about one visit depends on.
type post struct {
	visit   string
	rec     Record // of the letters; Version 0: none were written
	letters letters
	contact *Contact
	event   *ical.Event // the message that is due, nil for none
	says    string      // stands for what it says
	err     error       // why there is none though there should be
}

// posts is the mail about all visits, in the order of the plant file, then of those
// that are in it no more.
func (a *App) posts(tx Tx) (s *State, set Settings, list []post, err error) {
	if s, err = a.headIn(tx); err != nil {
		return nil, set, nil, err
	}
	if set, err = settingsIn(tx); err != nil {
		return nil, set, nil, err
	}
	contacts, err := query[Contact](tx, Query{Kind: KindContact})
	if err != nil {
		return nil, set, nil, err
	}
	to := map[string]*Contact{}
	for i := range contacts {
		to[contacts[i].rec.ID] = contacts[i].contact()
	}
	written, err := query[letters](tx, Query{Kind: KindInvitation})
	if err != nil {
		return nil, set, nil, err
	}
	of := map[string]*entry[letters]{}
	for i := range written {
		of[written[i].rec.ID] = &written[i]
	}
	names := visitNames(s.Plant)
	for _, name := range slices.Sorted(maps.Keys(of)) {
		if s.Plant.FindVisit(name) == nil {
			names = append(names, name)
		}
	}
	for _, name := range names {
		x := post{visit: name, rec: Record{Kind: KindInvitation, ID: name}}
		if e := of[name]; e != nil {
			x.rec, x.letters = e.rec, e.val
		}
		if v := s.Plant.FindVisit(name); v != nil {
			if t := s.Plant.FindTruck(v.Truck); t != nil {
				x.letters.Customer = t.Customer
			}
		}
		x.contact = to[x.letters.Customer]
		if a.host.Domain != "" {
			a.write(s.Plant, &x)
		}
		list = append(list, x)
	}
	return s, set, list, nil
}

// write works out the message that is due.
func (a *App) write(p *plant.Plant, x *post) {
	var fresh *ical.Event
	if fresh, x.err = a.fresh(p, x.visit, x.contact, &x.letters); x.err != nil {
		return
	}
	if x.event = x.letters.next(fresh, a.today(p)); x.event != nil {
		x.says = saying(x.event)
	}
}

// state is where things stand.
func (x *post) state(set Settings) string {
	switch {
	case x.event == nil && x.letters.Sent == nil:
		return ""
	case x.event == nil:
		return InvitationSent
	case x.contact == nil:
		return InvitationNobody
	case x.letters.Refused == x.says:
		return InvitationRefused
	case !set.AutoInvite && x.letters.Released != x.says:
		return InvitationHeld
	}
	return InvitationDue
}

// Invitations lists where things stand with the mail about visits, those about which
// nothing was mailed and nothing is to be said left out.
func (a *App) Invitations(ctx context.Context, who Actor) (list []*Invitation, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		s, set, posts, err := a.posts(tx)
		list = nil
		for i := range posts {
			if v := posts[i].invitation(s.Plant, set); v.State != "" {
				list = append(list, v)
			}
		}
		return err
	})
	return list, err
}

func (x *post) invitation(p *plant.Plant, set Settings) *Invitation {
	l := &x.letters
	v := &Invitation{Visit: x.visit, Customer: l.Customer, State: x.state(set), SentAt: l.SentAt, Start: calendar.NoMoment}
	if at := p.FindVisit(x.visit); at != nil {
		v.Truck = at.Truck
	}
	if e := cmp.Or(x.event, l.Sent); e != nil {
		v.Sequence, v.Start, v.Summary = e.Sequence, e.Start, e.Summary
	}
	if x.event != nil {
		v.Method, v.Seen = methodOf(x.event), x.says
		if l.Sending != nil && saying(l.Sending) == x.says {
			v.Attempts, v.Problem, v.Next = l.Attempts, l.Problem, x.rec.Due
		}
	}
	return v
}

func methodOf(e *ical.Event) string {
	if e.Status == ical.Cancelled {
		return "CANCEL"
	}
	return "REQUEST"
}

// postOf is the mail about one visit.
func (a *App) postOf(tx Tx, visit string) (*State, Settings, *post, error) {
	s, set, list, err := a.posts(tx)
	if err != nil {
		return nil, set, nil, err
	}
	for i := range list {
		if list[i].visit == visit {
			return s, set, &list[i], nil
		}
	}
	return nil, set, nil, noSuch("visit", visit, visitNames(s.Plant))
}

// ReleaseInvitation lets the message about a visit that waits go out, also one that
// the mail server has refused. What it says has to be what the person saw: seen is
// that of the Invitation, or "" for whatever it says. A message that says something
// else later needs to be released again.
func (a *App) ReleaseInvitation(ctx context.Context, who Actor, visit, seen string) (out *Invitation, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		s, set, x, err := a.postOf(tx, visit)
		if err != nil {
			return err
		}
		switch {
		case a.host.Domain == "":
			return &Problem{Kind: Conflict, Title: "There is nothing to write", Detail: "Nobody said as whom this plant writes.", Next: "Ask your administrator to set the sender and the domain of invitations."}
		case x.event == nil:
			return nothingToSay(x)
		case seen != "" && seen != x.says:
			return &Problem{Kind: Stale, Title: "The invitation has changed", Detail: "What would be mailed about visit " + visit + " is no longer what you have seen.", Next: "Look at it as it is now, and release that."}
		case x.contact == nil:
			return &Problem{Kind: Conflict, Title: "There is nobody to write to", Detail: fmt.Sprintf("Customer %s of visit %s has no contact.", x.letters.Customer, visit), Next: "Give the customer's contact first."}
		}
		l := &x.letters
		l.Released, l.Refused, l.Attempts, l.Since, l.Problem = x.says, "", 0, time.Time{}, ""
		x.rec.Due = time.Time{}
		e := entry[letters]{x.rec, *l}
		if err := e.keep(tx); err != nil {
			return err
		}
		x.rec = e.rec
		out = x.invitation(s.Plant, set)
		return nil
	})
	return out, err
}

// nothingToSay is the problem with a visit about which no message is due.
func nothingToSay(x *post) error {
	p := &Problem{Kind: Conflict, Title: "There is nothing to write", Detail: fmt.Sprintf("The customer knows how things are with visit %s.", x.visit), Next: "Write again when something has changed."}
	switch {
	case x.err != nil:
		p.Detail, p.Next = sentence(x.err.Error()), "Do what it says, and ask again."
	case x.letters.Sent == nil:
		p.Detail, p.Next = fmt.Sprintf("Nobody was promised a day to come for visit %s.", x.visit), "Book it tentatively or confirm it, then invite."
	}
	return p
}

// Invitation is the invitation to a visit as a file for calendars: what is to be mailed,
// or else what was mailed last, with the same UID and SEQUENCE. Without a contact, or
// without a sender to answer to, there is nobody in it who is asked to answer.
func (a *App) Invitation(ctx context.Context, who Actor, visit string) (text []byte, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		s, _, x, err := a.postOf(tx, visit)
		if err != nil {
			return err
		}
		if a.host.Domain == "" {
			a.write(s.Plant, x)
		}
		e := cmp.Or(x.event, x.letters.Sent)
		switch {
		case e == nil:
			return nothingToSay(x)
		case a.host.Domain == "", len(e.Attendees) == 0 && e.Status != ical.Cancelled:
			text, err = ical.Feed(e.Summary, time.Hour, []ical.Event{*e})
		case e.Status == ical.Cancelled:
			text, err = ical.Cancel(*e)
		default:
			text, err = ical.Request(*e)
		}
		return err
	})
	return text, err
}

// A Message is one invitation to mail now.
type Message struct {
	ID      string // Message-ID without its brackets: the same however often it is tried
	Visit   string
	Event   ical.Event
	Again   bool // the customer got an earlier revision
	Attempt int  // from 1
	Since   time.Time
}

// NextMessage takes the next message that is due, nil for none. That it is under way is
// kept before it comes back, and it belongs to the caller for two minutes; Mailed
// says what came of it. When nobody does within that time, nobody knows whether the
// customer has it: it is then mailed once more under the same Message-ID, or
// what has become of the visit meanwhile is, as the revision after it.
func (a *App) NextMessage(ctx context.Context) (*Message, error) {
	var due []post
	err := a.store.View(ctx, func(tx Tx) error {
		_, set, list, err := a.posts(tx)
		if errors.Is(err, ErrEmpty) {
			return nil
		}
		due = slices.DeleteFunc(list, func(x post) bool {
			return x.state(set) != InvitationDue || a.waits(&x)
		})
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range due {
		m, err := a.claimMessage(ctx, &due[i])
		if errors.Is(err, ErrMoved) || errors.Is(err, ErrExists) { // somebody else has it
			continue
		}
		return m, err
	}
	return nil, nil
}

// waits reports whether the message is under way, or to be tried later. One that says
// something new does not wait for an older one that failed.
func (a *App) waits(x *post) bool {
	l := &x.letters
	return x.rec.Due.After(a.now()) && l.Sending != nil && (l.Doubt || saying(l.Sending) == x.says)
}

func (a *App) claimMessage(ctx context.Context, x *post) (*Message, error) {
	l := &x.letters
	if l.Sending == nil || saying(l.Sending) != x.says {
		l.Attempts, l.Since, l.Problem = 0, a.now(), ""
	}
	if l.Attempts++; l.Attempts == 1 {
		l.Since = a.now()
	}
	l.Sending, l.Doubt = x.event, true
	x.rec.State, x.rec.Ref, x.rec.Due = "", l.Customer, a.now().Add(claim)
	err := a.store.Update(ctx, func(tx Tx) error {
		e := entry[letters]{x.rec, *l}
		return e.keep(tx)
	})
	if err != nil {
		return nil, err
	}
	return &Message{ID: a.messageID(x.event), Visit: x.visit, Event: *x.event, Again: l.Sent != nil, Attempt: l.Attempts, Since: l.Since}, nil
}

// messageID names a message after what it says and the revision that it is of.
func (a *App) messageID(e *ical.Event) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %d %d %s", e.UID, e.Sequence, e.Stamp.Unix(), saying(e)))
	_, domain, _ := strings.Cut(e.UID, "@")
	return fmt.Sprintf("%x@%s", sum[:16], domain)
}

// Mailed says what came of a message. One that is not to be tried again is refused until
// it says something else, or a person releases it.
func (a *App) Mailed(ctx context.Context, m *Message, t Attempt) error {
	return a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[letters](tx, KindInvitation, m.Visit)
		if err != nil {
			return err
		}
		l := &e.val
		if !l.Doubt || l.Attempts != m.Attempt || a.messageID(l.Sending) != m.ID {
			return nil // it took too long, and somebody else has it
		}
		e.rec.Due, l.Doubt, l.Problem = t.Again, t.Unknown, t.Problem
		trail := Event{Who: Service.Name, Act: ActBook, Subject: "visits/" + m.Visit, Outcome: OutcomeDone, Detail: fmt.Sprintf("%s, revision %d of the invitation, was mailed.", methodOf(l.Sending), l.Sending.Sequence)}
		switch {
		case t.Done:
			l.Sent, l.SentAt = l.Sending, a.now()
			l.Sending, l.Doubt, l.Attempts, l.Since, l.Problem = nil, false, 0, time.Time{}, ""
			e.rec.Due = time.Time{}
		case t.Again.IsZero():
			l.Refused = saying(l.Sending)
			l.Doubt = false
			trail.Outcome, trail.Detail = OutcomeFailed, fmt.Sprintf("%s, revision %d of the invitation, was not mailed. %s", methodOf(l.Sending), l.Sending.Sequence, t.Problem)
		}
		if err := e.keep(tx); err != nil {
			return err
		}
		if t.Done || t.Again.IsZero() {
			return a.trace(tx, trail)
		}
		return nil
	})
}
