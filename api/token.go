package api

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// KindToken is the kind of record of a token. Its ID is its name, its state live or
// revoked, its Ref the SHA-256 of the token.
const KindToken = "token"

const (
	tokenLive    = "live"
	tokenRevoked = "revoked"
)

const (
	tokenPrefix = "wd_" // by which a token is known for what it is when it turns up where it should not
	tokenActor  = "token:"
	mostTokens  = 50 // live, of one account
)

// A Token lets a program in, in the name of the account that made it. Its record stays
// when it is revoked, since revisions and the trail name it.
type Token struct {
	Name    string
	Seq     int64
	Maker   string // login name
	Acts    []string
	Made    time.Time
	Until   time.Time // exclusive
	Used    time.Time // day (UTC) on which it was used last; zero: never
	Revoked bool
}

// keptToken is the body of a token's record.
type keptToken struct {
	Maker string
	Acts  []string
	Made  time.Time
	Until time.Time
	Used  time.Time
}

func token(e *entry[keptToken]) *Token {
	return &Token{Name: e.rec.ID, Seq: e.rec.Seq, Maker: e.val.Maker, Acts: e.val.Acts, Made: e.val.Made, Until: e.val.Until, Used: e.val.Used, Revoked: e.rec.State != tokenLive}
}

var (
	tokenName = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,63}$`)
	tokenForm = regexp.MustCompile(`^` + tokenPrefix + `[A-Z2-7]{26,64}$`)
)

// A TokenOrder is a token to be made.
type TokenOrder struct {
	Name  string
	Acts  []string  // what it may do: some of what its maker may
	Until time.Time // exclusive; at most a year from now
}

// MakeToken makes a token for the account of a person who has logged in, and returns
// its text, which is shown this once and kept nowhere. A token makes no tokens.
func (a *App) MakeToken(ctx context.Context, who Actor, o TokenOrder) (made *Token, text string, err error) {
	now := a.now()
	e := Event{Who: who.Name, Act: ActManage, Subject: "tokens/" + o.Name}
	defer a.missed(ctx, &e, &err)
	if err := a.checkToken(who, o, now); err != nil {
		return nil, "", err
	}
	acts := slices.DeleteFunc(Acts(), func(act string) bool { return !slices.Contains(o.Acts, act) })
	text = tokenPrefix + rand.Text()
	err = a.store.Update(ctx, func(tx Tx) error {
		maker, err := accountOfIn(tx, who)
		if err != nil {
			return err
		}
		all, err := query[keptToken](tx, Query{Kind: KindToken, State: tokenLive})
		if err != nil {
			return err
		}
		live := 0
		for _, t := range all {
			if t.val.Maker == maker.rec.ID && now.Before(t.val.Until) {
				live++
			}
		}
		if live >= mostTokens {
			return &Problem{Kind: Conflict, Title: "You have too many tokens", Detail: fmt.Sprintf("%d of yours are live.", live), Next: "Revoke those that no program needs any more."}
		}
		t := entry[keptToken]{Record{Kind: KindToken, ID: o.Name, State: tokenLive, Ref: digest(text)}, keptToken{Maker: maker.rec.ID, Acts: acts, Made: now, Until: stamp(o.Until)}}
		err = t.keep(tx)
		if errors.Is(err, ErrExists) {
			return &Problem{Kind: Conflict, Title: "There is such a token already", Detail: fmt.Sprintf("A token has the name %s, or had it.", o.Name), Next: "Take another name, such as one with the year in it."}
		}
		if err != nil {
			return err
		}
		made = token(&t)
		return a.done(tx, e, fmt.Sprintf("The token %s was made, to %s, until %s.", o.Name, strings.ReplaceAll(strings.Join(acts, ", "), "_", " "), made.Until.Format(time.RFC3339)))
	})
	if err != nil {
		return nil, "", err
	}
	return made, text, nil
}

func (a *App) checkToken(who Actor, o TokenOrder, now time.Time) error {
	switch {
	case who.Name == "":
		return who.must(ActRead)
	case !tokenName.MatchString(o.Name):
		return invalid("name", "The name of a token has 1 to 64 small letters (a to z), digits, dots, underscores and hyphens, and begins with a letter or digit.", "Name the program that will have it.")
	case len(o.Acts) == 0:
		return invalid("acts", "A token that may do nothing is of no use.", "Give some of: "+strings.Join(who.Acts, ", ")+".")
	case !o.Until.After(now):
		return invalid("until", "A token needs an end that is still to come.", "Give a time within a year from now.")
	case o.Until.After(now.AddDate(1, 0, 0)):
		return invalid("until", "A token lasts a year at most.", fmt.Sprintf("Give a time until %s, and make another one then.", now.AddDate(1, 0, 0).Format(time.RFC3339)))
	}
	for _, act := range o.Acts {
		if !slices.Contains(Acts(), act) {
			return invalid("acts", fmt.Sprintf("%q is nothing that can be done.", act), "Give some of: "+strings.Join(who.Acts, ", ")+".")
		}
		if !who.May(act) {
			return &Problem{Kind: Forbidden, Title: "A token may do no more than its maker", Detail: fmt.Sprintf("You may not %s.", strings.ReplaceAll(act, "_", " ")), Next: "Give some of: " + strings.Join(who.Acts, ", ") + "."}
		}
	}
	return nil
}

// Tokens lists tokens in the order in which they were made: one's own, or with the
// right to manage all.
func (a *App) Tokens(ctx context.Context, who Actor) (list []*Token, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[keptToken](tx, Query{Kind: KindToken})
		for i := range es {
			if es[i].val.Maker == who.Name || who.May(ActManage) {
				list = append(list, token(&es[i]))
			}
		}
		return err
	})
	return list, err
}

// RevokeToken ends a token for good: one's own, or with the right to manage any.
func (a *App) RevokeToken(ctx context.Context, who Actor, name string) (revoked *Token, err error) {
	e := Event{Who: who.Name, Act: ActManage, Subject: "tokens/" + name}
	defer a.missed(ctx, &e, &err)
	err = a.store.Update(ctx, func(tx Tx) error {
		t, err := fetch[keptToken](tx, KindToken, name)
		if who.Name == "" || err != nil || t.val.Maker != who.Name {
			if err := who.must(ActManage); err != nil {
				return err
			}
		}
		if err != nil {
			return err
		}
		if t.rec.State == tokenRevoked {
			return &Problem{Kind: Conflict, Title: "It is revoked already", Detail: fmt.Sprintf("The token %s opens nothing any more.", name), Next: "There is nothing left to do."}
		}
		t.rec.State = tokenRevoked
		if err := t.keep(tx); err != nil {
			return err
		}
		revoked = token(&t)
		return a.done(tx, e, fmt.Sprintf("The token %s was revoked.", name))
	})
	if err != nil {
		return nil, err
	}
	return revoked, nil
}

// TokenActor returns who acts with a token: what it was made for, as far as its maker
// may do that now.
func (a *App) TokenActor(ctx context.Context, text string) (who Actor, err error) {
	dead := func(detail string) error {
		return &Problem{Kind: Unknown, Title: "The token opens nothing", Detail: detail, Next: "Send a token that is live: a person with an account makes one, and gives it its end."}
	}
	if !tokenForm.MatchString(text) {
		return who, dead("It is no token of this service.")
	}
	now, ref := a.now(), digest(text)
	var t entry[keptToken]
	var maker *Account
	err = a.store.View(ctx, func(tx Tx) error {
		list, err := query[keptToken](tx, Query{Kind: KindToken, Ref: ref, Limit: 1})
		if err != nil || len(list) == 0 {
			return err
		}
		t = list[0]
		n, err := fetch[keptAccount](tx, KindAccount, t.val.Maker)
		maker = account(&n)
		return err
	})
	switch {
	case err != nil:
		return who, err
	case maker == nil:
		return who, dead("It is no token of this service.")
	case t.rec.State != tokenLive:
		return who, dead("It was revoked.")
	case !now.Before(t.val.Until):
		return who, dead("It ended at " + t.val.Until.Format(time.RFC3339) + ".")
	case maker.Disabled:
		return who, dead("The account that made it is disabled.")
	}
	may := maker.actor()
	who = Actor{Name: tokenActor + t.rec.ID, Acts: slices.DeleteFunc(slices.Clone(t.val.Acts), func(act string) bool { return !may.May(act) })}
	if day := now.Truncate(24 * time.Hour); t.val.Used.Before(day) {
		// As with sessions, what cannot be written now is written with a later call.
		_ = a.store.Update(ctx, func(tx Tx) error {
			t, err := fetch[keptToken](tx, KindToken, t.rec.ID)
			if err != nil || !t.val.Used.Before(day) {
				return err
			}
			t.val.Used = day
			return t.keep(tx)
		})
	}
	return who, nil
}
