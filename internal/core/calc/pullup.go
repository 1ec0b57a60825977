package calc

// Pull-up resistors of open-collector nets.

import (
	"math"
	"slices"
	"strings"
)

// Loading is what a family draws and gives on a 5 V net; amperes and volts, worst case over temperature.
type Loading struct {
	Family   string
	VOL, IOL float64 // guaranteed low of an open-collector output, at this current
	VOH      float64 // level that a load of the family must get as a high
	IOH      float64 // leakage of an open-collector output that is off
	IIH, IIL float64 // input currents, magnitudes
}

// loadings, as the data sheets print them. VOH is the family's own guaranteed high where loads take it, VIH of the load where that is higher.
// 74: Fairchild DS006613; LS: DS006439 and TI SDLS025B; S: DS006489, input currents from memory; HC, HCT: MM74HC02, MM74HCT00 (inputs ±1 µA,
// outputs off 10 µA from memory of the 74HC03 sheet); 4000: National TL/F/5939; ALS, F, nmos: from memory.
var loadings = []Loading{
	{"74", 0.4, 16e-3, 2.4, 250e-6, 40e-6, 1.6e-3},
	{"LS", 0.5, 8e-3, 2.7, 100e-6, 20e-6, 0.4e-3},
	{"S", 0.5, 20e-3, 2.7, 250e-6, 50e-6, 2e-3},
	{"ALS", 0.5, 8e-3, 2.7, 100e-6, 20e-6, 0.1e-3},
	{"F", 0.5, 20e-3, 2.7, 250e-6, 20e-6, 0.6e-3},
	{"HC", 0.33, 4e-3, 3.5, 10e-6, 1e-6, 1e-6},
	{"HCT", 0.33, 4e-3, 2.4, 10e-6, 1e-6, 1e-6},
	{"4000", 0.4, 0.36e-3, 3.5, 1e-6, 0.3e-6, 0.3e-6},
	{"nmos", 0.4, 1.6e-3, 2.4, 10e-6, 10e-6, 10e-6},
}

// LoadingOf returns the figures of a family of the part library (74 LS S ALS F HC HCT 4000 nmos cmos ttl); ok is false for another word.
func LoadingOf(family string) (Loading, bool) {
	switch strings.ToUpper(family) {
	case "TTL", "H", "L":
		family = "74"
	case "CMOS":
		family = "HC"
	case "AS":
		family = "S"
	}
	for _, l := range loadings {
		if strings.EqualFold(l.Family, family) {
			return l, true
		}
	}
	return Loading{}, false
}

func levelCalculators() []Calculator {
	var words []string
	for _, l := range loadings {
		words = append(words, l.Family)
	}
	own := "of the family when left out"
	micro := func(name, title, help string) Input {
		return may(Input{Name: name, Title: title, Unit: "A", Min: 0, Max: 10}, help)
	}
	return []Calculator{{
		Name: "pull-up", Title: "Pull-up range of an open-collector net", Formula: "R max = (VCC min − VOH) / (drivers·IOH + loads·IIH); R min = (VCC max − VOL) / (IOL − loads·IIL)",
		Source: "printed in DM74LS12, National TL/F/6351; standard TTL with 4 outputs and 3 inputs gives 2321 Ω and 410 Ω there",
		Range:  "static levels; the edge slows with R·C, so take the smaller values for fast or long nets",
		Inputs: []Input{{Name: "driver", Title: "Family of the open-collector outputs", Words: words, Default: "LS"}, {Name: "load", Title: "Family of the inputs", Words: words, Default: "LS"},
			{Name: "drivers", Title: "Outputs on the net", Default: "1", Min: 1, Max: 1000}, {Name: "loads", Title: "Inputs on the net", Default: "1", Min: 0, Max: 1000},
			volts("vcc", "Supply of the pull-up", 1, 30, "5"), {Name: "tolerance", Title: "Supply tolerance", Unit: "%", Default: "5", Min: 0, Max: 0.5},
			may(volts("voh", "High level needed", 0.5, 30, ""), own), may(volts("vol", "Low level allowed", 0, 5, ""), own),
			micro("iol", "Current an output sinks", own), micro("ioh", "Leakage of an output that is off", own), micro("iih", "High current of one input", own), micro("iil", "Low current of one input", own),
			micro("iih-sum", "High current of all inputs", "instead of loads · iih, for mixed families"), micro("iil-sum", "Low current of all inputs", "instead of loads · iil"),
			may(farads("capacitance", "Capacitance of the net", ""), "gives the rise time; about 5 pF for each pin and 1 pF for each cm"),
			may(ohms("fitted", "Resistor fitted", ""), "is checked against the range")},
		Run: pullUp,
	}}
}

