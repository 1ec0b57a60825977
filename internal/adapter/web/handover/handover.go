// Package handover is the end of a job in the browser: the account as a page that prints, as PDF from the same document, the log as CSV
// and as a case file, and the return to the owner.
package handover

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"halfsplit/internal/adapter/report"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

//go:generate go tool templ generate

type pages struct{ s *shell.Shell }

// Register adds the pages.
func Register(mux *http.ServeMux, s *shell.Shell) {
	p := &pages{s}
	mux.HandleFunc("GET /jobs/{id}/handover", p.show)
	mux.HandleFunc("POST /jobs/{id}/handover", p.hand)
	mux.HandleFunc("GET /jobs/{id}/report", p.page)
	mux.HandleFunc("GET /jobs/{id}/report.pdf", p.pdf)
	mux.HandleFunc("GET /jobs/{id}/log.csv", p.csv)
	mux.HandleFunc("GET /jobs/{id}/case.zip", p.files)
}

func (p *pages) report(w http.ResponseWriter, r *http.Request) (*app.Report, *app.JobView, bool) {
	d, v, err := p.s.Desk.Report(r.Context(), shell.ID(r, "id"))
	if err != nil {
		p.s.Fail(w, r, err)
		return nil, nil, false
	}
	return d, v, true
}

func info(s *shell.Shell, v *app.JobView) shell.Info {
	return shell.Info{Shell: s, Title: v.Job.Intake.Machine, Nav: "jobs", Job: v, Stage: "handover"}
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) {
	v, err := p.s.Desk.View(r.Context(), shell.ID(r, "id"))
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	p.s.Render(w, r, http.StatusOK, handoverPage(info(p.s, v), v))
}

// hand records that the unit went back, ready or not.
func (p *pages) hand(w http.ResponseWriter, r *http.Request) {
	id := shell.ID(r, "id")
	state := r.PostFormValue("state")
	if !slices.Contains([]string{job.Finished, job.Returned, job.Declined, job.AtBench}, state) {
		p.s.Fail(w, r, app.Wrong{Err: fmt.Errorf("choose what becomes of the unit")})
		return
	}
	if _, err := p.s.Desk.Record(r.Context(), id, r.PostFormValue("key"), &job.StateMark{State: state, Note: r.PostFormValue("note")}); err != nil {
		p.s.Fail(w, r, err)
		return
	}
	shell.Back(w, r, shell.JobPath(id, "handover"))
}

func (p *pages) page(w http.ResponseWriter, r *http.Request) {
	if d, v, ok := p.report(w, r); ok {
		p.s.Render(w, r, http.StatusOK, reportPage(info(p.s, v), d))
	}
}

func (p *pages) pdf(w http.ResponseWriter, r *http.Request) {
	d, v, ok := p.report(w, r)
	if !ok {
		return
	}
	var b bytes.Buffer
	err := report.PDF(&b, d, func(id int64) ([]byte, error) { return p.s.Desk.Store().Photo(r.Context(), id, false) })
	p.send(w, r, fmt.Sprintf("job-%d.pdf", v.Job.ID), "application/pdf", b.Bytes(), err)
}

func (p *pages) csv(w http.ResponseWriter, r *http.Request) {
	v, err := p.s.Desk.View(r.Context(), shell.ID(r, "id"))
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	var b bytes.Buffer
	err = app.LogCSV(&b, v)
	p.send(w, r, fmt.Sprintf("job-%d.csv", v.Job.ID), "text/csv; charset=utf-8", b.Bytes(), err)
}

// files are the case file with its board, as the command line reads them.
func (p *pages) files(w http.ResponseWriter, r *http.Request) {
	id := shell.ID(r, "id")
	b, err := caseZip(r.Context(), p.s.Desk, id)
	p.send(w, r, fmt.Sprintf("job-%d.zip", id), "application/zip", b, err)
}

func caseZip(ctx context.Context, d *app.Desk, id int64) ([]byte, error) {
	files, err := d.Export(ctx, id)
	if err != nil {
		return nil, err
	}
	var names []string
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, n := range names {
		f, err := z.CreateHeader(&zip.FileHeader{Name: n, Method: zip.Deflate, Modified: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return nil, err
		}
		if _, err := f.Write(files[n]); err != nil {
			return nil, err
		}
	}
	err = z.Close()
	return b.Bytes(), err
}

// send answers with a file to keep.
func (p *pages) send(w http.ResponseWriter, r *http.Request, name, kind string, data []byte, err error) {
	if err != nil {
		p.s.Fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	if _, err := w.Write(data); err != nil {
		p.s.Log.Debug("a file was not taken", "name", name, "error", err)
	}
}
