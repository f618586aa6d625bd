package rest_test

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"sync/atomic"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestHostile sends what nobody should.
func TestHostile(t *testing.T) {
	h := settled(t, rest.Options{})
	c := h.as(api.RoleManager).wildly()
	admin := h.as(api.RoleAdministrator).wildly()
	const j = "application/json"
	for _, x := range []struct {
		name, method, path, of, body string
		status                       int
		kind                         string
	}{
		{"no JSON", "POST", "/slips", j, `{`, 400, "invalid"},
		{"no JSON", "POST", "/offers", j, `{"truck": "A1"`, 400, "invalid"},
		{"no JSON", "PUT", "/bays/floor-1", j, `{"id"`, 400, "invalid"},
		{"empty", "POST", "/offers", j, ``, 400, "invalid"},
		{"trailing garbage", "POST", "/offers", j, `{"truck": "A1"} x`, 400, "invalid"},
		{"two objects", "POST", "/offers", j, `{"truck": "A1"}{}`, 400, "invalid"},
		{"two objects", "POST", "/slips", j, `{"kind": "bay_down"}{}`, 400, "invalid"},
		{"two objects", "PUT", "/bays/floor-1", j, `{"id": "floor-1"}{}`, 400, "invalid"},
		{"no object", "POST", "/offers", j, `["A1"]`, 422, "invalid"},
		{"no object", "POST", "/slips", j, `null`, 400, "invalid"},
		{"unknown field", "POST", "/offers", j, `{"truck": "A1", "trukc": 1}`, 422, "invalid"},
		{"unknown field", "POST", "/progress", j, `{"stages": [{"truck": "A1", "stage": "x", "bey": "y"}]}`, 422, "invalid"},
		{"unknown key", "POST", "/slips", j, `{"kind": "bay_down", "bey": "pit-1"}`, 422, "invalid"},
		{"unknown key", "POST", "/quotes", j, `{"truck": {"flow": 1}}`, 422, "invalid"},
		{"injected key", "POST", "/quotes", j, `{"truck": {"customer": "C1"}, "visit": {"heads": 3}, "plan": {}}`, 422, "invalid"},
		{"wrong type", "POST", "/offers", j, `{"truck": 7}`, 422, "invalid"},
		{"wrong day", "POST", "/explanations", j, `{"truck": "A1", "day": "tomorrow"}`, 422, "invalid"},
		{"deep", "PUT", "/bays/floor-1", j, strings.Repeat("[", 9000) + strings.Repeat("]", 9000), 422, "invalid"},
		{"very deep", "POST", "/slips", j, `{"kind": ` + strings.Repeat("[", 200_000) + strings.Repeat("]", 200_000) + `}`, 400, "invalid"},
		{"anchors", "PUT", "/plant", "application/yaml", "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n", 422, "invalid"},
		{"another type", "POST", "/offers", "text/plain", `{"truck": "A1"}`, 415, "invalid"},
		{"no type", "POST", "/offers", "", `{"truck": "A1"}`, 415, "invalid"},
		{"another type", "POST", "/files/trucks", j, `{}`, 415, "invalid"},
		{"no text", "POST", "/offers", j, "{\"truck\": \"\xff\xfe\"}", 400, "invalid"},
		{"a body where none is", "POST", "/jobs/x/cancel", j, `{}`, 400, "invalid"},
		{"large", "POST", "/offers", j, `{"truck": "` + strings.Repeat("A", 1<<20) + `"}`, 413, "too-large"},
		{"a large plant", "PUT", "/plant", "application/yaml", strings.Repeat("# \n", 3<<20), 413, "too-large"},
		{"a large table", "POST", "/files/trucks/preview", "text/csv", strings.Repeat("x,y\n", 3<<20), 413, "too-large"},
		{"no address", "GET", "/nothing", "", "", 404, "not-found"},
		{"no method", "DELETE", "/plan", "", "", 405, "invalid"},
		{"a path that climbs", "GET", "/trucks/..%2f..%2fetc", "", "", 404, "not-found"},
		{"a long name", "GET", "/trucks/" + strings.Repeat("x", 10_000), "", "", 404, "not-found"},
		{"a parameter that is not there", "GET", "/trucks?sort=id", "", "", 422, "invalid"},
		{"a parameter twice", "GET", "/trucks?limit=1&limit=2", "", "", 422, "invalid"},
		{"no limit", "GET", "/trucks?limit=0", "", "", 422, "invalid"},
		{"a wrong cursor", "GET", "/jobs?after=x", "", "", 422, "invalid"},
		{"a reason too long", "PUT", "/bays/floor-1?why=" + strings.Repeat("x", 2000), j, `{"id": "floor-1", "kinds": ["floor"]}`, 422, "invalid"},
		{"another name", "PUT", "/bays/floor-1", j, `{"id": "floor-2", "kinds": ["floor"]}`, 422, "invalid"},
		{"a booking with the visit", "PUT", "/visits/V1", j, `{"id": "V1", "truck": "A1", "kind": "final_inspection", "heads": 1, "halves": 1, "windows": [], "booking": {"state": "held"}}`, 422, "invalid"},
	} {
		a := c.do(x.method, x.path, x.of, []byte(x.body))
		if a.StatusCode != x.status || a.text("type") != "/problems/"+x.kind {
			t.Errorf("%s: %s %.60s: %d %.300s, want %d %s", x.name, x.method, x.path, a.StatusCode, a.body, x.status, x.kind)
			continue
		}
		a.refused(x.status, x.kind)
	}
	for name, value := range map[string]string{"If-Match": "1", "Prefer": "wait=x", "Idempotency-Key": strings.Repeat("k", 300)} {
		method, path, body := "POST", "/offers", `{"truck": "A1"}`
		if name == "If-Match" {
			method, path, body = "PUT", "/bays/floor-1", `{"id": "floor-1", "kinds": ["floor"]}`
		}
		c.header.Set(name, value)
		c.do(method, path, j, []byte(body)).refused(422, "invalid")
	}
	if a := c.do("DELETE", "/plan", "", nil); !strings.Contains(a.Header.Get("Allow"), "GET") {
		t.Errorf("405 with Allow %q", a.Header.Get("Allow"))
	}
	for _, authorization := range []string{"Basic YWRtaW46YWRtaW4=", "Bearer", "Bearer wd_NOPE", "Bearer " + strings.Repeat("A", 5000)} {
		s := h.stranger().wildly()
		s.header.Set("Authorization", authorization)
		s.do("GET", "/trucks", "", nil).refused(401, "unknown")
	}
	// Pages of other sites change nothing, and may as little look.
	for _, from := range []map[string]string{{"Sec-Fetch-Site": "cross-site"}, {"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "same-site"}} {
		for name, value := range from {
			admin.header.Set(name, value)
		}
		admin.do("POST", "/revisions/1/undo", "", nil).refused(403, "forbidden")
		s := h.stranger().wildly()
		for name, value := range from {
			s.header.Set(name, value)
		}
		s.do("POST", "/login", j, []byte(`{"login": "reader", "password": "`+passwordOf("reader")+`"}`)).refused(403, "forbidden")
	}
	admin.header.Set("Origin", h.url)
	admin.do("POST", "/jobs/none/cancel", "", nil).refused(404, "not-found")
	a := c.do("GET", "/trucks", "", nil).want(200)
	for name, want := range map[string]string{
		"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "X-Frame-Options": "DENY",
		"Content-Security-Policy": "frame-ancestors 'none'", "Access-Control-Allow-Origin": "", "Strict-Transport-Security": "",
	} {
		if got := a.Header.Get(name); want == "" && got != "" || !strings.Contains(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
	if strings.Contains(h.log.String(), "level=ERROR") {
		t.Errorf("a fault of the program is in the log:\n%s", h.log.String())
	}
}

// TestHostile_Bodies sends a body of 100 MB and one that does not come: both are refused
// and hold nothing up.
func TestHostile_Bodies(t *testing.T) {
	h := settled(t, rest.Options{})
	c := h.as(api.RoleManager)
	for _, length := range []int64{100 << 20, -1} { // said before, and not said
		sent := &counted{left: 100 << 20}
		r, err := http.NewRequest("PUT", h.url+"/plant", sent)
		if err != nil {
			t.Fatal(err)
		}
		r.ContentLength = length
		r.Header.Set("Content-Type", "application/yaml")
		r.AddCookie(c.cookie)
		a, err := http.DefaultTransport.RoundTrip(r)
		if err != nil { // the server may hang up while it is still being sent to
			t.Logf("length %d: %v after %d bytes", length, err, sent.read.Load())
		} else {
			if a.StatusCode != http.StatusRequestEntityTooLarge {
				t.Errorf("length %d: status %d", length, a.StatusCode)
			}
			a.Body.Close()
		}
		if sent.read.Load() > 40<<20 {
			t.Errorf("length %d: %d bytes were taken", length, sent.read.Load())
		}
	}
	// Somebody who sends nothing more is waited for; others are not held up.
	conn, err := net.Dial("tcp", strings.TrimPrefix(h.url, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST /offers HTTP/1.1\r\nHost: x\r\nCookie: %s\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{", c.cookie)
	c.get("/trucks").want(200)
	if c.post("/offers", map[string]any{"truck": "A1"}).StatusCode != 202 {
		t.Error("a slow request holds others up")
	}
	if c, ok := conn.(*net.TCPConn); ok { // it breaks off
		if err := c.CloseWrite(); err != nil {
			t.Fatal(err)
		}
	}
	answer, err := io.ReadAll(conn)
	if err != nil && !os.IsTimeout(err) {
		t.Fatal(err)
	}
	if len(answer) > 0 && !bytes.Contains(answer, []byte("HTTP/1.1 400")) {
		t.Errorf("a request that broke off: %.200s", answer)
	}
}

// counted gives bytes, and counts them.
type counted struct {
	left int64
	read atomic.Int64 // the transport may go on for a moment after it was answered
}

func (c *counted) Read(b []byte) (int, error) {
	if c.left == 0 {
		return 0, io.EOF
	}
	n := min(int64(len(b)), c.left)
	for i := range n {
		b[i] = '#'
	}
	c.left -= n
	c.read.Add(n)
	return int(n), nil
}

// TestBusy asks thousands of questions, faster than the planner answers
// them: many are refused, with the time after which to ask again, and all
// that were taken are there.
func TestBusy(t *testing.T) {
	h := settled(t, rest.Options{})
	manager := h.as(api.RoleManager)
	taken, refused := 0, 0
	manager.blind = true
	for n := range 2000 {
		a := manager.post("/repairs", map[string]any{"truck": "A1", "day": fmt.Sprintf("2027-05-%02d", n%28+1)})
		switch a.StatusCode {
		case 202:
			taken++
		case 503:
			a.refused(503, "busy")
			if a.Header.Get("Retry-After") == "" {
				t.Fatal("no Retry-After")
			}
			refused++
		default:
			t.Fatalf("%d %s", a.StatusCode, a.body)
		}
	}
	manager.blind = false
	total := 0
	for path := "/jobs?limit=500"; path != ""; {
		a := manager.get(path).want(200)
		total += a.count("items")
		path = ""
		if link := a.Header.Get("Link"); link != "" {
			path, _, _ = strings.Cut(strings.TrimPrefix(link, "<"), ">")
		}
	}
	if taken+refused != 2000 || total != taken || taken < 50 || refused == 0 {
		t.Errorf("%d taken, %d refused, %d kept", taken, refused, total)
	}
	t.Logf("%d taken, %d refused", taken, refused)
	for _, job := range []string{"waiting"} {
		if a := manager.get("/jobs?limit=1&state=" + job).want(200); a.count("items") == 1 {
			manager.post("/jobs/"+a.text("items.0.id")+"/cancel", nil).want(200)
		}
	}
}

// TestPace has one client ask too often; others are answered.
func TestPace(t *testing.T) {
	h := settled(t, rest.Options{Rate: rest.Rate{Burst: 60, PerSecond: 1}})
	c, other := h.as(api.RoleReader), h.as(api.RoleSales)
	for n := 0; ; n++ {
		a := c.get("/trucks")
		if a.StatusCode == 429 {
			a.refused(429, "busy")
			if a.Header.Get("Retry-After") == "" || n < 50 {
				t.Errorf("refused after %d requests, Retry-After %q", n, a.Header.Get("Retry-After"))
			}
			break
		}
		if a.want(200); n > 1000 {
			t.Fatal("nobody is refused")
		}
	}
	other.get("/trucks").want(200)
}

// TestLogin_Often tries passwords until that is refused.
func TestLogin_Often(t *testing.T) {
	h := settled(t, rest.Options{})
	for n := 0; ; n++ {
		a := h.stranger().post("/login", map[string]any{"login": "reader", "password": "wrong"})
		if a.StatusCode == 429 {
			a.refused(429, "busy")
			if a.Header.Get("Retry-After") == "" {
				t.Error("no Retry-After")
			}
			break
		}
		if a.refused(401, "unknown"); n > 100 {
			t.Fatal("passwords can be tried for ever")
		}
	}
}
