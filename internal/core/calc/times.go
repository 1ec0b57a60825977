package calc

// Dividers, RC times and filter corners.

import "math"

func timeCalculators() []Calculator {
	r, c := ohms("resistor", "Resistor", ""), farads("capacitance", "Capacitor", "")
	return []Calculator{
		{
			Name: "divider", Title: "Voltage divider", Formula: "V = Vin·R2 / (R1 + R2), source resistance R1 ∥ R2, load in parallel with R2",
			Source: "Ohm's law", Range: "DC; tolerance taken as worst case of both resistors",
			Inputs: []Input{volts("input", "Voltage at the top", -100e3, 100e3, "5"), volts("bottom", "Voltage at the bottom", -100e3, 100e3, "0"), ohms("r1", "Upper resistor", ""), ohms("r2", "Lower resistor", ""),
				may(ohms("load", "Load to the bottom", ""), "a meter has 10 MΩ"), {Name: "tolerance", Title: "Resistor tolerance", Unit: "%", Default: "5", Min: 0, Max: 0.5}},
			Run: divider,
		},
		{
			Name: "rc", Title: "RC time to a threshold", Formula: "t = R·C·ln((end − start) / (end − threshold)); 10–90 % rise = 2.2·R·C",
			Source: "standard textbook relation", Range: "constant R and C, no load current at the threshold; electrolytics are −20…+50 %",
			Inputs: []Input{r, c, volts("start", "Starting voltage", -1000, 1000, "0"), volts("end", "Voltage it heads for", -1000, 1000, "5"), may(volts("threshold", "Threshold", -1000, 1000, ""), "TTL 1.4, Schmitt 74LS14 1.6, CMOS half the supply; 63 % when left out")},
			Run:    rcTime,
		},
		{
			Name: "filter", Title: "Filter corner", Formula: "fc = 1/(2π·R·C), R/(2π·L) or 1/(2π·√(L·C))",
			Source: "standard textbook relation", Range: "low source and high load impedance",
			Inputs: []Input{{Name: "kind", Title: "Kind", Words: []string{"rc-low", "rc-high", "rl-low", "lc"}, Default: "rc-low", Help: "low-pass or high-pass"},
				may(r, ""), may(c, ""), may(Input{Name: "inductance", Title: "Inductor", Unit: "H", Min: 1e-10, Max: 1000}, ""), may(hertz("at", "Level at this frequency", ""), "gives level and phase")},
			Run: filter,
		},
		{
			Name: "sallen-key", Title: "Second-order low-pass with unity gain", Formula: "f0 = 1/(2π·√(R1·R2·C1·C2)), Q = √(R1·R2·C1·C2) / (C2·(R1 + R2))",
			Source: "Sallen and Key 1955, standard textbook relation", Range: "ideal amplifier; C1 to the output, C2 to ground",
			Inputs: []Input{ohms("r1", "R1", ""), ohms("r2", "R2", ""), farads("c1", "C1, to the output", ""), farads("c2", "C2, to ground", "")},
			Run: func(n map[string]float64, _ map[string]string) (Result, error) {
				var r Result
				root := math.Sqrt(n["r1"] * n["r2"] * n["c1"] * n["c2"])
				q := root / (n["c2"] * (n["r1"] + n["r2"]))
				r.add(line("frequency", "Corner frequency", 1/(2*math.Pi*root), "Hz", "1 / (2π · √(%s · %s · %s · %s))", show(n["r1"], "Ω"), show(n["r2"], "Ω"), show(n["c1"], "F"), show(n["c2"], "F")),
					line("q", "Q", q, "", "√(R1·R2·C1·C2) / (%s · (%s + %s))", show(n["c2"], "F"), show(n["r1"], "Ω"), show(n["r2"], "Ω")))
				if q > 5 {
					r.warn("a Q above 5 depends much on the parts' tolerance and on the amplifier")
				}
				return r, nil
			},
		},
	}
}

