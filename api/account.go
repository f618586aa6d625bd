package api

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/netip"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// KindAccount is the kind of record of an account. Its ID is the login name, its state
// active or disabled, its Ref the role.
const KindAccount = "account"

const (
	accountActive   = "active"
	accountDisabled = "disabled"
)

// An Account is a person who may log in. It is never deleted, since revisions and the
// trail name it: one that nobody needs any more is disabled.
type Account struct {
	Login    string // in small letters; it never changes
	Seq      int64
	Name     string // for people
	Role     string
	Disabled bool
	Outside  bool // logs in with the identity provider; there is no password here
	Created  time.Time
}

// keptAccount is the body of an account's record.
type keptAccount struct {
	Name    string
	Hash    string // of the password, "" for one from outside
	Subject string // what the identity provider calls it for good, "" for one of ours
	Created time.Time
}

func account(e *entry[keptAccount]) *Account {
	return &Account{Login: e.rec.ID, Seq: e.rec.Seq, Name: e.val.Name, Role: e.rec.Ref, Disabled: e.rec.State != accountActive, Outside: e.val.Subject != "", Created: e.val.Created}
}

// actor is who acts when the account does.
func (a *Account) actor() Actor {
	if a.Disabled {
		return Actor{}
	}
	return Actor{Name: a.Login, Acts: ActsOf(a.Role)}
}

