package oidc_test

import (
	"context"
	"crypto"
	"crypto/hmac"
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/oidc"
)

// A provider is a tiny identity provider, written from OpenID Connect Core 1.0,
// Discovery 1.0, RFC 6749, RFC 7517 and RFC 7636. It has no pages: everybody who is sent
// to it is logged in at once, and what it says of them is up to the test.
type provider struct {
	*httptest.Server
	key  *rsa.PrivateKey
	now  time.Time
	asks map[string]url.Values // by code: what the service has asked for

	claims  func(map[string]any)                      // changes what is said
	sign    func(head, body map[string]any) string    // nil: with the key
	answer  func(w http.ResponseWriter, token string) // nil: as the standard says
	issuer  string                                    // "": its URL
	refuses bool
}

const (
	client   = "wetdown-plant"
	secret   = "s3cret/of+the client"
	redirect = "https://plant.example/login/back"
)

var ctx = context.Background()

func newProvider(t *testing.T) *provider {
	t.Helper()
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	p := &provider{key: key, now: time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC), asks: map[string]url.Values{}}
	mux := http.NewServeMux()
	p.Server = httptest.NewServer(mux)
	t.Cleanup(p.Close)
	mux.HandleFunc("GET /.well-known/openid-configuration", func(w http.ResponseWriter, r *http.Request) {
		issuer := p.URL
		if p.issuer != "" {
			issuer = p.issuer
		}
		write(w, map[string]any{
			"issuer": issuer, "authorization_endpoint": p.URL + "/authorize", "token_endpoint": p.URL + "/token", "jwks_uri": p.URL + "/keys",
			"id_token_signing_alg_values_supported": []string{"RS256", "HS256", "none"}, "response_types_supported": []string{"code"}, "subject_types_supported": []string{"public"},
		})
	})
	mux.HandleFunc("GET /keys", func(w http.ResponseWriter, r *http.Request) {
		write(w, map[string]any{"keys": []any{map[string]any{
			"kty": "RSA", "alg": "RS256", "use": "sig", "kid": "k1",
			"n": b64(key.N.Bytes()), "e": b64(big.NewInt(int64(key.E)).Bytes()),
		}}})
	})
	mux.HandleFunc("POST /token", func(w http.ResponseWriter, r *http.Request) {
		id, pass, _ := r.BasicAuth()
		id, _ = url.QueryUnescape(id)
		pass, _ = url.QueryUnescape(pass)
		ask, ok := p.asks[r.PostFormValue("code")]
		delete(p.asks, r.PostFormValue("code"))
		sum := sha256.Sum256([]byte(r.PostFormValue("code_verifier")))
		switch {
		case id != client || pass != secret:
			w.WriteHeader(http.StatusUnauthorized)
			write(w, map[string]any{"error": "invalid_client"})
		case !ok || r.PostFormValue("grant_type") != "authorization_code" || r.PostFormValue("redirect_uri") != redirect || b64(sum[:]) != ask.Get("code_challenge"):
			w.WriteHeader(http.StatusBadRequest)
			write(w, map[string]any{"error": "invalid_grant", "error_description": "kept out of logs"})
		default:
			token := p.token(ask)
			if p.answer != nil {
				p.answer(w, token)
				return
			}
			write(w, map[string]any{"access_token": "a", "token_type": "Bearer", "expires_in": 300, "id_token": token})
		}
	})
	return p
}

func write(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(v)
}

func b64(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }

// token is a signed ID token for what was asked.
func (p *provider) token(ask url.Values) string {
	claims := map[string]any{
		"iss": p.URL, "sub": "7", "aud": client, "iat": p.now.Unix(), "exp": p.now.Add(5 * time.Minute).Unix(), "nonce": ask.Get("nonce"),
		"preferred_username": "kim.lee@plant.example", "name": "Kim Lee", "groups": []string{"everybody", "visits"},
	}
	if p.claims != nil {
		p.claims(claims)
	}
	head := map[string]any{"alg": "RS256", "kid": "k1", "typ": "JWT"}
	if p.sign != nil {
		return p.sign(head, claims)
	}
	text := unsigned(head, claims)
	return text + "." + b64(signature(p.key, text))
}

