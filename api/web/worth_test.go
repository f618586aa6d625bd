package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// answer reads the answer of a job.
func (s *site) answer(id string, to any) {
	s.t.Helper()
	j, err := s.app.Job(context.Background(), manager, id)
	if err == nil && j.State == api.JobDone {
		err = json.Unmarshal(j.Answer, to)
	}
	if err != nil || j.State != api.JobDone {
		s.t.Fatal(j, err)
	}
}

// What would hurt next is worked out by a touch, shown as it was found, kept, and stamped
// with the revision that it speaks of.
func TestWorth(t *testing.T) {
	s := demoSite(t)
	if _, page := s.get("/worth"); !strings.Contains(page, "Nobody has asked yet") || !strings.Contains(page, "Work it out") {
		t.Error("no way to ask")
	}
	code, job := s.post("/worth", nil)
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, job)
	}
	code, at := s.get(job)
	if code != http.StatusSeeOther || !strings.HasPrefix(at, "/worth/") {
		t.Fatalf("%d %s", code, at)
	}
	var r solver.Worth
	s.answer(strings.TrimPrefix(at, "/worth/"), &r)
	st, err := s.app.State(t.Context(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get(at)
	lost, more := part(page, "A working day lost", "</section>"), part(page, "What one more would buy", "</section>")
	// Every day lost and everything that could be bought is somewhere on the page, once.
	for _, list := range []struct {
		stakes []solver.Stake
		text   string
	}{{r.Days, words(lost)}, {r.More, words(more)}} {
		if len(list.stakes) == 0 {
			t.Error("nothing was found")
		}
		for i := range list.stakes {
			k := &list.stakes[i]
			title := writtenAs(k.Title(st.Plant))
			if !strings.Contains(list.text, title) {
				t.Errorf("no %q", title)
			}
		}
	}
	rows := strings.Count(part(lost, "<tbody>", "</tbody>"), "<tr>")
	if rows == 0 || rows > 10 || !strings.Contains(lost, "Hurts no more than these, proven") || !strings.Contains(lost, "Costs nothing, proven") {
		t.Errorf("%d rows", rows)
	}
	worst := &r.Days[0]
	for _, x := range worst.Tiers {
		if x.After > x.Before && x.Name != plant.TierDamages {
			if row := words(part(part(lost, "<tbody>", "</tbody>"), "<tr>", "</tr>")); !strings.Contains(row, writtenAs(worst.Title(st.Plant))) || !strings.Contains(row, "&#43;") {
				t.Errorf("the worst is not first: %q", row)
			}
		}
	}
	if !strings.Contains(page, "Worked out for revision 2, the newest") {
		t.Error("it does not say of which revision it speaks")
	}
	if _, err := s.app.Book(t.Context(), manager, api.Intent{}, "H1018-F", api.BookingOrder{State: plant.Confirmed, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
		t.Fatal(err)
	}
	if _, page := s.get(at); !strings.Contains(page, "This speaks of revision 2.") || !strings.Contains(page, "changed 1 time since") {
		t.Error("the plant has changed, and the page does not say so")
	}
	if _, page := s.get("/worth"); !strings.Contains(page, at) || !strings.Contains(page, "1 revision ago") {
		t.Error("the answer is not listed, or not as an older one")
	}
}

// writtenAs writes a title with its days as the pages do.
func writtenAs(title string) string {
	for _, word := range strings.Fields(title) {
		if d, err := calendar.ParseDate(word); err == nil {
			_, m, _ := d.YMD()
			day := d.Weekday().String()[:3]
			title = strings.Replace(title, day+" "+word, day+" "+m.String()[:3]+" "+strings.TrimLeft(word[8:], "0"), 1)
		}
	}
	return title
}

// One truck can be asked about alone; who may not report is not offered to ask; a truck
// that is not there is refused.
func TestWorth_Truck(t *testing.T) {
	s := demoSite(t)
	if _, page := s.get("/worth?truck=H1022"); !strings.Contains(page, `value="H1022" selected`) {
		t.Error("the truck that was come from is not chosen")
	}
	_, job := s.post("/worth", url.Values{"truck": {"H1022"}})
	_, at := s.get(job)
	if _, page := s.get(at); !strings.Contains(page, "H1022 a day later off the line") || strings.Contains(page, "What one more would buy") {
		t.Error("not about the truck alone")
	}
	if _, page := s.get("/worth"); !strings.Contains(part(page, at, "</tr>"), ">H1022<") {
		t.Error("the list does not say what it was about")
	}
	if code, page := s.post("/worth", url.Values{"truck": {"H1O22"}}); code != http.StatusNotFound || !strings.Contains(page, "H1022") {
		t.Errorf("a truck that is not there: %d", code)
	}
	s.door.who = api.Actor{Name: "rita", Acts: api.ActsOf(api.RoleReader)}
	if _, page := s.get("/worth"); strings.Contains(page, "Work it out<") {
		t.Error("a reader is offered to ask")
	}
	if code, _ := s.post("/worth", nil); code != http.StatusForbidden {
		t.Errorf("a reader asks: %d", code)
	}
}
