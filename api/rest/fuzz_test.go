package rest_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
	"wetdown/api/store"
	"wetdown/solver/plant"
)

// FuzzBodies sends bodies of any sort to whatever takes JSON. Whatever comes, the answer is
// one of those described, a refusal says what to do, nothing is a fault of the program,
// and the plant that is kept stays one that can be read.
func FuzzBodies(f *testing.F) {
	for _, body := range []string{
		`{}`, `null`, `[]`, `7`, `""`, `{"id": "floor-1", "kinds": ["floor"], "max_length_ft": 40}`, `{"kind": "stage_overran", "truck": "A1", "stage": "make_ready", "hours": 4}`,
		`{"state": "confirmed", "day": "2027-06-01"}`, `{"truck": {"customer": "C1", "kind": "pumper", "content": "medium", "length_ft": 30, "height_ft": 10, "flow_gpm": 1500}}`,
		`{"slips": [], "conditions": [{"kind": "keep_visit", "visit": "V1"}], "limit": "1s"}`, `{"as_of": "2027-05-11T06:00", "as_planned": true, "stages": []}`,
		`{"id": "V1", "booking": {"state": "held"}}`, `{"reports": [{"truck": "A1", "day": "2027-06-01"}]}`, `{"login": "x", "name": "\u0000", "role": "reader", "password": "y"}`,
		"{\"a\":\t1}", `{"a": 1e999}`, `{"\u2028": "\ud800"}`, `{"id": "*a", "kinds": &b}`, `{"wetdown": 1}`, `{"hours": -0.00001}`,
	} {
		for n := range 40 {
			f.Add(uint8(n), []byte(body))
		}
	}
	db, err := store.Open(f.Context(), filepath.Join(f.TempDir(), "wetdown.db"))
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { db.Close() })
	app := api.New(db, api.Options{Clock: time.Now}) // without a queue: nobody answers questions
	p, faults := plant.Read("small", plantFile(f))
	if len(faults) > 0 {
		f.Fatal(faults[0])
	}
	if _, err := app.Load(f.Context(), api.Service, api.Intent{}, p); err != nil {
		f.Fatal(err)
	}
	server, err := rest.New(app, rest.Options{Clock: time.Now, Rate: quick})
	if err != nil {
		f.Fatal(err)
	}
	if _, err := app.CreateAccount(f.Context(), api.Service, api.AccountOrder{Login: "kim", Name: "Kim", Role: api.RoleAdministrator, Password: "the long password of kim"}); err != nil {
		f.Fatal(err)
	}
	_, token, err := app.MakeToken(f.Context(), api.Actor{Name: "kim", Acts: api.Acts()}, api.TokenOrder{Name: "fuzz", Acts: api.Acts(), Until: time.Now().Add(24 * time.Hour)})
	if err != nil {
		f.Fatal(err)
	}
	var targets []rest.RouteSeen
	for _, r := range rest.Routes() {
		// Accounts and passwords are hashed, which is slow on purpose.
		if r.Takes > 0 && !strings.HasPrefix(r.Path, "/accounts") && r.Path != "/login" && r.Path != "/password" {
			targets = append(targets, r)
		}
	}
	fill := strings.NewReplacer("{id}", "floor-1", "{number}", "1", "{customer}", "C1")
	f.Fuzz(func(t *testing.T, n uint8, body []byte) {
		r := targets[int(n)%len(targets)]
		path := fill.Replace(r.Path)
		if strings.HasPrefix(path, "/visits") {
			path = strings.Replace(path, "floor-1", "V1", 1)
		}
		q := httptest.NewRequest(r.Method, path, bytes.NewReader(body))
		q.Header.Set("Content-Type", "application/json")
		q.Header.Set("Authorization", "Bearer "+token)
		w := httptest.NewRecorder()
		server.ServeHTTP(w, q)
		a := &answer{Response: w.Result(), t: t, body: w.Body.Bytes(), asked: r.Method + " " + path}
		compare(t, q, body, a, true)
		switch {
		case w.Code >= 500 && w.Code != http.StatusServiceUnavailable:
			t.Fatalf("%s with %q: %d %s", a.asked, body, w.Code, w.Body)
		case w.Code >= 400 && (a.text("title") == "" || a.text("next") == ""):
			t.Errorf("%s with %q does not say what to do: %s", a.asked, body, w.Body)
		case w.Code < 400 && w.Code != 204 && !json.Valid(a.body):
			t.Errorf("%s: %s", a.asked, a.body)
		}
		s, err := app.State(t.Context(), api.Service, 0)
		if err != nil {
			t.Fatalf("%s with %q left a plant that cannot be read: %v", a.asked, body, err)
		}
		if _, faults := plant.Read("", plant.Write(s.Plant)); len(faults) > 0 {
			t.Fatalf("%s with %q left a plant that contradicts itself: %v", a.asked, body, faults[0])
		}
	})
}
