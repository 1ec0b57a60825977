package weak

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// How the board is wired with some pins lifted, and in which order its nodes can be worked out.

// wire is a link with the nodes that it joins.
type wire struct {
	*circuit.Link
	a, b, ctl, ctl2 int // nodes; ctl and ctl2 may be None
}

// layout is the wiring: a node is a net, joined with the inside ends of its pins, or the part's side of a lifted pin.
type layout struct {
	c       *circuit.Circuit
	netNode []int
	pinNode []int // the part's side of a pin
	rail    []lit // per node: its level, or none
	drivers [][]int
	inputs  [][]int
	floatUp []bool // nothing but bipolar inputs hear it
	wires   []wire
	unit    []int   // per node; nodes that links join are one unit
	units   [][]int // nodes, rails left out
	wiresOf [][]int // per unit
	bipolar []bool  // per unit: every output that may fight in it is bipolar
	order   []stage
}

// stage is units that are worked out together; in a loop they wait for each other.
type stage struct {
	units []int
	loop  bool
}

func newLayout(c *circuit.Circuit, lifted []int) *layout {
	y := &layout{c: c, pinNode: make([]int, len(c.Pins)), netNode: make([]int, len(c.Nets))}
	for i := range y.netNode {
		y.netNode[i] = i
	}
	n := len(c.Nets)
	for i, p := range c.Pins {
		up := slices.Contains(lifted, i)
		switch {
		case p.Inside != circuit.None && up:
			y.pinNode[i] = p.Inside
		case p.Inside != circuit.None:
			y.netNode[p.Inside] = p.Net
			y.pinNode[i] = p.Net
		case up:
			y.pinNode[i] = n
			n++
		default:
			y.pinNode[i] = p.Net
		}
	}
	y.rail, y.floatUp = make([]lit, n), make([]bool, n)
	y.drivers, y.inputs, y.unit = make([][]int, n), make([][]int, n), make([]int, n)
	y.nodes(n)
	y.links()
	y.group(n)
	y.sort()
	return y
}

func (y *layout) nodes(n int) {
	c := y.c
	for i, net := range c.Nets {
		if net.Rail {
			y.rail[i] = no
			if net.High {
				y.rail[i] = yes
			}
		}
	}
	for i, d := range c.Drivers {
		y.drivers[y.pinNode[d.Pin]] = append(y.drivers[y.pinNode[d.Pin]], i)
	}
	for i, in := range c.Inputs {
		if in.Pin == circuit.None {
			node := y.netNode[in.Net]
			y.inputs[node] = append(y.inputs[node], i)
		}
	}
	heard, cmos := make([]bool, n), make([]bool, n)
	for i, p := range c.Pins {
		if p.Use&part.Heard != 0 {
			heard[y.pinNode[i]] = true
			if !c.Parts[p.Part].Family.Bipolar() {
				cmos[y.pinNode[i]] = true
			}
		}
	}
	for i := range y.floatUp {
		y.floatUp[i] = !cmos[i]
	}
}

func (y *layout) links() {
	end := func(net, pin int) int {
		switch {
		case pin != circuit.None:
			return y.pinNode[pin]
		case net == circuit.None:
			return circuit.None
		}
		return y.netNode[net]
	}
	for i := range y.c.Links {
		l := &y.c.Links[i]
		if l.Kind == circuit.Joint {
			continue
		}
		w := wire{l, end(l.A, l.PinA), end(l.B, l.PinB), end(l.Ctl, l.CtlPin), end(l.Ctl2, l.Ctl2Pin)}
		if w.a != w.b {
			y.wires = append(y.wires, w)
		}
	}
}

