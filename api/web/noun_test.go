package web_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// sent are the values of the named form controls of a page, as a browser would send them.
var (
	control = regexp.MustCompile(`(?s)<(input|select|textarea)([^>]*) name="(f\.?[^"]*)"([^>]*)>(.*?)(?:</select>|</textarea>|$|\n|<)`)
	chosen  = regexp.MustCompile(`<option value="([^"]*)" selected>`)
)

func value(attributes string) string {
	_, rest, _ := strings.Cut(attributes, `value="`)
	v, _, _ := strings.Cut(rest, `"`)
	return html.UnescapeString(v)
}

// form reads the form of a page as a browser would send it.
func form(text string) url.Values {
	f := url.Values{}
	for text != "" {
		at := control.FindStringSubmatchIndex(text)
		if at == nil {
			break
		}
		kind, name, with := text[at[2]:at[3]], html.UnescapeString(text[at[6]:at[7]]), text[at[4]:at[5]]+text[at[8]:at[9]]
		rest := text[at[9]+1:]
		switch {
		case kind == "select":
			body, _, _ := strings.Cut(rest, "</select>")
			if m := chosen.FindStringSubmatch(body); m != nil {
				f.Add(name, html.UnescapeString(m[1]))
			}
		case kind == "textarea":
			body, _, _ := strings.Cut(rest, "</textarea>")
			f.Add(name, html.UnescapeString(body))
		case strings.Contains(with, `type="checkbox"`) && !strings.Contains(with, " checked"):
		default:
			f.Add(name, value(with))
		}
		text = rest
	}
	return f
}

// Every part of the demo plant has a form that says what there is: sent as it is, it
// changes nothing.
func TestNoun_FormsChangeNothing(t *testing.T) {
	s := demoSite(t)
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	tried := map[string]bool{}
	for _, piece := range plant.SplitWhole(st.Plant) {
		noun, id, named := strings.Cut(piece.Key, "/")
		path := "/setup/" + piece.Key
		if code, _ := s.get(path); code != http.StatusOK || noun == "plan" || !named && strings.Contains(piece.Text, "\n") {
			continue
		}
		code, text := s.get(path)
		if code != http.StatusOK || named && !strings.Contains(text, id) {
			t.Fatalf("%s: %d", path, code)
		}
		if !strings.Contains(text, `name="do" value="look"`) { // a list
			continue
		}
		f := form(text)
		f.Set("do", "look")
		if code, text := s.post(path, f); code != http.StatusOK || !strings.Contains(text, "It changes nothing") {
			t.Errorf("%s: %d, sent %v\n%.1500s", path, code, f, text[max(0, strings.Index(text, "<main")):])
			return
		}
		tried[noun] = true
	}
	for _, noun := range []string{"bays", "calendars", "crews", "customers", "departments", "route", "measures", "notice", "parts", "wishes", "trucks", "visits", "line", "horizon", "name"} {
		if !tried[noun] {
			t.Errorf("no form of %s was tried", noun)
		}
	}
}

// A change is looked at, saved as it was looked at, and refused when somebody else was
// there in between.
func TestNoun_LookThenSave(t *testing.T) {
	s := demoSite(t)
	_, text := s.get("/setup/crews/hosts")
	f := form(text)
	f.Set("f.heads", "2")
	f.Set("do", "look")
	code, text := s.post("/setup/crews/hosts", f)
	if code != http.StatusOK || !strings.Contains(text, "Before") || !strings.Contains(text, "obeys every rule") {
		t.Fatalf("%d %s", code, text)
	}
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	if n := st.Plant.FindCrew("hosts").Size; n != 1 {
		t.Fatalf("looking has set %d heads", n)
	}
	seen := regexp.MustCompile(`name="seen" value="(\d+)"`).FindStringSubmatch(text)[1]
	f.Set("seen", seen)
	f.Set("do", "save")
	if code, to := s.post("/setup/crews/hosts", f); code != http.StatusSeeOther || to != "/setup/crews/hosts" {
		t.Fatalf("%d %s", code, to)
	}
	if st, err = s.app.State(context.Background(), manager, 0); err != nil || st.Plant.FindCrew("hosts").Size != 2 {
		t.Fatal("it was not saved", err)
	}
	f.Set("f.heads", "3")
	if code, text := s.post("/setup/crews/hosts", f); code != http.StatusConflict || !strings.Contains(text, "changed meanwhile") || !strings.Contains(text, `value="3"`) {
		t.Errorf("an older page: %d", code)
	}
}

