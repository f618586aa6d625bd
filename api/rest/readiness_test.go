package rest_test

import (
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestReadiness reads the chances of a small plant, sees that they are those of an older
// revision after a change, waits for the newer, and reads one visit day by day.
func TestReadiness(t *testing.T) {
	h := settled(t, rest.Options{})
	reader, coordinator := h.as(api.RoleReader), h.as(api.RoleCoordinator)
	first := reader.get("/readiness").want(200)
	if first.value("current") != true || first.number("plant_revision") != 1 || first.number("runs") != 2000 || first.number("seed") != 1 || first.count("visits") == 0 || first.count("deliveries") == 0 || first.count("assumptions") == 0 {
		t.Fatalf("the chances: %s", first.body)
	}
	known := first.Header.Get("ETag")
	reader.with("If-None-Match", known).get("/readiness").want(304)
	coordinator.post("/slips", slipOn(1)).want(201)
	old := reader.with("If-None-Match", known).get("/readiness").want(200)
	if old.value("current") != false || old.number("plant_revision") != 1 || old.number("newest_revision") != 2 {
		t.Errorf("after a change: %.300s", old.body)
	}
	now := reader.with("Prefer", "wait=20").get("/readiness").want(200)
	if now.value("current") != true || now.number("plant_revision") != 2 || now.Header.Get("ETag") == known {
		t.Errorf("waited for: %.300s", now.body)
	}
	visit := now.text("visits.0.visit")
	c := reader.get("/visits/" + visit + "/chances").want(200)
	if c.text("visit") != visit || c.number("plant_revision") != 2 || c.count("days") == 0 || c.text("days.0.date") == "" {
		t.Errorf("the chances of %s: %.300s", visit, c.body)
	}
	reader.get("/visits/none/chances").refused(404, "not-found")
}

// TestReadiness_NoPlan asks for chances where no plan is in force.
func TestReadiness_NoPlan(t *testing.T) {
	h := opened(t, "", rest.Options{})
	login, password, _, err := h.app.FirstStart(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	admin := h.login(login, password)
	admin.get("/readiness").refused(409, "conflict")
	text := string(plantFile(t))
	at := strings.Index(text, "\nplan:")
	if at < 0 {
		t.Fatal("the plant has no plan: of no use for this test")
	}
	admin.put("/plant", "application/yaml", []byte(text[:at+1])).want(200)
	if got := admin.get("/readiness").refused(409, "conflict"); got.text("title") != "There is no plan in force" {
		t.Errorf("without a plan: %s", got.body)
	}
}
