package calc

// Linear supplies: rectifier and reservoir, regulator headroom and heat.

import "math"

const (
	fullWave = "full"
	halfWave = "half"
)

func rectifier() Input {
	return Input{Name: "rectifier", Title: "Rectifier", Words: []string{fullWave, halfWave}, Default: fullWave, Help: "full: bridge or two diodes, half: one diode"}
}

func mains() Input {
	return Input{Name: "frequency", Title: "Mains frequency", Unit: "Hz", Default: "50", Min: 1, Max: 100e3}
}

func supplyCalculators() []Calculator {
	load := amps("current", "Load current", "")
	c := farads("capacitance", "Reservoir capacitor", "")
	return []Calculator{
		{
			Name: "ripple", Title: "Ripple on a reservoir capacitor", Formula: "ΔV = I / (2·f·C) full wave, I / (f·C) half wave; peak = √2·secondary − diode drop; valley = peak − ΔV",
			Source: "standard textbook relation: the capacitor alone carries the load between two charging peaks",
			Range:  "constant load current, ripple below a third of the peak; reads up to a third too high, since the charging time is left out",
			Inputs: []Input{load, c, mains(), rectifier(),
				may(volts("secondary", "Secondary voltage, loaded", 0.5, 500, ""), "rms; gives peak and valley"),
				note(volts("drop", "Diode drop in the charging path", 0, 10, "2"), "about 1 V for each diode at the charging peak")},
			Run: ripple,
		},
		{
			Name: "reservoir", Title: "Reservoir capacitor for a wanted ripple", Formula: "C = I·t / ΔV, t = 1/(2·f) full wave, 1/f half wave; ΔV = √2·secondary − diode drop − lowest input",
			Source: "as ripple; a published worked example takes 1 A, 60 Hz, 12.6 V and a need of 12.2 V to 1488 µF",
			Range:  "as ripple",
			Inputs: []Input{load, mains(), rectifier(),
				may(volts("droop", "Droop allowed", 1e-3, 500, ""), "peak to peak; or give secondary and lowest"),
				may(volts("secondary", "Secondary voltage, loaded", 0.5, 500, ""), "rms"),
				may(volts("lowest", "Lowest voltage that still does", 0.1, 600, ""), "regulator output plus drop-out"),
				note(volts("drop", "Diode drop in the charging path", 0, 10, "2"), "0 when it is counted in lowest"),
				{Name: "tolerance", Title: "Capacitor tolerance to allow for", Unit: "%", Default: "20", Min: 0, Max: 0.9}},
			Run: reservoir,
		},
		{
			Name: "regulator", Title: "Regulator headroom at low mains, dissipation and heat sink", Formula: "valley = √2·secondary·mains − diode drop − ΔV; headroom = valley − output − drop-out; P = (mean input − output)·I + input·IQ; Rθ sink = (Tj − Ta)/P − RθJC − RθCS",
			Source: "Fairchild LM78XX rev. 1.3.1 (drop-out 2 V typical at 1 A, quiescent current 8 mA max, 35 V in max); 5 K/W junction to case from memory of the same sheet",
			Range:  "linear series regulators; secondary voltage taken as proportional to the mains",
			Inputs: []Input{volts("secondary", "Secondary voltage, loaded", 0.5, 500, ""), load, c, mains(), rectifier(),
				volts("drop", "Diode drop in the charging path", 0, 10, "2"),
				volts("output", "Regulated output", 0.5, 400, "5"), volts("dropout", "Regulator drop-out", 0, 20, "2"),
				{Name: "low", Title: "Low mains", Unit: "%", Default: "-10", Min: -0.9, Max: 0}, {Name: "high", Title: "High mains", Unit: "%", Default: "10", Min: 0, Max: 0.5},
				amps("quiescent", "Regulator's own current", "8m"), volts("most", "Highest input the regulator stands", 1, 500, "35"),
				celsius("ambient", "Air around the sink", "40"), celsius("junction", "Hottest junction allowed", "125"),
				{Name: "case", Title: "Junction to case", Unit: "K/W", Default: "5", Min: 0, Max: 1000},
				{Name: "washer", Title: "Case to sink", Unit: "K/W", Default: "1", Min: 0, Max: 1000, Help: "mica or silicone washer with paste"},
				may(Input{Name: "sink", Title: "Heat sink fitted", Unit: "K/W", Min: 0, Max: 1000}, "gives the junction temperature")},
			Run: regulator,
		},
		{
			Name: "heatsink", Title: "Heat sink for a dissipation", Formula: "Tj = Ta + P·(RθJC + RθCS + RθSA)",
			Source: "thermal Ohm's law; common practice, no source", Range: "steady state, still air, sink fins upright",
			Inputs: []Input{{Name: "power", Title: "Dissipation", Unit: "W", Min: 1e-6, Max: 1e5}, celsius("ambient", "Air around the sink", "40"), celsius("junction", "Hottest junction allowed", "125"),
				{Name: "case", Title: "Junction to case", Unit: "K/W", Default: "5", Min: 0, Max: 1000}, {Name: "washer", Title: "Case to sink", Unit: "K/W", Default: "1", Min: 0, Max: 1000},
				may(Input{Name: "sink", Title: "Heat sink fitted", Unit: "K/W", Min: 0, Max: 1000}, "gives the junction temperature")},
			Run: func(n map[string]float64, _ map[string]string) (Result, error) {
				var r Result
				heat(&r, n, n["power"])
				return r, nil
			},
		},
	}
}

