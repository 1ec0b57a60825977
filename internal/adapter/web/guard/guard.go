// Package guard stands between the network and the pages: it listens, decides which requests reach a handler at all, and sets on every
// answer what a browser needs to know to be strict.
//
// On the machine itself (the default) nobody logs in, but every other web page that is open in the same browser is a stranger: the
// Host check stops names that were rebound to this machine, the origin check stops forms and scripts of other sites. On a LAN a
// passphrase, sessions, limits on attempts and TLS come on top.
//
// Order of a request (Wrap): headers, panic net, method, path, host, origin, session, size of the body, handler. This file holds the
// configuration and that order; each station has its own file.
package guard

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

// DefaultPort is where the page is when nobody says otherwise.
const DefaultPort = 8474

// Config says where to listen and who may come in. The zero value listens on the machine itself, port DefaultPort.
type Config struct {
	// Addr is "host:port"; empty is 127.0.0.1 (with LAN: every address) and DefaultPort. Port 0 lets the system choose.
	Addr string
	// LAN lets other machines in. It needs a passphrase; TLS is then always on.
	LAN bool
	// Names are further host names under which the page is reached, such as "bench.home.arpa". Without port.
	Names []string
	// Hash is what HashPassphrase made. When empty and LAN is set, it is read from Dir (see SavePassphrase).
	// When set without LAN, the page asks for the passphrase on the machine itself too.
	Hash string
	// CertFile and KeyFile are the user's own certificate and key, PEM. Both or neither.
	CertFile, KeyFile string
	// Dir is the data folder: the self-made certificate and the passphrase's hash are kept there.
	Dir string

	// Idle ends a session that long after its last request, Absolute that long after logging in. Zero: 4 and 16 hours, a working
	// day at one bench. (OWASP's session cheat sheet advises shorter for offices; here a log-in costs a hand on the probe.)
	Idle, Absolute time.Duration
	// Body gives the largest accepted body of a request, in bytes, by its method and path. nil: 1 MiB for all.
	Body func(*http.Request) int64
	// Public are path prefixes that need no session: what the log-in page is made of. Each ends in "/" or names one file.
	Public []string
	// Refused writes the page of a refusal; its status and headers are already sent. nil: plain text.
	Refused func(http.ResponseWriter, *http.Request, Refusal)
	// Log takes what the technician cannot act upon: panics with their stack, broken handshakes. nil: discarded.
	Log *slog.Logger
	// Timeouts, zero values replaced by defaults.
	Timeouts Timeouts
	// Now is the clock of sessions and attempts; nil is time.Now.
	Now func() time.Time
}

// Timeouts of one connection. Zero values mean the defaults.
type Timeouts struct {
	Header time.Duration // until the header is read: 10 s
	Read   time.Duration // without any byte of the body arriving: 30 s
	Write  time.Duration // for one piece of the answer to leave: 60 s
	Idle   time.Duration // between two requests of a connection: 2 min
	Grace  time.Duration // for requests under way when the program ends: 10 s
}

// LoginView is what the log-in page shows.
type LoginView struct {
	Message string        // why the last attempt failed; empty on the first showing
	Wait    time.Duration // how long until the next attempt is heard; 0 is now
	Next    string        // path on this server to go to afterwards; put it into the hidden field "next"
}

// Guard is one listening server's protection. Make it with New. Safe for use by many requests at once.
type Guard struct {
	cfg      Config
	login    func(http.ResponseWriter, *http.Request, LoginView)
	hash     *passHash
	cert     *tls.Certificate // nil: no TLS
	selfMade bool
	hosts    map[string]bool // names and addresses, without port, lower case
	origin   *http.CrossOriginProtection
	sessions *sessions
	attempts *attempts
	hashing  chan struct{} // one passphrase is computed at a time: 64 MiB each

	stopping context.Context // ends when the server begins to shut down; live streams end with it
	stop     context.CancelFunc

	mu       sync.Mutex
	listener net.Listener
}

