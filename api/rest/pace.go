package rest

import (
	"cmp"
	"context"
	"sync"
	"time"

	"wetdown/api"
	"wetdown/api/pace"
)

// A Rate bounds how often one client may ask: so many requests at once, and so many a
// second in the long run. From one address there may be five times as many, since
// several people sit behind it (common practice, no source).
type Rate struct {
	Burst     int // 0: 200
	PerSecond int // 0: 20
}

// A limiter knows how often clients have asked. It is in memory: each process has its
// own.
type limiter struct {
	mu    sync.Mutex
	asked *pace.Buckets
}

// mostClients bounds the memory that clients take.
const mostClients = 20_000

// limit lets each client ask as often as the rate says, times a factor.
func (r Rate) limit(times int) *limiter {
	burst, second := cmp.Or(r.Burst, 200)*times, cmp.Or(r.PerSecond, 20)*times
	return &limiter{asked: pace.New(burst, time.Second/time.Duration(second), mostClients)}
}

// take lets a client ask, 0, or says how long it has to wait.
func (l *limiter) take(client string, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	wait := l.asked.Wait(client, now)
	if wait == 0 {
		l.asked.Take(client, now)
	}
	return wait
}

func tooOften(wait time.Duration) error {
	return refusal{429, &api.Problem{Kind: api.Busy, Title: "You ask too often", Detail: "Too many requests came from you in a short time.", Next: "Wait a moment, and ask less often.", Wait: wait}}
}

// detached is a context that does not end with the request.
func detached(ctx context.Context) context.Context { return context.WithoutCancel(ctx) }
