package rest_test

import (
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/rest"
	"wetdown/api/store"
)

// TestBacktest_Job asks where nobody works on jobs yet: the answer is a job, the same for who
// asks again, and the backtest itself once it is done.
func TestBacktest_Job(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "wetdown.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	app := api.New(db, api.Options{Clock: time.Now})
	t.Cleanup(func() { app.Close() })
	server, err := rest.New(app, rest.Options{Clock: time.Now, Rate: quick})
	if err != nil {
		t.Fatal(err)
	}
	site := httptest.NewServer(server)
	t.Cleanup(site.Close)
	h := &house{t: t, app: app, store: db, url: site.URL}
	h.settle()
	reader := h.as(api.RoleReader)
	job := reader.get("/history/backtest").want(202)
	id := job.text("id")
	if job.Header.Get("Location") != "/jobs/"+id || job.text("state") != "waiting" || job.text("kind") != "backtest" {
		t.Errorf("the job: %s, at %s", job.body, job.Header.Get("Location"))
	}
	if again := reader.get("/history/backtest").want(202); again.text("id") != id {
		t.Errorf("asked again: %s", again.body)
	}
	if err := app.Work(t.Context(), id); err != nil {
		t.Fatal(err)
	}
	if got := reader.get("/history/backtest").want(200); got.number("half_life_days") != 730 || got.number("scored") != 0 || got.text("as_of") != "2027-05-10" {
		t.Errorf("the backtest: %s", got.body)
	}
	admin := h.as(api.RoleAdministrator)
	admin.do("POST", "/files/history", "text/csv", pastTable(9)).want(200)
	other := reader.get("/history/backtest").want(202).text("id")
	admin.post("/jobs/"+other+"/cancel", nil).want(200)
	if anew := reader.get("/history/backtest").want(202).text("id"); anew == other || anew == id {
		t.Errorf("after it was cancelled: job %s again", anew)
	}
}
