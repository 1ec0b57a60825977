package diagnose

import "slices"

// Segments tells what a word for a digit (`"0"` to `"9"`, blank, lit:abc) says of its segments a to g: which are lit, which dark, and which it leaves
// open because people draw the digit with and without them.
func Segments(seen string) (lit, dark [7]bool) {
	list := shapes(seen)
	for k, letter := range segLetters {
		has := func(s string) bool { return slices.Contains([]rune(s), letter) }
		lit[k] = len(list) > 0 && !slices.ContainsFunc(list, func(s string) bool { return !has(s) })
		dark[k] = len(list) > 0 && !slices.ContainsFunc(list, has)
	}
	return lit, dark
}
