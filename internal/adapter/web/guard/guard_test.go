package guard

import (
	"bytes"
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"
)

const passphrase = "copper heron twelve ladders"

// quickHash is the passphrase under the smallest parameters, so that tests with hundreds of attempts stay short.
var quickHash = sync.OnceValue(func() string { return hashWith(passphrase, 8, 1, 1) })

// clock is a clock that tests move.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func newClock() *clock { return &clock{t: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)} }

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.t
}

func (c *clock) move(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(d)
}

func loginPage(w http.ResponseWriter, r *http.Request, v LoginView) {
	fmt.Fprintf(w, "LOGIN next=%s wait=%v message=%s", v.Next, v.Wait, v.Message)
}

func mustNew(t *testing.T, cfg Config) *Guard {
	t.Helper()
	g, err := New(cfg, loginPage)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// bench is a small application that counts what reaches it.
type bench struct {
	mu      sync.Mutex
	read    int
	changed int
}

func (b *bench) handler() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		b.mu.Lock()
		b.read++
		b.mu.Unlock()
		fmt.Fprint(w, "page")
	})
	m.HandleFunc("POST /entry", func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.ReadAll(r.Body); err != nil {
			if f, ok := TooLarge(err); ok {
				http.Error(w, f.Message, f.Status)
				return
			}
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		b.mu.Lock()
		b.changed++
		b.mu.Unlock()
		fmt.Fprint(w, "stored")
	})
	m.HandleFunc("GET /panic", func(http.ResponseWriter, *http.Request) { panic("a rule was broken") })
	m.HandleFunc("GET /half", func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "half a page")
		panic("a rule was broken")
	})
	return m
}

func (b *bench) counts() (read, changed int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.read, b.changed
}

// wantHeaders asserts what every answer must carry.
func wantHeaders(t *testing.T, name string, h http.Header) {
	t.Helper()
	csp := h.Get("Content-Security-Policy")
	for _, part := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"} {
		if !strings.Contains(csp, part) {
			t.Errorf("%s: content policy %q lacks %s", name, csp, part)
		}
	}
	if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || strings.Contains(csp, "*") || strings.Contains(csp, "data:") {
		t.Errorf("%s: content policy %q has a hole", name, csp)
	}
	for k, v := range map[string]string{"X-Content-Type-Options": "nosniff", "Cross-Origin-Opener-Policy": "same-origin",
		"Cross-Origin-Resource-Policy": "same-origin", "Referrer-Policy": "same-origin", "X-Frame-Options": "DENY"} {
		if h.Get(k) != v {
			t.Errorf("%s: %s is %q", name, k, h.Get(k))
		}
	}
	if !strings.Contains(h.Get("Permissions-Policy"), "camera=()") {
		t.Errorf("%s: no permissions policy", name)
	}
}

