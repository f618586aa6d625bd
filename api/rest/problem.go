package rest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"wetdown/api"
	"wetdown/solver/plant"
)

// A refusal is a problem with a status of its own.
type refusal struct {
	status  int
	problem *api.Problem
}

func (r refusal) Error() string { return r.problem.Error() }
func (r refusal) Unwrap() error { return r.problem }

// statuses says with which status each kind of problem is answered, and how its type is
// called: the last part of its address.
var statuses = map[api.Kind]struct {
	status int
	name   string
	says   string
}{
	api.Invalid:   {http.StatusUnprocessableEntity, "invalid", "What was asked makes no sense as it is. The members faults or field say where; status 400 means that it could not even be read."},
	api.NotFound:  {http.StatusNotFound, "not-found", "There is nothing of that name or at that address."},
	api.Conflict:  {http.StatusConflict, "conflict", "What was asked does not fit the plant, or the thing, as it is now."},
	api.Stale:     {http.StatusConflict, "stale", "It was asked of something that has changed since it was looked at. With If-Match the status is 412, else 409. Look again, then ask again."},
	api.Refused:   {http.StatusConflict, "refused", "A truthful no of the planner: it cannot be, and that is certain."},
	api.Unknown:   {http.StatusUnauthorized, "unknown", "Nobody is known to ask. Log in at /login, or send a token as Authorization: Bearer."},
	api.Forbidden: {http.StatusForbidden, "forbidden", "Whoever asks may not do this."},
	api.TooLarge:  {http.StatusRequestEntityTooLarge, "too-large", "More was sent than is taken at once."},
	api.Busy:      {http.StatusServiceUnavailable, "busy", "Not now. The header Retry-After says when to ask again; status 429 means that this client asks too often."},
	api.Broken:    {http.StatusInternalServerError, "broken", "A fault of the program. Give your administrator the X-Request-Id of the answer."},
}

// kinds are all kinds of problem in their order.
func kinds() []api.Kind { return slices.Sorted(maps.Keys(statuses)) }

// invalid is a problem with one field of what was asked.
func invalid(field, detail, next string) error {
	return &api.Problem{Kind: api.Invalid, Title: "This cannot be taken as it is", Detail: detail, Next: next, Extra: map[string]any{"field": field}}
}

// unreadable is a problem with the form of what was asked.
func unreadable(detail, next string) error {
	return refusal{http.StatusBadRequest, &api.Problem{Kind: api.Invalid, Title: "This cannot be read", Detail: detail, Next: next}}
}

// faulty is a problem with a text in the words of the plant file.
func faulty(faults []plant.Fault) error {
	p := &api.Problem{Kind: api.Invalid, Title: "This cannot be taken as it is", Faults: faults, Next: "Correct what the faults name, and send it again."}
	if len(faults) > 0 {
		p.Detail = faults[0].String()
	}
	return p
}

// problemOf is the problem in an error, with its status.
func problemOf(err error) (*api.Problem, int) {
	var own refusal
	var frame *echo.HTTPError
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &own):
		return own.problem, own.status
	case errors.As(err, &large):
		return tooLarge(large.Limit), http.StatusRequestEntityTooLarge
	case errors.As(err, &frame):
		return framed(frame)
	}
	p := api.AsProblem(err)
	if p.Kind == api.Broken && errors.Is(err, context.DeadlineExceeded) {
		p = &api.Problem{Kind: api.Busy, Title: "It took too long", Detail: "The service did not come to an end in the time given.", Next: "Try again in a moment.", Wait: 5 * time.Second}
	}
	return p, statuses[p.Kind].status
}

func tooLarge(limit int64) *api.Problem {
	return &api.Problem{Kind: api.TooLarge, Title: "This is too large", Detail: fmt.Sprintf("More than %d bytes were sent.", limit), Next: "Send less at once.", Extra: map[string]any{"limit": limit}}
}

// framed is a problem that the framework found.
func framed(e *echo.HTTPError) (*api.Problem, int) {
	switch e.Code {
	case http.StatusNotFound:
		return &api.Problem{Kind: api.NotFound, Title: "There is nothing at this address", Next: "See /openapi.json for what there is."}, e.Code
	case http.StatusMethodNotAllowed:
		return &api.Problem{Kind: api.Invalid, Title: "This cannot be done with what is at this address", Detail: "The header Allow names what can.", Next: "See /openapi.json for what there is."}, e.Code
	case http.StatusRequestEntityTooLarge:
		return &api.Problem{Kind: api.TooLarge, Title: "This is too large", Next: "Send less at once."}, e.Code
	}
	if e.Code >= 500 {
		return api.AsProblem(e), http.StatusInternalServerError
	}
	return &api.Problem{Kind: api.Invalid, Title: "This cannot be read", Next: "See /openapi.json for how to ask."}, e.Code
}

// A wireFault is one fault of a text, for machines.
type wireFault struct {
	Line    int    `json:"line,omitempty"`
	Field   string `json:"field,omitempty"`
	What    string `json:"what"`
	Allowed string `json:"allowed,omitempty"`
	Next    string `json:"next,omitempty"`
}

