package guard

// Is this request meant for us, and does it come from one of our own pages? Method, path, Host and origin.

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path"
	"strings"
)

// changes reports whether a method may change state. Everything that is not known to only read counts as change.
func changes(method string) bool { return method != http.MethodGet && method != http.MethodHead }

func checkMethod(r *http.Request) *Refusal {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete:
		return nil
	}
	return &Refusal{Status: http.StatusMethodNotAllowed, Message: "This kind of request is not used here.",
		allow: "GET, HEAD, POST, PUT, PATCH, DELETE"}
}

// checkPath refuses every path that is not written in its shortest form, so that no later rule (public prefixes, files by name) can be
// talked around with "..", "//", backslashes or control characters.
func checkPath(r *http.Request) *Refusal {
	p := r.URL.Path
	clean := path.Clean(p)
	if clean != "/" && strings.HasSuffix(p, "/") {
		clean += "/"
	}
	bad := p != clean || !strings.HasPrefix(p, "/") || strings.ContainsFunc(p, func(c rune) bool { return c < ' ' || c == 0x7f || c == '\\' })
	if bad {
		return &Refusal{Status: http.StatusBadRequest, Message: "This address is not written as any page of this program is.",
			WayOut: "Start from the list of jobs."}
	}
	return nil
}

// Change lets only requests through that may change state (POST, PUT, PATCH, DELETE), for handlers that are registered without a method.
func Change(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !changes(r.Method) {
			w.Header().Set("Allow", "POST, PUT, PATCH, DELETE")
			http.Error(w, "Nothing is changed by opening an address. Use the button on the page.", http.StatusMethodNotAllowed)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// knownHosts are the names under which this machine may be addressed, besides loopback addresses and, on a LAN, the very address at
// which a request arrived.
func knownHosts(c Config) map[string]bool {
	m := map[string]bool{"localhost": true}
	for _, n := range c.Names {
		m[strings.ToLower(n)] = true
	}
	if c.LAN {
		if n, err := os.Hostname(); err == nil && n != "" {
			n = strings.ToLower(n)
			m[n] = true
			m[n+".local"] = true // multicast DNS, RFC 6762
		}
	}
	// 0.0.0.0 is an address to listen on, but none to be called by: browsers let some sites reach it.
	if host, _, err := net.SplitHostPort(c.Addr); err == nil && host != "" && !net.ParseIP(host).IsUnspecified() {
		m[strings.ToLower(host)] = true
	}
	return m
}

// checkHost refuses names that are not ours: a foreign name that leads to this address was put there by someone (DNS rebinding).
func (g *Guard) checkHost(r *http.Request) *Refusal {
	host := hostOnly(r.Host)
	if g.hosts[host] || isLoopback(host) && host != "" {
		return nil
	}
	if addr, err := netip.ParseAddr(host); err == nil && g.cfg.LAN && addr == arrivedAt(r) {
		return nil
	}
	return &Refusal{Status: http.StatusMisdirectedRequest,
		Message: fmt.Sprintf("This program does not answer under the name %.80q.", host),
		WayOut:  "Use the address that it printed when it started, or start it with --name and the name that you use."}
}

// hostOnly is the host of a Host header without port and brackets, in lower case.
func hostOnly(h string) string {
	if host, _, err := net.SplitHostPort(h); err == nil {
		h = host
	}
	return strings.ToLower(strings.TrimSuffix(strings.TrimPrefix(h, "["), "]"))
}

// isLoopback reports whether host (a name or an address without port) is this machine itself. The empty host is every address: no.
func isLoopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.Unmap().IsLoopback()
}

// arrivedAt is the address of this machine that the request's connection was made to; the zero address when not known.
func arrivedAt(r *http.Request) netip.Addr {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return netip.Addr{}
	}
	ap, err := netip.ParseAddrPort(local.String())
	if err != nil {
		return netip.Addr{}
	}
	return ap.Addr().Unmap().WithZone("")
}

// checkOrigin refuses what other sites make the browser send. Beyond net/http's protection: a request that changes something must say
// where it comes from, a named origin must be ours with scheme and all, and other sites may link to a page but not embed or fetch it.
func (g *Guard) checkOrigin(r *http.Request) *Refusal {
	refusal := &Refusal{Status: http.StatusForbidden, Message: "This request comes from another site and was refused.",
		WayOut: "Open the page itself and do it there. Nothing was changed."}
	if err := g.origin.Check(r); err != nil {
		return refusal
	}
	site, origin := r.Header.Get("Sec-Fetch-Site"), r.Header.Get("Origin")
	if origin != "" && origin != "null" {
		u, err := url.Parse(origin)
		if err != nil || u.Scheme != scheme(r) || !strings.EqualFold(u.Host, r.Host) {
			return refusal
		}
	}
	if changes(r.Method) {
		if site == "" && origin == "" {
			refusal.Message = "This request does not say which page it comes from and was refused."
			return refusal
		}
		return nil
	}
	link := r.Header.Get("Sec-Fetch-Mode") == "navigate" && r.Header.Get("Sec-Fetch-Dest") == "document"
	if (site == "cross-site" || site == "same-site") && !link {
		return refusal
	}
	return nil
}

func scheme(r *http.Request) string {
	if r.TLS != nil {
		return "https"
	}
	return "http"
}
