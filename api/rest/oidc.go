package rest

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"wetdown/api"
)

// A Provider vouches for people (OpenID Connect).
type Provider interface {
	// Begin begins an attempt: the page of the provider to go to, and what the browser
	// keeps until it comes back.
	Begin() (page, kept string)
	// Finish ends an attempt with what the browser kept, and what the provider sent it
	// back with.
	Finish(ctx context.Context, kept string, sent url.Values) (api.Guest, error)
}

// attemptTime is how long a browser keeps what belongs to an attempt.
const attemptTime = 10 * time.Minute

// attempt has the browser keep what belongs to an attempt; "" has it forget that.
func (x *exchange) attempt(kept string) {
	c := &http.Cookie{Name: cookieName(x.secure) + "-oidc", Value: kept, Path: "/", HttpOnly: true, Secure: x.secure, SameSite: http.SameSiteLaxMode, MaxAge: int(attemptTime.Seconds())}
	if kept == "" {
		c.MaxAge = -1
	}
	x.SetCookie(c)
}

func noProvider() error {
	return &api.Problem{Kind: api.NotFound, Title: "There is no identity provider", Detail: "Nobody logs in to this service from outside.", Next: "Log in at /login."}
}

// beginOIDC sends the browser to the identity provider.
func beginOIDC(x *exchange) error {
	if x.s.o.Provider == nil {
		return noProvider()
	}
	page, kept := x.s.o.Provider.Begin()
	x.attempt(kept)
	return x.Redirect(http.StatusFound, page)
}

// finishOIDC logs in whoever the provider has sent back.
func finishOIDC(x *exchange) error {
	if x.s.o.Provider == nil {
		return noProvider()
	}
	kept := ""
	if c, err := x.Request().Cookie(cookieName(x.secure) + "-oidc"); err == nil {
		kept = c.Value
	}
	ctx := x.Request().Context()
	g, err := x.s.o.Provider.Finish(ctx, kept, x.QueryParams())
	if err != nil {
		return err
	}
	g.Remote, g.Before = x.s.remote(x.Request()), x.token
	p, err := x.app.Admit(ctx, g)
	if err != nil {
		return err
	}
	x.attempt("")
	x.cookie(p.Token, p.Until)
	return x.Redirect(http.StatusSeeOther, "/")
}
