package cli

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// page builds text for a terminal at the bench: plain characters, lines of at most width columns.
type page struct{ b strings.Builder }

// width is the longest line written on purpose; a single long word may exceed it.
const width = 88

func (p *page) line(format string, args ...any) {
	p.b.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " "))
	p.b.WriteByte('\n')
}

// gap leaves one empty line, never two.
func (p *page) gap() {
	if s := p.b.String(); s != "" && !strings.HasSuffix(s, "\n\n") {
		p.b.WriteByte('\n')
	}
}

// para writes text after lead and wraps it; the lines after the first begin under the end of lead.
func (p *page) para(lead, text string) {
	indent := utf8.RuneCountInString(lead)
	room := max(width-indent, 24)
	for i, l := range wrap(text, room) {
		if i > 0 {
			lead = strings.Repeat(" ", indent)
		}
		p.line("%s%s", lead, l)
	}
}

func (p *page) String() string { return p.b.String() }

// wrap breaks text at blanks into lines of at most room runes. It returns at least one line.
func wrap(text string, room int) []string {
	var out []string
	cur, n := "", 0
	for _, w := range strings.Fields(text) {
		l := utf8.RuneCountInString(w)
		switch {
		case cur == "":
			cur, n = w, l
		case n+1+l <= room:
			cur, n = cur+" "+w, n+1+l
		default:
			out, cur, n = append(out, cur), w, l
		}
	}
	return append(out, cur)
}

// pad fills text with blanks on the right to n runes.
func pad(text string, n int) string {
	return text + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(text)))
}

// table writes rows with columns as wide as their longest cell, two blanks apart. Columns named in right are set flush right.
func (p *page) table(indent string, rows [][]string, right ...int) {
	var widths []int
	for _, r := range rows {
		for i, c := range r {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	flush := map[int]bool{}
	for _, r := range right {
		flush[r] = true
	}
	for _, r := range rows {
		line := indent
		for i, c := range r {
			if i > 0 {
				line += "  "
			}
			if flush[i] {
				line += strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)) + c
			} else {
				line += pad(c, widths[i])
			}
		}
		p.line("%s", line)
	}
}

// percent writes a probability so that neither certainty nor impossibility is claimed by rounding.
func percent(p float64) string {
	switch {
	case p <= 0:
		return "0 %"
	case p < 0.01:
		return "<1 %"
	case p > 0.99 && p < 1:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", math.Round(p*100))
}

// minutes writes bench time as it would be said.
func minutes(m float64) string {
	if m < 1 {
		return fmt.Sprintf("%.0f s", math.Max(5, math.Round(m*12)*5))
	}
	if m < 10 && m != math.Trunc(m) {
		return fmt.Sprintf("%.1f min", m)
	}
	return fmt.Sprintf("%.0f min", m)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
