package api_test

import (
	"context"
	"errors"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
)

// A hall is the application on an empty database, with a clock that stands still until
// it is moved, and an administrator.
type hall struct {
	*api.App
	store *store.Store
	file  string
	admin api.Actor

	mu  sync.Mutex
	now time.Time
}

var (
	ctx  = context.Background()
	near = netip.MustParseAddr("192.0.2.1") // of the blocks for documentation, RFC 5737 and 3849
	far  = netip.MustParseAddr("2001:db8::1")
)

// good is a password that is taken.
const good = "the pump panel hums"

func newHall(t testing.TB) *hall {
	t.Helper()
	h := &hall{file: filepath.Join(t.TempDir(), "wetdown.db"), now: time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC), admin: api.Actor{Name: "root", Acts: api.Acts()}}
	var err error
	if h.store, err = store.Open(ctx, h.file); err != nil {
		t.Fatal(err)
	}
	h.App = api.New(h.store, api.Options{Clock: h.clock})
	t.Cleanup(func() {
		if err := errors.Join(h.store.Check(ctx), h.App.Close(), h.store.Close()); err != nil {
			t.Error(err)
		}
	})
	return h
}

func (h *hall) clock() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now
}

func (h *hall) pass(d time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.now = h.now.Add(d)
}

// create makes an account with the good password.
func (h *hall) create(t testing.TB, login, role string) api.Actor {
	t.Helper()
	if _, err := h.CreateAccount(ctx, h.admin, api.AccountOrder{Login: login, Name: "Somebody", Role: role, Password: good}); err != nil {
		t.Fatal(err)
	}
	return api.Actor{Name: login, Acts: api.ActsOf(role)}
}

