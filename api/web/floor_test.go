package web_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// What waits for somebody stands in the order in which time runs out, and says what runs out.
// The days are counted by hand from the demo plant and the ladder that it takes over: a day is
// held 30 days before a visit and agreed 21 days before.
func TestFloor_Waiting(t *testing.T) {
	s := demoSite(t)
	_, page := s.get("/floor?all=yes")
	_, list, _ := strings.Cut(page, "Waiting for somebody</h2>")
	list, _, _ = strings.Cut(list, "</table>")
	var got []string
	for _, row := range strings.Split(list, `<tr><th scope="row">`)[1:] {
		cell := func(label string) string {
			_, text, _ := strings.Cut(row, `data-label="`+label+`">`)
			text, _, _ = strings.Cut(text, "</td>")
			text = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(strings.ReplaceAll(text, "<span", " <span"), "")
			return strings.TrimSpace(html.UnescapeString(text))
		}
		visit := regexp.MustCompile(`/visits/([^"]+)"`).FindStringSubmatch(row)[1]
		got = append(got, visit+": "+cell("The plan has")+": "+cell("Time runs out"))
	}
	want := []string{
		"H1018-F: Tue Apr 13: Fri Mar 5 the hold ends",
		"H1015-F: Thu Apr 1: Sat Mar 6 the hold ends",
		"H1017-F: Fri Apr 9: Sun Mar 7 the hold ends",
		"H1021-F: Tue Apr 27: Sun Mar 7 the hold ends",
		"H1022-F: Mon Apr 26: Sun Mar 7 the hold ends",
		"H1014-F: Mon Mar 29: Mon Mar 8 Day agreed, travel may be bought", // 30 days before it have passed
		"H1020-F: Mon Apr 19: Thu Mar 11 the hold ends",
		"H1024-F: Wed May 5: Mon Apr 5 Day held for the customer",
		"H1023-R: Fri May 7: Wed Apr 7 Day held for the customer",
	}
	if !slices.Equal(got, want) {
		t.Errorf("waiting:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// From the floor it is one touch from a day that cannot be had to what would make it possible.
func TestFloor_WhyNot(t *testing.T) {
	s := demoSite(t)
	_, to := s.post("/trucks/H1024/offers", nil)
	_, page := s.get(to + "&from=2027-05-03&weeks=2")
	heads, _, _ := strings.Cut(page[strings.Index(page, "<thead>"):], "</thead>")
	why := regexp.MustCompile(`href="(/trucks/H1024/why\?on=([0-9-]+))"`).FindAllStringSubmatch(heads, -1)
	if len(why) == 0 {
		t.Fatal("no day of the floor says why it cannot be had")
	}
	for _, x := range why {
		if strings.Contains(page, `day=`+x[2]+`#order`) {
			t.Errorf("%s can be had", x[2])
		}
	}
	_, job := s.get(why[0][1])
	_, at := s.get(job)
	if code, page := s.get(at); code != 200 || !strings.Contains(page, "Because") || !strings.Contains(page, "What could help") {
		t.Errorf("%s: %d %s", at, code, words(page))
	}
}

// A truck that is not there cannot be placed.
func TestFloor_NoTruck(t *testing.T) {
	s := demoSite(t)
	if code, page := s.get("/floor?truck=nobody"); code != 404 || !strings.Contains(page, "There is no such truck") || !strings.Contains(page, `class="next"`) {
		t.Errorf("%d", code)
	}
}
