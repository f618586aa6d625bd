package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"wetdown/api/store/pgtest"
)

// A visitor asks the service over HTTP.
type visitor struct {
	t      *testing.T
	url    string
	client *http.Client
}

func visit(t *testing.T, url, login, password string) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	v := &visitor{t, url, &http.Client{Jar: jar}}
	body, err := json.Marshal(map[string]string{"login": login, "password": password})
	if err != nil {
		t.Fatal(err)
	}
	v.ask("POST", "/login", string(body), 200)
	return v
}

func (v *visitor) ask(method, path, body string, status int) string {
	v.t.Helper()
	r, err := http.NewRequest(method, v.url+path, strings.NewReader(body))
	if err != nil {
		v.t.Fatal(err)
	}
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	a, err := v.client.Do(r)
	if err != nil {
		v.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	if a.StatusCode != status {
		v.t.Fatalf("%s %s: status %d, want %d\n%s", method, path, a.StatusCode, status, text)
	}
	return string(text)
}

// TestServe starts the service on an empty database, ends it, and starts it again: the
// plant is there, the password is shown once and still opens, and a plant file is left
// aside.
func TestServe(t *testing.T) {
	db := filepath.Join(t.TempDir(), "plant.db")
	var password string
	t.Run("first", func(t *testing.T) {
		var url string
		url, password = serving(t, []string{"serve", "--db", db, "--listen", "127.0.0.1:0", "--plant", small, "--mail-from", "Visits <visits@plant.example>"})
		if password == "" {
			t.Fatal("no password is shown")
		}
		v := visit(t, url, "admin", password)
		v.ask("GET", "/readyz", "", 200)
		v.ask("PUT", "/bays/pit-9", `{"id": "pit-9", "kinds": ["pump_test"]}`, 200)
	})
	t.Run("again", func(t *testing.T) {
		t.Setenv("WETDOWN_DB", db)
		t.Setenv("WETDOWN_LISTEN", "127.0.0.1:0")
		url, again := serving(t, []string{"serve", "--plant", small})
		if again != "" {
			t.Error("the password is shown again")
		}
		v := visit(t, url, "admin", password)
		if got := v.ask("GET", "/bays/pit-9", "", 200); !strings.Contains(got, "pit-9") {
			t.Errorf("the bay: %s", got)
		}
	})
}

// TestServe_Postgres serves the same database by two processes: what one of them is asked
// the other knows, and a job asked of one is answered, by whichever it be.
func TestServe_Postgres(t *testing.T) {
	db := pgtest.URL(t)
	args := []string{"serve", "--db", db, "--listen", "127.0.0.1:0"}
	url, password := serving(t, append(args, "--plant", small))
	other, none := serving(t, args)
	if password == "" || none != "" {
		t.Errorf("passwords %q and %q: one is to be shown once", password, none)
	}
	one, two := visit(t, url, "admin", password), visit(t, other, "admin", password)
	one.ask("PUT", "/bays/pit-9", `{"id": "pit-9", "kinds": ["pump_test"]}`, 200)
	two.ask("GET", "/bays/pit-9", "", 200)
	var job struct{ ID, State string }
	decode(t, two.ask("POST", "/proposals", `{}`, 202), &job)
	for end := time.Now().Add(time.Minute); job.State != "done"; time.Sleep(50 * time.Millisecond) {
		if decode(t, one.ask("GET", "/jobs/"+job.ID, "", 200), &job); time.Now().After(end) {
			t.Fatalf("the job is %s", job.State)
		}
	}
	one.ask("POST", "/proposals/"+job.ID+"/accept", "", 200)
	two.ask("POST", "/proposals/"+job.ID+"/accept", "", 409)
}

// TestDemo_Served logs in as everybody that the demo shows, and looks that it leaves
// nothing behind.
func TestDemo_Served(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	ctx, cancel := context.WithCancel(context.Background())
	said, say := io.Pipe()
	ended := make(chan int, 1)
	var faults bytes.Buffer
	go func() {
		ended <- run(ctx, []string{"demo", "--listen", "127.0.0.1:0"}, strings.NewReader(""), say, &faults, time.Now)
		say.Close()
	}()
	buf := make([]byte, 64<<10)
	n, err := io.ReadAtLeast(said, buf, 1)
	if err != nil {
		t.Fatalf("%v\n%s", err, faults.String())
	}
	text := string(buf[:n])
	url := regexp.MustCompile(`http://127\.0\.0\.1:[0-9]+`).FindString(text)
	logins := regexp.MustCompile(`(?m)^(reader|sales|coordinator|manager|administrator) +([a-z0-9]+)$`).FindAllStringSubmatch(text, -1)
	if url == "" || len(logins) != 5 {
		t.Fatalf("the demo says\n%s", text)
	}
	for _, l := range logins {
		v := visit(t, url, l[1], l[2])
		if got := v.ask("GET", "/plan", "", 200); !strings.Contains(got, `"status":"optimal"`) {
			t.Errorf("the plan as %s: %.200s", l[1], got)
		}
		if got := v.ask("GET", "/on-time", "", 200); !strings.Contains(got, `"delivery"`) {
			t.Errorf("what was on time, as %s: %.200s", l[1], got)
		}
	}
	cancel()
	if code := <-ended; code != done {
		t.Errorf("exit code %d\n%s", code, faults.String())
	}
	left, err := os.ReadDir(temp)
	if err != nil || len(left) > 0 {
		t.Errorf("it leaves %v behind, %v", left, err)
	}
}
