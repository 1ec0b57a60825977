package sim

import "slices"

// A loop of gates without storage is settled in two phases (after Eichelberger 1965): first with what changed
// outside it taken as unknown, then with the new levels. Both only move one way, so the order within a sweep does not matter, and a
// race stays unknown. It always starts from the end of the last round, however often it is woken.

type savedValue struct {
	index int32
	h     Heard
	n     NetLevel
}

func (e *Engine) settleLoop(l int32) {
	lp := &e.p.loops[l]
	x := e.on.loopX[l] // lanes in which a bridge makes the loop part of a bigger one
	e.saved, e.beyond = e.saved[:0], e.beyond[:0]
	for _, n := range lp.nodes {
		e.saved = append(e.saved, savedValue{index: n, h: e.nodeNow(n)})
		if !e.widen {
			e.putNode(n, Heard{all, all}.pick(x, e.nodeBefore(n)))
		}
	}
	for _, n := range lp.nets {
		e.saved = append(e.saved, savedValue{index: n, n: e.netNow(n)})
		if !e.widen {
			e.putNet(n, NetLevel{all, all, all, all}.pick(x, e.netBefore(n)))
		}
	}
	e.loop = l
	e.union = !e.widen
	e.sweepLoop(lp, true)
	e.union = false
	if !e.widen {
		e.sweepLoop(lp, false)
	}
	for _, b := range e.beyond {
		e.setNet(b.net, b.v)
	}
	for k, s := range e.saved {
		switch {
		case k < len(lp.nodes):
			if e.nodeNow(s.index) != s.h {
				e.wakeNode(s.index)
			}
		case e.netNow(s.index) != s.n:
			e.wakeNet(s.index)
		}
	}
	e.loop = -1
}

// sweepLoop computes the members until nothing changes. Rising: levels may only become less certain. Falling: they become more
// certain; a sweep count beyond any chain of that kind switches back to rising, so that it always ends.
func (e *Engine) sweepLoop(lp *loop, rising bool) {
	limit := 4*(len(lp.nodes)+4*len(lp.nets)) + 16
	changed := true
	node := func(n int32, h Heard) {
		if rising {
			h = h.or(e.nodeNow(n))
		}
		if h != e.nodeNow(n) {
			e.putNode(n, h)
			changed = true
		}
	}
	net := func(n int32, v NetLevel, m uint64) {
		if e.p.netLoop[n] != e.loop { // a bridge leads out of the loop: there only what comes out in the end counts
			i := slices.IndexFunc(e.beyond, func(b netValue) bool { return b.net == n })
			if i < 0 {
				i = len(e.beyond)
				e.beyond = append(e.beyond, netValue{n, e.netNow(n)})
			}
			e.beyond[i].v = v.pick(m, e.beyond[i].v)
			return
		}
		if m != all {
			v = v.pick(m, e.netNow(n))
		}
		if rising {
			v = v.or(e.netNow(n))
		}
		if v != e.netNow(n) {
			e.putNet(n, v)
			changed = true
		}
	}
	for sweep := 0; changed; sweep++ {
		changed = false
		rising = rising || sweep > limit
		for _, u := range lp.members {
			switch u.kind {
			case uHear:
				node(e.p.hearNode[u.index], e.hear(int(u.index)))
			case uGate:
				g := &e.p.gates[u.index]
				node(g.out, e.gate(g))
			case uMem:
				e.readMemory(int(u.index), node)
			case uGroup:
				e.group(u.index, net)
			}
		}
	}
}
