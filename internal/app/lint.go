package app

import "halfsplit/internal/core/finding"

// LintOf is everything that LoadBoard found wrong with a board or takes for a slip.
func LintOf(fl finding.List) LintView {
	return LintView{Errors: Rows(fl.Only(finding.Error)), Warnings: Rows(fl.Only(finding.Warning))}
}
