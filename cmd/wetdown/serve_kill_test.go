package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime/pprof"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/api/store/pgtest"
	"wetdown/solver/plant"
)

var kills = flag.Int("kills", 25, "how often TestServe_Killed kills the service")

// What tests tell the program that they run as a process of its own.
const (
	backEnv    = "WETDOWN_TEST_BACK"    // how far its clock is behind ours
	profileEnv = "WETDOWN_TEST_PROFILE" // folder into which it writes what it spent time and memory on
)

// generatedDay is the day before that of which generated plants speak: a clock that begins
// here makes their bookings days to come, whenever tests are run.
var generatedDay = time.Date(2027, 2, 26, 12, 0, 0, 0, time.UTC)

// earlier is the program with another clock.
func earlier() {
	back, err := time.ParseDuration(os.Getenv(backEnv))
	if err != nil {
		panic(err)
	}
	end := func() {}
	if dir := os.Getenv(profileEnv); dir != "" {
		end = profiled(dir)
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, func() time.Time { return time.Now().Add(-back) })
	end()
	os.Exit(code)
}

// profiled writes profiles of the program into a folder: of its time until the function
// that comes back is called, and of its memory then.
func profiled(dir string) (end func()) {
	cpu, err := os.Create(filepath.Join(dir, "cpu.pprof"))
	if err != nil {
		panic(err)
	}
	if err := pprof.StartCPUProfile(cpu); err != nil {
		panic(err)
	}
	return func() {
		pprof.StopCPUProfile()
		heap, err := os.Create(filepath.Join(dir, "heap.pprof"))
		if err == nil {
			err = errors.Join(pprof.WriteHeapProfile(heap), heap.Close(), cpu.Close())
		}
		if err != nil {
			panic(err)
		}
	}
}

// A served is the program as it serves, in a process of its own.
type served struct {
	cmd      *exec.Cmd
	url      string
	password string        // of admin, if it was shown
	over     chan struct{} // closed when it says nothing more
	faults   bytes.Buffer  // what it logged as an error; to be read when it is over
}

// begun says when the clocks of programs in these tests began.
var begun = time.Now()

// launch starts the program, and returns when it listens, or has ended.
func launch(t *testing.T, args ...string) *served {
	t.Helper()
	s := start(t, args...)
	<-s.listens
	if s.url == "" {
		<-s.over
		t.Fatalf("the program did not listen: %v\n%s", s.cmd.Wait(), s.faults.String())
	}
	return s.served
}

type starting struct {
	*served
	listens chan struct{} // closed when it listens or has ended
}

// start starts the program.
func start(t *testing.T, args ...string) starting {
	t.Helper()
	s := &served{cmd: exec.Command("wetdown-earlier", append([]string{"serve", "--listen", "127.0.0.1:0"}, args...)...), over: make(chan struct{})}
	s.cmd.Env = append(os.Environ(), backEnv+"="+begun.Sub(generatedDay).String())
	said, err := s.cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.cmd.Process.Kill() }) // it may have ended
	listens := make(chan struct{})
	go func() {
		defer close(s.over)
		listened := sync.OnceFunc(func() { close(listens) })
		defer listened()
		for lines := bufio.NewScanner(said); lines.Scan(); {
			line := lines.Text()
			if _, after, ok := strings.Cut(line, "log in as admin with "); ok {
				s.password, _, _ = strings.Cut(after, " ")
			}
			if _, after, ok := strings.Cut(line, "wetdown: listening on "); ok {
				s.url = after
				listened()
			}
			if strings.Contains(line, "level=ERROR") || strings.HasPrefix(line, "wetdown: the service ended") || strings.Contains(line, "internal fault") {
				fmt.Fprintln(&s.faults, line)
			}
		}
	}()
	return starting{s, listens}
}

// kill ends the program at once, whatever it does.
func (s *served) kill(t *testing.T) {
	t.Helper()
	if err := s.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	<-s.over
	s.cmd.Wait() // says that it was killed
}

// end asks the program to end, which it must do well.
func (s *served) end(t *testing.T) {
	t.Helper()
	if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	<-s.over
	if err := s.cmd.Wait(); err != nil || s.faults.Len() > 0 {
		t.Errorf("the service ended: %v\n%s", err, s.faults.String())
	}
}

