package app

import (
	"context"
	"fmt"
	"math"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
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
	Model  *float64 `json:"model,omitempty"` // what the model alone would say, where Golden stands in for it
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
	golden, more := goldenCase(files, path, nil)
	fl = append(fl, more...)
	t, more, err := voltsOf(ctx, ckt, golden)
	return t, append(fl, more...), err
}

// voltsOf is the expectation table of a board with an `analog:` section. golden may be nil.
func voltsOf(ctx context.Context, ckt *circuit.Circuit, golden *evidence.Case) (VoltsTable, finding.List, error) {
	b, fl := NewBoardLab(ckt, golden, 0)
	if b == nil || b.analogue() == nil {
		return VoltsTable{Board: ckt.Board.Title, Rows: []VoltsRow{}}, fl, nil
	}
	t, err := b.table(ctx)
	return t, fl, err
}

// table is the expectation table of a board with an analogue half.
func (b *BoardLab) table(ctx context.Context) (VoltsTable, error) {
	ckt := b.C
	t := VoltsTable{Board: ckt.Board.Title, Rows: []VoltsRow{}}
	rows, err := b.analogue().Table(ctx)
	if err != nil {
		return t, err
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
			x, m := r.Golden, round(r.Model, 4)
			row.Golden, row.Model = &x, &m
		}
		t.Rows = append(t.Rows, row)
	}
	return t, nil
}

// Net is the row of a net; ok is false for one that nothing electrical is on.
func (t VoltsTable) Net(name string) (r VoltsRow, ok bool) {
	for _, r := range t.Rows {
		if r.Net == name {
			return r, true
		}
	}
	return VoltsRow{}, false
}

// Range is what a meter may show on a good board.
func (r VoltsRow) Range() string {
	low, high := VoltsText(r.Low), VoltsText(r.High)
	if low == high {
		return low
	}
	return low + " to " + high
}

// Short is Range in as few signs as a drawing has room for.
func (r VoltsRow) Short() string {
	half := (r.High - r.Low) / 2
	if max(math.Abs(r.Volts), half) < 0.0995 {
		return fmt.Sprintf("%.0f ±%.0f mV", 1e3*r.Volts, max(1, 1e3*half))
	}
	return fmt.Sprintf("%.2f ±%.2f V", round(r.Volts, 2)+0, half) // + 0 takes the sign from a nought
}
