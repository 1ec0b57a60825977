package boards

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// pinRow is one line of a part's form. Key is how the pin stands in the text.
type pinRow struct {
	Key, Number, Name, Use, Net string
	Free                        bool // the pin itself is typed: the type is not known
}

// partView is the form of one part.
type partView struct {
	info shell.Info
	*sheet
	was      string
	ref      string
	typ      string
	value    string
	note     string
	rests    string // where a switch rests
	restHint string // what may stand there; "" for what is no switch
	pins     []pinRow
	known    string // what the type is, "" when the library does not know it
	unknown  string // why not
	types    []string
	nets     []string
	picture  draw.Picture
	solder   draw.Picture
	findings finding.List
}

func (p *pages) part(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	b, fl := p.Desk.ReadText(s.files)
	if b == nil && strings.TrimSpace(s.files.Text) != "" {
		return wrong("the text cannot be read, so its table cannot be changed: mend line %d first", firstLine(fl))
	}
	ref := r.FormValue("ref")
	q := board.Part{Type: r.FormValue("type")}
	if ref != "" {
		old := find(b, ref)
		if old == nil {
			return wrong("there is no part %s in the text any more", ref)
		}
		q = *old
	} else {
		q.Ref = nextRef(b)
	}
	v := p.partView(s, b, ref, q)
	p.Render(w, r, http.StatusOK, partPage(v))
	return nil
}

func firstLine(fl finding.List) int {
	for _, f := range fl {
		if f.Pos.Line > 0 {
			return f.Pos.Line
		}
	}
	return 1
}

func find(b *board.Board, ref string) *board.Part {
	if b == nil {
		return nil
	}
	if i := slices.IndexFunc(b.Parts, func(q board.Part) bool { return q.Ref == ref }); i >= 0 {
		return &b.Parts[i]
	}
	return nil
}

// nextRef is the reference after the highest U.
func nextRef(b *board.Board) string {
	n := 0
	if b != nil {
		for _, q := range b.Parts {
			if k, err := strconv.Atoi(strings.TrimPrefix(q.Ref, "U")); err == nil && strings.HasPrefix(q.Ref, "U") {
				n = max(n, k)
			}
		}
	}
	return fmt.Sprintf("U%d", n+1)
}

func (p *pages) partView(s *sheet, b *board.Board, was string, q board.Part) partView {
	lib, _ := p.Desk.LibraryOf(s.files)
	title := "New part"
	if was != "" {
		title = "Part " + was
	}
	v := partView{info: shell.Info{Shell: p.Shell, Title: title, Nav: "boards"}, sheet: s, was: was, ref: q.Ref, typ: q.Type, value: app.ValueText(&q), note: q.Note, rests: app.RestsText(&q),
		types: lib.Names(), nets: netsOf(b)}
	p.fill(&v, lib, b, q)
	return v
}

// netsOf lists the nets of a board.
func netsOf(b *board.Board) []string {
	if b == nil {
		return nil
	}
	seen := map[string]bool{}
	for _, x := range b.Rails {
		seen[x.Net] = true
	}
	for _, x := range b.Inputs {
		seen[x.Text] = true
	}
	for _, q := range b.Parts {
		for _, w := range q.Pins {
			seen[w.Net] = true
		}
	}
	delete(seen, "-")
	out := make([]string, 0, len(seen))
	for n := range seen {
		out = append(out, n)
	}
	sort.Strings(out)
	return out
}

