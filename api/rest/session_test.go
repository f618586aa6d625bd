package rest_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestSession_Cookie looks at the cookie of a session, in clear and as a trusted proxy
// says that TLS is spoken (draft-ietf-httpbis-rfc6265bis for the prefix of its name).
func TestSession_Cookie(t *testing.T) {
	h := settled(t, rest.Options{Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}})
	in := map[string]any{"login": "reader", "password": passwordOf("reader")}
	c := h.stranger()
	plain := c.post("/login", in).want(200).Cookies()[0]
	if plain.Name != "wetdown" || plain.Secure || !plain.HttpOnly || plain.SameSite != http.SameSiteLaxMode || plain.Path != "/" {
		t.Errorf("in clear: %+v", plain)
	}
	a := c.with("X-Forwarded-Proto", "https").post("/login", in).want(200)
	safe := a.Cookies()[0]
	if safe.Name != "__Host-wetdown" || !safe.Secure || !safe.HttpOnly || safe.SameSite != http.SameSiteLaxMode || safe.Path != "/" || safe.Domain != "" || safe.MaxAge <= 0 {
		t.Errorf("over TLS: %+v", safe)
	}
	if a.Header.Get("Strict-Transport-Security") == "" {
		t.Error("no Strict-Transport-Security over TLS")
	}
	c.cookie = plain
	c.get("/session").want(200)
	c.with("X-Forwarded-Proto", "https").get("/session").refused(401, "unknown") // the cookie in clear opens nothing over TLS
	c.cookie = safe
	c.with("X-Forwarded-Proto", "https").get("/session").want(200)
	out := c.with("X-Forwarded-Proto", "https").post("/logout", nil).want(204).Cookies()
	if len(out) != 1 || out[0].MaxAge >= 0 || out[0].Name != safe.Name {
		t.Errorf("after logging out: %v", out)
	}
	c.with("X-Forwarded-Proto", "https").get("/session").refused(401, "unknown")
	// Logging in over a session ends that session.
	c.cookie = plain
	fresh := c.post("/login", in).want(200).Cookies()[0]
	c.get("/session").refused(401, "unknown")
	c.cookie = fresh
	c.get("/session").want(200)
	// A new password is a new session.
	changed := c.send("PUT", "/password", map[string]any{"before": passwordOf("reader"), "after": "another long password of a reader"}).want(200).Cookies()[0]
	c.get("/session").refused(401, "unknown")
	c.cookie = changed
	c.get("/session").want(200)
	// The counters are for this machine, and a proxy asks for others.
	h.stranger().with("X-Forwarded-For", "192.0.2.7").get("/metrics").refused(401, "unknown")
}

// TestSession_Proxy looks whose word on where a request comes from is taken: the trail has
// the address of whoever logs in.
func TestSession_Proxy(t *testing.T) {
	for _, x := range []struct{ proxies, forwarded, want string }{
		{"", "192.0.2.7", "127.0.0.1"},
		{"127.0.0.1/32", "192.0.2.7", "192.0.2.7"},
		{"127.0.0.1/32", "198.51.100.1, 192.0.2.7", "192.0.2.7"}, // what the client claims itself is to the left
		{"127.0.0.1/32 10.0.0.0/8", "198.51.100.1, 192.0.2.7, 10.1.2.3", "192.0.2.7"},
		{"127.0.0.1/32", "nonsense", "127.0.0.1"},
		{"127.0.0.1/32", "", "127.0.0.1"},
	} {
		var o rest.Options
		for _, p := range strings.Fields(x.proxies) {
			o.Proxies = append(o.Proxies, netip.MustParsePrefix(p))
		}
		h := opened(t, "", o)
		login, password, _, err := h.app.FirstStart(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		c := h.stranger()
		if x.forwarded != "" {
			c.with("X-Forwarded-For", x.forwarded)
		}
		c.cookie = c.post("/login", map[string]any{"login": login, "password": password}).want(200).Cookies()[0]
		if got := c.get("/trail?limit=1").want(200).text("items.0.detail"); got != "Logged in from "+x.want+"." {
			t.Errorf("proxies %q, forwarded %q: %s", x.proxies, x.forwarded, got)
		}
		h.stop()
	}
}

// TestTLS serves over TLS by itself.
func TestTLS(t *testing.T) {
	h := settled(t, rest.Options{})
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	as := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, as, as, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	server, err := rest.New(h.app, rest.Options{Clock: time.Now, TLS: &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ctx, l) }()
	known, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(known)
	browser := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: true}}
	a, err := browser.Post("https://"+l.Addr().String()+"/login", "application/json", strings.NewReader(`{"login": "reader", "password": "`+passwordOf(api.RoleReader)+`"}`))
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != 200 || a.ProtoMajor != 2 || a.Cookies()[0].Name != "__Host-wetdown" || a.Header.Get("Strict-Transport-Security") == "" {
		t.Errorf("%s %d %v %s %v", a.Proto, a.StatusCode, a.Cookies(), body, err)
	}
	a.Body.Close()
	browser.CloseIdleConnections()
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// TestHead answers HEAD as GET, without a body.
func TestHead(t *testing.T) {
	h := settled(t, rest.Options{})
	c := h.as(api.RoleReader)
	get, head := c.get("/trucks/A1").want(200), c.do("HEAD", "/trucks/A1", "", nil).want(200)
	if len(head.body) != 0 || head.Header.Get("ETag") != get.Header.Get("ETag") || head.Header.Get("Content-Length") != get.Header.Get("Content-Length") {
		t.Errorf("HEAD: %v %s\nGET: %v", head.Header, head.body, get.Header)
	}
}

