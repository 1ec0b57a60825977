package guard

// The door: who has no session is sent to the log-in page and, with the passphrase, back to where they wanted to go.

import (
	"context"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"
)

// Paths that the guard answers itself when there is a passphrase. Logging out is a POST.
const (
	LoginPath  = "/login"
	LogoutPath = "/logout"
)

// Names of the fields of the log-in form.
const (
	PassphraseField = "passphrase"
	NextField       = "next"
)

// loginBody is the largest log-in form, bytes.
const loginBody = 8 << 10

// admit lets a request with a session through, with what its live stream must not outlive in its context; others are sent to the
// log-in page, or told so in words when it was not a person opening a page. false: answered already.
func (g *Guard) admit(w *writer, r *http.Request) (*http.Request, bool) {
	e := ends{stopping: g.stopping, session: g.stopping, life: 24 * time.Hour, patience: g.cfg.Timeouts.Write}
	if g.Locked() && (changes(r.Method) || !g.isPublic(r.URL.Path)) {
		ctx, life, ok := g.sessions.find(g.secret(r), !isLive(r))
		if !ok {
			g.turnAway(w, r)
			return nil, false
		}
		e.session, e.life = ctx, life
	}
	return r.WithContext(context.WithValue(r.Context(), endsKey{}, e)), true
}

func (g *Guard) isPublic(p string) bool {
	return slices.ContainsFunc(g.cfg.Public, func(public string) bool {
		return p == public || strings.HasSuffix(public, "/") && strings.HasPrefix(p, public)
	})
}

func (g *Guard) turnAway(w *writer, r *http.Request) {
	page := !changes(r.Method) && !isLive(r) &&
		(r.Header.Get("Sec-Fetch-Mode") == "navigate" || strings.Contains(r.Header.Get("Accept"), "text/html"))
	if page {
		http.Redirect(w, r, LoginPath+"?"+url.Values{NextField: {safeNext(r.URL.RequestURI())}}.Encode(), http.StatusSeeOther)
		return
	}
	g.refuse(w, r, Refusal{Status: http.StatusUnauthorized, Message: "The session has ended, so this was not stored.",
		WayOut: "Log in again in another window of this browser, then repeat it here: what you typed is still on the page."})
}

// door answers the log-in and log-out paths.
func (g *Guard) door(w *writer, r *http.Request) {
	if !g.limitBody(w, r, loginBody) {
		return
	}
	switch {
	case r.URL.Path == LogoutPath && r.Method == http.MethodPost:
		g.sessions.finish(g.secret(r))
		g.setCookie(w, "")
		http.Redirect(w, r, LoginPath, http.StatusSeeOther)
	case r.URL.Path == LoginPath && r.Method == http.MethodPost:
		g.tryPassphrase(w, r)
	case r.URL.Path == LoginPath && !changes(r.Method):
		g.showLogin(w, r, http.StatusOK, LoginView{Next: safeNext(r.URL.Query().Get(NextField)),
			Wait: g.attempts.pending(clientOf(r.RemoteAddr))})
	default:
		allow := "POST"
		if r.URL.Path == LoginPath {
			allow = "GET, HEAD, POST"
		}
		g.refuse(w, r, Refusal{Status: http.StatusMethodNotAllowed, allow: allow,
			Message: "Nothing is changed by opening an address. Use the button on the page."})
	}
}

func (g *Guard) tryPassphrase(w *writer, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		if f, ok := TooLarge(err); ok {
			g.refuse(w, r, f)
			return
		}
		g.refuse(w, r, Refusal{Status: http.StatusBadRequest, Message: "The form did not arrive whole.", WayOut: "Send it again."})
		return
	}
	next := safeNext(r.PostForm.Get(NextField))
	who := clientOf(r.RemoteAddr)
	if wait := g.attempts.begin(who); wait > 0 {
		w.Header().Set("Retry-After", retryAfter(wait))
		g.showLogin(w, r, http.StatusTooManyRequests, LoginView{Next: next, Wait: wait,
			Message: "Too many attempts. This one was not looked at; wait, then try again."})
		return
	}
	select {
	case g.hashing <- struct{}{}:
	case <-r.Context().Done():
		return
	}
	right := g.hash.matches(r.PostForm.Get(PassphraseField))
	<-g.hashing
	if !right {
		g.cfg.Log.Warn("wrong passphrase", "client", who.String())
		g.showLogin(w, r, http.StatusForbidden, LoginView{Next: next, Wait: g.attempts.pending(who),
			Message: "That is not the passphrase. Capitals, spaces and hyphens count."})
		return
	}
	g.attempts.right(who)
	g.sessions.finish(g.secret(r)) // a new log-in never goes on with an old secret
	g.setCookie(w, g.sessions.begin())
	http.Redirect(w, r, next, http.StatusSeeOther)
}

func (g *Guard) showLogin(w *writer, r *http.Request, status int, v LoginView) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	g.login(w, r, v)
}

// safeNext returns where to go after logging in: a path of this server, or "/" for everything else that someone may have put there.
func safeNext(next string) string {
	const home = "/"
	bad := func(c rune) bool { return c <= ' ' || c == 0x7f || c == '\\' } // browsers drop or turn these while reading an address
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsFunc(next, bad) || len(next) > 2000 {
		return home
	}
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || path.Clean(u.Path) == LoginPath || path.Clean(u.Path) == LogoutPath {
		return home
	}
	return next
}
