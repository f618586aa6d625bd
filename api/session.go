package api

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"time"
)

// KindSession is the kind of record of a session. Its ID is the SHA-256 of its token,
// its Ref the login name, and it is due when it expires.
const KindSession = "session"

// How long a session lasts: since it was last seen, and in all (common practice, no
// source; NIST SP 800-63B, 4.1.3, lets a session of one factor last 30 days).
const (
	SessionIdle = 8 * time.Hour
	SessionLife = 7 * 24 * time.Hour
)

const (
	sessionTouch = time.Minute // a session that is in use is written no more often
	mostSessions = 20          // of one account; the oldest gives way
	sessionBytes = 32
)

// A Pass is what a session is known by. The token is shown once, and kept nowhere.
type Pass struct {
	Token string
	Until time.Time // when it ends at the latest
	Who   Actor
}

// keptSession is the body of a session's record.
type keptSession struct {
	Begun, Seen time.Time
}

// newSessionToken is 256 random bits.
func newSessionToken() string {
	b := make([]byte, sessionBytes)
	rand.Read(b)
	return base64.RawURLEncoding.EncodeToString(b)
}

// sessionID is the ID of the session with a token, "" for what is no token.
func sessionID(token string) string {
	if b, err := base64.RawURLEncoding.Strict().DecodeString(token); err != nil || len(b) != sessionBytes || len(token) != base64.RawURLEncoding.EncodedLen(sessionBytes) {
		return ""
	}
	return digest(token)
}

// digest is what is kept of a token, which has too many random bits to need more.
func digest(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

func (s *keptSession) expires() time.Time {
	idle, life := s.Seen.Add(SessionIdle), s.Begun.Add(SessionLife)
	if idle.Before(life) {
		return idle
	}
	return life
}

// begin begins a session, and clears away some that have expired.
func (a *App) begin(tx Tx, of *Account, token string) (*Pass, error) {
	now := a.now()
	old, err := tx.List(Query{Kind: KindSession, DueBefore: now.Add(time.Millisecond), Limit: 100}) // due now, too
	if err != nil {
		return nil, err
	}
	own, err := tx.List(Query{Kind: KindSession, Ref: of.Login})
	if err != nil {
		return nil, err
	}
	for _, r := range append(old, own[:max(0, len(own)-mostSessions+1)]...) {
		if err := tx.Delete(KindSession, r.ID); err != nil {
			return nil, err
		}
	}
	s := entry[keptSession]{Record{Kind: KindSession, ID: sessionID(token), Ref: of.Login}, keptSession{Begun: now, Seen: now}}
	s.rec.Due = s.val.expires()
	if err := s.keep(tx); err != nil {
		return nil, err
	}
	return &Pass{Token: token, Until: now.Add(SessionLife), Who: of.actor()}, nil
}

// Session returns who has the session with a token, with what their role may do now.
func (a *App) Session(ctx context.Context, token string) (who Actor, err error) {
	gone := &Problem{Kind: Unknown, Title: "You are not logged in any more", Detail: "The session has ended, or there was none.", Next: "Log in again."}
	id := sessionID(token)
	if id == "" {
		return who, gone
	}
	now := a.now()
	var s entry[keptSession]
	err = a.store.View(ctx, func(tx Tx) (err error) {
		if s, err = fetch[keptSession](tx, KindSession, id); err != nil {
			return err
		}
		n, err := fetch[keptAccount](tx, KindAccount, s.rec.Ref)
		who = account(&n).actor()
		return err
	})
	if err != nil && AsProblem(err).Kind != NotFound {
		return Actor{}, err
	}
	if err != nil || who.Name == "" || !now.Before(s.val.expires()) {
		return Actor{}, gone
	}
	if now.Sub(s.val.Seen) >= sessionTouch {
		// What cannot be written now is written with a later call: a busy database
		// keeps nobody from looking.
		_ = a.store.Update(ctx, func(tx Tx) error {
			s, err := fetch[keptSession](tx, KindSession, id)
			if err != nil || now.Sub(s.val.Seen) < sessionTouch {
				return err
			}
			s.val.Seen = now
			s.rec.Due = s.val.expires()
			return s.keep(tx)
		})
	}
	return who, nil
}

// Logout ends a session; none is no error.
func (a *App) Logout(ctx context.Context, token string) error {
	id := sessionID(token)
	if id == "" {
		return nil
	}
	return a.store.Update(ctx, func(tx Tx) error {
		s, err := fetch[keptSession](tx, KindSession, id)
		if err != nil {
			if AsProblem(err).Kind == NotFound {
				return nil
			}
			return err
		}
		if err := tx.Delete(KindSession, id); err != nil {
			return err
		}
		return a.done(tx, Event{Who: s.rec.Ref, Act: actLogin, Subject: "accounts/" + s.rec.Ref}, "Logged out.")
	})
}

// LogoutEverywhere ends all sessions of an account: one's own, or with the right to
// manage any.
func (a *App) LogoutEverywhere(ctx context.Context, who Actor, login string) (err error) {
	login = fold(login)
	e := Event{Who: who.Name, Act: actLogin, Subject: "accounts/" + login}
	defer a.missed(ctx, &e, &err)
	if login != who.Name || login == "" {
		if err := who.must(ActManage); err != nil {
			return err
		}
	}
	return a.store.Update(ctx, func(tx Tx) error {
		if _, err := fetch[keptAccount](tx, KindAccount, login); err != nil {
			return err
		}
		if err := endSessions(tx, login); err != nil {
			return err
		}
		return a.done(tx, e, "All sessions were ended.")
	})
}

// endSession ends the session with a token, if there is one.
func endSession(tx Tx, token string) error {
	if id := sessionID(token); id != "" {
		return tx.Delete(KindSession, id)
	}
	return nil
}

// endSessions ends all sessions of an account.
func endSessions(tx Tx, login string) error {
	list, err := tx.List(Query{Kind: KindSession, Ref: login})
	if err != nil {
		return err
	}
	for _, r := range list {
		if err := tx.Delete(KindSession, r.ID); err != nil {
			return err
		}
	}
	return nil
}
