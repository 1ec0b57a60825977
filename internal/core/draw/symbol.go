package draw

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// The signs of simple two-terminal parts, after IEC 60617 (from memory), and what is written beside a part.

// symbol draws a part's sign between two terminals on one height: terminal 1 at x0, terminal 2 at x1. nil when the part has no sign of
// its own. The sign is at most 28 high about y.
func symbol(t *part.Type, x0, x1, y float64) []Shape {
	if len(t.Pins) != 2 || len(t.Stmts) != 1 {
		return nil
	}
	m := (x0 + x1) / 2
	leads := func(from, to float64) []Shape {
		return []Shape{line(Wire, x0, y, from, y).thick(2), line(Wire, to, y, x1, y).thick(2)}
	}
	switch s := t.Stmts[0]; s.Kind {
	case part.Resistor:
		return append(leads(m-20, m+20), rect(Body, m-20, y-8, 40, 16, 0))
	case part.Fuse:
		if strings.Contains(t.Prior, "fuse") {
			return []Shape{rect(Body, m-20, y-8, 40, 16, 0), line(Wire, x0, y, x1, y).thick(2)}
		}
		return []Shape{line(Wire, x0, y, x1, y).thick(2), circle(Body, m-16, y, 4), circle(Body, m+16, y, 4)}
	case part.Diode, part.LED:
		dir := 1.0
		if t.Pins[0].Node != s.A {
			dir = -1
		}
		out := append(leads(m-9, m+9), area(Body, m-9*dir, y-9, m-9*dir, y+9, m+9*dir, y), line(Wire, m+9*dir, y-10, m+9*dir, y+10).thick(2.5))
		if s.Kind == part.LED {
			for _, dx := range []float64{-4, 5} {
				out = append(out, line(Wire, m+dx, y-9, m+dx+5, y-15), arrowHead(Mark, m+dx, y-9, m+dx+5, y-15, 5))
			}
		}
		return out
	case part.Link:
		if !slices.Contains([]string{"capacitor", "electrolytic", "tantalum"}, t.Prior) {
			return nil
		}
		out := append(leads(m-4, m+4), line(Wire, m-4, y-12, m-4, y+12).thick(2.5), line(Wire, m+4, y-12, m+4, y+12).thick(2.5))
		if t.Prior == "electrolytic" || t.Prior == "tantalum" {
			out = append(out, text(m-10, y-5, "+", 14, Label).bold().at("end"))
		}
		return out
	case part.Contact:
		return append(leads(m-14, m+14), circle(Body, m-14, y, 3), circle(Body, m+14, y, 3), line(Wire, m-12, y-2, m+12, y-11).thick(2))
	case part.Lamp:
		if t.Prior != "lamp" && t.Name != "lamp" { // a coil
			return append(leads(m-16, m+16), rect(Body, m-16, y-11, 32, 22, 0), line(Wire, m-8, y+11, m+8, y-11))
		}
		return append(leads(m-11, m+11), circle(Body, m, y, 11), line(Wire, m-7.8, y-7.8, m+7.8, y+7.8), line(Wire, m-7.8, y+7.8, m+7.8, y-7.8))
	}
	return nil
}

// typeText is what is written beside a part: its type as fitted, and its value where it has one.
func typeText(p *circuit.Part) string {
	if !p.Src.HasValue {
		return p.Src.Type
	}
	v := unit.Format(p.Src.Value)
	switch {
	case p.Type.Prior == "zener":
		v += " V"
	case p.Src.Value >= 1e-3 && strings.Contains("capacitor electrolytic tantalum", p.Type.Prior): // 2200 µ, as it stands on the can
		v = fmt.Sprintf("%.0fµ", p.Src.Value*1e6)
	}
	return p.Src.Type + " " + v
}
