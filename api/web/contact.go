package web

import (
	"net/http"

	"wetdown/api"
	"wetdown/solver/plant"
)

// A contactRow is a customer with whom to write to.
type contactRow struct {
	plant.Customer
	Contact *api.Contact // nil: nobody
	Coming  int          // visits that are planned
}

type contactsData struct {
	List []contactRow
	Lack int // customers with visits to come and nobody to write to
}

type contactData struct {
	Customer plant.Customer
	Contact  api.Contact
	There    bool
}

func (w *Web) contacts(v *view) error {
	if v.State == nil {
		return api.ErrEmpty
	}
	list, err := w.app.Contacts(v.ctx, v.Who)
	if err != nil {
		return err
	}
	p, of, coming := v.State.Plant, map[string]*api.Contact{}, map[string]int{}
	for _, c := range list {
		of[c.Customer] = c
	}
	for i := range p.Visits {
		if p.Visits[i].Planned() {
			if t := p.FindTruck(p.Visits[i].Truck); t != nil {
				coming[t.Customer]++
			}
		}
	}
	d := contactsData{}
	for _, c := range p.Customers {
		r := contactRow{c, of[c.ID], coming[c.ID]}
		if r.Contact == nil && r.Coming > 0 {
			d.Lack++
		}
		d.List = append(d.List, r)
	}
	v.setUp("Contacts", d)
	v.show(http.StatusOK, "contacts")
	return nil
}

// customerHere is the customer that the address names.
func (v *view) customerHere() (*plant.Customer, error) {
	if v.State == nil {
		return nil, api.ErrEmpty
	}
	if c := v.State.Plant.FindCustomer(v.r.PathValue("customer")); c != nil {
		return c, nil
	}
	return nil, &api.Problem{Kind: api.NotFound, Title: "There is no such customer", Next: "Look it up in the list of contacts."}
}

func (w *Web) contact(v *view) error {
	c, err := v.customerHere()
	if err != nil {
		return err
	}
	d := contactData{Customer: *c}
	x, err := w.app.Contact(v.ctx, v.Who, c.ID)
	switch {
	case err == nil:
		d.Contact, d.There = *x, true
	case api.AsProblem(err).Kind != api.NotFound:
		return err
	}
	v.setUp("Whom to write to at "+c.Name, d)
	v.show(http.StatusOK, "contact")
	return nil
}

// setContact says whom to write to, or that there is nobody any more.
func (w *Web) setContact(v *view) error {
	c, err := v.customerHere()
	if err != nil {
		return err
	}
	x := api.Contact{Customer: c.ID, Name: v.r.PostFormValue("name"), Mail: v.r.PostFormValue("mail")}
	if v.r.PostFormValue("do") == "drop" {
		err = w.app.DropContact(v.ctx, v.Who, c.ID)
	} else {
		err = w.app.SetContact(v.ctx, v.Who, x)
	}
	if err != nil {
		v.setUp("Whom to write to at "+c.Name, contactData{*c, x, v.r.PostFormValue("there") != ""})
		return v.again(err, "contact")
	}
	return v.back("/setup/contacts")
}
