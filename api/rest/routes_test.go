package rest_test

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"

	"wetdown/api"
	"wetdown/api/rest"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// TestDescription looks that openapi.yaml is right by itself (kin-openapi), and that it
// describes every route, its parameters and whether it takes a body, and no other.
func TestDescription(t *testing.T) {
	text, err := os.ReadFile("openapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context()); err != nil {
		t.Fatal(err)
	}
	described := map[string]bool{}
	for _, path := range slices.Sorted(slices.Values(doc.Paths.InMatchingOrder())) {
		for method, op := range doc.Paths.Value(path).Operations() {
			described[method+" "+path] = true
			if op.Summary == "" || op.Responses.Default() == nil {
				t.Errorf("%s %s has no summary, or no problems", method, path)
			}
		}
	}
	for _, r := range rest.Routes() {
		name := r.Method + " " + r.Path
		if !described[name] {
			t.Errorf("openapi.yaml lacks %s", name)
			continue
		}
		delete(described, name)
		op := doc.Paths.Value(r.Path).GetOperation(r.Method)
		var query []string
		for _, p := range op.Parameters {
			if p.Value.In == "query" {
				query = append(query, p.Value.Name)
			}
		}
		slices.Sort(query)
		want := strings.Fields(r.Query)
		slices.Sort(want)
		if !slices.Equal(query, want) {
			t.Errorf("%s: parameters %v are described, %v are taken", name, query, want)
		}
		if (op.RequestBody != nil) != (r.Takes > 0) {
			t.Errorf("%s: a body is described or taken, and not both", name)
		}
		says := "Takes the act " + r.Act + "."
		if slices.Contains(api.Acts(), r.Act) && !strings.Contains(op.Description, says) {
			t.Errorf("%s: the description does not say %q", name, says)
		}
		if open := op.Security != nil && len(*op.Security) == 0; open != (r.Act == "everybody") {
			t.Errorf("%s: described as open: %v, act %s", name, open, r.Act)
		}
	}
	for name := range described {
		t.Errorf("openapi.yaml describes %s, which is no route", name)
	}
}

// TestRoutes walks every route as every role, with a token for every act, and as nobody.
// Whoever may not is refused; whoever may is not refused for that reason.
func TestRoutes(t *testing.T) {
	h := settled(t, rest.Options{})
	type asker struct {
		name string
		c    *client
		acts []string
	}
	var askers []asker
	for _, role := range api.Roles() {
		askers = append(askers, asker{role, h.as(role), api.ActsOf(role)})
	}
	for _, act := range api.Acts() {
		askers = append(askers, asker{"token for " + act, h.program("for."+act, act), []string{act}})
	}
	// What would end the others' right to ask is asked of things that are not there.
	fill := strings.NewReplacer("{id}", "none", "{number}", "99999", "{login}", "none", "{name}", "none", "{customer}", "none", "{secret}", "none", "{type}", "none")
	own := []string{"POST /logout", "GET /jobs/{id}/events", "GET /events"}
	for _, r := range rest.Routes() {
		name := r.Method + " " + r.Path
		if r.Act == "" {
			t.Errorf("%s has no rule", name)
			continue
		}
		if slices.Contains(own, name) {
			continue // TestStreams and TestSession have these
		}
		path := fill.Replace(r.Path)
		ask := func(c *client) *answer {
			c = c.wildly()
			if r.Takes > 0 {
				return c.do(r.Method, path, "application/json", []byte(`{"never": 1`))
			}
			return c.do(r.Method, path, "", nil)
		}
		for _, who := range askers {
			a := ask(who.c)
			switch may := allowed(r.Act, who.acts); {
			case may && a.StatusCode == 401, a.StatusCode >= 500:
				t.Fatalf("%s as %s: status %d: %s", name, who.name, a.StatusCode, a.body)
			case may && a.StatusCode == 403 && r.Act != "anybody":
				t.Errorf("%s as %s: may, and is refused: %s", name, who.name, a.body)
			case !may && a.StatusCode != 403:
				t.Errorf("%s as %s: may not, and is answered with %d: %s", name, who.name, a.StatusCode, a.body)
			}
		}
		a := ask(h.stranger())
		switch open := r.Act == "everybody" || r.Act == "neighbour"; {
		case open && (a.StatusCode == 401 || a.StatusCode == 403):
			t.Errorf("%s as nobody: status %d", name, a.StatusCode)
		case !open && a.StatusCode != 401:
			t.Errorf("%s as nobody: status %d, want 401", name, a.StatusCode)
		case !open && a.Header.Get("WWW-Authenticate") == "":
			t.Errorf("%s as nobody: no WWW-Authenticate", name)
		}
		// Somebody on another machine reads no counters.
		if r.Act == "neighbour" {
			if a := h.stranger().with("X-Forwarded-For", "192.0.2.7").get(path); a.StatusCode != 401 {
				t.Errorf("%s through a proxy: status %d", name, a.StatusCode)
			}
		}
	}
}

