// Package reckon serves the bench calculators and what reasons without a log: key matrices, memories and dumps, sliders. Nothing here is
// kept: a form's state is its address, an uploaded dump is forgotten with the answer. A job's board can fill in what it knows.
//
// This file says which address leads where, and what the pages share.
package reckon

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
)

//go:generate go tool templ generate

// Register adds the pages to a mux.
func Register(mux *http.ServeMux, s *shell.Shell) {
	p := &pages{s}
	on := func(pattern string, h func(http.ResponseWriter, *http.Request) error) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil {
				s.Fail(w, r, err)
			}
		})
	}
	on("GET /reckon", p.index)
	on("GET /reckon/keys", p.keys)
	on("GET /reckon/memory", p.memory)
	on("POST /reckon/memory", p.memory)
	on("GET /reckon/roms", p.roms)
	on("POST /reckon/roms", p.roms)
	on("GET /reckon/sweep", p.sweep)
	on("GET /reckon/{name}", p.calc)
}

type pages struct{ *shell.Shell }

// source is the job whose board feeds a form; the zero value is none.
type source struct {
	ID      int64
	Title   string
	Circuit *circuit.Circuit // nil when the job has no board without errors
}

// source reads ?job=. A job that is not there is app.ErrNone.
func (p *pages) source(r *http.Request) (source, error) {
	s := r.FormValue("job")
	if s == "" {
		return source{}, nil
	}
	id, err := strconv.ParseInt(s, 10, 64)
	if err != nil || id < 1 {
		return source{}, app.ErrNone
	}
	j, c, err := p.Desk.JobBoard(r.Context(), id)
	if err != nil {
		return source{}, err
	}
	return source{id, j.Intake.Machine, c}, nil
}

// missing says why a chosen job cannot help; "" when it can, or when none is chosen.
func (s source) missing() string {
	if s.ID != 0 && s.Circuit == nil {
		return "This job has no board without errors yet, so there is nothing to take from it."
	}
	return ""
}

// query keeps the job in a link to another page.
func (s source) query() string {
	if s.ID == 0 {
		return ""
	}
	return "?job=" + strconv.FormatInt(s.ID, 10)
}

// places are the parts and nets of the board, for completion.
func (s source) places() []string {
	var out []string
	if s.Circuit == nil {
		return nil
	}
	for i := range s.Circuit.Parts {
		out = append(out, s.Circuit.Parts[i].Ref)
	}
	for i := range s.Circuit.Nets {
		if !s.Circuit.Nets[i].Hidden {
			out = append(out, s.Circuit.NetName(i))
		}
	}
	return out
}

// mistakes are messages by field; "" is for the form as a whole.
type mistakes map[string]string

func (m mistakes) add(field, text string) {
	if m[field] == "" {
		m[field] = shell.Sentence(text)
	}
}

// status is what the answer to a form is sent with: a mistake is 422, but to the script 200, which then shows the page with the message
// at its field and not the message alone.
func (m mistakes) status(r *http.Request) int {
	if len(m) > 0 && !shell.ByScript(r) {
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

// asked tells whether a form was sent, rather than the page opened.
func asked(q url.Values) bool {
	for name := range q {
		if name != "job" {
			return true
		}
	}
	return false
}

// words splits a list of keys or the like.
func words(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,;\t\r\n", r) })
}

// parse reads a form with or without files; the server bounds its size, so it stays in memory.
func parse(r *http.Request) error {
	if err := r.ParseMultipartForm(8 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return err
	}
	return nil
}
