package cli

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/app"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
)

type expectCmd struct {
	Board string   `arg:"" help:"Board file." placeholder:"BOARD"`
	Do    []string `help:"Action to run after start; several run in order and the last is watched." placeholder:"ACTION"`
	At    []string `help:"Pin (U2.4, U2./Y0), net or indicator; every named net when left out." placeholder:"PLACE" sep:"none"`
	Fault []string `help:"Fault that the board has: KIND@WHERE, such as input-low@U3.7." placeholder:"KIND@WHERE" sep:"none"`
	Lift  []string `help:"Pin that is lifted from its net." placeholder:"PIN" sep:"none"`
	Parts []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	Volts bool     `help:"The table of voltages, with their spread, at every pin of a board with an analogue half."`
	JSON  bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no board could make right.
func (c *expectCmd) Validate() error {
	if c.Volts && len(c.Do)+len(c.At)+len(c.Fault)+len(c.Lift) > 0 {
		return fmt.Errorf("--volts is the table of the whole good board and goes with none of --do, --at, --fault and --lift")
	}
	for _, f := range c.Fault {
		kind, where, _ := strings.Cut(f, "@")
		if where == "" {
			return fmt.Errorf("--fault %s: a fault is written KIND@WHERE, such as input-low@U3.7", f)
		}
		if !slices.Contains(fault.Kinds(), fault.Kind(kind)) {
			return fmt.Errorf("--fault %s: no kind of fault %s; %s", f, kind, finding.DidYouMean(kind, kindWords()))
		}
	}
	return nil
}

func kindWords() []string {
	var out []string
	for _, k := range fault.Kinds() {
		out = append(out, string(k))
	}
	return out
}

func (c *expectCmd) Run(d *desk) error {
	if c.Volts {
		return c.volts(d)
	}
	circuit, fl := app.LoadBoard(d.files, c.Board, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	circuit, fl, err := app.AsLogicSees(d.ctx, circuit)
	if err != nil {
		return err
	}
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	req := app.ExpectRequest{Do: c.Do, At: c.At, Faults: c.Fault, Lifted: c.Lift}
	e, err := app.Expect(d.ctx, circuit, req)
	if err != nil {
		return err
	}
	if c.JSON {
		return d.json(e)
	}
	return d.text(expectText(circuit, req, e))
}
