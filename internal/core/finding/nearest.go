package finding

import (
	"fmt"
	"slices"
	"strings"
)

// Nearest returns the known word that is closest to what was typed, by edit distance with swaps
// (Damerau, optimal string alignment), case folded. It returns "" when nothing is near: more than a third of the
// longer word, at least two edits, would have to change. Ties go to the word that sorts first.
func Nearest(typed string, known []string) string {
	best, bestD := "", len(typed)+1
	lower := strings.ToLower(typed)
	if !slices.IsSorted(known) {
		known = slices.Sorted(slices.Values(known))
	}
	for _, k := range known {
		limit := min(max(2, max(len(k), len(typed))/3), bestD-1, len(k)-1)
		if abs(len(k)-len(typed)) > limit {
			continue
		}
		if d := distance(lower, strings.ToLower(k), limit); d <= limit {
			best, bestD = k, d
		}
	}
	return best
}

// DidYouMean is Nearest as a hint ("did you mean X?"), or the list of what is known when that is short,
// or "".
func DidYouMean(typed string, known []string) string {
	if n := Nearest(typed, known); n != "" {
		return fmt.Sprintf("did you mean %s?", n)
	}
	if len(known) > 0 && len(known) <= 24 {
		return "known: " + strings.Join(slices.Sorted(slices.Values(known)), ", ")
	}
	return ""
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// distance counts the edits from a to b; where they are more than limit it may stop counting there.
func distance(a, b string, limit int) int {
	if len(a) > 64 || len(b) > 64 { // words of this length are not typing slips; keeps the cost bounded
		if a == b {
			return 0
		}
		return max(len(a), len(b))
	}
	var rows [3][65]int
	prev2, prev, cur := rows[0][:len(b)+1], rows[1][:len(b)+1], rows[2][:len(b)+1]
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		if slices.Min(prev) > limit && slices.Min(cur) > limit {
			return limit + 1
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}
