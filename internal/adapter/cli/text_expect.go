package cli

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
)

// expectText is a row for each place: the reading, then the level at each moment, eight to a block, so that counting is easy.
func expectText(c *circuit.Circuit, req app.ExpectRequest, e app.Expectation) string {
	p := &page{}
	p.line("%s", c.Board.Title)
	after := "from switching on until start is done"
	if len(req.Do) > 0 {
		after = "during " + strings.Join(req.Do, ", then ")
		if i, ok := c.ActionByName(req.Do[len(req.Do)-1]); ok && c.Actions[i].Title != "" {
			after += " (" + c.Actions[i].Title + ")"
		}
	}
	board := "a good board"
	if len(req.Faults) > 0 {
		board = "a board with " + strings.Join(req.Faults, ", ")
	}
	if len(req.Lifted) > 0 {
		board += ", " + strings.Join(req.Lifted, ", ") + " lifted"
	}
	p.para("", "What "+board+" shows "+after+":")
	p.gap()
	names := req.At
	if len(names) == 0 {
		for _, n := range c.Nets {
			if !n.Hidden {
				names = append(names, n.Name)
			}
		}
	}
	wide, seen := 5, map[string]bool{}
	for _, n := range names {
		wide = max(wide, utf8.RuneCountInString(n))
	}
	moments := false
	for _, n := range names {
		if seen[n] {
			continue
		}
		seen[n] = true
		v := e.At[n]
		moments = moments || len(v.Moments) > 0
		lead := "  " + pad(n, wide) + "  " + pad(v.Reading, 8) + "  "
		if v.Rate != "" {
			p.line("%s%s", lead, v.Rate)
			continue
		}
		p.para(lead, levels(v.Moments))
	}
	if moments {
		p.gap()
		p.para("", "Moments from left to right; the first is the settled state just before the action. "+legend(e))
	}
	return p.String()
}

// levels sets eight moments to a block and shortens what is too long to read.
func levels(m []string) string {
	const most = 512
	cut := ""
	if len(m) > most {
		cut = fmt.Sprintf(" … %d more", len(m)-most)
		m = m[:most]
	}
	var blocks []string
	for b := range slices.Chunk(m, 8) {
		blocks = append(blocks, strings.Join(b, ""))
	}
	return strings.Join(blocks, " ") + cut
}

// legend explains the letters that occur.
func legend(e app.Expectation) string {
	var out []string
	for _, l := range []struct{ letter, means string }{{"X", "unknown"}, {"Z", "floating"}, {"F", "outputs that fight"}} {
		for _, v := range e.At {
			if slices.Contains(v.Moments, l.letter) {
				out = append(out, l.letter+" "+l.means)
				break
			}
		}
	}
	if len(out) == 0 {
		return ""
	}
	return strings.Join(out, ", ") + "."
}
