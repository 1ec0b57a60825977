package guard

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

// What is unsafe or contradicts itself does not start, and says what to do.
func TestRefusesToStart(t *testing.T) {
	dir := t.TempDir()
	damaged := filepath.Join(dir, "damaged")
	for name, text := range map[string]string{tlsFile: "no certificate", passphraseFile: quickHash()} {
		if err := os.MkdirAll(damaged, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(damaged, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	checked := 0
	for _, c := range []struct {
		cfg  Config
		says string
	}{
		{Config{Addr: "0.0.0.0:0"}, "--lan"},
		{Config{Addr: ":0"}, "--lan"},
		{Config{Addr: "[::]:0"}, "--lan"},
		{Config{Addr: "192.168.1.20:0"}, "--lan"},
		{Config{Addr: "bench.example:0"}, "--lan"},
		{Config{Addr: "8474"}, "--addr 127.0.0.1:8474"},
		{Config{Addr: "127.0.0.1:http"}, "--addr"},
		{Config{Addr: "127.0.0.1:70000"}, "--addr"},
		{Config{LAN: true, Addr: ":0", Dir: dir}, "halfsplit passphrase"},
		{Config{LAN: true, Addr: "127.0.0.1:0"}, "halfsplit passphrase"},
		{Config{LAN: true, Addr: ":0", Hash: quickHash()}, "data folder"},
		{Config{LAN: true, Addr: ":0", Hash: "secret", Dir: dir}, "set it again"},
		{Config{LAN: true, Addr: ":0", Dir: damaged}, "delete the file"},
		{Config{CertFile: "a.pem"}, "--key"},
		{Config{CertFile: filepath.Join(dir, "a.pem"), KeyFile: filepath.Join(dir, "b.pem")}, "check both files"},
		{Config{Names: []string{"bench:80"}}, "without port"},
	} {
		if _, err := New(c.cfg, loginPage); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v", c.cfg, err)
		}
		checked++
	}
	if checked != 16 {
		t.Error(checked)
	}
	if b, err := os.ReadFile(filepath.Join(damaged, tlsFile)); err != nil || string(b) != "no certificate" {
		t.Error("a damaged file was touched")
	}
}

// The self-made certificate is kept, private, fits its names, is the one that is shown, and is renewed in time.
func TestSelfMadeCertificate(t *testing.T) {
	dir := t.TempDir()
	c := &clock{t: time.Now()}
	cfg := Config{LAN: true, Addr: "127.0.0.1:0", Hash: quickHash(), Dir: dir, Names: []string{"bench.home.arpa"}, Now: c.now}
	g, stop := serving(t, cfg, http.NotFoundHandler())
	defer stop()
	name := filepath.Join(dir, tlsFile)
	if i, err := os.Stat(name); err != nil || i.Mode().Perm() != 0o600 {
		t.Fatal(i, err)
	}
	conn, err := tls.Dial("tcp", strings.TrimPrefix(g.URL(), "https://"), &tls.Config{InsecureSkipVerify: true})
	if err != nil {
		t.Fatal(err)
	}
	leaf := conn.ConnectionState().PeerCertificates[0]
	conn.Close()
	if err := leaf.CheckSignature(leaf.SignatureAlgorithm, leaf.RawTBSCertificate, leaf.Signature); err != nil {
		t.Error(err)
	}
	for _, host := range []string{"localhost", "127.0.0.1", "::1", "bench.home.arpa"} {
		if err := leaf.VerifyHostname(host); err != nil {
			t.Error(err)
		}
	}
	if leaf.PublicKeyAlgorithm != x509.ECDSA || leaf.NotAfter.Sub(leaf.NotBefore) > 825*24*time.Hour || leaf.IsCA {
		t.Errorf("%v until %v", leaf.PublicKeyAlgorithm, leaf.NotAfter)
	}
	print := g.Fingerprint()
	if len(print) != 95 || !strings.Contains(g.Announcement(), print) || !strings.Contains(g.Announcement(), g.URL()) {
		t.Errorf("announced: %s", g.Announcement())
	}
	if err := os.Chmod(name, 0o644); err != nil {
		t.Fatal(err)
	}
	if again := mustNew(t, cfg).Fingerprint(); again != print {
		t.Error("a second start made a new certificate")
	}
	if i, _ := os.Stat(name); i.Mode().Perm() != 0o600 {
		t.Errorf("rights were left at %v", i.Mode())
	}
	c.move(771 * 24 * time.Hour)
	if again := mustNew(t, cfg).Fingerprint(); again == print {
		t.Error("not renewed a month before it runs out")
	}
	// The same file as the user's own certificate and key.
	own := mustNew(t, Config{LAN: true, Addr: "127.0.0.1:0", Hash: quickHash(), CertFile: name, KeyFile: name})
	if own.selfMade || own.Fingerprint() == "" || own.Announcement() != "" {
		t.Error("own certificate not taken")
	}
}

// Old protocol versions and plain text do not get through the TLS port.
func TestOnlyTLS(t *testing.T) {
	g, stop := serving(t, Config{LAN: true, Addr: "127.0.0.1:0", Hash: quickHash(), Dir: t.TempDir()}, http.NotFoundHandler())
	defer stop()
	addr := strings.TrimPrefix(g.URL(), "https://")
	if conn, err := tls.Dial("tcp", addr, &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS11, MinVersion: tls.VersionTLS10}); err == nil {
		conn.Close()
		t.Error("TLS 1.1 was taken")
	}
	res, err := http.Get("http://" + addr + "/")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 400 {
		t.Error(res.StatusCode)
	}
}

func TestPortTaken(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	g := mustNew(t, Config{Addr: l.Addr().String()})
	if g.URL() != "" {
		t.Errorf("not listening at %s", g.URL())
	}
	err = g.Serve(context.Background(), http.NotFoundHandler())
	if err == nil || !strings.Contains(err.Error(), "is taken") || !strings.Contains(err.Error(), "--addr 127.0.0.1:") {
		t.Error(err)
	}
	g = mustNew(t, Config{LAN: true, Addr: "192.0.2.1:0", Hash: quickHash(), Dir: t.TempDir()}) // RFC 5737: nobody's address
	if err := g.Listen(); err == nil || !strings.Contains(err.Error(), "no address 192.0.2.1") {
		t.Error(err)
	}
}

// A header that comes in drops is cut off; a body that stops coming is cut off; an oversized header is refused.
func TestSlowAndLarge(t *testing.T) {
	t.Parallel()
	b := &bench{}
	short := Timeouts{Header: 300 * time.Millisecond, Read: 300 * time.Millisecond, Write: time.Second, Idle: time.Second}
	g, stop := serving(t, Config{Addr: "127.0.0.1:0", Timeouts: short}, b.handler())
	defer stop()
	addr := strings.TrimPrefix(g.URL(), "http://")
	talk := func(pieces ...string) string {
		conn, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		for _, p := range pieces {
			if _, err := io.WriteString(conn, p); err != nil {
				break // cut off, as wanted
			}
			time.Sleep(100 * time.Millisecond)
		}
		_ = conn.SetReadDeadline(time.Now().Add(5 * time.Second))
		out, _ := io.ReadAll(conn)
		return string(out)
	}
	drops := []string{"GET / HTTP/1.1\r\n"}
	for range 8 {
		drops = append(drops, "X: y\r\n")
	}
	patient := short
	patient.Read = 10 * time.Second
	h, stopH := serving(t, Config{Addr: "127.0.0.1:0", Timeouts: patient}, b.handler())
	defer stopH()
	addr = strings.TrimPrefix(h.URL(), "http://")
	if out := talk(append(drops, "Host: localhost\r\n\r\n")...); strings.Contains(out, "200 OK") {
		t.Errorf("slow header: %s", out)
	}
	addr = strings.TrimPrefix(g.URL(), "http://")
	const head = "POST /entry HTTP/1.1\r\nHost: localhost\r\nSec-Fetch-Site: same-origin\r\nConnection: close\r\nContent-Length: 10\r\n\r\n"
	if out := talk(head, "12345"); strings.Contains(out, "200 OK") {
		t.Errorf("body that stops: %s", out)
	}
	if read, changed := b.counts(); read+changed != 0 {
		t.Errorf("%d pages, %d entries", read, changed)
	}
	// Slow but coming, longer in all than the time for one piece: taken.
	if out := talk(append([]string{head}, strings.Split("1234567890", "")...)...); !strings.Contains(out, "200 OK") {
		t.Errorf("slow body: %s", out)
	}
	if out := talk("GET / HTTP/1.1\r\nHost: localhost\r\nX: " + strings.Repeat("x", 64<<10) + "\r\n\r\n"); !strings.Contains(out, "431") {
		t.Errorf("large header: %.80s", out)
	}
	if out := talk("OPTIONS * HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"); !strings.Contains(out, "405") {
		t.Errorf("OPTIONS *: %.80s", out)
	}
	if _, changed := b.counts(); changed != 1 {
		t.Errorf("%d entries", changed)
	}
}

// A file that is far too large gets a clear answer, announced or not, over HTTP/1 and HTTP/2.
func TestTooLargeOverWire(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, lan := range []bool{false, true} {
		b := &bench{}
		cfg := Config{Addr: "127.0.0.1:0", Hash: quickHash(), LAN: lan, Body: func(r *http.Request) int64 { return 1 << 20 }}
		if lan {
			cfg.Dir = t.TempDir()
		}
		g, stop := serving(t, cfg, b.handler())
		c := browser(t)
		if status, _, _ := ask(t, c, g, "POST", "/login", form(passphrase, "/")); status != 303 {
			t.Fatal(status)
		}
		for _, announced := range []bool{true, false} {
			var body io.Reader = bytes.NewReader(make([]byte, 3<<20/2))
			if !announced {
				body = io.MultiReader(body)
			}
			r, err := http.NewRequest("POST", g.URL()+"/entry", body)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Sec-Fetch-Site", "same-origin")
			res, err := c.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			text, _ := io.ReadAll(res.Body)
			res.Body.Close()
			if res.StatusCode != 413 || !strings.Contains(string(text), "at most 1 MB") || (res.ProtoMajor == 2) != lan {
				t.Errorf("%d %s %s", res.StatusCode, res.Proto, text)
			}
			checked++
		}
		if _, changed := b.counts(); changed != 0 {
			t.Error("stored")
		}
		stop()
	}
	if checked != 4 {
		t.Error(checked)
	}
}

// A live stream outlasts the time limits of answers and bodies while it is silent, and ends when the program does or the user logs out.
func TestLiveStream(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, lan := range []bool{false, true} {
		for _, by := range []string{"program", "logout"} {
			next := make(chan string)
			m := http.NewServeMux()
			over := make(chan struct{})
			m.HandleFunc("GET /live", func(w http.ResponseWriter, r *http.Request) {
				defer close(over)
				s, err := Live(w, r)
				if err != nil {
					t.Error(err)
					return
				}
				for {
					select {
					case e := <-next:
						if err := s.Send([]byte("data: " + e + "\n\n")); err != nil {
							t.Error(err)
							return
						}
					case <-s.Done():
						return
					}
				}
			})
			cfg := Config{Addr: "127.0.0.1:0", Hash: quickHash(), LAN: lan,
				Timeouts: Timeouts{Header: 200 * time.Millisecond, Read: 200 * time.Millisecond, Write: 200 * time.Millisecond, Grace: 5 * time.Second}}
			if lan {
				cfg.Dir = t.TempDir()
			}
			g, stop := serving(t, cfg, m)
			c := browser(t)
			ask(t, c, g, "POST", "/login", form(passphrase, "/"))
			r, _ := http.NewRequest("GET", g.URL()+"/live", nil)
			r.Header.Set("Accept", "text/event-stream")
			r.Header.Set("Sec-Fetch-Site", "same-origin")
			res, err := c.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			if kind, _, _ := mime.ParseMediaType(res.Header.Get("Content-Type")); kind != "text/event-stream" {
				t.Error(kind)
			}
			in := bufio.NewScanner(res.Body)
			for i := range 3 {
				time.Sleep(400 * time.Millisecond)
				next <- fmt.Sprint(i)
				if !in.Scan() || in.Text() != fmt.Sprint("data: ", i) || !in.Scan() {
					t.Fatalf("event %d: %q %v", i, in.Text(), in.Err())
				}
				checked++
			}
			if by == "logout" {
				ask(t, c, g, "POST", "/logout", "")
			} else {
				stop()
			}
			select {
			case <-over:
			case <-time.After(5 * time.Second):
				t.Errorf("not ended by %s", by)
			}
			res.Body.Close()
			if by == "logout" {
				r, _ := http.NewRequest("GET", g.URL()+"/live", nil)
				r.Header.Set("Accept", "text/event-stream")
				if res, err := c.Do(r); err != nil || res.StatusCode != 401 {
					t.Errorf("again: %v %v", res, err)
				}
				stop()
			}
		}
	}
	if checked != 12 {
		t.Errorf("%d events", checked)
	}
	if _, err := Live(httptest.NewRecorder(), httptest.NewRequest("GET", "/", nil)); err == nil {
		t.Error("a live answer outside of Wrap")
	}
}

// An entry under way when the program is told to end is answered; a handler may take longer than the time for reading.
func TestEndsGracefully(t *testing.T) {
	t.Parallel()
	begun := make(chan struct{})
	g, stop := serving(t, Config{Addr: "127.0.0.1:0", Timeouts: Timeouts{Read: 100 * time.Millisecond}}, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.ReadAll(r.Body)
		close(begun)
		select {
		case <-time.After(700 * time.Millisecond):
			fmt.Fprint(w, "stored")
		case <-r.Context().Done():
			t.Error("the entry was broken off")
		}
	}))
	answered := make(chan string, 1)
	go func() {
		r, _ := http.NewRequest("POST", g.URL()+"/entry", strings.NewReader("a=1"))
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			answered <- err.Error()
			return
		}
		defer res.Body.Close()
		b, _ := io.ReadAll(res.Body)
		answered <- string(b)
	}()
	<-begun
	stop()
	if got := <-answered; got != "stored" {
		t.Error(got)
	}
	if _, err := http.Get(g.URL()); err == nil {
		t.Error("still listening")
	}
}

