package oidc

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"wetdown/api"
)

// A Config says which provider to ask, as whom, and what its answers mean.
type Config struct {
	Issuer       string // URL, exactly as the provider calls itself
	ClientID     string
	ClientSecret string
	Redirect     string   // URL of ours that the provider sends people back to
	Scopes       []string // beside openid and profile, such as the one that brings groups

	LoginClaim  string // "": preferred_username; what follows an @ is left out
	GroupsClaim string // "": groups; its value is a list of names, or one
	Roles       []GroupRole

	Client *http.Client // nil: one that gives up after 10 s
	Clock  func() time.Time
}

// A GroupRole gives a role to who is in a group. Of several, the role that may do most
// counts; who is in none is refused.
type GroupRole struct {
	Group, Role string
}

// A Provider is an identity provider that has been found.
type Provider struct {
	c        Config
	oauth    oauth2.Config
	verifier *oidc.IDTokenVerifier
}

// patience is how long an attempt may take a person, and how long a call may take the
// provider.
const (
	patience = 10 * time.Minute
	callTime = 10 * time.Second
)

// Open finds the provider. Its error says what to do.
func Open(ctx context.Context, c Config) (*Provider, error) {
	c.LoginClaim, c.GroupsClaim = cmp.Or(c.LoginClaim, "preferred_username"), cmp.Or(c.GroupsClaim, "groups")
	c.Client = cmp.Or(c.Client, &http.Client{Timeout: callTime})
	for _, must := range []struct{ name, value string }{{"issuer", c.Issuer}, {"client ID", c.ClientID}, {"URL to come back to", c.Redirect}} {
		if must.value == "" {
			return nil, fmt.Errorf("the identity provider has no %s: name it, or switch logging in with a provider off", must.name)
		}
	}
	if len(c.Roles) == 0 {
		return nil, errors.New("no group of the identity provider has a role, so nobody could log in: give one a role")
	}
	for _, r := range c.Roles {
		if !slices.Contains(api.Roles(), r.Role) {
			return nil, fmt.Errorf("the group %q has the role %q, which does not exist: write one of %s", r.Group, r.Role, strings.Join(api.Roles(), ", "))
		}
	}
	found, err := oidc.NewProvider(oidc.ClientContext(ctx, c.Client), c.Issuer)
	if err != nil {
		return nil, fmt.Errorf("the identity provider %s cannot be found: %w: check the issuer, and that this machine reaches it", c.Issuer, err)
	}
	return &Provider{
		c:        c,
		oauth:    oauth2.Config{ClientID: c.ClientID, ClientSecret: c.ClientSecret, Endpoint: found.Endpoint(), RedirectURL: c.Redirect, Scopes: append([]string{oidc.ScopeOpenID, "profile"}, c.Scopes...)},
		verifier: found.VerifierContext(oidc.ClientContext(context.WithoutCancel(ctx), c.Client), &oidc.Config{ClientID: c.ClientID, Now: c.Clock}),
	}, nil
}

// A flow is one attempt to log in.
type flow struct {
	State, Nonce, Verifier string
	Begun                  int64 // seconds since 1970
}

// Begin begins an attempt: the page of the provider to go to, and what the browser
// must bring back to Finish within ten minutes, and show to nobody else.
func (p *Provider) Begin() (page, kept string) {
	f := flow{rand.Text(), rand.Text(), oauth2.GenerateVerifier(), p.c.Clock().Unix()}
	text, err := json.Marshal(f)
	if err != nil {
		panic(err) // four plain fields
	}
	return p.oauth.AuthCodeURL(f.State, oidc.Nonce(f.Nonce), oauth2.S256ChallengeOption(f.Verifier)), base64.RawURLEncoding.EncodeToString(text)
}

