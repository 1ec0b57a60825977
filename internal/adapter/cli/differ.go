package cli

import (
	"errors"
	"strings"

	"halfsplit/internal/app"
)

type differCmd struct {
	A     string   `arg:"" help:"Board file." placeholder:"A"`
	B     string   `arg:"" help:"Board file of the other version." placeholder:"B"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

// Help is printed below the options.
func (c *differCmd) Help() string {
	return "Nets are compared by the pins they join: another name for the same pins is a renamed net. The exit status is 0 when the boards are the same, 1 when they differ or cannot be read."
}

// errDiffers means: the boards differ, and in what has been printed.
var errDiffers = errInput

func (c *differCmd) Run(d *desk) error {
	v, fl := app.Differ(d.files, c.A, c.B, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	var differs error
	if !v.Same {
		differs = errDiffers
	}
	if c.JSON {
		return errors.Join(d.json(v), differs)
	}
	return errors.Join(d.text(differText(v)), differs)
}

func differText(v app.DifferenceView) string {
	p := &page{}
	if v.Same {
		p.line("%s and %s are the same board", v.A, v.B)
		return p.String()
	}
	p.line("from %s to %s", v.A, v.B)
	if n := len(v.Added) + len(v.Removed) + len(v.Changed); n > 0 {
		p.gap()
		p.line("parts")
		for _, x := range v.Removed {
			p.line("  - %s (%s)", x.Part, x.Type)
		}
		for _, x := range v.Added {
			p.line("  + %s (%s)", x.Part, x.Type)
		}
		changed(p, v.Changed)
	}
	if len(v.Nets) > 0 {
		p.gap()
		p.line("nets")
		for _, n := range v.Nets {
			netText(p, n)
		}
	}
	for _, s := range []struct {
		title string
		list  []app.ChangedPart
	}{{"rails", v.Rails}, {"inputs", v.Inputs}} {
		if len(s.list) > 0 {
			p.gap()
			p.line("%s", s.title)
			changed(p, s.list)
		}
	}
	return p.String()
}

func changed(p *page, list []app.ChangedPart) {
	for _, x := range list {
		switch {
		case x.At == "" && x.To == "":
			p.line("  - %s", x.From)
		case x.At == "" && x.From == "":
			p.line("  + %s", x.To)
		case x.To == "":
			p.line("  ~ %s: %s was %s, now none", x.At, x.What, x.From)
		case x.From == "":
			p.line("  ~ %s: %s now %s, was none", x.At, x.What, x.To)
		default:
			p.line("  ~ %s: %s was %s, now %s", x.At, x.What, x.From, x.To)
		}
	}
}

func netText(p *page, n app.ChangedNet) {
	a, b := strings.Join(n.A, ", "), strings.Join(n.B, ", ")
	pins := ""
	if len(n.Plus) > 0 {
		pins += " + " + strings.Join(n.Plus, " ")
	}
	if len(n.Minus) > 0 {
		pins += " - " + strings.Join(n.Minus, " ")
	}
	switch n.Kind {
	case "renamed":
		p.para("  ~ ", a+" is now called "+b)
	case "split":
		p.para("  + ", b+" is new, split off "+a+":"+pins)
	case "joined":
		p.para("  - ", a+" is gone, joined with "+b+":"+pins)
	case "new":
		p.para("  + ", b+" is new:"+pins)
	case "gone":
		p.para("  - ", a+" is gone:"+pins)
	default:
		p.para("  ~ ", b+":"+pins)
	}
}
