package pace

import (
	"cmp"
	"maps"
	"net/netip"
	"slices"
	"time"
)

// Buckets hold tokens by name: `burst` each when full, one more `every` so often. They
// serve one goroutine at a time.
type Buckets struct {
	burst int
	every time.Duration
	most  int
	full  map[string]time.Time // when the bucket is full again; a name that is not there has a full one
}

// New returns full buckets. At most so many that are not full are remembered.
func New(burst int, every time.Duration, most int) *Buckets {
	return &Buckets{burst, every, most, map[string]time.Time{}}
}

// Wait is how long until the bucket has a token.
func (b *Buckets) Wait(name string, now time.Time) time.Duration {
	return max(0, b.until(name, now).Add(b.every).Sub(now)-time.Duration(b.burst)*b.every)
}

// until is when the bucket is full again, now if it is.
func (b *Buckets) until(name string, now time.Time) time.Time {
	if full := b.full[name]; full.After(now) {
		return full
	}
	return now
}

// Take takes a token out, which must be there.
func (b *Buckets) Take(name string, now time.Time) {
	if _, known := b.full[name]; !known && len(b.full) >= b.most {
		b.clear(now)
	}
	b.full[name] = b.until(name, now).Add(b.every)
}

// clear forgets the buckets that are full again and, to make room in any case, the
// fullest quarter.
func (b *Buckets) clear(now time.Time) {
	names := slices.SortedFunc(maps.Keys(b.full), func(x, y string) int {
		return cmp.Or(b.full[x].Compare(b.full[y]), cmp.Compare(x, y))
	})
	for i, name := range names {
		if i < len(names)/4 || !b.full[name].After(now) {
			delete(b.full, name)
		}
	}
}

// Give puts a token back.
func (b *Buckets) Give(name string, now time.Time) {
	if full := b.full[name].Add(-b.every); full.After(now) {
		b.full[name] = full
	} else {
		delete(b.full, name)
	}
}

// Fill fills a bucket.
func (b *Buckets) Fill(name string) { delete(b.full, name) }

// Len is how many buckets are remembered.
func (b *Buckets) Len() int { return len(b.full) }

// Address is what an address is counted under: an IPv6 network of 64 bits is one
// customer.
func Address(remote netip.Addr) string {
	remote = remote.Unmap().WithZone("")
	if remote.Is6() {
		p, _ := remote.Prefix(64)
		return p.String()
	}
	return remote.String()
}
