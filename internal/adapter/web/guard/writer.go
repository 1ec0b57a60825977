package guard

// The clocks of one exchange: every piece of a body has a time to arrive, every piece of an answer a time to leave, so that a dead
// connection is noticed while a slow but living one (a big photo over weak wireless, a backup) is not cut off.

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"
)

// writer renews the write deadline with each piece and remembers whether the answer has begun.
type writer struct {
	http.ResponseWriter
	control *http.ResponseController
	patient time.Duration
	began   bool
}

func (g *Guard) newWriter(w http.ResponseWriter) *writer {
	return &writer{ResponseWriter: w, control: http.NewResponseController(w), patient: g.cfg.Timeouts.Write}
}

// Unwrap lets http.ResponseController reach the connection.
func (w *writer) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// renew ignores that a writer without connection, as in tests, has no deadlines.
func (w *writer) renew() { _ = w.control.SetWriteDeadline(time.Now().Add(w.patient)) }

func (w *writer) WriteHeader(status int) {
	w.began = true
	w.renew()
	w.ResponseWriter.WriteHeader(status)
}

func (w *writer) Write(p []byte) (int, error) {
	w.began = true
	w.renew()
	return w.ResponseWriter.Write(p)
}

// defaultBody is the largest body when nothing else is said: 1 MiB, many times the largest form.
const defaultBody = 1 << 20

// slowest is the mean rate below which a body is given up, bytes per second: a 40-megabyte photo may take 20 minutes.
const slowest = 32 << 10

func (g *Guard) bodyLimit(r *http.Request) int64 {
	if g.cfg.Body == nil {
		return defaultBody
	}
	return g.cfg.Body(r)
}

// limitBody refuses a body that announces itself as too large, and makes a larger one than it announced fail while it is read: the
// handler then sees an error that TooLarge knows. false: answered already.
func (g *Guard) limitBody(w *writer, r *http.Request, limit int64) bool {
	if r.Body == nil || r.Body == http.NoBody || r.ContentLength == 0 {
		return true
	}
	body := &timedBody{ReadCloser: r.Body, control: w.control, patience: g.cfg.Timeouts.Read,
		last: time.Now().Add(g.cfg.Timeouts.Read + time.Duration(limit/slowest)*time.Second)}
	if r.ContentLength > limit {
		// A browser that is still sending does not show the answer; so a body that is not absurd is let in and thrown away.
		body.last = time.Now().Add(g.cfg.Timeouts.Read)
		_, _ = io.CopyN(io.Discard, body, 2*limit)
		g.refuse(w, r, tooLarge(limit))
		return false
	}
	r.Body = http.MaxBytesReader(w.ResponseWriter, body, limit)
	return true
}

// TooLarge reports whether reading a body failed because it was larger than allowed, and the refusal to show.
func TooLarge(err error) (Refusal, bool) {
	var e *http.MaxBytesError
	if !errors.As(err, &e) {
		return Refusal{}, false
	}
	return tooLarge(e.Limit), true
}

func tooLarge(limit int64) Refusal {
	return Refusal{Status: http.StatusRequestEntityTooLarge,
		Message: fmt.Sprintf("That is too much at once: at most %s are taken here. Nothing was changed.", size(limit)),
		WayOut:  "Send a smaller file, or fewer rows at a time."}
}

// size writes a number of bytes for people, in the units of file managers.
func size(n int64) string {
	switch {
	case n >= 1<<20:
		return fmt.Sprintf("%d MB", n>>20)
	case n >= 1<<10:
		return fmt.Sprintf("%d kB", n>>10)
	}
	return fmt.Sprintf("%d bytes", n)
}

// timedBody gives each piece of a body its own time to arrive, and the whole of it a last moment.
type timedBody struct {
	io.ReadCloser
	control  *http.ResponseController
	patience time.Duration
	last     time.Time
}

func (b *timedBody) Read(p []byte) (int, error) {
	until := time.Now().Add(b.patience)
	if until.After(b.last) {
		until = b.last
	}
	_ = b.control.SetReadDeadline(until) // net/http lifts it by itself when the body has ended
	return b.ReadCloser.Read(p)
}
