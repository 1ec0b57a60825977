package sim

import (
	"math/bits"

	"halfsplit/internal/core/circuit"
)

// Engine settles one batch of 64 lanes. It is not safe for concurrent use: one engine a goroutine.
//
// Values of the current round lie over the row of the good board (over the previous round's row while the good board itself
// is being settled): a node or net whose stamp is not the current one has the row's value in every lane.
type Engine struct {
	p  *Program
	ov *Overlay // nil for the good board
	on mounted  // the same, by index

	row, prevRow       []uint8 // node levels of the good board now and a round ago
	netRow, prevNetRow []uint8
	cur, prev          layer
	stamp              uint32
	queue              []uint64 // bit per position
	touch              []uint64 // a batch: units that read something that is or was otherwise than on the good board, or are patched
	active             []uint64 // the good board: units computed in this round

	in    external // what the outside does in this moment
	was   external // and did at the end of the last round
	union bool     // first phase of a loop: what lies outside it is taken as old or new
	loop  int32    // the loop being settled, -1
	widen bool     // something swings: from now on levels only become less certain

	memOwn        []*words // contents that have left those of the good board, nil: as the good board's
	log           []memWrite
	logTo         int // how much of the log has happened
	scratch       groupScratch
	circle        []circleState // by super: how a bridge that closes a loop of gates is taken at the moment
	dirty         []int32       // supers that were to be computed while they stood still
	saved         []savedValue
	doubt         bool       // something read since this was cleared has changed, and was taken as unknown for that
	todo          []bool     // members of the loop that is being settled: to be computed
	later         []bool     // and those to be computed once nothing is in doubt any more
	beyond        []netValue // what a loop that is being settled puts on nets outside it, through bridges
	looked        bitset     // stores whose next value is computed at the end of this round
	movers        []int32
	stores        bitset  // a batch: stores that read something that is or was otherwise than on the good board
	changed       []int32 // a batch: nodes that were computed anew in this round, and in the one before
	changedBefore []int32
	lately        []int32 // good board only: nodes that changed in the last round, because an unknown clock may have an edge in any
}

// external is what actions set: the level of each input, the position of each contact.
type external struct {
	inputs  []circuit.Level
	pressed []bool
}

// layer holds the values of one round that differ from the row.
type layer struct {
	v     []Heard
	st    []uint32
	nv    []NetLevel
	nst   []uint32
	stamp uint32
	nodes []int32 // those stamped
	nets  []int32
}

func newLayer(nodes, nets int) layer {
	return layer{v: make([]Heard, nodes), st: make([]uint32, nodes), nv: make([]NetLevel, nets), nst: make([]uint32, nets)}
}

func (l *layer) begin(stamp uint32) {
	l.stamp, l.nodes, l.nets = stamp, l.nodes[:0], l.nets[:0]
}

// NewEngine returns an engine for a program.
func NewEngine(p *Program) *Engine {
	return &Engine{p: p, cur: newLayer(p.nodes, len(p.C.Nets)), prev: newLayer(p.nodes, len(p.C.Nets)),
		queue: make([]uint64, len(p.units)/64+1), touch: make([]uint64, len(p.units)/64+1), loop: -1, memOwn: make([]*words, len(p.mems)), scratch: newScratch(p), on: newMounted(p), stores: make(bitset, (len(p.stores)+63)/64)}
}

func (e *Engine) nodeNow(n int32) Heard {
	if e.cur.st[n] == e.cur.stamp {
		return e.cur.v[n]
	}
	return heardOf(e.row[n])
}

func (e *Engine) nodeBefore(n int32) Heard {
	if e.prev.st[n] == e.prev.stamp {
		return e.prev.v[n]
	}
	return heardOf(e.prevRow[n])
}

func (e *Engine) netNow(n int32) NetLevel {
	if e.cur.nst[n] == e.cur.stamp {
		return e.cur.nv[n]
	}
	return netOf(e.netRow[n])
}

