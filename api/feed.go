package api

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"
	"time"

	"wetdown/api/ical"
	"wetdown/solver/plant"
)

// KindFeed is the kind of record of a feed. Its Ref is the SHA-256 of its secret.
const KindFeed = "feed"

// A Feed is a calendar to subscribe to, of one bay, crew or customer. Whoever has its
// address can read it, since programs that show calendars cannot log in.
type Feed struct {
	ID  string
	Seq int64
	Of  string // such as bays/pit, crews/hosts, customers/harrowlune
	Who string // made it
	At  time.Time
}

const (
	feedPrefix  = "wf_"
	mostFeeds   = 500
	feedRefresh = time.Hour // how often a reader should look again
)

// AddFeed makes a feed and returns its secret, which is shown this once and kept nowhere.
func (a *App) AddFeed(ctx context.Context, who Actor, of string) (f *Feed, secret string, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, "", err
	}
	secret = feedPrefix + rand.Text()
	err = a.store.Update(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		if _, err := feedEvents(s.Plant, of, a.writer(s.Plant, s.Revision.At)); err != nil {
			return err
		}
		all, err := tx.List(Query{Kind: KindFeed, Limit: mostFeeds})
		if err != nil {
			return err
		}
		if len(all) == mostFeeds {
			return &Problem{Kind: Conflict, Title: "There are too many feeds", Detail: fmt.Sprintf("%d are the most.", mostFeeds), Next: "Take away those that nobody reads."}
		}
		e := entry[Feed]{Record{Kind: KindFeed, ID: newID(), Ref: digest(secret)}, Feed{Of: of, Who: who.Name, At: a.now()}}
		if err := e.keep(tx); err != nil {
			return err
		}
		f = e.feed()
		return made(ctx, tx, "feeds/"+f.ID)
	})
	if err != nil {
		return nil, "", err
	}
	return f, secret, nil
}

func (e *entry[T]) feed() *Feed {
	f, ok := any(&e.val).(*Feed)
	if ok {
		f.ID, f.Seq = e.rec.ID, e.rec.Seq
	}
	return f
}

// Feeds lists feeds in the order in which they were made.
func (a *App) Feeds(ctx context.Context, who Actor) (list []*Feed, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Feed](tx, Query{Kind: KindFeed})
		list = nil
		for i := range es {
			list = append(list, es[i].feed())
		}
		return err
	})
	return list, err
}

// DropFeed takes a feed away: its address opens nothing any more.
func (a *App) DropFeed(ctx context.Context, who Actor, id string) error {
	if err := who.must(ActBook); err != nil {
		return err
	}
	return a.store.Update(ctx, func(tx Tx) error {
		if _, err := fetch[Feed](tx, KindFeed, id); err != nil {
			return err
		}
		return tx.Delete(KindFeed, id)
	})
}

// ReadFeed writes the calendar of a feed as it is now, and the revision that it is of.
func (a *App) ReadFeed(ctx context.Context, secret string) (text []byte, revision int64, err error) {
	none := &Problem{Kind: NotFound, Title: "There is no such feed", Detail: "The address opens nothing, or nothing any more.", Next: "Ask the plant for a new one."}
	if !strings.HasPrefix(secret, feedPrefix) {
		return nil, 0, none
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Feed](tx, Query{Kind: KindFeed, Ref: digest(secret), Limit: 1})
		if err != nil {
			return err
		}
		if len(es) == 0 {
			return none
		}
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		revision = s.Revision.Number
		events, err := feedEvents(s.Plant, es[0].val.Of, a.writer(s.Plant, s.Revision.At))
		if err != nil {
			return err
		}
		_, name, _ := strings.Cut(es[0].val.Of, "/")
		text, err = ical.Feed(s.Plant.Name+": "+name, feedRefresh, events)
		return err
	})
	return text, revision, err
}

// feedEvents are the events of one bay, crew or customer.
func feedEvents(p *plant.Plant, of string, c ical.Contact) ([]ical.Event, error) {
	noun, id, _ := strings.Cut(of, "/")
	switch noun {
	case "bays":
		if p.FindBay(id) == nil {
			return nil, noSuch("bay", id, names(p.Bays, func(b *plant.Bay) string { return b.ID }))
		}
	case "crews":
		if p.FindCrew(id) == nil {
			return nil, noSuch("crew", id, names(p.Crews, func(c *plant.Crew) string { return c.ID }))
		}
	case "customers":
		if p.FindCustomer(id) == nil {
			return nil, noSuch("customer", id, customerNames(p))
		}
	default:
		return nil, invalid("of", fmt.Sprintf("%.80q has no feed.", of), "Name a bay, a crew or a customer, such as bays/ID, crews/ID or customers/ID.")
	}
	if p.Plan == nil {
		return nil, nil
	}
	switch noun {
	case "bays":
		return ical.Bay(p, id, c)
	case "crews":
		return ical.Crew(p, id, c)
	}
	return ical.Customer(p, id, c)
}

func names[T any](list []T, name func(*T) string) (out []string) {
	for i := range list {
		out = append(out, name(&list[i]))
	}
	return out
}
