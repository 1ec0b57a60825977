// Package loading judges a board's nets by the guaranteed figures of the data sheets: what the inputs on a net ask and what the
// outputs on it give, at both levels. It serves the electrical lint and the search for a stand-in. It computes from limits alone and
// never simulates.
//
// Volts, amperes, ohms and seconds throughout; currents are magnitudes.
package loading

import "halfsplit/internal/core/part"

// FanOut is how many inputs like load an output like driver can feed at each level. A level at which an input takes nothing, or that
// the output cannot drive, gives 0 for the output and a large number for the input: see the figures themselves.
func FanOut(driver, load part.Limits) (low, high int) {
	return times(driver.IOL, load.IIL), times(driver.IOH, load.IIH)
}

// times is how often one current goes into another. A part in a million is allowed for the binary fractions of 0.4 mA and its like.
func times(has, each float64) int {
	if each <= 0 {
		return 0
	}
	return int(has/each*(1+1e-6) + 1e-9)
}

// PullUp is an open-collector net: Outputs of them tied together, Inputs listening.
type PullUp struct {
	SupplyMin, SupplyMax float64
	VOH                  float64 // what a high must reach
	VOL                  float64 // what a low may be
	IOL                  float64 // of one output
	Leak                 float64 // into all outputs that are off
	IIH, IIL             float64 // of all inputs together
}

// Range gives the smallest and the largest pull-up in ohms, by the equations of TL/F/6351: the largest still lifts the net to VOH
// against all leakage, the smallest still lets one output pull it down to VOL. fits is false when there is none in between.
func (p PullUp) Range() (smallest, largest float64, fits bool) {
	sink := p.IOL - p.IIL
	if sink <= 0 {
		return 0, 0, false
	}
	smallest = max(0, p.SupplyMax-p.VOL) / sink
	if p.Leak+p.IIH > 0 {
		largest = (p.SupplyMin - p.VOH) / (p.Leak + p.IIH)
	}
	return smallest, largest, largest >= smallest
}
