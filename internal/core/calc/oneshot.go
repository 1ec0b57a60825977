package calc

// One-shots and RC oscillators: the time constant's factor differs from part to part and from maker to maker.

import (
	"fmt"
	"math"
)

// monostable is one part: t = factor·R·C, with what else its sheet says.
type monostable struct {
	part       string
	factor     float64
	extra      float64 // ohms: t = factor·R·C·(1 + extra/R), the 74122 and 74123
	log        bool    // factor·ln(VDD), the 4528
	rMin, rMax float64
	cMin, cMax float64 // the formula's range; below cMin the sheet has a graph
	formula    string
	source     string
}

var monostables = []monostable{
	{"74121", math.Ln2, 0, false, 1.4e3, 40e3, 0, 1000e-6, "0.7·R·C", "TI SDLS042; resistor range from memory of it"},
	{"74221", math.Ln2, 0, false, 1.4e3, 40e3, 0, 1000e-6, "0.7·R·C", "TI SDLS213; resistor range from memory of it"},
	{"74LS221", math.Ln2, 0, false, 1.4e3, 100e3, 0, 1000e-6, "0.7·R·C", "TI SDLS213; resistor range from memory of it"},
	{"74122", 0.32, 700, false, 5e3, 50e3, 1e-9, 1, "0.32·R·C·(1 + 700 Ω/R)", "TI SDLS043, constants from memory of it"},
	{"74123", 0.28, 700, false, 5e3, 50e3, 1e-9, 1, "0.28·R·C·(1 + 700 Ω/R)", "TI SDLS043, constants from memory of it"},
	{"74LS122", 0.45, 0, false, 5e3, 260e3, 1e-9, 1, "0.45·R·C", "Motorola LS TTL data; Fairchild DS006386 gives 0.37 for large C (both from memory)"},
	{"74LS123", 0.45, 0, false, 5e3, 260e3, 1e-9, 1, "0.45·R·C", "Motorola LS TTL data; Fairchild DS006386 gives 0.37 for large C (both from memory)"},
	{"74HC123", 0.45, 0, false, 2e3, 1e6, 10e-9, 1, "0.45·R·C at 5 V", "NXP 74HC_HCT123 rev. 9, note 2; the MM74HC423A has 1.0·R·C"},
	{"4047", 2.48, 0, false, 10e3, 1e6, 1e-9, 100e-6, "2.48·R·C", "Philips HEF4047B, January 1995 (2.48 typical, 2.48 to 2.78 over parts at 5–10 V)"},
	{"4098", 0.5, 0, false, 5e3, 10e6, 10e-9, 100e-6, "0.5·R·C", "CD4098BMS FN3332: ½·RX·CX from 0.01 µF, 5 kΩ min, 100 µF max"},
	{"4528", 0.2, 0, true, 5e3, 1e6, 10e-9, 15e-6, "0.2·R·C·ln(VDD)", "ON Semiconductor MC14528B: 0.2·RX·CX·ln(VDD − VSS) above 0.01 µF, 5 kΩ to 1 MΩ"},
	{"4538", 1, 0, false, 4e3, 10e6, 0, 100e-6, "R·C", "CD4538BC, from memory of National TL/F/6000; the 74HC4538 has 0.7·R·C"},
	{"74HC4538", 0.7, 0, false, 1e3, 10e6, 0, 100e-6, "0.7·R·C", "from memory of the 74HC4538 sheets"},
	{"555", math.Log(3), 0, false, 1e3, 10e6, 100e-12, 1000e-6, "1.1·R·C", "NE555, TI SLFS022 (ln 3)"},
	{"556", math.Log(3), 0, false, 1e3, 10e6, 100e-12, 1000e-6, "1.1·R·C", "NE556, TI SLFS023 (ln 3)"},
}

func oneShotCalculators() []Calculator {
	var words []string
	for _, m := range monostables {
		words = append(words, m.part)
	}
	return []Calculator{
		{
			Name: "one-shot", Title: "One-shot time by part", Formula: "t = K·R·C; K of the part: 74121 and 221 0.7, 74123 0.28·(1 + 0.7 kΩ/R), LS123 0.45, 4047 2.48, 4098 0.5, 4528 0.2·ln VDD, 4538 1, 555 1.1",
			Source: "the data sheet of each part, named with the answer", Range: "resistor and capacitor within the sheet's limits; small capacitors are read from the sheet's graph",
			Inputs: []Input{{Name: "part", Title: "Part", Words: words, Default: ""}, may(ohms("resistor", "Timing resistor", ""), "or give the time"), farads("capacitance", "Timing capacitor", ""),
				may(Input{Name: "time", Title: "Wanted time", Unit: "s", Min: 1e-9, Max: 1e6}, "gives the resistor"), volts("supply", "Supply", 2, 20, "5")},
			Run: oneShot,
		},
		{
			Name: "oscillator", Title: "RC oscillator by part", Formula: "555 f = 1.44 / ((RA + 2·RB)·C); 4047 T = 4.40·R·C at Q; 4060 f = 1/(2.3·R·C); Schmitt inverter T = R·C·ln((VDD − VT−)·VT+ / ((VDD − VT+)·VT−))",
			Source: "NE555 TI SLFS022; HEF4047B (4.40); HEF4060B (2.3, from memory); ON Semiconductor MC14106B figure 5; 40106 thresholds 2.9 and 1.9 V at 5 V from memory",
			Range:  "well below the part's highest frequency",
			Inputs: []Input{{Name: "part", Title: "Part", Words: []string{"555", "4047", "4060", "40106", "74HC14"}, Default: "555"}, ohms("resistor", "Timing resistor (555: RB)", ""), farads("capacitance", "Timing capacitor", ""),
				may(ohms("ra", "555: RA, supply to pin 7", ""), "1 kΩ when left out"), volts("supply", "Supply", 2, 20, "5"), may(volts("rising", "Rising threshold", 0.1, 20, ""), "Schmitt inverters"), may(volts("falling", "Falling threshold", 0.1, 20, ""), "Schmitt inverters")},
			Run: oscillator,
		},
	}
}

