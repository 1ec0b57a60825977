package cli

import (
	"fmt"
	"slices"

	"halfsplit/internal/app"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

type drillCmd struct {
	Board      string   `arg:"" help:"Board file." placeholder:"BOARD"`
	Faults     int      `help:"Faults at once." default:"1" placeholder:"N"`
	Count      int      `help:"How many drills." default:"100" placeholder:"N"`
	Seed       uint64   `help:"The same seed gives the same drills." default:"1" placeholder:"S"`
	Have       []string `help:"What the bench has: scope, logic-probe, meter, iron, spare, adapter." default:"scope,meter,iron" placeholder:"WORD,..."`
	Slips      float64  `help:"Share of the readings that are wrong on purpose." default:"0" placeholder:"P"`
	Exhaustive bool     `help:"Play also with planning two steps ahead over all checks, which is slow."`
	Me         bool     `help:"Play yourself: find a hidden fault by asking for readings."`
	Workers    int      `help:"Processors to use; 0 is all. The answer is the same." default:"0" placeholder:"N"`
	Parts      []string `help:"Further file of part descriptions." placeholder:"FILE" sep:"none"`
	JSON       bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no board could make right.
func (c *drillCmd) Validate() error {
	switch {
	case c.Faults < 1 || c.Faults > 4:
		return fmt.Errorf("--faults is 1 to 4")
	case c.Count < 1:
		return fmt.Errorf("--count is at least 1")
	case c.Slips < 0 || c.Slips > 0.5:
		return fmt.Errorf("--slips is a share from 0 to 0.5")
	case c.Workers < 0:
		return fmt.Errorf("--workers is not negative")
	case c.Me && c.JSON:
		return fmt.Errorf("--me talks with a person and has no --json")
	}
	_, err := benchOf(c.Have)
	return err
}

// benchOf reads the words of have:.
func benchOf(words []string) (b evidence.Bench, err error) {
	have := map[string]*bool{"scope": &b.Scope, "logic-probe": &b.Probe, "meter": &b.Meter, "iron": &b.Iron, "spare": &b.Spare, "adapter": &b.Adapter, "eyes": new(bool)}
	known := []string{"eyes", "scope", "logic-probe", "meter", "iron", "spare", "adapter"}
	for _, w := range words {
		if !slices.Contains(known, w) {
			return b, fmt.Errorf("--have: no word %s; %s", w, finding.DidYouMean(w, known))
		}
		*have[w] = true
	}
	return b, nil
}

func (c *drillCmd) Run(d *desk) error {
	circuit, fl := app.LoadBoard(d.files, c.Board, c.Parts)
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.Me {
		p, err := app.NewPractice(d.ctx, circuit, c.Faults, c.Seed)
		if err != nil {
			return err
		}
		return practise(d, p)
	}
	have, err := benchOf(c.Have)
	if err != nil {
		return commandError{err}
	}
	v, err := app.Drill(d.ctx, circuit, app.DrillRequest{Faults: c.Faults, Count: c.Count, Seed: c.Seed, Have: have, Slips: c.Slips,
		Exhaustive: c.Exhaustive, Workers: c.Workers, Progress: progress(d.err, "drill", c.Count)})
	if err != nil {
		return err
	}
	if c.JSON {
		return d.json(v)
	}
	return d.text(drillText(v))
}
