package api

import (
	"context"
	"fmt"
	"net/netip"
	"time"
)

// actLogin is what the trail calls logging in and out.
const actLogin = "login"

// A LoginOrder is an attempt to log in.
type LoginOrder struct {
	Login, Password string
	Remote          netip.Addr // where it comes from
	Before          string     // token of a session that this one follows, which ends; "" for none
}

// Login begins a session. An attempt takes the same work whether there is such an
// account or not, and its problem does not tell. Too many attempts for one login name
// or from one address are turned away for a while; the trail counts those once a
// minute, and has every other attempt. A login name that nobody has is not written
// there, since people type passwords into the wrong field.
func (a *App) Login(ctx context.Context, o LoginOrder) (pass *Pass, err error) {
	login, now := fold(o.Login), a.now()
	if checkLogin(login) != nil {
		login = "" // which nobody has
	}
	if err := a.enter(ctx, login, o.Remote, now); err != nil {
		return nil, err
	}
	e := Event{Act: actLogin, Subject: "accounts"}
	defer a.missed(ctx, &e, &err)
	var was entry[keptAccount]
	err = a.store.View(ctx, func(tx Tx) (err error) {
		was, err = fetch[keptAccount](tx, KindAccount, login)
		return err
	})
	known := err == nil
	if !known && AsProblem(err).Kind != NotFound {
		return nil, err
	}
	text := nobody
	if was.val.Hash != "" {
		text = was.val.Hash
	}
	is, fresh, err := a.gate.tried(ctx, text, o.Password)
	if err != nil {
		return nil, err
	}
	if known {
		e.Subject += "/" + login
	}
	wrong := ""
	switch {
	case !known:
		wrong = "A login name that nobody has"
	case was.val.Subject != "":
		wrong = "A password for an account that has none here"
	case !is:
		wrong = "A wrong password"
	case was.rec.State != accountActive:
		wrong = "The right password of a disabled account"
	}
	if wrong != "" {
		e.Detail = wrong + ", " + from(o.Remote) + "."
		return nil, &Problem{Kind: Unknown, Title: "That is not right", Detail: "The login name or the password is wrong, or the account is disabled.", Next: "Write both once more, or ask an administrator."}
	}
	a.gate.passed(login, o.Remote, now)
	if !fresh {
		if text, err = a.gate.hash(ctx, o.Password); err != nil {
			return nil, err
		}
	}
	token := newSessionToken()
	err = a.store.Update(ctx, func(tx Tx) error {
		n, err := stillIn(tx, was)
		if err != nil {
			return err
		}
		if !fresh {
			n.val.Hash = text
			if err := n.keep(tx); err != nil {
				return err
			}
		}
		if err := endSession(tx, o.Before); err != nil {
			return err
		}
		if pass, err = a.begin(tx, account(&n), token); err != nil {
			return err
		}
		did := e
		did.Who = login
		return a.done(tx, did, "Logged in "+from(o.Remote)+".")
	})
	if err != nil {
		return nil, err
	}
	return pass, nil
}

// enter asks the gate whether a password may be tried.
func (a *App) enter(ctx context.Context, login string, remote netip.Addr, now time.Time) error {
	wait := a.gate.enter(login, remote, now)
	if n := a.gate.untold(now); n > 0 {
		e := Event{Act: actLogin, Subject: "accounts", Outcome: OutcomeRefused, Detail: fmt.Sprintf("Attempts that were turned away since this was last said, too many for one login name or from one address: %d. The last one came %s.", n, from(remote))}
		if err := a.Record(context.WithoutCancel(ctx), e); err != nil {
			return err
		}
	}
	if wait == 0 {
		return nil
	}
	wait = (wait + time.Second - 1).Truncate(time.Second)
	return &Problem{Kind: Busy, Title: "Too many attempts to log in", Detail: "There were too many for this login name, or from where you are.", Next: fmt.Sprintf("Wait %s, and try again.", wait), Wait: wait}
}
