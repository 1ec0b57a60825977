package calc

// Stored energy, and getting rid of it.

import "math"

// safeVolts is the touch limit that is usually quoted for DC (IEC 62368-1 ES1, from memory); the field lets the technician choose another.
const safeVolts = "60"

func discharge() Calculator {
	return Calculator{
		Name: "discharge", Title: "Energy in a capacitor, discharge resistor and time", Formula: "E = ½·C·V²; t = R·C·ln(V/safe); peak power = V²/R",
		Source: "standard textbook relation; 60 V DC as touch limit from memory of IEC 62368-1, check the local code",
		Range:  "one capacitor, no supply behind it; dielectric absorption lets large electrolytics recover some volts afterwards",
		Inputs: []Input{farads("capacitance", "Capacitance", ""), volts("voltage", "Voltage", 1e-3, 100e3, ""), volts("safe", "Safe voltage", 1e-3, 1000, safeVolts),
			may(ohms("resistor", "Discharge resistor", ""), "gives the time; or give the time"), may(Input{Name: "time", Title: "Time allowed", Unit: "s", Min: 1e-6, Max: 1e9}, "gives the resistor; 5 s when neither is given")},
		Run: func(n map[string]float64, _ map[string]string) (Result, error) {
			var r Result
			c, v, safe := n["capacitance"], n["voltage"], n["safe"]
			e := c * v * v / 2
			r.add(line("energy", "Stored energy", e, "J", "½ · %s · (%s)²", show(c, "F"), show(v, "V")))
			target := safe
			if v <= safe {
				target = v / 10
				r.add(word("touch", "To touch", "already below "+show(safe, "V")+"; the time is to a tenth", ""))
			}
			ln := math.Log(v / target)
			res, have := n["resistor"]
			if !have {
				t, ok := n["time"]
				if !ok {
					t = 5
				}
				most := t / (c * ln)
				r.add(line("most", "Resistor, at most", most, "Ω", "%s / (%s · ln(%s / %s))", show(t, "s"), show(c, "F"), show(v, "V"), show(target, "V")))
				var found bool
				if res, found = below("E12", most); !found {
					return r, wrong("time", "no resistor discharges this in %s", show(t, "s"))
				}
				r.add(line("resistor", "Take", res, "Ω", ""))
			}
			t, p := res*c*ln, v*v/res
			r.add(line("time", "Time to "+show(target, "V"), t, "s", "%s · %s · ln(%s / %s)", show(res, "Ω"), show(c, "F"), show(v, "V"), show(target, "V")),
				line("power", "Peak power in the resistor", p, "W", "(%s)² / %s", show(v, "V"), show(res, "Ω")),
				line("current", "Peak current", v/res, "A", "%s / %s", show(v, "V"), show(res, "Ω")),
				line("volt", "Time to 1 V", math.Max(0, res*c*math.Log(v)), "s", ""))
			if p > 5 && t < 5 {
				r.warn("the peak of %s lasts a moment: take a wire-wound resistor whose pulse rating covers %s, not one of %s", show(p, "W"), show(e, "J"), show(p, "W"))
			}
			if t > 60 {
				r.warn("that takes %s: a smaller resistor is quicker", show(t, "s"))
			}
			if v > safe {
				r.caution("unplug first; discharge through the resistor, never with a screwdriver, then measure; above %s treat it as live", show(safe, "V"))
			}
			if e > 10 {
				r.caution("%s can injure: insulated resistor leads, one hand, eye protection", show(e, "J"))
			}
			return r, nil
		},
	}
}
