package api

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// KindWebhook is the kind of record of a Webhook.
const KindWebhook = "webhook"

// States of a webhook.
const (
	WebhookActive  = "active"
	WebhookPaused  = "paused"   // by a person
	WebhookGivenUp = "given_up" // nobody took what was sent for too long
)

// What a webhook can tell of.
const (
	NewsPlanAccepted   = "plan.accepted"
	NewsBookingChanged = "booking.changed"
	NewsSlipReported   = "slip.reported"
	NewsRevisionUndone = "revision.undone"
)

// News lists all that a webhook can tell of.
func News() []string {
	return []string{NewsPlanAccepted, NewsBookingChanged, NewsSlipReported, NewsRevisionUndone}
}

// A Webhook is a program elsewhere that is told of changes, one after the other in the
// order of the revisions. How far it was told is a place in the log of revisions, so
// that nothing is lost, whoever was down.
type Webhook struct {
	ID     string
	Seq    int64
	State  string
	URL    string
	Secret string   // whsec_ and base64; empty but when the webhook has just been made
	Events []string // of News
	Who    string   // made it
	At     time.Time

	Revision    int64 // of whose changes all was delivered
	Part        int   // how much of the next one was
	Delivered   int64 // in all
	DeliveredAt time.Time
	Attempts    int       // to deliver what is next
	Since       time.Time // of the first of these
	Problem     string    // why the last one failed
}

// maxWebhooks bounds how many there are.
const maxWebhooks = 50

// AddWebhook makes a webhook that is told of all that happens from now on. Its secret is
// in what comes back, and never again.
func (a *App) AddWebhook(ctx context.Context, who Actor, url string, events []string) (w *Webhook, err error) {
	if err := who.must(ActSetUp); err != nil {
		return nil, err
	}
	if err := checkURL(url); err != nil {
		return nil, err
	}
	if len(events) == 0 {
		return nil, invalid("events", "A webhook has to be told of something.", "Name some of: "+strings.Join(News(), ", ")+".")
	}
	for _, e := range events {
		if !slices.Contains(News(), e) {
			return nil, invalid("events", fmt.Sprintf("Nothing is called %.80q.", e), "Name some of: "+strings.Join(News(), ", ")+".")
		}
	}
	events = slices.Compact(slices.Sorted(slices.Values(events)))
	id, secret := newID(), newSecret()
	err = a.store.Update(ctx, func(tx Tx) error {
		all, err := tx.List(Query{Kind: KindWebhook})
		if err != nil {
			return err
		}
		if len(all) >= maxWebhooks {
			return &Problem{Kind: Conflict, Title: "There are too many webhooks", Detail: fmt.Sprintf("There are %d, and no more are kept.", len(all)), Next: "Delete one that nobody needs."}
		}
		head, err := tx.Head()
		if err != nil {
			return err
		}
		e := entry[Webhook]{Record{Kind: KindWebhook, ID: id, State: WebhookActive}, Webhook{URL: url, Secret: secret, Events: events, Who: who.Name, At: a.now(), Revision: head}}
		if err := e.keep(tx); err != nil {
			return err
		}
		w = e.webhook()
		w.Secret = secret
		return made(ctx, tx, "webhooks/"+id)
	})
	if err != nil {
		return nil, err
	}
	return w, nil
}

// checkURL takes https, and http to this machine itself.
func checkURL(url string) error {
	wrong := func(detail string) error {
		return invalid("url", detail, "Write https:// with a host and a path, such as https://erp.example.org/wetdown. For a program on this machine http://127.0.0.1:PORT/ will do.")
	}
	scheme, rest, ok := strings.Cut(url, "://")
	host, _, _ := strings.Cut(rest, "/")
	host, _, _ = strings.Cut(host, "?")
	name, _, _ := strings.Cut(host, ":")
	if strings.HasPrefix(host, "[") {
		name, _, _ = strings.Cut(host, "]")
		name += "]"
	}
	switch {
	case !ok || name == "" || len(url) > 500:
		return wrong(fmt.Sprintf("%.80q is no address of a program.", url))
	case strings.ContainsFunc(url, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("\"<>\\^`{|}#", r) }):
		return wrong("The address has characters that cannot stand in one.")
	case strings.Contains(host, "@"):
		return wrong("The address has a name or a password in it.")
	case scheme == "https":
		return nil
	case scheme == "http" && slices.Contains([]string{"localhost", "127.0.0.1", "[::1]"}, name):
		return nil
	}
	return wrong("What is sent must not be read on the way: the address has to begin with https://.")
}

// Webhooks lists all webhooks, the oldest first, without their secrets.
func (a *App) Webhooks(ctx context.Context, who Actor) (list []*Webhook, err error) {
	if err := who.must(ActSetUp); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Webhook](tx, Query{Kind: KindWebhook})
		list = nil
		for i := range es {
			list = append(list, es[i].webhook())
		}
		return err
	})
	return list, err
}