// planFor is a file with a generated plant and its plan.
func planFor(t *testing.T, trucks, load, seed string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "plant.yaml")
	wetdown(t, "generate", "--trucks", trucks, "--load", load, "--seed", seed, "-o", file)
	wetdown(t, "plan", file, "-o", file)
	return file
}

// A guest asks the service as a program with a token.
type guest struct {
	url    string
	token  string
	from   string // address that a proxy names; "": none
	client *http.Client
	dice   *rand.Rand
}

// invite makes tokens for programs that may do all.
func invite(t *testing.T, url, password string, names ...string) (guests []*guest) {
	t.Helper()
	admin := visit(t, url, "admin", password)
	for n, name := range names {
		var made struct{ Token string }
		text := admin.ask("POST", "/tokens", fmt.Sprintf(`{"name": %q, "acts": ["read", "quote", "book", "report", "decide", "set_up"], "until": %q}`, name, generatedDay.AddDate(0, 0, 2).Format(time.RFC3339)), http.StatusCreated)
		decode(t, text, &made)
		guests = append(guests, &guest{url: url, token: made.Token, client: &http.Client{Transport: &http.Transport{}}, dice: rand.New(rand.NewPCG(uint64(n), 1))})
	}
	return guests
}

// A reply is what the service answered; status 0: nothing.
type reply struct {
	status int
	body   []byte
}

// ask sends one request.
func (g *guest) ask(method, path, key, body string) (reply, error) {
	r, err := http.NewRequest(method, g.url+path, strings.NewReader(body))
	if err != nil {
		return reply{}, err
	}
	r.Header.Set("Authorization", "Bearer "+g.token)
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if key != "" {
		r.Header.Set("Idempotency-Key", key)
	}
	if g.from != "" {
		r.Header.Set("X-Forwarded-For", g.from)
	}
	a, err := g.client.Do(r)
	if err != nil {
		return reply{}, err
	}
	defer a.Body.Close()
	data, err := io.ReadAll(a.Body)
	if err != nil {
		return reply{}, err
	}
	return reply{a.StatusCode, data}, nil
}

// get reads JSON, which must be there.
func (g *guest) get(t *testing.T, path string, to any) {
	t.Helper()
	r, err := g.ask("GET", path, "", "")
	if err != nil || r.status != 200 {
		t.Fatalf("GET %s: %v, %d %.500s", path, err, r.status, r.body)
	}
	decode(t, string(r.body), to)
}

// A booked is a booking as the service tells it.
type booked struct {
	Visit    string
	State    string
	Day      string
	Planned  string `json:"planned_day"`
	Revision int64
}

// A deed is a change or a question that a guest asks for.
type deed struct {
	key, method, path, body string

	visit string // whose booking it orders, "" for none
	want  booked
	job   bool // it is answered with a job
}

// A diary is what a guest has done and was told.
type diary struct {
	*guest
	n       int // deeds so far
	visits  []string
	alone   bool // nobody else does anything
	bays    []string
	trucks  []string
	stands  map[string]booked // bookings as they were answered last
	done    map[string]bool   // keys of deeds that were answered with success and make a revision
	undone  map[string]bool   // of those that were refused
	jobs    map[string]bool   // that were taken
	ready   []string          // proposals that may be accepted
	slips   []string          // reported and not withdrawn
	pending *deed             // sent and not answered
	refused map[string]int    // how often, by title
	counts  map[string]int    // what was done how often
}

