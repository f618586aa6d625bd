package rest_test

import (
	"bytes"
	"testing"

	"wetdown/api"
	"wetdown/api/rest"
)

// TestQuote_Heads asks for a quote with a visit of nobody: it is not quoted without one in
// silence.
func TestQuote_Heads(t *testing.T) {
	h := settled(t, rest.Options{})
	sales := h.as(api.RoleSales)
	order := map[string]any{"truck": map[string]any{"customer": "C1", "kind": "pumper", "content": "medium", "length_ft": 31, "height_ft": 10, "flow_gpm": 1250}}
	for _, heads := range []int{0, -1} {
		order["visit"] = map[string]any{"heads": heads, "halves": 2}
		if got := sales.post("/quotes", order).refused(422, "invalid"); got.text("field") != "visit.heads" && got.text("faults.0.field") == "" {
			t.Errorf("%d heads: %s", heads, got.body)
		}
	}
	order["visit"] = map[string]any{"halves": 2}
	sales.post("/quotes", order).refused(422, "invalid")
	order["visit"] = map[string]any{"heads": 1, "halves": 2}
	if got := sales.with("Prefer", "wait=20").post("/quotes", order).want(200); got.text("answer.visit") == "" {
		t.Errorf("a quote with a visit: %s", got.body)
	}
	order["visit"] = nil
	sales.with("Prefer", "wait=20").post("/quotes", order).want(200)
}

// TestQuote_Again reads a quote with its odds, and has it made again when the plant has moved
// on: the same bytes.
func TestQuote_Again(t *testing.T) {
	h := settled(t, rest.Options{})
	sales, manager := h.as(api.RoleSales), h.as(api.RoleManager)
	q := sales.with("Prefer", "wait=20").post("/quotes", wouldBe()).want(200)
	id := q.text("answer.id")
	kept := sales.get("/quotes/" + id).want(200)
	for _, field := range []string{"delivery", "odds.delivery.p50", "odds.delivery.p80", "odds.delivery.p95", "odds.window_from", "odds.window_through", "odds.seed", "odds.runs", "odds.sampled", "plant_revision"} {
		if kept.value(field) == nil {
			t.Errorf("the quote has no %s: %s", field, kept.body)
		}
	}
	if kept.count("odds.assumptions") == 0 || kept.value("without_odds") != nil {
		t.Errorf("the quote: %s", kept.body)
	}
	manager.put("/bays/pit-9?why=bought", "application/json", []byte(`{"id": "pit-9", "kinds": ["pump_test"]}`)).want(200)
	manager.do("POST", "/files/history", "text/csv", pastTable(10)).want(200)
	again := sales.get("/quotes/" + id + "?again").want(200)
	if !bytes.Equal(again.body, kept.body) {
		t.Errorf("made again:\n%s\nwant:\n%s", again.body, kept.body)
	}
	h.as(api.RoleReader).get("/quotes/"+id+"?again").refused(403, "forbidden")
	sales.get("/quotes/none?again").refused(404, "not-found")
}
