package rest

import (
	"cmp"
	"context"
	"maps"
	"net/netip"
	"slices"
	"sync"
	"time"

	"wetdown/api"
)

// A Rate bounds how often one client may ask: so many requests at once, and so many a
// second in the long run. From one address there may be five times as many, since
// several people sit behind it (common practice, no source).
type Rate struct {
	Burst     int // 0: 200
	PerSecond int // 0: 20
}

// A pace knows how often clients have asked. It is in memory: each process has its own.
type pace struct {
	rate Rate
	mu   sync.Mutex
	full map[string]time.Time // when the client may ask Burst times again
}

// mostClients bounds the memory that clients take.
const mostClients = 20_000

func newPace(r Rate) *pace {
	r.Burst, r.PerSecond = cmp.Or(r.Burst, 200), cmp.Or(r.PerSecond, 20)
	return &pace{rate: r, full: map[string]time.Time{}}
}

// take lets a client ask, 0, or says how long it has to wait.
func (p *pace) take(client string, now time.Time, times int) (wait time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	every := time.Second / time.Duration(p.rate.PerSecond*times)
	full, known := p.full[client]
	if full.Before(now) {
		full = now
	}
	if wait = full.Add(every).Sub(now) - time.Duration(p.rate.Burst*times)*every; wait > 0 {
		return wait
	}
	if !known && len(p.full) >= mostClients {
		p.clear(now)
	}
	p.full[client] = full.Add(every)
	return 0
}

// clear forgets the clients that have not asked for long, and a quarter in any case.
func (p *pace) clear(now time.Time) {
	names := slices.SortedFunc(maps.Keys(p.full), func(x, y string) int {
		return cmp.Or(p.full[x].Compare(p.full[y]), cmp.Compare(x, y))
	})
	for i, name := range names {
		if i < len(names)/4 || !p.full[name].After(now) {
			delete(p.full, name)
		}
	}
}

// addressName is what requests from an address are counted under: an IPv6 network of 64
// bits is one customer.
func addressName(a netip.Addr) string {
	if a = a.WithZone(""); a.Is6() {
		p, _ := a.Prefix(64)
		return p.String()
	}
	return a.String()
}

func tooOften(wait time.Duration) error {
	return refusal{429, &api.Problem{Kind: api.Busy, Title: "You ask too often", Detail: "Too many requests came from you in a short time.", Next: "Wait a moment, and ask less often.", Wait: wait}}
}

// detached is a context that does not end with the request.
func detached(ctx context.Context) context.Context { return context.WithoutCancel(ctx) }