// webhook is the webhook that is kept in a record, without its secret.
func (e *entry[T]) webhook() *Webhook {
	kept, ok := any(&e.val).(*Webhook)
	if !ok {
		return nil
	}
	w := *kept
	w.ID, w.Seq, w.State, w.Secret = e.rec.ID, e.rec.Seq, e.rec.State, ""
	return &w
}

// PauseWebhook stops telling a webhook until it is resumed.
func (a *App) PauseWebhook(ctx context.Context, who Actor, id string) (*Webhook, error) {
	return a.setWebhook(ctx, who, id, func(e *entry[Webhook], _ int64) { e.rec.State = WebhookPaused })
}

// ResumeWebhook goes on telling a webhook that was paused or given up: from where it
// stopped, or with skip of what happens from now on only.
func (a *App) ResumeWebhook(ctx context.Context, who Actor, id string, skip bool) (*Webhook, error) {
	return a.setWebhook(ctx, who, id, func(e *entry[Webhook], head int64) {
		e.rec.State, e.rec.Due = WebhookActive, time.Time{}
		e.val.Attempts, e.val.Since, e.val.Problem = 0, time.Time{}, ""
		if skip {
			e.val.Revision, e.val.Part = head, 0
		}
	})
}

func (a *App) setWebhook(ctx context.Context, who Actor, id string, f func(e *entry[Webhook], head int64)) (w *Webhook, err error) {
	if err := who.must(ActSetUp); err != nil {
		return nil, err
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[Webhook](tx, KindWebhook, id)
		if err != nil {
			return err
		}
		head, err := tx.Head()
		if err != nil {
			return err
		}
		f(&e, head)
		if err := e.keep(tx); err != nil {
			return err
		}
		w = e.webhook()
		return nil
	})
	return w, err
}

// DropWebhook deletes a webhook. What it was not told yet it never will be.
func (a *App) DropWebhook(ctx context.Context, who Actor, id string) error {
	if err := who.must(ActSetUp); err != nil {
		return err
	}
	return a.store.Update(ctx, func(tx Tx) error {
		if _, err := fetch[Webhook](tx, KindWebhook, id); err != nil {
			return err
		}
		return tx.Delete(KindWebhook, id)
	})
}

// A Delivery is one thing to tell one webhook now.
type Delivery struct {
	Webhook  string
	URL      string
	Secret   string
	ID       string // the same however often it is tried
	Body     []byte // JSON
	Attempt  int    // from 1
	Since    time.Time
	revision int64
	part     int // in its revision, from 0
}

// claim is how long a delivery or a message belongs to who has taken it. Whoever works
// for longer on one may find that it is sent twice.
const claim = 2 * time.Minute

