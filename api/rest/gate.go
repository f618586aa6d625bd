package rest

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"net/netip"
	"strings"

	"github.com/labstack/echo/v4"

	"wetdown/api"
	"wetdown/api/pace"
)

// An exchange is one request on its way to its answer.
type exchange struct {
	echo.Context
	s      *Server
	app    *api.App
	route  *route
	who    api.Actor
	token  string // of the session, "" without one
	secure bool   // TLS is spoken with whoever asks
	body   []byte // as it came
	detail string // of what was done, for the trail

	admitted bool // through the gate
}

// through takes a request through the gate to what a route does.
func (s *Server) through(r *route) echo.HandlerFunc {
	return func(c echo.Context) error {
		x := &exchange{Context: c, s: s, app: s.app, route: r, secure: s.secure(c.Request())}
		err := x.admit()
		if err == nil {
			x.admitted = true
			err = x.once()
		}
		x.record(err)
		return err
	}
}

// unsafe reports whether the request may change something.
func (x *exchange) unsafe() bool {
	return x.route.method != http.MethodGet
}

// admit lets the request in, or says why not.
func (x *exchange) admit() error {
	s, r := x.s, x.Request()
	remote := s.remote(r)
	if wait := s.addresses.take(pace.Address(remote), s.o.Clock()); wait > 0 {
		return tooOften(wait)
	}
	if err := x.identify(); err != nil && x.route.act != everybody {
		return err
	}
	if x.who.Name != "" {
		if wait := s.accounts.take(x.who.Name, s.o.Clock()); wait > 0 {
			return tooOften(wait)
		}
	}
	switch act := x.route.act; {
	case act == everybody:
	case act == neighbour && s.near(r):
	case x.who.Name == "":
		return nobodyKnown()
	case act == anybody:
	case act == neighbour:
		if err := may(x.who, api.ActManage); err != nil {
			return err
		}
	default:
		if err := may(x.who, act); err != nil {
			return err
		}
	}
	if x.unsafe() {
		if err := s.cross.Check(r); err != nil {
			return foreign()
		}
	}
	if x.route.act != everybody {
		if err := x.query(); err != nil {
			return err
		}
	}
	return x.read()
}

// foreign is the problem with a request that a page of another origin has made.
func foreign() error {
	return &api.Problem{
		Kind: api.Forbidden, Title: "Another site has asked", Detail: "The request comes from a page of another origin.",
		Next: "Use the pages of this service, or a program with a token.",
	}
}

func nobodyKnown() error {
	return &api.Problem{Kind: api.Unknown, Title: "Nobody is logged in", Detail: "This takes an account or a token.", Next: "Log in at /login, or send a token as Authorization: Bearer."}
}

// may returns a problem unless the actor may do something.
func may(who api.Actor, act string) error {
	if who.May(act) {
		return nil
	}
	var roles []string
	for _, role := range api.Roles() {
		if (api.Actor{Acts: api.ActsOf(role)}).May(act) {
			roles = append(roles, role)
		}
	}
	return &api.Problem{
		Kind: api.Forbidden, Title: "You may not do this",
		Detail: "It takes the right to " + strings.ReplaceAll(act, "_", " ") + ", which " + who.Name + " does not have.",
		Next:   "Ask a person with one of these roles: " + strings.Join(roles, ", ") + ".",
	}
}

// identify finds out who asks: by a token in the header, else by the session's cookie.
func (x *exchange) identify() (err error) {
	r := x.Request()
	if h := r.Header.Get("Authorization"); h != "" {
		scheme, text, _ := strings.Cut(h, " ")
		if !strings.EqualFold(scheme, "Bearer") {
			return &api.Problem{Kind: api.Unknown, Title: "This way of logging in is not taken", Detail: "The header Authorization has another scheme than Bearer.", Next: "Send a token as Authorization: Bearer wd_…"}
		}
		x.who, err = x.app.TokenActor(r.Context(), strings.TrimSpace(text))
		return err
	}
	cookie, err := r.Cookie(cookieName(x.secure))
	if err != nil {
		return nil
	}
	if x.who, err = x.app.Session(r.Context(), cookie.Value); err == nil {
		x.token = cookie.Value
	}
	return err
}

// record puts what was tried on the trail: whatever may have changed something, and what
// was asked without the right to.
func (x *exchange) record(err error) {
	refused := false
	if err != nil {
		kind := api.AsProblem(err).Kind
		refused = kind == api.Forbidden || kind == api.Unknown
	}
	if x.admitted && x.route.trailed || !x.unsafe() && !refused {
		return
	}
	act := x.route.act
	switch act {
	case neighbour:
		act = api.ActManage
	case anybody, everybody:
		act = api.ActRead
	}
	e := api.Event{Who: x.who.Name, Act: act, Subject: x.subject(), Outcome: api.Outcome(err), Detail: x.route.method + " " + x.route.path + "."}
	switch {
	case err != nil && len(errorTitle(err)) > 0:
		e.Detail += " " + errorTitle(err)
	case x.detail != "":
		e.Detail += " " + x.detail
	}
	if x.who.Name == "" && !x.s.tells(x.s.remote(x.Request()), &e) {
		return
	}
	// Whoever asked may have gone: what they did is told all the same.
	if kept := x.app.Record(detached(x.Request().Context()), e); kept != nil {
		x.s.o.Log.Error("an attempt could not be put on the trail", "error", kept, "route", x.route.path)
	}
}

