package store

// Text in one case, so that a search finds what it means in any script.

import (
	"strings"
	"unicode"
)

// fold maps the letters that differ only in case to one of them: Σ, σ and ς are one letter, Ä and ä, K and the kelvin sign. A zero
// byte becomes a space, because SQLite would stop comparing there.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		if r == 0 {
			return ' '
		}
		least := r
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			least = min(least, f)
		}
		return least
	}, strings.ToValidUTF8(s, "\uFFFD"))
}
