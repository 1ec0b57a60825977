package cli

import (
	"fmt"
	"io"
	"math"
	"strings"

	"halfsplit/internal/app"
)

type sweepCmd struct {
	Readings []string `arg:"" optional:"" help:"Travel in percent and reading: 0=12 25=2.5k 50=open 100=10k, or with V." placeholder:"TRAVEL=READING"`
	File     string   `help:"File with the readings; - for the standard input." placeholder:"FILE"`
	Total    string   `help:"Whole resistance, or the supply across the track; the largest reading when left out." placeholder:"VALUE"`
	JSON     bool     `name:"json" help:"Answer as JSON."`
}

// Validate refuses what no file could make right.
func (c *sweepCmd) Validate() error {
	if (len(c.Readings) == 0) == (c.File == "") {
		return fmt.Errorf("give the readings, or --file")
	}
	return nil
}

func (c *sweepCmd) Run(d *desk) error {
	text := strings.Join(c.Readings, " ")
	if c.File != "" {
		var data []byte
		var err error
		if c.File == "-" {
			data, err = io.ReadAll(io.LimitReader(d.in, largestParts))
		} else {
			data, err = d.files.Bytes(c.File)
		}
		if err != nil {
			return err
		}
		text = string(data)
	}
	v, err := app.Sweep(text, c.Total)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return d.json(v)
	}
	return d.text(sweepText(v))
}

func sweepText(v app.SweepView) string {
	p := &page{}
	p.line("%s, %.0f %% at half travel, left over %.1f %%", v.Law, v.Middle*100, v.RMS*100)
	if v.Letters != "" {
		p.line("  marked %s; test it, letters changed places", v.Letters)
	}
	p.gap()
	rows := [][]string{}
	for _, q := range v.Points {
		off, bar := "", ""
		if !q.Open {
			off = fmt.Sprintf("%+.1f %%", q.Off*100)
			bar = strings.Repeat("█", int(math.Round(math.Min(1, q.Value/v.Total)*30)))
		}
		rows = append(rows, []string{fmt.Sprintf("%.0f %%", q.At*100), q.Text, off, bar})
	}
	p.table("  ", rows, 0, 1, 2)
	p.gap()
	for _, z := range v.Zones {
		p.para("  fault: ", z.Text)
	}
	if v.Good {
		p.line("  The track follows its law all along.")
	}
	p.para("  replace by: ", v.Replace)
	return p.String()
}