func unsigned(head, body map[string]any) string {
	h, _ := json.Marshal(head)
	b, _ := json.Marshal(body)
	return b64(h) + "." + b64(b)
}

func signature(key *rsa.PrivateKey, text string) []byte {
	sum := sha256.Sum256([]byte(text))
	s, err := rsa.SignPKCS1v15(rand.Reader, key, crypto.SHA256, sum[:])
	if err != nil {
		panic(err)
	}
	return s
}

// authorize is the page of the provider: it checks what is asked, and sends back.
func (p *provider) authorize(t *testing.T, page string) url.Values {
	t.Helper()
	u, err := url.Parse(page)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	if got := u.Scheme + "://" + u.Host + u.Path; got != p.URL+"/authorize" {
		t.Errorf("people are sent to %s", got)
	}
	for _, c := range []struct{ name, want string }{
		{"response_type", "code"}, {"client_id", client}, {"redirect_uri", redirect}, {"scope", "openid profile groups"}, {"code_challenge_method", "S256"},
	} {
		if q.Get(c.name) != c.want {
			t.Errorf("%s is %q, want %q", c.name, q.Get(c.name), c.want)
		}
	}
	for _, name := range []string{"state", "nonce", "code_challenge"} {
		if len(q.Get(name)) < 26 { // 130 bits of base 32
			t.Errorf("%s is only %q", name, q.Get(name))
		}
	}
	if p.refuses {
		return url.Values{"error": {"access_denied"}, "state": {q.Get("state")}}
	}
	code := rand.Text()
	p.asks[code] = q
	return url.Values{"code": {code}, "state": {q.Get("state")}}
}

// config is what the service knows of the provider.
func (p *provider) config() oidc.Config {
	return oidc.Config{
		Issuer: p.URL, ClientID: client, ClientSecret: secret, Redirect: redirect, Scopes: []string{"groups"},
		Roles: []oidc.GroupRole{{"visits", api.RoleCoordinator}, {"everybody", api.RoleReader}, {"desk", api.RoleSales}},
		Clock: func() time.Time { return p.now },
	}
}