func allowed(act string, acts []string) bool {
	return act == "everybody" || act == "anybody" || act == "neighbour" || slices.Contains(acts, act)
}

// TestTrail looks that whatever may change something is on the trail, done or refused, with
// whoever tried it, and so is what was asked without the right to.
func TestTrail(t *testing.T) {
	h := settled(t, rest.Options{})
	admin, sales := h.as(api.RoleAdministrator), h.as(api.RoleSales)
	sales.wildly().post("/slips", map[string]any{}).refused(403, "forbidden")
	sales.get("/trail").refused(403, "forbidden")
	admin.put("/bays/pit-9?why=new", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	admin.put("/bays/pit-9", "application/json", []byte(`{"id": "pit-8"}`)).want(422)
	sales.get("/trucks").want(200)
	var got []string
	for i, events := 0, admin.get("/trail?limit=4").want(200); i < events.count("items"); i++ {
		at := fmt.Sprintf("items.%d.", i)
		got = append(got, events.text(at+"who")+" "+events.text(at+"act")+" "+events.text(at+"subject")+" "+events.text(at+"outcome"))
	}
	want := []string{
		"administrator set_up bays/pit-9 refused",
		"administrator set_up bays/pit-9 done",
		"sales manage trail refused",
		"sales report slips refused",
	}
	if !slices.Equal(got, want) {
		t.Errorf("the trail:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// TestRoutes_Narrow has programs with a token for one act do what that act is for.
func TestRoutes_Narrow(t *testing.T) {
	h := settled(t, rest.Options{})
	report, book, quote, decide, setUp := h.program("p.report", "report"), h.program("p.book", "book"), h.program("p.quote", "quote"), h.program("p.decide", "decide"), h.program("p.setup", "set_up")
	slip := report.post("/slips", slipOn(1)).want(201).text("id")
	report.drop("/slips/" + slip).want(200)
	job := report.with("Prefer", "wait=20").post("/proposals", map[string]any{"conditions": []any{map[string]any{"kind": "no_visits", "over": map[string]any{"from": "2027-07-01", "through": "2027-07-02"}}}}).want(202)
	report.get("/jobs/"+job.text("id")).refused(403, "forbidden")
	reader := h.as(api.RoleReader)
	for reader.get("/jobs/"+job.text("id")).want(200).text("state") != "done" {
	}
	if got := decide.post("/proposals/"+job.text("id")+"/accept", nil).want(200); got.count("conditions") != 1 {
		t.Errorf("the proposal: %s", got.body)
	}
	visit := reader.get("/visits/V2/booking").want(200)
	book.with("If-Match", "*").send("PUT", "/visits/V2/booking", map[string]any{"state": "tentative", "day": visit.text("planned_day")})
	book.with("If-Match", "*").wildly().with("If-Match", "*").send("PUT", "/visits/none/booking", map[string]any{"state": "tentative"}).refused(412, "stale")
	book.post("/feeds", map[string]any{"of": "crews/hosts"}).want(201)
	quote.post("/quotes", map[string]any{"truck": map[string]any{"customer": "C1", "kind": "pumper", "content": "medium", "length_ft": 31, "height_ft": 10, "flow_gpm": 1250}}).want(202)
	setUp.with("If-None-Match", "*").put("/bays/pit-9", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	table := reader.get("/files/line-off").want(200)
	report.do("POST", "/files/line-off/preview", "text/csv", table.body).want(200)
	report.do("POST", "/files/line-off", "text/csv", table.body).want(200)
}

// TestTrail_Strangers has nobody known try again and again: the trail is not filled with it,
// and says how much it leaves out.
func TestTrail_Strangers(t *testing.T) {
	var ahead atomic.Int64 // seconds after a moment at which the clock stands
	began := time.Now()
	h := settled(t, rest.Options{Clock: func() time.Time { return began.Add(time.Duration(ahead.Load()) * time.Second) }})
	admin, nobody := h.as(api.RoleAdministrator), h.stranger()
	before := admin.get("/trail?limit=500").want(200).count("items")
	const tried = 400
	for range tried {
		nobody.get("/trucks").refused(401, "unknown")
	}
	told := admin.get("/trail?limit=500").want(200).count("items") - before
	ahead.Store(3600)
	nobody.get("/trucks").refused(401, "unknown")
	last := admin.get("/trail?limit=1").want(200).text("items.0.detail")
	if told != 100 || !strings.HasSuffix(last, fmt.Sprintf("are not told: %d.", tried-told)) {
		t.Errorf("%d of %d are told; the last says %q", told, tried, last)
	}
}
