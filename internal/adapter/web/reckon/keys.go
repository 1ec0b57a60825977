package reckon

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/matrix"
)

// keysView is the page of the key matrix. F holds the fields as typed.
type keysView struct {
	shell.Info
	Src     source
	F       map[string]string
	Wrong   mistakes
	Answer  *app.KeysView
	Asked   bool
	Reports map[string]string // what was told of a key
	Names   []string          // of the board's keys; nil without a board
}

// keyFields are the fields of the form, as the command line names them.
var keyFields = []string{"rows", "columns", "first", "down", "nodiodes", "dead", "repeats", "stuck", "untested", "tried", "held"}

// keys says what makes keys fail.
func (p *pages) keys(w http.ResponseWriter, r *http.Request) error {
	src, err := p.source(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	v := keysView{Info: shell.Info{Shell: p.Shell, Title: "Key matrix", Nav: "reckon"}, Src: src, F: map[string]string{}, Wrong: mistakes{}, Asked: asked(q), Reports: map[string]string{}}
	for _, f := range keyFields {
		v.F[f] = strings.TrimSpace(q.Get(f))
	}
	switch {
	case src.missing() != "":
		v.Wrong.add("", src.missing())
	case v.Asked || src.Circuit != nil:
		v.diagnose()
	}
	p.Render(w, r, v.Wrong.status(r), keysPage(v))
	return nil
}

// diagnose reads the form and answers, or notes what is wrong with it.
func (v *keysView) diagnose() {
	l, notes, ok := v.layout()
	if !ok {
		return
	}
	req := app.KeysRequest{Dead: words(v.F["dead"]), Repeats: words(v.F["repeats"]), Stuck: words(v.F["stuck"]), Untested: words(v.F["untested"]), Held: words(v.F["held"])}
	for _, f := range []string{"dead", "repeats", "stuck", "untested", "held"} {
		for _, k := range words(v.F[f]) {
			if l.Find(k) < 0 {
				v.Wrong.add(f, fmt.Sprintf("no key %.20s in this matrix; keys are %s to %s", k, l.Keys[0].Name, l.Keys[len(l.Keys)-1].Name))
			} else if f != "held" {
				v.Reports[k] = f
			}
		}
	}
	for line := range strings.Lines(v.F["tried"]) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		held, read, cut := strings.Cut(line, "=")
		t := app.KeyTrial{Pressed: words(strings.ReplaceAll(held, "+", " ")), Read: words(strings.ReplaceAll(read, "+", " "))}
		if !cut || len(t.Pressed) == 0 {
			v.Wrong.add("tried", fmt.Sprintf("%.40q: write the keys held, =, and the keys that came: 1+2=1,2", line))
			continue
		}
		for _, k := range slices.Concat(t.Pressed, t.Read) {
			if l.Find(k) < 0 {
				v.Wrong.add("tried", fmt.Sprintf("%.40q: no key %.20s in this matrix", line, k))
			}
		}
		req.Trials = append(req.Trials, t)
	}
	if len(v.Wrong) > 0 {
		return
	}
	a, err := app.Keys(l, req, notes)
	if err != nil {
		v.Wrong.add("", err.Error())
		return
	}
	v.Answer = &a
}

// layout is the board's matrix, or the one that was typed.
func (v *keysView) layout() (l matrix.Layout, notes []string, ok bool) {
	if v.Src.Circuit != nil {
		l, notes, err := app.KeysOf(v.Src.Circuit)
		if err != nil {
			v.Wrong.add("", err.Error())
		}
		for _, k := range l.Keys {
			v.Names = append(v.Names, k.Name)
		}
		return l, notes, err == nil
	}
	n := map[string]int{"first": 1}
	for _, f := range []string{"rows", "columns", "first"} {
		x, err := strconv.Atoi(v.F[f])
		switch {
		case v.F[f] == "" && f == "first":
		case v.F[f] == "":
			v.Wrong.add(f, "how many "+f+" has the matrix?")
		case err != nil || x < 0 || x > 9999 || f != "first" && (x < 1 || x > matrix.MaxLines):
			v.Wrong.add(f, map[string]string{"rows": "rows", "columns": "columns", "first": "number of the first key"}[f]+fmt.Sprintf(": %.20q is no whole number from 1 to %d", v.F[f], map[bool]int{true: 9999, false: matrix.MaxLines}[f == "first"]))
		default:
			n[f] = x
		}
	}
	if len(v.Wrong) > 0 {
		return l, nil, false
	}
	l, err := matrix.Grid(n["rows"], n["columns"], n["first"], v.F["down"] != "", v.F["nodiodes"] == "")
	if err != nil {
		v.Wrong.add("", err.Error())
		return l, nil, false
	}
	return l, nil, true
}

// told is what the lists say of a key, in a word; "" when it works.
func (v *keysView) told(key string) string {
	return map[string]string{"dead": "dead", "repeats": "repeats", "stuck": "stuck", "untested": "not tried"}[v.Reports[key]]
}

// reported tells whether anything was told of the keys: a matrix of which nothing was told is only shown.
func (v *keysView) reported() bool { return len(v.Reports) > 0 || v.F["tried"] != "" }

// sample is a few keys by name, to show how they are written.
func (v *keysView) sample(n int, sign string) string {
	names := v.Names
	if len(names) < n {
		names = []string{"1", "5", "9"}
	}
	return strings.Join(names[:n], sign)
}

func orNothing(list []string, sign string) string {
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, sign)
}
