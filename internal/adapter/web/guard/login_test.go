package guard

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/argon2"
)

// hashWith writes a hash with given parameters; the salt is fixed.
func hashWith(p string, m, t uint32, l uint8) string {
	salt := []byte("sixteen bytes...")
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=19$m=%d,t=%d,p=%d$%s$%s", m, t, l, b64(salt), b64(argon2.IDKey([]byte(p), salt, t, m, l, 32)))
}

func form(pass, next string) string {
	return url.Values{PassphraseField: {pass}, NextField: {next}}.Encode()
}

// A whole visit over TLS: turned away, wrong, right, working, logged out.
func TestVisitOverTLS(t *testing.T) {
	t.Parallel()
	b := &bench{}
	g, stop := serving(t, Config{LAN: true, Addr: "127.0.0.1:0", Hash: quickHash(), Dir: t.TempDir(), Public: []string{"/static/"}}, b.handler())
	defer stop()
	if !strings.HasPrefix(g.URL(), "https://127.0.0.1:") {
		t.Fatal(g.URL())
	}
	c := browser(t)
	status, h, _ := ask(t, c, g, "GET", "/jobs/7?tab=probe", "")
	if status != 303 || h.Get("Location") != "/login?next=%2Fjobs%2F7%3Ftab%3Dprobe" {
		t.Fatalf("%d %s", status, h.Get("Location"))
	}
	if status, _, text := ask(t, c, g, "POST", "/entry", "a=1"); status != 401 || !strings.Contains(text, "Log in again") {
		t.Errorf("entry without session: %d %s", status, text)
	}
	if status, _, _ := ask(t, c, g, "GET", "/static/page.css", ""); status != 200 {
		t.Errorf("style of the log-in page: %d", status)
	}
	if status, _, _ := ask(t, c, g, "POST", "/static/page.css", "a=1"); status != 401 {
		t.Errorf("changing something public: %d", status)
	}
	if status, _, _ := ask(t, c, g, "GET", "/staticx", ""); status != 303 {
		t.Errorf("not public: %d", status)
	}
	if status, _, text := ask(t, c, g, "GET", h.Get("Location"), ""); status != 200 || text != "LOGIN next=/jobs/7?tab=probe wait=0s message=" {
		t.Errorf("%d %s", status, text)
	}
	if status, h, text := ask(t, c, g, "POST", "/login", form("wrong", "/jobs/7")); status != 403 || !strings.Contains(text, "not the passphrase") || h.Get("Set-Cookie") != "" {
		t.Errorf("%d %s", status, text)
	}
	if read, changed := b.counts(); read != 1 || changed != 0 {
		t.Errorf("without session %d pages and %d entries", read, changed)
	}
	status, h, _ = ask(t, c, g, "POST", "/login", form(passphrase, "/jobs/7?tab=probe"))
	if status != 303 || h.Get("Location") != "/jobs/7?tab=probe" {
		t.Fatalf("%d %s", status, h.Get("Location"))
	}
	cookie := h.Get("Set-Cookie")
	for _, flag := range []string{"__Host-halfsplit=", "; Path=/", "; HttpOnly", "; Secure", "; SameSite=Strict"} {
		if !strings.Contains(cookie, flag) {
			t.Errorf("cookie %s lacks %s", cookie, flag)
		}
	}
	value, _, _ := strings.Cut(strings.TrimPrefix(cookie, "__Host-halfsplit="), ";")
	if raw, err := base64.RawURLEncoding.DecodeString(value); err != nil || len(raw) != 32 || strings.Contains(cookie, "Domain") {
		t.Errorf("cookie %s: %v", cookie, err)
	}
	if status, _, text := ask(t, c, g, "POST", "/entry", "a=1"); status != 200 || text != "stored" {
		t.Errorf("%d %s", status, text)
	}
	if status, _, _ := ask(t, c, g, "GET", "/logout", ""); status != 405 {
		t.Errorf("logged out by an address: %d", status)
	}
	status, h, _ = ask(t, c, g, "POST", "/logout", "")
	if status != 303 || !strings.Contains(h.Get("Set-Cookie"), "Max-Age=0") {
		t.Errorf("%d %s", status, h.Get("Set-Cookie"))
	}
	// The old secret is worth nothing, even to someone who kept it.
	r, _ := http.NewRequest("GET", g.URL()+"/", nil)
	r.AddCookie(&http.Cookie{Name: "__Host-halfsplit", Value: value})
	res, err := browser(t).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 401 {
		t.Errorf("after logging out: %d", res.StatusCode)
	}
	if read, changed := b.counts(); read != 1 || changed != 1 {
		t.Errorf("%d pages, %d entries", read, changed)
	}
}

