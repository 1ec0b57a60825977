package boards

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
)

// shownRows bounds the table, which is drawn anew as one types; the search finds the others.
const shownRows = 150

// editorView is the editor page.
type editorView struct {
	info shell.Info
	*sheet
	checked checkedView
	find    string
	saved   string // what has just been done
	paste   *app.PasteResult
	others  []string // files beside the board
	rails   string
	inputs  string
	analog  bool // it has an analogue half
}

// checkedView is what the program says of the text.
type checkedView struct {
	sheet    *sheet
	title    string
	parts    int
	nets     int
	errors   finding.List
	warnings finding.List
	good     bool
	rows     []rowView
	more     int // rows that are not shown
	find     string
	at       string // clock
}

// rowView is one part in the table.
type rowView struct {
	Ref, Type, Value, Pins string
	Line                   int
	Wrong                  bool
}

func (p *pages) editor(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	v := p.editorView(r, s)
	v.saved = doneWords[r.FormValue("done")]
	p.Render(w, r, http.StatusOK, editorPage(v))
	return nil
}

var doneWords = map[string]string{
	"saved": "Saved as a new version.", "errors": "Saved as a new version, errors and all: nothing can be diagnosed with it before they are mended.", "same": "Nothing was changed, so there is no new version.",
	"row": "The row is in the text. It is a draft until you save.", "away": "The part is taken out of the text.", "pasted": "The rows are in the text.", "dropped": "The draft is gone; this is the saved text.",
	"files": "The file lies beside the board now.", "nets": "Rails and inputs are in the text.", "again": "The old version is the newest again.",
}

func (p *pages) editorView(r *http.Request, s *sheet) editorView {
	title := s.files.Title
	if s.id == 0 {
		title = "New board"
	}
	v := editorView{info: shell.Info{Shell: p.Shell, Title: title, Nav: "boards"}, sheet: s, find: r.FormValue("find")}
	var b *board.Board
	v.checked, b = p.look(s, v.find)
	v.others = sortedNames(s.files.Files)
	if b != nil {
		v.rails, v.inputs, v.analog = railsText(b), inputsText(b), b.Analog != nil
	}
	return v
}

// look checks the text and makes the table of it.
func (p *pages) look(s *sheet, find string) (checkedView, *board.Board) {
	v := checkedView{sheet: s, find: find, at: p.Desk.Now().Local().Format("15:04:05")}
	c, b, fl := p.Desk.CheckBoard(s.files)
	fl = app.Electrical(c, fl)
	v.errors, v.warnings, v.good = fl.Only(finding.Error), fl.Only(finding.Warning), c != nil && !fl.Errors()
	if b == nil {
		return v, nil
	}
	v.title = b.Title
	n := app.CountOf(b)
	v.parts, v.nets = n.Parts, n.Nets
	bad := map[string]bool{}
	for _, f := range v.errors {
		ref, _, _ := strings.Cut(f.Where, ".")
		bad[ref] = true
	}
	find = strings.ToLower(strings.TrimSpace(find))
	for i := range b.Parts {
		q := &b.Parts[i]
		row := rowView{q.Ref, q.Type, app.ValueText(q), app.PinsText(q), q.Pos.Line, bad[q.Ref]}
		if find != "" && !strings.Contains(strings.ToLower(row.Ref+" "+row.Type+" "+row.Value+" "+row.Pins), find) {
			continue
		}
		if len(v.rows) == shownRows {
			v.more++
			continue
		}
		row.Pins = short(row.Pins, 400)
		v.rows = append(v.rows, row)
	}
	return v, b
}

// short cuts what is too long to be read anyway.
func short(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n]) + "…"
	}
	return s
}

// check answers while one types; the text is kept as the draft.
func (p *pages) check(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.typed(r, s); err != nil {
		return err
	}
	if !shell.ByScript(r) {
		shell.Back(w, r, s.path(""))
		return nil
	}
	v, _ := p.look(s, r.PostForm.Get("find"))
	p.Render(w, r, http.StatusOK, checked(v))
	return nil
}

// save makes a version of the text. A job that waits for the board goes on with it.
func (p *pages) save(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.typed(r, s); err != nil {
		return err
	}
	return p.store(w, r, s, "saved")
}

func (p *pages) store(w http.ResponseWriter, r *http.Request, s *sheet, done string) error {
	if strings.TrimSpace(s.files.Text) == "" {
		return wrong("the board is empty; there is nothing to save")
	}
	before := s.kept.ID
	v, fl, err := p.Desk.SaveBoard(r.Context(), s.id, s.files)
	if err != nil {
		return asWrong(err)
	}
	if err := p.Desk.Store().SaveDraft(r.Context(), draftName(s.id), "", p.Desk.Now()); err != nil {
		return err
	}
	switch {
	case v.ID == before:
		done = "same"
	case fl.Errors():
		done = "errors"
	}
	s.id = v.BoardID
	shell.Back(w, r, "/boards/"+s.name()+s.query("done="+done))
	return nil
}

