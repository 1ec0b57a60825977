package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
)

type partsCmd struct {
	Name  string   `arg:"" optional:"" help:"Part as it is marked (74LS138, CD4013BE, resistor); the whole list when left out." placeholder:"NAME"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

func (c *partsCmd) Run(d *desk) error {
	lib, fl := app.Library(d.files, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.Name == "" {
		list := app.PartList(lib)
		if c.JSON {
			return d.json(list)
		}
		return d.text(partListText(list))
	}
	v, err := app.Part(lib, c.Name)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(partText(v))
}

func partListText(list []app.PartRow) string {
	p := &page{}
	rows := [][]string{}
	for _, r := range list {
		title := r.Title
		if len(r.Families) > 0 && strings.Contains(r.Name, "x") {
			title += " (" + strings.Join(r.Families, " ") + ")"
		}
		rows = append(rows, []string{r.Name, r.Package, title})
	}
	p.table("", rows)
	p.line("%s", plural(len(list), "record", "records"))
	return p.String()
}

func partText(v app.PartView) string {
	p := &page{}
	p.line("%s  %s", v.Name, v.Title)
	if len(v.Families) > 0 {
		p.para("families  ", strings.Join(v.Families, ", "))
	}
	if len(v.Aka) > 0 {
		p.para("also      ", strings.Join(v.Aka, ", "))
	}
	p.gap()
	pinOut(p, v)
	behaviour(p, v)
	p.gap()
	if v.Notes != "" {
		p.para("notes     ", v.Notes)
	}
	p.para("source    ", v.Source)
	return p.String()
}

// behaviour shows the function table, and the statements where they say more.
func behaviour(p *page, v app.PartView) {
	if v.Table != nil {
		p.gap()
		rows := [][]string{append(append([]string{}, v.Table.Inputs...), append([]string{"|"}, v.Table.Outputs...)...)}
		for _, r := range v.Table.Rows {
			rows = append(rows, strings.Split(r.In+"|"+r.Out, ""))
		}
		p.table("  ", rows)
		p.line("  (- either, Z let go, X unknown)")
	}
	if v.Opaque {
		p.gap()
		p.line("The inside is not modelled: its outputs are unknown.")
	}
	if v.Table == nil || len(v.Table.Outputs) < len(v.Logic) {
		p.gap()
		for _, l := range v.Logic {
			p.para("  ", l)
		}
	}
}

// pinOut draws a dual-in-line package from above, notch up, with an arrow for the direction of each pin; other packages are a list.
func pinOut(p *page, v app.PartView) {
	n := len(v.Pins)
	if !strings.HasPrefix(v.Package, "DIP") || n%2 != 0 {
		rows := [][]string{}
		for _, pin := range v.Pins {
			rows = append(rows, []string{fmt.Sprint(pin.Number), pin.Name, pin.Use})
		}
		p.line("  %s", v.Package)
		p.table("  ", rows, 0)
		return
	}
	wide := 0
	for _, pin := range v.Pins {
		wide = max(wide, len(pin.Name))
	}
	space := strings.Repeat(" ", wide)
	p.line("  %s   ┌────∪────┐  %s (top view)", space, v.Package)
	for i := range n / 2 {
		l, r := v.Pins[i], v.Pins[n-1-i]
		p.line("  %s%s %s │%2d     %2d│ %s %s", space[len(l.Name):], l.Name, arrow(l.Use, "→", "←"), l.Number, r.Number, arrow(r.Use, "←", "→"), r.Name)
	}
	p.line("  %s   └─────────┘  → ← signal, ↔ both ways or a terminal, = supply", space)
}

func arrow(use, in, out string) string {
	switch use {
	case "input":
		return in
	case "output":
		return out
	case "supply":
		return "="
	case "none":
		return " "
	}
	return "↔"
}