func (h *hall) login(t testing.TB, login string) *api.Pass {
	t.Helper()
	p, err := h.Login(ctx, api.LoginOrder{Login: login, Password: good, Remote: near})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// records reads records as they are kept.
func (h *hall) records(t testing.TB, q api.Query) (list []api.Record) {
	t.Helper()
	err := h.store.View(ctx, func(tx api.Tx) (err error) {
		list, err = tx.List(q)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// trail is the trail, the newest first.
func (h *hall) trail(t testing.TB) []api.Event {
	t.Helper()
	list, err := h.Trail(ctx, h.admin, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// refused checks that err is a problem of a kind, with a next step.
func refused(t testing.TB, err error, kind api.Kind) {
	t.Helper()
	var p *api.Problem
	if !errors.As(err, &p) || p.Kind != kind || p.Title == "" || p.Next == "" {
		t.Errorf("got %v, want a problem of kind %d with a next step", err, kind)
	}
}

func ptr[T any](v T) *T { return &v }

// TestAct_Roles writes down who may do what.
func TestAct_Roles(t *testing.T) {
	table := `
		act     reader sales coordinator manager administrator
		read    yes    yes   yes         yes     yes
		quote   no     yes   yes         yes     yes
		book    no     no    yes         yes     yes
		report  no     no    yes         yes     yes
		decide  no     no    no          yes     yes
		set_up  no     no    no          yes     yes
		manage  no     no    no          no      yes`
	lines := strings.Split(strings.TrimSpace(table), "\n")
	roles := strings.Fields(lines[0])[1:]
	if !slices.Equal(roles, api.Roles()) || len(lines)-1 != len(api.Acts()) {
		t.Fatalf("the table has the roles %v and %d acts, and there are %v and %v", roles, len(lines)-1, api.Roles(), api.Acts())
	}
	h := newHall(t)
	for n, role := range roles {
		h.create(t, role, role)
		who, err := h.Session(ctx, h.login(t, role).Token)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range lines[1:] {
			cells := strings.Fields(line)
			if cells[0] != api.Acts()[i] {
				t.Fatalf("line %d of the table is about %s", i+1, cells[0])
			}
			if may := cells[n+1] == "yes"; who.May(cells[0]) != may {
				t.Errorf("%s may %s: got %t, want %t", role, cells[0], who.May(cells[0]), may)
			}
		}
	}
	if api.ActsOf("captain") != nil || (api.Actor{}).May(api.ActRead) {
		t.Error("a role that does not exist may do something, or nobody may")
	}
}

// TestAccount_Manage has every role, nobody, and a token try what takes the right to manage.
func TestAccount_Manage(t *testing.T) {
	h := newHall(t)
	h.create(t, "victim", api.RoleReader)
	uses := []struct {
		name string
		use  func(who api.Actor) error
	}{
		{"create", func(who api.Actor) error {
			_, err := h.CreateAccount(ctx, who, api.AccountOrder{Login: "by-" + who.Name, Name: "x", Role: api.RoleReader, Password: good})
			return err
		}},
		{"change", func(who api.Actor) error {
			_, err := h.ChangeAccount(ctx, who, "victim", api.AccountChange{Name: ptr("of " + who.Name)})
			return err
		}},
		{"list", func(who api.Actor) error { _, err := h.Accounts(ctx, who, api.Page{}); return err }},
		{"look", func(who api.Actor) error { _, err := h.Account(ctx, who, "victim"); return err }},
		{"log out", func(who api.Actor) error { return h.LogoutEverywhere(ctx, who, "victim") }},
		{"trail", func(who api.Actor) error { _, err := h.Trail(ctx, who, 0, 1); return err }},
	}
	for _, role := range api.Roles() {
		for _, u := range uses {
			err := u.use(who(role))
			switch {
			case role == api.RoleAdministrator && err != nil:
				t.Errorf("%s by %s: %v", u.name, role, err)
			case role != api.RoleAdministrator:
				refused(t, err, api.Forbidden)
			}
		}
	}
	for _, u := range uses {
		refused(t, u.use(api.Actor{}), api.Unknown)
		refused(t, u.use(api.Actor{Name: "token:all-but", Acts: []string{api.ActRead, api.ActSetUp}}), api.Forbidden)
	}
	var said int
	for _, e := range h.trail(t) {
		if e.Outcome == api.OutcomeRefused && e.Who == api.RoleReader && strings.Contains(e.Detail, "manage") {
			said++
		}
	}
	if said != 3 { // create, change, log out; looking leaves no trace
		t.Errorf("the trail has %d refusals of the reader, want 3", said)
	}
}

func TestAccount_Create(t *testing.T) {
	h := newHall(t)
	order := api.AccountOrder{Login: " Kim.Lee ", Name: "Kim Lee", Role: api.RoleSales, Password: good}
	made, err := h.CreateAccount(ctx, h.admin, order)
	if err != nil {
		t.Fatal(err)
	}
	if made.Login != "kim.lee" || made.Name != "Kim Lee" || made.Role != api.RoleSales || made.Disabled || made.Outside || !made.Created.Equal(h.now) {
		t.Errorf("got %+v", made)
	}
	_, err = h.CreateAccount(ctx, h.admin, order)
	refused(t, err, api.Conflict)
	for _, o := range []api.AccountOrder{
		{Login: "", Name: "x", Role: api.RoleSales, Password: good},
		{Login: "kim lee", Name: "x", Role: api.RoleSales, Password: good},
		{Login: "kim@plant.example", Name: "x", Role: api.RoleSales, Password: good},
		{Login: "token:kim", Name: "x", Role: api.RoleSales, Password: good},
		{Login: "wetdown", Name: "x", Role: api.RoleSales, Password: good},
		{Login: strings.Repeat("k", 65), Name: "x", Role: api.RoleSales, Password: good},
		{Login: "a", Name: "", Role: api.RoleSales, Password: good},
		{Login: "a", Name: "x\ny", Role: api.RoleSales, Password: good},
		{Login: "a", Name: strings.Repeat("x", 101), Role: api.RoleSales, Password: good},
		{Login: "a", Name: "x", Role: "captain", Password: good},
		{Login: "a", Name: "x", Role: api.RoleSales, Password: "short"},
	} {
		_, err := h.CreateAccount(ctx, h.admin, o)
		refused(t, err, api.Invalid)
	}
	list, err := h.Accounts(ctx, h.admin, api.Page{})
	if err != nil || len(list) != 1 {
		t.Errorf("got %d accounts, %v", len(list), err)
	}
}

func TestAccount_Change(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleSales)
	pass := h.login(t, "kim")
	change := func(c api.AccountChange) *api.Account {
		t.Helper()
		a, err := h.ChangeAccount(ctx, h.admin, "kim", c)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	may := func(act string) bool {
		t.Helper()
		who, err := h.Session(ctx, pass.Token)
		if err != nil {
			t.Fatal(err)
		}
		return who.May(act)
	}

	change(api.AccountChange{Role: ptr(api.RoleManager), Name: ptr("Kim")})
	if !may(api.ActDecide) {
		t.Error("a new role does not reach a session under way")
	}
	change(api.AccountChange{Role: ptr(api.RoleReader)})
	if may(api.ActQuote) {
		t.Error("a role that is gone still counts in a session under way")
	}
	if a, err := h.Account(ctx, kim, "KIM"); err != nil || a.Name != "Kim" || a.Role != api.RoleReader {
		t.Errorf("one's own account: %+v, %v", a, err)
	}
	_, err := h.Account(ctx, api.Actor{}, "")
	refused(t, err, api.Unknown)
	for _, login := range []string{"nobody", "", "no\x00body", "\xff"} {
		_, err = h.ChangeAccount(ctx, h.admin, login, api.AccountChange{})
		refused(t, err, api.NotFound)
	}
	_, err = h.ChangeAccount(ctx, h.admin, "kim", api.AccountChange{Name: ptr("other"), Role: ptr("captain")})
	refused(t, err, api.Invalid)
	if a, _ := h.Account(ctx, kim, "kim"); a.Name != "Kim" {
		t.Error("half of a change was made")
	}

	const other = "another pump panel"
	change(api.AccountChange{Password: ptr(other)})
	_, err = h.Session(ctx, pass.Token)
	refused(t, err, api.Unknown) // a new password ends sessions
	_, err = h.Login(ctx, api.LoginOrder{Login: "kim", Password: good, Remote: near})
	refused(t, err, api.Unknown)
	change(api.AccountChange{Password: ptr(good)})
	pass = h.login(t, "kim")
	if a := change(api.AccountChange{Disabled: ptr(true)}); !a.Disabled {
		t.Error("not disabled")
	}
	_, err = h.Session(ctx, pass.Token)
	refused(t, err, api.Unknown)
	_, err = h.Login(ctx, api.LoginOrder{Login: "kim", Password: good, Remote: near})
	refused(t, err, api.Unknown)
	change(api.AccountChange{Disabled: ptr(false)})
	_, err = h.Session(ctx, pass.Token)
	refused(t, err, api.Unknown) // it does not come back
	h.login(t, "kim")
}

func TestAccount_OwnPassword(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleAdministrator)
	one, two := h.login(t, "kim"), h.login(t, "kim")
	const after = "a longer hose for all"

	_, err := h.ChangePassword(ctx, kim, "not my password", after, near)
	refused(t, err, api.Forbidden)
	_, err = h.ChangePassword(ctx, kim, good, "short", near)
	refused(t, err, api.Invalid)
	_, err = h.ChangePassword(ctx, kim, good, good, near)
	refused(t, err, api.Invalid)
	_, err = h.ChangeAccount(ctx, kim, "kim", api.AccountChange{Password: ptr(after)})
	refused(t, err, api.Conflict) // not without the password before
	_, err = h.ChangePassword(ctx, api.Actor{Name: "token:x", Acts: api.Acts()}, good, after, near)
	refused(t, err, api.Forbidden)
	if _, err := h.Session(ctx, one.Token); err != nil {
		t.Fatal(err)
	}

	pass, err := h.ChangePassword(ctx, kim, good, after, near)
	if err != nil {
		t.Fatal(err)
	}
	for _, old := range []*api.Pass{one, two} {
		_, err := h.Session(ctx, old.Token)
		refused(t, err, api.Unknown)
	}
	if who, err := h.Session(ctx, pass.Token); err != nil || who.Name != "kim" {
		t.Errorf("the new session: %v, %v", who, err)
	}
	for range 9 { // the same number of attempts as to log in: one is left of ten
		_, err = h.ChangePassword(ctx, kim, "not my password", "whatever it may be", near)
		refused(t, err, api.Forbidden)
	}
	_, err = h.ChangePassword(ctx, kim, after, good, near)
	if err != nil {
		t.Fatal(err)
	}
	for range 10 {
		_, err = h.ChangePassword(ctx, kim, "not my password", "whatever it may be", near)
		refused(t, err, api.Forbidden)
	}
	_, err = h.ChangePassword(ctx, kim, good, after, near)
	refused(t, err, api.Busy)
}

// TestAccount_LastAdministrator tries every way to be left without one.
func TestAccount_LastAdministrator(t *testing.T) {
	h := newHall(t)
	h.create(t, "ann", api.RoleAdministrator)
	h.create(t, "bob", api.RoleAdministrator)
	h.create(t, "kim", api.RoleManager)
	out := func(login string, c api.AccountChange) error {
		_, err := h.ChangeAccount(ctx, h.admin, login, c)
		return err
	}
	if err := out("bob", api.AccountChange{Disabled: ptr(true)}); err != nil {
		t.Fatal(err)
	}
	refused(t, out("ann", api.AccountChange{Disabled: ptr(true)}), api.Conflict)
	refused(t, out("ann", api.AccountChange{Role: ptr(api.RoleManager)}), api.Conflict)
	if err := out("bob", api.AccountChange{Role: ptr(api.RoleReader), Disabled: ptr(false)}); err != nil { // a disabled one may be demoted
		t.Fatal(err)
	}
	refused(t, out("ann", api.AccountChange{Role: ptr(api.RoleSales)}), api.Conflict)
	if err := errors.Join(
		out("ann", api.AccountChange{Name: ptr("Ann"), Role: ptr(api.RoleAdministrator), Disabled: ptr(false)}),
		out("kim", api.AccountChange{Role: ptr(api.RoleAdministrator)}),
		out("ann", api.AccountChange{Role: ptr(api.RoleReader)}),
	); err != nil {
		t.Error(err)
	}
}

// TestAccount_RacingDemotions has the two last administrators put each other out at
// the same time, in every pair of ways: exactly one succeeds.
func TestAccount_RacingDemotions(t *testing.T) {
	h := newHall(t)
	pair := []api.Actor{h.create(t, "ann", api.RoleAdministrator), h.create(t, "bob", api.RoleAdministrator)}
	ways := []api.AccountChange{{Disabled: ptr(true)}, {Role: ptr(api.RoleReader)}}
	for round := range 12 {
		errs := make([]error, 2)
		var wait sync.WaitGroup
		begin := make(chan struct{})
		for i := range pair {
			wait.Go(func() {
				<-begin
				_, errs[i] = h.ChangeAccount(ctx, pair[i], pair[1-i].Name, ways[(round>>i)%2])
			})
		}
		close(begin)
		wait.Wait()
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("round %d: %v and %v", round, errs[0], errs[1])
		}
		refused(t, errors.Join(errs...), api.Conflict)
		list := h.records(t, api.Query{Kind: api.KindAccount, State: "active", Ref: api.RoleAdministrator})
		if len(list) != 1 {
			t.Fatalf("round %d: %d administrators are left", round, len(list))
		}
		for _, who := range pair {
			if _, err := h.ChangeAccount(ctx, h.admin, who.Name, api.AccountChange{Disabled: ptr(false), Role: ptr(api.RoleAdministrator)}); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestAccount_FirstStart starts several programs on one empty database.
func TestAccount_FirstStart(t *testing.T) {
	h := newHall(t)
	type start struct {
		login, password string
		made            bool
	}
	starts := make([]start, 4)
	var wait sync.WaitGroup
	for i := range starts {
		wait.Go(func() {
			var err error
			if starts[i].login, starts[i].password, starts[i].made, err = h.FirstStart(ctx); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
	slices.SortFunc(starts, func(x, y start) int { return len(y.password) - len(x.password) })
	first := starts[0]
	if !first.made || first.login == "" || len(first.password) < 26 { // 26 letters of 32: 130 bits
		t.Fatalf("nobody made an administrator: %+v", starts)
	}
	for _, s := range starts[1:] {
		if s != (start{}) {
			t.Errorf("another start made one, too: %+v", s)
		}
	}
	p, err := h.Login(ctx, api.LoginOrder{Login: first.login, Password: first.password, Remote: near})
	if err != nil || !p.Who.May(api.ActManage) {
		t.Fatalf("%+v, %v", p, err)
	}
	if err := api.CheckPassword(first.password, first.login); err != nil {
		t.Errorf("its password would not be taken: %v", err)
	}
	if _, _, made, err := h.FirstStart(ctx); made || err != nil {
		t.Errorf("a later start: %t, %v", made, err)
	}
}

// TestAccount_Secrets looks for passwords and tokens in every byte of the database.
func TestAccount_Secrets(t *testing.T) {
	h := newHall(t)
	_, first, _, err := h.FirstStart(ctx)
	if err != nil {
		t.Fatal(err)
	}
	kim := h.create(t, "kim", api.RoleManager)
	pass := h.login(t, "kim")
	_, token, err := h.MakeToken(ctx, kim, api.TokenOrder{Name: "erp", Acts: []string{api.ActRead}, Until: h.now.Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	const slip = "my own password in the wrong field"
	_, err = h.Login(ctx, api.LoginOrder{Login: slip, Password: "a wrong password indeed", Remote: near})
	refused(t, err, api.Unknown)
	_, err = h.CreateAccount(ctx, h.admin, api.AccountOrder{Login: "lee", Name: "Lee", Role: api.RoleSales, Password: "kim"})
	refused(t, err, api.Invalid)
	if err := h.Record(ctx, api.Event{Who: "kim", Act: api.ActRead, Subject: "trucks/" + token, Outcome: api.OutcomeRefused, Detail: "There is no truck " + token + "."}); err != nil {
		t.Fatal(err)
	}
	found := false
	for _, name := range []string{h.file, h.file + "-wal"} {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		found = found || strings.Contains(string(text), "$argon2id$")
		for _, secret := range []string{first, good, pass.Token, token, token[3:], slip, "a wrong password indeed"} {
			if strings.Contains(string(text), secret) {
				t.Errorf("%s has the secret %q", filepath.Base(name), secret)
			}
		}
	}
	if !found {
		t.Error("not even hashes are found: this test looks in the wrong place")
	}
}