// group makes units of nodes that links join. A rail joins nothing: it holds its level whatever is on it.
func (y *layout) group(n int) {
	at := make([]int, n)
	for i := range at {
		at[i] = i
	}
	root := func(i int) int {
		for at[i] != i {
			at[i] = at[at[i]]
			i = at[i]
		}
		return i
	}
	for _, w := range y.wires {
		if y.rail[w.a] == none && y.rail[w.b] == none {
			at[root(w.b)] = root(w.a)
		}
	}
	number := map[int]int{}
	for i := range n {
		y.unit[i] = circuit.None
		if y.rail[i] != none {
			continue
		}
		u, ok := number[root(i)]
		if !ok {
			u = len(y.units)
			number[root(i)] = u
			y.units = append(y.units, nil)
		}
		y.unit[i] = u
		y.units[u] = append(y.units[u], i)
	}
	y.wiresOf = make([][]int, len(y.units))
	for i, w := range y.wires {
		if u := y.unitOf(w); u != circuit.None {
			y.wiresOf[u] = append(y.wiresOf[u], i)
		}
	}
	y.bipolar = make([]bool, len(y.units))
	for u, nodes := range y.units {
		y.bipolar[u] = true
		for _, k := range nodes {
			for _, d := range y.drivers[k] {
				y.bipolar[u] = y.bipolar[u] && y.c.Parts[y.c.Drivers[d].Part].Family.Bipolar()
			}
		}
	}
}

// unitOf is the unit in which a link lies, or None when both ends are rails.
func (y *layout) unitOf(w wire) int {
	if u := y.unit[w.a]; u != circuit.None {
		return u
	}
	return y.unit[w.b]
}

// pins calls f for the nodes that an expression of a part hears.
func (y *layout) pins(pt int, e part.Expr, f func(node int)) {
	e.Leaves(func(l part.Expr) {
		if l.Op == part.OpPin {
			if pin := y.c.Parts[pt].NodePin[l.Index]; pin != circuit.None {
				f(y.pinNode[pin])
			}
		}
	})
}

// sort puts the units in the order in which each is known when it is needed (strongly connected components, deepest first).
func (y *layout) sort() {
	n := len(y.units)
	needs := make([][]int, n)
	for u, nodes := range y.units {
		add := func(node int) {
			if v := y.unit[node]; v != circuit.None {
				needs[u] = append(needs[u], v)
			}
		}
		for _, k := range nodes {
			for _, d := range y.drivers[k] {
				y.pins(y.c.Drivers[d].Part, y.c.Drivers[d].Stmt.Expr, add)
				y.pins(y.c.Drivers[d].Part, y.c.Drivers[d].Stmt.Cond, add)
			}
		}
		for _, i := range y.wiresOf[u] {
			w := y.wires[i]
			if w.ctl != circuit.None {
				add(w.ctl)
			}
			if w.ctl2 != circuit.None {
				add(w.ctl2)
			}
			y.pins(w.Part, w.Cond, add)
		}
		slices.Sort(needs[u])
		needs[u] = slices.Compact(needs[u])
	}
	y.order = components(needs)
	for i := range y.order {
		s := &y.order[i]
		s.loop = len(s.units) > 1 || slices.Contains(needs[s.units[0]], s.units[0])
	}
}

// components is Tarjan's algorithm without recursion; what is needed comes first.
func components(needs [][]int) []stage {
	n := len(needs)
	index, low := slices.Repeat([]int{circuit.None}, n), make([]int, n)
	on := make([]bool, n)
	var out []stage
	var open []int
	type step struct{ at, k int }
	next := 0
	for start := range n {
		if index[start] != circuit.None {
			continue
		}
		stack := []step{{start, 0}}
		for len(stack) > 0 {
			s := &stack[len(stack)-1]
			v := s.at
			if s.k == 0 {
				index[v], low[v] = next, next
				next++
				open, on[v] = append(open, v), true
			}
			if s.k < len(needs[v]) {
				w := needs[v][s.k]
				s.k++
				if index[w] == circuit.None {
					stack = append(stack, step{w, 0})
				} else if on[w] {
					low[v] = min(low[v], index[w])
				}
				continue
			}
			stack = stack[:len(stack)-1]
			if len(stack) > 0 {
				low[stack[len(stack)-1].at] = min(low[stack[len(stack)-1].at], low[v])
			}
			if low[v] != index[v] {
				continue
			}
			var st stage
			for {
				w := open[len(open)-1]
				open, on[w] = open[:len(open)-1], false
				st.units = append(st.units, w)
				if w == v {
					break
				}
			}
			slices.Sort(st.units)
			out = append(out, st)
		}
	}
	return out
}
