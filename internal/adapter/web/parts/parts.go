// Package parts serves the library: the list of parts with a search, and the page of one part with its drawing from both sides, what it
// does, its levels and currents, how it fails, and what may stand in for it.
package parts

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

//go:generate go tool templ generate

type pages struct {
	*shell.Shell
	lib *part.Library // read only
}

// Register adds the pages to a mux.
func Register(mux *http.ServeMux, s *shell.Shell) {
	lib, fl := part.Embedded()
	if fl.Errors() {
		s.Log.Error("the part library has mistakes", "findings", len(fl))
	}
	p := &pages{s, lib}
	mux.HandleFunc("GET /parts", p.list)
	mux.HandleFunc("GET /parts/{name}", p.part)
}

// mostRows bounds the list; the search finds the others.
const mostRows = 100

type listView struct {
	info   shell.Info
	search string
	rows   []app.PartRow
	all    int
	more   int
}

func (p *pages) list(w http.ResponseWriter, r *http.Request) {
	v := listView{info: shell.Info{Shell: p.Shell, Title: "Parts", Nav: "parts"}, search: strings.TrimSpace(r.FormValue("q"))}
	if len(v.search) > 100 {
		v.search = v.search[:100]
	}
	exact := ""
	if m, err := p.lib.Find(v.search); err == nil && v.search != "" {
		exact = m.Type.Name
	}
	words := strings.Fields(strings.ToLower(v.search))
	for _, row := range app.PartList(p.lib) {
		v.all++
		text := strings.ToLower(row.Name + " " + row.Title + " " + row.Package + " " + strings.Join(row.Families, " "))
		hit := row.Name == exact
		if !hit {
			hit = true
			for _, word := range words {
				hit = hit && strings.Contains(text, word)
			}
		}
		switch {
		case !hit:
		case row.Name == exact:
			v.rows = append([]app.PartRow{row}, v.rows...)
		case len(v.rows) >= mostRows:
			v.more++
		default:
			v.rows = append(v.rows, row)
		}
	}
	p.Render(w, r, http.StatusOK, listPage(v))
}

type partView struct {
	info     shell.Info
	name     string
	p        app.PartPage
	families []family
	front    draw.Picture
	back     draw.Picture
	at       spot
}

// spot is where a reader came from: a part of a job's board. The page then leads to what may replace it there.
type spot struct {
	job  int64 // 0: from nowhere
	part string
}

func spotOf(r *http.Request) spot {
	id, err := strconv.ParseInt(r.FormValue("job"), 10, 64)
	ref := strings.TrimSpace(r.FormValue("part"))
	if err != nil || id < 1 || ref == "" || len(ref) > 40 {
		return spot{}
	}
	return spot{id, ref}
}

// Path is the address of a part's page that keeps the spot.
func (s spot) Path(name string) string {
	if s.job == 0 {
		return Path(name)
	}
	return PathFrom(name, s.job, s.part)
}

// replace is the address that judges what may replace the part where it sits: with one type, or with all that are known ("").
func (s spot) replace(with string) string {
	q := url.Values{"part": {s.part}}
	if with != "" {
		q.Set("with", with)
	}
	return shell.JobPath(s.job, "substitute") + "?" + q.Encode()
}

// family is one of those in which the part is made, as it is marked there.
type family struct{ Name, Mark string }

func (p *pages) part(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	// The list calls 74x138 what is marked 74LS138; the first family stands for all.
	if t, ok := strings.CutPrefix(name, "74x"); ok {
		for _, x := range p.lib.Types() {
			if x.Name == name && len(x.Families) > 0 {
				name = marked(preferred(x.Families), t)
				break
			}
		}
	}
	page, err := app.Page(p.lib, name)
	if err != nil {
		p.Fail(w, r, app.Wrong{Err: err})
		return
	}
	v := partView{info: shell.Info{Shell: p.Shell, Title: page.Marking, Nav: "parts"}, name: name, p: page, at: spotOf(r)}
	if num, ok := strings.CutPrefix(page.Name, "74x"); ok {
		for _, f := range page.Families {
			v.families = append(v.families, family{f, marked(f, num)})
		}
	}
	if c, _ := circuit.Build(alone(page), p.lib); c != nil {
		v.front = draw.Package(c, 0, draw.PackageOptions{Pin: circuit.None})
		v.back = draw.Package(c, 0, draw.PackageOptions{Pin: circuit.None, Solder: true})
	}
	p.Render(w, r, http.StatusOK, partPage(v))
}

// alone is a board with nothing but the part, for its drawing: what stands at each leg is what the pin is for.
func alone(page app.PartPage) *board.Board {
	q := board.Part{Ref: page.Marking, Type: page.Marking, Listed: true}
	for _, pin := range page.Pins {
		net := useWord(pin.Use)
		if pin.Use == "none" {
			net = "-"
		}
		q.Pins = append(q.Pins, board.Pin{Net: net})
	}
	return &board.Board{Parts: []board.Part{q}}
}

// preferred is the family shown first: the one that old boards are mostly built of.
func preferred(families []string) string {
	for _, f := range families {
		if f == "LS" {
			return f
		}
	}
	return families[0]
}

func marked(family, number string) string { return "74" + strings.TrimPrefix(family, "74") + number }

// Path is the address of a part's page.
func Path(name string) string { return "/parts/" + url.PathEscape(name) }

// PathFrom is the address of a part's page for a reader who comes from a part of a job's board.
func PathFrom(name string, job int64, part string) string {
	return Path(name) + "?" + url.Values{"job": {strconv.FormatInt(job, 10)}, "part": {part}}.Encode()
}

func volt(v float64) string {
	if v == 0 {
		return "–"
	}
	return fmt.Sprintf("%.2f V", v)
}

func milli(ma float64) string {
	if ma == 0 {
		return "–"
	}
	return unit.Format(ma/1e3) + "A"
}

func useWord(use string) string {
	return map[string]string{"input": "input", "output": "output", "both": "in and out", "supply": "supply", "terminal": "terminal", "none": "not connected"}[use]
}

// letters takes the row of a function table apart.
func letters(s string) []string {
	var out []string
	for _, r := range s {
		out = append(out, string(r))
	}
	return out
}

// levels are the pins and what they are held at.
func levels(pins []app.PinLevel) string {
	var out []string
	for _, l := range pins {
		out = append(out, fmt.Sprintf("%s (%d) = %d", l.Name, l.Number, l.Level))
	}
	return strings.Join(out, ", ")
}

// sources are the citations of the figures, each once.
func sources(limits []app.LimitView) (out []string) {
	for _, l := range limits {
		if !strings.Contains(strings.Join(out, "; "), l.Source) {
			out = append(out, l.Source)
		}
	}
	return out
}

func rate(hertz float64) string { return unit.Format(hertz) + "Hz" }
