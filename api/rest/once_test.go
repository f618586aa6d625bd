package rest_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
)

// slipOn is a slip that nothing else in these tests is.
func slipOn(day int) map[string]any {
	date := fmt.Sprintf("2027-06-%02d", day)
	return map[string]any{"kind": "bay_down", "bay": "pit-1", "over": map[string]any{"from": date, "through": date}}
}

// slips counts the slips on record.
func (c *client) slips() int { return c.get("/slips").want(200).count("items") }

// TestOnce sends requests again.
func TestOnce(t *testing.T) {
	h := settled(t, rest.Options{})
	c, before := h.as(api.RoleCoordinator), 0
	before = c.slips()
	first := c.with("Idempotency-Key", "k1").post("/slips", slipOn(1)).want(201)
	again := c.with("Idempotency-Key", "k1").post("/slips", slipOn(1)).want(201)
	if string(first.body) != string(again.body) || first.Header.Get("Location") != again.Header.Get("Location") || first.Header.Get("ETag") != again.Header.Get("ETag") || again.Header.Get("Content-Type") != "application/json" {
		t.Errorf("the second answer differs:\n%s %v\n%s %v", first.body, first.Header, again.body, again.Header)
	}
	if n := c.slips(); n != before+1 {
		t.Errorf("%d slips, want %d", n, before+1)
	}
	c.with("Idempotency-Key", "k1").post("/slips", slipOn(2)).refused(422, "invalid")
	c.with("Idempotency-Key", "k1").post("/slips?why=another", slipOn(1)).refused(422, "invalid")
	h.as(api.RoleManager).with("Idempotency-Key", "k1").post("/slips", slipOn(2)).want(201) // somebody else's key
	// What was refused may be sent again.
	c.with("Idempotency-Key", "k2").post("/slips", map[string]any{"kind": "bay_down", "bay": "none"}).refused(422, "invalid")
	c.with("Idempotency-Key", "k2").post("/slips", slipOn(3)).want(201)
	// A job is asked once.
	one := c.with("Idempotency-Key", "k3").post("/offers", map[string]any{"truck": "A1"}).want(202)
	two := c.with("Idempotency-Key", "k3").post("/offers", map[string]any{"truck": "A1"}).want(202)
	if one.text("id") == "" || one.text("id") != two.text("id") {
		t.Errorf("jobs %s and %s", one.body, two.body)
	}
	// What is shown once is shown once.
	feed := c.with("Idempotency-Key", "k4").post("/feeds", map[string]any{"of": "bays/pit-1"}).want(201)
	secret := c.with("Idempotency-Key", "k4").post("/feeds", map[string]any{"of": "bays/pit-1"}).refused(409, "conflict")
	if strings.Contains(string(secret.body), "wf_") || secret.text("made") != "feeds/"+feed.text("id") {
		t.Errorf("the second answer: %s", secret.body)
	}
}

// TestOnce_Together sends the same request many times at the same moment.
func TestOnce_Together(t *testing.T) {
	h := settled(t, rest.Options{})
	c := h.as(api.RoleCoordinator)
	for round := range 10 {
		before := c.slips()
		var mu sync.Mutex
		count, bodies := map[int]int{}, map[string]bool{}
		var over sync.WaitGroup
		for range 8 {
			k := *c
			k.header = http.Header{}
			over.Go(func() {
				a := k.with("Idempotency-Key", fmt.Sprint("together-", round)).post("/slips", slipOn(round+1))
				mu.Lock()
				defer mu.Unlock()
				count[a.StatusCode]++
				if a.StatusCode == 201 {
					bodies[string(a.body)] = true
				} else {
					a.refused(409, "conflict")
				}
			})
		}
		over.Wait()
		if n := c.slips(); n != before+1 || len(bodies) != 1 || count[201]+count[409] != 8 {
			t.Errorf("round %d: %d slips more, %d answers, by status %v", round, n-before, len(bodies), count)
		}
	}
}

