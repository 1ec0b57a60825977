// Package circuit joins a board with the part library into a flat, indexed form: every net, pin, driver, link
// and stored bit is a small integer. Names live here too, for the way back to the user.
//
// A Circuit is not changed after Build and may be read by many goroutines. Simulation, faults and diagnosis
// all speak in its indices. docs/simulation.md says what it means.
package circuit

import (
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// None is the index that points nowhere.
const None = -1

// Circuit is a board with its parts looked up.
type Circuit struct {
	Board    *board.Board
	Nets     []Net
	Pins     []Pin
	Parts    []Part
	Drivers  []Driver
	Links    []Link
	Stores   []Store
	Memories []Memory
	Inputs   []Input
	Levers   []Lever
	Contacts []Contact
	Lamps    []Lamp // indicators: LEDs, lamps, digit segments
	Digits   []Digit
	Actions  []Action
	Bits     int // stored bits and memory output bits in all
	Near     [][2]int
	Others   []Other // faults of an analogue half, see other.go
	Rest     []Force // what that half does while it is sound

	start     []int
	netByName map[string]int
	partByRef map[string]int
	actByName map[string]int
}

// Net is one node of copper. A hidden net has no name of its own: a pin that is wired to nothing, or the inside
// end of a pin that several links share (its joint to the board is then a Link of kind Joint).
type Net struct {
	Name    string
	Hidden  bool
	Rail    bool
	High    bool // level of a rail
	Volts   float64
	Input   int   // index into Inputs when driven from outside, else None
	Drivers []int // outputs on it
	Pins    []int // pins soldered to it
	Links   []int // links with an end on it
	Pos     finding.Pos
}

// Pin is one wired terminal of a part, or an unwired one that something inside listens to or drives.
type Pin struct {
	Part   int
	Number int // from 1
	Node   int // part.Type.Nodes index
	Net    int // the net it is soldered to; a hidden net when unwired
	Inside int // hidden net of its inside end, or None: then inside and outside are the same until the joint opens
	Wired  bool
	Driver int // index into Drivers or None
	Use    part.Use
	Supply bool
}

// Part is one component.
type Part struct {
	Ref     string
	Src     *board.Part
	Type    *part.Type
	Family  part.Family
	Pins    []int // indices into Circuit.Pins, by rising pin number
	NodePin []int // per type node: the pin (index into Circuit.Pins) that stands for it, or None when it is unwired and unused
	Bit     int   // first stored bit
	Links   []int
	Drivers []int
	Stores  []int
	Memory  []int
	Lamps   []int
}

// Driver is one output: the statement that says what it drives.
type Driver struct {
	Part  int
	Pin   int
	Stmt  *part.Stmt
	Input int // for a clock source, and an output that a free run moves: index into Inputs, else None
	// Gate is, for an output that a free run moves, when it moves: while Input is set and Gate is 1 the output drives what Input says,
	// else what Stmt says. In terms of the part's nodes and bits.
	Gate part.Expr
}

// LinkKind tells how a link passes levels; see the table in docs/simulation.md.
type LinkKind uint8

// Kinds of link. Joint is the solder joint of a pin with an inside net.
const (
	Joint      LinkKind = iota
	Closed              // fuse
	Contact1            // contact moved by an action
	Switch              // analogue switch with a condition
	Transistor          // conducts by the level of Ctl
	RelayContact
	Diode
	Resistor
	Faint     // LED, segment
	FaintBoth // lamp
)

// Link passes a level between two nets.
type Link struct {
	Kind       LinkKind
	A, B       int // nets; for a diode anode, cathode
	PinA, PinB int // pins through which the ends reach A and B; None when the end is an inside net
	Ctl, Ctl2  int // control nets or None
	CtlPin     int // pin of the control, None when it is an inside net
	Ctl2Pin    int
	OnHigh     bool      // a transistor that conducts when its control is 1
	Normally   bool      // a relay contact that is closed while the coil is off; a depletion transistor
	Cond       part.Expr // of a Switch, in terms of the part's nodes and bits
	Ohms       float64
	Contact    int // index into Contacts or None
	Part       int
	Lamp       int // index into Lamps or None
}

// Store is one stored bit: Bit is global, the clauses are in terms of the part's nodes and bits.
type Store struct {
	Part int
	Bit  int
	Stmt *part.Stmt
}

// Memory is one RAM or ROM; its output bits are Bit … Bit+Width-1, lowest first.
type Memory struct {
	Part     int
	Bit      int
	Stmt     *part.Stmt
	Contents []byte // ROM: word w is byte w (width up to 8) ; missing bytes are unknown
}

// Input is something an action can set: a net driven from outside, or a clock source (Pin is not None).
type Input struct {
	Net     int
	Pin     int
	Imposed bool // an analogue half decides it, no action does
}

// Lever is what an action can move: a switch or button, or one section of it.
type Lever struct {
	Part      int
	Section   string   // "" for a part whose contacts all move together
	Positions []string // open and closed, or the type's own
	Rest      string   // one of them
	Contacts  []int
}

// Contact is what of a switch closes and opens together.
type Contact struct {
	Part   int
	Lever  int      // index into Levers
	At     []string // positions of the lever in which it is closed
	Closed bool     // at rest
}

// Lamp is one indicator: lit when A is 1 and K is 0 (a lamp with Both: when they differ).
type Lamp struct {
	Part int
	Name string // LP1, or DS1.a
	Seg  string // a…g, dp for a digit's segment, else ""
	A, K int
	Both bool
	Link int
}

// Digit is a seven-segment indicator: lamps for a…g and dp, None where the type has none.
type Digit struct {
	Part int
	Segs [8]int
}

// Action is a flat list of moments.
type Action struct {
	Name    string
	Title   string
	Whole   bool
	Moments []Moment
	// Prelude are actions that come before it and are not watched; a prelude has no name. FreeRun is the processor that runs free in it, or
	// None: such an action takes a no-operation adapter.
	Prelude []int
	FreeRun int
}

// Moment says what changes from outside.
type Moment struct {
	Sets     []InputSet
	Contacts []ContactSet
	Moves    []Move // what Contacts come from, for people
}

// Move says where a switch is put.
type Move struct {
	Lever int
	To    string
}

// InputSet gives one input a level.
type InputSet struct {
	Input int
	To    Level
}

// ContactSet moves one contact from rest (Pressed) or back.
type ContactSet struct {
	Contact int
	Pressed bool
}

// Level is what an input is set to.
type Level uint8

// Levels of an input. Invert turns 0 into 1 and back and leaves the others.
const (
	Low Level = iota
	High
	Unknown
	LetGo
	Invert
)

// Net returns the index of a net by name.
func (c *Circuit) Net(name string) (int, bool) {
	i, ok := c.netByName[name]
	return i, ok
}

// PartByRef returns the index of a part by reference designator.
func (c *Circuit) PartByRef(ref string) (int, bool) {
	i, ok := c.partByRef[ref]
	return i, ok
}

// ActionByName returns the index of an action.
func (c *Circuit) ActionByName(name string) (int, bool) {
	i, ok := c.actByName[name]
	return i, ok
}

// Sequence is what is run for an experiment: start, then the actions, each after its prelude.
func (c *Circuit) Sequence(actions []int) []int {
	out := append([]int(nil), c.start...)
	for _, a := range actions {
		out = append(append(out, c.Actions[a].Prelude...), a)
	}
	return out
}

// Start returns the actions done before every experiment.
func (c *Circuit) Start() []int { return c.start }