// toProblem writes a problem in the form of RFC 9457. What p says beside is among its
// members.
func toProblem(p *api.Problem, status int, instance string) map[string]any {
	m := map[string]any{}
	for _, name := range extraNames(p) {
		m[name] = p.Extra[name]
	}
	m["type"], m["title"], m["status"] = "/problems/"+statuses[p.Kind].name, p.Title, status
	if p.Detail != "" {
		m["detail"] = p.Detail
	}
	if p.Next != "" {
		m["next"] = p.Next
	}
	if instance != "" {
		m["instance"] = instance
	}
	if len(p.Faults) > 0 {
		list := make([]wireFault, len(p.Faults))
		for i, f := range p.Faults {
			list[i] = wireFault{f.Line, f.Field, f.What, f.Allowed, f.Next}
		}
		m["faults"] = list
	}
	return m
}

// fail answers with the problem in err.
func (s *Server) fail(c echo.Context, err error) {
	p, status := problemOf(err)
	if c.Request().Context().Err() != nil && p.Kind == api.Broken {
		status = 499 // whoever asked has gone; nobody reads it (a status of common practice, in no standard)
	} else if p.Kind == api.Broken {
		s.o.Log.Error("a request failed", "error", err, "route", c.Path(), "request", c.Response().Header().Get(echo.HeaderXRequestID))
	}
	if p.Kind == api.Stale && c.Request().Header.Get("If-Match")+c.Request().Header.Get("If-None-Match") != "" {
		status = http.StatusPreconditionFailed
	}
	if c.Response().Committed {
		return
	}
	h := c.Response().Header()
	for _, name := range []string{"ETag", "Location", "Link", "Content-Type", "Content-Disposition", "Set-Cookie"} {
		h.Del(name)
	}
	switch p.Kind {
	case api.Unknown:
		h.Set("WWW-Authenticate", `Bearer realm="wetdown"`)
	case api.Busy:
		seconds := (max(p.Wait, time.Second) + time.Second - 1) / time.Second
		h.Set("Retry-After", strconv.FormatInt(int64(seconds), 10))
	}
	body, err := json.Marshal(toProblem(p, status, instance(c)))
	if err != nil {
		s.o.Log.Error("a problem cannot be written", "error", err)
		body = []byte(`{"type":"/problems/broken","title":"Something went wrong in the program","status":500}`)
	}
	of := "application/problem+json"
	if s.pages != nil && browses(c.Request()) { // by a link to a file
		of, body = echo.MIMETextHTMLCharsetUTF8, problemSheet(p)
	}
	h.Set("Cache-Control", "no-store")
	if err := c.Blob(status, of, body); err != nil {
		s.o.Log.Debug("a problem was not written", "error", err)
	}
}

// problemSheet is a problem for somebody at a browser.
func problemSheet(p *api.Problem) []byte {
	var b strings.Builder
	b.WriteString("<!doctype html>\n<html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">")
	fmt.Fprintf(&b, "<title>%[1]s</title>\n<h1>%[1]s</h1>\n", html.EscapeString(p.Title))
	for _, text := range []string{p.Detail, p.Next} {
		if text != "" {
			fmt.Fprintf(&b, "<p>%s</p>\n", html.EscapeString(text))
		}
	}
	b.WriteString("<p><a href=\"/\">Back to the service</a></p>\n</html>\n")
	return []byte(b.String())
}

// instance is where a problem came up: the address without what is secret in it.
func instance(c echo.Context) string {
	for _, name := range c.ParamNames() {
		if name == "secret" {
			return ""
		}
	}
	return c.Request().URL.EscapedPath()
}

// problemPage says what a type of problem means.
func problemPage(x *exchange) error {
	for _, k := range kinds() {
		if of := statuses[k]; of.name == x.Param("type") {
			return x.HTML(http.StatusOK, "<!doctype html>\n<html lang=\"en\"><meta charset=\"utf-8\"><title>"+of.name+"</title>\n<h1>Problem: "+of.name+"</h1>\n<p>"+html.EscapeString(of.says)+"</p>\n<p>Usual status: "+strconv.Itoa(of.status)+".</p>\n</html>\n")
		}
	}
	return &api.Problem{Kind: api.NotFound, Title: "There is no such type of problem", Next: "Look it up in /openapi.json."}
}

func unread() *api.Problem {
	return &api.Problem{Kind: api.Invalid, Title: "This cannot be read", Detail: "The request broke off, or came too slowly.", Next: "Send it again."}
}

func mediaType(types []string) error {
	return refusal{http.StatusUnsupportedMediaType, &api.Problem{Kind: api.Invalid, Title: "This kind of content is not taken", Detail: "The header Content-Type says another one, or none.", Next: "Send " + strings.Join(types, " or ") + "."}}
}

func extraNames(p *api.Problem) []string { return slices.Sorted(maps.Keys(p.Extra)) }
