package ref

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// The board with the faults built in: a node for each net, one more for each pin whose joint is open.

// wiring is the patched board.
type wiring struct {
	c           *circuit.Circuit
	nodes       int
	nodeOf      []int // pin → node
	netOf       []int // node → net
	outputs     []output
	expressions []expression
	addresses   [][]int  // memory → its address lines as expressions, most significant first
	wires       []wire   // the circuit's links by index, then the bridges
	shorts      []set    // node → levels it is shorted to, the rail's own level included
	forced      []set    // pin → what the part hears there whatever the node does; 0: it listens
	open        []bool   // pin → the part hears an open input
	dark        []bool   // lamp
	source      []stuck  // input
	bipolar     []bool   // node → every output that can fight there is bipolar
	plain       []bool   // node → every output that can fight there is of the plain 74 family
	atNode      [][]int  // node → outputs on it
	inputsAt    [][]int  // node → inputs from outside on it (clock sources are outputs of parts)
	wiresAt     [][]int  // node → wires with an end on it
	bridges     [][2]int // nets
}

// stuck is what a faulty output or source does instead of its work.
type stuck uint8

const (
	works stuck = iota
	stuckLow
	stuckHigh
	stuckOpen
	stuckUnknown
)

// output is a driver of a part, where it now is.
type output struct {
	node  int
	part  int
	stmt  *part.Stmt
	value int // index into expressions
	cond  int // of a three-state output, the same
	gate  int // of an output that a free run moves, the same
	input int // of a clock source or such an output, else circuit.None
	stuck stuck
}

// expression is one that something on the board hangs on: what an output drives, when it does, when a switch is on, an address line.
type expression struct {
	part int
	expr part.Expr
}

// wire is a link, where its ends now are.
type wire struct {
	link      *circuit.Link // nil for a bridge
	kind      circuit.LinkKind
	a, b      int
	ctl, ctl2 int // nodes or circuit.None
	cond      int // of an analogue switch: index into expressions
	fault     linkFault
}

type linkFault uint8

const (
	linkWorks linkFault = iota
	neverOn
	alwaysOn
	maybeOn
)

// unchanged tells whether a wire passes levels both ways at the strength they have.
func (w *wire) unchanged() bool {
	switch w.kind {
	case circuit.Joint, circuit.Closed, circuit.Contact1:
		return true
	}
	return false
}

func lay(c *circuit.Circuit, patches []Patch) *wiring {
	w := &wiring{c: c, nodes: len(c.Nets), forced: make([]set, len(c.Pins)), open: make([]bool, len(c.Pins)),
		dark: make([]bool, len(c.Lamps)), source: make([]stuck, len(c.Inputs))}
	w.joints(patches)
	w.shorts = make([]set, w.nodes)
	for i, n := range c.Nets {
		if n.Rail {
			w.shorts[i] = levelSet(n.High)
		}
	}
	for _, d := range c.Drivers {
		o := output{node: w.nodeOf[d.Pin], part: d.Part, stmt: d.Stmt, input: d.Input}
		o.value, o.cond, o.gate = w.expression(d.Part, d.Stmt.Expr), w.expression(d.Part, d.Stmt.Cond), w.expression(d.Part, d.Gate)
		w.outputs = append(w.outputs, o)
	}
	for i := range c.Links {
		w.wires = append(w.wires, w.wire(&c.Links[i]))
	}
	for _, m := range c.Memories {
		var lines []int
		for _, e := range m.Stmt.Address {
			lines = append(lines, w.expression(m.Part, e))
		}
		w.addresses = append(w.addresses, lines)
	}
	for _, p := range patches {
		w.patch(p)
	}
	w.index()
	w.fights()
	return w
}

func levelSet(high bool) set {
	if high {
		return can1
	}
	return can0
}

func (w *wiring) expression(partIndex int, e part.Expr) int {
	w.expressions = append(w.expressions, expression{partIndex, e})
	return len(w.expressions) - 1
}