func oneShot(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	var m monostable
	for _, x := range monostables {
		if x.part == w["part"] {
			m = x
		}
	}
	k, how := m.factor, digits(m.factor)
	if m.log {
		k = m.factor * math.Log(n["supply"])
		how = fmt.Sprintf("%s · ln %s", digits(m.factor), digits(n["supply"]))
	}
	c := n["capacitance"]
	res, have := n["resistor"]
	want, wanted := n["time"]
	switch {
	case !have && !wanted:
		return r, wrong("resistor", "give the timing resistor, or the time that is wanted")
	case !have:
		exact := want/(k*c) - m.extra
		if exact <= 0 {
			return r, wrong("time", "%s is too short for %s: take a smaller capacitor", show(want, "s"), show(c, "F"))
		}
		r.add(line("exact", "Resistor for "+show(want, "s"), exact, "Ω", "%s / (%s · %s)%s", show(want, "s"), how, show(c, "F"), minus(m.extra)))
		res, _ = Nearest("E24", exact)
		r.add(line("resistor", "Take (E24)", res, "Ω", ""))
	}
	arithmetic := fmt.Sprintf("%s · %s · %s", how, show(res, "Ω"), show(c, "F"))
	if m.extra > 0 {
		arithmetic += fmt.Sprintf(" · (1 + %s / %s)", show(m.extra, "Ω"), show(res, "Ω"))
	}
	r.add(line("time", "Pulse", k*c*(res+m.extra), "s", "%s", arithmetic), word("source", "Constant", m.formula+", "+m.source, ""))
	if res < m.rMin || res > m.rMax {
		r.warn("%s is outside the %s to %s that the %s allows", show(res, "Ω"), show(m.rMin, "Ω"), show(m.rMax, "Ω"), m.part)
	}
	if c < m.cMin {
		r.warn("below %s the formula does not hold: the sheet has a graph, and the pulse is longer than computed", show(m.cMin, "F"))
	}
	if c > m.cMax {
		r.warn("%s is more than the %s that the formula is given for", show(c, "F"), show(m.cMax, "F"))
	}
	if c >= 10e-6 {
		r.warn("an electrolytic's tolerance and leakage decide this time more than the formula does")
	}
	return r, nil
}

func minus(ohm float64) string {
	if ohm == 0 {
		return ""
	}
	return " − " + show(ohm, "Ω")
}

func oscillator(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	res, c, v := n["resistor"], n["capacitance"], n["supply"]
	switch part := w["part"]; part {
	case "555":
		ra, ok := n["ra"]
		if !ok {
			ra = 1e3
		}
		high, low := math.Ln2*(ra+res)*c, math.Ln2*res*c
		r.add(line("frequency", "Frequency", 1/(high+low), "Hz", "1.44 / ((%s + 2 · %s) · %s)", show(ra, "Ω"), show(res, "Ω"), show(c, "F")),
			line("high", "High for", high, "s", "0.693 · (%s + %s) · %s", show(ra, "Ω"), show(res, "Ω"), show(c, "F")), line("low", "Low for", low, "s", "0.693 · %s · %s", show(res, "Ω"), show(c, "F")))
		if ra < 1e3 {
			r.warn("RA below 1 kΩ overloads the discharge transistor")
		}
		if high+low < 2e-6 {
			r.warn("a bipolar 555 does not reach 500 kHz")
		}
	case "4047":
		r.add(line("period", "Period at Q", 4.4*res*c, "s", "4.40 · %s · %s", show(res, "Ω"), show(c, "F")), line("frequency", "Frequency at Q", 1/(4.4*res*c), "Hz", ""), line("osc", "Frequency at the oscillator output", 1/(2.2*res*c), "Hz", ""))
	case "4060":
		r.add(line("frequency", "Oscillator frequency", 1/(2.3*res*c), "Hz", "1 / (2.3 · %s · %s)", show(res, "Ω"), show(c, "F")), line("q14", "At the last output", 1/(2.3*res*c)/16384, "Hz", "÷ 2¹⁴"))
	default:
		up, okU := n["rising"]
		down, okD := n["falling"]
		if !okU {
			up = v * 0.58
		}
		if !okD {
			down = v * 0.38
		}
		if !(down > 0 && up > down && up < v) {
			return r, wrong("rising", "the thresholds must lie in order between 0 V and %s", show(v, "V"))
		}
		t := res * c * math.Log((v-down)*up/((v-up)*down))
		r.add(line("period", "Period", t, "s", "%s · %s · ln((%s − %s) · %s / ((%s − %s) · %s))", show(res, "Ω"), show(c, "F"), show(v, "V"), show(down, "V"), show(up, "V"), show(v, "V"), show(up, "V"), show(down, "V")),
			line("frequency", "Frequency", 1/t, "Hz", ""))
		if !okU || !okD {
			r.warn("typical thresholds are taken; they spread by a third, and the frequency with them")
		}
	}
	return r, nil
}