// Requests on the machine itself, without passphrase: what a hostile page in the same browser could send, and what our own page sends.
func TestRequestsOnLoopback(t *testing.T) {
	type try struct {
		name, method, target, host string
		header                     map[string]string
		body                       string
		want                       int
	}
	const own = "127.0.0.1:8474"
	same := map[string]string{"Origin": "http://" + own, "Sec-Fetch-Site": "same-origin"}
	tries := []try{
		{"own page", "GET", "/", own, nil, "", 200},
		{"own page by name", "GET", "/", "localhost:8474", nil, "", 200},
		{"own page by name in capitals", "GET", "/", "LOCALHOST:8474", nil, "", 200},
		{"own page, IPv6", "GET", "/", "[::1]:8474", nil, "", 200},
		{"own page, no port", "GET", "/", "127.0.0.1", nil, "", 200},
		{"link from elsewhere", "GET", "/", own, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, "", 200},
		{"own form", "POST", "/entry", own, same, "a=1", 200},
		{"own form, old browser", "POST", "/entry", own, map[string]string{"Origin": "http://" + own}, "a=1", 200},
		{"own form without referrer", "POST", "/entry", own, map[string]string{"Origin": "null", "Sec-Fetch-Site": "same-origin"}, "a=1", 200},

		{"rebound name", "GET", "/", "evil.example:8474", nil, "", 421},
		{"rebound name, changing", "POST", "/entry", "evil.example", map[string]string{"Origin": "http://evil.example", "Sec-Fetch-Site": "same-origin"}, "a=1", 421},
		{"name that ends like ours", "GET", "/", "localhost.evil.example", nil, "", 421},
		{"name that begins like ours", "GET", "/", "127.0.0.1.evil.example", nil, "", 421},
		{"address of the LAN", "GET", "/", "192.168.1.20:8474", nil, "", 421},
		{"every address", "GET", "/", "0.0.0.0:8474", nil, "", 421},
		{"name with user", "GET", "/", "localhost@evil.example", nil, "", 421},
		{"empty host", "GET", "/", "", nil, "", 421},
		{"foreign form", "POST", "/entry", own, map[string]string{"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site"}, "a=1", 403},
		{"foreign form, old browser", "POST", "/entry", own, map[string]string{"Origin": "https://evil.example"}, "a=1", 403},
		{"sandboxed form, old browser", "POST", "/entry", own, map[string]string{"Origin": "null"}, "a=1", 403},
		{"another program on this machine", "POST", "/entry", own, map[string]string{"Origin": "http://127.0.0.1:3000", "Sec-Fetch-Site": "same-site"}, "a=1", 403},
		{"another port, old browser", "POST", "/entry", own, map[string]string{"Origin": "http://127.0.0.1:3000"}, "a=1", 403},
		{"other scheme", "POST", "/entry", own, map[string]string{"Origin": "https://" + own}, "a=1", 403},
		{"says same-origin but is not", "POST", "/entry", own, map[string]string{"Origin": "https://evil.example", "Sec-Fetch-Site": "same-origin"}, "a=1", 403},
		{"does not say where from", "POST", "/entry", own, nil, "a=1", 403},
		{"embedded by another site", "GET", "/", own, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}, "", 403},
		{"framed by another site", "GET", "/", own, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}, "", 403},
		{"fetched by a neighbour", "GET", "/", own, map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, "", 403},
		{"fetched by another site, old browser", "GET", "/", own, map[string]string{"Origin": "https://evil.example"}, "", 403},
		{"opening the address of a button", "GET", "/entry", own, nil, "", 200}, // reaches the page for unknown places, never the button
		{"TRACE", "TRACE", "/", own, nil, "", 405},
		{"OPTIONS", "OPTIONS", "/entry", own, map[string]string{"Origin": "https://evil.example"}, "", 405},
		{"CONNECT", "CONNECT", "/", own, nil, "", 405},
		{"made-up method", "BREAK", "/", own, same, "", 405},
		{"DELETE from elsewhere", "DELETE", "/entry", own, map[string]string{"Origin": "https://evil.example"}, "", 403},
		{"climbing path", "GET", "/static/../secret", own, nil, "", 400},
		{"climbing path, encoded", "GET", "/static/%2e%2e/secret", own, nil, "", 400},
		{"climbing path, encoded slash", "GET", "/static/..%2fsecret", own, nil, "", 400},
		{"backslash", "GET", "/static/..%5csecret", own, nil, "", 400},
		{"double slash", "GET", "//evil.example/", own, nil, "", 400},
		{"zero byte", "GET", "/a%00b", own, nil, "", 400},
		{"line break", "GET", "/a%0d%0ab", own, nil, "", 400},
		{"too long a form", "POST", "/entry", own, same, strings.Repeat("x", 1001), 413},
		{"as long as allowed", "POST", "/entry", own, same, strings.Repeat("x", 1000), 200},
	}
	b := &bench{}
	g := mustNew(t, Config{Body: func(*http.Request) int64 { return 1000 }})
	h := g.Wrap(b.handler())
	checked, refused := 0, 0
	for _, c := range tries {
		r := httptest.NewRequest(c.method, "http://x/", strings.NewReader(c.body))
		u, err := url.Parse("http://x" + c.target)
		if err != nil {
			t.Fatal(err)
		}
		u.Scheme, u.Host = "", ""
		r.URL, r.Host = u, c.host
		for k, v := range c.header {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		readBefore, changedBefore := b.counts()
		h.ServeHTTP(w, r)
		read, changed := b.counts()
		if w.Code != c.want {
			t.Errorf("%s: status %d, want %d (%s)", c.name, w.Code, c.want, w.Body)
		}
		if passed := read+changed > readBefore+changedBefore; passed != (c.want == 200) {
			t.Errorf("%s: reached a handler: %v", c.name, passed)
		}
		if c.method != "POST" && changed != changedBefore {
			t.Errorf("%s: changed something", c.name)
		}
		wantHeaders(t, c.name, w.Header())
		if c.want != 200 {
			refused++
			if w.Body.Len() < 20 || w.Header().Get("Cache-Control") != "no-store" {
				t.Errorf("%s: says %q", c.name, w.Body)
			}
		}
		checked++
	}
	if checked != 44 || refused != 33 {
		t.Errorf("%d requests, %d to be refused", checked, refused)
	}
	if read, changed := b.counts(); read != 7 || changed != 4 {
		t.Errorf("%d pages read, %d entries stored", read, changed)
	}
}

func TestChangeTakesNoGet(t *testing.T) {
	reached, checked := 0, 0
	h := Change(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached++ }))
	for m, want := range map[string]int{"GET": 405, "HEAD": 405, "POST": 200, "PUT": 200, "PATCH": 200, "DELETE": 200} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(m, "/entry", nil))
		if w.Code != want {
			t.Errorf("%s: %d", m, w.Code)
		}
		checked++
	}
	if reached != 4 || checked != 6 {
		t.Errorf("%d of %d reached the handler", reached, checked)
	}
}

