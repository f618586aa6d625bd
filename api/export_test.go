package api

import (
	"sync/atomic"
	"testing"
)

// What tests look at from outside.
var (
	CheckPassword = checkPassword
	NewHash       = newHash
	Nobody        = nobody
	NotHeld       = notHeld
	Trimmed       = trimmed
)

// OutOfTime is why a quote has no odds whose time was up.
const OutOfTime = outOfTime

// HashWith hashes a password with costs and a salt of the test's.
func HashWith(password, salt string, memory, passes uint32, threads uint8, length int) string {
	return hashed(password, cost{memory, passes, threads}, []byte(salt), length).String()
}

// ParseHash reads a hash and writes it again.
func ParseHash(text string) (string, error) {
	h, err := parseHash(text)
	return h.String(), err
}

// HashIs reports whether a password has a hash.
func HashIs(text, password string) (bool, error) {
	h, err := parseHash(text)
	return err == nil && h.is(password), err
}

// CountHashing counts how often the application hashes a password from now on.
func CountHashing(a *App) *atomic.Int64 {
	var n atomic.Int64
	places := make(chan struct{})
	a.gate.hashing = places
	go func() {
		for range places {
			n.Add(1)
			places <- struct{}{}
		}
	}()
	return &n
}

// ReadinessVersion is how often the readiness was kept.
func ReadinessVersion(t testing.TB, a *App) int64 {
	t.Helper()
	var e entry[Readiness]
	err := a.store.View(t.Context(), func(tx Tx) (err error) {
		e, err = readinessIn(tx)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return e.rec.Version
}

// ReadinessNews returns a channel that is closed when this process has worked out newer
// chances.
func (a *App) ReadinessNews() <-chan struct{} { return a.forecasts.next() }
