package api

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
)

// A Guest is a person whom an identity provider vouches for. Who asks it, and how, is
// the business of package oidc.
type Guest struct {
	Subject string // what the provider calls the person for good, with the provider's own name
	Login   string
	Name    string // for people; "": the login name
	Role    string
	Remote  netip.Addr // where they come from
	Before  string     // token of a session that this one follows, which ends; "" for none
}

// Admit begins a session for a guest, and makes or updates the account, which has no
// password. An account with a password, or of another subject, is never taken over, and
// one that is disabled stays so. The last administrator is not demoted: the guest is
// refused instead.
func (a *App) Admit(ctx context.Context, g Guest) (pass *Pass, err error) {
	login := fold(g.Login)
	e := Event{Act: actLogin, Subject: "accounts/" + login}
	defer a.missed(ctx, &e, &err)
	if g.Name == "" {
		g.Name = login
	}
	if g.Subject == "" {
		return nil, errors.New("a guest without a subject")
	}
	for _, err := range []error{checkLogin(login), checkName(g.Name), checkRole(g.Role)} {
		if err != nil {
			return nil, err
		}
	}
	token := newSessionToken()
	err = a.store.Update(ctx, func(tx Tx) error {
		n, err := fetch[keptAccount](tx, KindAccount, login)
		said := "Logged in with the identity provider, " + from(g.Remote) + "."
		switch {
		case AsProblem(err).Kind == NotFound:
			n = entry[keptAccount]{Record{Kind: KindAccount, ID: login, State: accountActive}, keptAccount{Subject: g.Subject, Created: a.now()}}
			said += fmt.Sprintf(" The account was made, with the role %s.", g.Role)
		case err != nil:
			return err
		case n.val.Subject != g.Subject:
			return &Problem{Kind: Conflict, Title: "The login name is somebody else's", Detail: fmt.Sprintf("There is an account %s here that is not yours with the identity provider.", login), Next: "Ask an administrator: it takes another login name, here or there."}
		case n.rec.State != accountActive:
			return &Problem{Kind: Forbidden, Title: "The account is disabled", Detail: fmt.Sprintf("The account %s may not log in.", login), Next: "Ask an administrator."}
		case n.rec.Ref != g.Role:
			if n.rec.Ref == RoleAdministrator {
				if err := anotherAdministrator(tx, login); err != nil {
					return err
				}
			}
			said += fmt.Sprintf(" The role changed from %s to %s.", n.rec.Ref, g.Role)
		}
		if n.rec.Version == 0 || n.rec.Ref != g.Role || n.val.Name != g.Name {
			n.rec.Ref, n.val.Name = g.Role, g.Name
			if err := n.keep(tx); err != nil {
				return err
			}
		}
		if err := endSession(tx, g.Before); err != nil {
			return err
		}
		if pass, err = a.begin(tx, account(&n), token); err != nil {
			return err
		}
		did := e
		did.Who = login
		return a.done(tx, did, said)
	})
	if err != nil {
		return nil, err
	}
	return pass, nil
}
