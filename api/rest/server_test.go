package rest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"

	"wetdown/api"
	"wetdown/api/queue"
	"wetdown/api/rest"
	"wetdown/api/store"
)

// A house is a service on a database of its own, as it is run, on a port of this machine.
type house struct {
	t     testing.TB
	app   *api.App
	url   string
	log   *bytes.Buffer
	stop  func()
	store *store.Store
	name  string // of the file of the database
}

// lock makes a buffer that many may write to.
type lock struct {
	mu sync.Mutex
	w  io.Writer
}

func (l *lock) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(b)
}

// quick is a rate that no test meets by accident.
var quick = rest.Rate{Burst: 1_000_000, PerSecond: 1_000_000}

// opened opens a service on a database that is empty, or is there already.
func opened(t testing.TB, name string, o rest.Options) *house {
	t.Helper()
	ctx := context.Background()
	if name == "" {
		name = filepath.Join(t.TempDir(), "wetdown.db")
	}
	db, err := store.Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, store: db, name: name, log: &bytes.Buffer{}}
	h.app = api.New(db, api.Options{Clock: time.Now})
	h.app.InviteAs(api.Inviter{Domain: "skarrelholt.example", Name: "Skarrelholt Works", Mail: "visits@skarrelholt.example"})
	q, err := queue.NewLocal(ctx, h.app, queue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h.app.Serve(q)
	o.Log = slog.New(slog.NewTextHandler(&lock{w: h.log}, nil))
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Rate == (rest.Rate{}) {
		o.Rate = quick
	}
	server, err := rest.New(h.app, o)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	h.url = "http://" + l.Addr().String()
	serving, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(serving, l) }()
	h.stop = sync.OnceFunc(func() {
		cancel()
		over, now := context.WithCancel(ctx)
		now()
		if err := errors.Join(<-ended, q.Close(over), h.app.Close(), db.Close()); err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(h.stop)
	return h
}

// settled is a service with a plant and an account for each role, named after it.
func settled(t testing.TB, o rest.Options) *house {
	t.Helper()
	h := opened(t, "", o)
	h.settle()
	return h
}

func (h *house) settle() {
	h.t.Helper()
	ctx := context.Background()
	login, password, made, err := h.app.FirstStart(ctx)
	if err != nil || !made {
		h.t.Fatal(made, err)
	}
	admin := h.login(login, password)
	admin.put("/plant", "application/yaml", plantFile(h.t)).want(200)
	for _, role := range api.Roles() {
		admin.post("/accounts", map[string]any{"login": role, "name": "Somebody", "role": role, "password": passwordOf(role)}).want(201)
	}
}

func passwordOf(role string) string { return "the long password of a " + role }

// plantFile is a small plant with a plan in force and two slips.
func plantFile(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "script", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// A client is somebody who asks. All that it asks and is answered is compared with the
// description of the service.
type client struct {
	h      *house
	cookie *http.Cookie
	bearer string
	header http.Header // sent with the next request only
	wild   bool        // what it sends is wrong on purpose: only answers are compared
	blind  bool        // nothing is compared: there is too much of it
}

// stranger is nobody who is known.
func (h *house) stranger() *client { return &client{h: h, header: http.Header{}} }

// as is somebody of a role, logged in.
func (h *house) as(role string) *client {
	h.t.Helper()
	return h.login(role, passwordOf(role))
}

func (h *house) login(login, password string) *client {
	h.t.Helper()
	c := h.stranger()
	a := c.post("/login", map[string]any{"login": login, "password": password})
	a.want(200)
	for _, k := range a.Cookies() {
		c.cookie = k
	}
	if c.cookie == nil {
		h.t.Fatal("no cookie came with the login")
	}
	return c
}

// program is a program with a token for some acts, made by whoever may do all.
func (h *house) program(name string, acts ...string) *client {
	h.t.Helper()
	a := h.as(api.RoleAdministrator).post("/tokens", map[string]any{"name": name, "acts": acts, "until": time.Now().Add(time.Hour).UTC().Format(time.RFC3339)})
	a.want(201)
	c := h.stranger()
	c.bearer = a.text("token")
	return c
}

// with adds a header to the next request.
func (c *client) with(name, value string) *client {
	c.header.Set(name, value)
	return c
}

// wildly lets the next requests be wrong.
func (c *client) wildly() *client {
	w := *c
	w.wild, w.header = true, http.Header{}
	return &w
}

func (c *client) get(path string) *answer  { return c.do("GET", path, "", nil) }
func (c *client) drop(path string) *answer { return c.do("DELETE", path, "", nil) }

func (c *client) post(path string, v any) *answer { return c.send("POST", path, v) }

func (c *client) put(path, of string, body []byte) *answer { return c.do("PUT", path, of, body) }

// send sends a value as JSON; nil sends nothing.
func (c *client) send(method, path string, v any) *answer {
	c.h.t.Helper()
	if v == nil {
		return c.do(method, path, "", nil)
	}
	body, err := json.Marshal(v)
	if err != nil {
		c.h.t.Fatal(err)
	}
	return c.do(method, path, "application/json", body)
}

func (c *client) do(method, path, of string, body []byte) *answer {
	c.h.t.Helper()
	r, err := http.NewRequest(method, c.h.url+path, bytes.NewReader(body))
	if err != nil {
		c.h.t.Fatal(err)
	}
	r.Header = c.header.Clone()
	c.header = http.Header{}
	if of != "" {
		r.Header.Set("Content-Type", of)
	}
	if c.cookie != nil {
		r.AddCookie(c.cookie)
	}
	if c.bearer != "" {
		r.Header.Set("Authorization", "Bearer "+c.bearer)
	}
	a, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		c.h.t.Fatal(err)
	}
	defer a.Body.Close()
	data, err := io.ReadAll(a.Body)
	if err != nil {
		c.h.t.Fatal(err)
	}
	out := &answer{Response: a, t: c.h.t, body: data, asked: method + " " + path}
	if !c.blind {
		compare(c.h.t, r, body, out, c.wild)
	}
	return out
}

// An answer is what came back.
type answer struct {
	*http.Response
	t     testing.TB
	body  []byte
	asked string
}

// want looks at the status.
func (a *answer) want(status int) *answer {
	a.t.Helper()
	if a.StatusCode != status {
		a.t.Fatalf("%s: status %d, want %d\n%s", a.asked, a.StatusCode, status, a.body)
	}
	return a
}

// refused looks at a problem: its status, its type, and that it says what to do.
func (a *answer) refused(status int, kind string) *answer {
	a.t.Helper()
	a.want(status)
	if of := a.Header.Get("Content-Type"); of != "application/problem+json" {
		a.t.Errorf("%s: a problem of type %s", a.asked, of)
	}
	if got := a.text("type"); got != "/problems/"+kind {
		a.t.Errorf("%s: type %s, want %s", a.asked, got, kind)
	}
	if a.text("title") == "" || a.text("next") == "" && kind != "broken" {
		a.t.Errorf("%s: the problem does not say what to do: %s", a.asked, a.body)
	}
	return a
}

// value is what stands at a path of keys and indices, such as items.0.id.
func (a *answer) value(path string) any {
	a.t.Helper()
	var v any
	if err := json.Unmarshal(a.body, &v); err != nil {
		a.t.Fatalf("%s: %v\n%s", a.asked, err, a.body)
	}
	for _, k := range strings.Split(path, ".") {
		switch w := v.(type) {
		case map[string]any:
			v = w[k]
		case []any:
			n := 0
			for _, r := range k {
				n = n*10 + int(r-'0')
			}
			if n >= len(w) {
				return nil
			}
			v = w[n]
		default:
			return nil
		}
	}
	return v
}

func (a *answer) text(path string) string {
	s, _ := a.value(path).(string)
	return s
}

func (a *answer) number(path string) int64 {
	n, _ := a.value(path).(float64)
	return int64(n)
}

func (a *answer) count(path string) int {
	l, _ := a.value(path).([]any)
	return len(l)
}

// The description of the service, as another reader understands it.
var described = sync.OnceValues(func() (routers.Router, error) {
	text, err := os.ReadFile("openapi.yaml")
	if err != nil {
		return nil, err
	}
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		return nil, err
	}
	openapi3filter.RegisterBodyDecoder("application/yaml", openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", openapi3filter.FileBodyDecoder)
	for _, of := range []string{"text/html", "text/calendar", "text/event-stream", "text/csv"} {
		openapi3filter.RegisterBodyDecoder(of, openapi3filter.FileBodyDecoder)
	}
	return legacy.NewRouter(doc)
})

// compare compares what was asked and answered with the description.
func compare(t testing.TB, r *http.Request, body []byte, a *answer, wild bool) {
	t.Helper()
	router, err := described()
	if err != nil {
		t.Fatal(err)
	}
	plain := r.Clone(r.Context())
	plain.URL.Scheme, plain.URL.Host, plain.Host = "", "", ""
	if r.Method == http.MethodHead {
		return
	}
	route, params, err := router.FindRoute(plain)
	if err != nil {
		if !wild {
			t.Errorf("%s: %v", a.asked, err)
		}
		return
	}
	options := &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, IncludeResponseStatus: true}
	in := &openapi3filter.RequestValidationInput{Request: plain, PathParams: params, Route: route, Options: options}
	if !wild {
		plain.Body = io.NopCloser(bytes.NewReader(body))
		of, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
		if of != "application/json" {
			options.ExcludeRequestBody = true
		}
		if err := openapi3filter.ValidateRequest(context.Background(), in); err != nil {
			t.Errorf("%s: the request is not as described: %v", a.asked, err)
		}
	}
	of, _, _ := strings.Cut(a.Header.Get("Content-Type"), ";")
	if of != "application/json" && of != "application/problem+json" {
		options.ExcludeResponseBody = true
		described := route.Operation.Responses.Status(a.StatusCode)
		if len(a.body) > 0 && (described == nil || described.Value.Content[of] == nil) {
			t.Errorf("%s: status %d answers with %s, which is not described", a.asked, a.StatusCode, of)
		}
	}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: a.StatusCode, Header: a.Header, Options: options}
	out.SetBodyBytes(a.body)
	if err := openapi3filter.ValidateResponse(context.Background(), out); err != nil {
		t.Errorf("%s: the answer is not as described: %v\n%.2000s", a.asked, err, a.body)
	}
}
