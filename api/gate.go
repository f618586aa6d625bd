package api

import (
	"cmp"
	"context"
	"maps"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// A gate bounds how often passwords can be tried. What it knows is in memory, so a
// process that starts anew begins with full buckets, and each process has its own.
// Nobody is shut out for good, since that would let anybody shut out anybody: NIST SP
// 800-63B (revision 3), 5.2.2, bounds failures in a row to 100 for one account, and
// this bounds them to one a minute.
type gate struct {
	mu        sync.Mutex
	logins    buckets
	addresses buckets
	turned    int       // attempts turned away that the trail does not know of
	told      time.Time // when the trail was told last

	hashing chan struct{} // a place for each password being hashed, which takes 19 MiB
}

// How often a password can be tried (common practice, no source). A whole plant may
// come from one address; an attempt that succeeds gives back what it took.
func newGate() *gate {
	return &gate{
		logins:    buckets{burst: 10, every: time.Minute},
		addresses: buckets{burst: 30, every: 10 * time.Second},
		hashing:   make(chan struct{}, 2),
	}
}

// Buckets hold tokens by name: `burst` each when full, one more `every` so often.
type buckets struct {
	burst int
	every time.Duration
	full  map[string]time.Time // when the bucket is full again; a name that is not there has a full one
}

// mostBuckets bounds the memory that names of strangers take.
const mostBuckets = 10000

// wait is how long until the bucket has a token.
func (b *buckets) wait(name string, now time.Time) time.Duration {
	full := b.full[name]
	if full.Before(now) {
		full = now
	}
	return max(0, full.Add(b.every).Sub(now)-time.Duration(b.burst)*b.every)
}

// take takes a token out, which must be there.
func (b *buckets) take(name string, now time.Time) {
	if b.full == nil {
		b.full = map[string]time.Time{}
	}
	full, known := b.full[name]
	if !known && len(b.full) >= mostBuckets {
		b.clear(now)
	}
	if full.Before(now) {
		full = now
	}
	b.full[name] = full.Add(b.every)
}

// clear forgets the buckets that are full again and, to make room in any case, the
// fullest quarter.
func (b *buckets) clear(now time.Time) {
	names := slices.SortedFunc(maps.Keys(b.full), func(x, y string) int {
		return cmp.Or(b.full[x].Compare(b.full[y]), cmp.Compare(x, y))
	})
	for i, name := range names {
		if i < len(names)/4 || !b.full[name].After(now) {
			delete(b.full, name)
		}
	}
}

// give puts a token back.
func (b *buckets) give(name string, now time.Time) {
	if full := b.full[name].Add(-b.every); full.After(now) {
		b.full[name] = full
	} else {
		delete(b.full, name)
	}
}

// from says where an attempt comes from.
func from(remote netip.Addr) string {
	if !remote.IsValid() {
		return "from an address that is not known"
	}
	return "from " + remote.Unmap().String()
}

// addressName is what attempts from an address are counted under: an IPv6 network of
// 64 bits is one customer.
func addressName(remote netip.Addr) string {
	remote = remote.Unmap().WithZone("")
	if remote.Is6() {
		p, _ := remote.Prefix(64)
		return p.String()
	}
	return remote.String()
}

// enter lets an attempt through, or says how long to wait.
func (g *gate) enter(login string, remote netip.Addr, now time.Time) (wait time.Duration) {
	g.mu.Lock()
	defer g.mu.Unlock()
	address := addressName(remote)
	if wait = max(g.logins.wait(login, now), g.addresses.wait(address, now)); wait > 0 {
		g.turned++
		return wait
	}
	g.logins.take(login, now)
	g.addresses.take(address, now)
	return 0
}

// passed is told of an attempt that succeeded: those before it were its owner's
// mistakes.
func (g *gate) passed(login string, remote netip.Addr, now time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	delete(g.logins.full, login)
	g.addresses.give(addressName(remote), now)
}

// untold is how many attempts were turned away since the trail was told last, 0 when
// that is less than a minute ago.
func (g *gate) untold(now time.Time) (n int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.turned > 0 && now.Sub(g.told) >= time.Minute {
		n, g.turned, g.told = g.turned, 0, now
	}
	return n
}

// tried reports whether a password has a hash, and whether the hash is of today's
// cost. It waits while too many passwords are being tried.
func (g *gate) tried(ctx context.Context, text, password string) (is, fresh bool, err error) {
	h, err := parseHash(text)
	if err != nil {
		return false, false, err
	}
	err = g.work(ctx, func() { is = h.is(password) })
	return is, h.cost == costNow && len(h.salt) == saltBytes && len(h.key) == keyBytes, err
}

// hash hashes a password that is chosen now.
func (g *gate) hash(ctx context.Context, password string) (text string, err error) {
	err = g.work(ctx, func() { text = newHash(password) })
	return text, err
}

func (g *gate) work(ctx context.Context, f func()) error {
	select {
	case g.hashing <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-g.hashing }()
	f()
	return nil
}
