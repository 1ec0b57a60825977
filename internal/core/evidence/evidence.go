// Package evidence is what was seen and done on one machine, in order. Readings outlive every change of
// the ranking mathematics: nothing here knows of suspects or probabilities.
package evidence

import "halfsplit/internal/core/finding"

// Case is one machine on the bench.
type Case struct {
	Title  string
	File   string
	Board  string // path as written
	Have   Bench
	Damage []Zone
	Note   string
	Golden bool // readings of a known-good machine
	Log    []Entry
}

// Bench is what the technician has; eyes always.
type Bench struct {
	Scope, Probe, Meter, Iron, Spare bool
	Adapter                          bool // feeds a processor no-operations
}

// Zone is an area of damage: kind is water, battery or heat.
type Zone struct {
	Kind  string
	Parts []string
	Nets  []string
	Pos   finding.Pos
}

// DefaultSure is the technician's certainty when an entry does not say.
const DefaultSure = 0.98

// Entry is one line of the log. An entry with Do stands alone: start, then the actions. Without Do, readings
// are about the machine after start alone. An entry holds readings or repairs, never both.
type Entry struct {
	Index    int      // from 1, as a person counts
	Do       []string // actions in order; the last one is what readings are about
	HasDo    bool     // exactly when Do holds an action
	Read     []Reading
	See      []Reading
	Volts    []Measured
	Ohms     []Resistance
	Current  []Amount // amperes through a part
	Ripple   []Amount // volts peak to peak at a place
	ESR      []Amount // ohms of a capacitor in circuit, power off
	AC       []Level
	Gain     []Gain
	Wiper    []Wiper
	Feed     *Feed    // the readings of the entry were taken with this instead of the machine's own supply
	Lifted   []string // pins
	Refitted []string
	Replaced []string // parts
	Resolder []string // pins
	Reseated []string // parts
	Cleared  []string // nets: a short, bridge or bad source on them was found and removed
	Sure     float64  // 0..1
	Note     string
	Pos      finding.Pos
}

// Reading is a place and the word that was seen there. At is a pin (U2.2, U2./Y1), a net, or an indicator.
// Is is, in Read, one of low high pulses floating between; in See one of lit dark blinking blank, a digit 0 to 9, or lit: with the
// lit segments in the order abcdefg, then dp (lit:abdegdp).
type Reading struct {
	At  string
	Is  string
	Pos finding.Pos
}

// Measured is a voltage at a place, in volts.
type Measured struct {
	At    string
	Volts float64
	Pos   finding.Pos
}

// Resistance is measured with the power off between two places, in ohms; Open when the meter shows none.
type Resistance struct {
	At, To string
	Ohms   float64
	Open   bool
	Pos    finding.Pos
}

// Amount is something measured at a place or of a part, in the unit of its kind of reading.
type Amount struct {
	At  string
	Is  float64
	Pos finding.Pos
}

// Level is a signal at a place, in volts rms, at a frequency in hertz.
type Level struct {
	At        string
	Frequency float64
	Volts     float64
	Pos       finding.Pos
}

// Gain is the ratio of two levels with a signal of a frequency in hertz injected at From.
type Gain struct {
	From, To  string
	Frequency float64
	Is        float64
	Pos       finding.Pos
}

// Wiper is the voltage at a control's wiper with the control at a position, 0 at terminal B to 1 at terminal A.
type Wiper struct {
	At       string
	Position float64
	Volts    float64
	Pos      finding.Pos
}

// Feed is a bench supply on one net, with Ohms in series that limit its current.
type Feed struct {
	At    string
	Volts float64
	Ohms  float64
	Pos   finding.Pos
}
