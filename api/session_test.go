package api_test

import (
	"strings"
	"testing"
	"time"

	"wetdown/api"
)

func TestSession_Idle(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	p := h.login(t, "kim")
	for range 3 {
		h.pass(api.SessionIdle - time.Millisecond)
		if who, err := h.Session(ctx, p.Token); err != nil || who.Name != "kim" || !who.May(api.ActQuote) || who.May(api.ActBook) {
			t.Fatalf("%v, %v", who, err)
		}
	}
	h.pass(api.SessionIdle)
	_, err := h.Session(ctx, p.Token)
	refused(t, err, api.Unknown)
}

func TestSession_Life(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	p := h.login(t, "kim")
	if want := h.now.Add(api.SessionLife); !p.Until.Equal(want) {
		t.Errorf("until %s, want %s", p.Until, want)
	}
	for h.now.Add(time.Hour).Before(p.Until) {
		h.pass(time.Hour)
		if _, err := h.Session(ctx, p.Token); err != nil {
			t.Fatalf("at %s: %v", h.now, err)
		}
	}
	h.pass(time.Hour)
	_, err := h.Session(ctx, p.Token)
	refused(t, err, api.Unknown)

	h.login(t, "kim") // clears away what has expired
	if n := len(h.records(t, api.Query{Kind: api.KindSession})); n != 1 {
		t.Errorf("%d sessions are kept", n)
	}
}

// TestSession_Writes counts how often a session that is in use is written.
func TestSession_Writes(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	p := h.login(t, "kim")
	for range 600 { // ten minutes
		if _, err := h.Session(ctx, p.Token); err != nil {
			t.Fatal(err)
		}
		h.pass(time.Second)
	}
	if v := h.records(t, api.Query{Kind: api.KindSession})[0].Version; v != 10 { // begun, and after 1 to 9 minutes
		t.Errorf("written %d times in ten minutes, want 10", v)
	}
}

func TestSession_Token(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	one := h.login(t, "kim")
	if len(one.Token) != 43 { // 256 bits by 6
		t.Errorf("a token of %d characters", len(one.Token))
	}
	two, err := h.Login(ctx, api.LoginOrder{Login: "kim", Password: good, Remote: near, Before: one.Token})
	if err != nil || two.Token == one.Token {
		t.Fatalf("%+v, %v", two, err)
	}
	last := one.Token[42:]
	for _, token := range []string{
		one.Token, // ended by the login that followed it
		"", "x", one.Token[:42], two.Token + "=", two.Token + "A", " " + two.Token, strings.ToUpper(two.Token),
		two.Token[:42] + "B", // bits beyond the 256
		strings.Repeat(last, 100000), h.records(t, api.Query{Kind: api.KindSession})[0].ID,
	} {
		_, err := h.Session(ctx, token)
		refused(t, err, api.Unknown)
		if err := h.Logout(ctx, token); err != nil {
			t.Error(err)
		}
	}
	if _, err := h.Session(ctx, two.Token); err != nil {
		t.Fatal(err)
	}
	if err := h.Logout(ctx, two.Token); err != nil {
		t.Fatal(err)
	}
	_, err = h.Session(ctx, two.Token)
	refused(t, err, api.Unknown)
	if e := h.trail(t)[0]; e.Who != "kim" || e.Detail != "Logged out." {
		t.Errorf("the trail says %+v", e)
	}
}

func TestSession_Everywhere(t *testing.T) {
	h := newHall(t)
	kim := h.create(t, "kim", api.RoleSales)
	h.create(t, "lee", api.RoleSales)
	passes := []*api.Pass{h.login(t, "kim"), h.login(t, "kim"), h.login(t, "lee")}
	if err := h.LogoutEverywhere(ctx, kim, "Kim"); err != nil {
		t.Fatal(err)
	}
	for i, p := range passes {
		if _, err := h.Session(ctx, p.Token); (err == nil) != (i == 2) {
			t.Errorf("session %d: %v", i, err)
		}
	}
	refused(t, h.LogoutEverywhere(ctx, kim, "lee"), api.Forbidden)
	refused(t, h.LogoutEverywhere(ctx, h.admin, "nobody"), api.NotFound)
	refused(t, h.LogoutEverywhere(ctx, api.Actor{}, ""), api.Unknown)
}

// TestSession_Many: of one account, twenty sessions; the oldest gives way.
func TestSession_Many(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	var passes []*api.Pass
	for range 22 {
		passes = append(passes, h.login(t, "kim"))
	}
	for i, p := range passes {
		if _, err := h.Session(ctx, p.Token); (err == nil) != (i >= 2) {
			t.Errorf("session %d: %v", i, err)
		}
	}
}