// TestOnce_Died begins a request whose process dies after the change was kept and before
// its answer was.
func TestOnce_Died(t *testing.T) {
	h := settled(t, rest.Options{})
	who := api.Actor{Name: "coordinator", Acts: api.ActsOf(api.RoleCoordinator)}
	ctx, once, before, err := h.app.Begin(t.Context(), who, "k", "request")
	if err != nil || before != nil || once == nil {
		t.Fatal(before, err)
	}
	day := api.LineOff{Truck: "none"}
	if _, err := h.app.ReportLineOff(ctx, who, api.Intent{}, day); api.AsProblem(err).Kind != api.NotFound {
		t.Fatal(err)
	}
	if _, _, _, err := h.app.Begin(t.Context(), who, "k", "request"); api.AsProblem(err).Kind != api.Conflict {
		t.Errorf("while it is under way: %v", err)
	}
	state, err := h.app.Undo(ctx, api.Actor{Name: "coordinator", Acts: api.Acts()}, api.Intent{}, 1)
	if state != nil || api.AsProblem(err).Kind != api.NotFound {
		t.Fatal(err)
	}
	if _, err := h.app.Put(ctx, api.Actor{Name: "coordinator", Acts: api.Acts()}, api.Intent{}, "bays/pit-9", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)); err != nil {
		t.Fatal(err)
	}
	_, _, _, err = h.app.Begin(t.Context(), who, "k", "request")
	if p := api.AsProblem(err); p.Kind != api.Conflict || p.Extra["made"] != "revisions/2" {
		t.Errorf("after it was done: %+v", p)
	}
	// The change is not made twice, not even by the process that was thought dead.
	if _, err := h.app.Put(ctx, api.Actor{Name: "coordinator", Acts: api.Acts()}, api.Intent{}, "bays/pit-8", []byte(`{"id": "pit-8", "kinds": ["pump_test"]}`)); api.AsProblem(err).Kind != api.Conflict {
		t.Errorf("a second change: %v", err)
	}
}

const servedDatabase = "WETDOWN_TEST_SERVE"

// TestMain serves a database instead, when it is told to, until it is killed.
func TestMain(m *testing.M) {
	name := os.Getenv(servedDatabase)
	if name == "" {
		os.Exit(m.Run())
	}
	t := &testing.T{}
	h := opened(t, name, rest.Options{})
	fmt.Println(h.url)
	select {}
}

// TestOnce_Killed kills the service again and again while a client sends requests, each
// with a key of its own, and sends them again until they are answered. Each is carried
// out once.
func TestOnce_Killed(t *testing.T) {
	if testing.Short() {
		t.Skip("it starts the service many times")
	}
	name := filepath.Join(t.TempDir(), "wetdown.db")
	h := opened(t, name, rest.Options{})
	h.settle()
	program := h.program("robot", "read", "report")
	before := program.slips()
	h.stop()
	dice := rand.New(rand.NewPCG(7, 7))
	const requests = 60
	kills, done := 0, 0
	idle := 0 // processes in a row that were killed before they answered: the next one lives longer
	for done < requests {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), servedDatabase+"="+name)
		c.Stderr = os.Stderr
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		url, err := bufio.NewReader(out).ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(time.Duration(2+dice.IntN(14+8*idle))*time.Millisecond, func() {
			c.Process.Kill()
			cancel()
		})
		idle++
		for done < requests {
			status, body := attempt(ctx, strings.TrimSpace(url), program.bearer, done)
			if status == 0 {
				break // killed
			}
			idle = 0
			// A conflict says that it was done, and the answer lost; or, of one that was
			// begun and never carried out, that it is to be waited for, which this test does
			// not: it looks at what is kept.
			if status != 201 && (status != 409 || !strings.Contains(body, `"made":"revisions/`)) {
				if status == 409 && strings.Contains(body, "under way") {
					t.Logf("request %d was begun by a process that is dead", done)
					done++
					before-- // nothing came of it, as is looked at below
					continue
				}
				t.Fatalf("request %d: %d %s", done, status, body)
			}
			done++
		}
		c.Process.Kill()
		cancel()
		_ = c.Wait() // it was killed
		kills++
	}
	h = opened(t, name, rest.Options{})
	program.h = h
	if n := program.slips(); n != before+requests {
		t.Errorf("%d slips, want %d", n, before+requests)
	}
	t.Logf("%d requests, %d processes", requests, kills)
}

// attempt sends one request; status 0: it was not answered.
func attempt(ctx context.Context, url, bearer string, n int) (status int, body string) {
	text := fmt.Sprintf(`{"kind": "bay_down", "bay": "pit-1", "over": {"from": "2027-06-01", "through": "2027-06-%02d"}}`, n%30+1)
	r, err := http.NewRequestWithContext(ctx, "POST", url+"/slips", strings.NewReader(text))
	if err != nil {
		return 0, err.Error()
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+bearer)
	r.Header.Set("Idempotency-Key", fmt.Sprint("slip-", n))
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, err.Error()
	}
	defer a.Body.Close()
	var b strings.Builder
	if _, err := bufio.NewReader(a.Body).WriteTo(&b); err != nil {
		return 0, err.Error()
	}
	return a.StatusCode, b.String()
}
