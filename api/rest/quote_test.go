package rest_test

import (
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
