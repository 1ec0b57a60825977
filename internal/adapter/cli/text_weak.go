package cli

import (
	"fmt"
	"strings"

	"halfsplit/internal/app"
)

// shownSets is how many sets the text lists; JSON has all that were asked for.
const shownSets = 20

// weakText says which smallest sets of parts explain the log if any part may behave in any way.
func weakText(w app.Weak) string {
	p := &page{}
	p.gap()
	switch {
	case !w.Possible:
		p.para("ANY WAY   ", "No set of bad parts explains the log, whatever they do: look at the wiring, the supply, the inputs and the readings.")
	case w.Cardinality == 0:
		p.para("ANY WAY   ", "No part need be bad for what was seen.")
	default:
		p.para("ANY WAY   ", fmt.Sprintf("If a bad part may do anything, at least %s bad; %s of that size:", partsAre(w.Cardinality), setsExplain(w)))
		for i, s := range w.Sets {
			if i == shownSets {
				p.line("          and %d more (--json lists them)", len(w.Sets)-shownSets)
				break
			}
			p.para("          ", strings.Join(s, " + "))
		}
	}
	if len(w.Excused) > 0 {
		p.para("          ", "Not blamed for what was seen before the repair: "+strings.Join(w.Excused, ", ")+".")
	}
	for _, n := range w.Notes {
		p.para("          ", "Note: "+n+".")
	}
	return "\n" + p.String()
}

func partsAre(n int) string {
	if n == 1 {
		return "1 part is"
	}
	return fmt.Sprintf("%d parts are", n)
}

func setsExplain(w app.Weak) string {
	switch {
	case w.More:
		return fmt.Sprintf("the first %d sets", len(w.Sets))
	case len(w.Sets) == 1:
		return "the only set"
	}
	return fmt.Sprintf("all %d sets", len(w.Sets))
}
