package jobs

import (
	"fmt"
	"net/http"
	"time"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

func (p *pages) overview(w http.ResponseWriter, r *http.Request) error {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	i := p.info(v, "", "Overview")
	p.Render(w, r, http.StatusOK, overviewPage(i, v))
	return nil
}

// current is the stage where the job stands, or nil when every one is settled.
func current(v *app.JobView) *job.StageView {
	for i := range v.Rail {
		if v.Rail[i].Current {
			return &v.Rail[i]
		}
	}
	return nil
}

// stageOf is a stage of the job as it stands.
func stageOf(v *app.JobView, name string) job.StageView {
	for _, s := range v.Rail {
		if s.Name == name {
			return s
		}
	}
	return job.StageView{}
}

// openStages are the stages still open after the current one.
func openStages(v *app.JobView) (out []job.StageView) {
	for _, s := range v.Rail {
		if len(s.Lacks) > 0 && !s.Current {
			out = append(out, s)
		}
	}
	return out
}

// estimateWords explain the estimate in a sentence or two.
func estimateWords(v *app.JobView) string {
	c := v.Job.Terms.Currency
	s := fmt.Sprintf("Half of such jobs need at most %s from here and end at %s or less; four of five need at most %s and end at %s or less.",
		shell.Minutes(v.Range.Minutes), shell.Amount(v.Range.Median, c), shell.Minutes(v.Range.HighMinutes), shell.Amount(v.Range.High, c))
	switch {
	case v.Probe.Circuit == nil:
		s += " Nothing is known of the fault yet, so it counts the usual minutes of the open stages and of an ordinary repair."
	case v.Progress.Seen == 0:
		s += " Nothing was read yet, so it counts the usual minutes of the open stages and of an ordinary repair."
	default:
		s += fmt.Sprintf(" It weighs every suspect (%d now) with the checks and the repair it would take, and adds the open stages.", len(v.Probe.Diagnosis.Suspects))
	}
	if v.Job.Terms.Rate == 0 {
		s += " There is no hourly rate yet, so work costs nothing in it."
	}
	return s
}

// timed is a row of the table of times.
type timed struct {
	stage  job.StageView
	worked time.Duration
}

// times are the stages with time on them; and the one whose clock runs.
func times(v *app.JobView) (out []timed) {
	for _, s := range v.Rail {
		d := v.Job.Times[s.Name]
		if r := v.Job.Running; r != nil && r.Stage == s.Name {
			d += v.Running
		}
		if d > 0 || v.Job.Running != nil && v.Job.Running.Stage == s.Name {
			out = append(out, timed{stage: s, worked: d})
		}
	}
	return out
}

func (p *pages) state(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	m := &job.StateMark{State: f.text("state"), Note: f.text("note")}
	if m.State == job.Waiting {
		m.Reason = f.text("reason")
	}
	return p.record(w, r, "", m)
}

func (p *pages) note(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	return p.record(w, r, "", &job.Note{Stage: f.text("stage"), Text: f.text("text"), Report: f.yes("report")})
}

func (p *pages) strike(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	s := &job.Strike{Line: f.number64("line"), Reason: f.text("reason")}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "", s)
}

// timer starts or stops the clock, or adds minutes that were worked away from it.
func (p *pages) timer(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	t := &job.Timer{Stage: f.text("stage"), Stop: f.yes("stop")}
	if _, typed := r.PostForm["minutes"]; typed {
		m, given := f.number("minutes", "the minutes", -1440, 1440)
		if !given {
			f.mistake("how many minutes? Write a number; with a minus they are taken off")
		}
		s := int64(m * 60)
		t.Add, t.Seconds = true, &s
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "", t)
}

// stageTitle is how a stage is called in the order of work.
func stageTitle(name string) string {
	if s := job.StageByName(name); s != nil {
		return s.Title
	}
	return name
}