// A panic is one page and one line in the log; the next request works. Half a page is broken off, not ended as if whole.
func TestPanic(t *testing.T) {
	for _, custom := range []bool{false, true} {
		var log bytes.Buffer
		cfg := Config{Addr: "127.0.0.1:0", Log: slog.New(slog.NewTextHandler(&log, nil))}
		if custom {
			cfg.Refused = func(w http.ResponseWriter, _ *http.Request, f Refusal) { fmt.Fprintf(w, "<p>%s</p>", f.Message) }
		}
		g, stop := serving(t, cfg, (&bench{}).handler())
		c := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // on a used connection it would ask twice
		res, err := c.Get(g.URL() + "/panic")
		if err != nil {
			t.Fatal(err)
		}
		text, _ := io.ReadAll(res.Body)
		res.Body.Close()
		if res.StatusCode != 500 || !strings.Contains(string(text), "Nothing is lost") || strings.Contains(string(text), "rule was broken") {
			t.Errorf("%d %s", res.StatusCode, text)
		}
		if custom != strings.HasPrefix(string(text), "<p>") {
			t.Errorf("page is %s", text)
		}
		wantHeaders(t, "panic", res.Header)
		res, err = c.Get(g.URL() + "/half")
		if err == nil {
			_, err = io.ReadAll(res.Body)
			res.Body.Close()
		}
		if err == nil {
			t.Error("half a page looked whole")
		}
		if res, err = c.Get(g.URL() + "/"); err != nil || res.StatusCode != 200 {
			t.Errorf("after a panic: %v %v", res, err)
		} else {
			res.Body.Close()
		}
		stop()
		if n := strings.Count(log.String(), "a request broke the program's own rules"); n != 2 || !strings.Contains(log.String(), "guard_test.go") {
			t.Errorf("%d panics in the log:\n%s", n, log.String())
		}
	}
}

// When the page of a refusal breaks as well, the connection is broken off and the program goes on.
func TestPanicInRefusedPage(t *testing.T) {
	g, stop := serving(t, Config{Addr: "127.0.0.1:0", Refused: func(http.ResponseWriter, *http.Request, Refusal) { panic("template") }},
		(&bench{}).handler())
	defer stop()
	if res, err := http.Get(g.URL() + "/panic"); err == nil {
		text, rerr := io.ReadAll(res.Body)
		res.Body.Close()
		if rerr == nil {
			t.Errorf("answered %d %q", res.StatusCode, text)
		}
	}
	res, err := http.Get(g.URL() + "/")
	if err != nil || res.StatusCode != 200 {
		t.Fatalf("%v %v", res, err)
	}
	res.Body.Close()
}

// serving runs the guard on a real listener. stop ends it and fails the test unless the end is an ordinary one.
func serving(t *testing.T, cfg Config, h http.Handler) (g *Guard, stop func()) {
	t.Helper()
	g = mustNew(t, cfg)
	if err := g.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- g.Serve(ctx, h) }()
	return g, func() {
		t.Helper()
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("ended with %v", err)
			}
		case <-time.After(20 * time.Second):
			t.Error("does not end")
		}
	}
}

// browser is a client with cookies that does not follow redirects, and takes any certificate (its fingerprint is tested by itself).
func browser(t *testing.T) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &http.Client{Jar: jar, Timeout: 10 * time.Second,
		Transport:     &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, ForceAttemptHTTP2: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// ask sends one request the way a browser would from the server's own page.
func ask(t *testing.T, c *http.Client, g *Guard, method, target, body string) (status int, header http.Header, text string) {
	t.Helper()
	r, err := http.NewRequest(method, g.URL()+target, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if method == "POST" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", g.URL())
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	} else {
		r.Header.Set("Accept", "text/html")
	}
	res, err := c.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	wantHeaders(t, method+" "+target, res.Header)
	return res.StatusCode, res.Header, string(b)
}

func TestHostOnLAN(t *testing.T) {
	g := mustNew(t, Config{LAN: true, Addr: "0.0.0.0:0", Hash: quickHash(), Dir: t.TempDir(), Names: []string{"Bench.Home.arpa"}})
	checked := 0
	for host, want := range map[string]bool{"bench.home.arpa": true, "bench.home.arpa:8474": true, "192.168.1.20:8474": true,
		"192.168.1.21:8474": false, "evil.example": false, "0.0.0.0": false, "127.0.0.1": true, "home.arpa": false} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = host
		r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey,
			net.Addr(net.TCPAddrFromAddrPort(netip.MustParseAddrPort("192.168.1.20:8474")))))
		if got := g.checkHost(r) == nil; got != want {
			t.Errorf("%s: let in %v", host, got)
		}
		checked++
	}
	if checked != 8 {
		t.Error(checked)
	}
}
