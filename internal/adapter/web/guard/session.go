package guard

// Who has given the passphrase: sessions in memory, gone when the program ends.

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"sync"
	"time"
)

// maxSessions bounds the memory; with more, the one that was idle longest is ended. A bench has a handful of screens.
const maxSessions = 64

// token is the hash of what the cookie holds, so that what lies in memory opens nothing.
type token [sha256.Size]byte

type session struct {
	made, seen time.Time
	ctx        context.Context // ends with the session
	end        context.CancelFunc
}

type sessions struct {
	idle, absolute time.Duration
	now            func() time.Time
	mu             sync.Mutex
	open           map[token]*session
}

func newSessions(idle, absolute time.Duration, now func() time.Time) *sessions {
	return &sessions{idle: idle, absolute: absolute, now: now, open: map[token]*session{}}
}

// begin opens a session and returns the secret for the cookie: 256 random bits.
func (s *sessions) begin() string {
	raw := make([]byte, 32)
	_, _ = rand.Read(raw) // never fails (crypto/rand)
	secret := base64.RawURLEncoding.EncodeToString(raw)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sweep()
	if len(s.open) >= maxSessions {
		var oldest token
		var seen time.Time
		for t, one := range s.open {
			if seen.IsZero() || one.seen.Before(seen) {
				oldest, seen = t, one.seen
			}
		}
		s.close(oldest)
	}
	one := &session{made: s.now(), seen: s.now()}
	one.ctx, one.end = context.WithCancel(context.Background())
	s.open[sha256.Sum256([]byte(secret))] = one
	return secret
}

// find returns the session's context and how long it lasts if nobody does anything more. touch counts as somebody doing something.
func (s *sessions) find(secret string, touch bool) (ctx context.Context, life time.Duration, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sweep()
	one := s.open[sha256.Sum256([]byte(secret))]
	if one == nil {
		return nil, 0, false
	}
	now := s.now()
	if touch {
		one.seen = now
	}
	return one.ctx, min(one.seen.Add(s.idle).Sub(now), one.made.Add(s.absolute).Sub(now)), true
}

func (s *sessions) finish(secret string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.close(sha256.Sum256([]byte(secret)))
}

// sweep ends what has run out. s.mu is held.
func (s *sessions) sweep() {
	now := s.now()
	for t, one := range s.open {
		if now.Sub(one.seen) >= s.idle || now.Sub(one.made) >= s.absolute {
			s.close(t)
		}
	}
}

func (s *sessions) close(t token) {
	if one := s.open[t]; one != nil {
		one.end()
		delete(s.open, t)
	}
}

// cookieName carries the __Host- prefix under TLS: browsers then take it only from this very host, over TLS and for all paths (RFC
// 6265bis, section 4.1.3.2).
func (g *Guard) cookieName() string {
	if g.cert != nil {
		return "__Host-halfsplit"
	}
	return "halfsplit"
}

// setCookie hands out the secret; the empty secret takes it back.
func (g *Guard) setCookie(w http.ResponseWriter, secret string) {
	c := &http.Cookie{Name: g.cookieName(), Value: secret, Path: "/", HttpOnly: true, Secure: g.cert != nil,
		SameSite: http.SameSiteStrictMode}
	if secret == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

// secret is what the request's cookie holds; empty without one. Two cookies of one name are a trick or an accident: neither counts.
func (g *Guard) secret(r *http.Request) string {
	if all := r.CookiesNamed(g.cookieName()); len(all) == 1 {
		return all[0].Value
	}
	return ""
}
