package guard

// Listening, announcing the address, and ending without breaking off what is under way.

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"syscall"
)

// maxHeader is the largest header of a request, bytes; browsers send one or two thousand.
const maxHeader = 32 << 10

// Listen takes the address, so that URL is known before Serve begins. Calling it again does nothing.
func (g *Guard) Listen() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.listener != nil {
		return nil
	}
	l, err := net.Listen("tcp", g.cfg.Addr)
	if err != nil {
		return explain(g.cfg.Addr, err)
	}
	g.listener = l
	return nil
}

// explain says the way out of an address that cannot be had.
func explain(addr string, err error) error {
	host, port, _ := net.SplitHostPort(addr)
	n, _ := strconv.Atoi(port)
	other := net.JoinHostPort(host, strconv.Itoa(n+1))
	if n == 65535 {
		other = net.JoinHostPort(host, strconv.Itoa(DefaultPort))
	}
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return fmt.Errorf("%s is taken, perhaps by this program in another window: use that one, or start with --addr %s", addr, other)
	case errors.Is(err, syscall.EACCES):
		return fmt.Errorf("the system does not allow listening on %s: take a port above 1023, as in --addr %s", addr,
			net.JoinHostPort(host, strconv.Itoa(DefaultPort)))
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return fmt.Errorf("this machine has no address %s: start with one of its own, such as --addr 127.0.0.1:%s", host, port)
	}
	return fmt.Errorf("cannot listen on %s (%w): choose another address with --addr", addr, err)
}

// URL is where to open the page, without a final slash; empty before Listen. On all addresses of a LAN it is the first one.
func (g *Guard) URL() string {
	if all := g.URLs(); len(all) > 0 {
		return all[0]
	}
	return ""
}

// URLs are all places where the page can be opened; none before Listen.
func (g *Guard) URLs() []string {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.listener == nil {
		return nil
	}
	at, err := netip.ParseAddrPort(g.listener.Addr().String())
	if err != nil {
		return nil
	}
	addrs := []netip.Addr{at.Addr().Unmap()}
	if addrs[0].IsUnspecified() {
		addrs = append(lanAddresses(), netip.MustParseAddr("127.0.0.1"))
	}
	s := "http"
	if g.cert != nil {
		s = "https"
	}
	var out []string
	for _, a := range addrs {
		out = append(out, s+"://"+netip.AddrPortFrom(a, at.Port()).String())
	}
	return out
}

// Announcement is what the technician reads when the program has started: the addresses, and what to compare on the tablet.
func (g *Guard) Announcement() string {
	var b strings.Builder
	for i, u := range g.URLs() {
		if i == 0 {
			fmt.Fprintf(&b, "The bench page is at %s\n", u)
			continue
		}
		fmt.Fprintf(&b, "              and at %s\n", u)
	}
	if g.selfMade {
		fmt.Fprintf(&b, "The certificate was made on this machine, so the tablet warns once. Before accepting it, compare its SHA-256 fingerprint:\n%s\n",
			g.Fingerprint())
	}
	return b.String()
}

// Serve answers requests until ctx ends, then lets those under way finish (live streams end at once). It listens if Listen was not
// called. The error is nil after an ordinary end.
func (g *Guard) Serve(ctx context.Context, h http.Handler) error {
	if err := g.Listen(); err != nil {
		return err
	}
	t := g.cfg.Timeouts
	srv := &http.Server{
		Handler:           g.Wrap(h),
		ReadHeaderTimeout: t.Header,
		ReadTimeout:       t.Read, // then renewed with each piece of a body
		WriteTimeout:      t.Write,
		IdleTimeout:       t.Idle,
		MaxHeaderBytes:    maxHeader,
		// "OPTIONS *" would be answered past the guard.
		DisableGeneralOptionsHandler: true,
		// Broken handshakes of a tablet that was not yet told to trust the certificate are no trouble.
		ErrorLog: slog.NewLogLogger(g.cfg.Log.Handler(), slog.LevelDebug),
	}
	serve := func() error { return srv.Serve(g.listener) }
	if g.cert != nil {
		srv.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{*g.cert}}
		serve = func() error { return srv.ServeTLS(g.listener, "", "") }
	}
	ended := make(chan error, 1)
	go func() { ended <- serve() }()
	select {
	case err := <-ended:
		g.stop()
		return fmt.Errorf("the page is no longer served: %w", err)
	case <-ctx.Done():
	}
	g.stop()
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), t.Grace)
	defer cancel()
	err := srv.Shutdown(grace)
	if err != nil {
		err = errors.Join(fmt.Errorf("some requests did not finish within %v and were broken off", t.Grace), srv.Close())
	}
	if e := <-ended; !errors.Is(e, http.ErrServerClosed) {
		err = errors.Join(err, e)
	}
	return err
}