func pullUp(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	drv, _ := LoadingOf(w["driver"])
	load, _ := LoadingOf(w["load"])
	get := func(name string, own float64) float64 {
		if v, ok := n[name]; ok {
			return v
		}
		return own
	}
	voh, vol := get("voh", load.VOH), get("vol", drv.VOL)
	iol, ioh := get("iol", drv.IOL), get("ioh", drv.IOH)
	high := get("iih-sum", n["loads"]*get("iih", load.IIH))
	low := get("iil-sum", n["loads"]*get("iil", load.IIL))
	if _, given := n["voh"]; !given && load.VOH >= 3.5 {
		voh = 0.7 * n["vcc"]
	}
	vmin, vmax := n["vcc"]*(1-n["tolerance"]), n["vcc"]*(1+n["tolerance"])
	if vmin <= voh {
		return r, wrong("voh", "the supply may be as low as %s, so no resistor reaches %s", show(vmin, "V"), show(voh, "V"))
	}
	if iol <= low {
		return r, wrong("loads", "the inputs give %s, more than the %s that one output sinks: no resistor works", show(low, "A"), show(iol, "A"))
	}
	leak := n["drivers"]*ioh + high
	lo := (vmax - vol) / (iol - low)
	r.add(line("least", "R min", lo, "Ω", "(%s − %s) / (%s − %s)", show(vmax, "V"), show(vol, "V"), show(iol, "A"), show(low, "A")))
	hi := math.Inf(1)
	if leak > 0 {
		hi = (vmin - voh) / leak
		r.add(line("most", "R max", hi, "Ω", "(%s − %s) / (%s · %s + %s)", show(vmin, "V"), show(voh, "V"), digits(n["drivers"]), show(ioh, "A"), show(high, "A")))
	}
	if hi < lo {
		r.warn("R max is below R min: no resistor satisfies both; use fewer loads or a stronger driver")
		return r, nil
	}
	top := math.Min(hi, 1e6)
	var fit []string
	for _, v := range between("E12", lo, top, 200) {
		fit = append(fit, short(v))
	}
	if len(fit) > 8 {
		fit = slices.Concat(fit[:4], []string{"…"}, fit[len(fit)-3:])
	}
	r.add(word("fit", "E12 values that do", strings.Join(fit, " "), ""))
	if mid, ok := Nearest("E12", math.Sqrt(lo*top)); ok && mid >= lo && mid <= top {
		r.add(line("take", "In the middle", mid, "Ω", ""))
		if c, ok := n["capacitance"]; ok {
			r.add(line("rise", "Rise to the high level with it", mid*c*math.Log((n["vcc"]-vol)/(n["vcc"]-voh)), "s", "%s · %s · ln((%s − %s) / (%s − %s))",
				show(mid, "Ω"), show(c, "F"), show(n["vcc"], "V"), show(vol, "V"), show(n["vcc"], "V"), show(voh, "V")))
		}
	}
	if f, ok := n["fitted"]; ok {
		switch {
		case f < lo*(1-1e-9):
			r.warn("%s is below the range: the low level rises above %s", show(f, "Ω"), show(vol, "V"))
		case f > hi*(1+1e-9):
			r.warn("%s is above the range: the high level may stay below %s", show(f, "Ω"), show(voh, "V"))
		default:
			r.add(word("verdict", "The fitted "+show(f, "Ω"), "is in the range", ""))
		}
	}
	return r, nil
}
