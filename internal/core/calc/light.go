package calc

// Series resistors of LEDs and multiplexed digits.

func lightCalculators() []Calculator {
	led := []Input{volts("supply", "Supply", 0.5, 400, "5"), volts("forward", "Forward drop of the LED", 0.3, 10, "1.8"), volts("sat", "Drop of the driver when on", 0, 5, "0.4")}
	return []Calculator{
		{
			Name: "led", Title: "Series resistor of an LED", Formula: "R = (supply − forward − driver) / I",
			Source: "Ohm's law; forward drops red 1.6–2.0 V, yellow and green 2.0–2.4 V, blue and white 3.0–3.4 V: common practice, no source",
			Range:  "steady current; the forward drop is taken as constant",
			Inputs: append(led[:3:3], may(amps("current", "Wanted current", ""), "10 mA when neither it nor the resistor is given"), may(ohms("resistor", "Resistor fitted", ""), "gives the current instead"),
				Input{Name: "leds", Title: "LEDs in series", Default: "1", Min: 1, Max: 100}),
			Run: led1,
		},
		{
			Name: "segments", Title: "Segment resistors of a multiplexed display", Formula: "peak = average·digits; R = (supply − forward − segment driver − digit driver) / peak; digit driver = segments·peak",
			Source: "Ohm's law and the duty of the scan; common practice, no source", Range: "every digit gets the same share of the time",
			Inputs: append(led[:2:2], volts("sat", "Drop of the segment driver", 0, 5, "0.4"), volts("digit", "Drop of the digit driver", 0, 5, "0.7"), amps("average", "Average segment current", "5m"),
				Input{Name: "digits", Title: "Digits that share the segments", Default: "4", Min: 1, Max: 64}, Input{Name: "segments", Title: "Segments lit at once", Default: "8", Min: 1, Max: 64},
				Input{Name: "most", Title: "Peak current the display stands", Unit: "A", Default: "60m", Min: 1e-4, Max: 10}),
			Run: segments,
		},
	}
}

func led1(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	left := n["supply"] - n["leds"]*n["forward"] - n["sat"]
	if left <= 0 {
		return r, wrong("supply", "%s does not reach %s of LED and driver drop", show(n["supply"], "V"), show(n["leds"]*n["forward"]+n["sat"], "V"))
	}
	how := "(" + show(n["supply"], "V") + " − " + digits(n["leds"]) + " · " + show(n["forward"], "V") + " − " + show(n["sat"], "V") + ")"
	res, fitted := n["resistor"]
	if !fitted {
		i, ok := n["current"]
		if !ok {
			i = 10e-3
		}
		exact := left / i
		r.add(line("exact", "Resistor", exact, "Ω", "%s / %s", how, show(i, "A")))
		var found bool
		if res, found = above("E24", exact*(1-1e-9)); !found {
			return r, wrong("current", "no resistor gives %s", show(i, "A"))
		}
		r.add(line("resistor", "Take (E24)", res, "Ω", ""))
	}
	i := left / res
	p := i * i * res
	r.add(line("current", "Current", i, "A", "%s / %s", how, show(res, "Ω")), line("power", "Power in the resistor", p, "W", "(%s)² · %s", show(i, "A"), show(res, "Ω")))
	if i > 30e-3 {
		r.warn("%s is more than the usual small LED stands (20 to 30 mA)", show(i, "A"))
	}
	if left < 0.5 {
		r.warn("only %s is left for the resistor: the current then depends on the LED and on the supply", show(left, "V"))
	}
	rating(&r, p)
	return r, nil
}

// rating warns when a quarter-watt resistor would run above half its rating.
func rating(r *Result, p float64) {
	if p > 0.125 {
		r.warn("%s is more than half of a quarter watt: take a bigger resistor", show(p, "W"))
	}
}

func segments(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	left := n["supply"] - n["forward"] - n["sat"] - n["digit"]
	if left <= 0 {
		return r, wrong("supply", "%s does not reach %s of segment and driver drops", show(n["supply"], "V"), show(n["supply"]-left, "V"))
	}
	peak := n["average"] * n["digits"]
	exact := left / peak
	res, ok := above("E24", exact*(1-1e-9))
	if !ok {
		return r, wrong("average", "no resistor gives %s", show(peak, "A"))
	}
	actual := left / res
	r.add(line("peak", "Peak segment current", peak, "A", "%s · %s", show(n["average"], "A"), digits(n["digits"])),
		line("exact", "Segment resistor", exact, "Ω", "(%s − %s − %s − %s) / %s", show(n["supply"], "V"), show(n["forward"], "V"), show(n["sat"], "V"), show(n["digit"], "V"), show(peak, "A")),
		line("resistor", "Take (E24)", res, "Ω", ""),
		line("average", "Average current with it", actual/n["digits"], "A", "%s / %s / %s", show(left, "V"), show(res, "Ω"), digits(n["digits"])),
		line("driver", "Digit driver current", actual*n["segments"], "A", "%s · %s", digits(n["segments"]), show(actual, "A")),
		line("power", "Power in one resistor, all digits lit", actual*actual*res, "W", "(%s)² · %s", show(actual, "A"), show(res, "Ω")))
	if actual > n["most"] {
		r.warn("the peak of %s is more than the display stands", show(actual, "A"))
	}
	if n["digits"] > 1 {
		r.caution("a scan that stops leaves one digit with the full %s: do not single-step it for long", show(actual, "A"))
	}
	rating(&r, actual*actual*res)
	return r, nil
}