var loginForm = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,63}$`)

// fold is a login name as it is kept: people write it with capitals, too.
func fold(login string) string {
	if len(login) > 4*64 {
		return ""
	}
	return strings.ToLower(strings.TrimSpace(login))
}

func checkLogin(login string) error {
	switch {
	case !loginForm.MatchString(login):
		return invalid("login", "A login name has 1 to 64 letters (a to z), digits, dots, underscores and hyphens, and begins with a letter or digit.", "Take one like kim or k.lee.")
	case login == Service.Name:
		return invalid("login", "The service itself bears this name.", "Take another one.")
	}
	return nil
}

const maxName = 100

func checkName(name string) error {
	if n := utf8.RuneCountInString(name); n == 0 || n > maxName || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		return invalid("name", fmt.Sprintf("A name for people has 1 to %d characters on one line.", maxName), "Write the name as people say it.")
	}
	return nil
}

func checkRole(role string) error {
	if !slices.Contains(Roles(), role) {
		return invalid("role", fmt.Sprintf("%q is no role.", role), "Write one of: "+strings.Join(Roles(), ", ")+".")
	}
	return nil
}

// An AccountOrder is an account to be made.
type AccountOrder struct {
	Login, Name, Role string
	Password          string
}

// CreateAccount makes an account with a password.
func (a *App) CreateAccount(ctx context.Context, who Actor, o AccountOrder) (made *Account, err error) {
	login := fold(o.Login)
	e := Event{Who: who.Name, Act: ActManage, Subject: "accounts/" + login}
	defer a.missed(ctx, &e, &err)
	if err := who.must(ActManage); err != nil {
		return nil, err
	}
	for _, err := range []error{checkLogin(login), checkName(o.Name), checkRole(o.Role), checkPassword(o.Password, login)} {
		if err != nil {
			return nil, err
		}
	}
	text, err := a.gate.hash(ctx, o.Password)
	if err != nil {
		return nil, err
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		n := entry[keptAccount]{Record{Kind: KindAccount, ID: login, State: accountActive, Ref: o.Role}, keptAccount{Name: o.Name, Hash: text, Created: a.now()}}
		err := n.keep(tx)
		if errors.Is(err, ErrExists) {
			return &Problem{Kind: Conflict, Title: "There is such an account already", Detail: fmt.Sprintf("Somebody has the login name %s, or had it.", login), Next: "Take another login name, or change that account."}
		}
		if err != nil {
			return err
		}
		made = account(&n)
		return a.done(tx, e, fmt.Sprintf("The account %s was made, with the role %s.", login, o.Role))
	})
	return made, err
}

// An AccountChange is what is to become of an account; nil leaves as it is.
type AccountChange struct {
	Name     *string
	Role     *string
	Disabled *bool   // true ends its sessions
	Password *string // ends its sessions
}

// ChangeAccount changes an account. The last administrator stays one. Nobody sets
// their own password this way: ChangePassword asks for the one before.
func (a *App) ChangeAccount(ctx context.Context, who Actor, login string, c AccountChange) (changed *Account, err error) {
	login = fold(login)
	e := Event{Who: who.Name, Act: ActManage, Subject: "accounts/" + login}
	defer a.missed(ctx, &e, &err)
	if err := who.must(ActManage); err != nil {
		return nil, err
	}
	var text string
	if c.Password != nil {
		if login == who.Name {
			return nil, &Problem{Kind: Conflict, Title: "This is your own password", Detail: "To change it takes the one that you have now.", Next: "Change it on the page of your own account."}
		}
		if err := checkPassword(*c.Password, login); err != nil {
			return nil, err
		}
		if text, err = a.gate.hash(ctx, *c.Password); err != nil {
			return nil, err
		}
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		n, err := fetch[keptAccount](tx, KindAccount, login)
		if err != nil {
			return err
		}
		what, err := changeAccount(tx, &n, c, text)
		if err != nil {
			return err
		}
		changed = account(&n)
		if len(what) == 0 {
			return a.done(tx, e, "Nothing was changed.")
		}
		if err := n.keep(tx); err != nil {
			return err
		}
		return a.done(tx, e, fmt.Sprintf("Of the account %s changed: %s.", login, strings.Join(what, ", ")))
	})
	return changed, err
}

// changeAccount makes a change to an account, ends its sessions where that follows, and
// says what it has changed. `text` is the hash of the new password.
func changeAccount(tx Tx, n *entry[keptAccount], c AccountChange, text string) (what []string, err error) {
	outside := n.val.Subject != ""
	ousted := n.rec.State == accountActive && n.rec.Ref == RoleAdministrator
	if c.Name != nil && *c.Name != n.val.Name {
		if err := checkName(*c.Name); err != nil {
			return nil, err
		}
		n.val.Name = *c.Name
		what = append(what, "the name")
	}
	if c.Role != nil && *c.Role != n.rec.Ref {
		if err := checkRole(*c.Role); err != nil {
			return nil, err
		}
		if outside {
			return nil, &Problem{Kind: Conflict, Title: "The role comes from the identity provider", Detail: fmt.Sprintf("The next time %s logs in, the groups there decide again.", n.rec.ID), Next: "Change the groups there, or disable the account here."}
		}
		what = append(what, fmt.Sprintf("the role, from %s to %s", n.rec.Ref, *c.Role))
		n.rec.Ref = *c.Role
	}
	end := false
	if c.Password != nil {
		if outside {
			return nil, &Problem{Kind: Conflict, Title: "This account has no password here", Detail: n.rec.ID + " logs in with the identity provider.", Next: "Change the password there."}
		}
		n.val.Hash, end = text, true
		what = append(what, "the password")
	}
	if c.Disabled != nil && *c.Disabled != (n.rec.State == accountDisabled) {
		n.rec.State, end = accountActive, end || *c.Disabled
		if *c.Disabled {
			n.rec.State = accountDisabled
		}
		what = append(what, "it is "+n.rec.State)
	}
	if ousted && (n.rec.State != accountActive || n.rec.Ref != RoleAdministrator) {
		if err := anotherAdministrator(tx, n.rec.ID); err != nil {
			return nil, err
		}
	}
	if end {
		err = endSessions(tx, n.rec.ID)
	}
	return what, err
}

// anotherAdministrator returns a problem unless somebody else can manage accounts.
func anotherAdministrator(tx Tx, login string) error {
	list, err := tx.List(Query{Kind: KindAccount, Ref: RoleAdministrator, State: accountActive, Limit: 2})
	if err != nil {
		return err
	}
	if slices.ContainsFunc(list, func(r Record) bool { return r.ID != login }) {
		return nil
	}
	return &Problem{Kind: Conflict, Title: "The last administrator stays one", Detail: fmt.Sprintf("Without %s nobody could manage accounts any more.", login), Next: "Make somebody else administrator first."}
}

// Account returns an account: one's own, or with the right to manage any.
func (a *App) Account(ctx context.Context, who Actor, login string) (found *Account, err error) {
	login = fold(login)
	if login != who.Name || login == "" {
		if err := who.must(ActManage); err != nil {
			return nil, err
		}
	}
	err = a.store.View(ctx, func(tx Tx) error {
		n, err := fetch[keptAccount](tx, KindAccount, login)
		found = account(&n)
		return err
	})
	if err != nil {
		return nil, err
	}
	return found, nil
}

// Accounts lists accounts in the order in which they were made.
func (a *App) Accounts(ctx context.Context, who Actor, page Page) (list []*Account, err error) {
	if err := who.must(ActManage); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[keptAccount](tx, page.of(Query{Kind: KindAccount}))
		for i := range es {
			list = append(list, account(&es[i]))
		}
		return err
	})
	return list, err
}

// FirstStart makes one administrator with a password nobody can guess if there is no
// account yet. The password is returned this once and kept nowhere.
func (a *App) FirstStart(ctx context.Context) (login, password string, made bool, err error) {
	err = a.store.View(ctx, func(tx Tx) error {
		list, err := tx.List(Query{Kind: KindAccount, Limit: 1})
		made = len(list) == 0
		return err
	})
	if err != nil || !made {
		return "", "", false, err
	}
	login, password = "admin", strings.ToLower(rand.Text())
	text, err := a.gate.hash(ctx, password)
	if err != nil {
		return "", "", false, err
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		list, err := tx.List(Query{Kind: KindAccount, Limit: 1})
		if made = len(list) == 0; err != nil || !made {
			return err
		}
		n := entry[keptAccount]{Record{Kind: KindAccount, ID: login, State: accountActive, Ref: RoleAdministrator}, keptAccount{Name: "Administrator", Hash: text, Created: a.now()}}
		if err := n.keep(tx); err != nil {
			return err
		}
		return a.done(tx, Event{Who: Service.Name, Act: ActManage, Subject: "accounts/" + login}, "There was no account: the account "+login+" was made, with the role administrator and a random password.")
	})
	if err != nil || !made {
		return "", "", false, err
	}
	return login, password, true, nil
}

// ChangePassword changes one's own password, by the one before. It ends all sessions of
// the account and begins a new one.
func (a *App) ChangePassword(ctx context.Context, who Actor, before, after string, remote netip.Addr) (pass *Pass, err error) {
	now := a.now()
	e := Event{Who: who.Name, Act: actLogin, Subject: "accounts/" + who.Name}
	if err := a.enter(ctx, who.Name, remote, now); err != nil {
		return nil, err
	}
	defer a.missed(ctx, &e, &err)
	was, err := a.accountOf(ctx, who)
	if err != nil {
		return nil, err
	}
	if was.val.Hash == "" {
		return nil, &Problem{Kind: Conflict, Title: "Your account has no password here", Detail: "It logs in with the identity provider.", Next: "Change the password there."}
	}
	is, _, err := a.gate.tried(ctx, was.val.Hash, before)
	switch {
	case err != nil:
		return nil, err
	case !is:
		return nil, &Problem{Kind: Forbidden, Title: "That is not your password", Detail: "To change the password takes the one that you have now.", Next: "Write it once more, or ask an administrator to set a new one."}
	case before == after:
		return nil, invalid("password", "The new password is the old one.", "Take another one.")
	}
	a.gate.passed(who.Name, remote, now)
	if err := checkPassword(after, who.Name); err != nil {
		return nil, err
	}
	text, err := a.gate.hash(ctx, after)
	if err != nil {
		return nil, err
	}
	token := newSessionToken()
	err = a.store.Update(ctx, func(tx Tx) error {
		n, err := stillIn(tx, was)
		if err != nil {
			return err
		}
		n.val.Hash = text
		if err := n.keep(tx); err != nil {
			return err
		}
		if err := endSessions(tx, n.rec.ID); err != nil {
			return err
		}
		if pass, err = a.begin(tx, account(&n), token); err != nil {
			return err
		}
		return a.done(tx, e, "The password was changed by its owner, and all sessions before were ended.")
	})
	if err != nil {
		return nil, err
	}
	return pass, nil
}

// accountOf is the account of a person who has logged in. A token and the service have
// none.
func (a *App) accountOf(ctx context.Context, who Actor) (n entry[keptAccount], err error) {
	err = a.store.View(ctx, func(tx Tx) (err error) {
		n, err = accountOfIn(tx, who)
		return err
	})
	return n, err
}

func accountOfIn(tx Tx, who Actor) (n entry[keptAccount], err error) {
	if who.Name == "" {
		return n, who.must(ActRead)
	}
	n, err = fetch[keptAccount](tx, KindAccount, who.Name)
	if AsProblem(err).Kind == NotFound || err == nil && n.rec.State != accountActive {
		err = &Problem{Kind: Forbidden, Title: "Only a person can do this", Detail: who.Name + " is no account that may log in.", Next: "Log in with an account of your own."}
	}
	return n, err
}

// stillIn is the account as it is now, if it can be logged in to as when the
// password was looked at.
func stillIn(tx Tx, was entry[keptAccount]) (entry[keptAccount], error) {
	n, err := fetch[keptAccount](tx, KindAccount, was.rec.ID)
	if err == nil && (n.rec.State != accountActive || n.val.Hash != was.val.Hash) {
		err = &Problem{Kind: Conflict, Title: "The account has changed meanwhile", Detail: "It was disabled, or has another password, since this was asked.", Next: "Log in again."}
	}
	return n, err
}
