// Package volts is the page with the voltages that a good board shows at every pin, for a board and beside the readings of a job, on the screen and on
// paper; and where readings of a known-good unit are kept.
package volts

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
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
	on("GET /boards/{id}/volts", p.board)
	on("GET /boards/{id}/volts.csv", p.table)
	on("POST /boards/{id}/golden", p.golden)
	on("GET /jobs/{id}/volts", p.job)
	on("POST /jobs/{id}/golden", p.goldenJob)
}

// screen is what the templates are given.
type screen struct {
	info shell.Info
	x    *app.ExpectedView
	done string // what was just kept
}

// newest is the newest version of the board of the address.
func (p *pages) newest(r *http.Request) (*app.ExpectedView, error) {
	id := shell.ID(r, "id")
	if id == 0 {
		return nil, app.ErrNone
	}
	all, err := p.Desk.Store().BoardVersions(r.Context(), id)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, app.ErrNone
	}
	return p.Desk.Expected(r.Context(), all[0].ID, nil)
}

func (p *pages) board(w http.ResponseWriter, r *http.Request) error {
	x, err := p.newest(r)
	if err != nil {
		return err
	}
	s := screen{info: shell.Info{Shell: p.Shell, Title: "Voltages of " + x.Version.Title, Nav: "boards"}, x: x}
	if r.URL.Query().Get("done") != "" {
		s.done = fmt.Sprintf("Kept with the board, as version %d.", x.Version.Number)
	}
	p.Render(w, r, http.StatusOK, page(s))
	return nil
}

func (p *pages) job(w http.ResponseWriter, r *http.Request) error {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	if v.Job.Board.Version == 0 {
		return app.Wrong{Err: fmt.Errorf("the job has no board yet: choose one under Board model")}
	}
	x, err := p.Desk.Expected(r.Context(), v.Job.Board.Version, v.Probe)
	if err != nil {
		return err
	}
	s := screen{info: shell.Info{Shell: p.Shell, Title: "Voltages", Nav: "jobs", Job: v, Stage: "find"}, x: x}
	if r.URL.Query().Get("done") != "" {
		s.done = fmt.Sprintf("Kept with the board, as version %d; this job has it now.", x.Version.Number)
	}
	p.Render(w, r, http.StatusOK, page(s))
	return nil
}

// table is the board's table as comma-separated values.
func (p *pages) table(w http.ResponseWriter, r *http.Request) error {
	x, err := p.newest(r)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="voltages.csv"`)
	c := csv.NewWriter(w)
	rows := [][]string{{"pin", "name", "net", "volts", "low", "high", "ripple", "known good"}}
	opt := func(f *float64) string {
		if f == nil {
			return ""
		}
		return fmt.Sprint(*f)
	}
	for _, y := range x.Rows {
		rows = append(rows, []string{y.Pin, y.Name, app.PlainCell(y.Net), fmt.Sprint(y.Volts), fmt.Sprint(y.Low), fmt.Sprint(y.High), opt(y.Ripple), opt(y.Golden)})
	}
	return c.WriteAll(rows)
}

// golden adds a reading of a known-good unit to a board, or takes one away.
func (p *pages) golden(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	var add []job.Volts
	var away []string
	if at := r.PostForm.Get("away"); at != "" {
		away = []string{at}
	} else {
		at := strings.TrimSpace(r.PostForm.Get("at"))
		if at == "" {
			return app.Wrong{Err: fmt.Errorf("no place was given: write a net or a pin")}
		}
		v, err := app.ReadVolts(r.PostForm.Get("value"))
		if err != nil {
			return err
		}
		add = []job.Volts{{At: at, Volts: v}}
	}
	id := shell.ID(r, "id")
	if _, err := p.Desk.KeepGolden(r.Context(), id, add, away); err != nil {
		return err
	}
	shell.Back(w, r, fmt.Sprintf("/boards/%d/volts?done=1", id))
	return nil
}

// goldenJob keeps the readings of a job as those of a known-good unit.
func (p *pages) goldenJob(w http.ResponseWriter, r *http.Request) error {
	id := shell.ID(r, "id")
	if _, err := p.Desk.GoldenJob(r.Context(), id, r.PostFormValue("key")); err != nil {
		return err
	}
	shell.Back(w, r, shell.JobPath(id, "volts")+"?done=1")
	return nil
}

// hasSeen tells whether anything was read on the job's machine.
func hasSeen(x *app.ExpectedView) bool {
	return x.Job != nil && slices.ContainsFunc(x.Nets, func(n app.ExpectedNet) bool { return n.Seen != "" })
}

// hasRipple tells whether the board is on the mains.
func hasRipple(x *app.ExpectedView) bool { return len(x.Rows) > 0 && x.Rows[0].Ripple != nil }
