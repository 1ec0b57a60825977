// Package elec computes analogue circuits: DC operating points, small-signal AC, transients of supplies, the spread
// that tolerances cause, and ohms with the power off. It uses modified nodal analysis (Ho, Ruehli and Brennan, "The
// modified nodal approach to network analysis", IEEE Trans. Circuits and Systems CAS-22, 1975) with a sparse LU whose
// pivot order is chosen once per circuit, and Newton iteration with the junction damping of Nagel (SPICE2, UCB/ERL
// M520, 1975). The netlist is the package's own: nothing here knows of boards or parts.
//
// A Circuit is read-only and may be used by many goroutines; everything that changes lives in a Solver, one per
// goroutine. A fault is a Patch: changes of devices that need no new compilation, solved from the good operating point.
//
// Units are SI throughout (volts, amperes, ohms, farads, henries, hertz, seconds); the temperature is 27 °C.
// Node 0 is the reference (0 V). No answer holds NaN or an infinity: where there is no answer, an error says why.
package elec

import "slices"

// Netlist is a circuit as it is drawn: node names and the devices between them. Nodes[0] is the reference, at 0 V.
type Netlist struct {
	Nodes   []string
	Devices []Device
}

// Device is one part. Nodes are indexes into Netlist.Nodes in the order of Terminals(Kind). Value is the main value
// of kinds that have one (ohms, farads, henries, volts, amperes); for others it is ignored. Params overrule what the
// model record and the kind's defaults say, by name. Tol is half the range of Value as a fraction: 0.05 means ±5 %.
type Device struct {
	Name   string
	Kind   Kind
	Nodes  []int
	Value  float64
	Model  string
	Params map[string]float64
	Tol    float64
}

// Kind names what a device is.
type Kind string

// The kinds of device. The terminals of each are in the table in kinds.go, see Terminals.
const (
	Resistor      Kind = "resistor"
	Capacitor     Kind = "capacitor"
	Inductor      Kind = "inductor"
	Transformer   Kind = "transformer"
	Potentiometer Kind = "potentiometer" // also sliders
	Switch        Kind = "switch"
	Fuse          Kind = "fuse"
	Diode         Kind = "diode"
	Zener         Kind = "zener"
	LED           Kind = "led"
	Rectifier     Kind = "bridge" // four diodes
	BJT           Kind = "bjt"
	Darlington    Kind = "darlington"
	Array         Kind = "array" // of bipolar transistors: c, b, e of each in turn
	JFET          Kind = "jfet"
	MOSFET        Kind = "mosfet"
	SCR           Kind = "scr"
	OpAmp         Kind = "opamp"
	Comparator    Kind = "comparator"
	OTA           Kind = "ota"
	Optocoupler   Kind = "optocoupler"
	Regulator     Kind = "regulator"    // three terminals, fixed or adjustable, either sign
	Regulator723  Kind = "regulator723" // reference, error amplifier, pass and limiting transistor
	Reference     Kind = "reference"    // shunt reference with a sensing terminal
	AnalogSwitch  Kind = "analogswitch"
	VoltageSource Kind = "vsource"
	CurrentSource Kind = "isource"
)

// Kinds lists all kinds, sorted.
func Kinds() []Kind {
	var out []Kind
	for k := range kinds {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// Terminals names the terminals of a kind in the order of Device.Nodes; nil for an unknown kind. Array repeats its
// three names per transistor, Transformer its last two per further secondary; the base of an Optocoupler may be left out.
func Terminals(k Kind) []string {
	if s, ok := kinds[k]; ok {
		return s.terminals
	}
	return nil
}

// Params names the parameters of a kind in their fixed order; nil for an unknown kind.
func Params(k Kind) []string {
	s, ok := kinds[k]
	if !ok {
		return nil
	}
	var out []string
	for _, p := range s.params {
		out = append(out, p.name)
	}
	return out
}

// Physical constants of the model equations at 27 °C.
const (
	boltzmannOverCharge = 8.617333262e-5 // volts per kelvin, CODATA 2018
	kelvin              = 300.15
	thermal             = boltzmannOverCharge * kelvin // the thermal voltage, volts
)
