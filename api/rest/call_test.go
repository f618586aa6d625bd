package rest_test

import (
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestCalls goes through a call: the words for it, nobody reached, and what came of it, each
// with who did it.
func TestCalls(t *testing.T) {
	h := settled(t, rest.Options{})
	manager, coordinator, reader := h.as(api.RoleManager), h.as(api.RoleCoordinator), h.as(api.RoleReader)
	job := manager.with("Prefer", "wait=20").post("/proposals", map[string]any{}).want(200)
	manager.post("/proposals/"+job.text("answer.id")+"/accept", nil).want(200)
	list := reader.get("/calls?state=open").want(200)
	if list.count("items") == 0 {
		t.Fatalf("nobody is to be called: %s", list.body)
	}
	at := "/calls/" + list.text("items.0.id")
	truck := list.text("items.0.truck")

	one := reader.get(at).want(200)
	says := one.text("script.says.0")
	if "/calls/"+one.text("call.id") != at || !strings.HasPrefix(says, "This is Skarrelholt Works, about your ") || !strings.Contains(says, truck) || one.count("script.asks") == 0 {
		t.Errorf("the words: %s", one.body)
	}
	if one.value("call.again") != nil || one.count("call.tries") != 0 {
		t.Errorf("it was tried already: %s", one.body)
	}
	reader.get("/calls/none").refused(404, "not-found")

	reader.post(at+"/again", map[string]any{"day": "2027-06-30"}).refused(403, "forbidden")
	for _, body := range []map[string]any{{}, {"day": "2020-01-01"}, {"day": "soon"}, {"day": "2027-06-30", "note": strings.Repeat("x", 1001)}} {
		coordinator.wildly().post(at+"/again", body).refused(422, "invalid")
	}
	tried := coordinator.post(at+"/again", map[string]any{"day": "2027-06-30", "note": "nobody there"}).want(200)
	if tried.text("state") != "open" || tried.text("again") != "2027-06-30" || tried.text("tries.0.who") != "coordinator" || tried.text("tries.0.note") != "nobody there" || tried.text("tries.0.again") != "2027-06-30" || tried.value("tries.0.at") == nil {
		t.Errorf("tried: %s", tried.body)
	}
	done := coordinator.post(at+"/tick", map[string]any{"done": true, "note": "they agree"}).want(200)
	if done.text("state") != "done" || done.text("done_by") != "coordinator" || done.text("note") != "they agree" || done.value("again") != nil || done.count("tries") != 1 {
		t.Errorf("done: %s", done.body)
	}
	coordinator.post(at+"/again", map[string]any{"day": "2027-06-30"}).refused(409, "conflict")
	coordinator.post(at+"/tick", map[string]any{"done": false}).want(200)
	if got := reader.get(at).want(200); got.text("call.state") != "open" || got.text("call.again") != "2027-06-30" {
		t.Errorf("not done after all: %s", got.body)
	}
}
