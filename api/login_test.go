package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"sync"
	"testing"
	"time"

	"wetdown/api"
)

// try is an attempt to log in with a wrong password.
func (h *hall) try(login string, from netip.Addr) error {
	_, err := h.Login(ctx, api.LoginOrder{Login: login, Password: "not my password", Remote: from})
	return err
}

// TestLogin_TellsNothing compares what attempts get that fail for different reasons,
// and how much work they take.
func TestLogin_TellsNothing(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	h.create(t, "gone", api.RoleSales)
	if _, err := h.ChangeAccount(ctx, h.admin, "gone", api.AccountChange{Disabled: ptr(true)}); err != nil {
		t.Fatal(err)
	}
	if _, err := h.Admit(ctx, api.Guest{Subject: "https://id.example 7", Login: "guest", Role: api.RoleSales, Remote: near}); err != nil {
		t.Fatal(err)
	}
	work := api.CountHashing(h.App)
	var same string
	for i, c := range []struct{ login, password, trail string }{
		{"kim", "not my password", "accounts/kim A wrong password"},
		{"kim", "", "accounts/kim A wrong password"},
		{"kim", strings.Repeat("long", 100000), "accounts/kim A wrong password"},
		{"kim", "\xff\x00", "accounts/kim A wrong password"},
		{"nobody", good, "accounts A login name that nobody has"},
		{"no body\x00", good, "accounts A login name that nobody has"},
		{strings.Repeat("n", 100000), good, "accounts A login name that nobody has"},
		{"", "", "accounts A login name that nobody has"},
		{"gone", good, "accounts/gone The right password of a disabled account"},
		{"gone", "not my password", "accounts/gone A wrong password"},
		{"guest", good, "accounts/guest A password for an account that has none here"},
		{"guest", "", "accounts/guest A password for an account that has none here"},
	} {
		_, err := h.Login(ctx, api.LoginOrder{Login: c.login, Password: c.password, Remote: near})
		refused(t, err, api.Unknown)
		if same == "" {
			same = err.Error()
		}
		if err.Error() != same {
			t.Errorf("%.20q: got the problem %q, others %q", c.login, err, same)
		}
		if n := work.Load(); n != int64(i+1) {
			t.Errorf("%.20q: %d passwords were hashed after %d attempts", c.login, n, i+1)
		}
		e := h.trail(t)[0]
		if want := c.trail + ", from 192.0.2.1."; e.Subject+" "+e.Detail != want || e.Who != "" || e.Act != "login" || e.Outcome != api.OutcomeRefused || !e.At.Equal(h.now) {
			t.Errorf("%.20q: the trail says %+v, want %q", c.login, e, want)
		}
	}
	h.login(t, " KIM ")
	if n := work.Load(); n != 13 {
		t.Errorf("%d passwords were hashed after 13 attempts", n)
	}
	if e := h.trail(t)[0]; e.Who != "kim" || e.Subject != "accounts/kim" || e.Outcome != api.OutcomeDone || e.Detail != "Logged in from 192.0.2.1." {
		t.Errorf("the trail says %+v", e)
	}
}

// TestLogin_PerLogin: ten attempts, and one more each minute, wherever they come from.
func TestLogin_PerLogin(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	h.create(t, "lee", api.RoleSales)
	from := func(i int) netip.Addr { return netip.MustParseAddr(fmt.Sprintf("203.0.113.%d", i)) }
	for i := range 10 {
		refused(t, h.try("kim", from(i)), api.Unknown)
	}
	h.pass(20 * time.Second)
	err := h.try("kim", from(10))
	refused(t, err, api.Busy)
	if p := api.AsProblem(err); p.Wait != 40*time.Second {
		t.Errorf("to wait %s, want 40s", p.Wait)
	}
	_, err = h.Login(ctx, api.LoginOrder{Login: "KIM", Password: good, Remote: near})
	refused(t, err, api.Busy) // not with the right password either
	h.login(t, "lee")
	h.pass(40 * time.Second)
	refused(t, h.try("kim", from(11)), api.Unknown)
	refused(t, h.try("kim", from(12)), api.Busy)
	h.pass(time.Minute)
	h.login(t, "kim") // which makes all before its owner's mistakes
	for i := range 10 {
		refused(t, h.try("kim", from(20+i)), api.Unknown)
	}
	refused(t, h.try("kim", from(30)), api.Busy)
}

// TestLogin_PerAddress: thirty attempts, and one more each ten seconds, whatever login
// name they have. Those that succeed do not count.
func TestLogin_PerAddress(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	for range 35 {
		h.login(t, "kim")
	}
	for i := range 30 {
		refused(t, h.try(fmt.Sprint("name", i), near), api.Unknown)
	}
	err := h.try("another", netip.MustParseAddr("::ffff:192.0.2.1")) // the same address, written as one of IPv6
	refused(t, err, api.Busy)
	if p := api.AsProblem(err); p.Wait != 10*time.Second {
		t.Errorf("to wait %s, want 10s", p.Wait)
	}
	if _, err := h.Login(ctx, api.LoginOrder{Login: "kim", Password: good, Remote: far}); err != nil {
		t.Error(err)
	}
	h.pass(10 * time.Second)
	refused(t, h.try("another", near), api.Unknown)
	refused(t, h.try("another", near), api.Busy)
}

