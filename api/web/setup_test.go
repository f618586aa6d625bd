package web_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/solver/generate"
	"wetdown/testdata"
)

var administrator = api.Actor{Name: "manager", Acts: api.ActsOf(api.RoleAdministrator)}

// governed is the demo site with an account for whoever asks, an administrator.
func governed(t testing.TB) *site {
	t.Helper()
	s := demoSite(t)
	s.door.who = administrator
	if _, err := s.app.CreateAccount(context.Background(), administrator, api.AccountOrder{Login: "manager", Name: "Mara Quill", Role: api.RoleAdministrator, Password: firstPassword}); err != nil {
		t.Fatal(err)
	}
	return s
}

const firstPassword = "seven hoses dry in the long tower"

// send sends a form with a file in it.
func (s *site) send(path, file, content string, form url.Values) (int, string) {
	s.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, k := range []string{"kind", "seen", "kept", "name", "why"} {
		if form.Has(k) {
			if err := m.WriteField(k, form.Get(k)); err != nil {
				s.t.Fatal(err)
			}
		}
	}
	if file != "" {
		f, err := m.CreateFormFile("file", file)
		if err != nil {
			s.t.Fatal(err)
		}
		if _, err := f.Write([]byte(content)); err != nil {
			s.t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		s.t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, path, &b)
	r.Header.Set("Content-Type", m.FormDataContentType())
	return s.ask(r)
}

// hidden reads a hidden field of a form.
func hidden(t testing.TB, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`type="hidden" name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("the page has no field %s", name)
	}
	return strings.ReplaceAll(m[1], "&#43;", "+")
}

// Everybody is shown what is theirs to set up, and sent away from the rest.
func TestSetup_Rights(t *testing.T) {
	s := governed(t)
	for _, c := range []struct {
		role       string
		sees, none string
	}{
		{api.RoleAdministrator, "/setup/people", "nothing of this"},
		{api.RoleManager, "/setup/tokens", "/setup/people"},
		{api.RoleReader, "/setup/password", "/setup/trail"},
	} {
		s.door.who.Acts = api.ActsOf(c.role)
		code, page := s.get("/setup")
		if code != http.StatusOK || !strings.Contains(page, c.sees) || strings.Contains(page, c.none) {
			t.Errorf("%s: %d, wants %s and not %s", c.role, code, c.sees, c.none)
		}
	}
	for _, path := range []string{"/setup/people", "/setup/people/manager", "/setup/trail"} {
		if code, _ := s.get(path); code != http.StatusForbidden {
			t.Errorf("a reader at %s: %d", path, code)
		}
	}
	if code, _ := s.send("/setup/files/preview", "a.csv", "id\n", url.Values{"kind": {"trucks"}}); code != http.StatusForbidden {
		t.Errorf("a reader brings trucks in: %d", code)
	}
}

// People can be let in before there is a plant.
func TestSetup_Empty(t *testing.T) {
	s := emptySite(t)
	s.door.who = administrator
	for _, path := range []string{"/setup", "/setup/people", "/setup/tokens", "/setup/password", "/setup/trail"} {
		if code, _ := s.get(path); code != http.StatusOK {
			t.Errorf("%s: %d", path, code)
		}
	}
	if code, to := s.get("/"); code != http.StatusSeeOther || to != "/setup" {
		t.Errorf("the start: %d %s", code, to)
	}
	if code, page := s.get("/setup/files"); code != http.StatusConflict || !strings.Contains(page, "There is no plant here yet") {
		t.Errorf("%d", code)
	}
}

// A table is looked at, and taken in as it was looked at.
func TestFiles_PreviewAndTake(t *testing.T) {
	s := governed(t)
	before := s.state().FindTruck("H1018").Contract.Due
	table := "truck,contract_due\nH1018,2027-06-30\nH1019," + s.state().FindTruck("H1019").Contract.Due.String() + "\n"
	code, page := s.send("/setup/files/preview", "<script>.csv", table, url.Values{"kind": {"trucks"}})
	if code != http.StatusOK || !strings.Contains(page, "<b>1</b> changed") || !strings.Contains(page, "<b>1</b> as they are") || !strings.Contains(page, before.String()+" → <b>2027-06-30</b>") || strings.Contains(page, "<script>.csv") {
		t.Fatalf("%d %s", code, page)
	}
	if s.state().FindTruck("H1018").Contract.Due != before {
		t.Fatal("the preview has changed the plant")
	}
	form := url.Values{"kind": {"trucks"}, "name": {"t.csv"}, "seen": {hidden(t, page, "seen")}, "kept": {hidden(t, page, "kept")}, "why": {"the county agreed"}}
	if code, page = s.send("/setup/files", "", "", url.Values{"kind": {"trucks"}, "name": {"t.csv"}, "seen": {"1"}, "kept": form["kept"]}); code != http.StatusConflict || !strings.Contains(page, "moved on") || hidden(t, page, "seen") != form.Get("seen") {
		t.Errorf("with an old preview: %d", code)
	}
	code, to := s.send("/setup/files", "", "", form)
	if code != http.StatusSeeOther || !strings.HasPrefix(to, "/revisions/") {
		t.Fatalf("%d %s", code, to)
	}
	if got := s.state().FindTruck("H1018").Contract.Due.String(); got != "2027-06-30" {
		t.Errorf("taken in: %s", got)
	}
	if _, page := s.get(to); !strings.Contains(page, "the county agreed") {
		t.Error("the revision does not say why")
	}
}

// What cannot be taken says so, with the row, and offers no way to take it.
func TestFiles_Refused(t *testing.T) {
	s := governed(t)
	revision := s.revision()
	code, page := s.send("/setup/files/preview", "t.csv", "truck,contract_due\nH1018,soon\n", url.Values{"kind": {"trucks"}})
	if code != http.StatusOK || !strings.Contains(page, "<b>1</b> refused") || !strings.Contains(page, "<code>due</code>") || strings.Contains(page, `name="kept"`) {
		t.Errorf("%d %s", code, page)
	}
	for name, c := range map[string]struct {
		file, content, kind string
		code                int
		says                string
	}{
		"no table":  {"t.csv", "<html>", "trucks", http.StatusUnprocessableEntity, "cannot be taken"},
		"no file":   {"", "", "trucks", http.StatusUnprocessableEntity, "No file was chosen"},
		"no kind":   {"t.csv", "truck\n", "<b>", http.StatusUnprocessableEntity, "Which table"},
		"too large": {"t.csv", strings.Repeat("x", 4<<20+1), "trucks", http.StatusRequestEntityTooLarge, "too large"},
		"huge":      {"t.csv", strings.Repeat("x", 9<<20), "trucks", http.StatusRequestEntityTooLarge, "too large"},
	} {
		if code, page := s.send("/setup/files/preview", c.file, c.content, url.Values{"kind": {c.kind}}); code != c.code || !strings.Contains(page, c.says) {
			t.Errorf("%s: %d, want %d with %q", name, code, c.code, c.says)
		}
	}
	if s.revision() != revision {
		t.Error("something was taken")
	}
}

func (s *site) revision() int64 {
	s.t.Helper()
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return st.Revision.Number
}

// Accounts are made, changed, disabled and let in again; passwords are on no page.
func TestPeople(t *testing.T) {
	s := governed(t)
	form := url.Values{"login": {"odile"}, "name": {"Odile <b>Marr</b>"}, "role": {"reader"}, "password": {"short"}}
	if code, page := s.post("/setup/people", form); code != http.StatusUnprocessableEntity || !strings.Contains(page, `value="odile"`) || strings.Contains(page, `value="short"`) {
		t.Errorf("a short password: %d", code)
	}
	form.Set("password", "green couplings hang by the north door")
	if code, to := s.post("/setup/people", form); code != http.StatusSeeOther || to != "/setup/people/odile" {
		t.Fatalf("%d %s", code, to)
	}
	account := func() *api.Account {
		a, err := s.app.Account(context.Background(), administrator, "odile")
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	for _, c := range []struct {
		form url.Values
		is   func(*api.Account) bool
	}{
		{url.Values{"do": {"change"}, "name": {"Odile Marr"}, "role": {"sales"}}, func(a *api.Account) bool { return a.Name == "Odile Marr" && a.Role == "sales" }},
		{url.Values{"do": {"disable"}}, func(a *api.Account) bool { return a.Disabled }},
		{url.Values{"do": {"enable"}}, func(a *api.Account) bool { return !a.Disabled }},
		{url.Values{"do": {"password"}, "password": {"two ladders lean on the west wall"}}, func(a *api.Account) bool { return a.Role == "sales" }},
		{url.Values{"do": {"logout"}}, func(a *api.Account) bool { return a.Role == "sales" }},
	} {
		if code, to := s.post("/setup/people/odile", c.form); code != http.StatusSeeOther || !c.is(account()) {
			t.Errorf("%v: %d %s, %+v", c.form, code, to, account())
		}
	}
	if code, page := s.post("/setup/people/manager", url.Values{"do": {"disable"}}); code != http.StatusConflict || !strings.Contains(page, "last administrator") {
		t.Errorf("the last administrator: %d", code)
	}
	if code, _ := s.post("/setup/people/odile", url.Values{"do": {"promote"}}); code != http.StatusUnprocessableEntity {
		t.Errorf("%d", code)
	}
	if code, page := s.get("/setup/trail"); code != http.StatusOK || !strings.Contains(page, "it is disabled") || !strings.Contains(page, "<b>refused</b>") || strings.Contains(page, "couplings") {
		t.Error("the trail does not tell of it, or tells too much")
	}
	if _, page := s.get("/setup/people"); !strings.Contains(page, "Odile Marr") || !strings.Contains(page, "sales") {
		t.Error("the list does not tell of it")
	}
}

// One's own password is changed by the door, when it was written twice the same.
func TestPassword(t *testing.T) {
	s := governed(t)
	for _, c := range []struct {
		form url.Values
		code int
		set  string
	}{
		{url.Values{"before": {"right"}, "after": {"a"}, "again": {"b"}}, http.StatusUnprocessableEntity, ""},
		{url.Values{"before": {"wrong"}, "after": {"a"}, "again": {"a"}}, http.StatusForbidden, ""},
		{url.Values{"before": {"right"}, "after": {"a"}, "again": {"a"}}, http.StatusSeeOther, "a"},
	} {
		if code, _ := s.post("/setup/password", c.form); code != c.code || s.door.renewed != c.set {
			t.Errorf("%v: %d, set %q", c.form, code, s.door.renewed)
		}
	}
}

// A token is shown once, lets in, and does not when it is revoked, which is asked about before.
func TestTokens(t *testing.T) {
	s := governed(t)
	code, page := s.post("/setup/tokens", url.Values{"name": {"erp"}, "act": {"read", "report"}, "until": {"2027-01-31"}})
	m := regexp.MustCompile(`value="(wd_[A-Z2-7]+)"`).FindStringSubmatch(page)
	if code != http.StatusOK || m == nil {
		t.Fatalf("%d %s", code, page)
	}
	who, err := s.app.TokenActor(context.Background(), m[1])
	if err != nil || strings.Join(who.Acts, " ") != "read report" {
		t.Errorf("%+v %v", who, err)
	}
	if _, page := s.get("/setup/tokens"); strings.Contains(page, m[1]) || !strings.Contains(page, "erp") {
		t.Error("the token is shown again, or is not listed")
	}
	for _, form := range []url.Values{{"name": {"x"}, "act": {"read"}}, {"name": {"x"}, "until": {"2027-01-31"}}, {"name": {"X !"}, "act": {"read"}, "until": {"2027-01-31"}}} {
		if code, page := s.post("/setup/tokens", form); code != http.StatusUnprocessableEntity || !strings.Contains(page, `class="next"`) {
			t.Errorf("%v: %d", form, code)
		}
	}
	if code, page := s.post("/setup/tokens/erp/revoke", nil); code != http.StatusOK || !strings.Contains(page, "may: read, report") || !strings.Contains(page, "used last on") {
		t.Errorf("asked: %d", code)
	}
	if _, err := s.app.TokenActor(context.Background(), m[1]); err != nil {
		t.Errorf("revoked by being asked about: %v", err)
	}
	if code, _ := s.post("/setup/tokens/erp/revoke", url.Values{"do": {"revoke-sure"}}); code != http.StatusSeeOther {
		t.Errorf("revoked: %d", code)
	}
	if _, err := s.app.TokenActor(context.Background(), m[1]); err == nil {
		t.Error("a revoked token lets in")
	}
}

// An invitation is released as it was seen, to somebody who can be written to.
func TestInvitations(t *testing.T) {
	s := governed(t)
	s.app.InviteAs(api.Inviter{Domain: "plant.example", Name: "Pellanmere visits", Mail: "visits@plant.example"})
	code, page := s.get("/setup/invitations")
	if code != http.StatusOK || !strings.Contains(page, "nobody to write to") {
		t.Fatalf("%d", code)
	}
	p := s.state()
	visit := p.FindVisit("H1018-F")
	customer := p.FindTruck(visit.Truck).Customer
	if code, page := s.post("/setup/contacts/"+customer, url.Values{"do": {"set"}, "mail": {"no address"}}); code != http.StatusUnprocessableEntity || !strings.Contains(page, `value="no address"`) {
		t.Errorf("a wrong address: %d", code)
	}
	if code, _ := s.post("/setup/contacts/"+customer, url.Values{"do": {"set"}, "name": {`Ida "Hose" <b>`}, "mail": {"ida@county.example"}}); code != http.StatusSeeOther {
		t.Fatalf("contact: %d", code)
	}
	if _, page := s.get("/setup/contacts"); !strings.Contains(page, "ida@county.example") || strings.Contains(page, "<b>\"") {
		t.Error("the contact is not listed")
	}
	_, page = s.get("/setup/invitations")
	form := regexp.MustCompile(`action="(/setup/invitations/[^"]+)"><input type="hidden" name="seen" value="([^"]+)"`).FindStringSubmatch(page)
	if form == nil {
		t.Fatal("no message can be released")
	}
	if code, page := s.post(form[1], url.Values{"seen": {"another"}}); code != http.StatusConflict || !strings.Contains(page, "The invitation has changed") {
		t.Errorf("not what was seen: %d", code)
	}
	if code, _ := s.post(form[1], nil); code != http.StatusUnprocessableEntity {
		t.Errorf("nothing was seen: %d", code)
	}
	if code, _ := s.post(form[1], url.Values{"seen": {form[2]}}); code != http.StatusSeeOther {
		t.Errorf("released: %d", code)
	}
	if _, page := s.get("/setup/invitations"); !strings.Contains(page, "about to go out") {
		t.Error("it does not say that it goes out")
	}
	if code, _ := s.post("/setup/contacts/"+customer, url.Values{"do": {"drop"}}); code != http.StatusSeeOther {
		t.Errorf("dropped: %d", code)
	}
	if _, page := s.get("/setup/contacts"); strings.Contains(page, "ida@county.example") {
		t.Error("the contact is still there")
	}
	if code, _ := s.get("/setup/contacts/nobody"); code != http.StatusNotFound {
		t.Errorf("an unknown customer: %d", code)
	}
}

// A webhook is made, paused, gone on with and deleted; its secret is shown once.
func TestWebhooks(t *testing.T) {
	s := governed(t)
	code, page := s.post("/setup/webhooks", url.Values{"url": {"https://erp.example/wetdown"}, "event": {api.NewsPlanAccepted}})
	if code != http.StatusOK || !strings.Contains(page, "whsec_") {
		t.Fatalf("%d", code)
	}
	_, page = s.get("/setup/webhooks")
	at := regexp.MustCompile(`action="(/setup/webhooks/[^"]+)"`).FindStringSubmatch(page)
	if at == nil || strings.Contains(page, "whsec_") {
		t.Fatal("it is not listed, or its secret is shown again")
	}
	for _, c := range []struct{ do, says string }{{"pause", "<strong>paused</strong>"}, {"resume", "told of everything"}, {"drop-sure", "No program elsewhere"}} {
		if c.do == "drop-sure" { // it asks before, and does nothing
			if code, page := s.post(at[1], url.Values{"do": {"drop"}}); code != http.StatusOK || !strings.Contains(page, "This cannot be taken back") || !strings.Contains(page, "https://erp.example/wetdown is told of nothing any more") || !strings.Contains(page, "Pause it") {
				t.Errorf("deleting does not say what it would do: %d", code)
			}
			if _, page := s.get("/setup/webhooks"); !strings.Contains(page, at[1]) {
				t.Fatal("it was deleted by being asked about")
			}
		}
		code, _ := s.post(at[1], url.Values{"do": {c.do}})
		if _, page := s.get("/setup/webhooks"); code != http.StatusSeeOther || !strings.Contains(page, c.says) {
			t.Errorf("%s: %d without %q", c.do, code, c.says)
		}
	}
	for _, form := range []url.Values{{"url": {"http://erp.example/"}, "event": {api.NewsPlanAccepted}}, {"url": {"https://erp.example/"}}} {
		if code, page := s.post("/setup/webhooks", form); code != http.StatusUnprocessableEntity || !strings.Contains(page, `value="`+form.Get("url")+`"`) {
			t.Errorf("%v: %d", form, code)
		}
	}
}

