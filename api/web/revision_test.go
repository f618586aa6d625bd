package web_test

import (
	"context"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
)

var cellOf = regexp.MustCompile(`(?s)<td[^>]*>(.*?)</td>`)

// What a revision changed is told in words: lists within lists, ranges of days, what is
// so and what is not.
func TestRevision_Words(t *testing.T) {
	s := demoSite(t)
	ctx := context.Background()
	for key, text := range map[string]string{
		"visits/H1003-F":  `{"id":"H1003-F","truck":"H1003","kind":"final_inspection","heads":3,"halves":4,"windows":[{"from":"2027-02-25","through":"2027-03-19"},{"from":"2027-04-12","through":"2027-04-16"}],"blackouts":[{"from":"2027-03-10","through":"2027-03-11","reason":"Parade {annual}"}],"weekdays":["tue"],"travel_days":1,"wishes":["pump","drive"],"booking":{"state":"confirmed","day":"2027-03-02","travel_bought":true}}`,
		"bays/floor-1":    `{"id":"floor-1","name":"Floor position 1","kinds":["floor"],"max_length_ft":47,"closures":[{"from":"2027-05-03","through":"2027-05-04","reason":"Painting"}]}`,
		"calendars/plant": `{"id":"plant","pattern":"5x8","holidays":[{"set":"us-federal","drop":["columbus-day"]}]}`,
	} {
		if _, err := s.app.Put(ctx, manager, api.Intent{}, key, []byte(text)); err != nil {
			t.Fatalf("%s: %v", key, err)
		}
	}
	var all strings.Builder
	for n := int64(2); n <= s.revision(); n++ {
		code, page := s.get("/revisions/" + itoa(n))
		if code != http.StatusOK {
			t.Fatal(code)
		}
		for _, c := range cellOf.FindAllStringSubmatch(page, -1) {
			text := html.UnescapeString(c[1])
			all.WriteString(text + "\n")
			if strings.ContainsAny(strings.ReplaceAll(text, "Parade {annual}", ""), `{}[]"`) || strings.Contains(text, "_") {
				t.Errorf("revision %d says %q", n, text)
			}
		}
	}
	for _, says := range []string{"Mon Apr 12 to Fri Apr 16", "set us-federal, drop (columbus-day)", "Wed Mar 10 to Thu Mar 11, reason Parade {annual}", "reason Painting"} {
		if !strings.Contains(all.String(), says) {
			t.Errorf("nothing says %q:\n%s", says, all.String())
		}
	}
}
