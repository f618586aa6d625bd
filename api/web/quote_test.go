package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// order is what sales types for a truck that the demo plant has a place for.
func order() url.Values {
	return url.Values{
		"customer": {"sabelstead"}, "kind": {"pumper"}, "content": {"light"}, "length_ft": {"31"}, "height_ft": {"10"}, "flow_gpm": {"1250"},
		"graphics": {"lettering"}, "comes": {"yes"}, "heads": {"3"}, "halves": {"2"}, "travel_days": {"1"}, "note": {"<script>alert(1)</script>"},
	}
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
	if _, text := s.get(early); !strings.Contains(text, "Off the line") || !strings.Contains(text, "earliest day") || !strings.Contains(text, "They are not known yet") || !strings.Contains(text, "that would cost $") {
		t.Errorf("no day: %s", text)
	}
	for _, want := range []string{"What it rests on", "Good until", "&lt;script&gt;"} {
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

// A refusal comes back with the form as it was typed.
func TestQuote_Refused(t *testing.T) {
	s := demoSite(t)
	for field, c := range map[string]struct{ typed, says string }{
		"length_ft": {"long", "length_ft"}, "heads": {"0", "heads"}, "damages": {"much", "no dollars"}, "due": {"soon", "no day"}, "window_from_1": {"2027-05-20", "through"},
	} {
		form := order()
		form.Set("customer", customer(s))
		form.Set(field, c.typed)
		if code, text := s.post("/quotes", form); code != http.StatusUnprocessableEntity || !strings.Contains(text, c.says) || !strings.Contains(text, `value="`+c.typed+`"`) {
			t.Errorf("%s: %d without %q", field, code, c.says)
		}
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
