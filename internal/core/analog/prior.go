package analog

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
)

// How likely a fault is before anything was seen: a rate per part, shared out over its kinds of fault. Only ratios matter.
//
// Rates: MIL-HDBK-217F parts-count table, ground fixed, failures per million hours (from memory; the same figures as the digital half), the quality
// factor of commercial parts taken as alike for all. Loads, sources and copper are estimates.
var rate = map[string]float64{
	"resistor": .0027, "jumper": .001, "ferrite": .001, "capacitor": .0074, "electrolytic": .081, "tantalum": .0139, "inductor": .004, "fuse": .010, "switch": .0030,
	"button": .0030, "contact": .0030, "potentiometer": .030, "diode": .0076, "zener": .0056, "led": .0026, "transistor": .0088, "linear": .024,
	"regulator": .050, "source": .010,
}

// Shares of a part's rate, in per cent. Sources: failure-mode distributions of FMD-91 as given in MIL-HDBK-338B table 7.6-1, from memory:
// resistor, fixed: parameter change 36, open 59, short 5; capacitor, electrolytic aluminium: short 53, open 35, leakage 10, low capacitance 2; tantalum: short 69, open
// 17, change 14 (leakage here); ceramic: short 49, change 29, open 22; diode, general: short 49, open 36, change 15; Zener: open
// 45, change 35, short 20; transistor: short 73, open 27 (low gain and leakage are counted under short there and estimated here);
// linear microcircuit: improper output 77, no output 23; regulator: stuck high, low or open shared from the same; potentiometer: open 53, erratic 40, short 7;
// fuse: fails to open 49, slow 43, premature 8, which speaks of the fuse itself, so a blown fuse carries an estimate. Old electrolytics dry
// out: for capacitors above 25 years, low capacitance and series resistance take most of the share (common practice, no source).
var share = map[string]map[Kind]float64{
	"resistor":      {Open: 59, Drifted: 36, Short: 5, WrongPart: 40},
	"jumper":        {Open: 100},
	"ferrite":       {Open: 100},
	"capacitor":     {Short: 49, Leaky: 29, Open: 22},
	"electrolytic":  {Short: 18, Open: 12, Leaky: 15, LowCapacitance: 30, HighESR: 25, Reversed: 10},
	"tantalum":      {Short: 55, Leaky: 28, Open: 17},
	"inductor":      {Open: 60, Short: 40},
	"fuse":          {FuseBlown: 100},
	"switch":        {Open: 70, Short: 30},
	"button":        {Open: 70, Short: 30},
	"contact":       {Open: 70, Short: 30},
	"potentiometer": {TrackWorn: 40, WiperOpen: 27, Open: 26, Drifted: 7},
	"diode":         {Short: 46, Open: 34, Leaky: 15, Reversed: 1, JunctionOpen: 45, JunctionShort: 55},
	"zener":         {Open: 45, Drifted: 30, Short: 20, Leaky: 5, Reversed: 1},
	"led":           {Open: 70, Short: 20, Leaky: 9, Reversed: 1},
	"transistor":    {JunctionShort: 50, JunctionOpen: 27, Leaky: 13, LowGain: 10},
	"linear":        {StuckHigh: 20, StuckLow: 20, JunctionOpen: 20, InputDead: 15, Offset: 12, Leaky: 10, JunctionShort: 3, Short: 10, Drifted: 10},
	"regulator":     {JunctionOpen: 30, JunctionShort: 30, Dropout: 10, Drifted: 14, LowGain: 8, Oscillating: 8},
	"chip":          {Short: 3, Leaky: 4}, // across the supply; estimates: the published shares do not tell it from a stuck output
	"chip switch":   {Open: 50, Short: 30},
	"source":        {SourceDead: 60, SourceLow: 40, Open: 40, Short: 60},
}

// Weights of what lies outside the parts, in the unit of rate: estimates, as in the digital half.
const (
	jointRate    = 0.0004
	netShortRate = 0.0002
	bridgeRate   = 0.00006
	nearRate     = 0.0004
	replacedMore = 4 // joints of a part that somebody has soldered before
)

// ageFactor multiplies the rate of what wears out by itself. Estimates: electrolytics are spent after 15 to 25 years, tracks and contacts wear.
func ageFactor(class string, years float64) float64 {
	switch class {
	case "electrolytic":
		return 1 + max(0, years-10)/15
	case "tantalum", "potentiometer", "switch", "button", "contact":
		return 1 + max(0, years-10)/30
	}
	return 1
}

// sites counts the places that a kind of fault has within one device: its share is divided by them.
func sites(d *Device, k Kind) float64 {
	switch {
	case k == JunctionOpen && (d.Kind == elec.BJT || d.Kind == elec.Darlington || d.Kind == elec.JFET || d.Kind == elec.MOSFET):
		return 3
	case k == JunctionShort && (d.Kind == elec.BJT || d.Kind == elec.Darlington || d.Kind == elec.JFET || d.Kind == elec.MOSFET):
		return 3
	case d.Kind == elec.Rectifier:
		return 4
	case d.Kind == elec.Potentiometer && k == Open:
		return 2
	case d.Kind == elec.Regulator && k == JunctionShort:
		return 2
	case k == Leaky && (d.Kind == elec.OpAmp || d.Kind == elec.OTA || d.Kind == elec.Comparator):
		return 2
	}
	return 1
}

// weight is the prior of a fault, not yet normalised.
func (m *Model) weight(f Fault) float64 {
	switch f.Kind {
	case NetShort:
		return netShortRate
	case Bridge:
		for _, n := range m.C.Near {
			if n == [2]int{f.A, f.B} {
				return nearRate
			}
		}
		return bridgeRate
	}
	d := &m.Devices[f.Device]
	years, inside, joint := 0.0, 1.0, 1.0
	if a := m.C.Board.Analog; a != nil {
		years = a.Age
	}
	if d.Part != circuit.None && m.C.Parts[d.Part].Src.Replaced {
		years, inside, joint = 0, 0.5, replacedMore
	}
	if f.Kind == JointOpen {
		return jointRate * joint
	}
	r, ok := rate[d.Class]
	if d.Class == "chip" || d.Class == "chip switch" {
		r, ok = chipRate(m.C, d.Part), true
	}
	if !ok {
		r = 0.01
	}
	sections := 0.0
	for i := range m.Devices {
		if d.Part != circuit.None && m.Devices[i].Part == d.Part {
			sections++
		}
	}
	return r * ageFactor(d.Class, years) * inside * share[d.Class][f.Kind] / 100 / sites(d, f.Kind) / max(1, sections)
}