func (p *provider) open(t *testing.T) *oidc.Provider {
	t.Helper()
	o, err := oidc.Open(ctx, p.config())
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// round logs in from the beginning to the end.
func (p *provider) round(t *testing.T, o *oidc.Provider) (api.Guest, error) {
	t.Helper()
	page, kept := o.Begin()
	return o.Finish(ctx, kept, p.authorize(t, page))
}

func TestFinish_Good(t *testing.T) {
	p := newProvider(t)
	o := p.open(t)
	want := api.Guest{Subject: p.URL + " 7", Login: "kim.lee", Name: "Kim Lee", Role: api.RoleCoordinator}
	for range 2 {
		if g, err := p.round(t, o); err != nil || g != want {
			t.Errorf("got %+v, %v, want %+v", g, err, want)
		}
	}
	for _, c := range []struct {
		groups any
		role   string // "": refused
	}{
		{[]string{"everybody"}, api.RoleReader},
		{[]string{"desk", "everybody"}, api.RoleSales},
		{[]any{7, nil, "desk"}, api.RoleSales},
		{"visits", api.RoleCoordinator},
		{[]string{"Visits"}, ""},
		{[]string{}, ""},
		{nil, ""},
		{map[string]any{"visits": true}, ""},
	} {
		p.claims = func(m map[string]any) { m["groups"] = c.groups }
		g, err := p.round(t, o)
		if g.Role != c.role {
			t.Errorf("%v: got the role %q, want %q", c.groups, g.Role, c.role)
		}
		if (err == nil) != (c.role != "") {
			t.Errorf("%v: %v", c.groups, err)
		}
		if c.role == "" {
			refused(t, err, api.Forbidden)
		}
	}
}

func TestFinish_Claims(t *testing.T) {
	p := newProvider(t)
	c := p.config()
	c.LoginClaim, c.GroupsClaim = "uid", "roles"
	o, err := oidc.Open(ctx, c)
	if err != nil {
		t.Fatal(err)
	}
	p.claims = func(m map[string]any) { m["uid"], m["roles"] = "klee", []string{"desk"} }
	if g, err := p.round(t, o); err != nil || g.Login != "klee" || g.Role != api.RoleSales {
		t.Errorf("%+v, %v", g, err)
	}
	for _, login := range []any{"", nil, 7, "@plant.example"} {
		p.claims = func(m map[string]any) { m["uid"], m["roles"] = login, []string{"desk"} }
		_, err := p.round(t, o)
		refused(t, err, api.Forbidden)
	}
}

// refused checks that err is a problem for the person that says nothing of tokens.
func refused(t *testing.T, err error, kind api.Kind) {
	t.Helper()
	var p *api.Problem
	if !errors.As(err, &p) || p.Kind != kind || p.Next == "" {
		t.Errorf("got %v, want a problem of kind %d with a next step", err, kind)
		return
	}
	for _, secret := range []string{"eyJ", secret, "kept out of logs"} {
		if strings.Contains(p.Error()+err.Error(), secret) {
			t.Errorf("the problem gives %q away: %v", secret, err)
		}
	}
}

// TestFinish_BadTokens has the provider say what must not be believed (OpenID Connect
// Core 1.0, 3.1.3.7).
func TestFinish_BadTokens(t *testing.T) {
	p := newProvider(t)
	o := p.open(t)
	other, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	set := func(name string, v any) func() {
		return func() {
			p.claims = func(m map[string]any) {
				if m[name] = v; v == nil {
					delete(m, name)
				}
			}
		}
	}
	for _, c := range []struct {
		name string
		make func()
		says string
	}{
		{"another audience", set("aud", "another-client"), "audience"},
		{"no audience", set("aud", nil), "audience"},
		{"another issuer", set("iss", "https://id.example"), "issue"},
		{"expired", set("exp", p.now.Add(-time.Minute).Unix()), "expired"},
		{"expires at this moment", set("exp", p.now.Unix()-1), "expired"},
		{"without an end", set("exp", nil), "expired"},
		{"not valid yet", set("nbf", p.now.Add(time.Hour).Unix()), "nbf"},
		{"another nonce", set("nonce", "another"), "nonce"},
		{"no nonce", set("nonce", nil), "nonce"},
		{"no subject", set("sub", ""), "subject"},
		{"another key", func() {
			p.sign = func(head, body map[string]any) string {
				text := unsigned(head, body)
				return text + "." + b64(signature(other, text))
			}
		}, "signature"},
		{"no signature", func() {
			p.sign = func(head, body map[string]any) string {
				head["alg"] = "none"
				return unsigned(head, body) + "."
			}
		}, ""},
		{"signed with the public key as a password", func() {
			p.sign = func(head, body map[string]any) string {
				head["alg"] = "HS256"
				text := unsigned(head, body)
				m := hmac.New(sha256.New, p.key.N.Bytes())
				m.Write([]byte(text))
				return text + "." + b64(m.Sum(nil))
			}
		}, ""},
		{"changed after it was signed", func() {
			p.sign = func(head, body map[string]any) string {
				sign := b64(signature(p.key, unsigned(head, body)))
				body["groups"] = []string{"desk"}
				return unsigned(head, body) + "." + sign
			}
		}, "signature"},
		{"no token", func() { p.sign = func(_, _ map[string]any) string { return "nothing" } }, ""},
		{"no ID token in the answer", func() {
			p.answer = func(w http.ResponseWriter, _ string) {
				write(w, map[string]any{"access_token": "a", "token_type": "Bearer"})
			}
		}, "no id_token"},
		{"an answer that is a page", func() {
			p.answer = func(w http.ResponseWriter, _ string) { fmt.Fprint(w, "<html>kept out of logs</html>") }
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			p.claims, p.sign, p.answer = nil, nil, nil
			c.make()
			g, err := p.round(t, o)
			if g != (api.Guest{}) {
				t.Errorf("it is believed: %+v", g)
			}
			if c.name == "no subject" {
				refused(t, err, api.Forbidden)
			} else {
				refused(t, err, api.Unknown)
			}
			if err != nil && !strings.Contains(err.Error(), c.says) {
				t.Errorf("the log has %q, which does not say %q", err, c.says)
			}
		})
	}
	p.claims, p.sign, p.answer = nil, nil, nil
	if _, err := p.round(t, o); err != nil {
		t.Errorf("a good token afterwards: %v", err)
	}
}

// TestFinish_Flow mixes attempts up.
func TestFinish_Flow(t *testing.T) {
	p := newProvider(t)
	o := p.open(t)
	page, kept := o.Begin()
	other, keptOther := o.Begin()
	if kept == keptOther || page == other {
		t.Fatal("two attempts are the same")
	}
	sent := p.authorize(t, page)
	with := func(name, value string) url.Values {
		q := url.Values{}
		for _, k := range []string{"code", "state"} {
			q.Set(k, sent.Get(k))
		}
		q.Set(name, value)
		return q
	}
	for _, c := range []struct {
		name, kept string
		sent       url.Values
		kind       api.Kind
	}{
		{"another browser", keptOther, sent, api.Unknown},
		{"no browser", "", sent, api.Unknown},
		{"noise", "%%%", sent, api.Unknown},
		{"an empty attempt", b64([]byte(`{}`)), with("state", ""), api.Unknown},
		{"too much", strings.Repeat("A", 100000), sent, api.Unknown},
		{"another state", kept, with("state", "x"), api.Unknown},
		{"no state", kept, with("state", ""), api.Unknown},
		{"no code", kept, with("code", ""), api.Unknown},
		{"another code", kept, with("code", "x"), api.Unknown},
		{"another issuer (RFC 9207)", kept, with("iss", "https://id.example"), api.Unknown},
		{"a refusal", kept, with("error", "access_denied"), api.Forbidden},
	} {
		g, err := o.Finish(ctx, c.kept, c.sent)
		if g != (api.Guest{}) {
			t.Errorf("%s: %+v", c.name, g)
		}
		refused(t, err, c.kind)
	}
	// the code of one attempt with the verifier and nonce of the other
	mixed := p.authorize(t, other)
	mixed.Set("state", sent.Get("state"))
	_, err := o.Finish(ctx, kept, mixed)
	refused(t, err, api.Unknown)

	p.now = p.now.Add(10*time.Minute - time.Second)
	if _, err := o.Finish(ctx, kept, with("iss", p.URL)); err != nil {
		t.Errorf("in time: %v", err)
	}
	_, err = o.Finish(ctx, kept, sent)
	refused(t, err, api.Unknown) // the code is used up
	p.now = p.now.Add(time.Second)
	_, err = o.Finish(ctx, keptOther, p.authorize(t, other))
	refused(t, err, api.Unknown) // ten minutes

	p.refuses = true
	_, err = p.round(t, o)
	refused(t, err, api.Forbidden)
}

func TestOpen(t *testing.T) {
	p := newProvider(t)
	for _, c := range []struct {
		change func(*oidc.Config)
		says   string
	}{
		{func(c *oidc.Config) { c.Issuer = "" }, "issuer"},
		{func(c *oidc.Config) { c.ClientID = "" }, "client ID"},
		{func(c *oidc.Config) { c.Redirect = "" }, "come back"},
		{func(c *oidc.Config) { c.Roles = nil }, "nobody could log in"},
		{func(c *oidc.Config) { c.Roles = []oidc.GroupRole{{"g", "captain"}} }, "captain"},
		{func(c *oidc.Config) { c.Issuer = p.URL + "/none" }, "cannot be found"},
		{func(*oidc.Config) { p.issuer = "https://id.example" }, "cannot be found"}, // it calls itself otherwise
		{func(*oidc.Config) { p.Close() }, "cannot be found"},
	} {
		config := p.config()
		c.change(&config)
		if _, err := oidc.Open(ctx, config); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("got %v, want an error that says %q", err, c.says)
		}
	}
}
