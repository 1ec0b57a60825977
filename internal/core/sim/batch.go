package sim

import "slices"

// Batch is where a batch of 64 faulty boards stands at the end of a moment: only what differs from the good board.
// It is made by Engine.Run and can be continued any number of times, also by other engines.
type Batch struct {
	at    int // moments of the trace that have been run
	nodes []pending
	nets  []netValue
	pend  []pending
	mem   []*words
}

type netValue struct {
	net int32
	v   NetLevel
}

// Run follows the trace with the overlay's faults, from the state `from` (nil: from the beginning), and calls
// each with the number of every moment of the trace once it is settled; the engine's NetLevel, PinLevel and Lit then tell
// what that moment shows. It returns the state at the end.
func (e *Engine) Run(t *Trace, ov *Overlay, from *Batch, each func(moment int)) *Batch {
	return e.snapshot(t, e.Follow(t, ov, from, each))
}

// Follow is Run for those who do not go on from the end; what it returns is for Run.
func (e *Engine) Follow(t *Trace, ov *Overlay, from *Batch, each func(moment int)) []pending {
	e.begin(t, ov)
	var pend []pending
	start := 0
	if from != nil {
		start = from.at
		e.restore(t, from)
		pend = append(pend, from.pend...)
	} else {
		e.row, e.netRow = e.p.blank()
		e.stamp++
		e.cur.begin(e.stamp)
		e.in = t.ins[0]
		clear(e.memOwn)
		for _, pos := range ov.seeds {
			e.wake(pos)
		}
	}
	for m := start; m < len(t.moments); m++ {
		pend = e.runMoment(t, m, pend)
		if each != nil {
			each(m)
		}
	}
	return pend
}

// Stand puts the engine at the end of a trace as the good board.
func (e *Engine) Stand(t *Trace) {
	e.Resume(t, &Overlay{}, &Batch{at: len(t.moments)})
}

// Resume puts the engine where a batch stands, without running anything: what it shows then is the settled moment at
// which the batch was taken.
func (e *Engine) Resume(t *Trace, ov *Overlay, from *Batch) {
	e.begin(t, ov)
	e.restore(t, from)
}

func (e *Engine) begin(t *Trace, ov *Overlay) {
	e.mount(ov)
	e.log = t.log
	clear(e.queue)
	clear(e.touch)
	clear(e.stores)
	e.changed, e.changedBefore = e.changed[:0], e.changedBefore[:0]
	e.active = nil
}

func (e *Engine) restore(t *Trace, b *Batch) {
	last := t.moments[b.at-1]
	e.row, e.netRow = t.rows[last.first+last.n-1], t.netRows[last.first+last.n-1]
	e.in = t.ins[b.at-1]
	e.stamp++
	e.cur.begin(e.stamp)
	for _, pos := range e.ov.seeds {
		e.wake(pos)
	}
	for _, n := range b.nodes {
		e.putNode(n.node, n.h)
		e.wakeNode(n.node)
		if l := e.p.nodeLoop[n.node]; l >= 0 {
			e.wake(e.p.loopPos[l])
		}
	}
	for _, n := range b.nets {
		e.putNet(n.net, n.v)
		e.wakeNet(n.net)
		if l := e.p.netLoop[n.net]; l >= 0 {
			e.wake(e.p.loopPos[l])
		}
	}
	clear(e.queue) // all of it is settled: it is only touched
	for i := range e.memOwn {
		e.memOwn[i] = nil
		if b.mem != nil && b.mem[i] != nil {
			e.memOwn[i] = b.mem[i].clone()
		}
	}
}

func (e *Engine) snapshot(t *Trace, pend []pending) *Batch {
	b := &Batch{at: len(t.moments), pend: slices.Clone(pend)}
	for _, n := range e.cur.nodes {
		b.nodes = append(b.nodes, pending{n, e.cur.v[n]})
	}
	for _, n := range e.cur.nets {
		b.nets = append(b.nets, netValue{n, e.cur.nv[n]})
	}
	for i, w := range e.memOwn {
		if w != nil {
			if b.mem == nil {
				b.mem = make([]*words, len(e.memOwn))
			}
			b.mem[i] = w.clone()
		}
	}
	return b
}

// runMoment settles one moment of the batch over the rounds of the good board, and as many more as the batch needs.
func (e *Engine) runMoment(t *Trace, m int, pend []pending) []pending {
	p := e.p
	sp := t.moments[m]
	e.was, e.in = e.in, t.ins[m]
	if m > 0 {
		for _, s := range p.pulseBits {
			pend = slices.DeleteFunc(pend, func(b pending) bool { return b.node == p.stores[s].node })
		}
	}
	live, afresh := all, true
	for r := 0; ; r++ {
		k := sp.first + min(r, sp.n-1)
		e.advance(t.rows[k], t.netRows[k])
		e.logTo = t.logLen[k]
		e.seed(t.active[k], r < sp.n, pend)
		if m > 0 && r == 0 {
			e.fallBack()
		}
		e.settle()
		e.was = e.in
		if m == 0 && r == 0 {
			e.looked.set(len(p.stores), true)
		} else {
			e.lookBatch(t.looked[k], r <= sp.n, afresh)
		}
		if live != all && r < sp.n {
			for _, s := range t.moved[k] { // they move on the good board: lanes at rest must not follow
				e.looked.add(s)
			}
		}
		rest := live
		pend, live = e.nextBits(pend[:0], r >= maxRounds, live)
		goodWrites := r < sp.n && k+1 < len(t.logLen) && t.logLen[k+1] > t.logLen[k] || r < sp.n && k+1 == len(t.logLen) && len(t.log) > t.logLen[k]
		for mi := range p.mems {
			if p.mems[mi].rom || e.memOwn[mi] == nil && !e.touched(mi) {
				continue
			}
			if goodWrites || e.get(p.mems[mi].write).P1 != 0 {
				if e.writeMemory(mi, nil) {
					live = all
				}
			}
		}
		if r < sp.n && (goodWrites || slices.ContainsFunc(t.moved[k], func(s int32) bool { return !e.looked.has(s) })) {
			live = all // a bit that this batch does not touch moves as on the good board
		}
		afresh = live&^rest != 0
		if r+1 >= sp.n && (live == 0 || r > maxRounds) {
			return pend
		}
	}
}

// seed wakes what must be computed in a round: of what the faults touch, that which changes on the good board (active, in its own rounds);
// stored bits and memories that have changed on their own; who listens across an open joint only.
func (e *Engine) seed(active []uint64, own bool, pend []pending) {
	if own {
		for w, a := range active {
			e.queue[w] |= a & e.touch[w]
		}
	}
	for _, b := range pend {
		e.setNode(b.node, b.h)
	}
	for mi, w := range e.memOwn {
		if w != nil {
			e.wake(e.p.memPos[mi])
		}
	}
	for n, list := range e.ov.extra { // these listeners are none of the good board's, which has moved the node
		if e.nodeNow(n) != e.nodeBefore(n) {
			for _, pos := range list {
				e.wake(pos)
			}
		}
	}
}

// fallBack ends the pulses of the last moment.
func (e *Engine) fallBack() {
	for _, s := range e.p.pulseBits {
		e.setNode(e.p.stores[s].node, Heard{all, 0})
	}
}
