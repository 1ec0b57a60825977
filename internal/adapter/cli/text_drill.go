package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
)

// drillText sets the program beside two human ways of searching and the bound that none can beat, and says how far its stated
// probabilities can be trusted.
func drillText(v app.DrillView) string {
	p := &page{}
	p.line("%s", v.Board)
	conditions := fmt.Sprintf("%s with %s each, seed %d; bench: %s", plural(v.Count, "drill", "drills"), plural(v.Faults, "fault", "faults"), v.Seed, strings.Join(v.Have, ", "))
	if v.Slips > 0 {
		conditions += fmt.Sprintf("; %s of the readings are wrong on purpose", percent(v.Slips))
	}
	p.para("", conditions+".")
	p.gap()
	if v.Mixed {
		return mixedDrillText(p, v)
	}
	rows := [][]string{{"", "checks", "95 %", "minutes", "95 %", "true fault in the first group"}}
	for _, who := range []struct {
		name string
		f    app.DrillFigures
	}{{"halfsplit", v.Planner}, {"halving the signal path", v.Halving}, {"tracing back from the symptom", v.Tracing}} {
		rows = append(rows, []string{who.name, number(who.f.Checks), number(who.f.Checks95), number(who.f.Minutes), number(who.f.Minutes95), percent(who.f.InFirst)})
	}
	rows = append(rows, []string{"bound: fewer is impossible", number(v.BoundChecks)})
	if v.Exhaustive > 0 {
		rows = append(rows, []string{"two steps ahead over all checks", number(v.Exhaustive)})
	}
	p.table("  ", rows, 1, 2, 3, 4)
	p.gap()
	p.para("  ", fmt.Sprintf("Mean and 95th percentile. The checks have to remove %s bits of doubt on average.", number(v.EntropyBits)))
	if v.Invisible > 0 {
		p.para("  ", fmt.Sprintf("%s that no action shows were drawn again.", plural(v.Invisible, "fault", "faults")))
	}
	calibration(p, v.Calibration)
	return p.String()
}

// mixedDrillText is the rest of the page for a board with both halves: only the planner plays.
func mixedDrillText(p *page, v app.DrillView) string {
	last := "true fault in the first group"
	if v.Faults > 1 {
		last = "mended, no repair for nothing"
	}
	f := v.Planner
	p.table("  ", [][]string{{"", "checks", "95 %", "minutes", "95 %", last},
		{"halfsplit", number(f.Checks), number(f.Checks95), number(f.Minutes), number(f.Minutes95), percent(f.InFirst)}}, 1, 2, 3, 4)
	p.gap()
	p.para("  ", "Mean and 95th percentile. Tolerances are drawn, and analogue faults are of a severity that is not among those reckoned with.")
	if v.Invisible > 0 {
		p.para("  ", fmt.Sprintf("%s that nothing shows were drawn again.", plural(v.Invisible, "fault", "faults")))
	}
	calibration(p, v.Calibration)
	return p.String()
}

func calibration(p *page, bands []app.Calibration) {
	if len(bands) == 0 {
		return
	}
	p.gap()
	rows := [][]string{{"stated", "mean", "true", "suspects"}}
	for _, b := range bands {
		rows = append(rows, []string{percent(b.From) + " to " + percent(b.To), percent(b.Stated), percent(b.Observed), fmt.Sprint(b.Count)})
	}
	p.table("  ", rows, 1, 2, 3)
}

// number has one decimal: the figures are means of a sample.
func number(f float64) string { return fmt.Sprintf("%.1f", f) }
