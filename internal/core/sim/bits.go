package sim

import "math/bits"

// Which stored bits take a new value at the end of a round.

// pending is a stored bit's value for the next round.
type pending struct {
	node int32
	h    Heard
}

// bitset is a set of small integers.
type bitset []uint64

// set empties a set of up to n, or fills it.
func (s *bitset) set(n int, full bool) {
	if len(*s) != (n+63)/64 {
		*s = make(bitset, (n+63)/64)
	}
	clear(*s)
	if full {
		for i := range n {
			s.add(int32(i))
		}
	}
}

func (s bitset) add(i int32)      { s[i>>6] |= 1 << (i & 63) }
func (s bitset) has(i int32) bool { return s[i>>6]>>(i&63)&1 == 1 }

// look adds the stores that read the nodes to those that are looked at.
func (e *Engine) look(nodes []int32) {
	for _, n := range nodes {
		for _, s := range e.p.nodeStore[n] {
			e.looked.add(s)
		}
	}
}

// lookBatch finds the stores of a batch that can move: of those that read something otherwise than on the good board, or did, those of
// which something has changed in this round or the last, on the good board (good) or here. An edge shows for one round; one from or to an
// unknown level for two. afresh looks at all of them: when a moment begins, and when lanes come to life that were at rest.
func (e *Engine) lookBatch(good bitset, own, afresh bool) {
	e.looked.set(len(e.p.stores), false)
	for w, t := range e.stores {
		switch {
		case afresh:
			e.looked[w] = t
		case own:
			e.looked[w] = t & good[w]
		}
	}
	if !afresh {
		e.look(e.changed)
		e.look(e.changedBefore)
	}
}

// nextBits computes the next value of the stored bits that are looked at, in the lanes that are live: a lane in which nothing moved any
// more is at rest, however many rounds the others need. With stop, bits that would still change become unknown instead. moved are the
// lanes in which something changes; the stores are left in e.movers.
func (e *Engine) nextBits(out []pending, stop bool, live uint64) (pend []pending, moved uint64) {
	e.movers = e.movers[:0]
	for w, set := range e.looked {
		for ; set != 0; set &= set - 1 {
			s := int32(w<<6 | bits.TrailingZeros64(set))
			st := &e.p.stores[s]
			now := e.nodeNow(st.node)
			h := e.next(st).pick(live, now)
			if stop {
				h = Heard{all, all}.pick((now.P0^h.P0)|(now.P1^h.P1), now)
			}
			if d := (now.P0 ^ h.P0) | (now.P1 ^ h.P1); d != 0 {
				moved |= d
				e.movers = append(e.movers, s)
			}
			out = append(out, pending{st.node, h})
		}
	}
	return out, moved
}
