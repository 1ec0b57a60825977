package guard

// How a request is turned away, and the one net under all handlers for a panic.

import (
	"fmt"
	"net/http"
	"runtime/debug"
	"strconv"
	"time"
)

// Refusal is a request that did not reach its handler, or whose handler broke, in words for the technician.
type Refusal struct {
	Status  int           // HTTP status
	Message string        // what happened
	WayOut  string        // what to do; may be empty
	Wait    time.Duration // how long to wait before trying again; 0 when waiting does not help

	allow string // value of the Allow header
}

// refuse answers with the refusal.
func (g *Guard) refuse(w http.ResponseWriter, r *http.Request, f Refusal) {
	if f.allow != "" {
		w.Header().Set("Allow", f.allow)
	}
	if f.Wait > 0 {
		w.Header().Set("Retry-After", retryAfter(f.Wait))
	}
	kind := "text/plain; charset=utf-8"
	if g.cfg.Refused != nil {
		kind = "text/html; charset=utf-8"
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(f.Status)
	if g.cfg.Refused != nil {
		g.cfg.Refused(w, r, f)
		return
	}
	fmt.Fprintln(w, f.Message)
	if f.WayOut != "" {
		fmt.Fprintln(w, f.WayOut)
	}
}

// retryAfter is a wait in whole seconds, rounded up.
func retryAfter(d time.Duration) string {
	return strconv.FormatInt(int64((d+time.Second-1)/time.Second), 10)
}

// catch is deferred around every request: a panic becomes a page and a line in the log, and the program goes on.
func (g *Guard) catch(w *writer, r *http.Request) {
	trouble := recover()
	if trouble == nil {
		return
	}
	if trouble == http.ErrAbortHandler {
		panic(trouble) // the agreed way to break a connection off
	}
	g.cfg.Log.Error("a request broke the program's own rules", "method", r.Method, "path", r.URL.Path,
		"trouble", fmt.Sprint(trouble), "stack", string(debug.Stack()))
	if w.began {
		panic(http.ErrAbortHandler) // half a page must not look like a whole one
	}
	g.internal(w, r)
}

// internal answers 500. The page must come even when the page's own template is what broke.
func (g *Guard) internal(w *writer, r *http.Request) {
	h := w.Header()
	clear(h)
	setHeaders(h)
	f := Refusal{Status: http.StatusInternalServerError,
		Message: "The program made a mistake of its own. Nothing is lost: every entry that was confirmed is stored.",
		WayOut:  "Go back and load the page again. If it happens again, say what you entered; the log of the program has the details."}
	if g.cfg.Refused == nil {
		g.refuse(w, r, f)
		return
	}
	defer func() {
		if trouble := recover(); trouble != nil {
			g.cfg.Log.Error("the page of a refusal broke too", "trouble", fmt.Sprint(trouble))
			panic(http.ErrAbortHandler)
		}
	}()
	g.refuse(w, r, f)
}
