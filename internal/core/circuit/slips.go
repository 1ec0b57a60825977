package circuit

import (
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
)

// Names one slip of the hand away, for boards on which looking through all names for every lonely net would take minutes.

// manyLonely is how many lonely nets are compared with every name; of more, each is looked up among the names one slip away.
const manyLonely = 300

// slips finds the name that another was meant to be: nearest to it, itself left out. names are sorted.
func slips(names []string, lonely int) func(name string) string {
	if lonely <= manyLonely {
		return func(name string) string {
			own, found := slices.BinarySearch(names, name)
			if !found {
				return finding.Nearest(name, names)
			}
			return finding.Nearest(name, slices.Delete(slices.Clone(names), own, own+1))
		}
	}
	// Two words that one letter more, less, other or swapped with the next tells apart have a word in common that each gives with
	// at most one letter left out.
	lower := make([]string, len(names))
	with := map[string][]int32{}
	for i, n := range names {
		lower[i] = strings.ToLower(n)
		for _, h := range holes(lower[i]) {
			with[h] = append(with[h], int32(i))
		}
	}
	return func(name string) string {
		low := strings.ToLower(name)
		best := int32(len(names))
		for _, h := range holes(low) {
			for _, i := range with[h] { // rising, so the first that is near is the first in order
				if i >= best {
					break
				}
				if names[i] != name && oneSlip(low, lower[i]) {
					best = i
				}
			}
		}
		if int(best) == len(names) {
			return ""
		}
		return names[best]
	}
}

// holes are a word and what is left of it without one of its letters; words too long for a slip have none.
func holes(w string) []string {
	if len(w) > 64 || len(w) < 2 {
		return nil
	}
	out := []string{w}
	for i := range len(w) {
		if i == 0 || w[i] != w[i-1] {
			out = append(out, w[:i]+w[i+1:])
		}
	}
	return out
}

// oneSlip tells whether one letter more, less, other or swapped with the next makes b of a.
func oneSlip(a, b string) bool {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	switch {
	case len(a) == len(b)+1:
		return a[i+1:] == b[i:]
	case len(b) == len(a)+1:
		return a[i:] == b[i+1:]
	case len(a) != len(b):
		return false
	case i == len(a), a[i+1:] == b[i+1:]:
		return true
	}
	return i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
}
