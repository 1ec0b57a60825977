// Package board is the model as the technician wrote it: parts, wiring, what can be done to the
// board from outside. It knows nothing of part types; circuit joins it with the library.
package board

import "halfsplit/internal/core/finding"

// Board is one machine or the part of it around the fault. Slices keep file order.
// A Board is not changed once it has been read.
type Board struct {
	Title   string
	File    string // as given by the user; "" when built in memory
	Rails   []Rail
	Inputs  []Name // nets driven from outside
	Buses   []Bus
	Parts   []Part
	Near    [][2]Name // nets whose copper runs side by side
	Start   []Name    // actions done before every experiment, in order
	Actions []Action
	Analog  *Analog // nil for a board without an analogue half
}

// Name is a net, pin or action name with the place where it was written.
type Name struct {
	Text string
	Pos  finding.Pos
}

// Rail is a net held at a known voltage.
type Rail struct {
	Net   string
	Volts float64
	Pos   finding.Pos
}

// Bus is a named group of nets, most significant bit first.
type Bus struct {
	Name string
	Nets []Name
	Pos  finding.Pos
}

// Part is one component as written.
type Part struct {
	Ref      string
	Type     string
	TypePos  finding.Pos
	Pins     []Pin
	Listed   bool    // pins were given as a list: Pins[i].Pin is "" and the order is the type's pin order
	Value    float64 // ohms for resistors, farads for capacitors, volts for zeners; 0 when HasValue is false
	HasValue bool
	Contents []byte // bytes of the contents file, nil when none
	// Fuses is the fuse map of programmable logic, one byte for each fuse: 0 intact, 1 blown; nil when none.
	Fuses []byte
	// ContentsFile is the name of that file as written, relative to the board file; "" when none. It may be set
	// while Contents and Fuses are nil: then the file could not be read, and a finding says so.
	ContentsFile string
	Closed       bool   // rests: closed
	Rests        []Rest // any other way a switch rests: a position, or section by section; not beside Closed
	Socketed     bool
	Access       Access
	Replaced     bool // fitted: replaced
	Place        *Place
	Note         string
	Pos          finding.Pos
}

// Rest is where a switch, or one section of it, stands while nobody moves it: open, closed, or a position that its type names.
type Rest struct {
	Section string // "" for the whole switch
	To      string
	Pos     finding.Pos
}

// Pin is one wired pin: Pin is the number or name as written ("" in a list), Net "-" when deliberately open.
type Pin struct {
	Pin string
	Net string
	Pos finding.Pos
}

// Access tells how hard a part is to reach.
type Access int

// Normal is the default.
const (
	Normal Access = iota
	Easy
	Hard
)

// Place is where a part sits, in millimetres and degrees.
type Place struct {
	X, Y, Turn float64
	Side       string // top or bottom
}

// Action is something the technician can do.
type Action struct {
	Name  string
	Title string
	Whole bool // look: whole
	Steps []Step
	Pos   finding.Pos
}

// Step is one line of an action; exactly one of its forms is filled.
type Step struct {
	Sets    []Set   // one moment: set these
	Pulse   Name    // two moments: invert, back
	Cycles  []Cycle // full periods: 2·N moments each
	Press   []Name  // with Sets: one moment
	Release []Name
	Moves   []Move // with Sets, too
	Times   int    // repeat
	Steps   []Step
	Pos     finding.Pos
}

// Set gives an input, a bus or a clock source a value.
type Set struct {
	Net   string // net or bus name
	Value Value
	Pos   finding.Pos
}

// Move puts a switch (S1) or one section of it (S1.3) where To says: open, closed, or a position that its type names.
type Move struct {
	Switch string
	To     string
	Pos    finding.Pos
}

// Value is what an input is set to: a number for a bus, or one of the letters.
type Value struct {
	Letter byte // 0 for a number, 'x' unknown, 'z' let go
	Number uint64
}

// Cycle is N full periods on one net.
type Cycle struct {
	Net string
	N   int
	Pos finding.Pos
}
