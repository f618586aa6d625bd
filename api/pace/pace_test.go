package pace

import (
	"fmt"
	"net/netip"
	"testing"
	"time"
)

// A bucket gives its tokens at once, then one each so often, and never has more than
// when it was full.
func TestBuckets(t *testing.T) {
	b, now := New(3, time.Minute, 100), time.Unix(1000, 0)
	for i := range 3 {
		if w := b.Wait("a", now); w != 0 {
			t.Fatalf("token %d: wait %s", i, w)
		}
		b.Take("a", now)
	}
	if w := b.Wait("a", now); w != time.Minute {
		t.Errorf("empty: wait %s", w)
	}
	if w := b.Wait("a", now.Add(40*time.Second)); w != 20*time.Second {
		t.Errorf("later: wait %s", w)
	}
	if w := b.Wait("b", now); w != 0 {
		t.Errorf("another name: wait %s", w)
	}
	b.Give("a", now)
	if w := b.Wait("a", now); w != 0 {
		t.Errorf("given back: wait %s", w)
	}
	now = now.Add(time.Hour)
	for range 3 {
		b.Take("a", now)
	}
	if w := b.Wait("a", now); w != time.Minute {
		t.Errorf("an hour later it held more than three: wait %s", w)
	}
	if b.Fill("a"); b.Wait("a", now) != 0 || b.Len() != 0 {
		t.Error("it is not full")
	}
}

// Names of strangers take bounded memory, and push nobody out who has no token left.
func TestBuckets_Flood(t *testing.T) {
	b, now := New(10, time.Minute, 10_000), time.Unix(0, 0)
	for range 10 {
		b.Take("victim", now)
	}
	for i := range 40_000 {
		b.Take(fmt.Sprint("stranger", i), now)
	}
	if b.Len() > 10_000 || b.Wait("victim", now) == 0 {
		t.Errorf("%d names are remembered; the victim waits %s", b.Len(), b.Wait("victim", now))
	}
}

func TestAddress(t *testing.T) {
	for _, c := range []struct{ address, want string }{
		{"192.0.2.1", "192.0.2.1"},
		{"::ffff:192.0.2.1", "192.0.2.1"},
		{"2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"},
		{"fe80::1%eth0", "fe80::/64"},
	} {
		if got := Address(netip.MustParseAddr(c.address)); got != c.want {
			t.Errorf("%s is counted as %s, want %s", c.address, got, c.want)
		}
	}
}
