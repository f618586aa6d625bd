package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"wetdown/solver/plant"
)

// KindContact is the kind of record of a Contact, with the customer's id for its ID.
const KindContact = "contact"

// A Contact is whom to write to about the visits of a customer. It is about a person:
// it is never in a plant file, in a log or on the trail.
type Contact struct {
	Customer string `json:"-"` // id
	Name     string // of the person; "" for none
	Mail     string // address
}

// Contact returns whom to write to at a customer's.
func (a *App) Contact(ctx context.Context, who Actor, customer string) (c *Contact, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Contact](tx, KindContact, customer)
		c = e.contact()
		return err
	})
	return c, err
}

// Contacts lists them all, by customer.
func (a *App) Contacts(ctx context.Context, who Actor) (list []*Contact, err error) {
	if err := who.must(ActBook); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Contact](tx, Query{Kind: KindContact})
		list = nil
		for i := range es {
			list = append(list, es[i].contact())
		}
		return err
	})
	slices.SortFunc(list, func(x, y *Contact) int { return strings.Compare(x.Customer, y.Customer) })
	return list, err
}

func (e *entry[T]) contact() *Contact {
	c, ok := any(&e.val).(*Contact)
	if ok {
		c.Customer = e.rec.ID
	}
	return c
}

// SetContact says whom to write to at a customer's from now on. The one before is not
// told.
func (a *App) SetContact(ctx context.Context, who Actor, c Contact) error {
	if err := who.must(ActBook); err != nil {
		return err
	}
	if err := c.check(); err != nil {
		return err
	}
	return a.store.Update(ctx, func(tx Tx) error {
		s, err := a.headIn(tx)
		if err != nil {
			return err
		}
		if s.Plant.FindCustomer(c.Customer) == nil {
			return noSuch("customer", c.Customer, customerNames(s.Plant))
		}
		rec, err := tx.Get(KindContact, c.Customer)
		if err != nil && !errors.Is(err, ErrNone) {
			return err
		}
		if err != nil {
			rec = Record{Kind: KindContact, ID: c.Customer}
		}
		e := entry[Contact]{rec, c}
		return e.keep(tx)
	})
}

// DropContact forgets whom to write to at a customer's: nothing more is mailed there.
func (a *App) DropContact(ctx context.Context, who Actor, customer string) error {
	if err := who.must(ActBook); err != nil {
		return err
	}
	return a.store.Update(ctx, func(tx Tx) error {
		if _, err := fetch[Contact](tx, KindContact, customer); err != nil {
			return err
		}
		return tx.Delete(KindContact, customer)
	})
}

func customerNames(p *plant.Plant) (names []string) {
	for i := range p.Customers {
		names = append(names, p.Customers[i].ID)
	}
	return names
}

// check looks whether mail can go there. Addresses beyond ASCII would need mail
// servers on the way that take them, and are refused.
func (c *Contact) check() error {
	if utf8.RuneCountInString(c.Name) > 100 || strings.ContainsFunc(c.Name, func(r rune) bool { return r < ' ' || r == 0x7f || r == utf8.RuneError }) {
		return invalid("name", "The name is longer than 100 characters, or has some that cannot be seen.", "Give the name as it is written on a letter.")
	}
	if !address(c.Mail) {
		return invalid("mail", fmt.Sprintf("%.80q is no mail address.", c.Mail), "Write one address such as chief@example.org, without a name and without brackets.")
	}
	return nil
}

// address reports whether text is one mail address, of RFC 5321's plain sort: no
// quoted parts, no addresses of machines.
func address(text string) bool {
	local, domain, _ := strings.Cut(text, "@")
	return local != "" && domain != "" && len(text) <= 254 && len(local) <= 64 &&
		!strings.ContainsFunc(text, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("\"<>()[],;:\\", r) }) &&
		!strings.Contains(domain, "@") && !strings.HasPrefix(domain, ".") && !strings.HasSuffix(domain, ".") && !strings.Contains(text, "..")
}