// TestLogin_TurnedAway: the trail has attempts that were turned away as a number, once
// a minute.
func TestLogin_TurnedAway(t *testing.T) {
	h := newHall(t)
	for range 10 {
		refused(t, h.try("kim", near), api.Unknown)
	}
	before := len(h.trail(t))
	for range 50 {
		refused(t, h.try("kim", far), api.Busy)
	}
	list := h.trail(t)
	if len(list) != before+1 || !strings.Contains(list[0].Detail, ": 1. ") {
		t.Errorf("%d new events, the last %+v", len(list)-before, list[0])
	}
	h.pass(10 * time.Minute)
	refused(t, h.try("other", near), api.Unknown)
	list = h.trail(t)
	if len(list) != before+3 || !strings.Contains(list[1].Detail, ": 49. ") || list[1].Outcome != api.OutcomeRefused {
		t.Errorf("%d new events, the last but one %+v", len(list)-before, list[1])
	}
}

// TestLogin_Rehash: a hash of another cost is replaced as its owner logs in, and only
// then.
func TestLogin_Rehash(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	hash := func() string {
		var body struct{ Hash string }
		if err := json.Unmarshal(h.records(t, api.Query{Kind: api.KindAccount})[0].Body, &body); err != nil {
			t.Fatal(err)
		}
		return body.Hash
	}
	fresh := hash()
	cheap := api.HashWith(good, "a salt of before", 8192, 1, 1, 32)
	err := h.store.Update(ctx, func(tx api.Tx) error {
		r, err := tx.Get(api.KindAccount, "kim")
		if err != nil {
			return err
		}
		r.Body = []byte(strings.Replace(string(r.Body), fresh, cheap, 1))
		_, err = tx.Put(r)
		return err
	})
	if err != nil || hash() != cheap {
		t.Fatal("the cheap hash is not there", err)
	}
	refused(t, h.try("kim", near), api.Unknown)
	if hash() != cheap {
		t.Error("an attempt that failed has replaced the hash")
	}
	h.login(t, "kim")
	now := hash()
	if !strings.HasPrefix(now, "$argon2id$v=19$m=19456,t=2,p=1$") || now == fresh {
		t.Errorf("the hash is %s", now)
	}
	h.login(t, "kim")
	if hash() != now {
		t.Error("a hash of today's cost was replaced")
	}
}

// TestLogin_Disable logs in from many sides while the account is disabled: when that
// has returned, no session is left, and none begins.
func TestLogin_Disable(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	disable := func(yes bool) {
		t.Helper()
		if _, err := h.ChangeAccount(ctx, h.admin, "kim", api.AccountChange{Disabled: ptr(yes)}); err != nil {
			t.Error(err)
		}
	}
	for range 3 {
		begun := make(chan string, 6)
		var wait sync.WaitGroup
		for range cap(begun) {
			wait.Go(func() {
				p, err := h.Login(ctx, api.LoginOrder{Login: "kim", Password: good, Remote: near})
				if err != nil {
					begun <- ""
					if k := api.AsProblem(err).Kind; k != api.Unknown && k != api.Conflict {
						t.Error(err)
					}
					return
				}
				begun <- p.Token
			})
		}
		tokens := []string{<-begun} // some are through, others on their way
		disable(true)
		if n := len(h.records(t, api.Query{Kind: api.KindSession})); n != 0 {
			t.Errorf("%d sessions outlive their account", n)
		}
		wait.Wait()
		close(begun)
		for token := range begun {
			tokens = append(tokens, token)
		}
		if n := len(h.records(t, api.Query{Kind: api.KindSession})); n != 0 {
			t.Errorf("%d sessions were begun on a disabled account", n)
		}
		disable(false)
		for _, token := range tokens {
			_, err := h.Session(ctx, token)
			refused(t, err, api.Unknown)
		}
		h.login(t, "kim") // which empties the bucket of attempts that were in vain
	}
}

// TestLogin_Gone: whoever goes away before the password was looked at is not logged in.
func TestLogin_Gone(t *testing.T) {
	h := newHall(t)
	h.create(t, "kim", api.RoleSales)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	p, err := h.Login(gone, api.LoginOrder{Login: "kim", Password: good, Remote: near})
	if p != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("%+v, %v", p, err)
	}
	if e := h.trail(t)[0]; e.Act != "login" || e.Outcome == api.OutcomeDone || e.Who != "" {
		t.Errorf("the trail says %+v", e)
	}
}
