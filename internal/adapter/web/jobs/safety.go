package jobs

import (
	"net/http"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// work is something that cautions come before, in words.
type work struct{ name, words, short string }

var works = []work{
	{job.Opening, "Opening it, hands inside", "opening it"},
	{job.Powered, "Anything with the power on", "power"},
	{job.Iron, "The iron: soldering, cutting, lifting pins", "the iron"},
	{job.Cleaning, "Cleaning: fluids, leaks, dust", "cleaning"},
}

// worksOf are the kinds of work of a stage, for the cautions shown there.
var worksOf = map[string][]string{
	"opened": {job.Opening}, "clean": {job.Cleaning}, "controls": {job.Opening, job.Cleaning}, "supply": {job.Opening, job.Powered, job.Iron},
	"rails": {job.Powered}, "find": {job.Powered, job.Iron}, "mend": {job.Iron}, "proof": {job.Powered}, "backup": {job.Powered, job.Iron}, "adjust": {job.Powered}, "soak": {job.Powered}, "final": {job.Powered},
}

func (p *pages) safety(w http.ResponseWriter, r *http.Request) error {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	p.Render(w, r, http.StatusOK, safetyPage(p.info(v, "safety", "Made safe"), v))
	return nil
}

func (p *pages) tick(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	return p.record(w, r, "safety", &job.Tick{Caution: f.text("caution"), Off: f.yes("off"), Note: f.text("note")})
}

// before lists what a caution comes before: power, the iron.
func before(c job.Caution) string {
	var out []string
	for _, w := range works {
		for _, b := range c.Before {
			if b == w.name {
				out = append(out, w.short)
			}
		}
	}
	return strings.Join(out, ", ")
}

// cautionsAt are the cautions of this job that come before the work of a stage: unticked gates, and the rest.
func cautionsAt(v *app.JobView, stage string) (open, rest []job.Caution) {
	for _, c := range v.Cautions {
		applies := false
		for _, w := range worksOf[stage] {
			for _, b := range c.Before {
				applies = applies || b == w
			}
		}
		_, ticked := v.Job.Ticks[c.Name]
		switch {
		case !applies:
		case c.Gate && !ticked:
			open = append(open, c)
		default:
			rest = append(rest, c)
		}
	}
	return open, rest
}

// comma follows the n-th of several words, counted from 0.
func comma(n, of int) string {
	if n < of-1 {
		return ", "
	}
	return ""
}
