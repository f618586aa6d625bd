package api

import (
	"context"
	"net/netip"
	"sync"
	"time"

	"wetdown/api/pace"
)

// A gate bounds how often passwords can be tried. What it knows is in memory, so a
// process that starts anew begins with full buckets, and each process has its own.
// Nobody is shut out for good, since that would let anybody shut out anybody: NIST SP
// 800-63B (revision 3), 5.2.2, bounds failures in a row to 100 for one account, and
// this bounds them to one a minute.
type gate struct {
	mu        sync.Mutex
	logins    *pace.Buckets
	addresses *pace.Buckets
	turned    int       // attempts turned away that the trail does not know of
	told      time.Time // when the trail was told last

	hashing chan struct{} // a place for each password being hashed, which takes 19 MiB
}

// mostBuckets bounds the memory that names of strangers take.
const mostBuckets = 10_000

// How often a password can be tried (common practice, no source). A whole plant may
// come from one address; an attempt that succeeds gives back what it took.
func newGate() *gate {
	return &gate{
		logins:    pace.New(10, time.Minute, mostBuckets),
		addresses: pace.New(30, 10*time.Second, mostBuckets),
		hashing:   make(chan struct{}, 2),
	}
}

// from says where an attempt comes from.
func from(remote netip.Addr) string {
	if !remote.IsValid() {
		return "from an address that is not known"
	}
	return "from " + remote.Unmap().String()
}

// enter lets an attempt through, or says how long to wait.
func (g *gate) enter(login string, remote netip.Addr, now time.Time) (wait time.Duration) {
	g.mu.Lock()
	defer g.mu.Unlock()
	address := pace.Address(remote)
	if wait = max(g.logins.Wait(login, now), g.addresses.Wait(address, now)); wait > 0 {
		g.turned++
		return wait
	}
	g.logins.Take(login, now)
	g.addresses.Take(address, now)
	return 0
}

// passed is told of an attempt that succeeded: those before it were its owner's
// mistakes.
func (g *gate) passed(login string, remote netip.Addr, now time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.logins.Fill(login)
	g.addresses.Give(pace.Address(remote), now)
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