// What happens by itself is set, by whoever may set up.
func TestSettings(t *testing.T) {
	s := governed(t)
	if code, _ := s.post("/setup/settings", url.Values{"accept": {"yes"}}); code != http.StatusSeeOther {
		t.Errorf("%d", code)
	}
	if set, err := s.app.Settings(context.Background(), manager); err != nil || !set.AutoAccept || set.AutoInvite {
		t.Errorf("%+v %v", set, err)
	}
	s.door.who.Acts = api.ActsOf(api.RoleReader)
	if code, page := s.get("/setup/settings"); code != http.StatusOK || strings.Contains(page, "<form method=\"post\" action=\"/setup/settings\"") || !strings.Contains(page, "is accepted at once") {
		t.Errorf("a reader: %d", code)
	}
	if code, _ := s.post("/setup/settings", nil); code != http.StatusForbidden {
		t.Errorf("a reader sets: %d", code)
	}
}

// The first plant is brought in by a page, when nothing is wrong with its file.
func TestPlant_First(t *testing.T) {
	s := emptySite(t)
	if _, page := s.get("/setup"); !strings.Contains(page, "There is no plant here yet") {
		t.Error("it does not say that there is none")
	}
	wrong := strings.Replace(testdata.DemoPlant, "zone: America/Chicago", "zone: <Mars>", 1)
	if code, page := s.send("/setup/plant", "plant.yaml", wrong, nil); code != http.StatusUnprocessableEntity || !strings.Contains(page, "<b>Line ") || !strings.Contains(page, "&lt;Mars&gt;") {
		t.Errorf("a wrong plant: %d", code)
	}
	if code, page := s.send("/setup/plant", "", "", nil); code != http.StatusUnprocessableEntity || !strings.Contains(page, "No file was chosen") {
		t.Errorf("no file: %d", code)
	}
	if code, to := s.send("/setup/plant", "plant.yaml", testdata.DemoPlant, nil); code != http.StatusSeeOther || to != "/setup" || s.state().Name != "Pellanmere Apparatus Works" {
		t.Fatalf("%d %s", code, to)
	}
	if code, page := s.send("/setup/plant", "plant.yaml", testdata.DemoPlant, nil); code != http.StatusOK || !strings.Contains(page, "There is nothing to save") || s.revision() != 1 {
		t.Errorf("the same plant again: %d", code)
	}
}

