package sim

import (
	"math"
	"math/bits"

	"halfsplit/internal/core/circuit"
)

// Where a weak 0 and a weak 1 meet, the least total resistance towards each decides. This is rare, so it is done lane by lane.

// Below lowPart of the way from 0 to 1 a level counts as low, above highPart as high. At 5 V that is 1.5 V and
// 2.5 V, between the limits of TTL and of CMOS (common practice, no source).
const (
	lowPart  = 0.3
	highPart = 0.5
)

// dividers returns the lanes in which the divider makes net k low, and high.
func (e *Engine) dividers(links []int32, br []bridge, k int) (low, high uint64) {
	s := &e.scratch
	w := below(s.weak[k], s.sup[k], s.out[k])
	for m := w.m0 & w.m1; m != 0; m &= m - 1 {
		lane := bits.TrailingZeros64(m)
		r0, sure0 := e.nearest(links, br, k, lane, false)
		r1, sure1 := e.nearest(links, br, k, lane, true)
		if !sure0 || !sure1 || math.IsInf(r0, 1) || math.IsInf(r1, 1) || r0+r1 == 0 {
			continue
		}
		switch f := r0 / (r0 + r1); {
		case f < lowPart:
			low |= 1 << lane
		case f > highPart:
			high |= 1 << lane
		}
	}
	return low, high
}

// nearest is the least resistance from net k to a net that is surely decided at the level high; sure is false when a way that is only
// possible (a link that may conduct, a net that may be at that level) would be shorter.
func (e *Engine) nearest(links []int32, br []bridge, k, lane int, high bool) (ohms float64, sure bool) {
	ohms = e.shortest(links, br, k, lane, high, true)
	return ohms, e.shortest(links, br, k, lane, high, false) >= ohms
}

// shortest is Bellman-Ford, because groups are small: over what is sure, or over all that is possible.
func (e *Engine) shortest(links []int32, br []bridge, k, lane int, high, sure bool) float64 {
	s := &e.scratch
	bit := uint64(1) << lane
	n := len(s.sup)
	if cap(s.dist) < n {
		s.dist = make([]float64, n)
	}
	dist := s.dist[:n]
	for i := range dist {
		dist[i] = math.Inf(1)
		u := e.upper(end{int32(i), false})
		at, other := u.m0, u.m1
		if high {
			at, other = other, at
		}
		there := at&^other&bit != 0
		if !sure {
			there = (u.y0&bit != 0 && !high) || (u.y1&bit != 0 && high)
		}
		if there {
			dist[i] = 0
		}
	}
	decided := func(k int32) bool { // something stronger holds it, so nothing weak comes through
		u := e.upper(end{k, false})
		return (u.m0|u.m1)&bit != 0
	}
	relax := func(kind circuit.LinkKind, on conduct, ohms float64, a, b end) bool {
		passes := on.must
		if !sure {
			passes = on.may
		}
		if passes&bit == 0 || kind == circuit.Faint || kind == circuit.FaintBoth {
			return false
		}
		step := func(from, to end, forward bool) bool {
			if to.k < 0 || (kind == circuit.Diode && forward != high) || decided(to.k) {
				return false
			}
			d := math.Inf(1)
			if from.k >= 0 {
				d = dist[from.k]
			} else if from.high == high {
				d = 0
			}
			if d+ohms < dist[to.k] {
				dist[to.k] = d + ohms
				return true
			}
			return false
		}
		forth, back := step(a, b, true), step(b, a, false)
		return forth || back
	}
	for changed := true; changed; {
		changed = false
		for i, li := range links {
			l := &e.p.C.Links[li]
			a, b := e.end(l.A), e.end(l.B)
			changed = relax(l.Kind, s.on[i], l.Ohms, a, b) || changed
			changed = relax(circuit.Closed, s.short[i], 0, a, b) || changed
		}
		for _, x := range br {
			changed = relax(circuit.Closed, conduct{x.lanes, x.lanes}, 0, e.end(int(x.a)), e.end(int(x.b))) || changed
		}
	}
	return dist[k]
}
