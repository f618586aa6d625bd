package api_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/api"
)

func (h *hall) token(t testing.TB, who api.Actor, name string, acts ...string) string {
	t.Helper()
	_, text, err := h.MakeToken(ctx, who, api.TokenOrder{Name: name, Acts: acts, Until: h.now.AddDate(1, 0, 0)})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestToken_Life(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleManager)
	until := h.now.Add(48 * time.Hour)
	made, text, err := h.MakeToken(ctx, kim, api.TokenOrder{Name: "erp", Acts: []string{api.ActReport, api.ActRead, api.ActRead}, Until: until})
	if err != nil {
		t.Fatal(err)
	}
	if made.Name != "erp" || made.Maker != "kim" || !slices.Equal(made.Acts, []string{api.ActRead, api.ActReport}) || !made.Until.Equal(until) || !made.Used.IsZero() || !strings.HasPrefix(text, "wd_") {
		t.Errorf("%+v, %s", made, text)
	}
	day := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	for range 3 {
		who, err := h.TokenActor(ctx, text)
		if err != nil || who.Name != "token:erp" || !slices.Equal(who.Acts, made.Acts) {
			t.Fatalf("%+v, %v", who, err)
		}
	}
	list, err := h.Tokens(ctx, kim)
	if err != nil || len(list) != 1 || !list[0].Used.Equal(day) {
		t.Errorf("%+v, %v", list, err)
	}
	if v := h.records(t, api.Query{Kind: api.KindToken})[0].Version; v != 2 { // made, and used that day
		t.Errorf("written %d times", v)
	}
	h.pass(48*time.Hour - time.Millisecond)
	if _, err := h.TokenActor(ctx, text); err != nil {
		t.Error(err)
	}
	if list, _ = h.Tokens(ctx, kim); !list[0].Used.Equal(day.AddDate(0, 0, 2)) {
		t.Errorf("used on %s", list[0].Used)
	}
	h.pass(time.Millisecond)
	_, err = h.TokenActor(ctx, text)
	refused(t, err, api.Unknown)
}

func TestToken_Order(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleCoordinator)
	h.token(t, kim, "erp", api.ActRead)
	good := api.TokenOrder{Name: "crm", Acts: []string{api.ActRead}, Until: h.now.Add(time.Hour)}
	for _, c := range []struct {
		kind   api.Kind
		change func(*api.TokenOrder)
	}{
		{api.Invalid, func(o *api.TokenOrder) { o.Name = "" }},
		{api.Invalid, func(o *api.TokenOrder) { o.Name = "the ERP" }},
		{api.Invalid, func(o *api.TokenOrder) { o.Acts = nil }},
		{api.Invalid, func(o *api.TokenOrder) { o.Acts = []string{"fly"} }},
		{api.Forbidden, func(o *api.TokenOrder) { o.Acts = []string{api.ActRead, api.ActDecide} }},
		{api.Forbidden, func(o *api.TokenOrder) { o.Acts = api.Acts() }},
		{api.Invalid, func(o *api.TokenOrder) { o.Until = time.Time{} }},
		{api.Invalid, func(o *api.TokenOrder) { o.Until = h.now }},
		{api.Invalid, func(o *api.TokenOrder) { o.Until = h.now.AddDate(1, 0, 0).Add(time.Millisecond) }},
		{api.Conflict, func(o *api.TokenOrder) { o.Name = "erp" }},
	} {
		o := good
		c.change(&o)
		_, text, err := h.MakeToken(ctx, kim, o)
		refused(t, err, c.kind)
		if text != "" {
			t.Error("a token was given out all the same")
		}
	}
	_, _, err := h.MakeToken(ctx, api.Actor{}, good)
	refused(t, err, api.Unknown)
	_, _, err = h.MakeToken(ctx, api.Service, good) // no account
	refused(t, err, api.Forbidden)
	byToken, err := h.TokenActor(ctx, h.token(t, kim, "mother", api.ActRead))
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = h.MakeToken(ctx, byToken, good)
	refused(t, err, api.Forbidden)
	for i := range 48 {
		h.token(t, kim, fmt.Sprint("t", i), api.ActRead)
	}
	_, _, err = h.MakeToken(ctx, kim, good)
	refused(t, err, api.Conflict) // fifty are live
}

