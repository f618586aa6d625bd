package web_test

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// A feed is made for a bay, a crew or a department. Its address is shown once, holds what
// the page says, and opens nothing when it is revoked, which is asked about before.
func TestFeeds(t *testing.T) {
	s := demoSite(t)
	ctx := context.Background()
	if _, page := s.get("/setup/feeds"); !strings.Contains(page, "Nobody subscribes") || !strings.Contains(page, `<optgroup label="Departments">`) {
		t.Error("there is nothing to choose")
	}
	customer := s.state().FindTruck("H1018").Customer
	for of, holds := range map[string]string{"bays/floor-1": "H10", "crews/hosts": "H10", "customers/" + customer: "H1018"} {
		code, page := s.post("/setup/feeds", url.Values{"of": {of}})
		m := regexp.MustCompile(`value="https://plant\.example/subscribe/(wf_[^"]+)"`).FindStringSubmatch(page)
		if code != http.StatusOK || m == nil {
			t.Fatalf("%s: %d without an address", of, code)
		}
		text, _, err := s.app.ReadFeed(ctx, m[1])
		if err != nil || !strings.Contains(string(text), "BEGIN:VCALENDAR") || !strings.Contains(string(text), holds) {
			t.Errorf("%s: %v %.200s", of, err, text)
		}
		_, page = s.get("/setup/feeds")
		if strings.Contains(page, "wf_") {
			t.Errorf("%s: the address is shown again", of)
		}
		at := regexp.MustCompile(`action="(/setup/feeds/[^"]+)"`).FindStringSubmatch(page)
		if code, page := s.post(at[1], url.Values{"do": {"revoke"}}); code != http.StatusOK || !strings.Contains(page, "opens nothing any more") || !strings.Contains(page, `href="/setup/feeds"`) {
			t.Errorf("%s: revoking does not say what it would do: %d", of, code)
		}
		if _, _, err := s.app.ReadFeed(ctx, m[1]); err != nil {
			t.Errorf("%s: revoked by being asked about", of)
		}
		if code, to := s.post(at[1], url.Values{"do": {"revoke-sure"}}); code != http.StatusSeeOther || to != "/setup/feeds" {
			t.Errorf("%s: %d %s", of, code, to)
		}
		if _, _, err := s.app.ReadFeed(ctx, m[1]); err == nil {
			t.Errorf("%s: a revoked feed is still read", of)
		}
		if code, _ := s.post(at[1], url.Values{"do": {"revoke"}}); code != http.StatusNotFound {
			t.Errorf("%s: revoked twice: %d", of, code)
		}
	}
	for _, of := range []string{"", "bays/none", "trucks/H1018"} {
		if code, page := s.post("/setup/feeds", url.Values{"of": {of}}); code == http.StatusOK || !strings.Contains(page, `role="alert"`) || strings.Contains(page, "wf_") {
			t.Errorf("%q: %d", of, code)
		}
	}
}
