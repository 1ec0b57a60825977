package analog

import (
	"math"

	"halfsplit/internal/core/elec"
)

// This file holds what can be measured, in electrical terms, and how a meter's figure is compared with a computed one.

// CheckKind is what is measured.
type CheckKind uint8

// The kinds of check. Volts are between the nodes A and B; Current flows through a part with two terminals.
const (
	Volts CheckKind = iota
	Ripple
	Ohms
	Current
	ESR
	AC
	Gain
	Wiper
)

var checkWords = [...]string{"volts", "ripple", "ohms", "current", "esr", "ac", "gain", "wiper"}

func (k CheckKind) String() string { return checkWords[k] }

// Condition is how the machine stands while a check is made: on its own supply, or with a bench supply of Volts behind OhmsIn on the node At (its own
// sources off) and perhaps with one control moved. It is comparable.
type Condition struct {
	Bench    bool
	At       int
	Volts    float64
	OhmsIn   float64
	Control  int // device, -1 for none
	Position float64
	Drive    string // how the logic stands: a sign for each Split.Shares, "" for nothing driven
	Lifted   string // pins off their nets: elec device and terminal, as bytes; see lift
}

// Usual is the machine on its own supply.
func Usual() Condition { return Condition{Control: -1} }

// Check is one thing to measure. A and B are nodes of the electrical circuit (Gain: from A to B), Device an index into Model.Devices for Current, ESR and Wiper,
// Frequency in hertz for AC and Gain. It is comparable, so that what it shows is computed once.
type Check struct {
	Kind      CheckKind
	A, B      int
	Device    int
	Frequency float64
	Cond      Condition
}

// scale is how a reading is compared: as it is, or by its logarithm above a floor, where a ratio counts more than a difference.
type scale struct {
	log   bool
	floor float64
	sigma float64 // log: of the model and the meter together; linear: relative error of the meter
	step  float64 // linear: what the last digit is worth
	width float64 // of the range in which a slip of the pen could fall, on this scale
}

var scales = [...]scale{
	Volts:   {sigma: 0.006, step: 1e-3, width: 40},
	Ripple:  {log: true, floor: 4e-3, sigma: 0.22, width: 10},
	Ohms:    {log: true, floor: 0.3, sigma: 0.07, width: 16},
	Current: {log: false, sigma: 0.02, step: 1e-3, width: 5},
	ESR:     {log: true, floor: 0.05, sigma: 0.25, width: 10},
	AC:      {log: true, floor: 1e-3, sigma: 0.1, width: 10},
	Gain:    {log: true, floor: 0.01, sigma: 0.1, width: 10},
	Wiper:   {sigma: 0.006, step: 1e-3, width: 40},
}

func (s scale) in(x float64) float64 {
	if s.log {
		return math.Log(max(x, 0) + s.floor)
	}
	return x
}

func (s scale) out(y float64) float64 {
	if s.log {
		if x := math.Exp(y) - s.floor; x > s.floor/100 { // below, no meter shows it
			return x
		}
		return 0
	}
	return y
}

// Prediction is what a hypothesis shows in a check, on the check's scale. Known is false where the model has no answer.
type Prediction struct {
	Mu, Sigma float64
	Known     bool
}

// sigma joins the spread of tolerances with the error of the meter.
func (s scale) spread(x, tolerance float64, c Condition) float64 {
	if s.log {
		return s.sigma
	}
	step := s.step
	if c.Bench { // millivolts along copper: a range of their own
		step = 1e-4
	}
	return math.Sqrt(tolerance*tolerance + s.sigma*s.sigma*x*x + step*step)
}

// density is the probability density of a reading y on the scale of its kind. One in two hundred readings lies where the tails of a tidy
// distribution would not reach; what the technician is not sure of may lie anywhere.
func (s scale) density(p Prediction, y, sure float64) float64 {
	if !p.Known {
		return 1 / s.width
	}
	return sure*(0.995*normal(y-p.Mu, p.Sigma)+0.005*normal(y-p.Mu, 6*p.Sigma)) + (1-sure)/s.width
}

func normal(d, sigma float64) float64 {
	z := d / sigma
	return math.Exp(-z*z/2) / (sigma * math.Sqrt(2*math.Pi))
}

// below is the probability of a reading under y.
func (s scale) below(p Prediction, y float64) float64 {
	return 0.5 * math.Erfc(-(y-p.Mu)/(p.Sigma*math.Sqrt2))
}

// patch is what a condition does to the circuit.
func (c Condition) patch(m *Model) elec.Patch {
	p := m.drive(c.Drive)
	if c.Bench {
		p.Bridges = append(p.Bridges, elec.Bridge{A: c.At, B: 0, Ohms: max(c.OhmsIn, 1e-3), Volts: c.Volts})
	}
	if c.Control >= 0 {
		p.Changes = append(p.Changes, elec.Change{Device: m.Devices[c.Control].Index, Do: elec.Set, Param: "position", Value: c.Position})
	}
	for i := 0; i+2 < len(c.Lifted); i += 3 {
		p = p.And(elec.Open(int(c.Lifted[i])<<8|int(c.Lifted[i+1]), int(c.Lifted[i+2])))
	}
	return p
}

// lift adds a pin (an index of the circuit) to those that are off their nets.
func (m *Model) lift(c Condition, pin int) Condition {
	for _, d := range m.Devices {
		for t, p := range d.Pins {
			if p == pin {
				c.Lifted += string([]byte{byte(d.Index >> 8), byte(d.Index), byte(t)})
			}
		}
	}
	return c
}
