package main

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

var (
	loadTime    = flag.Duration("load-time", 5*time.Second, "how long TestServe_Load asks")
	loadClients = flag.Int("load-clients", 50, "how many clients ask in TestServe_Load, at most 50")
	loadThink   = flag.Duration("load-think", time.Second, "how long each waits between two requests, on average")
)

// A sample is how one request went.
type sample struct {
	what    string
	read    bool
	solving bool // the planner was at work when it was sent
	took    time.Duration
}

// A crowd is many guests at once.
type crowd struct {
	visits, trucks, bays []string
	solving              atomic.Bool
	stop                 atomic.Bool

	mu      sync.Mutex
	samples []sample
	refused map[string]int
	faults  map[string]int
}

// note keeps how a request went; only what is an honest answer is no fault.
func (c *crowd) note(s sample, a reply, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case err != nil:
		c.faults[s.what+": "+err.Error()]++
		return
	case a.status == http.StatusConflict, a.status == http.StatusServiceUnavailable && !s.read, a.status == http.StatusUnprocessableEntity && !s.read:
		var p struct{ Title string }
		if err := json.Unmarshal(a.body, &p); err != nil {
			c.faults[s.what+": "+err.Error()]++
		}
		c.refused[p.Title]++
	case a.status >= 300:
		c.faults[fmt.Sprintf("%s: %d %.300s", s.what, a.status, a.body)]++
	}
	c.samples = append(c.samples, s)
}

// send sends one request and notes how it went.
func (c *crowd) send(g *guest, what, method, path, body string) reply {
	s := sample{what: what, read: method == "GET", solving: c.solving.Load()}
	began := time.Now()
	a, err := g.ask(method, path, "", body)
	s.took = time.Since(began)
	c.note(s, a, err)
	return a
}

// one is any of some.
func one(dice *rand.Rand, list []string) string { return list[dice.IntN(len(list))] }

// mix is what a client asks over and over: mostly reads, some bookings and slips.
func (c *crowd) mix(g *guest) {
	var slips []string
	for !c.stop.Load() {
		time.Sleep(time.Duration(g.dice.Int64N(2 * int64(*loadThink))))
		day := generatedDay.AddDate(0, 0, 4+g.dice.IntN(60)).Format(time.DateOnly)
		switch roll := g.dice.IntN(100); {
		case roll < 30:
			c.send(g, "a booking", "GET", "/visits/"+one(g.dice, c.visits)+"/booking", "")
		case roll < 40:
			c.send(g, "a truck", "GET", "/trucks/"+one(g.dice, c.trucks), "")
		case roll < 48:
			c.send(g, "visits", "GET", "/visits?limit=50", "")
		case roll < 53:
			c.send(g, "trucks", "GET", "/trucks?limit=50", "")
		case roll < 61:
			c.send(g, "the plan", "GET", "/plan", "")
		case roll < 69:
			c.send(g, "revisions", "GET", "/revisions?limit=20", "")
		case roll < 74:
			c.send(g, "jobs", "GET", "/jobs?limit=20", "")
		case roll < 78:
			c.send(g, "the line-up", "GET", "/line-up?day="+day, "")
		case roll < 80:
			c.send(g, "the plant", "GET", "/plant", "")
		case roll < 93:
			c.book(g, one(g.dice, c.visits))
		case roll < 97 || len(slips) == 0:
			a := c.send(g, "report", "POST", "/slips", fmt.Sprintf(`{"kind": "bay_down", "bay": %q, "over": {"from": %q, "through": %q}}`, one(g.dice, c.bays), day, day))
			var made struct{ ID string }
			if a.status == http.StatusCreated && json.Unmarshal(a.body, &made) == nil {
				slips = append(slips, made.ID)
			}
		default:
			c.send(g, "withdraw", "DELETE", "/slips/"+slips[0], "")
			slips = slips[1:]
		}
	}
}

// book looks a booking up and takes it elsewhere: mostly to another state on its planned
// day, now and then to another day.
func (c *crowd) book(g *guest, visit string) {
	a := c.send(g, "a booking", "GET", "/visits/"+visit+"/booking", "")
	var now booked
	if a.status != 200 || json.Unmarshal(a.body, &now) != nil || now.Planned == "" {
		return
	}
	day, state, what := now.Planned, "tentative", "book"
	if now.State == "tentative" {
		state = "confirmed"
	}
	if at, err := time.Parse(time.DateOnly, day); err == nil && g.dice.IntN(10) == 0 {
		day, what = at.AddDate(0, 0, 7*(g.dice.IntN(5)-2)).Format(time.DateOnly), "move"
	}
	c.send(g, what, "PUT", "/visits/"+visit+"/booking", fmt.Sprintf(`{"state": %q, "day": %q}`, state, day))
}

