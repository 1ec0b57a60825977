// Package part is the library of part types: pins, package, supply, behaviour, electrical family and
// citation, read from plain-text records (docs/part-language.md). It knows nothing of boards.
//
// A Type is the parsed record; it is shared and never changed after Parse.
package part

import (
	"strings"

	"halfsplit/internal/core/finding"
)

// Type is one part function, such as 74x138 or resistor.
type Type struct {
	Name     string   // 74x138, 4013, resistor
	Aka      []string // further names of the same record
	Title    string
	Families []string // 74 LS S … for 74x; else one of 4000 cmos nmos ttl, or none for discrete parts
	Package  string
	Pins     []Pin // index = pin number - 1
	Prior    string
	Socketed bool // usually in a socket
	Source   string
	Notes    string
	Opaque   bool // the inside is not modelled
	// Array names the fuse array of programmable logic (see package pld), "" for other parts. Such a part is opaque until it is
	// programmed with a fuse map.
	Array string
	// Equivalents are types that have stood in for it, with what to mind; Failures say how it usually fails.
	Equivalents []string
	Failures    []string
	Timing      string     // how fast, or how its timing parts set it
	Overrides   []Override // where its levels and currents are not those of its family
	FreeRun     *FreeRun   // a processor's test with nothing but no-operations to fetch; nil for other parts
	Positions   []string   // of a switch that has more than open and closed, in order; the first is its rest
	Stmts       []Stmt
	Pos         finding.Pos
	nodeIndex   map[string]int // every name and alternative name of a pin → node
	Nodes       []Node         // distinct pin names; index used by the statements
}

// Pin is one terminal. Node is -1 for a pin with nothing inside.
type Pin struct {
	Name string
	Node int
}

// Node is a distinct pin name inside a part: several pin numbers may share it.
type Node struct {
	Name   string
	Also   []string
	Pins   []int // pin numbers, from 1
	Supply bool
	Volts  float64 // nominal, for supply nodes with HasVolts
	HasV   bool
	Use    Use
	// Side is input, output or terminal for a pin that nothing modelled inside listens to or drives: a timing capacitor's, a crystal's,
	// a programming pin. It is "" for others.
	Side string
}

// Direction is supply, input, output, both, terminal or none.
func (n Node) Direction() string {
	switch {
	case n.Supply:
		return "supply"
	case n.Use&Driven != 0 && n.Use&Heard != 0:
		return "both"
	case n.Use&Driven != 0:
		return "output"
	case n.Use&Heard != 0:
		return "input"
	case n.Side != "":
		return n.Side
	case n.Use&Linked != 0:
		return "terminal"
	}
	return "none"
}

// FreeRun is how a processor runs through all addresses by itself: its data pins are held at a no-operation.
type FreeRun struct {
	Opcode  uint8
	Data    []int // nodes of the data pins, most significant first
	Address []int // nodes of the address pins, most significant first
	Clock   int   // node of the clock that is counted
	Clocks  int   // clocks of one no-operation
	First   int   // number of the lowest address pin: 0 for A0, 8 where the lower ones are latched outside
	Hold    []Hold
	Control []Control
	Notes   string
}

// Hold is a level that a pin needs while the processor runs free.
type Hold struct {
	Node int
	High bool
}

// Control is an output of a processor besides the address while it runs free: Idle before the fetch, Fetch during it. Both are alike for an
// output that stands still.
type Control struct {
	Node        int
	Idle, Fetch bool
}

// Use says what the inside of the part does at a node.
type Use uint8

// Bits of Use. A node with none of them is passive (a contact, a resistor end) or unused.
const (
	Heard  Use = 1 << iota // an input
	Driven                 // an output
	Linked                 // an end of a resistor, contact, diode, switch …
)

// PinByName returns the pin numbers (from 1) that a name or number written by the user means, or nil.
// A number is a pin number first; names are matched exactly, then without regard to case.
func (t *Type) PinByName(s string) []int {
	if n, ok := pinNumber(s); ok && n >= 1 && n <= len(t.Pins) {
		return []int{n}
	}
	if i, ok := t.nodeIndex[s]; ok {
		return t.Nodes[i].Pins
	}
	if i, ok := t.nodeIndex[strings.ToUpper(s)]; ok {
		return t.Nodes[i].Pins
	}
	return nil
}

// PinWords lists everything PinByName understands, for suggestions.
func (t *Type) PinWords() []string {
	var out []string
	for _, n := range t.Nodes {
		out = append(out, n.Name)
		out = append(out, n.Also...)
	}
	return out
}

func pinNumber(s string) (int, bool) {
	n := 0
	if s == "" || len(s) > 3 {
		return 0, false
	}
	for _, c := range s {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

// Kind is what a statement makes.
type Kind uint8

// The kinds of statement; docs/part-language.md says what each means.
const (
	Drive     Kind = iota // push-pull output: Node, Expr
	DriveLow              // oc
	DriveHigh             // oe
	DriveTri              // tri: Expr, Cond
	Store                 // a stored bit: Bit, Clauses; Pulse set for one-shots
	RAM
	ROM
	Link     // analogue switch: A, B, Cond
	Resistor // A, B
	Diode    // A (anode), B (cathode)
	LED
	NPN // A=C, B=E, Ctl=B
	PNP
	NMOS // A=D, B=S, Ctl=G
	PMOS
	NJFET
	Contact
	Relay // A=C, B=O, Ctl=P, Ctl2=N; Closed
	Fuse
	Lamp
	ClockOut // Node
)

// Stmt is one parsed statement. Nodes are indices into Type.Nodes, bits are stored-bit indices of the part.
type Stmt struct {
	Kind            Kind
	Node            int // driven node
	Expr, Cond      Expr
	Bit             int // first stored bit, for Store, RAM, ROM
	Clauses         []Clause
	Pulse           bool
	A, B, Ctl, Ctl2 int
	Closed          bool
	As              string   // indicator or section of contacts within the part, "" when it is the only one
	At              []string // positions in which a contact is closed; nil for one that is open or closed
	Words, Width    int
	Address         []Expr // most significant first
	Data            []Expr // most significant first
	Line            int    // line within the record's logic, from 1
}

// Clause is one way for a stored bit to take a value.
type Clause struct {
	When ClauseKind
	Cond Expr
	Val  Expr
}

// ClauseKind tells level from edge.
type ClauseKind uint8

// While is level sensitive; Rise and Fall are edges.
const (
	While ClauseKind = iota
	Rise
	Fall
)
