package board

import "halfsplit/internal/core/finding"

// Analog is what the analogue half of a board is fed with, and how its controls stand.
type Analog struct {
	Ground   string // the net that voltages are against; "" means GND, 0V or the rail at 0 V
	Age      float64
	Sources  []Source
	Controls []Control
	Pos      finding.Pos
}

// SourceKind tells what a source is.
type SourceKind string

// Mains is a transformer's secondary (Volts rms), Signal an injected sine (Volts rms), DC a steady voltage, Load what the rest of the
// machine draws (Amperes, or Ohms).
const (
	Mains  SourceKind = "mains"
	Signal SourceKind = "signal"
	DC     SourceKind = "dc"
	Load   SourceKind = "load"
)

// Source feeds or loads two nets from outside the board. Ohms is what it has inside; Tolerance is half the range of its volts or
// amperes as a fraction, 0 for the usual one of its kind.
type Source struct {
	Name            string
	Kind            SourceKind
	Plus, Minus     string
	Volts, Amperes  float64
	Frequency, Ohms float64
	Tolerance       float64
	Pos             finding.Pos
}

// Control is where a slider or potentiometer stands, 0 at terminal B to 1 at terminal A.
type Control struct {
	Ref      string
	Position float64
	Pos      finding.Pos
}
