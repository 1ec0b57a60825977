package guard

// How often a passphrase may be tried: per client with a wait that doubles, and over all clients at a steady rate, so that neither one
// machine nor a crowd of them gets through a list of words.

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

const (
	freeTries   = 3                // typing errors: no wait after these
	firstWait   = 2 * time.Second  // after the next one; doubles each time
	longestWait = 15 * time.Minute // where doubling ends
	forgotten   = 24 * time.Hour   // a client that kept quiet so long starts anew
	maxClients  = 1024             // remembered at a time; with more, the one whose wait ends first is dropped

	// All clients together: 20 at once, then one in 3 seconds. The shortest passphrase has 15 characters; even 15 random digits would
	// last 10^8 years.
	allBurst = 20
	allEvery = 3 * time.Second
)

type client struct {
	tries int
	until time.Time // no attempt before
	last  time.Time
}

type attempts struct {
	now func() time.Time
	all *rate.Limiter
	mu  sync.Mutex
	by  map[netip.Prefix]*client
}

func newAttempts(now func() time.Time) *attempts {
	return &attempts{now: now, all: rate.NewLimiter(rate.Every(allEvery), allBurst), by: map[netip.Prefix]*client{}}
}

// clientOf is the unit that is counted: an IPv4 address, or an IPv6 network of 64 bits, of which one machine may use any address.
func clientOf(remote string) netip.Prefix {
	ap, err := netip.ParseAddrPort(remote)
	if err != nil {
		return netip.Prefix{} // all that cannot be told apart count as one
	}
	a := ap.Addr().Unmap().WithZone("")
	bits := 32
	if a.Is6() {
		bits = 64
	}
	p, err := a.Prefix(bits)
	if err != nil {
		return netip.Prefix{}
	}
	return p
}

// begin counts an attempt before it is judged, so that many at once gain nothing. wait > 0: it is not heard, come back then.
func (a *attempts) begin(c netip.Prefix) (wait time.Duration) {
	a.mu.Lock()
	defer a.mu.Unlock()
	now := a.now()
	one := a.by[c]
	if one == nil || now.Sub(one.last) > forgotten {
		one = &client{}
		a.makeRoom()
		a.by[c] = one
	}
	if w := one.until.Sub(now); w > 0 {
		return w
	}
	if !a.all.AllowN(now, 1) {
		r := a.all.ReserveN(now, 1)
		wait = r.DelayFrom(now)
		r.CancelAt(now)
		return max(wait, time.Second)
	}
	one.tries++
	one.last = now
	one.until = now.Add(waitAfter(one.tries))
	return 0
}

// waitAfter is how long the next attempt has to wait after so many wrong ones.
func waitAfter(tries int) time.Duration {
	if tries <= freeTries {
		return 0
	}
	n := tries - freeTries - 1
	if n > 20 {
		return longestWait
	}
	return min(firstWait<<n, longestWait)
}

// pending is how long the client has to wait now.
func (a *attempts) pending(c netip.Prefix) time.Duration {
	a.mu.Lock()
	defer a.mu.Unlock()
	if one := a.by[c]; one != nil {
		return max(0, one.until.Sub(a.now()))
	}
	return 0
}

// right forgets the attempts of a client that knew the passphrase.
func (a *attempts) right(c netip.Prefix) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.by, c)
}

// makeRoom keeps the memory bounded. a.mu is held.
func (a *attempts) makeRoom() {
	if len(a.by) < maxClients {
		return
	}
	var out netip.Prefix
	var first *client
	for p, c := range a.by {
		if first == nil || c.until.Before(first.until) || c.until.Equal(first.until) && c.last.Before(first.last) {
			out, first = p, c
		}
	}
	delete(a.by, out)
}
