// Package substitute serves the page that says what may stand in for a part of a job's board: judged on that board, net by net, with
// the arithmetic. It only asks; nothing is kept.
package substitute

import (
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
)

//go:generate go tool templ generate

// Register adds the page to a mux.
func Register(mux *http.ServeMux, s *shell.Shell) {
	p := &pages{s}
	mux.HandleFunc("GET /jobs/{id}/substitute", func(w http.ResponseWriter, r *http.Request) {
		if err := p.show(w, r); err != nil {
			s.Fail(w, r, err)
		}
	})
}

type pages struct{ *shell.Shell }

// view is what the page shows.
type view struct {
	shell.Info
	Part, With string // as typed
	Parts      []fitted
	Answer     *app.SubstituteView // nil before a part is chosen, and with a mistake
	Wrong      string
	WrongPart  bool // else it is about With
	Known      bool // the library has a page of the fitted type
}

// fitted is a part of the board to choose.
type fitted struct{ Ref, Type, Title string }

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	id := shell.ID(r, "id")
	if id == 0 {
		return app.ErrNone
	}
	j, err := p.Desk.ViewSoon(r.Context(), id)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	v := view{Info: shell.Info{Shell: p.Shell, Title: "What may stand in", Nav: "jobs", Job: j, Stage: "mend"}, Part: strings.TrimSpace(q.Get("part")), With: strings.TrimSpace(q.Get("with"))}
	_, c, err := p.Desk.JobBoard(r.Context(), id)
	if err != nil {
		return err
	}
	known := false
	if c != nil {
		for _, x := range c.Parts {
			v.Parts = append(v.Parts, fitted{x.Ref, x.Src.Type, x.Type.Title})
			if x.Ref == v.Part {
				known, v.Known = true, app.BuiltIn(x.Type)
			}
		}
		slices.SortFunc(v.Parts, func(a, b fitted) int { return natural(a.Ref, b.Ref) })
	}
	status := http.StatusOK
	if v.Part != "" || v.With != "" {
		a, err := p.Desk.JobSubstitute(r.Context(), id, v.Part, v.With)
		var wrong app.Wrong
		switch {
		case v.Part == "":
			v.Wrong, v.WrongPart = "Which part of the board? Choose one.", true
		case errors.As(err, &wrong):
			v.Wrong, v.WrongPart = shell.Sentence(wrong.Error()), !known
		case err != nil:
			return err
		default:
			v.Answer = &a
		}
		if v.Wrong != "" && !shell.ByScript(r) {
			status = http.StatusUnprocessableEntity // the script is sent the page, to show the message at its field
		}
	}
	p.Render(w, r, status, page(v))
	return nil
}

// natural orders U2 before U10.
func natural(a, b string) int {
	pa, pb := strings.TrimRight(a, "0123456789"), strings.TrimRight(b, "0123456789")
	if pa != pb {
		return strings.Compare(pa, pb)
	}
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
}

// address is this page for a part and one stand-in.
func (v *view) address(with string) string {
	q := url.Values{"part": {v.Part}}
	if with != "" {
		q.Set("with", with)
	}
	return shell.JobPath(v.Job.Job.ID, "substitute") + "?" + q.Encode()
}

// verdicts are the words and signs of the three verdicts.
var verdicts = map[string]struct{ Sign, Word, Class string }{
	"yes":  {"✓", "may be fitted", "yes"},
	"care": {"!", "with care", "care"},
	"no":   {"✕", "not here", "no"},
}

// stepWords are the verdicts of one line of the arithmetic.
var stepWords = map[string]string{"holds": "✓ holds", "unknown": "? not known", "marginal": "! marginal", "fails": "✕ fails"}

// sources are the sources of the arithmetic, each once.
func sources(a app.StandIn) []string {
	var out []string
	for _, s := range a.Reckoning {
		for one := range strings.SplitSeq(s.Source, "; ") {
			if one != "" && !slices.Contains(out, one) {
				out = append(out, one)
			}
		}
	}
	return out
}