// TestToken_FollowsAccount: a token may never do more than its maker may now.
func TestToken_FollowsAccount(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleAdministrator)
	h.create(t, "ann", api.RoleAdministrator)
	text := h.token(t, kim, "erp", api.ActRead, api.ActBook, api.ActManage)
	for _, c := range []struct {
		change api.AccountChange
		want   []string // nil: dead
	}{
		{api.AccountChange{Role: ptr(api.RoleCoordinator)}, []string{api.ActRead, api.ActBook}},
		{api.AccountChange{Role: ptr(api.RoleReader)}, []string{api.ActRead}},
		{api.AccountChange{Disabled: ptr(true)}, nil},
		{api.AccountChange{Role: ptr(api.RoleManager)}, nil},
		{api.AccountChange{Disabled: ptr(false)}, []string{api.ActRead, api.ActBook}},
		{api.AccountChange{Role: ptr(api.RoleAdministrator)}, []string{api.ActRead, api.ActBook, api.ActManage}},
	} {
		if _, err := h.ChangeAccount(ctx, h.admin, "kim", c.change); err != nil {
			t.Fatal(err)
		}
		who, err := h.TokenActor(ctx, text)
		if c.want == nil {
			refused(t, err, api.Unknown)
		}
		if !slices.Equal(who.Acts, c.want) {
			t.Errorf("after %+v it may %v, want %v", c.change, who.Acts, c.want)
		}
	}
}

func TestToken_Revoke(t *testing.T) {
	h := newHall(t)
	kim, lee := h.create(t, "kim", api.RoleSales), h.create(t, "lee", api.RoleSales)
	erp, crm := h.token(t, kim, "erp", api.ActRead), h.token(t, kim, "crm", api.ActRead)
	mine := func(who api.Actor) (n int) {
		t.Helper()
		list, err := h.Tokens(ctx, who)
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	if a, b, c := mine(kim), mine(lee), mine(h.admin); a != 2 || b != 0 || c != 2 {
		t.Errorf("kim sees %d tokens, lee %d, the administrator %d", a, b, c)
	}
	revoke := func(who api.Actor, name string) error {
		_, err := h.RevokeToken(ctx, who, name)
		return err
	}
	refused(t, revoke(lee, "erp"), api.Forbidden)
	refused(t, revoke(lee, "none"), api.Forbidden) // as for one that is there
	refused(t, revoke(api.Actor{}, "erp"), api.Unknown)
	refused(t, revoke(h.admin, "none"), api.NotFound)
	if err := errors.Join(revoke(kim, "erp"), revoke(h.admin, "crm")); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{erp, crm} {
		_, err := h.TokenActor(ctx, text)
		refused(t, err, api.Unknown)
	}
	refused(t, revoke(kim, "erp"), api.Conflict)
	_, _, err := h.MakeToken(ctx, lee, api.TokenOrder{Name: "erp", Acts: []string{api.ActRead}, Until: h.now.Add(time.Hour)})
	refused(t, err, api.Conflict) // its name stays with it
}

func FuzzTokenActor(f *testing.F) {
	h := newHall(f)
	kim := h.create(f, "kim", api.RoleManager)
	text := h.token(f, kim, "erp", api.ActRead)
	session := h.login(f, "kim").Token
	id := h.records(f, api.Query{Kind: api.KindToken})[0].Ref
	for _, seed := range []string{text, text[:len(text)-1], text + "A", strings.ToLower(text), "wd_", "", "wd_" + strings.Repeat("A", 26), session, id, "Bearer " + text, "\x00\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if who, err := h.TokenActor(ctx, s); s != text {
			refused(t, err, api.Unknown)
			if who.Name != "" || who.Acts != nil {
				t.Errorf("%q: %+v", s, who)
			}
		} else if err != nil {
			t.Error(err)
		}
		if who, err := h.Session(ctx, s); s != session {
			refused(t, err, api.Unknown)
			if who.Name != "" || who.Acts != nil {
				t.Errorf("%q: %+v", s, who)
			}
		} else if err != nil {
			t.Error(err)
		}
	})
}
