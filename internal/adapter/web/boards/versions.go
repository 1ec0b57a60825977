package boards

import (
	"net/http"
	"strconv"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/job"
)

// boardRow is one board of the list.
type boardRow struct {
	app.BoardVersion
	draft bool
}

type listView struct {
	info  shell.Info
	rows  []boardRow
	fresh bool // a new board is half typed
}

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	v := listView{info: shell.Info{Shell: p.Shell, Title: "Boards", Nav: "boards"}}
	all, err := p.Desk.Store().Boards(r.Context())
	if err != nil {
		return err
	}
	for _, b := range all {
		text, _, err := p.Desk.Store().Draft(r.Context(), draftName(b.BoardID))
		if err != nil {
			return err
		}
		v.rows = append(v.rows, boardRow{b, text != ""})
	}
	text, _, err := p.Desk.Store().Draft(r.Context(), draftName(0))
	if err != nil {
		return err
	}
	v.fresh = text != ""
	p.Render(w, r, http.StatusOK, listPage(v))
	return nil
}

// versionRow is a version with its difference to the one before.
type versionRow struct {
	app.BoardVersion
	first    bool
	diff     app.DifferenceView
	trouble  string // why there is no difference to show
	textOnly bool   // the files differ, the model does not
}

type versionsView struct {
	info shell.Info
	*sheet
	rows []versionRow
}

// comparedVersions bounds the differences worked out for one page.
const comparedVersions = 12

func (p *pages) versions(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if s.id == 0 {
		return app.ErrNone
	}
	all, err := p.Desk.Store().BoardVersions(r.Context(), s.id)
	if err != nil {
		return err
	}
	v := versionsView{info: shell.Info{Shell: p.Shell, Title: "Versions", Nav: "boards"}, sheet: s}
	for i, b := range all {
		row := versionRow{BoardVersion: b, first: i == len(all)-1}
		switch {
		case row.first:
		case i >= comparedVersions:
			row.trouble = "not compared here: open it to see it"
		default:
			d, fl, err := p.Desk.DifferVersions(r.Context(), all[i+1].ID, b.ID)
			if err != nil {
				return err
			}
			row.diff, row.textOnly = d, d.Same
			if fl.Errors() {
				row.trouble = "cannot be compared: " + fl.Only(finding.Error)[0].Text
			}
		}
		v.rows = append(v.rows, row)
	}
	p.Render(w, r, http.StatusOK, versionsPage(v))
	return nil
}

type versionView struct {
	info shell.Info
	*sheet
	old     app.BoardVersion
	text    string
	others  []string
	current bool
}

// oldVersion is the version of the address, which must be one of this board.
func (p *pages) oldVersion(r *http.Request, s *sheet) (app.BoardVersion, app.BoardFiles, error) {
	id := shell.ID(r, "version")
	v, files, err := p.Desk.Store().BoardVersion(r.Context(), id)
	if err == nil && (v.BoardID != s.id || s.id == 0) {
		err = app.ErrNone
	}
	return v, files, err
}

func (p *pages) version(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	old, files, err := p.oldVersion(r, s)
	if err != nil {
		return err
	}
	v := versionView{info: shell.Info{Shell: p.Shell, Title: "Version " + strconv.Itoa(old.Number), Nav: "boards"}, sheet: s, old: old, text: files.Text,
		others: sortedNames(files.Files), current: old.ID == s.kept.ID}
	p.Render(w, r, http.StatusOK, versionPage(v))
	return nil
}

// again makes an old version the newest. The versions between stay.
func (p *pages) again(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	_, files, err := p.oldVersion(r, s)
	if err != nil {
		return err
	}
	if _, _, err := p.Desk.SaveBoard(r.Context(), s.id, files); err != nil {
		return asWrong(err)
	}
	shell.Back(w, r, "/boards/"+s.name()+s.query("done=again"))
	return nil
}

// modelView is the page on which a job gets its board.
type modelView struct {
	info     shell.Info
	v        *app.JobView
	rows     []boardRow
	newer    *app.BoardVersion // a newer version of the job's board
	boardID  int64             // of the job's version
	errors   finding.List
	warnings finding.List
}

func (p *pages) model(w http.ResponseWriter, r *http.Request) error {
	id := shell.ID(r, "id")
	if id == 0 {
		return app.ErrNone
	}
	jv, err := p.Desk.ViewSoon(r.Context(), id)
	if err != nil {
		return err
	}
	m := modelView{info: shell.Info{Shell: p.Shell, Title: "Board", Nav: "jobs", Job: jv, Stage: "model"}, v: jv}
	all, err := p.Desk.Store().Boards(r.Context())
	if err != nil {
		return err
	}
	if n := jv.Job.Board.Version; n != 0 {
		kept, _, err := p.Desk.Store().BoardVersion(r.Context(), n)
		if err != nil {
			return err
		}
		m.boardID = kept.BoardID
		_, _, fl, err := p.Desk.BoardOf(r.Context(), n)
		if err != nil {
			return err
		}
		m.errors, m.warnings = fl.Only(finding.Error), fl.Only(finding.Warning)
	}
	for _, b := range all {
		m.rows = append(m.rows, boardRow{b, false})
		if b.BoardID == m.boardID && b.ID != jv.Job.Board.Version {
			m.newer = &b
		}
	}
	p.Render(w, r, http.StatusOK, modelPage(m))
	return nil
}

// choose ties the job to a version.
func (p *pages) choose(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	id := shell.ID(r, "id")
	n, err := strconv.ParseInt(r.PostForm.Get("version"), 10, 64)
	if err != nil {
		return wrong("choose a board")
	}
	v, _, err := p.Desk.Store().BoardVersion(r.Context(), n)
	if err != nil {
		return err
	}
	if _, err := p.Desk.Record(r.Context(), id, r.PostForm.Get("key"), &job.BoardUsed{Version: v.ID, Title: v.Title, Number: v.Number, Parts: v.Parts}); err != nil {
		return err
	}
	shell.Back(w, r, shell.JobPath(id, "model"))
	return nil
}
