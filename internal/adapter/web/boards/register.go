// Package boards serves the boards of the workshop: their list, the editor with text and table of the same draft, import and export, the
// versions, and the page on which a job chooses the version it is worked with.
//
// The one source of an editor is the text. It is kept as a draft with every change, so that a reload, a crash or a lost connection loses
// nothing; saving makes a version of it.
//
// This file says which address leads where.
package boards

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
)

//go:generate go tool templ generate

type pages struct{ *shell.Shell }

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
	on("GET /boards", p.list)
	on("POST /boards/import", p.imported)
	on("GET /boards/{id}", p.editor)
	on("POST /boards/{id}/check", p.check)
	on("POST /boards/{id}/save", p.save)
	on("POST /boards/{id}/discard", p.discard)
	on("POST /boards/{id}/paste", p.paste)
	on("POST /boards/{id}/nets", p.nets)
	on("POST /boards/{id}/open", p.openPart)
	on("GET /boards/{id}/part", p.part)
	on("POST /boards/{id}/part", p.savePart)
	on("POST /boards/{id}/part/preview", p.preview)
	on("POST /boards/{id}/part/away", p.removePart)
	on("POST /boards/{id}/files", p.addFiles)
	on("POST /boards/{id}/files/away", p.removeFile)
	on("GET /boards/{id}/export", p.export)
	on("GET /boards/{id}/versions", p.versions)
	on("GET /boards/{id}/versions/{version}", p.version)
	on("POST /boards/{id}/versions/{version}/again", p.again)
	on("GET /jobs/{id}/model", p.model)
	on("POST /jobs/{id}/board", p.choose)
}

// sheet is a board under the hand: what is kept of it, and the text as it stands in the editor.
type sheet struct {
	id    int64 // 0: not saved yet
	job   int64 // the job that it is entered for, or 0
	kept  app.BoardVersion
	files app.BoardFiles // Text is the draft when there is one
	draft bool           // the text was changed since the version
}

// name is the board's place in addresses.
func (s *sheet) name() string {
	if s.id == 0 {
		return "new"
	}
	return strconv.FormatInt(s.id, 10)
}

// path is the address of a page of the board.
func (s *sheet) path(page string) string {
	u := "/boards/" + s.name()
	if page != "" {
		u += "/" + page
	}
	return u + s.query("")
}

// query carries the job along.
func (s *sheet) query(more string) string {
	q := url.Values{}
	if s.job != 0 {
		q.Set("job", strconv.FormatInt(s.job, 10))
	}
	out := q.Encode()
	if more != "" && out != "" {
		more = "&" + more
	}
	if out+more == "" {
		return ""
	}
	return "?" + out + more
}

func draftName(id int64) string { return fmt.Sprintf("board-%d", id) }

// sheetOf reads the board of the address.
func (p *pages) sheetOf(r *http.Request) (*sheet, error) {
	s := &sheet{}
	if r.Method == http.MethodPost && !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/") {
		if err := r.ParseForm(); err != nil {
			return nil, err
		}
	}
	if n, err := strconv.ParseInt(r.FormValue("job"), 10, 64); err == nil && n > 0 {
		s.job = n
	}
	ctx := r.Context()
	if r.PathValue("id") != "new" {
		s.id = shell.ID(r, "id")
		if s.id == 0 {
			return nil, app.ErrNone
		}
		if err := p.newest(ctx, s); err != nil {
			return nil, err
		}
	} else {
		s.files = app.BoardFiles{Text: starter}
	}
	text, _, err := p.Desk.Store().Draft(ctx, draftName(s.id))
	if err != nil {
		return nil, err
	}
	if text != "" && text != s.files.Text {
		s.files.Text, s.draft = text, true
	}
	return s, nil
}

func (p *pages) newest(ctx context.Context, s *sheet) error {
	vs, err := p.Desk.Store().BoardVersions(ctx, s.id)
	if err != nil {
		return err
	}
	if len(vs) == 0 {
		return app.ErrNone
	}
	s.kept, s.files, err = p.Desk.Store().BoardVersion(ctx, vs[0].ID)
	s.files.Text = app.PlainLines(s.files.Text)
	return err
}

// typed takes the text that came with a form, and keeps it as the draft.
func (p *pages) typed(r *http.Request, s *sheet) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	texts, came := r.PostForm["text"]
	if !came {
		return nil
	}
	return p.keep(r.Context(), s, app.PlainLines(texts[0]))
}

// maxText bounds a board's text in bytes; the form around it has its own, larger bound.
const maxText = 3 << 20

func (p *pages) keep(ctx context.Context, s *sheet, text string) error {
	if len(text) > maxText {
		return app.Wrong{Err: fmt.Errorf("the text has %d kB; at most %d kB are taken, so split the board", len(text)>>10, maxText>>10)}
	}
	kept := s.kept.ID != 0
	if kept && text == s.files.Text && !s.draft {
		return nil
	}
	s.files.Text, s.draft = text, true
	if text == "" {
		text = "\n" // an empty draft would be no draft
	}
	return p.Desk.Store().SaveDraft(ctx, draftName(s.id), text, p.Desk.Now())
}

func wrong(format string, args ...any) error { return app.Wrong{Err: fmt.Errorf(format, args...)} }

// asWrong makes any mistake one of the person.
func asWrong(err error) error {
	var w app.Wrong
	if err == nil || errors.As(err, &w) {
		return err
	}
	return app.Wrong{Err: err}
}

const starter = `# A new board. What stands after # is a remark; the table shows the parts as you type.
board: New board
rails: {VCC: 5 V, GND: 0 V}
inputs: [A, B]              # nets driven from outside: keys, another board, the processor
parts:
  U1:
    type: 74LS00
    pins: {1: A, 2: B, 3: Y, 7: GND, 14: VCC}
  R1: {type: resistor, value: 330, pins: [Y, LA]}
  LP1: {type: led, pins: [LA, GND]}
start: power-up
actions:
  power-up:
    title: Switch on
    steps:
      - {A: 0, B: 0}
  both-keys:
    title: Both inputs high
    steps:
      - {A: 1, B: 1}
`
