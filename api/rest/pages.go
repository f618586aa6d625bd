package rest

import (
	"fmt"
	"mime"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"wetdown/api"
	"wetdown/api/pace"
)

// Pages answer browsers, under the same addresses as programs are answered.
type Pages interface {
	http.Handler
	// Patterns lists the addresses that are pages, in the form of http.ServeMux.
	Patterns() []string
}

// Mount has pages answer what browsers ask: requests that accept HTML, and forms, for
// addresses that are pages. It is called before the server serves.
func (s *Server) Mount(p Pages) {
	s.pages = http.NewServeMux()
	for _, pattern := range p.Patterns() {
		s.pages.Handle(pattern, p)
	}
}

// isPage reports whether a page is asked for.
func (s *Server) isPage(r *http.Request) bool {
	if s.pages == nil || r.Header.Get("Authorization") != "" {
		return false
	}
	switch r.Method {
	case http.MethodGet, http.MethodHead:
		if !browses(r) && !strings.HasPrefix(r.URL.Path, "/file/") {
			return false
		}
	case http.MethodPost:
		of, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
		if err != nil || of != "application/x-www-form-urlencoded" && of != "multipart/form-data" {
			return false
		}
	default:
		return false
	}
	_, pattern := s.pages.Handler(r)
	return pattern != ""
}

// browses reports whether somebody at a browser looks at something.
func browses(r *http.Request) bool {
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) && r.Header.Get("Authorization") == "" && strings.Contains(r.Header.Get("Accept"), "text/html")
}

// page lets pages answer, as far as the gate lets the request through.
func (s *Server) page(c echo.Context) error {
	x := &exchange{Context: c, s: s, app: s.app, secure: s.secure(c.Request())}
	r := c.Request()
	if wait := s.addresses.take(pace.Address(s.remote(r)), s.o.Clock()); wait > 0 {
		return tooOften(wait)
	}
	if r.Method != http.MethodPost {
		s.pages.ServeHTTP(c.Response(), r)
		return nil
	}
	if err := s.cross.Check(r); err != nil {
		return foreign()
	}
	// What a page does as nobody, such as logging in, its use case tells of.
	known := x.identify() == nil && x.who.Name != ""
	if known {
		if wait := s.accounts.take(x.who.Name, s.o.Clock()); wait > 0 {
			return tooOften(wait)
		}
	}
	r.Body = http.MaxBytesReader(c.Response(), r.Body, maxFile)
	s.pages.ServeHTTP(c.Response(), r)
	if !known {
		return nil
	}
	e := api.Event{Who: x.who.Name, Act: "page", Subject: strings.TrimPrefix(r.URL.Path, "/"), Outcome: api.OutcomeDone, Detail: fmt.Sprintf("POST %s by its page.", r.URL.Path)}
	switch status := c.Response().Status; {
	case status >= 500:
		e.Outcome = api.OutcomeFailed
	case status >= 400:
		e.Outcome = api.OutcomeRefused
	}
	if err := s.app.Record(detached(r.Context()), e); err != nil {
		s.o.Log.Error("an attempt could not be put on the trail", "error", err, "route", "page")
	}
	return nil
}

// Who is the person who asks for a page; an Actor without a name when nobody has logged
// in.
func (s *Server) Who(r *http.Request) api.Actor {
	x := &exchange{Context: s.echo.NewContext(r, nil), s: s, app: s.app, secure: s.secure(r)}
	if err := x.identify(); err != nil {
		return api.Actor{}
	}
	return x.who
}

// Enter logs a person in, and sets what the browser keeps.
func (s *Server) Enter(w http.ResponseWriter, r *http.Request, login, password string) error {
	x := &exchange{Context: s.echo.NewContext(r, w), s: s, app: s.app, secure: s.secure(r)}
	_ = x.identify() // whoever was logged in before, if anybody, is logged out by this
	p, err := s.app.Login(r.Context(), api.LoginOrder{Login: login, Password: password, Remote: s.remote(r), Before: x.token})
	if err != nil {
		return err
	}
	x.cookie(p.Token, p.Until)
	return nil
}

// Renew changes the password of the person who asks, and keeps them logged in.
func (s *Server) Renew(w http.ResponseWriter, r *http.Request, before, after string) error {
	x := &exchange{Context: s.echo.NewContext(r, w), s: s, app: s.app, secure: s.secure(r)}
	if err := x.identify(); err != nil {
		return err
	}
	p, err := s.app.ChangePassword(r.Context(), x.who, before, after, s.remote(r))
	if err != nil {
		return err
	}
	x.cookie(p.Token, p.Until)
	return nil
}

// Leave logs the person out.
func (s *Server) Leave(w http.ResponseWriter, r *http.Request) {
	x := &exchange{Context: s.echo.NewContext(r, w), s: s, app: s.app, secure: s.secure(r)}
	if x.identify() == nil && x.token != "" {
		if err := s.app.Logout(r.Context(), x.token); err != nil {
			s.o.Log.Error("a session could not be ended", "error", err)
		}
	}
	x.cookie("", time.Time{})
}

// Address is that under which people reach the service, without a slash at its end.
func (s *Server) Address(r *http.Request) string {
	x := &exchange{Context: s.echo.NewContext(r, nil), s: s, secure: s.secure(r)}
	return x.base()
}
