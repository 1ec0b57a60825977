package sim

import (
	"math/bits"

	"halfsplit/internal/core/part"
)

// Stored bits and memories: what they take at the end of a round.

// next is the value a stored bit takes, from the levels now and a round ago.
func (e *Engine) next(s *store) Heard {
	acc := e.nodeNow(s.node)
	for i := len(s.clauses) - 1; i >= 0; i-- {
		c := &s.clauses[i]
		switch c.when {
		case part.While:
			acc = mux(e.get(c.cond), e.get(c.val), acc)
		case part.Rise:
			acc = mux(edge(e.before(c.cond), e.get(c.cond)), e.before(c.val), acc)
		default:
			acc = mux(edge(e.before(c.cond^1), e.get(c.cond^1)), e.before(c.val), acc)
		}
	}
	return acc
}

// edge is whether a level rose: may not have, may have.
func edge(was, is Heard) Heard { return Heard{was.P1 | is.P0, was.P0 & is.P1} }

func (e *Engine) before(r ref) Heard {
	h := e.nodeBefore(r.node())
	if r&1 != 0 {
		h.P0, h.P1 = h.P1, h.P0
	}
	return h
}

// words is what a memory holds in the lanes of one batch: only addresses that were ever written are listed; the others
// hold what they had at first.
type words struct {
	at    map[int32][]Heard // address → bits, lowest first
	order []int32           // addresses in the order of first writing
}

// memWrite is one write to the good board's memory: the word afterwards, lowest bit first.
type memWrite struct {
	mem, addr int32
	bits      []uint8
}

func newWords() *words { return &words{at: map[int32][]Heard{}} }

func (w *words) word(m *memory, addr int32) []Heard {
	if v, ok := w.at[addr]; ok {
		return v
	}
	return m.initial(addr)
}

func (w *words) own(m *memory, addr int32) []Heard {
	v, ok := w.at[addr]
	if !ok {
		v = m.initial(addr)
		w.at[addr] = v
		w.order = append(w.order, addr)
	}
	return v
}

func (w *words) clone() *words {
	c := &words{at: make(map[int32][]Heard, len(w.at)), order: append([]int32(nil), w.order...)}
	for k, v := range w.at {
		c.at[k] = append([]Heard(nil), v...)
	}
	return c
}

// initial is what a word holds before anything is written: the ROM's contents, or unknown.
func (m *memory) initial(addr int32) []Heard {
	out := make([]Heard, len(m.nodes))
	for b := range out {
		out[b] = Heard{all, all}
		if m.rom && int(addr) < len(m.contents) && b < 8 {
			out[b] = Heard{^lanes(m.contents[addr], uint8(b)), lanes(m.contents[addr], uint8(b))}
		}
	}
	return out
}

// contents gives what a memory holds in this batch now. Until a batch has written something else it follows the good
// board, whose writes are replayed from the trace's log.
func (e *Engine) contents(mi int) *words {
	if w := e.memOwn[mi]; w != nil {
		return w
	}
	w := newWords()
	for _, r := range e.log[:e.logTo] {
		if int(r.mem) == mi {
			w.apply(&e.p.mems[mi], r)
		}
	}
	return w
}

func (w *words) apply(m *memory, r memWrite) {
	v := w.own(m, r.addr)
	for b := range v {
		v[b] = heardOf(r.bits[b])
	}
}

// eachAddress calls f once for every different address among the lanes of m: the planes of that address and its lanes.
func eachAddress(addr []Heard, m uint64, f func(lane int, lanes uint64)) {
	for m != 0 {
		lane := bits.TrailingZeros64(m)
		same := m
		for _, a := range addr {
			same &= ^(a.P0 ^ -(a.P0 >> lane & 1)) & ^(a.P1 ^ -(a.P1 >> lane & 1))
		}
		f(lane, same)
		m &^= same
	}
}

// matching calls f with every address that a partly unknown address may mean.
func matching(addr []Heard, lane int, f func(a int32)) {
	var known, free int32
	for i, h := range addr {
		bit := int32(1) << (len(addr) - 1 - i)
		switch {
		case h.P0>>lane&1 == 1 && h.P1>>lane&1 == 1:
			free |= bit
		case h.P1>>lane&1 == 1:
			known |= bit
		}
	}
	for sub := free; ; sub = (sub - 1) & free {
		f(known | sub)
		if sub == 0 {
			return
		}
	}
}

func mayBe(addr []Heard, lane int, a int32) bool {
	for i, h := range addr {
		p := h.P0
		if a>>(len(addr)-1-i)&1 == 1 {
			p = h.P1
		}
		if p>>lane&1 == 0 {
			return false
		}
	}
	return true
}

func (e *Engine) address(m *memory) []Heard {
	out := make([]Heard, len(m.address))
	for i, r := range m.address {
		out[i] = e.get(r)
	}
	return out
}

func unknownBits(addr []Heard, lane int) int {
	n := 0
	for _, h := range addr {
		n += int((h.P0 & h.P1) >> lane & 1)
	}
	return n
}

// readMemory computes the output bits from address and contents.
func (e *Engine) readMemory(mi int, put func(int32, Heard)) {
	m := &e.p.mems[mi]
	addr := e.address(m)
	w := e.contents(mi)
	out := make([]Heard, len(m.nodes))
	eachAddress(addr, all, func(lane int, same uint64) {
		if !m.rom && unknownBits(addr, lane) > 0 && len(w.order) < 1<<unknownBits(addr, lane) {
			for b := range out { // some word that it may mean was never written
				out[b] = Heard{all, all}.pick(same, out[b])
			}
			return
		}
		first := true
		matching(addr, lane, func(a int32) {
			for b, h := range w.word(m, a) {
				if first {
					out[b] = h.pick(same, out[b])
				} else {
					out[b] = out[b].or(h).pick(same, out[b])
				}
			}
			first = false
		})
	})
	for b, n := range m.nodes {
		put(n, out[b])
	}
}

// writeMemory lets a memory take what is written at the end of a round; it reports whether anything changed. log is
// filled for the good board (all lanes alike), nil for a batch, which from then on keeps contents of its own.
func (e *Engine) writeMemory(mi int, log *[]memWrite) bool {
	m := &e.p.mems[mi]
	we := e.get(m.write)
	w := e.contents(mi)
	if log == nil {
		e.memOwn[mi] = w
	}
	addr := e.address(m)
	data := make([]Heard, len(m.data))
	for b, r := range m.data {
		data[b] = e.get(r)
	}
	changed := false
	put := func(a int32, same uint64, sure bool) {
		on := we
		if !sure {
			on.P0 = all
		}
		old := w.word(m, a)
		news := make([]Heard, len(data))
		differ := false
		for b := range data {
			news[b] = mux(on, data[b], old[b]).pick(same, old[b])
			differ = differ || news[b] != old[b]
		}
		if !differ {
			return
		}
		changed = true
		copy(w.own(m, a), news)
		if log != nil {
			r := memWrite{mem: int32(mi), addr: a}
			for _, h := range news {
				r.bits = append(r.bits, h.byteOf())
			}
			*log = append(*log, r)
		}
	}
	eachAddress(addr, we.P1, func(lane int, same uint64) {
		if unknownBits(addr, lane) == 0 {
			matching(addr, lane, func(a int32) { put(a, same, true) })
			return
		}
		for _, a := range w.order {
			if mayBe(addr, lane, a) {
				put(a, same, false)
			}
		}
	})
	return changed
}
