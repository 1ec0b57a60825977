package memtest

// Plain facts about failing reads, for the technician to judge: they hold whatever the cause.

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

func outside(format string, v int, s Shape) error {
	return fmt.Errorf(format+" does not lie in a memory of %d words of %d bits", v, s.Words, s.Width)
}

// facts counts bits and directions, and finds what the failing addresses have in common.
func facts(s Shape, fails []Read) []string {
	var out []string
	rose, fell := make([]int, s.Width), make([]int, s.Width)
	and, or := ^0, 0
	addresses := map[int]bool{}
	for _, f := range fails {
		addresses[f.Address] = true
		and &= f.Address
		or |= f.Address
		for b := range s.Width {
			switch {
			case f.Got>>b&1 > f.Expected>>b&1:
				rose[b]++
			case f.Got>>b&1 < f.Expected>>b&1:
				fell[b]++
			}
		}
	}
	var hit []string
	for b := range s.Width {
		if rose[b]+fell[b] == 0 {
			continue
		}
		way := "both ways"
		switch {
		case fell[b] == 0:
			way = "always read 1 for 0"
		case rose[b] == 0:
			way = "always read 0 for 1"
		}
		hit = append(hit, fmt.Sprintf("D%d (%s) %s, %d times", b, s.chipsOf(b), way, rose[b]+fell[b]))
	}
	out = append(out, "failing bits: "+strings.Join(hit, "; "))
	var common []string
	for a := range s.addressLines() {
		switch {
		case and>>a&1 == 1:
			common = append(common, fmt.Sprintf("A%d = 1", a))
		case or>>a&1 == 0:
			common = append(common, fmt.Sprintf("A%d = 0", a))
		}
	}
	switch {
	case len(addresses) == 1:
		out = append(out, fmt.Sprintf("one address: %X", and))
	case len(common) > 0:
		out = append(out, fmt.Sprintf("%d addresses, all with %s", len(addresses), strings.Join(common, ", ")))
	default:
		out = append(out, fmt.Sprintf("%d addresses with nothing in common", len(addresses)))
	}
	return out
}

// cellFindings looks up the failing elements of each cell in the test's syndromes. Only the first background counts: in the others a bit's 0 and 1 may
// have changed places.
func cellFindings(s Shape, m March, fails []Read) []CellFinding {
	by := map[[2]int][]int{}
	for _, f := range fails {
		for b := range s.Width {
			if k := [2]int{f.Address, b}; f.Background == 0 && (f.Expected^f.Got)>>b&1 == 1 && !slices.Contains(by[k], f.Element) {
				by[k] = append(by[k], f.Element)
			}
		}
	}
	var out []CellFinding
	table := Syndromes(m)
	for k, el := range by {
		slices.Sort(el)
		out = append(out, CellFinding{k[0], k[1], s.chipAt(k[0], k[1]), el, Match(table, el)})
	}
	slices.SortFunc(out, func(a, b CellFinding) int {
		return cmp.Or(cmp.Compare(a.Address, b.Address), cmp.Compare(a.Bit, b.Bit))
	})
	return out[:min(len(out), mostCells)]
}