// NextDelivery takes the next delivery that is due, nil for none. It belongs to the
// caller for two minutes; Delivered says what came of it.
func (a *App) NextDelivery(ctx context.Context) (*Delivery, error) {
	var es []entry[Webhook]
	var head int64
	err := a.store.View(ctx, func(tx Tx) (err error) {
		if head, err = tx.Head(); err != nil {
			return err
		}
		es, err = query[Webhook](tx, Query{Kind: KindWebhook, State: WebhookActive})
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range es {
		e := &es[i]
		if e.val.Revision >= head || e.rec.Due.After(a.now()) {
			continue
		}
		d, err := a.claimDelivery(ctx, e, head)
		if errors.Is(err, ErrMoved) { // somebody else has it
			continue
		}
		if d != nil || err != nil {
			return d, err
		}
	}
	return nil, nil
}

// claimDelivery takes what is next for a webhook, or notes that there is nothing.
func (a *App) claimDelivery(ctx context.Context, e *entry[Webhook], head int64) (d *Delivery, err error) {
	w := &e.val
	for d == nil && w.Revision < head {
		news, err := a.news(ctx, w.Revision+1)
		if err != nil {
			return nil, err
		}
		for n := w.Part; n < len(news) && d == nil; n++ {
			if slices.Contains(w.Events, news[n].Type) {
				w.Part = n
				d = &Delivery{Webhook: e.rec.ID, URL: w.URL, Secret: w.Secret, revision: w.Revision + 1, part: n}
				if d.Body, err = json.Marshal(news[n]); err != nil {
					return nil, err
				}
				sum := sha256.Sum256(fmt.Appendf(nil, "%s %d %d", d.Webhook, d.revision, d.part))
				d.ID = fmt.Sprintf("msg_%x", sum[:16])
			}
		}
		if d == nil {
			w.Revision, w.Part = w.Revision+1, 0
		}
	}
	if d != nil {
		if w.Attempts++; w.Attempts == 1 {
			w.Since = a.now()
		}
		e.rec.Due = a.now().Add(claim)
		d.Attempt, d.Since = w.Attempts, w.Since
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		now := *e
		return now.keep(tx)
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// An Attempt is what came of sending something.
type Attempt struct {
	Done    bool      // it was taken
	Again   time.Time // when to try again, if it was not; zero: never
	Unknown bool      // nobody knows whether it was taken
	Problem string    // why not, without names and addresses of people
}

// Delivered says what came of a delivery. A webhook that is not to be tried again is
// given up until a person resumes it.
func (a *App) Delivered(ctx context.Context, d *Delivery, t Attempt) error {
	return a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[Webhook](tx, KindWebhook, d.Webhook)
		if AsProblem(err).Kind == NotFound && err != nil {
			return nil // deleted meanwhile
		}
		if err != nil {
			return err
		}
		w := &e.val
		if w.Revision+1 != d.revision || w.Part != d.part || w.Attempts != d.Attempt {
			return nil // it took too long, or a person went ahead
		}
		e.rec.Due = t.Again
		w.Problem = t.Problem
		switch {
		case t.Done:
			e.rec.Due = time.Time{}
			w.Part++
			w.Delivered++
			w.DeliveredAt = a.now()
			w.Attempts, w.Since, w.Problem = 0, time.Time{}, ""
		case t.Again.IsZero() && e.rec.State == WebhookActive:
			e.rec.State = WebhookGivenUp
		}
		return e.keep(tx)
	})
}

// A news is what a webhook is told: what happened, when, and ids, days and states. No
// person is named in it.
type news struct {
	Type      string    `json:"type"`
	Timestamp time.Time `json:"timestamp"`
	Data      newsData  `json:"data"`
}

type newsData struct {
	Revision int64  `json:"revision"`
	Plan     int    `json:"plan,omitempty"`
	Status   string `json:"status,omitempty"`
	Visit    string `json:"visit,omitempty"`
	Truck    string `json:"truck,omitempty"`
	State    string `json:"state,omitempty"`
	Day      string `json:"day,omitempty"`
	WasState string `json:"was_state,omitempty"`
	WasDay   string `json:"was_day,omitempty"`
	Slip     string `json:"slip,omitempty"`
	Kind     string `json:"kind,omitempty"`
	Undoes   int64  `json:"undoes,omitempty"`
}

// news is what a revision changed, in an order that is always the same. The first
// revision is the plant itself, and no news.
func (a *App) news(ctx context.Context, number int64) (list []news, err error) {
	if number <= 1 {
		return nil, nil
	}
	var r Revision
	var changes []plant.PieceChange
	var was, is *State
	err = a.store.View(ctx, func(tx Tx) (err error) {
		if r, err = tx.Revision(number); err != nil {
			return err
		}
		if changes, err = tx.Changes(number); err != nil || r.Undoes == 0 && !worthy(r, changes) {
			return err
		}
		if was, err = stateIn(tx, number-1); err != nil {
			return err
		}
		is, err = stateIn(tx, number)
		return err
	})
	if err != nil || is == nil {
		return nil, err
	}
	tell := func(what string, d newsData) {
		d.Revision = number
		list = append(list, news{what, r.At, d})
	}
	switch {
	case r.Undoes != 0:
		tell(NewsRevisionUndone, newsData{Undoes: r.Undoes})
	case r.Act == ActDecide && is.Plant.Plan != nil && slices.ContainsFunc(changes, func(c plant.PieceChange) bool { return ofPlan(c.Key) }):
		tell(NewsPlanAccepted, newsData{Plan: is.Plant.Plan.Revision, Status: string(is.Plant.Plan.Status)})
	}
	for i := range is.Plant.Slips {
		s := &is.Plant.Slips[i]
		if !slices.ContainsFunc(was.Plant.Slips, func(old plant.Slip) bool { return old.ID == s.ID }) {
			tell(NewsSlipReported, newsData{Slip: s.ID, Kind: s.Kind, Truck: s.Truck, Visit: s.Visit})
		}
	}
	for i := range is.Plant.Visits {
		v := &is.Plant.Visits[i]
		old := was.Plant.FindVisit(v.ID)
		if old == nil {
			old = &plant.Visit{Booking: plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}}
		}
		if old.Booking != v.Booking {
			tell(NewsBookingChanged, newsData{Visit: v.ID, Truck: v.Truck, State: v.Booking.State, Day: dayOrNone(v.Booking.Day), WasState: old.Booking.State, WasDay: dayOrNone(old.Booking.Day)})
		}
	}
	return list, nil
}

// worthy reports whether a revision may be news, by what it changed: most are not, and a
// plant is long to read.
func worthy(r Revision, changes []plant.PieceChange) bool {
	return slices.ContainsFunc(changes, func(c plant.PieceChange) bool {
		return strings.HasPrefix(c.Key, "visits/") || strings.HasPrefix(c.Key, "slips") || r.Act == ActDecide && ofPlan(c.Key)
	})
}

// ofPlan reports whether a piece is of the plan in force.
func ofPlan(key string) bool { return key == "plan" || strings.HasPrefix(key, "plan/") }

func dayOrNone(d calendar.Date) string {
	if d == calendar.None {
		return ""
	}
	return d.String()
}

// newSecret is what the messages to one webhook are signed with: 32 bytes that nobody
// can guess, as the Standard Webhooks specification writes them.
func newSecret() string {
	b := make([]byte, 32)
	rand.Read(b) // never fails
	return "whsec_" + base64.StdEncoding.EncodeToString(b)
}