// New checks the configuration and reads, or makes, what it needs from the data folder. It does not listen yet. login writes the
// log-in page; its status and headers are already sent. It may be nil when there is no passphrase. The error says the way out.
func New(cfg Config, login func(http.ResponseWriter, *http.Request, LoginView)) (*Guard, error) {
	if err := cfg.complete(); err != nil {
		return nil, err
	}
	g := &Guard{cfg: cfg, login: login, origin: http.NewCrossOriginProtection(), hashing: make(chan struct{}, 1)}
	g.stopping, g.stop = context.WithCancel(context.Background())
	g.sessions = newSessions(cfg.Idle, cfg.Absolute, cfg.Now)
	g.attempts = newAttempts(cfg.Now)
	if cfg.Hash != "" {
		h, err := parseHash(cfg.Hash)
		if err != nil {
			return nil, fmt.Errorf("the stored passphrase cannot be read (%w): set it again with `halfsplit passphrase`", err)
		}
		if login == nil {
			return nil, errors.New("guard: a passphrase without a log-in page")
		}
		g.hash = h
	}
	if err := g.readCertificate(); err != nil {
		return nil, err
	}
	g.hosts = knownHosts(cfg)
	return g, nil
}

// complete fills in defaults and refuses what is unsafe or contradicts itself.
func (c *Config) complete() error {
	if c.Addr == "" {
		host := "127.0.0.1"
		if c.LAN {
			host = ""
		}
		c.Addr = net.JoinHostPort(host, strconv.Itoa(DefaultPort))
	}
	host, port, err := net.SplitHostPort(c.Addr)
	if err != nil {
		return fmt.Errorf("%q is no address to listen on: write it as --addr 127.0.0.1:%d", c.Addr, DefaultPort)
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return fmt.Errorf("%q is no port: write a number from 1 to 65535, as in --addr 127.0.0.1:%d", port, DefaultPort)
	}
	if !c.LAN && !isLoopback(host) {
		return fmt.Errorf("%s can be reached from other machines: add --lan if that is wanted, or listen on --addr 127.0.0.1:%s",
			c.Addr, port)
	}
	if (c.CertFile == "") != (c.KeyFile == "") {
		return errors.New("a certificate and its key come together: give both --cert and --key, or neither")
	}
	if c.LAN && c.Hash == "" {
		if c.Dir != "" {
			if c.Hash, err = LoadPassphrase(c.Dir); err != nil && !errors.Is(err, os.ErrNotExist) {
				return err
			}
		}
		if c.Hash == "" {
			return errors.New("on a LAN the page needs a passphrase: set one with `halfsplit passphrase`, or leave --lan away")
		}
	}
	if c.LAN && c.CertFile == "" && c.Dir == "" {
		return errors.New("on a LAN the page needs a certificate: give --cert and --key, or a data folder to keep a self-made one in")
	}
	for _, n := range c.Names {
		if n == "" || strings.ContainsAny(n, "/:@ ") {
			return fmt.Errorf("%q is no host name: write it without port and slashes, as in bench.home.arpa", n)
		}
	}
	orDefault(&c.Idle, 4*time.Hour)
	orDefault(&c.Absolute, 16*time.Hour)
	orDefault(&c.Timeouts.Header, 10*time.Second)
	orDefault(&c.Timeouts.Read, 30*time.Second)
	orDefault(&c.Timeouts.Write, 60*time.Second)
	orDefault(&c.Timeouts.Idle, 2*time.Minute)
	orDefault(&c.Timeouts.Grace, 10*time.Second)
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return nil
}

func orDefault(d *time.Duration, v time.Duration) {
	if *d <= 0 {
		*d = v
	}
}

// Locked reports whether a passphrase is asked for: pages then show a way to log out (a POST to LogoutPath).
func (g *Guard) Locked() bool { return g.hash != nil }

// Wrap puts the guard in front of h. Answers of h carry the guard's headers unless h sets its own.
func (g *Guard) Wrap(h http.Handler) http.Handler {
	return http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		w := g.newWriter(rw)
		setHeaders(w.Header())
		defer g.catch(w, r)
		if refusal := g.inspect(r); refusal != nil {
			g.refuse(w, r, *refusal)
			return
		}
		if g.Locked() && (r.URL.Path == LoginPath || r.URL.Path == LogoutPath) {
			g.door(w, r)
			return
		}
		r, ok := g.admit(w, r)
		if !ok || !g.limitBody(w, r, g.bodyLimit(r)) {
			return
		}
		h.ServeHTTP(w, r)
	})
}

// inspect looks at what can be judged from the request line and the header alone. nil: nothing wrong.
func (g *Guard) inspect(r *http.Request) *Refusal {
	for _, check := range []func(*http.Request) *Refusal{checkMethod, checkPath, g.checkHost, g.checkOrigin} {
		if refusal := check(r); refusal != nil {
			return refusal
		}
	}
	return nil
}
