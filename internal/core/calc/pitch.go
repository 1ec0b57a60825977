package calc

// Pitch: cents, notes, and control voltage against frequency.

import (
	"fmt"
	"math"
)

var noteNames = []string{"C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B"}

// noteOf names the nearest note of a frequency and the cents that it is off.
func noteOf(f, a4 float64) (name string, cents float64) {
	semis := 69 + 12*math.Log2(f/a4)
	n := math.Round(semis)
	k := (int(n)%12 + 12) % 12
	return fmt.Sprintf("%s%d", noteNames[k], int(math.Floor(n/12))-1), (semis - n) * 100
}

func pitchCalculators() []Calculator {
	a4 := hertz("a4", "Frequency of A4", "440")
	a4.Min, a4.Max = 100, 1000
	return []Calculator{
		{
			Name: "pitch", Title: "Cents and note of a frequency", Formula: "cents = 1200·log2(f / f0); f = A4·2^((n − 69)/12)",
			Source: "equal temperament, ISO 16 (A4 = 440 Hz)", Range: "any positive frequency",
			Inputs: []Input{hertz("frequency", "Measured frequency", ""), may(hertz("reference", "Frequency it should have", ""), "the nearest note when left out"), a4},
			Run: func(n map[string]float64, _ map[string]string) (Result, error) {
				var r Result
				f := n["frequency"]
				name, off := noteOf(f, n["a4"])
				r.add(word("note", "Nearest note", name, ""))
				ref, given := n["reference"]
				if !given {
					ref = f / math.Exp2(off/1200)
					r.add(line("target", "Frequency of "+name, ref, "Hz", ""))
				}
				c := 1200 * math.Log2(f/ref)
				l := line("cents", "Off by", c, "cent", "")
				l.Text = signed(c) + " cent"
				l.How = fmt.Sprintf("1200 · log2(%s / %s) = %s", digits(f)+" Hz", digits(ref)+" Hz", l.Text)
				r.add(l, line("ratio", "Ratio", f/ref, "", ""))
				if f < 10 || f > 20e3 {
					r.warn("outside what is heard as a pitch")
				}
				return r, nil
			},
		},
		{
			Name: "volts-per-octave", Title: "Control voltage and frequency", Formula: "f = base·2^(V / scale); scale = (V2 − V1) / log2(f2 / f1); 1 V/oct is 83.333 mV for a semitone and 0.8333 mV for a cent",
			Source: "definition; a published tuning procedure has 0.000 V → 32.7 Hz and 4.000 V → 523.2 Hz", Range: "exponential response; warm up half an hour first",
			Inputs: []Input{volts("voltage", "Control voltage", -100, 100, ""), {Name: "scale", Title: "Scale", Unit: "V/oct", Default: "1", Min: 0.01, Max: 10}, hertz("base", "Frequency at 0 V", "32.703"),
				may(hertz("frequency", "Frequency measured at that voltage", ""), "gives the error"), may(volts("voltage2", "Second control voltage", -100, 100, ""), "with frequency2: the scale as it is"), may(hertz("frequency2", "Frequency measured there", ""), ""), a4},
			Run: perOctave,
		},
		{
			Name: "hertz-per-volt", Title: "Control voltage and frequency, linear law", Formula: "f = scale·V; one octave doubles the voltage",
			Source: "definition", Range: "linear response; an octave down halves the voltage, so errors at the bottom count most",
			Inputs: []Input{volts("voltage", "Control voltage", 1e-6, 100, ""), {Name: "scale", Title: "Scale", Unit: "Hz/V", Default: "440", Min: 0.01, Max: 1e6}, may(hertz("frequency", "Frequency measured at that voltage", ""), "gives the error"), a4},
			Run: func(n map[string]float64, _ map[string]string) (Result, error) {
				var r Result
				f := n["scale"] * n["voltage"]
				r.add(line("expected", "Frequency", f, "Hz", "%s · %s", show(n["scale"], "Hz/V"), show(n["voltage"], "V")), noteLine(f, n["a4"]),
					line("semitone", "A semitone up needs", n["voltage"]*math.Exp2(1.0/12), "V", "%s · 2^(1/12)", show(n["voltage"], "V")))
				pitchError(&r, n, f)
				return r, nil
			},
		},
	}
}

func noteLine(f, a4 float64) Line {
	name, off := noteOf(f, a4)
	return word("note", "Note", name+" "+signed(off)+" cent", "")
}

func pitchError(r *Result, n map[string]float64, expected float64) {
	if f, ok := n["frequency"]; ok {
		c := 1200 * math.Log2(f/expected)
		l := line("error", "Measured is off by", c, "cent", "")
		l.Text = signed(c) + " cent"
		l.How = fmt.Sprintf("1200 · log2(%s Hz / %s Hz) = %s", digits(f), digits(expected), l.Text)
		r.add(l)
	}
}

func perOctave(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	v, scale := n["voltage"], n["scale"]
	octaves := v / scale
	if math.Abs(octaves) > 40 {
		return r, wrong("voltage", "%s is %s octaves from the base: nothing plays that", show(v, "V"), digits(octaves))
	}
	f := n["base"] * math.Exp2(octaves)
	r.add(line("expected", "Frequency", f, "Hz", "%s Hz · 2^(%s / %s)", digits(n["base"]), show(v, "V"), show(scale, "V/oct")), noteLine(f, n["a4"]),
		line("semitone", "A semitone is", scale/12, "V", "%s / 12", show(scale, "V")), line("cent", "A cent is", scale/1200, "V", "%s / 1200", show(scale, "V")))
	pitchError(&r, n, f)
	v2, ok2 := n["voltage2"]
	f2, okF2 := n["frequency2"]
	f1, okF1 := n["frequency"]
	switch {
	case ok2 != okF2:
		return r, wrong("frequency2", "voltage2 and frequency2 belong together")
	case ok2 && !okF1:
		return r, wrong("frequency", "the scale needs both frequencies")
	case ok2:
		oct := math.Log2(f2 / f1)
		if v2 == v || oct == 0 {
			return r, wrong("voltage2", "two different voltages and frequencies are needed")
		}
		is := (v2 - v) / oct
		r.add(line("scale", "Scale as it is", is, "V/oct", "(%s − %s) / log2(%s Hz / %s Hz)", show(v2, "V"), show(v, "V"), digits(f2), digits(f1)),
			line("base", "Frequency at 0 V as it is", f1/math.Exp2(v/is), "Hz", ""))
		off := (scale/is - 1) * 1200
		l := line("per-octave", "Error for each octave", off, "cent", "")
		l.Text = signed(off) + " cent"
		r.add(l)
		if is < 0 {
			r.warn("the frequency falls as the voltage rises")
		}
		if math.Abs(off) > 1 {
			r.warn("trim the scale first, then the offset, and repeat: each moves the other")
		}
	}
	return r, nil
}
