package circuit

import (
	"slices"
	"strconv"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/part"
)

// A board with an analogue half: what that half does to the logic, in terms of the logic. The nets that it decides are inputs from outside
// (Input.Imposed); Rest says how they stand on a sound board, an Other what is different when something of the analogue half is broken.

// ForceKind is what the other half does to one place.
type ForceKind uint8

// Kinds of force; Index counts what the comment names.
const (
	Drives0      ForceKind = iota // input: comes in low
	Drives1                       // input: comes in high
	DrivesX                       // input: cannot be told
	Unpowered                     // part: its outputs drive nothing
	Ailing                        // part: its supply is neither there nor gone
	Holds0                        // net: held low
	Holds1                        // net: held high
	Cuts                          // link: never conducts
	Closes                        // link: always conducts
	Doubts                        // link: may or may not conduct
	Darkens                       // lamp: never lit
	Detaches                      // pin: off its net
	Joins                         // net: bridged with the net With
	Silences                      // pin: its driver drives nothing
	Drives0There                  // pin: its driver drives 0, as Drives0 does at an input
	Drives1There                  // pin
	DrivesXThere                  // pin
)

// Force is one thing that the other half does.
type Force struct {
	Do    ForceKind
	Index int
	With  int
}

// Other is a fault of the other half: what it is called and where it sits, as its own half says it, and what the logic notices. Part, Net and
// Pin are None where they do not apply; Pin is that of an open joint. Rate is in the unit of the weights of package fault.
type Other struct {
	Kind, At, Text string
	Part, Net      int
	Net2           int // the second net of a bridge
	Pin            int
	Copper         bool // outside the parts: a short or a bridge
	Before         bool // before the model: a source
	Rate           float64
	Ways           []OtherWay
}

// OtherWay is one severity, as likely as the others of its fault.
type OtherWay struct {
	Detail string // for people: "leaks as if 8 Ω lay across it"
	Forces []Force
}

// Told is a net or lamp whose level the other half decides. Net is None for a lamp, Lamp for a net. Without From it is an input, which stands
// still. With From it follows these nets: Table holds its level, 0, 1 or x, for every setting of them, the first of them counting least.
type Told struct {
	Net, Lamp int
	From      []int
	Table     []byte
}

// WithHalf is the circuit as the logic sees it when another half decides nets and lamps: they become inputs, or outputs of a table that stands for
// that half. Links that are quiet no longer pass more than a trickle. The numbers returned are, for each of told, the input, or the output pin where
// it follows something. ground is a rail at 0 V. The circuit itself is not changed.
func (c *Circuit) WithHalf(told []Told, quiet []int, ground int) (*Circuit, []int) {
	x := *c
	x.Nets = slices.Clone(c.Nets)
	x.Inputs = slices.Clone(c.Inputs)
	x.Links = slices.Clone(c.Links)
	x.Lamps = slices.Clone(c.Lamps)
	x.Parts = slices.Clone(c.Parts)
	x.Pins = slices.Clone(c.Pins)
	x.Drivers = slices.Clone(c.Drivers)
	for _, l := range quiet {
		x.Links[l].Kind, x.Links[l].Ohms = Resistor, trickleOhms
	}
	var out []int
	for _, t := range told {
		n := t.Net
		if n == None {
			n = len(x.Nets)
			x.Nets = append(x.Nets, Net{Hidden: true, Input: None})
			x.Lamps[t.Lamp].A, x.Lamps[t.Lamp].K, x.Lamps[t.Lamp].Both = n, ground, false
		}
		if t.From != nil {
			out = append(out, x.table(n, t))
			continue
		}
		x.Nets[n].Input = len(x.Inputs)
		out = append(out, len(x.Inputs))
		x.Inputs = append(x.Inputs, Input{Net: n, Pin: None, Imposed: true})
	}
	return &x, out
}

// table adds a part of one output that follows other nets; its pins are on the nets, but the nets do not know of them: no probe gets there.
func (c *Circuit) table(net int, t Told) int {
	typ := &part.Type{Name: "analogue half", Package: "gate"}
	p := Part{Ref: "analogue half", Src: &board.Part{Ref: "analogue half", Type: typ.Name}, Type: typ}
	pi := len(c.Parts)
	e := part.Expr{Op: part.OpTable}
	pin := func(n, k int, use part.Use) {
		p.NodePin = append(p.NodePin, len(c.Pins))
		p.Pins = append(p.Pins, len(c.Pins))
		typ.Nodes = append(typ.Nodes, part.Node{Name: strconv.Itoa(k + 1), Pins: []int{k + 1}, Use: use})
		typ.Pins = append(typ.Pins, part.Pin{Node: k})
		c.Pins = append(c.Pins, Pin{Part: pi, Number: k + 1, Node: k, Net: n, Inside: None, Driver: None, Use: use, Wired: true})
	}
	for k, n := range t.From {
		pin(n, k, part.Heard)
		e.Args = append(e.Args, part.Expr{Op: part.OpPin, Index: k})
	}
	pin(net, len(t.From), part.Driven)
	for row, level := range t.Table {
		r := part.Row{Out: 2}
		if level != 'x' {
			r.Out = level - '0'
		}
		for k := range t.From {
			r.In = append(r.In, uint8(row>>k&1))
		}
		e.Rows = append(e.Rows, r)
	}
	out := p.NodePin[len(t.From)]
	typ.Stmts = []part.Stmt{{Kind: part.Drive, Node: len(t.From), Expr: e, A: None, B: None, Ctl: None, Ctl2: None}}
	p.Drivers = []int{len(c.Drivers)}
	c.Pins[out].Driver = len(c.Drivers)
	c.Nets[net].Drivers = append(slices.Clone(c.Nets[net].Drivers), len(c.Drivers))
	c.Drivers = append(c.Drivers, Driver{Part: pi, Pin: out, Stmt: &typ.Stmts[0], Input: None})
	c.Parts = append(c.Parts, p)
	return out
}

// trickleOhms is a resistance that passes a level only where nothing else is.
const trickleOhms = 1e6
