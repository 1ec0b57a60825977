package cli

import (
	"fmt"

	"halfsplit/internal/app"
)

type diagnoseCmd struct {
	Case    string   `arg:"" help:"Case file." placeholder:"CASE"`
	Top     int      `help:"How many suspects to list; when left out, text lists those worth reading and JSON 20." default:"0" placeholder:"N"`
	Account bool     `help:"For each leading suspect, show what it predicts for every reading of the log."`
	Workers int      `help:"Processors to use; 0 is all. The answer is the same." default:"0" placeholder:"N"`
	Parts   []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON    bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses counts that mean nothing.
func (c *diagnoseCmd) Validate() error {
	if c.Top < 0 || c.Workers < 0 {
		return fmt.Errorf("--top and --workers are not negative")
	}
	return nil
}

func (c *diagnoseCmd) Run(d *desk) error {
	v, fl, err := app.Diagnose(d.ctx, d.files, app.DiagnoseRequest{Case: c.Case, Parts: c.Parts, Top: c.Top, Workers: c.Workers})
	if err != nil {
		return err
	}
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.JSON {
		return d.json(v)
	}
	return d.text(diagnosisText(v, c.Top > 0, c.Account))
}
