package app

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/loading"
)

// LintOf is everything that LoadBoard found wrong with a board or takes for a slip.
func LintOf(fl finding.List) LintView {
	return LintView{Errors: Rows(fl.Only(finding.Error)), Warnings: Rows(fl.Only(finding.Warning))}
}

// Electrical adds to the findings of LoadBoard what the data sheets do not guarantee on the board: fan-out, levels between families,
// pull-ups, open CMOS inputs, supplies, decoupling. Without a circuit the list is returned as it is.
func Electrical(c *circuit.Circuit, fl finding.List) finding.List {
	if c == nil {
		return fl
	}
	all := append(slices.Clone(fl), loading.Lint(c)...)
	all.Sort()
	return all
}
