package weak

import "halfsplit/internal/core/circuit"

// Levels through contacts, transistors, diodes and resistors: each strength spreads from where it is driven, so that nothing holds itself.

// passes says when a link lets a level through from a to b, and from b to a: for certain and possibly.
type passes struct {
	must, may [2][2]lit // [from a to b, from b to a][level]
}

func (s *settler) passing(w wire) passes {
	f := s.f
	on, maybe := s.conducts(w)
	good := -s.bad[w.Part]
	on, maybe = f.and(on, good), f.or(maybe, -good)
	p := passes{[2][2]lit{{on, on}, {on, on}}, [2][2]lit{{maybe, maybe}, {maybe, maybe}}}
	if w.Kind == circuit.Diode || w.Kind == circuit.Faint { // a 1 from anode to cathode, a 0 back
		p.must = [2][2]lit{{no, on}, {on, no}}
		p.may = [2][2]lit{{-good, maybe}, {maybe, -good}}
	}
	return p
}

// conducts is when a link of a good part conducts.
func (s *settler) conducts(w wire) (on, maybe lit) {
	f := s.f
	switch w.Kind {
	case circuit.Contact1:
		l := no
		if s.closed[w.Contact] {
			l = yes
		}
		return l, l
	case circuit.Switch:
		l := s.eval(w.Part, w.Cond, s.now)
		return l, l
	case circuit.Transistor:
		if w.ctl == circuit.None {
			if w.Normally {
				return yes, yes
			}
			return no, no
		}
		n := s.now.nodes[w.ctl]
		l := n.v
		if !w.OnHigh {
			l = -l
		}
		if w.Normally {
			l = f.or(l, n.idle)
			return l, l
		}
		return f.and(l, -n.idle, -n.fight), f.or(f.and(l, -n.idle), n.fight)
	case circuit.RelayContact:
		on, maybe = no, no
		if w.ctl != circuit.None && w.ctl2 != circuit.None {
			a, b := s.now.nodes[w.ctl], s.now.nodes[w.ctl2]
			x := f.xor(a.v, b.v)
			on, maybe = f.and(x, -a.idle, -b.idle), x
		}
		if w.Normally {
			on, maybe = -maybe, -on
		}
		return on, maybe
	}
	return yes, yes
}

// strength of a link: which layers it carries.
func strength(k circuit.LinkKind) int {
	switch k {
	case circuit.Resistor:
		return 1
	case circuit.Faint, circuit.FaintBoth:
		return 2
	}
	return 0
}

// widest is the number of steps that a level is followed through links for certain; beyond it everything in the unit may be reached.
const widest = 10

func (s *settler) join(u int, at map[int]int, base []layer) {
	f, nodes := s.f, s.y.units[u]
	wires := s.y.wiresOf[u]
	pass := make([]passes, len(wires))
	for i, k := range wires {
		pass[i] = s.passing(s.y.wires[k])
	}
	layers := make([][]layer, len(nodes)) // per node, strongest first
	from := base
	for strong := range 3 {
		held := make([]lit, len(nodes)) // driven by something stronger: what is weaker does not matter there, nor goes on from there
		for i := range nodes {
			held[i] = no
			if strong > 0 {
				held[i] = f.or(from[i].s[:]...)
			}
		}
		cur := append([]layer(nil), from...)
		for step := 0; step < min(len(nodes), widest); step++ {
			next := append([]layer(nil), from...)
			for i, k := range wires {
				w := s.y.wires[k]
				// a resistor that is bad may be a short, so it may carry a strong level too
				kind, bad := strength(w.Kind), s.bad[w.Part]
				if kind > strong && bad == no {
					continue
				}
				s.pass(&pass[i], at, cur, next, held, w.a, w.b, 0, kind <= strong, bad)
				s.pass(&pass[i], at, cur, next, held, w.b, w.a, 1, kind <= strong, bad)
			}
			cur = next
		}
		if len(nodes) > widest {
			var any [2][]lit
			for v := range 2 {
				for _, l := range cur {
					any[v] = append(any[v], l.m[v])
				}
			}
			lo, hi := f.or(any[0]...), f.or(any[1]...)
			for i := range cur {
				cur[i].m = [2]lit{f.or(cur[i].m[0], lo), f.or(cur[i].m[1], hi)}
			}
		}
		for i := range nodes {
			layers[i] = append(layers[i], cur[i])
		}
		from = cur
	}
	for i, k := range nodes {
		s.now.nodes[k] = s.resolve(u, k, layers[i], s.cleared[k])
	}
}

// pass brings what stands at one end of a link to the other.
func (s *settler) pass(p *passes, at map[int]int, cur, next []layer, held []lit, a, b, dir int, whole bool, bad lit) {
	f := s.f
	to, ok := at[b]
	if !ok {
		return
	}
	var l layer
	if r := s.y.rail[a]; r != none {
		l = layer{[2]lit{-r, r}, [2]lit{-r, r}}
	} else {
		l = cur[at[a]]
	}
	for v := range 2 {
		may := bad
		if whole {
			may = p.may[dir][v]
			next[to].s[v] = f.or(next[to].s[v], f.and(p.must[dir][v], l.s[v], -held[to]))
		}
		next[to].m[v] = f.or(next[to].m[v], f.and(may, l.m[v], -held[to]))
	}
}
