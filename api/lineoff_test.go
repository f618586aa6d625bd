package api_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"wetdown/api"
)

// TestTrimmed cuts long texts between characters: no database takes half of one.
func TestTrimmed(t *testing.T) {
	for n := range 4 {
		long := strings.Repeat("x", 497+n) + strings.Repeat("é", 9)
		got := api.Trimmed(long)
		if body, cut := strings.CutSuffix(got, "…"); !utf8.ValidString(got) || !cut || !strings.HasPrefix(long, body) || len(body) > 500 || len(body) < 499 {
			t.Errorf("%d: %q", n, got[490:])
		}
	}
	if got := api.Trimmed("It is late.  "); got != "It is late." {
		t.Errorf("%q", got)
	}
}
