// Package shell is what all pages of the browser share: the frame with its navigation and the rail of stages, the style sheet and
// the script, how an answer is written, and how a mistake is told at the place where it was made.
//
// Every page works without script as plain forms and links. With script, htmx puts the new page into the old one, so that nothing
// flickers under the hand that holds the probe, and an entry that finds no connection waits in the browser and is sent again with the
// same key.
package shell

import (
	"crypto/rand"
	"embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"io/fs"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/a-h/templ"

	"halfsplit/internal/adapter/web/guard"
	"halfsplit/internal/app"
)

//go:generate go tool templ generate

//go:embed static
var static embed.FS

// Prefix is where the files of the page lie.
const Prefix = "/static/"

// Shell is shared by all pages; it is not changed after New.
type Shell struct {
	Desk   *app.Desk
	Assets *guard.Assets
	Log    *slog.Logger
	Locked bool // a passphrase is asked for: the page offers to log out
}

// New makes the shell over a desk.
func New(desk *app.Desk, log *slog.Logger, locked bool) (*Shell, error) {
	files, err := fs.Sub(static, "static")
	if err != nil {
		return nil, err
	}
	a, err := guard.NewAssets(Prefix, files)
	if err != nil {
		return nil, err
	}
	return &Shell{Desk: desk, Assets: a, Log: log, Locked: locked}, nil
}

// Info is what the frame of a page needs to know.
type Info struct {
	Shell *Shell
	Title string
	Nav   string       // jobs, boards, parts, reckon, shop
	Job   *app.JobView // nil outside a job
	Stage string       // the stage that the page belongs to
}

// Render writes a page or a piece of one.
func (s *Shell) Render(w http.ResponseWriter, r *http.Request, status int, c templ.Component) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if err := c.Render(r.Context(), w); err != nil {
		s.Log.Warn("a page could not be written", "path", r.URL.Path, "error", err)
	}
}

// ByScript tells whether the page's script asks, rather than the browser.
func ByScript(r *http.Request) bool { return r.Header.Get("HX-Request") == "true" }

// Fail tells what went wrong: a mistake of the person with 422 at the form, a missing thing with 404, anything else with 500 and the
// comfort that nothing is lost. Asked by script the answer is the message alone, which the script shows at the form.
func (s *Shell) Fail(w http.ResponseWriter, r *http.Request, err error) {
	status, text, way := http.StatusInternalServerError, "", "Nothing that was confirmed is lost. Try again; if it stays, look at what the program wrote where it was started."
	var wrong app.Wrong
	refusal, large := guard.TooLarge(err)
	switch {
	case errors.As(err, &wrong):
		status, text, way = http.StatusUnprocessableEntity, wrong.Error(), ""
	case errors.Is(err, app.ErrNone):
		status, text, way = http.StatusNotFound, "That is not here.", "Perhaps the address is old. Start from the list of jobs."
	case large:
		status, text, way = refusal.Status, refusal.Message, refusal.WayOut
	case r.Context().Err() != nil:
		return // nobody listens any more
	default:
		text = err.Error()
		s.Log.Error("a request failed", "path", r.URL.Path, "error", err)
	}
	text = Sentence(text)
	if ByScript(r) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(status)
		fmt.Fprintln(w, strings.TrimSpace(text+" "+way))
		return
	}
	s.Render(w, r, status, trouble(Info{Shell: s, Title: "That did not work"}, text, way))
}

// Refused is the page of a request that was turned away before any handler.
func (s *Shell) Refused(w http.ResponseWriter, r *http.Request, f guard.Refusal) {
	if ByScript(r) {
		fmt.Fprintln(w, html.EscapeString(strings.TrimSpace(f.Message+" "+f.WayOut))) // the answer is already said to be HTML
		return
	}
	if err := trouble(Info{Shell: s, Title: "Turned away"}, f.Message, f.WayOut).Render(r.Context(), w); err != nil {
		s.Log.Warn("a page could not be written", "path", r.URL.Path, "error", err)
	}
}

// Login is the page that asks for the passphrase.
func (s *Shell) Login(w http.ResponseWriter, r *http.Request, v guard.LoginView) {
	if err := login(s, v).Render(r.Context(), w); err != nil {
		s.Log.Warn("a page could not be written", "path", r.URL.Path, "error", err)
	}
}

// Sentence begins with a capital and ends with a full stop.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	first, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(first)) + s[n:]
	if !strings.ContainsAny(s[len(s)-1:], ".!?:") {
		s += "."
	}
	return s
}

// Back answers a form that was taken: with the page itself when the script asks, else by sending the browser there.
func Back(w http.ResponseWriter, r *http.Request, to string) {
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// Key makes the key under which a form is sent: the same form sent twice is taken once.
func Key() string {
	b := make([]byte, 12)
	rand.Read(b) // it never fails: see crypto/rand
	return base64.RawURLEncoding.EncodeToString(b)
}

// ID reads the number in the address, such as {id}; 0 when it is none.
func ID(r *http.Request, name string) int64 {
	n, err := strconv.ParseInt(r.PathValue(name), 10, 64)
	if err != nil || n < 1 {
		return 0
	}
	return n
}

// JobPath is the address of a page of a job.
func JobPath(id int64, page string) string {
	if page == "" {
		return fmt.Sprintf("/jobs/%d", id)
	}
	return fmt.Sprintf("/jobs/%d/%s", id, page)
}
