package api_test

import (
	"strings"
	"testing"

	"wetdown/api"
)

func TestAdmit(t *testing.T) {
	h := newHall(t)
	guest := api.Guest{Subject: "https://id.example 7", Login: "Kim", Name: "Kim Lee", Role: api.RoleSales, Remote: near}
	p, err := h.Admit(ctx, guest)
	if err != nil {
		t.Fatal(err)
	}
	if who, err := h.Session(ctx, p.Token); err != nil || who.Name != "kim" || !who.May(api.ActQuote) || who.May(api.ActBook) {
		t.Fatalf("%+v, %v", who, err)
	}
	if e := h.trail(t)[0]; e.Who != "kim" || e.Outcome != api.OutcomeDone || !strings.Contains(e.Detail, "made, with the role sales") {
		t.Errorf("the trail says %+v", e)
	}

	guest.Role, guest.Name, guest.Before = api.RoleCoordinator, "", p.Token
	next, err := h.Admit(ctx, guest)
	if err != nil || !next.Who.May(api.ActBook) {
		t.Fatalf("%+v, %v", next, err)
	}
	_, err = h.Session(ctx, p.Token)
	refused(t, err, api.Unknown) // renewed
	a, err := h.Account(ctx, h.admin, "kim")
	if err != nil || !a.Outside || a.Name != "kim" || a.Role != api.RoleCoordinator {
		t.Errorf("%+v, %v", a, err)
	}

	for _, c := range []api.AccountChange{{Role: ptr(api.RoleReader)}, {Password: ptr(good)}} {
		_, err := h.ChangeAccount(ctx, h.admin, "kim", c)
		refused(t, err, api.Conflict) // that is decided with the provider
	}
	_, err = h.ChangePassword(ctx, next.Who, "", good, near)
	refused(t, err, api.Conflict)

	if _, err := h.ChangeAccount(ctx, h.admin, "kim", api.AccountChange{Disabled: ptr(true)}); err != nil {
		t.Fatal(err)
	}
	_, err = h.Session(ctx, next.Token)
	refused(t, err, api.Unknown)
	_, err = h.Admit(ctx, guest)
	refused(t, err, api.Forbidden) // the provider does not bring it back
}

// TestAdmit_TakesNothingOver: a provider that gives somebody a login name that is taken
// does not give them the account.
func TestAdmit_TakesNothingOver(t *testing.T) {
	h := newHall(t)
	h.create(t, "ann", api.RoleAdministrator)
	h.create(t, "bob", api.RoleAdministrator) // so that ann is not the last one
	guest := api.Guest{Subject: "https://id.example 7", Login: "ann", Role: api.RoleReader, Remote: near}
	_, err := h.Admit(ctx, guest)
	refused(t, err, api.Conflict)
	if a, err := h.Account(ctx, h.admin, "ann"); err != nil || a.Role != api.RoleAdministrator || a.Outside {
		t.Errorf("%+v, %v", a, err)
	}
	h.login(t, "ann")

	guest.Login = "kim"
	if _, err := h.Admit(ctx, guest); err != nil {
		t.Fatal(err)
	}
	guest.Subject = "https://id.example 8"
	_, err = h.Admit(ctx, guest)
	refused(t, err, api.Conflict)
	if e := h.trail(t)[0]; e.Who != "" || e.Outcome != api.OutcomeRefused {
		t.Errorf("the trail says %+v", e)
	}
	for _, g := range []api.Guest{
		{Subject: "x", Login: "", Role: api.RoleReader},
		{Subject: "x", Login: "a b", Role: api.RoleReader},
		{Subject: "x", Login: "wetdown", Role: api.RoleReader},
		{Subject: "x", Login: "new", Role: ""},
	} {
		_, err := h.Admit(ctx, g)
		refused(t, err, api.Invalid)
	}
	_, err = h.Admit(ctx, api.Guest{Login: "new", Role: api.RoleReader})
	if api.AsProblem(err).Kind != api.Broken {
		t.Errorf("a guest whom nobody can tell from another: %v", err)
	}
}

// TestAdmit_LastAdministrator: the provider cannot leave the plant without one.
func TestAdmit_LastAdministrator(t *testing.T) {
	h := newHall(t)
	guest := api.Guest{Subject: "https://id.example 7", Login: "kim", Role: api.RoleAdministrator, Remote: near}
	admit := func(role string) error {
		guest.Role = role
		_, err := h.Admit(ctx, guest)
		return err
	}
	if err := admit(api.RoleAdministrator); err != nil {
		t.Fatal(err)
	}
	refused(t, admit(api.RoleReader), api.Conflict)
	h.create(t, "ann", api.RoleAdministrator)
	if err := admit(api.RoleReader); err != nil {
		t.Error(err)
	}
	if a, err := h.Account(ctx, h.admin, "kim"); err != nil || a.Role != api.RoleReader {
		t.Errorf("%+v, %v", a, err)
	}
}