func celsius(name, title, def string) Input {
	return Input{Name: name, Title: title, Unit: "°C", Default: def, Min: -100, Max: 400}
}

// droop is the ripple and the time it lasts, with its arithmetic.
func droop(n map[string]float64, w map[string]string) (Line, float64) {
	i, c, f := n["current"], n["capacitance"], n["frequency"]
	if w["rectifier"] == halfWave {
		return line("ripple", "Ripple, peak to peak", i/(f*c), "V", "%s / (%s · %s)", show(i, "A"), show(f, "Hz"), show(c, "F")), 1 / f
	}
	return line("ripple", "Ripple, peak to peak", i/(2*f*c), "V", "%s / (2 · %s · %s)", show(i, "A"), show(f, "Hz"), show(c, "F")), 1 / (2 * f)
}

func ripple(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	dv, t := droop(n, w)
	r.add(dv, line("time", "Time between charging peaks", t, "s", ""))
	sec, ok := n["secondary"]
	if !ok {
		return r, nil
	}
	peak := sec*math.Sqrt2 - n["drop"]
	if peak <= 0 {
		return r, wrong("secondary", "the diode drop of %s leaves nothing of %s rms", show(n["drop"], "V"), show(sec, "V"))
	}
	valley := peak - dv.Value
	r.add(line("peak", "Peak on the capacitor", peak, "V", "√2 · %s − %s", show(sec, "V"), show(n["drop"], "V")))
	r.add(line("valley", "Valley on the capacitor", valley, "V", "%s − %s", show(peak, "V"), show(dv.Value, "V")))
	limits(&r, peak, dv.Value)
	return r, nil
}

// limits warns where the straight-line formula stops being one.
func limits(r *Result, peak, dv float64) {
	switch {
	case dv >= peak:
		r.warn("the ripple formula exceeds the peak voltage: the capacitor is empty before the next peak, so the valley is near 0 V")
	case dv > peak/3:
		r.warn("the ripple is more than a third of the peak: the straight-line formula reads too high here")
	}
	if peak > 60 {
		r.caution("the reservoir stands at %s: treat it as live until measured, and discharge it through a resistor", show(peak, "V"))
	}
}

func reservoir(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	dv, have := n["droop"]
	if !have {
		sec, okS := n["secondary"]
		low, okL := n["lowest"]
		if !okS || !okL {
			return r, wrong("droop", "give the droop, or both secondary and lowest")
		}
		peak := sec*math.Sqrt2 - n["drop"]
		dv = peak - low
		if dv <= 0 {
			return r, wrong("lowest", "the peak is only %s, so no capacitor keeps the valley at %s", show(peak, "V"), show(low, "V"))
		}
		r.add(line("droop", "Droop allowed", dv, "V", "√2 · %s − %s − %s", show(sec, "V"), show(n["drop"], "V"), show(low, "V")))
	}
	t := 1 / (2 * n["frequency"])
	if w["rectifier"] == halfWave {
		t = 1 / n["frequency"]
	}
	q := n["current"] * t
	c := q / dv
	r.add(line("charge", "Charge between two peaks", q, "A·s", "%s · %s", show(n["current"], "A"), show(t, "s")))
	r.add(line("capacitance", "Capacitance needed", c, "F", "%s / %s", show(q, "A·s"), show(dv, "V")))
	fit := c / (1 - n["tolerance"])
	if e, ok := above("E6", fit); ok {
		r.add(line("fit", "Fit at least", e, "F", "%s / (1 − %s), next in E6", show(c, "F"), show(n["tolerance"], "%")))
	}
	return r, nil
}

