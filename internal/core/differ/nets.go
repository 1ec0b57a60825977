package differ

// Nets by the pins they join. Only pins of parts that both boards have tell nets apart; pins of added and removed parts come and go with
// their part and are listed with the net.

import (
	"maps"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
)

// nets compares the nets of two boards, each a map from pin to net.
func nets(a, b map[string]string, pa, pb map[string]*board.Part) []Net {
	both := func(pin string) bool { // a pin of a part that both boards have
		ref := pin[:strings.IndexByte(pin, '.')]
		return pa[ref] != nil && pb[ref] != nil
	}
	// shared pins of each pair of nets
	toB, toA := map[string]map[string]int{}, map[string]map[string]int{}
	count := func(m map[string]map[string]int, x, y string) {
		if m[x] == nil {
			m[x] = map[string]int{}
		}
		m[x][y]++
	}
	for pin, x := range a {
		if y, ok := b[pin]; ok {
			count(toB, x, y)
			count(toA, y, x)
		}
	}
	heir := heirs(toB)
	onA, onB := byNet(a), byNet(b)
	var out []Net
	seenB := map[string]bool{}
	for _, x := range slices.SortedFunc(maps.Keys(onA), natural) {
		y, lives := heir[x]
		if lives {
			seenB[y] = true
			out = append(out, compare(x, y, a, b, onA[x], onB[y])...)
			continue
		}
		// every pin of x has gone elsewhere
		into := slices.SortedFunc(maps.Keys(toB[x]), natural)
		n := Net{Kind: Gone, A: []string{x}, Minus: onA[x]}
		if len(into) > 0 && anyBoth(n.Minus, both) {
			n.Kind, n.B = Joined, into
		}
		out = append(out, n)
	}
	for _, y := range slices.SortedFunc(maps.Keys(onB), natural) {
		if seenB[y] {
			continue
		}
		from := slices.SortedFunc(maps.Keys(toA[y]), natural)
		n := Net{Kind: New, B: []string{y}, Plus: onB[y]}
		if len(from) > 0 && anyBoth(n.Plus, both) {
			n.Kind, n.A = Split, from
		}
		out = append(out, n)
	}
	return out
}

func anyBoth(pins []string, both func(string) bool) bool { return slices.ContainsFunc(pins, both) }

// heirs pairs the nets of A with those of B, one to one: each pair shares pins, those with most shared pins first, of equals those with
// the same name, then by name.
func heirs(toB map[string]map[string]int) map[string]string {
	type pair struct {
		x, y string
		n    int
	}
	var pairs []pair
	for x, ys := range toB {
		for y, n := range ys {
			pairs = append(pairs, pair{x, y, n})
		}
	}
	slices.SortFunc(pairs, func(p, q pair) int {
		switch {
		case p.n != q.n:
			return q.n - p.n
		case (p.x == p.y) != (q.x == q.y):
			if p.x == p.y {
				return -1
			}
			return 1
		}
		if c := natural(p.x, q.x); c != 0 {
			return c
		}
		return natural(p.y, q.y)
	})
	out, taken := map[string]string{}, map[string]bool{}
	for _, p := range pairs {
		if _, done := out[p.x]; !done && !taken[p.y] {
			out[p.x], taken[p.y] = p.y, true
		}
	}
	return out
}

// compare says in what a net and its heir differ.
func compare(x, y string, a, b map[string]string, onA, onB []string) []Net {
	n := Net{Kind: Rewired, A: []string{x}, B: []string{y}}
	for _, pin := range onA {
		if b[pin] != y {
			n.Minus = append(n.Minus, pin)
		}
	}
	for _, pin := range onB {
		if a[pin] != x {
			n.Plus = append(n.Plus, pin)
		}
	}
	var out []Net
	if x != y {
		out = append(out, Net{Kind: Renamed, A: n.A, B: n.B})
	}
	if len(n.Minus)+len(n.Plus) > 0 {
		out = append(out, n)
	}
	return out
}

// byNet lists the pins on each net, sorted.
func byNet(pins map[string]string) map[string][]string {
	out := map[string][]string{}
	for p, n := range pins {
		out[n] = append(out[n], p)
	}
	for _, ps := range out {
		slices.SortFunc(ps, natural)
	}
	return out
}
