package cli

import (
	"strings"

	"halfsplit/internal/app"
)

type substituteCmd struct {
	Board string   `arg:"" help:"Board file." placeholder:"BOARD"`
	Part  string   `arg:"" help:"Part to be replaced, such as U7." placeholder:"U7"`
	With  string   `help:"Judge this part only, with the whole arithmetic." placeholder:"74HC04"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

func (c *substituteCmd) Run(d *desk) error {
	v, fl, err := app.SubstituteOn(d.files, c.Board, c.Parts, c.Part, c.With)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(substituteText(v, c.With != ""))
}

// substituteText lists the stand-ins with what is against them; with whole the arithmetic of each net follows.
func substituteText(v app.SubstituteView, whole bool) string {
	p := &page{}
	p.line("%s is a %s, %s", v.Part, v.Fitted, v.Title)
	for _, a := range v.Answers {
		p.gap()
		p.line("%-5s %s  (%s)", a.Verdict, a.Name, a.Function)
		for _, r := range a.Reasons {
			text := r.Text
			if r.Remedy != "" {
				text += "; would help: " + r.Remedy
			}
			p.para("      - ", text)
		}
		if whole {
			reckoning(p, a)
		}
	}
	if len(v.Notes) > 0 {
		p.gap()
		p.para("known stand-ins: ", strings.Join(v.Notes, "; "))
	}
	if !whole {
		p.gap()
		p.para("", "halfsplit substitute BOARD "+v.Part+" --with NAME shows the arithmetic of one of them.")
	}
	return p.String()
}

func reckoning(p *page, a app.StandIn) {
	p.gap()
	for _, d := range a.PinOut {
		p.para("      pin-out  ", d)
	}
	sources := []string{}
	for _, s := range a.Reckoning {
		p.para("  "+pad(s.Verdict, 9), s.What+", net "+s.Net+": "+s.Text)
		for one := range strings.SplitSeq(s.Source, "; ") {
			if one != "" && !strings.Contains(strings.Join(sources, "; "), one) {
				sources = append(sources, one)
			}
		}
	}
	if len(a.Reckoning) == 0 {
		p.line("  nothing to reckon: no net of it meets an input or output with figures")
	}
	p.gap()
	p.para("figures from ", strings.Join(sources, "; "))
}
