package jobs

import (
	"net/http"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// listView is the list of jobs with what was asked for.
type listView struct {
	info   shell.Info
	rows   []app.JobRow
	tries  []app.Example
	search string
	state  string
}

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	v := listView{info: shell.Info{Shell: p.Shell, Title: "Jobs", Nav: "jobs"}, search: strings.TrimSpace(r.FormValue("q")), state: r.FormValue("state")}
	rows, err := p.Desk.Jobs(r.Context(), v.search, v.state)
	if err != nil {
		return err
	}
	v.rows, v.tries = rows, p.Desk.Examples()
	p.Render(w, r, http.StatusOK, listPage(v))
	return nil
}

// stateName is a state without its reason.
func stateName(state string) string {
	if state == job.Waiting {
		return "Waiting"
	}
	return shell.StateWord(state, "")
}