// The pages of a plant of 200 trucks whose names are meant to break them stay whole, and
// small enough to be sent.
func TestSetup_Nasty(t *testing.T) {
	s := emptySite(t)
	p := generate.Generate(generate.Options{Seed: 1, Trucks: 200, Load: 0.8})
	nasty(p)
	if _, err := s.app.Load(context.Background(), manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	s.door.who = administrator
	name := `</td><script>alert(1)</script>` + strings.Repeat("\u05d0", 60)
	if _, err := s.app.CreateAccount(context.Background(), administrator, api.AccountOrder{Login: "manager", Name: name, Role: api.RoleAdministrator, Password: firstPassword}); err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	table.WriteString("truck,due,<b>odd</b>\n")
	for i := range p.Trucks {
		table.WriteString(p.Trucks[i].ID + ",<script>alert(2)</script>,x\n")
	}
	check := func(name string, code int, page string) {
		if code != http.StatusOK || strings.Contains(page, "<script>alert") || strings.Contains(page, "<b>odd") {
			t.Errorf("%s: %d, or what was typed is in the page as it was", name, code)
		}
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		z.Write([]byte(page))
		z.Close()
		if b.Len() > 100_000 {
			t.Errorf("%s: %d bytes compressed", name, b.Len())
		}
	}
	for _, path := range []string{"/setup", "/setup/files", "/setup/people", "/setup/people/manager", "/setup/tokens", "/setup/password", "/setup/trail", "/setup/invitations", "/setup/contacts", "/setup/contacts/" + p.Customers[0].ID, "/setup/webhooks", "/setup/settings"} {
		code, page := s.get(path)
		check(path, code, page)
	}
	code, page := s.send("/setup/files/preview", "trucks.csv", table.String(), url.Values{"kind": {"trucks"}})
	check("a preview", code, page)
}
