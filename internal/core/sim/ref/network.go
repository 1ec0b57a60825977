package ref

import "halfsplit/internal/core/circuit"

// What the nodes of a group are, once it is known what the parts drive and which links are on.

// surroundings say what a group of nodes cannot see itself.
type surroundings interface {
	drive(node int) layer   // what outputs and inputs from outside put on the node
	state(wire int) state   // whether a link is on
	supply(node int) *layer // the supply layer, which is worked out for the whole board
}

// supplies works out the supply layer of all nodes: shorts and rails, and what plain links carry on. A rail keeps its level whatever
// is shorted to it.
func (w *wiring) supplies(state func(wire int) state) []layer {
	out := make([]layer, w.nodes)
	for n := range out {
		out[n] = noLayer()
		out[n].may, out[n].must = w.shorts[n], w.shorts[n]
	}
	for changed := true; changed; {
		changed = false
		for i := range w.wires {
			x := &w.wires[i]
			if !x.unchanged() {
				continue
			}
			is := state(i)
			if is == off {
				continue
			}
			for _, way := range [][2]int{{x.a, x.b}, {x.b, x.a}} {
				if w.rail(way[1]) {
					continue
				}
				in := layer{may: out[way[0]].may, must: out[way[0]].must, best: noLayer().best, worst: noLayer().worst}
				if is == perhaps {
					in.must = 0
				}
				changed = out[way[1]].add(in) || changed
			}
		}
	}
	return out
}

// solve gives the levels of a group's nodes, in the order of nodes. Nodes that a plain link surely joins are one. Layer after
// layer, strongest first, contributions spread along the links until nothing is new.
func (w *wiring) solve(nodes []int, s surroundings) []set {
	one := newSets(w.nodes)
	wires := w.wiresOf(nodes)
	states := map[int]state{}
	for _, i := range wires {
		x := &w.wires[i]
		states[i] = s.state(i)
		if states[i] == on && x.unchanged() && !w.rail(x.a) && !w.rail(x.b) {
			one.join(x.a, x.b)
		}
	}
	sig := map[int]*signal{} // by the node that stands for the joined ones, and by rail
	at := func(node int) *signal {
		n := one.find(node)
		if sig[n] == nil {
			fresh := noSignal()
			sig[n] = &fresh
			sig[n][supply] = *s.supply(n)
		}
		return sig[n]
	}
	for _, n := range nodes {
		at(n)[strong].add(s.drive(n))
	}
	for strength := strong; strength <= faint; strength++ {
		for changed := true; changed; {
			changed = false
			for _, i := range wires {
				x := &w.wires[i]
				if one.find(x.a) == one.find(x.b) {
					continue
				}
				toB := x.arrives(at(x.a), true, states[i], strength)
				changed = at(x.b)[strength].add(toB) || changed
				toA := x.arrives(at(x.b), false, states[i], strength)
				changed = at(x.a)[strength].add(toA) || changed
			}
		}
	}
	var levels []set
	for _, n := range nodes {
		levels = append(levels, at(n).level())
	}
	return levels
}

// wiresOf lists the wires with an end in a group, each once.
func (w *wiring) wiresOf(nodes []int) []int {
	var out []int
	seen := map[int]bool{}
	for _, n := range nodes {
		for _, i := range w.wiresAt[n] {
			if !seen[i] {
				seen[i] = true
				out = append(out, i)
			}
		}
	}
	return out
}

// driven is what an output with a value puts on its node.
func driven(v set) layer {
	l := noLayer()
	l.may = v
	if v != unknown {
		l.must = v
	}
	return l
}

// fromInput is what an input from outside puts on its net.
func fromInput(to circuit.Level, fault stuck) layer {
	switch {
	case fault == stuckLow, fault == works && to == circuit.Low:
		return driven(can0)
	case fault == stuckHigh, fault == works && to == circuit.High:
		return driven(can1)
	case fault == works && to == circuit.Unknown:
		return driven(unknown)
	}
	return noLayer()
}
