package cli

import (
	"fmt"
	"math"

	"halfsplit/internal/app"
)

func (c *expectCmd) volts(d *desk) error {
	t, fl, err := app.ExpectVolts(d.ctx, d.files, c.Board, c.Parts)
	if err != nil {
		return err
	}
	if err := d.findings(fl, warningsBefore(c.JSON)); err != nil {
		return err
	}
	if c.JSON {
		return d.json(t)
	}
	return d.text(voltsText(t))
}

// voltsText is a row for each pin: what a good board shows, within two standard deviations of its tolerances and the error of a 1 % meter.
func voltsText(t app.VoltsTable) string {
	p := &page{}
	p.line("%s", t.Board)
	p.para("", "What a good board shows at every pin, volts DC against ground:")
	p.gap()
	head := []string{"pin", "", "net", "volts", "from", "to"}
	ripple, golden := false, false
	for _, r := range t.Rows {
		ripple = ripple || r.Ripple != nil
		golden = golden || r.Golden != nil
	}
	if ripple {
		head = append(head, "ripple p-p")
	}
	if golden {
		head = append(head, "golden")
	}
	rows := [][]string{head}
	for _, r := range t.Rows {
		row := []string{r.Pin, r.Name, r.Net, voltsWord(r.Volts), voltsWord(r.Low), voltsWord(r.High)}
		if ripple {
			row = append(row, optional(r.Ripple))
		}
		if golden {
			row = append(row, optional(r.Golden))
		}
		rows = append(rows, row)
	}
	p.table("  ", rows, 3, 4, 5, 6, 7)
	if golden {
		p.gap()
		p.para("", "Where a known-good machine was read, its figure stands instead of the model's.")
	}
	return p.String()
}

func voltsWord(v float64) string {
	if math.Abs(v) < 0.0005 {
		v = 0
	}
	return fmt.Sprintf("%.3f", v)
}

func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return voltsWord(*v)
}