func (p *pages) discard(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.Desk.Store().SaveDraft(r.Context(), draftName(s.id), "", p.Desk.Now()); err != nil {
		return err
	}
	shell.Back(w, r, "/boards/"+s.name()+s.query("done=dropped"))
	return nil
}

// paste merges pasted rows into the text. Rows that were not understood stay in the panel with what is wrong with them.
func (p *pages) paste(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.typed(r, s); err != nil {
		return err
	}
	rows := r.PostForm.Get("rows")
	if strings.TrimSpace(rows) == "" {
		return wrong("no rows were pasted")
	}
	b, _ := p.Desk.ReadText(s.files)
	lib, _ := p.Desk.LibraryOf(s.files)
	res := app.ReadPaste(rows, b, lib)
	if len(res.Edits) > 0 {
		text, err := p.Desk.EditParts(s.files, res.Edits)
		if err != nil {
			return err
		}
		if err := p.keep(r.Context(), s, text); err != nil {
			return err
		}
	}
	if len(res.Findings) == 0 {
		shell.Back(w, r, "/boards/"+s.name()+s.query("done=pasted"))
		return nil
	}
	v := p.editorView(r, s)
	v.paste = &res
	if res.Rows > 0 {
		v.saved = fmt.Sprintf("%d of the rows are in the text; those that were not understood are still in the box below.", res.Rows)
	}
	p.Render(w, r, http.StatusOK, editorPage(v))
	return nil
}

// openPart keeps the text and opens a row of it.
func (p *pages) openPart(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.typed(r, s); err != nil {
		return err
	}
	shell.Back(w, r, "/boards/"+s.name()+"/part"+s.query("ref="+url.QueryEscape(r.PostForm.Get("ref"))))
	return nil
}

func railsText(b *board.Board) string {
	var out []string
	for _, r := range b.Rails {
		out = append(out, fmt.Sprintf("%s: %g V", r.Net, r.Volts))
	}
	return strings.Join(out, "\n")
}

func inputsText(b *board.Board) string {
	var out []string
	for _, n := range b.Inputs {
		out = append(out, n.Text)
	}
	return strings.Join(out, " ")
}

// nets puts the rails and inputs of the form into the text, each in the place of its own lines.
func (p *pages) nets(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.typed(r, s); err != nil {
		return err
	}
	var rails, inputs []string
	for i, l := range strings.Split(app.PlainLines(r.PostForm.Get("rails")), "\n") {
		if l = strings.TrimSpace(l); l == "" {
			continue
		}
		k := strings.LastIndexAny(l, ":=")
		if k < 1 {
			return wrong("rail in line %d: write the net, a colon and its volts, such as VCC: 5 V", i+1)
		}
		rails = append(rails, yamlWord(strings.TrimSpace(l[:k]))+": "+yamlWord(strings.TrimSpace(l[k+1:])))
	}
	for _, n := range strings.FieldsFunc(r.PostForm.Get("inputs"), func(c rune) bool { return strings.ContainsRune(" ,;\t\r\n", c) }) {
		inputs = append(inputs, yamlWord(n))
	}
	text := section(s.files.Text, "rails", "{"+strings.Join(rails, ", ")+"}")
	text = section(text, "inputs", "["+strings.Join(inputs, ", ")+"]")
	if err := p.keep(r.Context(), s, text); err != nil {
		return err
	}
	shell.Back(w, r, "/boards/"+s.name()+s.query("done=nets"))
	return nil
}

// section puts a value in the place of a section's lines; a section that is not there goes below the title. Remarks in the lines stay.
func section(text, key, value string) string {
	lines := strings.Split(text, "\n")
	from := -1
	for i, l := range lines {
		if strings.HasPrefix(l, key+":") {
			from = i
		}
	}
	empty := len(value) == 2
	if from < 0 {
		if empty {
			return text
		}
		at := 0
		for i, l := range lines {
			if strings.HasPrefix(l, "board:") {
				at = i + 1
			}
		}
		return strings.Join(append(lines[:at:at], append([]string{key + ": " + value}, lines[at:]...)...), "\n")
	}
	to := from + 1
	for to < len(lines) && (strings.HasPrefix(lines[to], " ") || strings.HasPrefix(lines[to], "}") || strings.HasPrefix(lines[to], "]")) && strings.TrimSpace(lines[to]) != "" {
		to++
	}
	line := key + ": " + value
	for _, l := range lines[from:to] {
		if _, c, ok := strings.Cut(l, " #"); ok && !strings.ContainsAny(l, `"'`) {
			line += "  #" + c
		}
	}
	var out []string
	out = append(out, lines[:from]...)
	if !empty {
		out = append(out, line)
	}
	return strings.Join(append(out, lines[to:]...), "\n")
}

var plainWord = regexp.MustCompile(`^[A-Za-z0-9_/+.-][A-Za-z0-9_/+.() -]*$`)

// yamlWord quotes a word where it has to be.
func yamlWord(s string) string {
	if plainWord.MatchString(s) && s != "-" && !strings.HasPrefix(s, "- ") && !strings.EqualFold(s, "null") {
		return s
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}