func (e *Engine) netBefore(n int32) NetLevel {
	if e.prev.nst[n] == e.prev.stamp {
		return e.prev.nv[n]
	}
	return netOf(e.prevNetRow[n])
}

func (e *Engine) get(r ref) Heard {
	n := r.node()
	h := e.nodeNow(n)
	if e.union && e.p.nodeLoop[n] != e.loop {
		if o := e.nodeBefore(n); o != h {
			h = h.or(o)
			e.doubt = true
		}
	}
	if r&1 != 0 {
		h.P0, h.P1 = h.P1, h.P0
	}
	return h
}

func (e *Engine) netGet(n int32) NetLevel {
	v := e.netNow(n)
	if e.union && e.p.netLoop[n] != e.loop { // what changed is taken as unknown
		o := e.netBefore(n)
		x := (v.V0 ^ o.V0) | (v.V1 ^ o.V1) | (v.Z ^ o.Z) | (v.F ^ o.F)
		if x != 0 {
			v = NetLevel{all, all, all, all}.pick(x, v)
			e.doubt = true
		}
	}
	return v
}

func (e *Engine) wake(pos int32) {
	b := uint64(1) << (pos & 63)
	e.queue[pos>>6] |= b
	e.touch[pos>>6] |= b
}

// setNode stores a value and wakes who reads it, if it is news.
func (e *Engine) setNode(n int32, h Heard) {
	now := e.nodeNow(n)
	if e.widen {
		h = h.or(now)
	}
	if h == now {
		return
	}
	e.putNode(n, h)
	e.wakeNode(n)
}

func (e *Engine) putNode(n int32, h Heard) {
	if e.cur.st[n] != e.cur.stamp {
		e.cur.st[n] = e.cur.stamp
		e.cur.nodes = append(e.cur.nodes, n)
	}
	e.cur.v[n] = h
	e.changed = append(e.changed, n)
	for _, s := range e.p.nodeStore[n] {
		e.stores.add(s)
	}
}

func (e *Engine) wakeNode(n int32) {
	for _, pos := range e.p.nodeFan[n] {
		e.wake(pos)
	}
	for _, pos := range e.on.extra[n] {
		e.wake(pos)
	}
}

func (e *Engine) putNet(n int32, v NetLevel) {
	if e.cur.nst[n] != e.cur.stamp {
		e.cur.nst[n] = e.cur.stamp
		e.cur.nets = append(e.cur.nets, n)
	}
	e.cur.nv[n] = v
}

func (e *Engine) setNet(n int32, v NetLevel) {
	now := e.netNow(n)
	if e.widen {
		v = v.or(now)
	}
	if v == now {
		return
	}
	e.putNet(n, v)
	e.wakeNet(n)
	if l := e.p.netLoop[n]; l >= 0 && l != e.loop { // only a bridge can reach into a loop from outside
		e.wake(e.p.groupPos[e.p.groupOf[n]])
	}
}

func (e *Engine) wakeNet(n int32) {
	for _, pos := range e.p.netFan[n] {
		e.wake(pos)
	}
}

// advance begins a round of a batch: what was now is now before. What differs from the good board goes on as it is until something it
// depends on changes.
func (e *Engine) advance(row, netRow []uint8) {
	e.prevRow, e.prevNetRow = e.row, e.netRow
	e.row, e.netRow = row, netRow
	e.cur, e.prev = e.prev, e.cur
	e.changed, e.changedBefore = e.changedBefore[:0], e.changed
	e.stamp++
	e.cur.begin(e.stamp)
	for _, n := range e.prev.nodes {
		if v := e.prev.v[n]; v != heardOf(row[n]) {
			e.cur.st[n], e.cur.v[n] = e.stamp, v
			e.cur.nodes = append(e.cur.nodes, n)
		}
	}
	for _, n := range e.prev.nets {
		if v := e.prev.nv[n]; v != netOf(netRow[n]) {
			e.cur.nst[n], e.cur.nv[n] = e.stamp, v
			e.cur.nets = append(e.cur.nets, n)
		}
	}
}

