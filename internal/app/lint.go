package app

import (
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/loading"
)

// LintOf is everything that LoadBoard found wrong with a board or takes for a slip.
func LintOf(fl finding.List) LintView {
	return LintView{Errors: Rows(fl.Only(finding.Error)), Warnings: Rows(fl.Only(finding.Warning))}
}

// Electrical adds to the findings of LoadBoard what the data sheets do not guarantee on the board: fan-out, levels between families,
// pull-ups, open CMOS inputs, supplies, decoupling; and what keeps its analogue half from being reckoned with. Without a circuit the list is returned as it is.
func Electrical(c *circuit.Circuit, fl finding.List) finding.List {
	if c == nil {
		return fl
	}
	all := append(slices.Clone(fl), loading.Lint(c)...)
	all = append(all, analogLint(c)...)
	all.Sort()
	return all
}

// analogLint is what the analogue half says of a board: whether it can be reckoned with, and which of its discrete parts it has no model for.
func analogLint(c *circuit.Circuit) finding.List {
	if c.Board.Analog == nil {
		return nil
	}
	m, fl := analog.New(c, 1)
	if m == nil {
		return fl
	}
	if _, err := m.E.NewSolver().OP(elec.Options{}, elec.Patch{}); err != nil {
		fl.Errorf(c.Board.Analog.Pos, "analog", "look for a source across another, or a value that is off by a thousand", "the analogue half has no operating point: %v", err)
	}
	for _, ref := range m.Silent {
		p, _ := c.PartByRef(ref)
		if x := &c.Parts[p]; x.Family == "" && len(x.Lamps) == 0 && len(c.Actions) == 0 {
			fl.Warnf(x.Src.Pos, ref, "", "%s: a %s has no analogue model and is taken as not there", ref, x.Src.Type)
		}
	}
	return fl
}