// plan asks for one proposal after the other.
func (c *crowd) plan(g *guest) (asked int) {
	for ; !c.stop.Load(); asked++ {
		a := c.send(g, "propose", "POST", "/proposals", `{}`)
		var job struct{ ID, State string }
		if json.Unmarshal(a.body, &job) != nil || a.status != http.StatusAccepted {
			time.Sleep(time.Second)
			continue
		}
		for (job.State == "waiting" || job.State == "running") && !c.stop.Load() {
			c.solving.Store(job.State == "running")
			time.Sleep(100 * time.Millisecond)
			if a, err := g.ask("GET", "/jobs/"+job.ID, "", ""); err != nil || json.Unmarshal(a.body, &job) != nil {
				return asked
			}
		}
		c.solving.Store(false)
	}
	return asked
}

// TestServe_Load has many clients read, book and report for a while, as one asks for plan after
// plan: nobody is told anything but what they asked for or an honest no, and what the
// program took for it is given back. It says how long answers took and how much memory there
// was; how fast is fast enough depends on the machine.
func TestServe_Load(t *testing.T) {
	if testing.Short() {
		t.Skip("plans a plant of 200 trucks first")
	}
	s := launch(t, "--db", t.TempDir()+"/plant.db", "--plant", planFor(t, "200", "0.95", "1"), "--behind-proxy", "127.0.0.1")
	names := make([]string, min(50, max(2, *loadClients)))
	for n := range names {
		names[n] = fmt.Sprintf("client-%d", n)
	}
	guests := invite(t, s.url, s.password, names...)
	for n, g := range guests {
		g.from = fmt.Sprintf("10.0.0.%d", n+1)
	}
	c := &crowd{refused: map[string]int{}, faults: map[string]int{}}
	c.trucks, c.bays = identified(t, guests[0], "/trucks?limit=500"), identified(t, guests[0], "/bays?limit=500")
	for _, state := range []string{"requested", "tentative", "confirmed"} {
		c.visits = append(c.visits, identified(t, guests[0], "/visits?limit=500&state="+state)...)
	}
	idle := gauge(t, s.url, "go_goroutines")
	var over sync.WaitGroup
	plans := 0
	over.Go(func() { plans = c.plan(guests[0]) })
	for _, g := range guests[1:] {
		over.Go(func() { c.mix(g) })
	}
	var memory []int
	for began := time.Now(); time.Since(began) < *loadTime; {
		time.Sleep(*loadTime / 20)
		memory = append(memory, resident(s.cmd.Process.Pid))
	}
	c.stop.Store(true)
	over.Wait()
	for _, what := range sortedCounts(c.faults) {
		t.Errorf("%d times %s", c.faults[what], what)
	}
	c.tell(t, true)
	c.tell(t, false)
	t.Logf("%d plans asked for; honest refusals %v", plans, c.refused)
	t.Logf("memory of the process, sampled, in MB: %v; heap in use at the end %.0f MB, goroutines %v to %v", memory, gauge(t, s.url, "go_memstats_heap_inuse_bytes")/1e6, idle, gauge(t, s.url, "go_goroutines"))
	for _, g := range guests {
		g.client.CloseIdleConnections()
	}
	for gauge(t, s.url, "go_goroutines") > idle+10 {
		time.Sleep(50 * time.Millisecond)
	}
	s.end(t)
	used := s.cmd.ProcessState
	t.Logf("CPU of the process: %v for %d requests", used.UserTime()+used.SystemTime(), len(c.samples))
	if err := sound(s.cmd.Args[5]); err != nil {
		t.Error(err)
	}
}

// tell says how long requests took, reads or changes, while the planner worked and else.
func (c *crowd) tell(t *testing.T, reads bool) {
	t.Helper()
	by := map[string][]time.Duration{}
	for _, s := range c.samples {
		if s.read != reads {
			continue
		}
		name := "planner idle"
		if s.solving {
			name = "planner at work"
		}
		by[name] = append(by[name], s.took)
		by[s.what] = append(by[s.what], s.took)
	}
	names := make([]string, 0, len(by))
	for name := range by {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		list := by[name]
		slices.Sort(list)
		at := func(percent int) time.Duration { return list[(len(list)-1)*percent/100].Round(100 * time.Microsecond) }
		t.Logf("reads %v, %s: %d, median %v, p95 %v, p99 %v, longest %v", reads, name, len(list), at(50), at(95), at(99), at(100))
	}
}

