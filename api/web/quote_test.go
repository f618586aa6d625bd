package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// order is what sales types for a truck that the demo plant has a place for.
func order() url.Values {
	return url.Values{
		"customer": {"sabelstead"}, "kind": {"pumper"}, "content": {"light"}, "length_ft": {"31"}, "height_ft": {"10"}, "flow_gpm": {"1250"},
		"graphics": {"lettering"}, "comes": {"yes"}, "heads": {"3"}, "halves": {"2"}, "travel_days": {"1"}, "note": {"<script>alert(1)</script>"},
	}
}

// orderWith is an order in which pairs of a field and what is typed there are replaced.
func orderWith(pairs ...string) url.Values {
	f := order()
	for i := 0; i < len(pairs); i += 2 {
		f.Set(pairs[i], pairs[i+1])
	}
	return f
}

// quoted asks, and returns the page with the answer.
func (s *site) quoted(f url.Values) (at, text string) {
	s.t.Helper()
	code, job := s.post("/quotes", f)
	if code != http.StatusSeeOther {
		s.t.Fatalf("%d %s", code, job)
	}
	if code, at = s.get(job); code != http.StatusSeeOther || !strings.HasPrefix(at, "/quotes/") {
		s.t.Fatalf("%d %s", code, at)
	}
	if code, text = s.get(at); code != http.StatusOK {
		s.t.Fatalf("%d %s", code, text)
	}
	return at, text
}

// A question in the customer's words is answered with a day or a truthful no, kept, and
// told again later.
func TestQuote(t *testing.T) {
	s := demoSite(t)
	if _, text := s.get("/quotes"); !strings.Contains(text, "Nobody has asked yet") {
		t.Error("no word for an empty list")
	}
	if code, text := s.get("/quotes/new?customer=" + customer(s)); code != http.StatusOK || !strings.Contains(text, "Rated pump flow") {
		t.Fatalf("%d", code)
	}
	form := order()
	form.Set("customer", customer(s))
	code, to := s.post("/quotes", form)
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	if code, to = s.get(to); code != http.StatusSeeOther || !strings.HasPrefix(to, "/quotes/") {
		t.Fatalf("%d %s", code, to)
	}
	code, text := s.get(to)
	form.Set("enters", "2027-03-08")
	form.Set("due", "2027-03-31")
	form.Set("damages", "400")
	_, early := s.post("/quotes", form)
	if _, early = s.get(early); !strings.HasPrefix(early, "/quotes/") {
		t.Fatal(early)
	}
	if _, text := s.get(early); !strings.Contains(text, "Off the line") || !strings.Contains(text, "earliest day") || !strings.Contains(text, "that would cost $") || !strings.Contains(text, "Until the plant changes") {
		t.Errorf("no day: %s", text)
	}
	for _, want := range []string{"What it rests on", "&lt;script&gt;"} {
		if code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("%d without %q", code, want)
		}
	}
	if strings.Contains(text, "<script>alert") {
		t.Error("a note runs as a script")
	}
	if _, text := s.get("/quotes"); !strings.Contains(text, to) {
		t.Error("the answer is not listed")
	}
}

