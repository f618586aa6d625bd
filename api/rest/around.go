package rest

import (
	"crypto/rand"
	"fmt"
	"net/http"
	"regexp"
	"runtime/debug"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"wetdown/api"
)

// around is what every request goes through, also one for an address that is not there:
// it is given an id, its answer the headers that browsers need, a panic becomes a problem,
// and how it went is logged and counted. Neither log nor counters know more of it than
// its route: no query, no body, no name.
func (s *Server) around(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		began := s.o.Clock()
		r, h := c.Request(), c.Response().Header()
		id := r.Header.Get(echo.HeaderXRequestID)
		if !requestID.MatchString(id) || !s.trusted(peer(r)) {
			id = strings.ToLower(rand.Text())
		}
		h.Set(echo.HeaderXRequestID, id)
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "private, no-cache")
		if s.secure(r) {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		s.meter.open.Inc()
		defer s.meter.open.Dec()
		route := c.Path()
		if s.pages != nil {
			h.Set("Vary", "Accept")
		}
		if s.isPage(r) {
			route, next = "page", s.page
		}
		if err := s.safely(c, next); err != nil {
			s.fail(c, err)
		}
		took := s.o.Clock().Sub(began)
		if route != "page" && !s.paths[route] {
			route = "none"
		}
		s.meter.done(r.Method, route, c.Response().Status, took)
		s.o.Log.Info("request", "method", r.Method, "route", route, "status", c.Response().Status, "bytes", c.Response().Size, "milliseconds", took.Milliseconds(), "request", id)
		return nil
	}
}

var requestID = regexp.MustCompile(`^[A-Za-z0-9_-]{8,64}$`)

// safely carries a request out; a panic is an error.
func (s *Server) safely(c echo.Context, next echo.HandlerFunc) (err error) {
	defer func() {
		if r := recover(); r != nil && r != http.ErrAbortHandler {
			s.o.Log.Error("a request panicked", "panic", fmt.Sprint(r), "route", c.Path(), "stack", string(debug.Stack()))
			err = &api.Problem{Kind: api.Broken, Title: "Something went wrong in the program", Next: "Try once more. If it stays, give your administrator the X-Request-Id of this answer."}
		}
	}()
	return next(c)
}

// loggedTime is a time as answers have it: UTC, whole milliseconds; none is null.
func loggedTime(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	text := t.UTC().Format("2006-01-02T15:04:05.000Z")
	return &text
}