func sortedCounts(m map[string]int) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// resident is the memory of a process in MB, 0 where this system does not say.
func resident(pid int) int {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, after, _ := strings.Cut(string(data), "VmRSS:")
	kb, _, _ := strings.Cut(strings.TrimSpace(after), " ")
	n, err := strconv.Atoi(kb)
	if err != nil {
		return 0
	}
	return n / 1000
}

// gauge reads one of the counters that the service shows to programs on its machine.
func gauge(t *testing.T, url, name string) float64 {
	t.Helper()
	v, err := read(url, name)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func read(url, name string) (v float64, err error) {
	a, err := http.Get(url + "/metrics")
	if err != nil {
		return 0, err
	}
	defer a.Body.Close()
	for lines := bufio.NewScanner(a.Body); lines.Scan(); {
		if text, ok := strings.CutPrefix(lines.Text(), name+" "); ok {
			return strconv.ParseFloat(text, 64)
		}
	}
	return 0, errors.New("there is no counter " + name)
}

// TestServe_Hostile has somebody with a token, and somebody without, do their worst at once:
// thousands of questions, bodies of 100 MB, bodies and heads that never come to an end, broken
// JSON, a workbook that unpacks to 300 MB, requests of other sites, hundreds of streams. Nobody
// else notices: all that a client who behaves asks meanwhile is answered, and it
// can listen and ask the planner. Afterwards all that it took is given back.
func TestServe_Hostile(t *testing.T) {
	s := launch(t, "--db", t.TempDir()+"/plant.db", "--plant", planFor(t, "12", "0.7", "3"), "--behind-proxy", "127.0.0.1")
	guests := invite(t, s.url, s.password, "good", "questions", "large", "broken", "foreign", "bomb", "formulas", "slow", "streams")
	for n, g := range guests {
		g.from = fmt.Sprintf("10.0.0.%d", n+1)
	}
	good := guests[0]
	trucks := identified(t, good, "/trucks")
	idle := gauge(t, s.url, "go_goroutines")

	var over sync.WaitGroup
	var mu sync.Mutex
	seen := map[string]map[int]int{}
	count := func(what string, status int) {
		mu.Lock()
		defer mu.Unlock()
		if seen[what] == nil {
			seen[what] = map[int]int{}
		}
		seen[what][status]++
	}
	attack := func(what string, times, each int, f func() int) {
		for range times {
			over.Go(func() {
				for range each {
					count(what, f())
				}
			})
		}
	}
	send := func(n int, method, path, of string, body io.Reader, length int64, header ...string) int {
		bad := guests[n]
		r, err := http.NewRequest(method, s.url+path, body)
		if err != nil {
			t.Error(err)
			return 0
		}
		r.ContentLength = length
		r.Header.Set("Authorization", "Bearer "+bad.token)
		r.Header.Set("X-Forwarded-For", bad.from)
		r.Header.Set("Content-Type", of)
		for i := 0; i+1 < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		a, err := bad.client.Do(r)
		if err != nil {
			return 0 // it hangs up on who sends too much
		}
		defer a.Body.Close()
		io.Copy(io.Discard, a.Body)
		return a.StatusCode
	}
	bomb := bombed(t)
	questions := 250
	if testing.Short() {
		questions = 40
	}
	attack("questions", 8, questions, func() int {
		return send(1, "POST", "/offers", "application/json", strings.NewReader(`{"truck": "`+trucks[0]+`"}`), -1)
	})
	attack("100 MB", 2, 2, func() int {
		return send(2, "PUT", "/plant", "application/yaml", io.LimitReader(noughts{}, 100<<20), -1)
	})
	attack("broken JSON", 4, 50, func() int { return send(3, "POST", "/slips", "application/json", strings.NewReader(`{"kind": [`), -1) })
	attack("other sites", 4, 20, func() int {
		return send(4, "POST", "/slips", "application/json", strings.NewReader(`{}`), 2, "Origin", "https://elsewhere.example")
	})
	attack("a bomb", 1, 5, func() int {
		return send(5, "POST", "/files/trucks/preview", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", bytes.NewReader(bomb), int64(len(bomb)))
	})
	attack("formulas", 1, 5, func() int {
		return send(6, "POST", "/files/trucks", "text/csv", strings.NewReader("shop_order,customer\n=1+1,@SUM(A1)\n"), -1)
	})
	var held []net.Conn
	for n := range 300 {
		conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		held = append(held, conn)
		switch n % 3 {
		case 0: // nothing is sent
		case 1:
			fmt.Fprintf(conn, "GET /trucks HTTP/1.1\r\nHost: x\r\nX-Slow: ")
		case 2:
			fmt.Fprintf(conn, "POST /slips HTTP/1.1\r\nHost: x\r\nX-Forwarded-For: 10.0.0.8\r\nAuthorization: Bearer %s\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{", guests[7].token)
		}
	}
	var open []io.Closer
	for range 600 {
		r, err := http.NewRequest("GET", s.url+"/events", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+guests[8].token)
		r.Header.Set("X-Forwarded-For", guests[8].from)
		a, err := guests[8].client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		if count("streams", a.StatusCode); a.StatusCode == 200 {
			open = append(open, a.Body)
		} else {
			a.Body.Close()
		}
	}
	if len(open) == 0 {
		t.Error("nobody can listen")
	}

	// The client who behaves.
	heard, end := good.listen(t)
	defer end()
	attacked := make(chan struct{})
	go func() { over.Wait(); close(attacked) }()
	reads := 0
	for going := true; going; reads++ {
		select {
		case <-attacked:
			going = false
		case <-time.After(60 * time.Millisecond): // at the pace that is granted to one client
		}
		for _, path := range []string{"/trucks", "/plan", "/visits?limit=5"}[reads%3 : reads%3+1] {
			if a, err := good.ask("GET", path, "", ""); err != nil || a.status != 200 {
				t.Fatalf("GET %s: %v, %d %s", path, err, a.status, a.body)
			}
		}
		if reads == 10 {
			a, err := good.ask("POST", "/offers", "", `{"truck": "`+trucks[1]+`"}`)
			if err != nil || a.status != http.StatusAccepted {
				t.Errorf("a question: %v, %d %s", err, a.status, a.body)
			}
			a, err = good.ask("POST", "/slips", "", `{"kind": "bay_down", "bay": "floor-1", "over": {"from": "2027-04-05", "through": "2027-04-05"}}`)
			if err != nil || a.status != http.StatusCreated {
				t.Errorf("a slip: %v, %d %s", err, a.status, a.body)
			} else if n := <-heard; n != 2 {
				t.Errorf("revision %d is heard of, want 2", n)
			}
		}
	}
	for what, allowed := range map[string][]int{
		"questions": {202, 429, 503}, "100 MB": {0, 413, 429}, "broken JSON": {400, 429}, "other sites": {403, 429},
		"a bomb": {413, 422, 429}, "formulas": {200, 409, 422, 429}, "streams": {200, 429, 503},
	} {
		for status, n := range seen[what] {
			if !slices.Contains(allowed, status) {
				t.Errorf("%s: %d times status %d", what, n, status)
			}
		}
		t.Logf("%s, by status: %v", what, seen[what])
	}
	t.Logf("%d reads of the client who behaves; %d MB resident", reads, resident(s.cmd.Process.Pid))
	for n, conn := range held { // the server hangs up on all of them, or they are answered
		if n%3 == 2 {
			conn.Close()
			continue
		}
		if _, err := io.Copy(io.Discard, conn); err != nil && !errors.Is(err, syscall.ECONNRESET) {
			t.Errorf("connection %d: %v", n, err)
		}
	}
	for _, id := range identified(t, good, "/jobs?limit=500&state=waiting") {
		if _, err := good.ask("POST", "/jobs/"+id+"/cancel", "", ""); err != nil { // one that is done meanwhile is over
			t.Error(err)
		}
	}
	end()
	for _, stream := range open {
		stream.Close()
	}
	for _, g := range guests {
		g.client.CloseIdleConnections()
	}
	for gauge(t, s.url, "go_goroutines") > idle+10 {
		time.Sleep(50 * time.Millisecond)
	}
	s.end(t)
}

// noughts gives noughts for ever.
type noughts struct{}

func (noughts) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = '0'
	}
	return len(b), nil
}

// bombed is a workbook whose sheet unpacks to 300 MB.
func bombed(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range []string{"[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(name, "sheet1.xml") {
			if _, err := io.Copy(w, io.LimitReader(noughts{}, 300<<20)); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