// The steps are drawn in their order, the drawing says what the table says, and neither
// has a step that is not there.
func TestQuote_Steps(t *testing.T) {
	s := demoSite(t)
	at, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08", "due", "2027-03-31", "deadline", "2027-05-14"))
	q, err := s.app.Quote(t.Context(), manager, strings.TrimPrefix(at, "/quotes/"))
	if err != nil {
		t.Fatal(err)
	}
	if r := q.Result; r.LineOff >= r.Visit || r.Visit >= r.Delivery {
		t.Fatalf("off the line %v, visit %v, delivery %v", r.LineOff, r.Visit, r.Delivery)
	}
	_, drawn, _ := strings.Cut(text, "<svg")
	drawn, table, _ := strings.Cut(drawn, "</svg>")
	for _, c := range []struct {
		word string
		day  calendar.Date
	}{{"off the line", q.Result.LineOff}, {"final inspection", q.Result.Visit}, {"delivered", q.Result.Delivery}} {
		_, m, day := c.day.YMD()
		if want := fmt.Sprintf("%s %s %s %d<", c.word, c.day.Weekday().String()[:3], m.String()[:3], day); strings.Count(drawn, want) != 1 {
			t.Errorf("the drawing has not once %q: %s", want, drawn)
		}
		if want := `datetime="` + c.day.String() + `"`; !strings.Contains(table, want) {
			t.Errorf("the table has no %q", want)
		}
	}
	if n := strings.Count(drawn, `class="bar-`); n != 4 {
		t.Errorf("%d bars", n)
	}
	for _, want := range []string{">wanted<", ">hard deadline<"} {
		if !strings.Contains(drawn, want) {
			t.Errorf("the drawing has no %q", want)
		}
	}
	if _, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08", "comes", "")); strings.Contains(text, "inspection") || strings.Count(text, `<rect class="bar-`) != 2 {
		t.Error("a visit that nobody asked for is in the steps")
	}
	_, text = s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08", "window_from_1", "2027-03-09", "window_through_1", "2027-03-09"))
	if !strings.Contains(text, "this day is without the final inspection") || strings.Count(text, `<rect class="bar-`) != 2 {
		t.Error("a visit that finds no day is not told")
	}
	if _, list := s.get("/quotes"); strings.Count(list, ", without the visit") != 1 {
		t.Error("the list does not tell of it")
	}
}

// Without a day there is no day to hold on to, but what to do.
func TestQuote_NoDay(t *testing.T) {
	s := demoSite(t)
	_, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-08-03"))
	for _, want := range []string{"No day", "the end of the horizon: proven", "It would be off the line on", "Ask the manager"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	for _, never := range []string{"Tell the customer", "<svg", "Ask the customer for more days", "Chances"} {
		if strings.Contains(text, never) {
			t.Errorf("it says %q", never)
		}
	}
	if _, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-08-03", "window_from_1", "2027-08-24", "window_through_1", "2027-08-25")); !strings.Contains(text, "Ask the customer for more days") {
		t.Error("the days that the customer named are not in doubt")
	}
}

// What is probably not meant is told, in words that are not those of a file.
func TestQuote_Caution(t *testing.T) {
	s := demoSite(t)
	_, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08", "flow_gpm", "0", "wish", "pump"))
	if !strings.Contains(text, "The delegation wants to pump") || strings.Contains(text, "would-be") {
		t.Errorf("%s", text[strings.Index(text, "<main"):])
	}
	if _, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08", "wish", "pump")); strings.Contains(text, "Probably not meant") {
		t.Error("a caution without a cause")
	}
}

