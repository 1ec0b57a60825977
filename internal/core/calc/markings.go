package calc

// The calculators around markings: from the marking to the value, and from the value to every marking it can have.

import "strings"

func markCalculators() []Calculator {
	mark := func(help string) Input { return Input{Name: "mark", Title: "Marking or value", Text: true, Help: help} }
	tol := may(Input{Name: "tolerance", Title: "Tolerance", Unit: "%", Min: 0.00005, Max: 0.9}, "for the bands when a value is given")
	return []Calculator{
		{
			Name: "resistor", Title: "Resistor marking to value and back", Formula: "digits · 10^multiplier ± tolerance",
			Source: "IEC 60062:2016 (colour and letter codes; tolerance colours from memory), EIA-96", Range: "three to six bands, one black band for a link",
			Inputs: []Input{mark("brown black red gold, 4K7, R47J, 472, 4701, 01C or 4.7k"), tol},
			Run:    resistor,
		},
		{
			Name: "capacitor", Title: "Capacitor marking to value and back", Formula: "digits · 10^multiplier picofarads ± tolerance",
			Source: "IEC 60062:2016; voltage letters from memory of JIS C 5101", Range: "ceramic and film marks; colour-coded capacitors are not read",
			Inputs: []Input{mark("104K, 2A104J, 4n7, p68, 4R7D, 0.1 or 100 µF")},
			Run:    capacitor,
		},
		eSeries(),
	}
}

type letterSteps = []struct {
	f float64
	l string
}

func resistor(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	m, other, err := ResistorMark(w["mark"])
	if err != nil {
		return r, wrong("mark", "%v", err)
	}
	r.add(line("value", "Value", m.Value, "Ω", ""))
	r.Lines[0].How = m.How
	if t, ok := n["tolerance"]; ok {
		m.Low, m.High = t, t
	}
	spread(&r, m, "Ω")
	if m.PPM > 0 {
		r.add(line("ppm", "Temperature coefficient", m.PPM, "ppm/K", ""))
	}
	if other != "" {
		r.warn("it can be read otherwise too: %s", other)
	}
	if m.Value == 0 {
		return r, nil
	}
	for _, d := range []int{2, 3} {
		if b, ok := BandsOf(m.Value, d); ok {
			if t := toleranceBand(m.High); t != "" {
				b = append(b, t)
			}
			r.add(word([]string{"bands-2", "bands-3"}[d-2], []string{"Bands, two digits", "Bands, three digits"}[d-2], strings.Join(b, " "), ""))
		}
	}
	codes(&r, letterCode(m.Value, letterSteps{{1e9, "G"}, {1e6, "M"}, {1e3, "K"}, {1, "R"}}), digitCode(m.Value, 1, 2), digitCode(m.Value, 1, 3), eia96Of(m.Value))
	if !preferred(m.Value) {
		v, _ := Nearest("E24", m.Value)
		r.warn("%s is in no E-series: misread, drifted, or made to order; the nearest of E24 is %s", show(m.Value, "Ω"), show(v, "Ω"))
	}
	return r, nil
}

// spread adds what the tolerance allows.
func spread(r *Result, m Mark, u string) {
	lo, hi := m.Value*(1-m.Low), m.Value*(1+m.High)
	switch {
	case m.Absolute > 0:
		lo, hi = m.Value-m.Absolute, m.Value+m.Absolute
		r.add(line("tolerance", "Tolerance ±", m.Absolute, u, ""))
	case m.High == 0:
		return
	case m.Low == m.High:
		r.add(line("tolerance", "Tolerance ±", m.High, "%", ""))
	default:
		r.add(word("tolerance", "Tolerance", "−"+show(m.Low, "%")+" +"+show(m.High, "%"), ""))
	}
	r.add(line("from", "From", lo, u, ""), line("to", "to", hi, u, ""))
}

// codes adds the printed codes that a value has.
func codes(r *Result, letter, three, four, eia string) {
	for _, c := range []struct{ name, title, text string }{{"letter", "Letter code", letter}, {"three", "Three-character code", three}, {"four", "Four-character code", four}, {"eia96", "EIA-96", eia}} {
		if c.text != "" {
			r.add(word(c.name, c.title, c.text, ""))
		}
	}
}

func capacitor(_ map[string]float64, w map[string]string) (Result, error) {
	var r Result
	m, other, err := CapacitorMark(w["mark"])
	if err != nil {
		return r, wrong("mark", "%v", err)
	}
	r.add(line("value", "Value", m.Value, "F", ""))
	r.Lines[0].How = m.How
	spread(&r, m, "F")
	if m.Volts > 0 {
		r.add(line("volts", "Rated voltage", m.Volts, "V", ""))
	}
	r.add(word("nano", "In other words", digits(m.Value*1e12)+" pF, "+digits(m.Value*1e9)+" nF, "+digits(m.Value*1e6)+" µF", ""))
	codes(&r, letterCode(m.Value, letterSteps{{1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}, {1e-12, "p"}}), digitCode(m.Value, 1e-12, 2), "", "")
	if other != "" {
		r.warn("it can be read otherwise too: %s", other)
	}
	if m.Value > 0.1 {
		r.warn("%s is a lot of capacitance: check the prefix", show(m.Value, "F"))
	}
	if m.Value == 0 {
		return r, wrong("mark", "%.30q is no capacitance", w["mark"])
	}
	return r, nil
}
