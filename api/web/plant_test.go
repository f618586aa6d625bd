package web_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/solver/plant"
)

// keptIn is what goes along with the form of a page that shows a difference.
func keptIn(t testing.TB, page string) url.Values {
	t.Helper()
	f := url.Values{}
	for _, name := range []string{"kept", "name", "seen"} {
		f.Set(name, hidden(t, page, name))
	}
	return f
}

// takenOut is the plant file as it is downloaded.
func (s *site) takenOut(path string) string {
	s.t.Helper()
	w := httptest.NewRecorder()
	s.web.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "application/yaml" || !strings.HasPrefix(w.Header().Get("Content-Disposition"), "attachment; ") {
		s.t.Fatalf("%d %v", w.Code, w.Header())
	}
	return w.Body.String()
}

// A plant file that is taken out, changed by hand and brought in again changes what was
// changed in it and nothing else, after the difference was shown; and is taken back.
func TestPlant_Replaced(t *testing.T) {
	s := demoSite(t)
	text := s.takenOut("/setup/plant.yaml")
	if p, faults := plant.Read("", []byte(text)); len(faults) > 0 || p.Plan == nil {
		t.Fatalf("what is taken out cannot be read: %v", faults)
	}
	if code, page := s.send("/setup/plant", "mine.yaml", text, nil); code != http.StatusOK || !strings.Contains(page, "There is nothing to save") {
		t.Fatalf("the same file: %d", code)
	}
	before := s.state()
	other := strings.Replace(text, "name: Floor position 1", "name: Floor <by the door>", 1)
	if other == text {
		t.Fatal("the demo plant has no such position")
	}
	code, page := s.send("/setup/plant", "mine.yaml", other, nil)
	if code != http.StatusOK || s.revision() != 2 {
		t.Fatalf("%d, revision %d", code, s.revision())
	}
	for _, says := range []string{"What mine.yaml would change", "Floor &lt;by the door&gt;", "It still obeys every rule", "revision 2"} {
		if !strings.Contains(page, says) {
			t.Errorf("the difference does not say %q", says)
		}
	}
	form := keptIn(t, page)
	form.Set("why", "painted anew")
	// Somebody else is faster: it is refused and shown anew, with their change in it.
	if _, err := s.app.Put(context.Background(), manager, api.Intent{}, "bays/floor-2", []byte(`{"id":"floor-2","name":"By the wall","kinds":["floor"],"max_length_ft":47}`)); err != nil {
		t.Fatal(err)
	}
	code, page = s.send("/setup/plant", "", "", form)
	if code != http.StatusConflict || !strings.Contains(page, "changed meanwhile") || !strings.Contains(page, "By the wall") || !strings.Contains(page, `value="painted anew"`) {
		t.Fatalf("an older difference: %d", code)
	}
	form = keptIn(t, page)
	form.Set("why", "painted anew")
	code, to := s.send("/setup/plant", "", "", form)
	if code != http.StatusSeeOther || to != "/revisions/4" {
		t.Fatalf("%d %s", code, to)
	}
	after := s.state()
	if after.FindBay("floor-1").Name != "Floor <by the door>" || after.FindBay("floor-2").Name != before.FindBay("floor-2").Name || after.Plan == nil {
		t.Error("it is not the plant of the file")
	}
	if _, page := s.get(to); !strings.Contains(page, "painted anew") {
		t.Error("the reason is not kept")
	}
	if code, _ := s.post(to+"/undo", nil); code != http.StatusSeeOther || s.state().FindBay("floor-1").Name != "Floor position 1" || s.state().FindBay("floor-2").Name != "By the wall" {
		t.Errorf("taken back: %d", code)
	}
	if old := s.takenOut("/setup/plant.yaml?revision=2"); old != text {
		t.Error("the file of an older revision is another one")
	}
}

// What a file would lose is said before it is saved; a file with faults, a broken one and
// a form that was tampered with change nothing.
func TestPlant_Warned(t *testing.T) {
	s := demoSite(t)
	text := s.takenOut("/setup/plant.yaml")
	bare, _, _ := strings.Cut(text, "\nplan:")
	code, page := s.send("/setup/plant", "bare.yaml", strings.Replace(bare, "name: Pellanmere Apparatus Works", "name: Other Works", 1), nil)
	for _, says := range []string{"The file has no plan", "which is in force, would be gone", "plant by another name", "There is no plan then"} {
		if code != http.StatusOK || !strings.Contains(page, says) {
			t.Errorf("%d without %q", code, says)
		}
	}
	if code, page := s.send("/setup/plant", "x.yaml", strings.Replace(text, "America/Chicago", "<Mars>", 1), nil); code != http.StatusUnprocessableEntity || !strings.Contains(page, "<b>Line ") || !strings.Contains(page, "Put another file in its place") {
		t.Errorf("a wrong zone: %d", code)
	}
	for _, kept := range []string{"?", "AAAA", "H4sIAAAAAAAA"} {
		if code, page := s.send("/setup/plant", "", "", url.Values{"kept": {kept}, "seen": {"2"}}); code != http.StatusUnprocessableEntity || !strings.Contains(page, "did not come back whole") {
			t.Errorf("%q: %d", kept, code)
		}
	}
	s.door.who.Acts = api.ActsOf(api.RoleCoordinator)
	if code, _ := s.send("/setup/plant", "bare.yaml", bare, nil); code != http.StatusForbidden {
		t.Errorf("a coordinator: %d", code)
	}
	if _, page := s.get("/setup/plant"); strings.Contains(page, "Put another file") || !strings.Contains(page, "/setup/plant.yaml") {
		t.Error("a coordinator is not shown what they may do")
	}
	if s.revision() != 2 {
		t.Errorf("revision %d", s.revision())
	}
}
