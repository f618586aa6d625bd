package rest

import (
	"net/http"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireContact is whom to write to about the visits of a customer.
type wireContact struct {
	Customer string `json:"customer"`
	Name     string `json:"name"`
	Mail     string `json:"mail"`
}

func toContact(c *api.Contact) wireContact { return wireContact{c.Customer, c.Name, c.Mail} }

func listContacts(x *exchange) error {
	contacts, err := x.app.Contacts(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, list[wireContact]{wire.Each(contacts, toContact)})
}

func getContact(x *exchange) error {
	c, err := x.app.Contact(x.Request().Context(), x.who, x.Param("customer"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toContact(c))
}

func putContact(x *exchange) error {
	var in struct {
		Name string `json:"name"`
		Mail string `json:"mail"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	c := api.Contact{Customer: x.Param("customer"), Name: in.Name, Mail: in.Mail}
	if err := x.app.SetContact(x.Request().Context(), x.who, c); err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toContact(&c))
}

func dropContact(x *exchange) error {
	return x.nothing(x.app.DropContact(x.Request().Context(), x.who, x.Param("customer")))
}
