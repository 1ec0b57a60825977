package circuit

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// oneEdit lists every word that one slip makes of w, over a small alphabet.
func oneEdit(w string) map[string]bool {
	const letters = "ab1"
	out := map[string]bool{w: true}
	for i := range w {
		out[w[:i]+w[i+1:]] = true
		for _, l := range letters {
			out[w[:i]+string(l)+w[i+1:]] = true
		}
		if i+1 < len(w) {
			out[w[:i]+string(w[i+1])+string(w[i])+w[i+2:]] = true
		}
	}
	for i := range len(w) + 1 {
		for _, l := range letters {
			out[w[:i]+string(l)+w[i:]] = true
		}
	}
	return out
}

func TestSlipsAgainstAllEdits(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	found, none := 0, 0
	for range 400 {
		set := map[string]bool{}
		for range 1 + r.IntN(30) {
			var w strings.Builder
			for range 2 + r.IntN(5) {
				w.WriteByte("abAB1"[r.IntN(5)])
			}
			set[w.String()] = true
		}
		var names []string
		for n := range set {
			names = append(names, n)
		}
		slices.Sort(names)
		near := slips(names, manyLonely+1)
		for _, n := range names {
			want := ""
			edits := oneEdit(strings.ToLower(n))
			for _, k := range names {
				if k != n && edits[strings.ToLower(k)] {
					want = k
					break
				}
			}
			if got := near(n); got != want {
				t.Fatalf("nearest to %s among %v: %q, want %q", n, names, got, want)
			}
			if want == "" {
				none++
			} else {
				found++
			}
		}
	}
	if found < 500 || none < 500 {
		t.Errorf("%d with a near name, %d without: the draw is lopsided", found, none)
	}
}

func TestFewLonelyNetsAreComparedWithEveryName(t *testing.T) {
	near := slips([]string{"ADDRESS_LATCH", "ADRES_LACTH", "CLOCK"}, 3)
	if got := near("ADRES_LACTH"); got != "ADDRESS_LATCH" {
		t.Errorf("three slips away: %q", got)
	}
}