// next thinks of a deed; nil: of none this time.
func (d *diary) next() (*deed, error) {
	d.n++
	key := fmt.Sprintf("%s-%d", d.token[len(d.token)-6:], d.n)
	why := "?why=" + key
	switch roll := d.dice.IntN(20); {
	case d.alone && len(d.ready) > 0: // nobody makes the plant move on
		id := d.ready[len(d.ready)-1]
		for {
			var job struct{ State string }
			if a, err := d.ask("GET", "/jobs/"+id, "", ""); err != nil || json.Unmarshal(a.body, &job) != nil {
				return nil, err
			}
			if job.State != api.JobWaiting && job.State != api.JobRunning {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		d.ready = nil
		return &deed{key: key, method: "POST", path: "/proposals/" + id + "/accept" + why}, nil
	case d.alone && roll < 10:
		return &deed{key: key, method: "POST", path: "/proposals", body: `{}`, job: true}, nil
	case roll < 12 && len(d.visits) > 0:
		visit := d.visits[d.dice.IntN(len(d.visits))]
		a, err := d.ask("GET", "/visits/"+visit+"/booking", "", "")
		if err != nil {
			return nil, err
		}
		var now booked
		if a.status == http.StatusTooManyRequests {
			return nil, nil
		}
		if err := json.Unmarshal(a.body, &now); err != nil || a.status != 200 {
			return nil, fmt.Errorf("booking of %s: %d %s", visit, a.status, a.body)
		}
		want := booked{Visit: visit}
		next := api.Following(now.State)
		want.State = next[d.dice.IntN(len(next))]
		switch want.State {
		case "confirmed", "tentative":
			want.Day = now.Planned
			if now.Day != "" {
				want.Day = now.Day
			}
			if at, err := time.Parse(time.DateOnly, want.Day); err == nil && d.dice.IntN(3) == 0 {
				want.Day = at.AddDate(0, 0, d.dice.IntN(15)-7).Format(time.DateOnly)
			}
			if want.Day == "" {
				return nil, nil
			}
		case "cancelled":
			want.Day = now.Day
		case plant.Held, plant.NoShow: // they are still to come
			return nil, nil
		}
		if want.State == now.State && want.Day == now.Day {
			return nil, nil
		}
		body := fmt.Sprintf(`{"state": %q}`, want.State)
		if want.State == "confirmed" || want.State == "tentative" {
			body = fmt.Sprintf(`{"state": %q, "day": %q}`, want.State, want.Day)
		}
		return &deed{key: key, method: "PUT", path: "/visits/" + visit + "/booking" + why, body: body, visit: visit, want: want}, nil
	case roll < 14:
		day := generatedDay.AddDate(0, 0, 5+d.dice.IntN(60)).Format(time.DateOnly)
		return &deed{key: key, method: "POST", path: "/slips" + why, body: fmt.Sprintf(`{"kind": "bay_down", "bay": %q, "over": {"from": %q, "through": %q}}`, d.bays[d.dice.IntN(len(d.bays))], day, day)}, nil
	case roll < 16 && len(d.slips) > 0:
		slip := d.slips[0]
		d.slips = d.slips[1:]
		return &deed{key: key, method: "DELETE", path: "/slips/" + slip + why}, nil
	case roll < 18:
		return &deed{key: key, method: "POST", path: "/proposals", body: `{}`, job: true}, nil
	case roll < 19:
		return &deed{key: key, method: "POST", path: "/offers", body: fmt.Sprintf(`{"truck": %q}`, d.trucks[d.dice.IntN(len(d.trucks))]), job: true}, nil
	case len(d.ready) > 0:
		id := d.ready[len(d.ready)-1]
		d.ready = nil
		return &deed{key: key, method: "POST", path: "/proposals/" + id + "/accept" + why}, nil
	}
	return nil, nil
}

// do sends a deed and notes what came of it. Without an answer it is pending.
func (d *diary) do(x *deed) error {
	d.pending = x
	a, err := d.ask(x.method, x.path, x.key, x.body)
	if err != nil {
		return err
	}
	d.pending = nil
	var said struct {
		ID    string
		Title string
		Made  string
	}
	if len(a.body) > 0 {
		if err := json.Unmarshal(a.body, &said); err != nil {
			return fmt.Errorf("%s %s: %d %s", x.method, x.path, a.status, a.body)
		}
	}
	success := a.status < 300
	switch {
	case success:
	case a.status == http.StatusConflict && said.Made != "": // it was done, and the program died before it answered
		success, said.ID = true, strings.TrimPrefix(said.Made, "jobs/")
		if x.path == "/slips?why="+x.key {
			said.ID = ""
		}
		d.counts["done already"]++
	case a.status == http.StatusConflict, a.status == http.StatusUnprocessableEntity, a.status == http.StatusNotFound, a.status == http.StatusServiceUnavailable, a.status == http.StatusTooManyRequests:
		d.refused[said.Title]++
	default:
		return fmt.Errorf("%s %s: %d %s", x.method, x.path, a.status, a.body)
	}
	if !success {
		if !x.job {
			d.undone[x.key] = true
		}
		return nil
	}
	what, _, _ := strings.Cut(strings.TrimPrefix(x.path, "/"), "/")
	what, _, _ = strings.Cut(what, "?")
	if strings.Contains(x.path, "/accept?") {
		what = "accepted"
	}
	d.counts[x.method+" "+what]++
	switch {
	case x.job:
		d.jobs[said.ID] = true
		if x.path == "/proposals" {
			d.ready = append(d.ready, said.ID)
		}
	default:
		d.done[x.key] = true
		if x.visit != "" {
			d.stands[x.visit] = x.want
		}
		if x.method == "POST" && strings.HasPrefix(x.path, "/slips?") && said.ID != "" {
			d.slips = append(d.slips, said.ID)
		}
	}
	return nil
}

// TestServe_Killed has the service killed again and again, at moments that a seed chooses,
// while programs book, move, cancel, report, ask and accept. After each start all that was
// answered is there, nothing is half-made, what was sent and not answered is sent again
// and done once, and every question comes to its end.
func TestServe_Killed(t *testing.T) {
	rounds := *kills
	if testing.Short() {
		rounds = min(rounds, 3)
	}
	const seed = 20270301
	dice := rand.New(rand.NewPCG(seed, seed))
	db := filepath.Join(t.TempDir(), "plant.db")
	s := launch(t, "--db", db, "--plant", planFor(t, "12", "0.7", "3"))
	names := []string{"desk-1", "desk-2", "desk-3", "desk-4", "desk-5"}
	var diaries []*diary
	for _, g := range invite(t, s.url, s.password, append(names, "auditor")...) {
		diaries = append(diaries, &diary{
			guest: g, stands: map[string]booked{}, done: map[string]bool{}, undone: map[string]bool{}, jobs: map[string]bool{},
			refused: map[string]int{}, counts: map[string]int{},
		})
	}
	auditor := diaries[len(names)].guest
	diaries = diaries[:len(names)]
	visits := identified(t, auditor, "/visits?state=requested&limit=500")
	visits = append(visits, identified(t, auditor, "/visits?state=tentative&limit=500")...)
	visits = append(visits, identified(t, auditor, "/visits?state=confirmed&limit=500")...)
	trucks, bays := identified(t, auditor, "/trucks?limit=500"), identified(t, auditor, "/bays?limit=500")
	for n, visit := range visits {
		diaries[n%len(diaries)].visits = append(diaries[n%len(diaries)].visits, visit)
	}
	for _, d := range diaries {
		d.trucks, d.bays = trucks, bays
	}
	book := &ledger{reasons: map[string]int{}}
	early := 0
	for round := range rounds {
		var over sync.WaitGroup
		faults := make([]error, len(diaries))
		calm := round%3 == 2
		for n, d := range diaries {
			if d.alone = calm && n == round%len(diaries); calm && !d.alone {
				continue
			}
			over.Go(func() {
				for {
					x, err := d.next()
					if err == nil && x != nil {
						err = d.do(x)
					}
					var gone *url.Error
					if errors.As(err, &gone) || errors.Is(err, io.ErrUnexpectedEOF) {
						return // killed
					}
					if err != nil {
						faults[n] = err
						return
					}
				}
			})
		}
		time.Sleep(time.Duration(10+dice.IntN(500)) * time.Millisecond)
		s.kill(t)
		over.Wait()
		if err := errors.Join(append(faults, sound(db))...); err != nil || s.faults.Len() > 0 {
			t.Fatalf("round %d: %v\n%s", round, err, s.faults.String())
		}
		if dice.IntN(4) == 0 { // killed while it starts, too: a question that was begun at three deaths is given up
			again := start(t, "--db", db)
			time.Sleep(time.Duration(dice.IntN(200)) * time.Millisecond)
			again.kill(t)
			early++
		}
		s = launch(t, "--db", db)
		for _, d := range diaries {
			d.url = s.url
			d.client.CloseIdleConnections()
			if x := d.pending; x != nil {
				d.counts["sent again"]++
				if err := d.do(x); err != nil {
					t.Fatalf("round %d: sent again: %v", round, err)
				}
			}
		}
		auditor.url = s.url
		auditor.client.CloseIdleConnections()
		book.audit(t, auditor, diaries)
		if t.Failed() {
			t.Fatalf("after round %d", round)
		}
	}
	s.end(t)
	book.replay(t, db)
	counts, refused := map[string]int{}, map[string]int{}
	for _, d := range diaries {
		for what, n := range d.counts {
			counts[what] += n
		}
		for what, n := range d.refused {
			refused[what] += n
		}
	}
	t.Logf("killed %d times while it served and %d times while it started; %d revisions; done %v; refused %v", rounds, early, book.head, counts, refused)
	if refused["The request is being carried out"] > 0 {
		t.Error("what a dead program had begun could not be sent again")
	}
	if counts["PUT visits"] == 0 || counts["POST proposals"] == 0 || counts["POST slips"] == 0 || rounds > 20 && counts["POST accepted"] == 0 {
		t.Error("too little was done for this test to mean anything")
	}
}

// identified lists the ids in a list.
func identified(t *testing.T, g *guest, path string) (ids []string) {
	t.Helper()
	var list struct{ Items []struct{ ID string } }
	g.get(t, path, &list)
	for _, x := range list.Items {
		ids = append(ids, x.ID)
	}
	return ids
}

// sound has the database looked at while nobody serves.
func sound(db string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, db)
	if err != nil {
		return err
	}
	return errors.Join(s.Check(ctx), s.Close())
}

// A ledger is what the log of revisions says.
type ledger struct {
	head    int64
	reasons map[string]int // how many revisions bear a reason
}

// audit compares what programs were told with what is there.
func (b *ledger) audit(t *testing.T, g *guest, diaries []*diary) {
	t.Helper()
	type revision struct {
		Number    int64
		Why, What string
	}
	var fresh []revision
	for before := int64(0); ; {
		var list struct{ Items []revision }
		g.get(t, fmt.Sprintf("/revisions?limit=500&before=%d", before), &list)
		for _, r := range list.Items {
			if r.Number > b.head {
				fresh = append(fresh, r)
			}
		}
		if n := len(list.Items); n == 0 || list.Items[n-1].Number <= b.head+1 {
			break
		}
		before = list.Items[len(list.Items)-1].Number
	}
	slices.Reverse(fresh)
	for _, r := range fresh {
		if b.head++; r.Number != b.head {
			t.Errorf("revision %d where %d is due", r.Number, b.head)
		}
		b.reasons[r.Why]++
	}
	jobs := 0
	for _, d := range diaries {
		for _, key := range sortedNames(d.done) {
			if b.reasons[key] != 1 {
				t.Errorf("%s was answered with success, and %d revisions are of it", key, b.reasons[key])
			}
		}
		for _, key := range sortedNames(d.undone) {
			if b.reasons[key] != 0 {
				t.Errorf("%s was refused, and %d revisions are of it", key, b.reasons[key])
			}
		}
		for _, visit := range d.visits {
			want, ordered := d.stands[visit]
			var got booked
			g.get(t, "/visits/"+visit+"/booking", &got)
			if ordered && (got.State != want.State || got.Day != want.Day) {
				t.Errorf("visit %s is %s on %s, and was answered to be %s on %s", visit, got.State, got.Day, want.State, want.Day)
			}
		}
		jobs += len(d.jobs)
	}
	for _, state := range []string{"waiting", "running"} { // in the order in which a job is
		for len(identified(t, g, "/jobs?limit=1&state="+state)) > 0 {
			time.Sleep(100 * time.Millisecond) // no more often than one client may ask for good
		}
	}
	kept := 0
	for after := int64(0); ; {
		r, err := g.ask("GET", fmt.Sprintf("/jobs?limit=500&after=%d", after), "", "")
		if err != nil {
			t.Fatal(err)
		}
		var list struct {
			Items []struct {
				ID, State string
				Problem   struct {
					Status int
					Detail string
				}
			}
		}
		decode(t, string(r.body), &list)
		for _, j := range list.Items {
			kept++ // a visit that was cancelled meanwhile is an honest reason to answer no question about it
			if j.State != "done" && (j.State != "failed" || j.Problem.Status != http.StatusConflict) {
				t.Errorf("job %s is %s: %+v", j.ID, j.State, j.Problem)
			}
			if !slices.ContainsFunc(diaries, func(d *diary) bool { return d.jobs[j.ID] }) {
				t.Errorf("nobody knows of job %s", j.ID)
			}
		}
		if len(list.Items) < 500 {
			break
		}
		after = cursor(t, g, fmt.Sprintf("/jobs?limit=500&after=%d", after))
	}
	if kept != jobs {
		t.Errorf("%d jobs, and %d were asked for", kept, jobs)
	}
	var plan struct {
		Check struct {
			Right  bool
			Broken json.RawMessage
		}
	}
	if g.get(t, "/plan", &plan); !plan.Check.Right {
		t.Errorf("the plan breaks rules: %.1000s", plan.Check.Broken)
		for _, r := range fresh {
			t.Logf("revision %d: %s", r.Number, r.What)
		}
	}
}

// cursor is where a list goes on.
func cursor(t *testing.T, g *guest, path string) int64 {
	t.Helper()
	r, err := http.NewRequest("GET", g.url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+g.token)
	a, err := g.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	_, after, _ := strings.Cut(a.Header.Get("Link"), "after=")
	digits, _, _ := strings.Cut(strings.NewReplacer(">", "&", `"`, "&").Replace(after), "&")
	n, err := strconv.ParseInt(digits, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// replay has the judge look at the plan of some revisions from the first to the last.
func (b *ledger) replay(t *testing.T, db string) {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	app := api.New(s, api.Options{Clock: time.Now})
	for n := int64(1); n <= b.head; n += max(1, b.head/200) {
		state, err := app.State(ctx, api.Service, n)
		if err != nil {
			t.Fatal(err)
		}
		if fit := state.Fit(); fit == nil || len(fit.Broken) > 0 {
			t.Errorf("revision %d, %s Its plan: %+v", n, state.Revision.What, fit)
		}
	}
	if err := errors.Join(app.Close(), s.Close()); err != nil {
		t.Error(err)
	}
}

func sortedNames(m map[string]bool) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// listen hears of revisions as the service tells them, until end is called.
func (g *guest) listen(t *testing.T) (numbers <-chan int64, end func()) {
	t.Helper()
	r, err := http.NewRequest("GET", g.url+"/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+g.token)
	a, err := g.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if a.StatusCode != 200 {
		t.Fatalf("events: status %d", a.StatusCode)
	}
	out := make(chan int64, 1000)
	go func() {
		defer close(out)
		for lines := bufio.NewScanner(a.Body); lines.Scan(); {
			if text, ok := strings.CutPrefix(lines.Text(), "id: "); ok {
				n, err := strconv.ParseInt(text, 10, 64)
				if err != nil {
					return
				}
				out <- n
			}
		}
	}()
	return out, func() { a.Body.Close() }
}

// at is the guest as it asks another replica.
func (g *guest) at(s *served) *guest {
	other := *g
	other.url = s.url
	return &other
}

// TestServe_Replicas runs the program twice on one PostgreSQL database. Both take bookings of
// the same plant, each tells of what the other was asked, a request that was sent to one is
// not done again by the other, and when one is killed while both answer questions, the other
// answers them all.
func TestServe_Replicas(t *testing.T) {
	if testing.Short() {
		t.Skip("waits until a dead replica is taken for dead, 30 s")
	}
	db := pgtest.URL(t)
	first := launch(t, "--db", db, "--plant", planFor(t, "200", "0.95", "1"))
	second := launch(t, "--db", db)
	g := invite(t, first.url, first.password, "desk", "listener")
	desks := []*guest{g[0].at(first), g[0].at(second)}
	heard, end := g[1].at(second).listen(t)
	defer end()

	// Bookings through both at the same moment: none is lost.
	visits := identified(t, desks[0], "/visits?state=requested&limit=500")
	if len(visits) < 20 {
		t.Fatalf("%d visits are requested", len(visits))
	}
	faults := make([]error, len(desks))
	var over sync.WaitGroup
	for n, d := range desks {
		over.Go(func() {
			for i := n; i < 20 && faults[n] == nil; i += 2 {
				faults[n] = hold(d, visits[i])
			}
		})
	}
	over.Wait()
	if err := errors.Join(faults...); err != nil {
		t.Fatal(err)
	}
	for n, d := range desks {
		for _, visit := range visits[:20] {
			var b booked
			if d.get(t, "/visits/"+visit+"/booking", &b); b.State != "tentative" {
				t.Errorf("replica %d: visit %s is %s", n+1, visit, b.State)
			}
		}
	}
	for want := int64(2); want <= 21; want++ {
		if got := <-heard; got != want {
			t.Fatalf("the second replica tells of revision %d, want %d", got, want)
		}
	}

	// The same request through both is done once.
	slip := fmt.Sprintf(`{"kind": "bay_down", "bay": %q, "over": {"from": "2027-04-05", "through": "2027-04-05"}}`, identified(t, desks[0], "/bays")[0])
	one, err := desks[0].ask("POST", "/slips", "once", slip)
	if err != nil || one.status != http.StatusCreated {
		t.Fatalf("%v, %d %s", err, one.status, one.body)
	}
	two, err := desks[1].ask("POST", "/slips", "once", slip)
	if err != nil || !bytes.Equal(one.body, two.body) || len(identified(t, desks[1], "/slips")) != 1 {
		t.Errorf("%v: sent to the one %s, to the other %s", err, one.body, two.body)
	}
	<-heard

	// Two questions, one for each, and one of the two replicas dies.
	var jobs []string
	for _, d := range desks {
		var job struct{ ID string }
		a, err := d.ask("POST", "/proposals", "", `{}`)
		if err != nil || a.status != http.StatusAccepted {
			t.Fatalf("%v, %d %s", err, a.status, a.body)
		}
		decode(t, string(a.body), &job)
		jobs = append(jobs, job.ID)
	}
	for len(identified(t, desks[1], "/jobs?state=running")) < 2 {
		time.Sleep(50 * time.Millisecond)
		if len(identified(t, desks[1], "/jobs?state=done")) > 0 {
			t.Fatal("a question was answered before both were begun: they are too easy for this test")
		}
	}
	first.kill(t)
	if n := len(identified(t, desks[1], "/jobs?state=running")); n != 2 {
		t.Fatalf("%d questions were under way when the replica died", n)
	}
	for n, visit := range visits[20:22] { // the other goes on
		if err := hold(desks[1], visit); err != nil {
			t.Fatal(err)
		}
		if got := <-heard; got != int64(23+n) {
			t.Errorf("revision %d, want %d", got, 23+n)
		}
	}
	for _, id := range jobs {
		var job struct {
			State  string
			Answer struct{ Status string }
		}
		for job.State != "done" {
			time.Sleep(50 * time.Millisecond)
			if desks[1].get(t, "/jobs/"+id, &job); job.State == "failed" || job.State == "cancelled" {
				t.Fatalf("job %s is %s", id, job.State)
			}
		}
		if job.Answer.Status != "optimal" {
			t.Errorf("job %s: the plan is %s", id, job.Answer.Status)
		}
	}
	if got := identified(t, desks[1], "/proposals"); len(got) != 2 {
		t.Errorf("there are %d proposals, want one for each question", len(got))
	}
	var plan struct{ Check struct{ Right bool } }
	if desks[1].get(t, "/plan", &plan); !plan.Check.Right {
		t.Error("the plan breaks a rule")
	}
	end()
	second.end(t)
	if err := sound(db); err != nil {
		t.Error(err)
	}
}

// hold holds the day that the plan has for a visit.
func hold(g *guest, visit string) error {
	var b booked
	a, err := g.ask("GET", "/visits/"+visit+"/booking", "", "")
	if err == nil {
		err = json.Unmarshal(a.body, &b)
	}
	if err != nil {
		return fmt.Errorf("the booking of %s: %w", visit, err)
	}
	a, err = g.ask("PUT", "/visits/"+visit+"/booking", "", fmt.Sprintf(`{"state": "tentative", "day": %q}`, b.Planned))
	if err == nil && a.status != 200 {
		err = fmt.Errorf("visit %s on %s: %d %s", visit, b.Planned, a.status, a.body)
	}
	return err
}
