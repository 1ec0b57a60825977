package app

import (
	"context"
	"math"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
)

// VoltsTable is what a good board shows everywhere.
type VoltsTable struct {
	Board string     `json:"board"`
	Rows  []VoltsRow `json:"volts"`
}

// VoltsRow is one pin, or one net that no part with pins of interest is on. Volts are against ground; Sigma is one standard deviation of what
// tolerances allow, Low and High are two of them and the meter's error away. Golden is what a known-good machine showed.
type VoltsRow struct {
	Pin    string   `json:"pin"`
	Name   string   `json:"name,omitempty"`
	Net    string   `json:"net"`
	Volts  float64  `json:"volts"`
	Sigma  float64  `json:"sigma"`
	Low    float64  `json:"low"`
	High   float64  `json:"high"`
	Ripple *float64 `json:"ripple,omitempty"`
	Golden *float64 `json:"golden,omitempty"`
}

// ExpectVolts is the expectation table of a board file with an `analog:` section.
func ExpectVolts(ctx context.Context, files Files, path string, parts []string) (VoltsTable, finding.List, error) {
	ckt, fl := LoadBoard(files, path, parts)
	if ckt == nil {
		return VoltsTable{}, fl, nil
	}
	t := VoltsTable{Board: ckt.Board.Title, Rows: []VoltsRow{}}
	if ckt.Board.Analog == nil {
		fl.Errorf(finding.Pos{File: path}, "analog", "write an `analog:` section with `ground:` and `sources:`", "the board says nothing of its analogue half")
		return t, fl, nil
	}
	lab, more := NewAnalogLab(ckt, 0)
	fl = append(fl, more...)
	if lab == nil {
		return t, fl, nil
	}
	golden, more := goldenCase(files, path, nil)
	fl = append(fl, more...)
	if golden != nil {
		fl = append(fl, lab.Golden(golden)...)
	}
	rows, err := lab.Table(ctx)
	if err != nil {
		return t, fl, err
	}
	for _, r := range rows {
		row := VoltsRow{Net: ckt.NetName(r.Net), Volts: round(r.Volts, 4), Sigma: round(r.Sigma, 4), Low: round(r.Low, 4), High: round(r.High, 4)}
		if r.Pin != circuit.None {
			row.Pin = ckt.PinName(r.Pin)
			p := ckt.Pins[r.Pin]
			row.Name = ckt.Parts[p.Part].Type.Nodes[p.Node].Name
		}
		if !math.IsNaN(r.Ripple) {
			x := round(r.Ripple, 4)
			row.Ripple = &x
		}
		if !math.IsNaN(r.Golden) {
			x := r.Golden
			row.Golden = &x
		}
		t.Rows = append(t.Rows, row)
	}
	return t, fl, nil
}