// Each log-in has a secret of its own and ends the one before in the same browser. Two cookies of one name count as none.
func TestSecretsAreFresh(t *testing.T) {
	b := &bench{}
	g, stop := serving(t, Config{Addr: "127.0.0.1:0", Hash: quickHash()}, b.handler())
	defer stop()
	c := browser(t)
	secrets := map[string]bool{}
	var last string
	for range 5 {
		status, h, _ := ask(t, c, g, "POST", "/login", form(passphrase, "/"))
		if status != 303 || !strings.HasPrefix(h.Get("Set-Cookie"), "halfsplit=") || strings.Contains(h.Get("Set-Cookie"), "Secure") {
			t.Fatalf("%d %s", status, h.Get("Set-Cookie"))
		}
		last, _, _ = strings.Cut(strings.TrimPrefix(h.Get("Set-Cookie"), "halfsplit="), ";")
		secrets[last] = true
	}
	if len(secrets) != 5 || len(g.sessions.open) != 1 {
		t.Errorf("%d secrets, %d sessions open", len(secrets), len(g.sessions.open))
	}
	for n, want := range map[int]int{0: 401, 1: 200, 2: 401} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = "localhost"
		for range n {
			r.AddCookie(&http.Cookie{Name: "halfsplit", Value: last})
		}
		w := httptest.NewRecorder()
		g.Wrap(b.handler()).ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("%d cookies: %d", n, w.Code)
		}
	}
}

func TestSessionsEnd(t *testing.T) {
	c := newClock()
	s := newSessions(4*time.Hour, 16*time.Hour, c.now)
	used, idle := s.begin(), s.begin()
	alive := func(secret string) bool { _, _, ok := s.find(secret, true); return ok }
	for h := 1; h <= 15; h++ {
		c.move(time.Hour)
		if !alive(used) {
			t.Fatalf("in use and gone after %d hours", h)
		}
	}
	idleCtx, _, ok := s.find(idle, true)
	if ok || idleCtx != nil {
		t.Error("idle for 15 hours and still open")
	}
	ctx, life, _ := s.find(used, true)
	if life != time.Hour || ctx.Err() != nil {
		t.Errorf("an hour before its last: %v left", life)
	}
	c.move(time.Hour)
	if alive(used) || ctx.Err() == nil {
		t.Error("open beyond its last hour")
	}
	// A live stream that is asked for again and again keeps nothing alive.
	quiet := s.begin()
	c.move(3 * time.Hour)
	if _, life, ok := s.find(quiet, false); !ok || life != time.Hour {
		t.Errorf("%v left", life)
	}
	c.move(time.Hour)
	if alive(quiet) {
		t.Error("kept alive by nobody")
	}
	for range 3 * maxSessions {
		s.begin()
		c.move(time.Second)
	}
	if len(s.open) != maxSessions {
		t.Errorf("%d sessions in memory", len(s.open))
	}
	for _, wrong := range []string{"", "x", used} {
		if alive(wrong) {
			t.Errorf("%q opens", wrong)
		}
	}
}

