package cli

import (
	"errors"

	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
)

type lintCmd struct {
	Board string   `arg:"" help:"Board file." placeholder:"BOARD"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

func (c *lintCmd) Run(d *desk) error {
	circuit, fl := app.LoadBoard(d.files, c.Board, c.Parts)
	fl = app.Electrical(circuit, fl)
	if c.JSON {
		return errors.Join(d.json(app.LintOf(fl)), d.findings(fl, 0))
	}
	if err := d.findings(fl, -1); err != nil {
		return err
	}
	nets := 0
	for _, n := range circuit.Nets {
		if !n.Hidden {
			nets++
		}
	}
	p := &page{}
	p.line("%s: %s, %s, %s; %s", c.Board, plural(len(circuit.Parts), "part", "parts"), plural(nets, "net", "nets"),
		plural(len(circuit.Board.Actions), "action", "actions"), plural(len(fl.Only(finding.Warning)), "warning", "warnings"))
	return d.text(p.String())
}
