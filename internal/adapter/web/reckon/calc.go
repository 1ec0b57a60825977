package reckon

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/calc"
)

// calcView is the page of one calculator.
type calcView struct {
	shell.Info
	Row    app.CalcRow
	Typed  map[string]string
	Src    source
	Jobs   []app.JobRow
	Place  string // what was typed as the place on the board
	Taken  map[string]app.Taken
	Wrong  mistakes
	Answer *app.CalcView
}

// calc shows a calculator, and its answer when there is one.
func (p *pages) calc(w http.ResponseWriter, r *http.Request) error {
	list := app.CalcList()
	i := slices.IndexFunc(list, func(c app.CalcRow) bool { return c.Name == r.PathValue("name") })
	if i < 0 {
		return app.ErrNone
	}
	q := r.URL.Query()
	src, err := p.source(r)
	if err != nil {
		return err
	}
	v := calcView{Info: shell.Info{Shell: p.Shell, Title: list[i].Title, Nav: "reckon"}, Row: list[i], Src: src, Typed: map[string]string{}, Taken: map[string]app.Taken{}, Wrong: mistakes{}}
	for _, in := range v.Row.Inputs {
		if s := strings.TrimSpace(q.Get(in.Name)); s != "" {
			v.Typed[in.Name] = s
		}
	}
	if v.Row.Board {
		if v.Jobs, err = p.Desk.Jobs(r.Context(), "", ""); err != nil {
			return err
		}
		v.Place = strings.TrimSpace(q.Get(v.placeField()))
	}
	v.reckon(asked(q))
	p.Render(w, r, v.Wrong.status(r), calcPage(v))
	return nil
}

// placeField is what the place on the board is called in the form: at, unless the calculator has such an input itself.
func (v *calcView) placeField() string {
	if slices.ContainsFunc(v.Row.Inputs, func(in app.CalcInput) bool { return in.Name == "at" }) {
		return "place"
	}
	return "at"
}

// reckon fills in the answer, or the mistakes. A page that was only opened shows an answer when the usual values give one, and no mistake.
func (v *calcView) reckon(asked bool) {
	board := v.Src.Circuit
	switch {
	case !v.Row.Board || v.Place == "":
		board = nil
	case v.Src.ID == 0:
		v.Wrong.add("job", "Which job's board has "+v.Place+"? Choose the job")
		return
	case board == nil:
		v.Wrong.add("job", v.Src.missing())
		return
	default:
		taken, err := app.CalcFrom(board, v.Row.Name, v.Place)
		if err != nil {
			v.Wrong.add(v.placeField(), err.Error())
			return
		}
		for _, t := range taken {
			v.Taken[t.Name] = t
		}
	}
	a, err := app.Calc(v.Row.Name, v.Typed, board, v.Place)
	var field *calc.FieldError
	switch {
	case err == nil:
		v.Answer = &a
	case !asked:
	case errors.As(err, &field):
		v.Wrong.add(field.Field, v.fieldText(field))
	default:
		v.Wrong.add("", err.Error())
	}
}

// fieldText names the field as the form does.
func (v *calcView) fieldText(e *calc.FieldError) string {
	for _, in := range v.Row.Inputs {
		if in.Name == e.Field && !strings.HasPrefix(e.Text, in.Title) {
			return in.Title + ": " + e.Text
		}
	}
	return e.Text
}

// hint says what an empty field means.
func (v *calcView) hint(in app.CalcInput) string {
	var out []string
	if in.Help != "" {
		out = append(out, in.Help)
	}
	t, taken := v.Taken[in.Name]
	switch {
	case taken:
		out = append(out, "the board says "+shown(t.Value, in.Unit))
	case len(in.Words) > 0:
	case in.Default != "":
		out = append(out, "usually "+shown(in.Default, in.Unit))
	case in.Optional && in.Help == "":
		out = append(out, "if known")
	case in.Optional:
	default:
		out = append(out, "needed")
	}
	return strings.Join(out, " · ")
}

// needed tells whether a field must be filled.
func (v *calcView) needed(in app.CalcInput) bool {
	_, taken := v.Taken[in.Name]
	return in.Default == "" && !in.Optional && !taken
}

// choices are the words of a choice; the empty one is what an empty field means.
func (v *calcView) choices(in app.CalcInput) []choice {
	var out []choice
	t, taken := v.Taken[in.Name]
	if taken {
		out = append(out, choice{"", t.Value + " (the board says)"})
	} else if in.Default == "" {
		out = append(out, choice{"", "choose"})
	}
	for _, w := range in.Words {
		c := choice{w, w}
		if w == in.Default && !taken {
			c.Value = ""
		}
		out = append(out, c)
	}
	return out
}

type choice struct{ Value, Text string }

// picked tells whether a choice is the one that stands.
func (v *calcView) picked(in app.CalcInput, c choice) bool {
	typed := v.Typed[in.Name]
	return typed == c.Value || typed == c.Text
}

// shown writes a value as the answers do.
func shown(s, unit string) string {
	if unit == "" {
		return s
	}
	if x, err := strconv.ParseFloat(s, 64); err == nil && unit != "%" && unit != "mm" && unit != "mAh" && unit != "µm" {
		return calc.Show(x, unit)
	}
	x, err := calc.Parse(s, unit)
	if err != nil {
		return s
	}
	return calc.Show(x, unit)
}

// example is the address of the worked example.
func (v *calcView) example() string { return "/reckon/" + v.Row.Name + "?" + examples[v.Row.Name] }

// command is the same question on the command line; "" when a board has a hand in it.
func (v *calcView) command() string {
	if len(v.Taken) > 0 {
		return ""
	}
	out := "halfsplit calc " + v.Row.Name
	for _, in := range v.Row.Inputs {
		if s := v.Typed[in.Name]; s != "" {
			if strings.ContainsAny(s, " '\"$&|;<>()*?\\") {
				s = "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
			}
			out += " " + in.Name + "=" + s
		}
	}
	return out
}

// fresh is the empty form, with the job kept.
func (v *calcView) fresh() string {
	u := url.URL{Path: "/reckon/" + v.Row.Name, RawQuery: strings.TrimPrefix(v.Src.query(), "?")}
	return u.String()
}

// known tells whether what was typed into a choice is one of its words; if not it is kept for the eye beside the message.
func known(v calcView, in app.CalcInput) bool {
	s := v.Typed[in.Name]
	return s == "" || slices.Contains(in.Words, s)
}
