package jobs

import (
	"fmt"
	"net/http"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// stageView is the page of one stage.
type stageView struct {
	info  shell.Info
	v     *app.JobView
	s     job.StageView
	edit  *job.ProofLine // the test that is being corrected
	rings []ringRow      // clean only
	fits  []fitted       // mend only: what was replaced and is not accounted for

	unknown []string // clean only: what the damage names and the board does not have
}

func (p *pages) stage(w http.ResponseWriter, r *http.Request, name string) error {
	id := shell.ID(r, "id")
	v, err := p.Desk.ViewSoon(r.Context(), id)
	if err != nil {
		return err
	}
	s := stageView{info: p.info(v, name, stageTitle(name)), v: v, s: stageOf(v, name)}
	for i, t := range v.Job.Proofs {
		if t.Stage == name && fmt.Sprint(t.Seq) == r.FormValue("edit") {
			s.edit = &v.Job.Proofs[i]
		}
	}
	switch name {
	case "clean":
		nets, unknown, err := p.Desk.ZoneNets(r.Context(), id)
		if err != nil {
			return err
		}
		s.rings, s.unknown = rings(v.Job, nets), unknown
	case "mend":
		s.fits = fits(v)
	}
	p.Render(w, r, http.StatusOK, stagePage(s))
	return nil
}

// mark says that a stage is done, not needed, or open again.
func (p *pages) mark(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	m := &job.StageMark{Stage: f.text("stage"), Mark: f.text("mark")}
	if m.Mark == job.NotNeeded {
		m.Reason = f.text("reason")
	}
	return p.record(w, r, "", m)
}

// proof writes down a test, or puts it in the place of an earlier one.
func (p *pages) proof(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	t := &job.Proof{Stage: f.text("stage"), What: f.text("what"), Before: f.text("before"), After: f.text("after"), Limit: f.text("limit"), Failed: f.text("failed") == "1"}
	if f.text("of") != "" {
		t.Seqs = f.number64("of")
	}
	if f.text("failed") == "" {
		f.mistake("is it good or not? Choose one")
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "", t)
}

// columns are how the fields of a test are called on a stage's page.
type columns struct{ what, whatHint, before, after, limit, good, bad string }

func columnsOf(stage string) columns {
	c := columns{"Test", "what was tried", "Before", "After", "Judged by", "good", "not good"}
	switch stage {
	case "clean":
		c.what, c.whatHint = "Net", "which net, from where to where"
	case "supply":
		c.what, c.whatHint, c.before, c.after, c.limit = "What", "rail and quantity", "As found", "As left", "Allowed"
	case "proof":
		c.what, c.whatHint = "Function", "one function of the machine, or a reading"
	case "adjust":
		c.what, c.whatHint, c.before, c.after, c.limit = "Adjustment", "which one, after how long a warm-up, with which instrument", "As found", "As left", "Allowed"
	case "backup":
		c.limit = "Expected"
	case "final":
		c.what, c.whatHint, c.limit = "Reading", "earth, insulation, function", "Code it was judged by"
	}
	return c
}

// hasTests tells whether a stage keeps tests that are typed freely; backup and soak have forms of their own beside.
func hasTests(stage string) bool {
	switch stage {
	case "opened", "controls", "rails", "find", "mend":
		return false
	}
	return true
}

func proofsOf(v *app.JobView, stage string) (out []job.ProofLine) {
	for _, t := range v.Job.Proofs {
		if t.Stage == stage {
			out = append(out, t)
		}
	}
	return out
}

func photosOf(v *app.JobView, stage string) (out []job.PhotoLine) {
	for _, p := range v.Job.Photos {
		if p.Stage == stage || stage == "intake" && p.Stage == "" {
			out = append(out, p)
		}
	}
	return out
}

// count is a number with its noun.
func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
