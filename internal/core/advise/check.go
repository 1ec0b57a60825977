package advise

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// Kind is what a check does.
type Kind string

// Kinds of check.
const (
	Read     Kind = "read"
	See      Kind = "see"
	Volts    Kind = "volts"
	Ohms     Kind = "ohms"
	Lift     Kind = "lift"
	Replace  Kind = "replace"
	Resolder Kind = "resolder"
	Reseat   Kind = "reseat"
	Ripple   Kind = "ripple" // this and those below are the other half's
	Current  Kind = "current"
	ESR      Kind = "esr"
	AC       Kind = "ac"
	Gain     Kind = "gain"
	Wiper    Kind = "wiper"
)

// Check is something to do next.
type Check struct {
	Kind     Kind
	Setting  predict.Setting // as it will be when the reading is taken
	Place    circuit.Place
	To       circuit.Place // ohms: the other probe
	Lamp     int           // see
	Digit    int           // see
	Pin      int           // lift, resolder
	Part     int           // replace, reseat
	Minutes  float64
	Bits     float64 // entropy that it is expected to remove
	Outcomes []Outcome
	Good     string  // what a good board shows
	Score    float64 // bits per minute, two checks deep for the leaders
	SetUp    bool    // the instrument has to be set up first
	Ends     float64 // for a repair: probability that it ends the job
	Other    *Offer  // a check of the other half; its Setting is the board at rest

	id    string // tells checks apart
	cells []cell // which lanes show which outcome
}

// Outcome is a reading with its probability, and the leaders that would give it (indices into the suspects, best first).
type Outcome struct {
	Is       string
	P        float64
	Suspects []int
}

// cell is one outcome: the probability of it in each group of lanes that predict alike.
type cell struct {
	lanes []uint64  // lanes that predict this
	like  []float64 // P(outcome k | predicted this)
}