// joints gives a node of its own to each pin whose joint is open.
func (w *wiring) joints(patches []Patch) {
	for i := range w.c.Nets {
		w.netOf = append(w.netOf, i)
	}
	for _, p := range w.c.Pins {
		w.nodeOf = append(w.nodeOf, p.Net)
	}
	for _, p := range patches {
		if p.Kind == JointOpen && w.nodeOf[p.At] == w.c.Pins[p.At].Net {
			w.nodeOf[p.At] = w.nodes
			w.netOf = append(w.netOf, w.c.Pins[p.At].Net)
			w.nodes++
		}
	}
}

// wire places a link: an end that reaches the board through a pin is where that pin is.
func (w *wiring) wire(l *circuit.Link) wire {
	at := func(net, pin int) int {
		if pin != circuit.None {
			return w.nodeOf[pin]
		}
		return net
	}
	return wire{link: l, kind: l.Kind, a: at(l.A, l.PinA), b: at(l.B, l.PinB), ctl: at(l.Ctl, l.CtlPin), ctl2: at(l.Ctl2, l.Ctl2Pin),
		cond: w.expression(l.Part, l.Cond)}
}

func (w *wiring) patch(p Patch) {
	switch p.Kind {
	case OutLow, OutHigh, OutOpen, OutUnknown:
		for i, d := range w.c.Drivers {
			if d.Pin == p.At {
				w.outputs[i].stuck = map[Kind]stuck{OutLow: stuckLow, OutHigh: stuckHigh, OutOpen: stuckOpen, OutUnknown: stuckUnknown}[p.Kind]
			}
		}
	case InLow, InHigh:
		level := levelSet(p.Kind == InHigh)
		w.short(w.nodeOf[p.At], level)
		w.forced[p.At] = level
	case InOpen:
		w.open[p.At] = true
	case NetLow, NetHigh:
		w.short(p.At, levelSet(p.Kind == NetHigh))
	case Bridge:
		w.bridges = append(w.bridges, [2]int{p.At, p.To})
		w.wires = append(w.wires, wire{kind: circuit.Closed, a: p.At, b: p.To, ctl: circuit.None, ctl2: circuit.None})
	case LinkOpen:
		w.wires[p.At].fault = neverOn
	case LinkShort:
		w.wires[p.At].fault = alwaysOn
		w.wires[p.At].kind = circuit.Closed
	case LinkMaybe:
		w.wires[p.At].fault = maybeOn
	case Dark:
		w.dark[p.At] = true
		w.wires[w.c.Lamps[p.At].Link].fault = neverOn
	case SrcLow, SrcHigh, SrcDead:
		w.source[p.At] = map[Kind]stuck{SrcLow: stuckLow, SrcHigh: stuckHigh, SrcDead: stuckOpen}[p.Kind]
	}
}

// short ties a node to a level. A rail keeps its own.
func (w *wiring) short(node int, level set) {
	if !w.rail(node) {
		w.shorts[node] |= level
	}
}

func (w *wiring) index() {
	w.atNode = make([][]int, w.nodes)
	w.inputsAt = make([][]int, w.nodes)
	w.wiresAt = make([][]int, w.nodes)
	for i, o := range w.outputs {
		w.atNode[o.node] = append(w.atNode[o.node], i)
	}
	for i, in := range w.c.Inputs {
		if in.Pin == circuit.None {
			w.inputsAt[in.Net] = append(w.inputsAt[in.Net], i)
		}
	}
	for i, x := range w.wires {
		w.wiresAt[x.a] = append(w.wiresAt[x.a], i)
		if x.b != x.a {
			w.wiresAt[x.b] = append(w.wiresAt[x.b], i)
		}
	}
}

func (w *wiring) rail(node int) bool { return node < len(w.c.Nets) && w.c.Nets[node].Rail }
