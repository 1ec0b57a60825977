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
	Weak    bool     `help:"Also find the smallest sets of parts that explain the log if any part may behave in any way."`
	Sets    int      `help:"With --weak: how many sets to list." default:"100" placeholder:"N"`
	JSON    bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses counts that mean nothing.
func (c *diagnoseCmd) Validate() error {
	if c.Top < 0 || c.Workers < 0 {
		return fmt.Errorf("--top and --workers are not negative")
	}
	if c.Sets < 1 {
		return fmt.Errorf("--sets is at least 1")
	}
	return nil
}

func (c *diagnoseCmd) Run(d *desk) error {
	q := app.DiagnoseRequest{Case: c.Case, Parts: c.Parts, Top: c.Top, Workers: c.Workers}
	v, fl, err := app.Diagnose(d.ctx, d.files, q)
	if err != nil {
		return err
	}
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	var w *app.Weak
	if c.Weak {
		x, _, err := app.DiagnoseWeak(d.ctx, d.files, q, c.Sets) // its findings are those of the diagnosis
		if err != nil {
			return err
		}
		w = &x
	}
	if c.JSON {
		return d.json(struct {
			app.Diagnosis
			Weak *app.Weak `json:"weak,omitempty"`
		}{v, w})
	}
	text := diagnosisText(v, c.Top > 0, c.Account)
	if w != nil {
		text += weakText(*w)
	}
	return d.text(text)
}
