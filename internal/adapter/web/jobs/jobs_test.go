package jobs

// A workshop under test: the real desk over a real store in a temporary folder, a clock that the test sets, and a browser that
// keeps nothing.

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"halfsplit/examples"
	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

type shop struct {
	t    *testing.T
	desk *app.Desk
	mux  *http.ServeMux
	now  time.Time
	mono time.Duration
}

func newShop(t *testing.T) *shop {
	t.Helper()
	s := &shop{t: t, now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), mono: time.Hour}
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "workshop.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = st.Close() })
	s.desk = app.NewDesk(st, yamlfile.Texts{}, app.Clock{Now: func() time.Time { return s.now }, Mono: func() time.Duration { return s.mono }})
	board := s.board()
	s.desk.OfferExamples([]app.Example{{Name: "lift-panel/never-goes-up", Files: board, Faults: []string{"dead@U1"},
		Intake: job.Intake{Machine: "Goods lift", Owner: "example", Complaint: "never goes up", Accessories: "none", Condition: "fine"}}})
	sh, err := shell.New(s.desk, slog.New(slog.DiscardHandler), false)
	if err != nil {
		t.Fatal(err)
	}
	s.mux = http.NewServeMux()
	Register(s.mux, sh)
	return s
}

// board is the board of an invented machine.
func (s *shop) board() app.BoardFiles {
	s.t.Helper()
	read := func(name string) []byte {
		data, err := examples.Files.ReadFile("lift-panel/" + name)
		if err != nil {
			s.t.Fatal(err)
		}
		return data
	}
	return app.BoardFiles{Text: string(read("board.yaml")), Files: map[string][]byte{"parts.yaml": read("parts.yaml")}}
}

// get loads a page as a browser does.
func (s *shop) get(path string) *httptest.ResponseRecorder {
	s.t.Helper()
	return s.do(httptest.NewRequestWithContext(s.t.Context(), http.MethodGet, path, nil))
}

// page is the text of a page that must be there.
func (s *shop) page(path string) string {
	s.t.Helper()
	w := s.get(path)
	if w.Code != http.StatusOK {
		s.t.Fatalf("GET %s: %d\n%s", path, w.Code, w.Body)
	}
	return w.Body.String()
}

// post sends a form as the page's script does. Fields come as "name=value".
func (s *shop) post(path string, fields ...string) *httptest.ResponseRecorder {
	return s.send(true, path, fields...)
}

func (s *shop) send(script bool, path string, fields ...string) *httptest.ResponseRecorder {
	s.t.Helper()
	r := newForm(s.t, path, fields...)
	if script {
		r.Header.Set("HX-Request", "true")
	}
	return s.do(r)
}

// events is how many a job has.
func (s *shop) events(id int64) int {
	s.t.Helper()
	list, err := s.desk.Store().Events(context.Background(), id, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return len(list)
}

func (s *shop) view(id int64) *app.JobView {
	s.t.Helper()
	v, err := s.desk.View(s.t.Context(), id)
	if err != nil {
		s.t.Fatal(err)
	}
	return v
}

// take opens a job with a board and damage on it.
func (s *shop) take() int64 {
	s.t.Helper()
	in := job.Intake{Machine: "Counter box <b>", Owner: "K-7", Complaint: "Lamp \"3\" is dark & cold", Condition: "scratched", Accessories: "lead", Mains: true, Battery: true, Backed: true,
		Zones: []job.Zone{{Kind: "water", Text: "corner", Parts: []string{"U1", "U999"}, Nets: []string{"LC3"}}}}
	id, err := s.desk.Take(s.t.Context(), in, "take")
	if err != nil {
		s.t.Fatal(err)
	}
	v, fl, err := s.desk.SaveBoard(s.t.Context(), 0, s.board())
	if err != nil || fl.Errors() {
		s.t.Fatal(err, fl)
	}
	s.record(id, &job.BoardUsed{Version: v.ID, Title: v.Title, Number: v.Number, Parts: v.Parts})
	return id
}

func (s *shop) record(id int64, facts ...job.Fact) {
	s.t.Helper()
	for _, f := range facts {
		if _, err := s.desk.Record(s.t.Context(), id, shell.Key(), f); err != nil {
			s.t.Fatal(err)
		}
	}
}

func body(w *httptest.ResponseRecorder) string { return strings.TrimSpace(w.Body.String()) }

func (s *shop) do(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.mux.ServeHTTP(w, r)
	return w
}

func newForm(t *testing.T, path string, fields ...string) *http.Request {
	form := url.Values{}
	for _, f := range fields {
		name, value, _ := strings.Cut(f, "=")
		form.Add(name, value)
	}
	r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return r
}

func (s *shop) path(id int64, page string) string { return shell.JobPath(id, page) }

func itoa(n int64) string { return strconv.FormatInt(n, 10) }