// fill makes the lines of the pins and the drawings.
func (p *pages) fill(v *partView, lib *part.Library, b *board.Board, q board.Part) {
	m, err := typeOf(lib, &q)
	if err != nil {
		if q.Type != "" {
			v.unknown = err.Error()
		}
		for i, w := range q.Pins {
			key := w.Pin
			if q.Listed {
				key = strconv.Itoa(i + 1)
			}
			v.pins = append(v.pins, pinRow{Key: key, Net: w.Net, Free: true})
		}
		for range 4 {
			v.pins = append(v.pins, pinRow{Free: true})
		}
		return
	}
	v.known, v.restHint = m.Type.Title, app.RestsHint(m.Type)
	v.pins = rowsOf(m.Type, &q)
	alone := board.Board{Parts: []board.Part{q}}
	if b != nil {
		alone.Rails, alone.Inputs = b.Rails, b.Inputs
	}
	c, fl := circuit.Build(&alone, lib)
	for _, f := range fl {
		if f.Severity == finding.Error && (f.Where == q.Ref || strings.HasPrefix(f.Where, q.Ref+".")) {
			v.findings = append(v.findings, f)
		}
	}
	if c == nil { // without rails for its supply, or with a mistake: the package with what was typed at its pins
		bare := q
		bare.Pins, bare.Listed, bare.Contents, bare.Fuses = nil, true, nil, nil
		for _, r := range v.pins {
			if !r.Free {
				bare.Pins = append(bare.Pins, board.Pin{Net: cmp.Or(r.Net, "-")})
			}
		}
		c, _ = circuit.Build(&board.Board{Parts: []board.Part{bare}}, lib)
	}
	if c != nil && len(c.Parts) == 1 {
		v.picture = draw.Package(c, 0, draw.PackageOptions{Pin: circuit.None})
		v.solder = draw.Package(c, 0, draw.PackageOptions{Pin: circuit.None, Solder: true})
	}
}

func typeOf(lib *part.Library, q *board.Part) (part.Match, error) {
	if part.IsGate(q.Type) {
		return part.Gate(q.Type, max(len(q.Pins)-1, 2))
	}
	return lib.Find(q.Type)
}

// rowsOf is a line for each pin of the type, in the order of the package, and one for each listed pin that the type does not have.
func rowsOf(t *part.Type, q *board.Part) (out []pinRow) {
	net, key := map[int]string{}, map[int]string{}
	var strange []pinRow
	for i, w := range q.Pins {
		word := w.Pin
		nums := []int{i + 1}
		if !q.Listed {
			nums = t.PinByName(word)
		} else if i >= len(t.Pins) {
			nums = nil
		}
		if nums == nil {
			strange = append(strange, pinRow{Key: w.Pin, Net: w.Net, Free: true})
			continue
		}
		for _, n := range nums {
			net[n], key[n] = w.Net, word
		}
	}
	for i, tp := range t.Pins {
		n := i + 1
		row := pinRow{Key: key[n], Number: strconv.Itoa(n), Name: tp.Name, Use: "none", Net: net[n]}
		if tp.Node >= 0 {
			row.Name, row.Use = t.Nodes[tp.Node].Name, t.Nodes[tp.Node].Direction()
		}
		if row.Key == "" {
			row.Key = row.Number
			if t.Package == "any" || strings.HasSuffix(t.Package, "terminals") {
				row.Key = row.Name
			}
		}
		out = append(out, row)
	}
	return append(out, strange...)
}

// typedPart is the part as the form has it; what the form does not show is taken from the part that stands in the text.
func typedPart(r *http.Request, b *board.Board, lib *part.Library) (board.Part, error) {
	var q board.Part
	if old := find(b, r.PostForm.Get("was")); old != nil {
		q = *old
	}
	listed := q.Listed
	q.Ref, q.Type = strings.TrimSpace(r.PostForm.Get("ref")), strings.TrimSpace(r.PostForm.Get("type"))
	err := app.SetValue(&q, r.PostForm.Get("value"))
	if r.PostForm.Has("rests") {
		if e := app.SetRests(&q, r.PostForm.Get("rests")); err == nil {
			err = e
		}
	}
	keys, nets := r.PostForm["pin"], r.PostForm["net"]
	if len(keys) != len(nets) {
		return q, wrong("the form is not whole; load the page again")
	}
	q.Pins, q.Listed = nil, false
	for i, k := range keys {
		k, n := strings.TrimSpace(k), strings.TrimSpace(nets[i])
		switch {
		case n == "":
		case k == "":
			err = fmt.Errorf("net %s stands at no pin: write the pin's number or name before it", short(n, 40))
		default:
			q.Pins = append(q.Pins, board.Pin{Pin: k, Net: n})
		}
	}
	m, terr := typeOf(lib, &q)
	if terr == nil {
		q.Pins = merged(m.Type, q.Pins)
	}
	gate := part.IsGate(q.Type)
	if full := terr == nil && len(q.Pins) == len(m.Type.Pins); listed && full || gate || was(r) == "" && full && len(q.Pins) == 2 {
		q.Listed = true
		for i := range q.Pins {
			q.Pins[i].Pin = ""
		}
	}
	return q, asWrong(err)
}

