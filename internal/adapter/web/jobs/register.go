// Package jobs serves the pages of a job but for the probe, the board and the hand-over: the list, intake, safety, terms, the stages of
// the order of work, photos, clocks, and what the shop has set for all jobs.
//
// This file says which address leads where.
package jobs

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"halfsplit/internal/adapter/photo"
	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/core/job"
)

//go:generate go tool templ generate

// pages are the handlers; they hold nothing of a job between two requests.
type pages struct {
	*shell.Shell
	taker *photo.Taker
}

// stagePages are the stages with a page of the common layout. The work of rails and find is done on the probe page; here they have their
// notes and photos, and the rails can be left out.
var stagePages = []string{"opened", "clean", "controls", "supply", "rails", "find", "mend", "proof", "backup", "adjust", "soak", "final"}

// Register adds the pages to a mux.
func Register(mux *http.ServeMux, s *shell.Shell) {
	p := &pages{s, photo.New(photo.Limits{})}
	on := func(pattern string, h func(http.ResponseWriter, *http.Request) error) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil {
				s.Fail(w, r, plain(err))
			}
		})
	}
	on("GET /jobs", p.list)
	on("GET /jobs/new", p.fresh)
	on("POST /jobs", p.take)
	on("POST /jobs/example", p.example)
	on("GET /jobs/{id}", p.overview)
	on("GET /jobs/{id}/intake", p.intake)
	on("POST /jobs/{id}/intake", p.saveIntake)
	on("GET /jobs/{id}/safety", p.safety)
	on("POST /jobs/{id}/tick", p.tick)
	on("GET /jobs/{id}/terms", p.terms)
	on("POST /jobs/{id}/terms", p.saveTerms)
	on("POST /jobs/{id}/quote", p.quote)
	on("POST /jobs/{id}/cost", p.cost)
	on("POST /jobs/{id}/used", p.used)
	on("POST /jobs/{id}/state", p.state)
	on("POST /jobs/{id}/note", p.note)
	on("POST /jobs/{id}/strike", p.strike)
	on("POST /jobs/{id}/timer", p.timer)
	on("POST /jobs/{id}/mark", p.mark)
	on("POST /jobs/{id}/proof", p.proof)
	on("POST /jobs/{id}/rung", p.rung)
	on("POST /jobs/{id}/supply", p.saveSupply)
	on("POST /jobs/{id}/backup", p.saveBackup)
	on("POST /jobs/{id}/soak", p.saveSoak)
	for _, name := range stagePages {
		on("GET /jobs/{id}/"+name, func(w http.ResponseWriter, r *http.Request) error { return p.stage(w, r, name) })
	}
	on("POST /jobs/{id}/photos", p.upload)
	on("GET /jobs/{id}/photos/{photo}", p.photoPage)
	on("POST /jobs/{id}/photos/{photo}/spots", p.addSpot)
	on("POST /jobs/{id}/photos/{photo}/unmark", p.takeSpot)
	on("POST /jobs/{id}/photos/{photo}/caption", p.caption)
	on("POST /jobs/{id}/photos/{photo}/away", p.photoAway)
	on("GET /photos/{photo}", func(w http.ResponseWriter, r *http.Request) error { return p.picture(w, r, false) })
	on("GET /photos/{photo}/small", func(w http.ResponseWriter, r *http.Request) error { return p.picture(w, r, true) })
	on("GET /shop", p.shop)
	on("POST /shop", p.saveShop)
	on("GET /shop/backup", p.download)
	on("POST /shop/restore", p.restore)
}

// record writes facts into the job of the address and goes back to the page that the form was on. Of several facts each has a key of its
// own, made from the form's, so that a form sent again after a broken connection brings only what is missing.
func (p *pages) record(w http.ResponseWriter, r *http.Request, page string, facts ...job.Fact) error {
	id := shell.ID(r, "id")
	key := r.PostForm.Get("key")
	for i, f := range facts {
		if _, err := p.Desk.Record(r.Context(), id, keyOf(key, i), f); err != nil {
			return err
		}
	}
	shell.Back(w, r, cameFrom(r, id, page))
	return nil
}

// keyOf is the key of the i-th fact of a form.
func keyOf(key string, i int) string {
	if i == 0 || key == "" {
		return key
	}
	return fmt.Sprintf("%s.%d", key, i)
}

// cameFrom is the page of this job from which the form was sent, without its query; page when that is not known.
func cameFrom(r *http.Request, id int64, page string) string {
	own := shell.JobPath(id, "")
	if u, err := url.Parse(r.Referer()); err == nil && (u.Path == own || strings.HasPrefix(u.Path, own+"/")) && u.Path == strings.TrimRight(u.EscapedPath(), "/") {
		return u.Path
	}
	return shell.JobPath(id, page)
}