// leaflets are pages of a few addresses.
type leaflets struct{ server *rest.Server }

func (leaflets) Patterns() []string {
	return []string{"GET /trucks", "GET /crews", "POST /calls/{id}", "POST /password"}
}

func (l leaflets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	switch r.URL.Path {
	case "/crews":
		panic("a page with a fault in it")
	case "/password":
		if err := l.server.Renew(w, r, r.FormValue("before"), r.FormValue("after")); err != nil {
			p := api.AsProblem(err)
			http.Error(w, p.Error(), map[api.Kind]int{api.Forbidden: 403, api.Unknown: 401}[p.Kind])
		}
		return
	}
	if r.Method == http.MethodPost && r.FormValue("done") == "" {
		w.WriteHeader(http.StatusUnprocessableEntity)
	}
	io.WriteString(w, "page for "+l.server.Who(r).Name)
}

// TestMount has browsers answered by pages, programs as before, and both go through the gate.
func TestMount(t *testing.T) {
	h := settled(t, rest.Options{})
	server, err := rest.New(h.app, rest.Options{Clock: time.Now, Rate: quick})
	if err != nil {
		t.Fatal(err)
	}
	server.Mount(leaflets{server})
	with := httptest.NewServer(server)
	defer with.Close()
	h.url = with.URL
	c := h.as(api.RoleCoordinator).wildly()
	const html = "text/html,application/xhtml+xml;q=0.9"
	ask := func(method, path, of, body string, header ...string) *answer {
		r, err := http.NewRequest(method, h.url+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.AddCookie(c.cookie)
		r.Header.Set("Content-Type", of)
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		a, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		text, err := io.ReadAll(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		return &answer{Response: a, t: t, body: text, asked: method + " " + path}
	}
	page := ask("GET", "/trucks", "", "", "Accept", html).want(200)
	if string(page.body) != "page for coordinator" || page.Header.Get("Vary") != "Accept" || !strings.Contains(page.Header.Get("Content-Security-Policy"), "default-src 'none'") {
		t.Errorf("%s %v", page.body, page.Header)
	}
	if got := ask("GET", "/trucks", "", "", "Accept", "application/json").want(200); got.count("items") == 0 || got.Header.Get("Vary") != "Accept" {
		t.Errorf("%s", got.body)
	}
	if got := ask("GET", "/openapi.json", "", "", "Accept", html).want(200); got.text("openapi") != "3.0.3" {
		t.Errorf("%.100s", got.body)
	}
	// A panic is a problem that says nothing of what went on inside.
	if got := ask("GET", "/crews", "", "", "Accept", html).want(500); strings.Contains(string(got.body), "fault in it") || !strings.Contains(string(got.body), "administrator") {
		t.Errorf("%s", got.body)
	}
	// Whoever follows a link to a file that cannot be had is told in a page, a program in JSON.
	const file = "/visits/V3/invitation.ics"
	if got := ask("GET", file, "", "", "Accept", html).want(409); !strings.HasPrefix(got.Header.Get("Content-Type"), "text/html") || !strings.Contains(string(got.body), "Book it tentatively or confirm it") {
		t.Errorf("%v %s", got.Header, got.body)
	}
	ask("GET", file, "", "", "Accept", "*/*").refused(409, "conflict")
	if got := ask("GET", "/visits/%3Cscript%3E/sheet", "", "", "Accept", html).want(404); strings.Contains(string(got.body), "<script>") {
		t.Errorf("a name is taken for markup: %s", got.body)
	}
	ask("PUT", "/visits/V3/booking", "application/json", `{"state": "maybe"}`, "Accept", html).refused(422, "invalid")
	const form = "application/x-www-form-urlencoded"
	ask("POST", "/calls/7", form, "done=yes").want(200)
	ask("POST", "/calls/7", form, "").want(422)
	ask("POST", "/calls/7", form, "done=yes", "Sec-Fetch-Site", "cross-site").want(403)
	trail := h.as(api.RoleAdministrator).get("/trail?limit=3").want(200)
	if trail.text("items.1.outcome")+trail.text("items.1.who")+trail.text("items.2.outcome")+trail.text("items.2.subject") != "refusedcoordinatordonecalls/7" {
		t.Errorf("the trail: %s", trail.body)
	}
}

// TestRenew changes a password by a page: whoever does so stays logged in, by another cookie,
// and nobody else does.
func TestRenew(t *testing.T) {
	h := settled(t, rest.Options{})
	server, err := rest.New(h.app, rest.Options{Clock: time.Now, Rate: quick})
	if err != nil {
		t.Fatal(err)
	}
	server.Mount(leaflets{server})
	with := httptest.NewServer(server)
	defer with.Close()
	h.url = with.URL
	here, there := h.as(api.RoleSales), h.as(api.RoleSales)
	const other = "another long password of sales"
	change := func(c *client, before, after string) *answer {
		t.Helper()
		w := *c
		w.blind, w.header = true, http.Header{}
		return w.do("POST", "/password", "application/x-www-form-urlencoded", []byte(url.Values{"before": {before}, "after": {after}}.Encode()))
	}
	if a := change(here, "wrong", other).want(403); len(a.Cookies()) != 0 {
		t.Errorf("refused, and a cookie comes: %v", a.Cookies())
	}
	change(h.stranger(), passwordOf(api.RoleSales), other).want(401)
	here.get("/trucks").want(200)
	a := change(here, passwordOf(api.RoleSales), other).want(200)
	if len(a.Cookies()) != 1 || a.Cookies()[0].Name != "wetdown" || !a.Cookies()[0].HttpOnly || a.Cookies()[0].Value == here.cookie.Value {
		t.Fatalf("the browser is given %v", a.Cookies())
	}
	renewed := *here
	renewed.cookie = a.Cookies()[0]
	if got := renewed.get("/session").want(200); got.text("login") != api.RoleSales {
		t.Errorf("%s", got.body)
	}
	here.get("/trucks").refused(401, "unknown") // by the cookie of before
	there.get("/trucks").refused(401, "unknown")
	h.stranger().post("/login", map[string]any{"login": api.RoleSales, "password": passwordOf(api.RoleSales)}).refused(401, "unknown")
	h.login(api.RoleSales, other).get("/trucks").want(200)
}

// vouching is an identity provider that knows one person, by one code.
type vouching struct{}

func (vouching) Begin() (page, kept string) {
	return "https://provider.example/authorize?state=s", "kept"
}

func (vouching) Finish(_ context.Context, kept string, sent url.Values) (api.Guest, error) {
	if kept != "kept" || sent.Get("code") != "right" {
		return api.Guest{}, &api.Problem{Kind: api.Unknown, Title: "That did not work", Next: "Log in again."}
	}
	return api.Guest{Subject: "provider 7", Login: "lee", Name: "Lee", Role: api.RoleSales}, nil
}

// TestOIDC logs in by an identity provider, which package oidc is tested against.
func TestOIDC(t *testing.T) {
	h := settled(t, rest.Options{})
	h.stranger().get("/oidc/login").refused(404, "not-found")
	h = settled(t, rest.Options{Provider: vouching{}})
	c := h.stranger()
	begun := c.get("/oidc/login").want(302)
	if begun.Header.Get("Location") != "https://provider.example/authorize?state=s" || begun.Cookies()[0].Name != "wetdown-oidc" || !begun.Cookies()[0].HttpOnly {
		t.Errorf("%v", begun.Header)
	}
	c.get("/oidc/callback?code=right").refused(401, "unknown") // another browser
	c.cookie = begun.Cookies()[0]
	c.get("/oidc/callback?code=wrong").refused(401, "unknown")
	back := c.get("/oidc/callback?code=right").want(303)
	if back.Header.Get("Location") != "/" {
		t.Errorf("%v", back.Header)
	}
	for _, k := range back.Cookies() {
		if k.Name == "wetdown" {
			c.cookie = k
		} else if k.MaxAge >= 0 {
			t.Errorf("the browser keeps %v", k)
		}
	}
	if got := c.get("/session").want(200); got.text("login") != "lee" || got.count("acts") != len(api.ActsOf(api.RoleSales)) {
		t.Errorf("%s", got.body)
	}
}