func TestAssets(t *testing.T) {
	files := fstest.MapFS{"page.css": {Data: []byte("a{}")}, "fonts/f.woff2": {Data: []byte("font")}, "index.html": {Data: []byte("x")}}
	a, err := NewAssets("/static/", files)
	if err != nil {
		t.Fatal(err)
	}
	h := mustNew(t, Config{}).Wrap(a)
	checked := 0
	for target, want := range map[string]int{a.URL("page.css"): 200, a.URL("fonts/f.woff2"): 200, "/static/page.css": 404, a.prefix: 404,
		"/static/0123456789abcdef/page.css": 404, a.prefix + "fonts/": 404, a.prefix + "none.css": 404, a.prefix + "../guard.go": 400, a.prefix + "index.html": 404} {
		r := httptest.NewRequest("GET", "http://localhost"+target, nil)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		cache := "no-store"
		if want == 200 {
			cache = "public, max-age=31536000, immutable"
		}
		if w.Code != want || w.Header().Get("Cache-Control") != cache {
			t.Errorf("%s: %d %s", target, w.Code, w.Header().Get("Cache-Control"))
		}
		wantHeaders(t, target, w.Header())
		checked++
	}
	if checked != 9 {
		t.Error(checked)
	}
	files["page.css"] = &fstest.MapFile{Data: []byte("b{}")}
	if b, err := NewAssets("/static/", files); err != nil || b.URL("page.css") == a.URL("page.css") {
		t.Error("other content, same address")
	}
}
