package rest_test

import (
	"bufio"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
)

// An event is one that a stream has sent.
type event struct{ id, name, data string }

// listen opens a stream of events. The channel is closed when the stream ends.
func (c *client) listen(path string) (events <-chan event, end func()) {
	c.h.t.Helper()
	r, err := http.NewRequest("GET", c.h.url+path, nil)
	if err != nil {
		c.h.t.Fatal(err)
	}
	r.Header = c.header.Clone()
	c.header = http.Header{}
	if c.cookie != nil {
		r.AddCookie(c.cookie)
	}
	a, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		c.h.t.Fatal(err)
	}
	if a.StatusCode != 200 || a.Header.Get("Content-Type") != "text/event-stream" {
		c.h.t.Fatalf("%s: %d %s", path, a.StatusCode, a.Header.Get("Content-Type"))
	}
	out := make(chan event, 100)
	go func() {
		defer close(out)
		var e event
		for lines := bufio.NewScanner(a.Body); lines.Scan(); {
			switch name, value, _ := strings.Cut(lines.Text(), ": "); name {
			case "id":
				e.id = value
			case "event":
				e.name = value
			case "data":
				e.data = value
			case "":
				if e.name != "" {
					out <- e
				}
				e = event{}
			}
		}
	}()
	return out, func() { a.Body.Close() }
}

// next waits for an event; how long is of no account but to a test that hangs.
func next(t *testing.T, events <-chan event) (event, bool) {
	t.Helper()
	select {
	case e, ok := <-events:
		return e, ok
	case <-time.After(time.Minute):
		t.Fatal("nothing came")
		panic("unreachable")
	}
}

// TestStreams_Revisions listens to revisions, breaks off, and goes on where it stopped:
// nothing is missed and nothing comes twice.
func TestStreams_Revisions(t *testing.T) {
	h := settled(t, rest.Options{})
	manager := h.as(api.RoleManager)
	change := func(n int) {
		manager.put("/bays/pit-9", "application/json", fmt.Appendf(nil, `{"id": "pit-9", "kinds": ["pump_test"], "max_length_ft": %d}`, 40+n)).want(200)
	}
	events, end := manager.listen("/events")
	change(1)
	e, _ := next(t, events)
	if e.id != "2" || e.name != "revision" || !strings.Contains(e.data, `"number":2`) {
		t.Errorf("the first event: %+v", e)
	}
	end()
	for n := 2; n < 6; n++ {
		change(n)
	}
	events, end = manager.with("Last-Event-ID", e.id).listen("/events")
	defer end()
	for want := 3; want <= 6; want++ {
		if e, _ := next(t, events); e.id != fmt.Sprint(want) {
			t.Errorf("event %s, want %d", e.id, want)
		}
	}
	change(7)
	if e, _ := next(t, events); e.id != "7" {
		t.Errorf("event %s, want 7", e.id)
	}
	manager.wildly().with("Last-Event-ID", "x").get("/events").refused(422, "invalid")
	manager.wildly().get("/jobs/none/events").refused(404, "not-found")
}

// TestStreams_Job follows a job to its end.
func TestStreams_Job(t *testing.T) {
	h := settled(t, rest.Options{})
	manager := h.as(api.RoleManager)
	job := manager.post("/proposals", map[string]any{}).want(202).text("id")
	events, end := manager.listen("/jobs/" + job + "/events")
	defer end()
	last := event{}
	for {
		e, ok := next(t, events)
		if !ok {
			break
		}
		if last = e; e.name != "progress" && e.name != "done" {
			t.Errorf("an event %+v", e)
		}
	}
	if last.name != "done" || !strings.Contains(last.data, `"state":"done"`) || !strings.Contains(last.data, `"impact":{`) {
		t.Errorf("the last event: %+v", last)
	}
}

// TestStreams_End looks at what ends a stream: logging out, and the server's end, which
// does not wait for whoever listens.
func TestStreams_End(t *testing.T) {
	var ahead atomic.Int64 // seconds
	h := settled(t, rest.Options{Clock: func() time.Time { return time.Now().Add(time.Duration(ahead.Load()) * time.Second) }})
	manager, reader := h.as(api.RoleManager), h.as(api.RoleReader)
	leaving, end := reader.listen("/events")
	defer end()
	staying, end := manager.listen("/events")
	defer end()
	reader.post("/logout", nil).want(204)
	ahead.Store(60)
	if _, ok := next(t, leaving); ok {
		t.Error("a revision nobody made")
	}
	manager.put("/bays/pit-9", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	if e, ok := next(t, staying); !ok || e.id != "2" {
		t.Errorf("whoever is still logged in gets %+v", e)
	}
	h.stop()
	if e, ok := next(t, staying); ok {
		t.Errorf("after the end: %+v", e)
	}
}

// TestEnd stops the server while a question waits for its answer: the asker is told of
// the job, which is answered by the next server.
func TestEnd(t *testing.T) {
	h := settled(t, rest.Options{})
	manager, waiting := h.as(api.RoleManager), h.as(api.RoleManager)
	got := make(chan *answer, 1)
	for range 20 { // enough for some to wait
		manager.post("/repairs", map[string]any{}).want(202)
	}
	go func() { got <- waiting.with("Prefer", "wait=20").post("/repairs", map[string]any{}) }()
	for manager.get("/jobs?limit=500").want(200).count("items") < 21 {
	}
	h.stop()
	a := <-got
	if a.StatusCode != 202 && a.StatusCode != 200 {
		t.Fatalf("%d %s", a.StatusCode, a.body)
	}
	again := opened(t, h.name, rest.Options{})
	manager.h = again
	for {
		job := manager.get("/jobs/" + a.text("id")).want(200)
		if state := job.text("state"); state == "done" {
			break
		} else if state != "waiting" && state != "running" {
			t.Fatalf("the job is %s: %s", state, job.body)
		}
		time.Sleep(20 * time.Millisecond)
	}
}