// The same through the door: pages prolong a session, a stream that the browser asks for again by itself does not.
func TestStreamsDoNotProlong(t *testing.T) {
	c := newClock()
	g := mustNew(t, Config{Hash: quickHash(), Now: c.now, Idle: time.Hour})
	h := g.Wrap((&bench{}).handler())
	secret := g.sessions.begin()
	get := func(accept string) int {
		r := httptest.NewRequest("GET", "http://localhost/", nil)
		r.Header.Set("Accept", accept)
		r.AddCookie(&http.Cookie{Name: "halfsplit", Value: secret})
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	var got []int
	for _, accept := range []string{"text/html", "text/html", "text/event-stream", "text/event-stream"} {
		c.move(40 * time.Minute)
		got = append(got, get(accept))
	}
	if fmt.Sprint(got) != "[200 200 200 401]" {
		t.Error(got)
	}
}

// One client: three typing errors are free, then the wait doubles up to its limit; what is sent during a wait is not looked at, even if
// right. The clock is the test's own.
func TestAttemptsOfOneClient(t *testing.T) {
	c := newClock()
	g := mustNew(t, Config{Hash: quickHash(), Now: c.now})
	h := g.Wrap(http.NotFoundHandler())
	post := func(pass, from string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "/login", strings.NewReader(form(pass, "/")))
		r.Host, r.RemoteAddr = "localhost", from
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	const me, other = "192.168.1.5:4000", "192.168.1.6:4000"
	var waits []time.Duration
	for i := range 14 {
		if w := post("wrong", me); w.Code != 403 {
			t.Fatalf("attempt %d: %d %s", i, w.Code, w.Body)
		}
		wait := g.attempts.pending(clientOf("192.168.1.5:9999")) // another port is the same client
		waits = append(waits, wait)
		if wait > 0 {
			w := post(passphrase, me)
			if w.Code != 429 || w.Header().Get("Retry-After") != retryAfter(wait) || w.Header().Get("Set-Cookie") != "" {
				t.Fatalf("during a wait: %d %v", w.Code, w.Header())
			}
			c.move(wait - time.Millisecond)
			if w := post(passphrase, me); w.Code != 429 {
				t.Fatalf("a millisecond too early: %d", w.Code)
			}
			c.move(time.Millisecond)
		}
	}
	s := time.Second
	want := []time.Duration{0, 0, 0, 2 * s, 4 * s, 8 * s, 16 * s, 32 * s, 64 * s, 128 * s, 256 * s, 512 * s, 900 * s, 900 * s}
	if fmt.Sprint(waits) != fmt.Sprint(want) {
		t.Errorf("waits %v, want %v", waits, want)
	}
	if w := post("wrong", me); w.Code != 403 {
		t.Error(w.Code)
	}
	if w := post(passphrase, other); w.Code != 303 {
		t.Errorf("another client has to wait too: %d", w.Code)
	}
	c.move(longestWait)
	if w := post(passphrase, me); w.Code != 303 {
		t.Errorf("after the wait: %d", w.Code)
	}
	if w := post("wrong", me); w.Code != 403 || g.attempts.pending(clientOf(me)) != 0 {
		t.Error("the right passphrase did not wipe the slate")
	}
}

// Many clients together: 20 attempts at once, then one in three seconds.
func TestAttemptsOverAll(t *testing.T) {
	c := newClock()
	a := newAttempts(c.now)
	heard, refused := 0, 0
	for i := range 200 {
		p := netip.PrefixFrom(netip.AddrFrom4([4]byte{10, 0, 0, byte(i)}), 32)
		if wait := a.begin(p); wait == 0 {
			heard++
		} else if refused++; wait > allEvery {
			t.Errorf("wait %v", wait)
		}
	}
	if heard != allBurst || refused != 180 {
		t.Errorf("%d heard, %d refused", heard, refused)
	}
	heard = 0
	for i := range 600 {
		c.move(time.Second)
		if a.begin(netip.PrefixFrom(netip.AddrFrom4([4]byte{10, 1, byte(i >> 8), byte(i)}), 32)) == 0 {
			heard++
		}
	}
	if heard != 200 {
		t.Errorf("%d heard in 600 seconds", heard)
	}
	// However many there are, few are remembered, and the one that has to wait longest is.
	bad := clientOf("192.168.1.5:1")
	for range 10 {
		c.move(longestWait)
		a.begin(bad)
	}
	for i := range 3 * maxClients {
		c.move(3 * time.Millisecond)
		a.begin(netip.PrefixFrom(netip.AddrFrom4([4]byte{10, 2, byte(i >> 8), byte(i)}), 32))
	}
	if len(a.by) != maxClients || a.pending(bad) == 0 {
		t.Errorf("%d remembered, wait of the worst %v", len(a.by), a.pending(bad))
	}
}

func TestClientOf(t *testing.T) {
	checked := 0
	for in, want := range map[string]string{"192.168.1.5:80": "192.168.1.5/32", "[::ffff:192.168.1.5]:80": "192.168.1.5/32",
		"[2001:db8:1:2:3:4:5:6]:80": "2001:db8:1:2::/64", "[fe80::1%eth0]:80": "fe80::/64"} {
		if got := clientOf(in).String(); got != want {
			t.Errorf("%s: %s", in, got)
		}
		checked++
	}
	if checked != 4 || clientOf("nonsense") != (netip.Prefix{}) {
		t.Error("nonsense is a client of its own")
	}
}

func TestSafeNext(t *testing.T) {
	good := []string{"/", "/jobs/7", "/jobs/7?tab=probe&x=%2F", "/a#b", "/loginx", "/jobs?next=https://evil.example"}
	bad := []string{"", "jobs", "//evil.example", "///evil.example", "/\\evil.example", "\\/evil.example", "https://evil.example",
		"javascript:alert(1)", "/\t/evil.example", "/\n/evil.example", " /jobs", "/login", "/login/", "/x/../login", "/logout", "/%zz",
		"/" + strings.Repeat("a", 2001), "/jobs\x00", "//", "http:/evil.example"}
	for _, s := range good {
		if safeNext(s) != s {
			t.Errorf("%q became %q", s, safeNext(s))
		}
	}
	for _, s := range bad {
		if safeNext(s) != "/" {
			t.Errorf("%q was taken", s)
		}
	}
	if len(good)+len(bad) != 26 {
		t.Error(len(good) + len(bad))
	}
}

func FuzzSafeNext(f *testing.F) {
	for _, s := range []string{"/jobs", "//evil.example", "/\\x", "/%2f/x", "/a?b#c"} {
		f.Add(s)
	}
	base, _ := url.Parse("https://bench.example/login")
	f.Fuzz(func(t *testing.T, s string) {
		n := safeNext(s)
		u, err := base.Parse(n)
		if err != nil || u.Host != "bench.example" || u.Scheme != "https" || strings.HasPrefix(n, "//") || strings.Contains(n, "\\") {
			t.Errorf("%q leads to %q", s, n)
		}
	})
}

func TestPassphraseHash(t *testing.T) {
	h, err := HashPassphrase(passphrase)
	if err != nil || !strings.HasPrefix(h, "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Fatal(h, err)
	}
	again, err := HashPassphrase(passphrase)
	if err != nil || again == h {
		t.Error("the salt is not random")
	}
	p, err := parseHash(h)
	if err != nil || len(p.salt) != 16 || len(p.sum) != 32 {
		t.Fatal(p, err)
	}
	if !p.matches(passphrase) || p.matches(passphrase+" ") || p.matches("") || p.matches(strings.Repeat("x", longest+1)) {
		t.Error("takes the wrong one, or not the right one")
	}
	for _, bad := range []string{"", "short", "fourteen chars", strings.Repeat("é", 14), strings.Repeat("x", 1025), "invalid bytes \xff\xfe here"} {
		if _, err := HashPassphrase(bad); err == nil {
			t.Errorf("took %q", bad)
		}
	}
	dir := filepath.Join(t.TempDir(), "new")
	if _, err := LoadPassphrase(dir); !os.IsNotExist(err) {
		t.Error(err)
	}
	if err := SavePassphrase(dir, passphrase); err != nil {
		t.Fatal(err)
	}
	got, err := LoadPassphrase(dir)
	if err != nil {
		t.Fatal(err)
	}
	if p, err := parseHash(got); err != nil || !p.matches(passphrase) {
		t.Error(got, err)
	}
	if i, err := os.Stat(filepath.Join(dir, passphraseFile)); err != nil || i.Mode().Perm() != 0o600 {
		t.Error(i.Mode(), err)
	}
	if all, _ := os.ReadDir(dir); len(all) != 1 {
		t.Errorf("left behind: %v", all)
	}
}

// The test vector of RFC 9106, section 5.3, has a secret and associated data, which the library does not take; so the library is held
// against the reference implementation's own vector (test.c of the C code, argon2id, v=19, "password", "somesalt", t=2, m=2^16, p=1).
func TestAgainstReferenceVector(t *testing.T) {
	p, err := parseHash("$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc")
	if err != nil {
		t.Fatal(err)
	}
	if !p.matches("password") || p.matches("passwore") {
		t.Error("differs from the reference")
	}
}

func FuzzParseHash(f *testing.F) {
	for _, s := range []string{quickHash(), "", "$argon2id$", "$argon2id$v=19$m=99999999,t=1,p=1$c29tZXNhbHQ$c29tZXNhbHQ",
		"$argon2i$v=19$m=8,t=1,p=1$c29tZXNhbHQ$c29tZXNhbHRzb21lc2FsdA", "$argon2id$v=19$m=8,t=1,p=0$c29tZXNhbHQ$c29tZXNhbHRzb21lc2FsdA",
		"$argon2id$v=19$m=8,t=1,p=257$c29tZXNhbHQ$c29tZXNhbHRzb21lc2FsdA", "$argon2id$v=19$m=-8,t=1,p=1$$"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := parseHash(s)
		if err == nil && (p.memory > 1<<20 || p.passes > 16 || p.lanes < 1 || p.lanes > 16 || len(p.sum) < 16 || len(p.salt) < 8) {
			t.Errorf("%q gives %+v", s, p)
		}
	})
}