// An answer holds until the plant changes, and says so; once it has changed it says that.
func TestQuote_Valid(t *testing.T) {
	s := demoSite(t)
	at, text := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08"))
	valid := part(text, "How long this holds", "</section>")
	for _, want := range []string{"Until the plant changes", "This answer speaks of revision 2, as of Mon Mar 1 6 am", "nothing is reserved by it", "It has not changed yet"} {
		if !strings.Contains(words(valid), want) {
			t.Errorf("no %q in %q", want, words(valid))
		}
	}
	if _, err := s.app.Book(t.Context(), manager, api.Intent{}, "H1018-F", api.BookingOrder{State: plant.Confirmed, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
		t.Fatal(err)
	}
	if _, text := s.get(at); !strings.Contains(part(text, "How long this holds", "</section>"), "It has changed since") {
		t.Error("the plant has changed, and the quote does not say so")
	}
}

// Sales and all who may quote find the pages in the navigation; a reader may look at a
// quote, but is not offered to ask.
func TestQuote_Rights(t *testing.T) {
	s := demoSite(t)
	at, _ := s.quoted(orderWith("customer", customer(s), "enters", "2027-03-08"))
	for _, role := range api.Roles() {
		s.door.who = api.Actor{Name: role, Acts: api.ActsOf(role)}
		may := role != api.RoleReader
		if _, text := s.get("/floor"); strings.Contains(text, `href="/quotes"`) != may {
			t.Errorf("%s: navigation", role)
		}
		for _, path := range []string{"/quotes", at} {
			if code, text := s.get(path); code != http.StatusOK || strings.Contains(text, "/quotes/new") != may {
				t.Errorf("%s: %s: %d", role, path, code)
			}
		}
		if code, _ := s.get("/quotes/new"); (code == http.StatusOK) != may {
			t.Errorf("%s: the form: %d", role, code)
		}
		if code, _ := s.post("/quotes", orderWith("customer", "C001")); (code == http.StatusSeeOther) != may {
			t.Errorf("%s: asking: %d", role, code)
		}
	}
}

// Whatever is typed and whatever things are called, nothing of it is taken for HTML, and
// the form has it again.
func TestQuote_Nasty(t *testing.T) {
	p := demoPlant(t)
	nasty(p)
	s := emptySite(t)
	s.load(p)
	for _, c := range p.Customers[:4] {
		for _, note := range []string{`"><script>alert(1)</script>`, "مطافئ \u200fالمدينة", strings.Repeat("Wort ", 199), "{{.}} ${x} ]]>"} {
			f := orderWith("customer", c.ID, "enters", "2027-03-08", "note", strings.TrimSpace(note), "kind", "<i>wagon</i>")
			at, text := s.quoted(f)
			_, again := s.get("/quotes/new?from=" + strings.TrimPrefix(at, "/quotes/"))
			_, list := s.get("/quotes")
			for _, page := range []string{text, again, list} {
				if strings.Contains(page, "<script>alert") || strings.Contains(page, "<i>") {
					t.Errorf("%s: what was typed is in the page as it was", c.ID)
				}
			}
			if got := typed(t, again); got.Encode() != f.Encode() {
				t.Errorf("%s, typed\n%s", got.Encode(), f.Encode())
			}
		}
	}
}

// A refusal comes back with the form as it was typed, and says which field in the words
// of the form.
func TestQuote_Refused(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct{ field, typed, says string }{
		{"length_ft", "long", "<code>Length over all</code>"},
		{"height_ft", "", "<code>Height as driven</code> is empty"},
		{"heads", "0", "Allowed: a whole number from 1"},
		{"heads", "", "<code>People</code> is empty"},
		{"heads", "9999", "Allowed: a whole number from 1"},
		{"height_ft", "16", "Allowed: up to 12.5"},
		{"enters", "2027-08-27", "name an earlier day"},
		{"damages", "99999999999", "<code>Damages per day late</code>"},
		{"damages", "much", "no dollars"},
		{"due", "soon", "no day"},
		{"window_from_1", "2027-05-20", "They can come"},
		{"note", strings.Repeat("n", 1001), "more briefly"},
	} {
		form := order()
		form.Set("customer", customer(s))
		form.Set(c.field, c.typed)
		code, text := s.post("/quotes", form)
		_, said, _ := strings.Cut(text, `class="said"`)
		said, _, _ = strings.Cut(said, "</section>")
		if strings.Contains(said, "would-be") || strings.Contains(said, "trucks[") {
			t.Errorf("%s: it says %s", c.field, said)
		}
		if code != http.StatusUnprocessableEntity || !strings.Contains(said, c.says) || !strings.Contains(text, `value="`+c.typed+`"`) {
			t.Errorf("%s: %d, says %s, without %q", c.field, code, said, c.says)
		}
	}
}

// A form with nothing in it says what is missing, and how much more there is.
func TestQuote_Empty(t *testing.T) {
	s := demoSite(t)
	code, text := s.post("/quotes", url.Values{"comes": {"yes"}})
	if code != http.StatusUnprocessableEntity || strings.Count(text, "</code> is empty.") != 5 || !strings.Contains(text, "2 more are not listed") {
		t.Errorf("%d %s", code, text)
	}
}

// typed are the fields of the form for a quote that are not empty, as a browser would
// send them.
func typed(t testing.TB, text string) url.Values {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	f := url.Values{}
	for n := range root.Descendants() {
		at := func(key string) string {
			for _, a := range n.Attr {
				if a.Key == key {
					return a.Val
				}
			}
			return ""
		}
		has := func(key string) bool {
			return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
		}
		name, value := at("name"), at("value")
		switch {
		case n.Data == "option" && has("selected"):
			for _, a := range n.Parent.Attr {
				if a.Key == "name" {
					name = a.Val
				}
			}
		case n.Data == "input" && (at("type") != "checkbox" || has("checked")):
		default:
			continue
		}
		if name != "" && value != "" {
			f.Add(name, value)
		}
	}
	return f
}

// What was asked can be asked again, changed: the form has everything that was typed.
func TestQuote_Again(t *testing.T) {
	s := demoSite(t)
	f := order()
	f.Set("customer", customer(s))
	f["option"] = []string{"aerial"}
	for _, c := range [][2]string{
		{"enters", "2027-03-08"}, {"due", "2027-04-30"}, {"damages", "400"}, {"deadline", "2027-05-28"}, {"heads", "5"}, {"halves", "1"}, {"travel_days", "2"},
		{"window_from_1", "2027-03-20"}, {"window_through_1", "2027-04-02"}, {"window_from_2", "2027-04-12"}, {"window_through_2", "2027-04-30"}, {"not_from_1", "2027-03-29"}, {"not_through_1", "2027-03-30"},
	} {
		f.Set(c[0], c[1])
	}
	_, job := s.post("/quotes", f)
	_, at := s.get(job)
	_, page := s.get(at)
	for _, want := range []string{"$400", "May 28, 2027", "Mar 20, 2027", "Apr 30, 2027"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of the answer has no %q", want)
		}
	}
	if !strings.Contains(page, "/quotes/new?from="+strings.TrimPrefix(at, "/quotes/")) {
		t.Fatal("no way to ask again")
	}
	code, again := s.get("/quotes/new?from=" + strings.TrimPrefix(at, "/quotes/"))
	if got := typed(t, again); code != http.StatusOK || got.Encode() != f.Encode() {
		t.Errorf("%d\n%s, typed\n%s", code, got.Encode(), f.Encode())
	}
	if code, _ := s.get("/quotes/new?from=none"); code != http.StatusNotFound {
		t.Errorf("asking again what nobody asked: %d", code)
	}
}

// An order that finds no place on the line is refused with the reason, and the form has
// what was typed.
func TestQuote_NoPlace(t *testing.T) {
	p := demoPlant(t)
	p.Line.FreeSlots = nil
	s := emptySite(t)
	s.load(p)
	f := order()
	f.Set("customer", customer(s))
	code, job := s.post("/quotes", f)
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, job)
	}
	code, page := s.get(job)
	if code != http.StatusConflict || !strings.Contains(page, "no place on the line") || !strings.Contains(page, "Say on which day it would enter the line") {
		t.Errorf("%d %s", code, page)
	}
	if got := typed(t, page); got.Encode() != f.Encode() {
		t.Errorf("%s, typed\n%s", got.Encode(), f.Encode())
	}
	s.door.who = api.Actor{Name: "reader", Acts: api.ActsOf(api.RoleReader)}
	if code, page := s.get(job); code != http.StatusConflict || strings.Contains(page, `action="/quotes"`) {
		t.Errorf("a reader has the form: %d", code)
	}
}

// customer is the first customer of the plant.
func customer(s *site) string {
	st, err := s.app.State(s.t.Context(), manager, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return st.Plant.Customers[0].ID
}