// Finish ends an attempt with what the provider sent the person back with. Its
// problems are for that person; the cause within is for the log.
func (p *Provider) Finish(ctx context.Context, kept string, sent url.Values) (g api.Guest, err error) {
	f, ok := read(kept)
	now := p.c.Clock()
	switch begun := time.Unix(f.Begun, 0); {
	case !ok || !same(sent.Get("state"), f.State):
		return g, refuse(api.Unknown, "This attempt to log in was not begun here.", "Begin to log in once more, in this browser.", errors.New("the state is not that of the attempt"))
	case now.Before(begun.Add(-time.Minute)) || !now.Before(begun.Add(patience)):
		return g, refuse(api.Unknown, "It took too long to log in.", "Begin to log in once more.", errors.New("the attempt is too old"))
	case sent.Has("iss") && sent.Get("iss") != p.c.Issuer: // RFC 9207
		return g, refuse(api.Unknown, "The answer comes from another provider.", "Begin to log in once more.", errors.New("the answer names another issuer"))
	case sent.Get("error") != "":
		return g, refuse(api.Forbidden, "The identity provider did not let you in.", "Begin to log in once more, or ask whoever looks after the provider.", fmt.Errorf("the provider says %.100q", sent.Get("error")))
	case sent.Get("code") == "":
		return g, refuse(api.Unknown, "The identity provider sent no answer.", "Begin to log in once more.", errors.New("the answer has no code"))
	}
	const again = "Begin to log in once more; if it stays, tell your administrator."
	ctx = oidc.ClientContext(ctx, p.c.Client)
	tokens, err := p.oauth.Exchange(ctx, sent.Get("code"), oauth2.VerifierOption(f.Verifier))
	if err != nil {
		return g, refuse(api.Unknown, "The identity provider does not confirm who you are.", again, bare(err))
	}
	raw, ok := tokens.Extra("id_token").(string)
	if !ok {
		return g, refuse(api.Unknown, "The identity provider does not say who you are.", again, errors.New("the answer has no id_token"))
	}
	id, err := p.verifier.Verify(ctx, raw)
	if err != nil {
		return g, refuse(api.Unknown, "What the identity provider says of you is not valid.", again, err)
	}
	if !same(id.Nonce, f.Nonce) {
		return g, refuse(api.Unknown, "What the identity provider says belongs to another attempt.", again, errors.New("the nonce is not that of the attempt"))
	}
	var claims map[string]any
	if err := id.Claims(&claims); err != nil {
		return g, refuse(api.Unknown, "What the identity provider says of you cannot be read.", again, err)
	}
	return p.guest(id.Subject, claims)
}

// guest reads claims that have been verified.
func (p *Provider) guest(subject string, claims map[string]any) (g api.Guest, err error) {
	login, _ := claims[p.c.LoginClaim].(string)
	login, _, _ = strings.Cut(login, "@")
	if subject == "" || login == "" {
		return g, refuse(api.Forbidden, "The identity provider gives you no login name.", "Tell your administrator.", fmt.Errorf("the claim %s is missing, or the subject", p.c.LoginClaim))
	}
	name, _ := claims["name"].(string)
	role := p.role(names(claims[p.c.GroupsClaim]))
	if role == "" {
		return g, refuse(api.Forbidden, "None of your groups may use this service.", "Ask your administrator for a group that may.", fmt.Errorf("no group in the claim %s has a role", p.c.GroupsClaim))
	}
	return api.Guest{Subject: p.c.Issuer + " " + subject, Login: login, Name: name, Role: role}, nil
}

// role is the role of the groups that may do most, "" for none.
func (p *Provider) role(groups []string) (role string) {
	for _, r := range p.c.Roles {
		if slices.Contains(groups, r.Group) && len(api.ActsOf(r.Role)) > len(api.ActsOf(role)) {
			role = r.Role
		}
	}
	return role
}

// names are the texts in a claim: a list of them, or one.
func names(claim any) (list []string) {
	switch c := claim.(type) {
	case string:
		return []string{c}
	case []any:
		for _, v := range c {
			if s, ok := v.(string); ok {
				list = append(list, s)
			}
		}
	}
	return list
}

// read reads what Begin has handed out.
func read(kept string) (f flow, ok bool) {
	if len(kept) > 1000 {
		return f, false
	}
	text, err := base64.RawURLEncoding.DecodeString(kept)
	if err != nil || json.Unmarshal(text, &f) != nil {
		return flow{}, false
	}
	return f, f.State != "" && f.Nonce != "" && f.Verifier != ""
}

func same(x, y string) bool { return subtle.ConstantTimeCompare([]byte(x), []byte(y)) == 1 }

// A refusal is a problem for the person, with the cause for the log.
type refusal struct {
	problem *api.Problem
	cause   error
}

func (r *refusal) Error() string   { return "logging in with the identity provider: " + r.cause.Error() }
func (r *refusal) Unwrap() []error { return []error{r.problem, r.cause} }

func refuse(kind api.Kind, detail, next string, cause error) error {
	return &refusal{&api.Problem{Kind: kind, Title: "You could not be logged in", Detail: detail, Next: next}, cause}
}

// bare is an error of the exchange without the body of the answer, which may say
// more than a log should have.
func bare(err error) error {
	var r *oauth2.RetrieveError
	if errors.As(err, &r) {
		return fmt.Errorf("the provider answers %s, %.100q", r.Response.Status, r.ErrorCode)
	}
	return err
}
