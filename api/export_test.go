package api

import (
	"sync/atomic"
	"time"
)

// What tests look at from outside.
var (
	CheckPassword = checkPassword
	NewHash       = newHash
	Nobody        = nobody
)

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

// Flood takes a token out of the buckets of many names, and reports how many names are
// remembered, and whether the one name that had none left still has none.
func Flood(names []string, now time.Time) (remembered int, held bool) {
	b := newGate().logins
	for range b.burst {
		b.take("victim", now)
	}
	for _, name := range names {
		b.take(name, now)
	}
	return len(b.full), b.wait("victim", now) > 0
}

// AddressName is what attempts from an address are counted under.
var AddressName = addressName