// What cannot be is refused beside the form, with what was typed.
func TestNoun_Refused(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct {
		path, field, typed, says string
		code                     int
	}{
		{"/setup/crews/hosts", "f.heads", "many", "heads", http.StatusUnprocessableEntity},
		{"/setup/bays/pump-1", "f.max_flow_gpm", "-1", "max_flow_gpm", http.StatusUnprocessableEntity},
		{"/setup/bays/pump-1", "f.closures.0.from", "2027-03-02", "through", http.StatusUnprocessableEntity},
		{"/setup/customers/new", "f.id", "", "no name yet", http.StatusUnprocessableEntity},
		{"/setup/bays/new", "f.id", "pump-1", "one of this name", http.StatusConflict},
	} {
		_, text := s.get(c.path)
		f := form(text)
		f.Set(c.field, c.typed)
		f.Set("do", "look")
		if code, text := s.post(c.path, f); code != c.code || !strings.Contains(text, c.says) || !strings.Contains(text, c.typed) {
			t.Errorf("%s %s: %d without %q", c.path, c.field, code, c.says)
		}
	}
	if code, text := s.post("/setup/bays/pump-1", url.Values{"do": {"drop"}}); code < 400 && !strings.Contains(text, "no longer hold") {
		t.Errorf("the only pump bay goes without a word: %d", code)
	}
	if code, _ := s.get("/setup/dragons"); code != http.StatusNotFound {
		t.Errorf("%d", code)
	}
}

// A bay is added and taken away, a closure is added to a calendar.
func TestNoun_AddAndDrop(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct {
		path, gone string
		set        url.Values
	}{
		{"/setup/bays/new", "/setup/bays/pump-2", url.Values{"f.id": {"pump-2"}, "f.name": {"<script>Pump</script>"}, "f.kinds": {"pump_test"}}},
		{"/setup/calendars/plant", "", url.Values{"f.closures.2.from": {"2027-10-01"}, "f.closures.2.through": {"2027-10-02"}, "f.closures.2.reason": {"مخزن"}}},
	} {
		_, text := s.get(c.path)
		f := form(text)
		for k, v := range c.set {
			f[k] = v
		}
		for _, path := range []string{c.path, c.gone} {
			do := "look"
			if path == "" {
				continue
			}
			if path == c.gone {
				f, do = url.Values{}, "drop"
			}
			f.Set("do", do)
			code, text := s.post(path, f)
			if code != http.StatusOK || strings.Contains(text, "<script>Pump") || !strings.Contains(text, `name="seen"`) {
				t.Fatalf("%s: %d", path, code)
			}
			f.Set("seen", regexp.MustCompile(`name="seen" value="(\d+)"`).FindStringSubmatch(text)[1])
			f.Set("do", map[string]string{"look": "save", "drop": "drop-save"}[do])
			if code, to := s.post(path, f); code != http.StatusSeeOther {
				t.Fatalf("%s: %d %s", path, code, to)
			}
			if _, text := s.get("/setup/" + strings.Split(c.path, "/")[2]); strings.Contains(text, "<script>Pump") {
				t.Error("a name runs as a script")
			}
		}
	}
	if _, text := s.get("/setup/calendars/plant?year=2027"); !strings.Contains(text, "مخزن") || !strings.Contains(text, "Thanksgiving") {
		t.Error("the year does not name its days")
	}
}

// The forms of a plant of 200 trucks whose names are meant to break them are whole, small
// enough to be sent, and lose nothing on the way there and back.
func TestNoun_Nasty(t *testing.T) {
	p := generate.Generate(generate.Options{Seed: 1, Trucks: 200, Load: 0.8})
	nasty(p)
	s := emptySite(t)
	if _, err := s.app.Load(context.Background(), manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/quotes", "/quotes/new", "/setup/bays", "/setup/calendars", "/setup/crews", "/setup/customers", "/setup/departments", "/setup/measures", "/setup/notice", "/setup/route", "/setup/trucks", "/setup/visits", "/setup/wishes",
		"/setup/line", "/setup/prices", "/setup/buffer", "/setup/customers/" + p.Customers[0].ID, "/setup/customers/" + p.Customers[1].ID, "/setup/customers/" + p.Customers[3].ID, "/setup/route/" + p.Route[1].ID, "/setup/crews/" + p.Crews[0].ID, "/setup/trucks/" + p.Trucks[0].ID, "/setup/calendars/" + p.Calendars[0].ID} {
		code, page := s.get(path)
		if code != http.StatusOK || strings.Contains(page, "<script>alert") {
			t.Errorf("%s: %d, or a name is in the page as it was", path, code)
		}
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		z.Write([]byte(page))
		z.Close()
		if b.Len() > 100_000 {
			t.Errorf("%s: %d bytes compressed", path, b.Len())
		}
		if !strings.Contains(page, `name="do" value="look"`) {
			continue
		}
		f := form(page)
		f.Set("do", "look")
		if code, page := s.post(path, f); code != http.StatusOK || !strings.Contains(page, "It changes nothing") {
			t.Errorf("%s: %d: %s", path, code, page[strings.Index(page, "<main"):])
		}
	}
}
