package advise

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
)

// How good a check is: bits per minute, the leaders two checks deep.

// entropy of a distribution, in bits.
func entropy(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// split gives the probability of each outcome under lane weights p, in the place of buf, and the bits it is expected to remove. The lanes of
// latent (nil: none) count as one.
func split(c *Check, p, buf []float64, latent []uint64) (out []float64, gain float64) {
	out = buf[:0]
	asleep := make([]float64, 0, 16) // outcomes of the latent lanes together
	sleeping := 0.0
	for _, cl := range c.cells {
		for len(out) < len(cl.like) {
			out = append(out, 0)
		}
		m, z := 0.0, 0.0
		for w, set := range cl.lanes {
			if latent != nil {
				for s := set & latent[w]; s != 0; s &= s - 1 {
					z += p[w<<6|bits.TrailingZeros64(s)]
				}
				set &^= latent[w]
			}
			for ; set != 0; set &= set - 1 {
				m += p[w<<6|bits.TrailingZeros64(set)]
			}
		}
		if m+z == 0 {
			continue
		}
		for len(asleep) < len(out) {
			asleep = append(asleep, 0)
		}
		for k, l := range cl.like {
			out[k] += (m + z) * l
			asleep[k] += z * l
		}
		sleeping += z
		gain -= m * entropy(cl.like)
	}
	if sleeping > 0 {
		for k := range asleep {
			asleep[k] /= sleeping
		}
		gain -= sleeping * entropy(asleep)
	}
	return out, max(0, gain+entropy(out))
}

// after gives the lane weights once an outcome was seen; total is its probability.
func after(c *Check, p []float64, k int, into []float64) (total float64) {
	clear(into)
	for _, cl := range c.cells {
		for w, set := range cl.lanes {
			for ; set != 0; set &= set - 1 {
				i := w<<6 | bits.TrailingZeros64(set)
				into[i] = p[i] * cl.like[k]
				total += into[i]
			}
		}
	}
	if total > 0 {
		for i := range into {
			into[i] /= total
		}
	}
	return total
}

// Limits of the look-ahead: how many leaders are looked at, and how many seconds each.
const (
	leaders   = 10
	followers = 40
	worth     = 0.002 // bits below which a check tells nothing
)

// again is the worth of a second look at the same thing beside a first (estimate).
const again = 0.7

// judge scores a candidate by itself; false means that it is not worth while.
func (f *found) judge(c *Check) bool {
	b := f.b
	f.odds, c.Bits = split(c, b.p, f.odds, b.latent)
	switch n := b.done[c.id]; {
	case n > 1 && b.R.Whole:
		return false
	case n > 1: // worth yet another look only while the log does not add up
		c.Bits *= 0.25
	case n == 1: // a second look rules out a slip of the first, but for what makes the same slip twice
		c.Bits *= again
	}
	if c.Bits < worth {
		return false
	}
	b.nameOutcomes(c, f.odds)
	c.Minutes, c.SetUp = b.minutesFrom(c, b.now)
	c.Score = c.bonus() * c.Bits / c.Minutes
	return true
}

// rank sorts the candidates best first, the leaders by what they come to two checks deep. With exhaustive, every candidate is looked at two
// deep with every other.
func (b *Bench) rank(cs []*Check, exhaustive bool) []Check {
	sortChecks(cs)
	// checks that sort the lanes the same way tell the same: only the cheapest of them is worth a second look
	unique := cheapest(cs)
	n, m := min(leaders, len(unique)), min(followers, len(unique))
	if exhaustive {
		n, m = len(unique), len(unique)
	}
	into, buf := make([]float64, len(b.p)), make([]float64, 0, 16)
	scores := make([]float64, n)
	for i, c := range unique[:n] {
		bits, minutes := c.Bits, c.Minutes
		for k, o := range c.Outcomes {
			if o.P < 0.01 {
				continue
			}
			after(c, b.p, k, into)
			bestBits, bestMin, bestRate := 0.0, 0.0, 0.0
			for _, next := range unique[:m] {
				if next.id == c.id && next.Pin == c.Pin {
					continue
				}
				var g float64
				buf, g = split(next, into, buf, b.latent)
				mi := b.follow(c, next)
				if r := g / mi; r > bestRate && g > worth {
					bestBits, bestMin, bestRate = g, mi, r
				}
			}
			bits += o.P * bestBits
			minutes += o.P * bestMin
		}
		scores[i] = c.bonus() * bits / minutes
		// checks differ tenfold in minutes: a cheap one that tells nothing must not shine by what follows it
		scores[i] = max(scores[i], c.Score)
	}
	looked := map[*Check]bool{}
	for i, c := range unique[:n] {
		c.Score = scores[i]
		looked[c] = true
	}
	first := slices.Clone(unique[:n]) // those looked at two deep first
	sortChecks(first)
	out := make([]Check, 0, len(cs))
	for _, c := range first {
		out = append(out, *c)
	}
	for _, c := range cs {
		if !looked[c] {
			out = append(out, *c)
		}
	}
	return out
}

// cheapest gives the first check for each way of sorting the lanes; cs is sorted, best first.
func cheapest(cs []*Check) []*Check {
	var out []*Check
	seen := map[uint64]bool{}
	for _, c := range cs {
		if s := c.sorting(); !seen[s] {
			seen[s] = true
			out = append(out, c)
		}
	}
	return out
}

// sorting is a hash of how a check sorts the lanes and what it expects of each cell.
func (c *Check) sorting() uint64 {
	h := uint64(0)
	for _, cl := range c.cells {
		x := uint64(len(cl.like))
		for _, w := range cl.lanes {
			x = mix(x*0x9E3779B97F4A7C15 + w)
		}
		for _, l := range cl.like {
			x = mix(x*0x9E3779B97F4A7C15 + math.Float64bits(l))
		}
		h += x // in any order
	}
	return h
}

func sortChecks(cs []*Check) {
	slices.SortStableFunc(cs, func(x, y *Check) int {
		return cmp.Or(cmp.Compare(y.Score, x.Score), cmp.Compare(x.Minutes, y.Minutes), cmp.Compare(x.id, y.id), cmp.Compare(x.Pin, y.Pin))
	})
}

func (b *Bench) nameOutcomes(c *Check, out []float64) {
	if c.Outcomes == nil {
		c.names(wordNames)
	}
	for k := range c.Outcomes {
		c.Outcomes[k].P = out[k]
	}
	for _, cl := range c.cells {
		if cl.lanes[0]>>healthy&1 == 1 {
			k := 0
			for j := range cl.like {
				if cl.like[j] > cl.like[k] {
					k = j
				}
			}
			c.Good = c.Outcomes[k].Is
			if c.Other != nil {
				c.Good = c.Other.Good
				continue
			}
			if cl.like[k] < 0.45 && (c.Kind == Read || c.Kind == See || c.Kind == Lift) {
				c.Good = "unknown"
			}
		}
	}
}

// nameSuspects notes which leaders would give each outcome.
func (b *Bench) nameSuspects(c *Check) {
	for i, lane := range b.leaders[:min(len(b.leaders), 24)] {
		best, k := 0.0, -1
		for _, cl := range c.cells {
			if cl.lanes[lane>>6]>>(lane&63)&1 == 1 {
				for j, l := range cl.like {
					if l > best {
						best, k = l, j
					}
				}
			}
		}
		if k >= 0 && best > 0.45 && len(c.Outcomes[k].Suspects) < 4 {
			c.Outcomes[k].Suspects = append(c.Outcomes[k].Suspects, i)
		}
	}
}

// follow is what a check takes right after another.
func (b *Bench) follow(c, next *Check) float64 {
	s := b.now
	s.take(c)
	m, _ := b.minutesFrom(next, s)
	return m
}

// standing is the state of the bench: which instrument is in hand, power, the action that is set up.
type standing struct {
	scope, meter bool // have been set up
	powered      bool
	action       string
}

func (s *standing) take(c *Check) {
	if c.Other != nil {
		s.takeOther(c.Other, predictKey(c))
		return
	}
	switch c.Kind {
	case Read, Lift:
		s.scope, s.powered = true, true
	case Volts:
		s.meter, s.powered = true, true
	case Ohms:
		s.meter, s.powered = true, false
	case See:
		s.powered = true
	}
	if c.Kind != Ohms {
		s.action = predictKey(c)
	}
}

func predictKey(c *Check) string {
	return c.Setting.Key()
}

func (b *Bench) standing() standing {
	s := standing{powered: true}
	for _, o := range b.S.Obs {
		if o.Kind == diagnose.OtherHalf {
			s.takeOther(otherOf(o), o.Setting.Key())
			continue
		}
		switch o.Kind {
		case diagnose.Read:
			s.scope, s.powered = true, true
		case diagnose.Volts:
			s.meter, s.powered = true, true
		case diagnose.Ohms:
			s.meter, s.powered = true, false
		case diagnose.See:
			s.powered = true
		}
		if o.Kind != diagnose.Ohms {
			s.action = o.Setting.Key()
		}
	}
	return s
}

func (b *Bench) minutesFrom(c *Check, s standing) (t float64, setUp bool) {
	if c.Other != nil {
		return b.otherMinutes(c.Other, s)
	}
	k := b.Costs
	reach := 1.0
	if c.Place.Pin != circuit.None {
		reach = k.reach(b.S.M.C.Parts[b.S.M.C.Pins[c.Place.Pin].Part].Src.Access)
	}
	if c.Kind != Ohms && c.Kind != Lift {
		if !s.powered {
			t += k.PowerUp
		}
		if s.action != c.Setting.Key() {
			t += k.NewAction
			if b.freeRun(c.Setting) {
				t += k.Adapter
			}
		}
	}
	read := k.Read
	if !b.Have.Scope {
		read = k.Probe
	}
	switch c.Kind {
	case Read:
		t += read * reach
		if !s.scope && b.Have.Scope {
			return t + k.ScopeSetUp, true
		}
	case See:
		t += k.See
	case Volts:
		t += k.Volts * reach
		if !s.meter {
			return t + k.MeterSetUp, true
		}
	case Ohms:
		t += k.Ohms * reach
		if s.powered {
			t += k.PowerDown
		}
		if !s.meter {
			return t + k.MeterSetUp, true
		}
	case Lift:
		pin := b.S.M.C.Pins[c.Pin]
		reach = k.reach(b.S.M.C.Parts[pin.Part].Src.Access)
		t += (k.Lift+k.LiftHarm)*reach + read + k.PowerUp
		if s.powered {
			t += k.PowerDown
		}
	}
	return t, false
}
