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
	if n := len(lp.members); len(e.todo) < n {
		e.todo, e.later = make([]bool, n), make([]bool, n)
	}
	for k := range lp.members {
		e.todo[k], e.later[k] = true, false
	}
	e.loop = l
	e.union = !e.widen
	e.sweepLoop(lp, true)
	e.union = false
	if !e.widen {
		copy(e.todo, e.later[:len(lp.members)])
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

// sweepLoop computes the members that are to be computed, and those that read what changes, until nothing does. Rising: levels may only become
// less certain, and the members that then are not what they would be if nothing was in doubt are noted for later. Falling: they become more
// certain; a count beyond any chain of that kind switches back to rising, so that it always ends.
func (e *Engine) sweepLoop(lp *loop, rising bool) {
	limit := len(lp.members) * (4*(len(lp.nodes)+4*len(lp.nets)) + 16)
	swept := e.on.swept[e.loop]
	at := 0
	wake := func(members []int32) {
		for _, m := range members {
			e.todo[m] = true
		}
		if swept {
			for m := range lp.members {
				e.todo[m] = true
			}
		}
	}
	node := func(n int32, h Heard) {
		now := e.nodeNow(n)
		if h == now {
			return
		}
		e.later[at] = true
		if rising {
			if h = h.or(now); h == now {
				return
			}
		}
		e.putNode(n, h)
		wake(e.p.inner.ofNode[n])
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
		now := e.netNow(n)
		if m != all {
			v = v.pick(m, now)
		}
		if v == now {
			return
		}
		e.later[at] = true
		if rising {
			if v = v.or(now); v == now {
				return
			}
		}
		e.putNet(n, v)
		wake(e.p.inner.ofNet[n])
	}
	for done, again := 0, true; again; {
		again = false
		for k, u := range lp.members {
			if !e.todo[k] {
				continue
			}
			e.todo[k], again, at, e.doubt = false, true, k, false
			done++
			rising = rising || done > limit
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
			e.later[k] = e.later[k] || e.doubt
		}
	}
}
