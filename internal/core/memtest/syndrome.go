package memtest

import (
	"fmt"
	"slices"
	"strings"
)

// Syndrome is what a cell fault shows under a test: the elements that fail at the victim, from the memory's content at switch-on.
type Syndrome struct {
	Elements []int
	Text     string
	At       string // "victim", or "other" for reads at the second address of a decoder fault
}

// Syndromes computes, by simulating every fault of four cells from every content, which sets of failing elements of a test each kind of fault can show at
// its own address. Sorted by elements, then text.
func Syndromes(m March) []Syndrome {
	const n = 4
	seen := map[string]Syndrome{}
	for _, class := range Classes() {
		for _, f := range CellFaults(class, n) {
			for content := range 1 << n {
				fails := m.failing(newCells(f, contentOf(content, n)))
				for _, at := range []struct {
					cell int
					name string
				}{{f.Victim, "victim"}, {f.Other, "other"}} {
					if at.name == "other" && (class != Address || f.Reach == NoCell) {
						continue
					}
					if el := fails[at.cell]; len(el) > 0 {
						s := Syndrome{el, f.text(), at.name}
						seen[fmt.Sprint(el, s.Text, s.At)] = s
					}
				}
			}
		}
	}
	out := []Syndrome{}
	for _, s := range seen {
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b Syndrome) int {
		if c := slices.Compare(a.Elements, b.Elements); c != 0 {
			return c
		}
		return strings.Compare(a.Text+a.At, b.Text+b.At)
	})
	return out
}

// text says the kind of a fault without its cells.
func (f CellFault) text() string {
	bit := map[bool]string{false: "0", true: "1"}
	side := "a lower address"
	if f.Other > f.Victim {
		side = "a higher address"
	}
	edge := map[bool]string{false: "falling", true: "rising"}[f.Rise]
	switch f.Class {
	case StuckAt:
		return "stuck at " + bit[f.To]
	case Transition:
		if f.To {
			return "cannot rise"
		}
		return "cannot fall"
	case Inversion:
		return "turned over by " + edge + " of " + side
	case Idempotent:
		return "forced to " + bit[f.To] + " by " + edge + " of " + side
	case State:
		return "held at " + bit[f.To] + " while " + side + " is " + bit[f.Rise]
	}
	switch f.Reach {
	case NoCell:
		return "address reaches no cell and reads " + bit[f.To]
	case OtherCell:
		return "address reaches " + side + " instead"
	}
	return "address reaches " + side + " too (reads the " + map[bool]string{true: "OR", false: "AND"}[f.To] + ")"
}

// Match names the kinds of fault whose syndrome at one cell is exactly the given elements.
func Match(table []Syndrome, elements []int) []string {
	var out []string
	for _, s := range table {
		if slices.Equal(s.Elements, elements) && !slices.Contains(out, s.Text) {
			out = append(out, s.Text)
		}
	}
	return out
}
