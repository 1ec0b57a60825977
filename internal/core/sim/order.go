package sim

import (
	"cmp"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// The order of work: units sorted so that each comes after what it reads; units that read each other become a
// loop (strongly connected components, Tarjan 1972, without recursion because circuits can be deep).

// reads calls f with every unit that u reads.
type wiring struct {
	p        *Program
	units    []unit
	ofNode   []int32 // node → primitive unit that computes it, -1 for constants and stored bits
	ofGroup  []int32
	nodeRead [][]int32 // primitive unit → nodes it reads
	netRead  [][]int32
	tied     []int32 // gate → a member of the loop that it is settled with, -1
}

func (p *Program) order() {
	w := p.wire()
	w.wholeExpressions(w.components())
	comp := w.components()
	p.nodeFan = make([][]int32, p.nodes)
	p.netFan = make([][]int32, len(p.C.Nets))
	p.nodeStore = make([][]int32, p.nodes)
	p.groupPos = make([]int32, len(p.groups))
	p.hearPos = slices.Repeat([]int32{-1}, len(p.C.Pins))
	p.memPos = make([]int32, len(p.mems))
	p.nodeLoop = slices.Repeat([]int32{-1}, p.nodes)
	p.netLoop = slices.Repeat([]int32{-1}, len(p.C.Nets))
	p.inner = inner{make([][]int32, p.nodes), make([][]int32, len(p.C.Nets))}
	for _, members := range comp {
		pos := int32(len(p.units))
		if len(members) == 1 && !w.reads(members[0], members[0]) {
			p.units = append(p.units, w.units[members[0]])
		} else {
			p.units = append(p.units, unit{uLoop, int32(len(p.loops))})
			lp := loop{}
			p.loopPos = append(p.loopPos, pos)
			slices.SortStableFunc(members, func(a, b int32) int { return cmp.Compare(turn(w.units[a].kind), turn(w.units[b].kind)) })
			for _, m := range members {
				lp.members = append(lp.members, w.units[m])
				p.produced(w.units[m], func(n int32) { p.nodeLoop[n] = int32(len(p.loops)); lp.nodes = append(lp.nodes, n) },
					func(n int32) { p.netLoop[n] = int32(len(p.loops)); lp.nets = append(lp.nets, n) })
			}
			p.loops = append(p.loops, lp)
			p.readInside(w, members)
		}
		for _, m := range members {
			p.place(w, m, pos)
		}
	}
	p.dropInner()
	for i, s := range p.stores {
		for _, c := range s.clauses {
			for _, r := range []ref{c.cond, c.val} {
				if n := r.node(); n >= nodes0 && !slices.Contains(p.nodeStore[n], int32(i)) {
					p.nodeStore[n] = append(p.nodeStore[n], int32(i))
				}
			}
		}
		if !slices.Contains(p.nodeStore[s.node], int32(i)) {
			p.nodeStore[s.node] = append(p.nodeStore[s.node], int32(i))
		}
	}
}

// turn is the place of a kind of unit in a pass over a loop: levels are heard, computed, and driven.
func turn(k unitKind) int {
	return map[unitKind]int{uHear: 0, uGate: 1, uMem: 2, uGroup: 3}[k]
}

// readInside records which members of the last loop read what others of it compute.
func (p *Program) readInside(w *wiring, members []int32) {
	l := int32(len(p.loops) - 1)
	for k, m := range members {
		for _, n := range w.nodeRead[m] {
			if p.nodeLoop[n] == l {
				p.inner.ofNode[n] = append(p.inner.ofNode[n], int32(k))
			}
		}
		for _, n := range w.netRead[m] {
			if p.netLoop[n] == l {
				p.inner.ofNet[n] = append(p.inner.ofNet[n], int32(k))
			}
		}
	}
}

// place records at which position a primitive unit is computed and who wakes it.
func (p *Program) place(w *wiring, m, pos int32) {
	u := w.units[m]
	switch u.kind {
	case uHear:
		p.hearPos[u.index] = pos
	case uMem:
		p.memPos[u.index] = pos
	case uGroup:
		p.groupPos[u.index] = pos
	}
	for _, n := range w.nodeRead[m] {
		if f := p.nodeFan[n]; len(f) == 0 || f[len(f)-1] != pos {
			p.nodeFan[n] = append(f, pos)
		}
	}
	for _, n := range w.netRead[m] {
		if f := p.netFan[n]; len(f) == 0 || f[len(f)-1] != pos {
			p.netFan[n] = append(f, pos)
		}
	}
}

// dropInner takes out of the fan-outs what stays inside a loop: the loop settles itself.
func (p *Program) dropInner() {
	inner := func(l int32) func(int32) bool {
		return func(pos int32) bool { return p.units[pos].kind == uLoop && p.units[pos].index == l }
	}
	for n, l := range p.nodeLoop {
		if l >= 0 {
			p.nodeFan[n] = slices.DeleteFunc(p.nodeFan[n], inner(l))
		}
	}
	for n, l := range p.netLoop {
		if l >= 0 {
			p.netFan[n] = slices.DeleteFunc(p.netFan[n], inner(l))
		}
	}
}

// produced calls back for every node and net a primitive unit computes.
func (p *Program) produced(u unit, node, net func(int32)) {
	switch u.kind {
	case uHear:
		node(p.hearNode[u.index])
	case uGate:
		node(p.gates[u.index].out)
	case uMem:
		for _, n := range p.mems[u.index].nodes {
			node(n)
		}
	case uGroup:
		for _, n := range p.groups[u.index].nets {
			net(n)
		}
	}
}

func (p *Program) wire() *wiring {
	w := &wiring{p: p, ofNode: slices.Repeat([]int32{-1}, p.nodes), ofGroup: make([]int32, len(p.groups))}
	add := func(u unit, nodes []int32, nets []int32) {
		id := int32(len(w.units))
		w.units = append(w.units, u)
		w.nodeRead = append(w.nodeRead, nodes)
		w.netRead = append(w.netRead, nets)
		p.produced(u, func(n int32) { w.ofNode[n] = id }, func(n int32) { w.ofGroup[p.groupOf[n]] = id })
	}
	for g := range p.groups {
		nodes, nets := p.groupReads(g)
		add(unit{uGroup, int32(g)}, nodes, nets)
	}
	for i, n := range p.hearNode {
		if n >= 0 {
			add(unit{uHear, int32(i)}, nil, p.hears(i))
		}
	}
	for i, g := range p.gates {
		add(unit{uGate, int32(i)}, refNodes(g.ins), nil)
	}
	for i, m := range p.mems {
		add(unit{uMem, int32(i)}, refNodes(m.address), nil)
	}
	return w
}

func (p *Program) hears(pin int) []int32 {
	n := p.C.Pins[pin].Net
	if in := p.C.Pins[pin].Inside; in != circuit.None {
		n = in
	}
	return []int32{int32(n)}
}

func (p *Program) groupReads(g int) (nodes, nets []int32) {
	for _, n := range p.groups[g].nets {
		for _, d := range p.C.Nets[n].Drivers {
			if p.drivers[d].kind != part.ClockOut {
				nodes = append(nodes, refNodes([]ref{p.drivers[d].val, p.drivers[d].cond, p.drivers[d].gate})...)
			}
		}
	}
	for _, l := range p.groups[g].links {
		nodes = append(nodes, refNodes([]ref{p.cond[l]})...)
		for _, c := range []int{p.C.Links[l].Ctl, p.C.Links[l].Ctl2} {
			if c != circuit.None && !p.C.Nets[c].Rail {
				nets = append(nets, int32(c))
			}
		}
	}
	return nodes, nets
}

func refNodes(rs []ref) []int32 {
	var out []int32
	for _, r := range rs {
		if r.node() >= nodes0 {
			out = append(out, r.node())
		}
	}
	return out
}

// wholeExpressions ties to a loop the gates that lead into it straight from pins and stored bits: an expression is settled as one
// thing, so what is taken as unknown when it changes are the pins it hears, not the gates that we happened to make of it.
func (w *wiring) wholeExpressions(comp [][]int32) {
	w.tied = make([]int32, len(w.units))
	for i := range w.tied {
		w.tied[i] = -1
	}
	for _, members := range comp {
		if len(members) == 1 && !w.reads(members[0], members[0]) {
			continue
		}
		var todo []int32
		in := map[int32]bool{}
		for _, m := range members {
			in[m] = true
			if w.units[m].kind == uGate {
				todo = append(todo, m)
			}
		}
		for len(todo) > 0 {
			m := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			w.sources(m, func(s int32) {
				if w.units[s].kind == uGate && !in[s] && w.tied[s] < 0 {
					in[s] = true
					w.tied[s] = members[0]
					todo = append(todo, s)
				}
			})
		}
	}
}

// sources calls f with each primitive unit that unit m reads.
func (w *wiring) sources(m int32, f func(int32)) {
	if w.tied != nil && w.tied[m] >= 0 {
		f(w.tied[m])
	}
	for _, n := range w.nodeRead[m] {
		if s := w.ofNode[n]; s >= 0 {
			f(s)
		}
	}
	for _, n := range w.netRead[m] {
		if g := w.p.groupOf[n]; g >= 0 {
			f(w.ofGroup[g])
		}
	}
}

func (w *wiring) reads(a, b int32) bool {
	hit := false
	w.sources(a, func(s int32) { hit = hit || s == b })
	return hit
}

// components returns the strongly connected components, each after those it reads.
func (w *wiring) components() [][]int32 {
	n := len(w.units)
	src := make([][]int32, n)
	for i := range src {
		w.sources(int32(i), func(s int32) { src[i] = append(src[i], s) })
	}
	index, low, onStack := make([]int32, n), make([]int32, n), make([]bool, n)
	var stack []int32
	var out [][]int32
	type frame struct{ v, k int32 }
	next := int32(1)
	for root := range n {
		if index[root] != 0 {
			continue
		}
		frames := []frame{{int32(root), 0}}
		index[root], low[root] = next, next
		next++
		stack, onStack[root] = append(stack, int32(root)), true
		for len(frames) > 0 {
			f := &frames[len(frames)-1]
			if int(f.k) < len(src[f.v]) {
				u := src[f.v][f.k]
				f.k++
				if index[u] == 0 {
					index[u], low[u] = next, next
					next++
					stack, onStack[u] = append(stack, u), true
					frames = append(frames, frame{u, 0})
				} else if onStack[u] {
					low[f.v] = min(low[f.v], index[u])
				}
				continue
			}
			v := f.v
			frames = frames[:len(frames)-1]
			if len(frames) > 0 {
				pv := frames[len(frames)-1].v
				low[pv] = min(low[pv], low[v])
			}
			if low[v] == index[v] {
				var c []int32
				for {
					u := stack[len(stack)-1]
					stack, onStack[u] = stack[:len(stack)-1], false
					c = append(c, u)
					if u == v {
						break
					}
				}
				slices.Sort(c)
				out = append(out, c)
			}
		}
	}
	return out
}