func regulator(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	dv, _ := droop(n, w)
	out, i := n["output"], n["current"]
	at := func(share float64) float64 { return n["secondary"]*math.Sqrt2*(1+share) - n["drop"] }
	peak, lowPeak, highPeak := at(0), at(n["low"]), at(n["high"])
	if lowPeak <= 0 {
		return r, wrong("secondary", "at low mains the diode drop leaves nothing of %s rms", show(n["secondary"], "V"))
	}
	valley, lowValley := peak-dv.Value, lowPeak-dv.Value
	need := out + n["dropout"]
	r.add(dv,
		line("peak", "Peak input", peak, "V", "√2 · %s − %s", show(n["secondary"], "V"), show(n["drop"], "V")),
		line("valley", "Valley input", valley, "V", "%s − %s", show(peak, "V"), show(dv.Value, "V")),
		line("headroom", "Headroom", valley-need, "V", "%s − (%s + %s)", show(valley, "V"), show(out, "V"), show(n["dropout"], "V")),
		line("valley-low", "Valley at low mains", lowValley, "V", "√2 · %s · %s − %s − %s", show(n["secondary"], "V"), show(1+n["low"], "%"), show(n["drop"], "V"), show(dv.Value, "V")),
		line("headroom-low", "Headroom at low mains", lowValley-need, "V", "%s − %s", show(lowValley, "V"), show(need, "V")))
	p := max(peak-dv.Value/2-out, 0)*i + max(peak-dv.Value/2, 0)*n["quiescent"]
	ph := max(highPeak-dv.Value/2-out, 0)*i + max(highPeak-dv.Value/2, 0)*n["quiescent"]
	r.add(line("dissipation", "Dissipation", p, "W", "(%s − %s) · %s + %s · %s", show(peak-dv.Value/2, "V"), show(out, "V"), show(i, "A"), show(peak-dv.Value/2, "V"), show(n["quiescent"], "A")),
		line("dissipation-high", "Dissipation at high mains", ph, "W", "(%s − %s) · %s + %s · %s", show(highPeak-dv.Value/2, "V"), show(out, "V"), show(i, "A"), show(highPeak-dv.Value/2, "V"), show(n["quiescent"], "A")))
	heat(&r, n, ph)
	limits(&r, peak, dv.Value)
	switch {
	case valley < need:
		r.warn("the regulator drops out at nominal mains: its output dips %s times a second", digits(dips(n, w)))
	case lowValley < need:
		r.warn("the regulator drops out at low mains")
	case lowValley-need < 0.5:
		r.warn("less than 0.5 V of headroom at low mains: an aged reservoir uses it up")
	}
	if highPeak > n["most"] {
		r.warn("the input peaks at %s at high mains, more than the %s the regulator stands", show(highPeak, "V"), show(n["most"], "V"))
	}
	return r, nil
}

func dips(n map[string]float64, w map[string]string) float64 {
	if w["rectifier"] == halfWave {
		return n["frequency"]
	}
	return 2 * n["frequency"]
}

// heat adds the sink that a dissipation needs and, when one is fitted, the junction's temperature.
func heat(r *Result, n map[string]float64, p float64) {
	if n["junction"] <= n["ambient"] {
		r.warn("the air is as hot as the junction may get")
		return
	}
	if p > 0 {
		sink := (n["junction"]-n["ambient"])/p - n["case"] - n["washer"]
		r.add(line("sink", "Heat sink, at most", sink, "K/W", "(%s − %s) / %s − %s − %s", show(n["junction"], "°C"), show(n["ambient"], "°C"), show(p, "W"), show(n["case"], "K/W"), show(n["washer"], "K/W")))
		if sink <= 0 {
			r.warn("no heat sink is good enough: the case alone is too hot at this dissipation")
		}
	}
	if s, ok := n["sink"]; ok {
		tj := n["ambient"] + p*(n["case"]+n["washer"]+s)
		r.add(line("temperature", "Junction temperature", tj, "°C", "%s + %s · (%s + %s + %s)", show(n["ambient"], "°C"), show(p, "W"), show(n["case"], "K/W"), show(n["washer"], "K/W"), show(s, "K/W")))
		if tj > n["junction"] {
			r.warn("the junction gets hotter than %s", show(n["junction"], "°C"))
		}
	}
	if p > 1 {
		r.caution("parts that dissipate %s burn fingers", show(p, "W"))
	}
}