func was(r *http.Request) string { return r.PostForm.Get("was") }

// merged makes one entry of a name that stands for several pins when all are on one net, else one for each number.
func merged(t *part.Type, pins []board.Pin) (out []board.Pin) {
	count := map[string]int{}
	nets := map[string]map[string]bool{}
	for _, w := range pins {
		count[w.Pin]++
		if nets[w.Pin] == nil {
			nets[w.Pin] = map[string]bool{}
		}
		nets[w.Pin][w.Net] = true
	}
	used := map[string]int{}
	for _, w := range pins {
		nums := t.PinByName(w.Pin)
		switch {
		case len(nums) < 2 || count[w.Pin] < 2:
			out = append(out, w)
		case len(nets[w.Pin]) == 1 && count[w.Pin] == len(nums):
			if used[w.Pin] == 0 {
				out = append(out, w)
			}
		default:
			if i := used[w.Pin]; i < len(nums) {
				out = append(out, board.Pin{Pin: strconv.Itoa(nums[i]), Net: w.Net})
			}
		}
		used[w.Pin]++
	}
	return out
}

// savePart puts the form into the text.
func (p *pages) savePart(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	b, _ := p.Desk.ReadText(s.files)
	lib, _ := p.Desk.LibraryOf(s.files)
	q, err := typedPart(r, b, lib)
	if err != nil {
		return err
	}
	if err := p.edit(r, s, app.PartEdit{Was: was(r), Part: q}); err != nil {
		return err
	}
	if r.PostForm.Get("then") == "next" {
		shell.Back(w, r, "/boards/"+s.name()+"/part"+s.query("type="+url.QueryEscape(q.Type)))
		return nil
	}
	shell.Back(w, r, "/boards/"+s.name()+s.query("done=row"))
	return nil
}

func (p *pages) edit(r *http.Request, s *sheet, e app.PartEdit) error {
	text, err := p.Desk.EditParts(s.files, []app.PartEdit{e})
	if err != nil {
		return asWrong(err)
	}
	return p.keep(r.Context(), s, text)
}

func (p *pages) removePart(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	if err := p.edit(r, s, app.PartEdit{Was: was(r), Remove: true}); err != nil {
		return err
	}
	shell.Back(w, r, "/boards/"+s.name()+s.query("done=away"))
	return nil
}

// preview draws the part as the form has it, and gives it the pins of its type. Nothing is kept.
func (p *pages) preview(w http.ResponseWriter, r *http.Request) error {
	s, err := p.sheetOf(r)
	if err != nil {
		return err
	}
	b, _ := p.Desk.ReadText(s.files)
	lib, _ := p.Desk.LibraryOf(s.files)
	q, wrong := typedPart(r, b, lib)
	v := p.partView(s, b, was(r), q)
	v.value = r.PostForm.Get("value")
	if wrong != nil {
		v.findings = append(v.findings, finding.Finding{Severity: finding.Error, Text: wrong.Error()})
	}
	if q.Ref != was(r) && find(b, q.Ref) != nil {
		v.findings = append(v.findings, finding.Finding{Severity: finding.Error, Text: "there is a part " + q.Ref + " already"})
	}
	p.Render(w, r, http.StatusOK, partPage(v))
	return nil
}