// drain works through the queue in order of position; what wakes an earlier position (a bridge, a joint) makes
// another sweep. Far more evaluations than a board needs mean that something swings without storage: from then on levels may only
// become less certain, so it ends.
func (e *Engine) drain() {
	patience := 40*len(e.p.units) + 2000 // evaluations
	defer func() { e.widen = false }()
	for done := 0; ; {
		again := false
		for w := 0; w < len(e.queue); w++ {
			for ahead := all; e.queue[w]&ahead != 0; { // what has been passed waits for the next sweep
				b := bits.TrailingZeros64(e.queue[w] & ahead)
				e.queue[w] &^= 1 << b
				ahead = all << b << 1
				if e.active != nil {
					e.active[w] |= 1 << b
				}
				e.evaluate(int32(w<<6 | b))
				done++
				e.widen = done > patience
			}
		}
		for _, q := range e.queue {
			again = again || q != 0
		}
		if !again {
			return
		}
	}
}

func (e *Engine) evaluate(pos int32) {
	u := e.p.units[pos]
	switch u.kind {
	case uHear:
		e.setNode(e.p.hearNode[u.index], e.hear(int(u.index)))
	case uGate:
		g := &e.p.gates[u.index]
		e.setNode(g.out, e.gate(g))
	case uMem:
		e.readMemory(int(u.index), e.setNode)
	case uGroup:
		e.group(u.index, func(n int32, v NetLevel, m uint64) {
			if m != all {
				v = v.pick(m, e.netNow(n))
			}
			e.setNet(n, v)
		})
	case uLoop:
		e.settleLoop(u.index)
	}
}

func (e *Engine) gate(g *gate) Heard {
	switch g.op {
	case opMux:
		return mux(e.get(g.ins[0]), e.get(g.ins[1]), e.get(g.ins[2]))
	case opXor:
		a := e.get(g.ins[0])
		for _, r := range g.ins[1:] {
			b := e.get(r)
			a = Heard{a.P0&b.P0 | a.P1&b.P1, a.P0&b.P1 | a.P1&b.P0}
		}
		return a
	}
	a := Heard{0, all}
	for _, r := range g.ins {
		b := e.get(r)
		a.P0 |= b.P0
		a.P1 &= b.P1
	}
	return a
}

// hear is what the inside of a part hears at a pin.
func (e *Engine) hear(pin int) Heard {
	p := e.p
	net := p.C.Pins[pin].Net
	if in := p.C.Pins[pin].Inside; in != circuit.None {
		net = in
	}
	bip := p.C.Parts[p.C.Pins[pin].Part].Family.Bipolar()
	h := e.heard(e.netGet(int32(net)), int32(net), bip)
	o := e.on.pins[pin]
	if o == nil {
		return h
	}
	open := Heard{all, all}
	if bip {
		open = Heard{0, all}
	}
	if o.joint != 0 {
		h = e.heard(e.pinSide(pin), int32(net), bip).pick(o.joint, h)
	}
	h = Heard{all, 0}.pick(o.inLow, h)
	h = Heard{0, all}.pick(o.inHigh, h)
	return open.pick(o.inOpen, h)
}

// heard turns a net's level into what a gate of a family makes of it.
func (e *Engine) heard(v NetLevel, net int32, bip bool) Heard {
	low := e.fightLow(net)
	h := Heard{v.V0 | v.F, v.V1 | v.F&^low | v.Z}
	if !bip {
		h.P0 |= v.Z
	}
	return h
}

// fightLow gives the lanes in which a fight on the net is heard as low.
func (e *Engine) fightLow(net int32) uint64 {
	return e.p.fightLow(net) &^ e.on.fightX[net]
}

// fightLow is the same for the good board.
func (p *Program) fightLow(net int32) uint64 {
	if p.bipolar[net] {
		return all
	}
	return 0
}