// tells reports whether an attempt of nobody known is put on the trail. Strangers could fill
// it: of each address there are so many at once and one a second, and then how many were
// not told.
func (s *Server) tells(remote netip.Addr, e *api.Event) bool {
	if s.strangers.take(pace.Address(remote), s.o.Clock()) > 0 {
		s.untold.Add(1)
		return false
	}
	if n := s.untold.Swap(0); n > 0 {
		e.Detail += fmt.Sprintf(" Attempts of nobody known before it that are not told: %d.", n)
	}
	return true
}

func errorTitle(err error) string {
	var p *api.Problem
	if errors.As(err, &p) {
		return strings.TrimSuffix(p.Title, ".") + "."
	}
	return ""
}

// subject is what a request is about: its path, without what is secret in it.
func (x *exchange) subject() string {
	path := strings.TrimPrefix(x.route.path, "/")
	for _, name := range x.ParamNames() {
		if name != "secret" {
			path = strings.ReplaceAll(path, "{"+name+"}", x.Param(name))
		}
	}
	return path
}

// once carries the request out; one with an Idempotency-Key only the first time. What stands
// for the request is made with the key, which is kept nowhere: nobody finds out by trying
// what was in it.
func (x *exchange) once() error {
	key := x.Request().Header.Get("Idempotency-Key")
	if key == "" || !x.unsafe() || x.route.act == everybody || x.route.trailed && x.route.method != http.MethodPost {
		return x.route.do(x)
	}
	if len(key) > 200 {
		return invalid("Idempotency-Key", "The key has more than 200 characters.", "Take a random one of about 30.")
	}
	sum := sha256.New()
	for _, part := range []string{key, x.route.method, x.Request().URL.RequestURI(), x.Request().Header.Get("If-Match"), x.Request().Header.Get("If-None-Match")} {
		sum.Write([]byte(part + "\n"))
	}
	sum.Write(x.body)
	r := x.Request()
	ctx, once, before, err := x.app.Begin(r.Context(), x.who, key, hex.EncodeToString(sum.Sum(nil)))
	if err != nil {
		return err
	}
	if before != nil {
		for _, name := range keptHeaders {
			if v := before.Header[name]; v != "" {
				x.Response().Header().Set(name, v)
			}
		}
		x.detail = "It was sent again, and given the first answer."
		if len(before.Body) == 0 {
			return x.NoContent(before.Status)
		}
		return x.Blob(before.Status, before.Header["Content-Type"], before.Body)
	}
	x.SetRequest(r.WithContext(ctx))
	tee := &tee{ResponseWriter: x.Response().Writer}
	x.Response().Writer = tee
	err = x.route.do(x)
	x.Response().Writer = tee.ResponseWriter
	ctx = detached(r.Context())
	if err != nil || x.Response().Status >= 300 {
		return errors.Join(err, x.app.Forget(ctx, once))
	}
	a := &api.Answer{Status: x.Response().Status, Header: map[string]string{}, Body: tee.body}
	for _, name := range keptHeaders {
		if v := x.Response().Header().Get(name); v != "" {
			a.Header[name] = v
		}
	}
	if x.route.secret {
		a = nil // what is shown once is kept nowhere
	}
	if err := x.app.Finish(ctx, once, a); err != nil {
		x.s.o.Log.Error("an answer could not be kept for a repeated request", "error", err, "route", x.route.path)
	}
	return nil
}

// keptHeaders are the headers of an answer that whoever repeats the request is given.
var keptHeaders = []string{"Content-Type", "ETag", "Location", "Preference-Applied"}

// A tee keeps a copy of what is written.
type tee struct {
	http.ResponseWriter
	body []byte
}

func (t *tee) Write(b []byte) (int, error) {
	t.body = append(t.body, b...)
	return t.ResponseWriter.Write(b)
}

// Unwrap is for http.ResponseController.
func (t *tee) Unwrap() http.ResponseWriter { return t.ResponseWriter }

// remote is the address of who asks: that of the peer, or what a trusted proxy says. Of
// several it is the last that is no trusted proxy.
func (s *Server) remote(r *http.Request) netip.Addr {
	at := peer(r)
	forwarded := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(forwarded) - 1; i >= 0 && s.trusted(at); i-- {
		next, err := netip.ParseAddr(strings.TrimSpace(forwarded[i]))
		if err != nil {
			break
		}
		at = next.Unmap()
	}
	return at
}

func peer(r *http.Request) netip.Addr {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.IPv4Unspecified()
	}
	return at.Addr().Unmap()
}

func (s *Server) trusted(a netip.Addr) bool {
	for _, p := range s.o.Proxies {
		if p.Contains(a) {
			return true
		}
	}
	return false
}

// secure reports whether TLS is spoken with whoever asks.
func (s *Server) secure(r *http.Request) bool {
	return r.TLS != nil || s.trusted(peer(r)) && r.Header.Get("X-Forwarded-Proto") == "https"
}

// near reports whether somebody on this very machine asks, and no proxy for others.
func (s *Server) near(r *http.Request) bool {
	return peer(r).IsLoopback() && r.Header.Get("X-Forwarded-For") == "" && r.Header.Get("Forwarded") == ""
}