func divider(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	r1, r2, top, bottom := n["r1"], n["r2"], n["input"], n["bottom"]
	low := r2
	if l, ok := n["load"]; ok {
		low = r2 * l / (r2 + l)
	}
	at := func(a, b float64) float64 { return bottom + (top-bottom)*b/(a+b) }
	v := at(r1, r2)
	r.add(line("voltage", "Voltage at the tap", v, "V", "%s + (%s − %s) · %s / (%s + %s)", show(bottom, "V"), show(top, "V"), show(bottom, "V"), show(r2, "Ω"), show(r1, "Ω"), show(r2, "Ω")))
	if low != r2 {
		r.add(line("loaded", "With the load", at(r1, low), "V", "%s + (%s − %s) · %s / (%s + %s)", show(bottom, "V"), show(top, "V"), show(bottom, "V"), show(low, "Ω"), show(r1, "Ω"), show(low, "Ω")))
		if math.Abs(at(r1, low)-v) > 0.1*math.Abs(top-bottom) {
			r.warn("the load moves the tap by more than a tenth of the span")
		}
	}
	t := n["tolerance"]
	a, b := at(r1*(1+t), low*(1-t)), at(r1*(1-t), low*(1+t))
	i := (top - bottom) / (r1 + low)
	r.add(line("from", "Spread from", math.Min(a, b), "V", ""), line("to", "to", math.Max(a, b), "V", ""),
		line("source", "Source resistance", r1*r2/(r1+r2), "Ω", "%s · %s / (%s + %s)", show(r1, "Ω"), show(r2, "Ω"), show(r1, "Ω"), show(r2, "Ω")),
		line("current", "Current", i, "A", "(%s − %s) / (%s + %s)", show(top, "V"), show(bottom, "V"), show(r1, "Ω"), show(low, "Ω")))
	if p := i * i * math.Max(r1, low); p > 0.125 {
		rating(&r, p)
	}
	return r, nil
}

func rcTime(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	tau := n["resistor"] * n["capacitance"]
	r.add(line("tau", "Time constant", tau, "s", "%s · %s", show(n["resistor"], "Ω"), show(n["capacitance"], "F")))
	start, end := n["start"], n["end"]
	if start == end {
		return r, wrong("end", "it starts where it ends, so nothing changes")
	}
	th, ok := n["threshold"]
	if !ok {
		th = start + (end-start)*(1-1/math.E)
	}
	share := (end - start) / (end - th)
	if end == th || share < 1 || math.IsInf(share, 0) {
		return r, wrong("threshold", "%s is not passed on the way from %s to %s", show(th, "V"), show(start, "V"), show(end, "V"))
	}
	r.add(line("time", "Time to "+show(th, "V"), tau*math.Log(share), "s", "%s · ln((%s − %s) / (%s − %s))", show(tau, "s"), show(end, "V"), show(start, "V"), show(end, "V"), show(th, "V")),
		line("rise", "10–90 % rise", tau*math.Log(9), "s", "2.2 · %s", show(tau, "s")), line("settled", "Settled to 1 %", tau*math.Log(100), "s", "4.6 · %s", show(tau, "s")))
	if n["resistor"] > 1e6 && n["capacitance"] > 1e-6 {
		r.warn("the leakage of a large electrolytic counts beside %s: the time becomes long or never ends", show(n["resistor"], "Ω"))
	}
	return r, nil
}

func filter(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	kind := w["kind"]
	need := map[string][]string{"rc-low": {"resistor", "capacitance"}, "rc-high": {"resistor", "capacitance"}, "rl-low": {"resistor", "inductance"}, "lc": {"inductance", "capacitance"}}[kind]
	for _, f := range need {
		if _, ok := n[f]; !ok {
			return r, wrong(f, "is needed for %s", kind)
		}
	}
	res, c, l := n["resistor"], n["capacitance"], n["inductance"]
	var f float64
	switch kind {
	case "rl-low":
		f = res / (2 * math.Pi * l)
		r.add(line("frequency", "Corner frequency", f, "Hz", "%s / (2π · %s)", show(res, "Ω"), show(l, "H")))
	case "lc":
		f = 1 / (2 * math.Pi * math.Sqrt(l*c))
		r.add(line("frequency", "Resonance", f, "Hz", "1 / (2π · √(%s · %s))", show(l, "H"), show(c, "F")), line("impedance", "Impedance there", math.Sqrt(l/c), "Ω", "√(%s / %s)", show(l, "H"), show(c, "F")))
	default:
		f = 1 / (2 * math.Pi * res * c)
		r.add(line("frequency", "Corner frequency", f, "Hz", "1 / (2π · %s · %s)", show(res, "Ω"), show(c, "F")))
	}
	at, ok := n["at"]
	if !ok || kind == "lc" {
		return r, nil
	}
	x := at / f
	gain, phase := 1/math.Hypot(1, x), -math.Atan(x)
	if kind == "rc-high" {
		gain, phase = x/math.Hypot(1, x), math.Pi/2-math.Atan(x)
	}
	db := line("level", "Level at "+show(at, "Hz"), 20*math.Log10(gain), "dB", "")
	db.Text = signed(db.Value) + " dB"
	ph := line("phase", "Phase there", phase*180/math.Pi, "°", "")
	ph.Text = signed(ph.Value) + "°"
	r.add(db, ph)
	return r, nil
}
