package calc

// Copper: what a track drops, and how far away a short is.

import "math"

const (
	resistivity = 1.72e-8 // Ω·m of annealed copper at 20 °C (IPC figure 1.72 µΩ·cm)
	tempco      = 0.0039  // per kelvin, from 20 °C
)

func copperCalculators() []Calculator {
	mm := func(name, title string, max float64, def string) Input {
		return Input{Name: name, Title: title, Unit: "mm", Default: def, Min: 1e-6, Max: max}
	}
	return []Calculator{{
		Name: "track", Title: "Copper drop of a track, and the distance to a short", Formula: "R = ρ·length / (width·thickness)·(1 + 0.0039·(T − 20 °C)), ρ = 1.72·10⁻⁸ Ω·m; 1 oz is 35 µm and 0.49 mΩ for each square",
		Source: "IPC resistivity of copper 1.72 µΩ·cm; its worked example 100 mm × 0.5 mm × 35 µm = 98.3 mΩ",
		Range:  "foil of even width; plating, solder and thieving at the edges change it by a fifth; contact resistance is not counted: probe with four wires",
		Inputs: []Input{may(mm("length", "Length", 100, ""), "or give the millivolts and the current"), mm("width", "Width", 10, "0.5"), {Name: "thickness", Title: "Copper", Unit: "µm", Default: "1 oz", Min: 1e-7, Max: 0.01, Help: "35 µm or 1 oz"},
			celsius("temperature", "Temperature", "20"), amps("current", "Current", "1"), may(volts("drop", "Measured drop", 1e-9, 100, ""), "gives the length of track it stands for")},
		Run: track,
	}}
}

func track(n map[string]float64, _ map[string]string) (Result, error) {
	var r Result
	w, t, i := n["width"], n["thickness"], n["current"]
	rho := resistivity * (1 + tempco*(n["temperature"]-20))
	square := rho / t
	r.add(line("square", "Each square", square, "Ω", "%s Ω·m / %s", digits(rho), show(t, "µm")))
	l, haveL := n["length"]
	drop, haveD := n["drop"]
	if !haveL && !haveD {
		return r, wrong("length", "give the length, or the drop that was measured")
	}
	if haveL {
		res := square * l / w
		r.add(line("squares", "Squares", l/w, "", "%s / %s", show(l, "mm"), show(w, "mm")), line("resistance", "Resistance", res, "Ω", "%s · %s", show(square, "Ω"), digits(l/w)),
			line("volts", "Drop", res*i, "V", "%s · %s", show(res, "Ω"), show(i, "A")), line("power", "Heat in the track", res*i*i, "W", ""))
	}
	if haveD {
		far := drop / i / square * w
		r.add(line("distance", "Track that drops "+show(drop, "V"), far, "mm", "%s / %s / %s · %s", show(drop, "V"), show(i, "A"), show(square, "Ω"), show(w, "mm")))
	}
	// IPC-2221 for outer layers: I = 0.048·ΔT^0.44·A^0.725 with A in square mils, from memory
	area := w * t / (25.4e-6 * 25.4e-6)
	rise := math.Pow(i/(0.048*math.Pow(area, 0.725)), 1/0.44)
	if rise < 1e4 {
		r.add(line("rise", "Rise in temperature", rise, "°C", "IPC-2221, outer layer"))
	}
	if rise > 100 {
		r.warn("the track would rise by more than 100 °C, outside the chart of IPC-2221 (from memory): it lifts or fuses")
	}
	if haveD && drop > 0.3 {
		r.caution("above 0.3 V junctions conduct and the current no longer flows in copper alone: limit the source to 0.3 to 0.5 V")
	}
	return r, nil
}
