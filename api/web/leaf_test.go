package web_test

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/generate"
)

// TestLeaves goes through a list that has more rows than a page shows: each truck stands on
// one leaf, a filter stays, and a leaf that is not there is the first one.
func TestLeaves(t *testing.T) {
	s := emptySite(t)
	p := generate.Generate(generate.Options{Trucks: 130, Seed: 1, Load: 0.9})
	if _, err := s.app.Load(context.Background(), manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile(`<th scope="row"><a href="/trucks/([^"]+)"`)
	next := regexp.MustCompile(`<a class="button" href="([^"]+)" rel="(next|prev)"`)
	leaf := func(path string) (trucks []string, to map[string]string) {
		t.Helper()
		code, page := s.get(path)
		if code != 200 {
			t.Fatalf("%s: %d", path, code)
		}
		for _, m := range row.FindAllStringSubmatch(page, -1) {
			trucks = append(trucks, m[1])
		}
		to = map[string]string{}
		for _, m := range next.FindAllStringSubmatch(page, -1) {
			to[m[2]] = strings.ReplaceAll(m[1], "&amp;", "&")
		}
		return trucks, to
	}
	seen := map[string]bool{}
	leaves := 0
	var back string
	for path := "/trucks?show=line"; path != ""; leaves++ {
		trucks, to := leaf(path)
		if leaves > 0 && to["prev"] == "" {
			t.Errorf("%s: no way back", path)
		}
		for _, id := range trucks {
			if seen[id] {
				t.Errorf("%s stands on two leaves", id)
			}
			seen[id] = true
		}
		if len(trucks) == 0 || len(trucks) > 60 {
			t.Errorf("%s: %d rows", path, len(trucks))
		}
		if back = to["prev"]; to["next"] != "" && !strings.Contains(to["next"], "show=line") {
			t.Errorf("%s: the filter is lost in %s", path, to["next"])
		}
		path = to["next"]
	}
	for i := range p.Trucks {
		if x := &p.Trucks[i]; (x.Line.Off == calendar.None) != seen[x.ID] {
			t.Errorf("truck %s stands on a leaf: %v", x.ID, seen[x.ID])
		}
	}
	first, _ := leaf("/trucks?show=line")
	if leaves < 2 || back == "" {
		t.Fatalf("%d leaves: of no use for this test", leaves)
	}
	for _, none := range []string{"0", "-1", "99", "two"} {
		if again, _ := leaf("/trucks?show=line&leaf=" + none); strings.Join(again, " ") != strings.Join(first, " ") {
			t.Errorf("leaf %s is not the first", none)
		}
	}
}
