package elec

// This file is the table of kinds: terminals, parameters with their defaults and the range in which a value is
// believed. A value outside its range is a finding (check.go).

// param is one parameter of a kind. A value v is believed if lo <= v <= hi.
type param struct {
	name    string
	def     float64
	lo, hi  float64
	unit    string
	isValue bool // set from Device.Value
}

type kindSpec struct {
	terminals []string
	params    []param
	min, max  int // number of nodes; max 0 means any number that the repeat allows
	repeat    int // nodes come in groups of this many beyond min
}

// index returns the place of a parameter, or -1.
func (k *kindSpec) index(name string) int {
	for i := range k.params {
		if k.params[i].name == name {
			return i
		}
	}
	return -1
}

const never = 1e15 // ohms of what does not conduct

func ohms(name string, def float64) param { return param{name, def, 0, 1e15, "Ω", false} }
func frac(name string, def float64) param { return param{name, def, 0, 1, "", false} }
func num(name string, def, lo, hi float64, unit string) param {
	return param{name, def, lo, hi, unit, false}
}
func value(name string, def, lo, hi float64, unit string) param {
	return param{name, def, lo, hi, unit, true}
}

var junction = []param{
	num("is", 1e-14, 1e-40, 1, "A"), num("n", 1, 0.5, 20, ""), num("rs", 0, 0, 1e9, "Ω"),
	num("bv", 0, 0, 1e5, "V"), num("ibv", 1e-3, 1e-12, 10, "A"), num("nbv", 1, 0.5, 100, ""),
}

var bipolar = []param{
	num("npn", 1, -1, 1, ""), num("is", 1e-14, 1e-30, 1, "A"), num("bf", 100, 1e-6, 1e6, ""), num("br", 1, 1e-6, 1e6, ""),
	num("nf", 1, 0.5, 10, ""), num("nr", 1, 0.5, 10, ""), num("vaf", 0, 0, 1e6, "V"), num("var", 0, 0, 1e6, "V"),
	num("ikf", 0, 0, 1e6, "A"), num("ise", 0, 0, 1, "A"), num("ne", 1.5, 0.5, 10, ""), num("isc", 0, 0, 1, "A"), num("nc", 2, 0.5, 10, ""),
}

var amplifier = []param{
	num("vos", 0, -100, 100, "V"), num("ibias", 0, -1, 1, "A"), num("ios", 0, -1, 1, "A"), num("rin", 1e12, 1, 1e16, "Ω"),
	num("a0", 2e5, 0, 1e9, ""), num("gbw", 1e6, 1, 1e10, "Hz"), num("slew", 0.5e6, 1, 1e12, "V/s"),
	num("voh", 1, -1, 50, "V"), num("vol", 1, -1, 50, "V"), num("rout", 75, 0.01, 1e6, "Ω"), num("isc", 0.02, 1e-6, 100, "A"),
	num("iq", 1.5e-3, 0, 1, "A"), num("vmin", 2, 0, 50, "V"),
}

func with(a []param, b ...param) []param { return append(append([]param(nil), a...), b...) }

var kinds = map[Kind]*kindSpec{
	Resistor: {[]string{"a", "b"}, []param{value("ohms", 1e3, 1e-6, 1e13, "Ω")}, 2, 2, 0},
	Capacitor: {[]string{"+", "-"}, []param{value("farads", 1e-7, 1e-15, 100, "F"), ohms("esr", 0),
		num("leak", never, 1e-3, 1e16, "Ω")}, 2, 2, 0},
	Inductor: {[]string{"a", "b"}, []param{value("henries", 1e-3, 1e-12, 1e4, "H"), ohms("dcr", 0)}, 2, 2, 0},
	// ratio is secondary turns over primary turns; a ratio or winding resistance of 0 means as the first secondary.
	Transformer: {[]string{"p1", "p2", "s1", "s2"}, []param{num("lp", 10, 1e-9, 1e5, "H"), num("k", 0.9999, 0, 1, ""),
		ohms("rp", 30), num("ratio", 0.05, 1e-6, 1e6, ""), ohms("rs", 0.5), num("ratio2", 0, 0, 1e6, ""), ohms("rs2", 0),
		num("ratio3", 0, 0, 1e6, ""), ohms("rs3", 0)}, 4, 8, 2},
	// mid is the fraction of the track that lies between b and the wiper at half travel: 0.5 linear, 0.15 log.
	Potentiometer: {[]string{"a", "w", "b"}, []param{value("ohms", 1e4, 1e-3, 1e12, "Ω"), frac("position", 0.5),
		num("mid", 0.5, 0.01, 0.99, ""), ohms("wiper", 1), ohms("end", 1), frac("worn-at", 0), num("worn-width", 0, 0, 2, ""), ohms("worn-ohms", 0)}, 3, 3, 0},
	Switch: {[]string{"a", "b"}, []param{frac("closed", 1), ohms("ron", 0.05), ohms("roff", 1e12)}, 2, 2, 0},
	Fuse:   {[]string{"a", "b"}, []param{num("ohms", 0.05, 1e-6, 1e13, "Ω")}, 2, 2, 0},
	Diode:  {[]string{"a", "k"}, junction, 2, 2, 0},
	Zener:  {[]string{"a", "k"}, junction, 2, 2, 0},
	LED:    {[]string{"a", "k"}, junction, 2, 2, 0},
	// open is the number of a diode that is open, 0 for none: 1 ac1 to +, 2 ac2 to +, 3 - to ac1, 4 - to ac2
	Rectifier: {[]string{"ac1", "ac2", "+", "-"}, with(junction, num("open", 0, 0, 4, "")), 4, 4, 0},
	BJT:       {[]string{"c", "b", "e"}, bipolar, 3, 3, 0},
	// the second transistor is ratio times as large; r1 and r2 bridge the two base-emitter junctions.
	Darlington: {[]string{"c", "b", "e"}, with(bipolar, num("area", 5, 0.01, 1e4, ""), ohms("r1", 8e3), ohms("r2", 120)), 3, 3, 0},
	Array:      {[]string{"c", "b", "e"}, bipolar, 3, 0, 3},
	JFET: {[]string{"d", "g", "s"}, []param{num("nch", 1, -1, 1, ""), num("vto", -2, -100, 100, "V"), num("beta", 1e-3, 1e-9, 1e3, "A/V²"),
		num("lambda", 0, 0, 10, "1/V"), num("is", 1e-14, 1e-30, 1, "A")}, 3, 3, 0},
	// vto and kp (W/L included) of level 1, the body tied to the source; is is that of the body diode.
	MOSFET: {[]string{"d", "g", "s"}, []param{num("nch", 1, -1, 1, ""), num("vto", 2, -100, 100, "V"), num("kp", 0.1, 1e-9, 1e4, "A/V²"),
		num("lambda", 0, 0, 10, "1/V"), num("is", 1e-14, 1e-30, 1, "A")}, 3, 3, 0},
	// two transistors and a resistor from gate to cathode
	SCR: {[]string{"a", "g", "k"}, []param{num("is", 1e-14, 1e-30, 1, "A"), num("bfn", 20, 1e-3, 1e4, ""), num("bfp", 0.5, 1e-3, 1e4, ""),
		ohms("rgk", 1e3)}, 3, 3, 0},
	OpAmp: {[]string{"+", "-", "out", "v+", "v-"}, amplifier, 5, 5, 0},
	Comparator: {[]string{"+", "-", "out", "v+", "v-"}, []param{num("vos", 0, -100, 100, "V"), num("ibias", 0, -1, 1, "A"), num("a0", 2e5, 0, 1e9, ""),
		num("ron", 25, 0.01, 1e6, "Ω"), num("isat", 0.016, 1e-6, 10, "A"), num("iq", 1e-3, 0, 1, "A"), num("vmin", 1.5, 0, 50, "V")}, 5, 5, 0},
	// gm = Ibias/2VT; the bias terminal is a junction (is, n) to v-; voh and vol are how far the output stays from the rails.
	OTA: {[]string{"+", "-", "out", "bias", "v+", "v-"}, []param{num("vos", 0, -100, 100, "V"), num("beta", 100, 1, 1e6, ""),
		num("is", 1e-15, 1e-30, 1, "A"), num("n", 1, 0.5, 10, ""), num("voh", 0.5, 0, 20, "V"), num("vol", 0.5, 0, 20, "V"), num("gain", 1, 0, 10, "")}, 6, 6, 0},
	Optocoupler: {[]string{"a", "k", "c", "e", "b"}, []param{num("is", 1e-17, 1e-30, 1, "A"), num("n", 1.5, 0.5, 10, ""), num("ctr", 1, 0, 100, ""),
		num("ist", 1e-14, 1e-30, 1, "A"), num("bf", 300, 1, 1e5, ""), num("vaf", 100, 0, 1e6, "V")}, 4, 5, 0},
	// volts is between out and ref; iq flows from in to ref. ilim falls with the voltage across by 1/(1+(v/vsoa)⁴), vsoa 0: not at all.
	Regulator: {[]string{"in", "out", "ref"}, []param{num("sign", 1, -1, 1, ""), num("volts", 5, 0.1, 100, "V"), num("ro", 0.01, 1e-5, 100, "Ω"), num("drop", 2, 0, 20, "V"),
		num("ilim", 2.2, 1e-4, 100, "A"), num("iq", 5e-3, 0, 1, "A"), num("line", 2e-4, 0, 1, "V/V"), num("vsoa", 0, 0, 1e3, "V")}, 3, 3, 0},
	Regulator723: {[]string{"v+", "vc", "vref", "+", "-", "out", "cl", "cs", "comp", "v-"}, []param{num("vref", 7.15, 0.1, 50, "V"),
		num("a0", 1e3, 0, 1e7, ""), num("gbw", 1e6, 1, 1e9, "Hz"), num("iq", 2.3e-3, 0, 1, "A"), num("is", 1e-13, 1e-30, 1, "A"), num("bf", 100, 1, 1e5, "")}, 10, 10, 0},
	Reference: {[]string{"k", "ref", "a"}, []param{num("volts", 2.495, 0.1, 100, "V"), num("gm", 4.5, 1e-3, 1e4, "S"), num("iref", 2e-6, 0, 1, "A"),
		num("imax", 0.15, 1e-4, 10, "A"), num("vmin", 2, 0.01, 50, "V"), num("imin", 2.5e-4, 0, 1, "A")}, 3, 3, 0},
	AnalogSwitch: {[]string{"a", "b", "control", "v+", "v-"}, []param{num("ron", 120, 1e-3, 1e6, "Ω"), num("roff", 1e11, 1, 1e15, "Ω"),
		frac("threshold", 0.5), num("width", 0.2, 1e-3, 10, "V")}, 5, 5, 0},
	// ac and acphase (degrees) are for AC; amplitude, frequency and phase (degrees) add a sine in transients. A source
	// with ilim above 0 limits its current, as a bench supply does.
	VoltageSource: {[]string{"+", "-"}, []param{value("volts", 0, -1e5, 1e5, "V"), ohms("ohms", 0), num("ac", 0, -1e5, 1e5, "V"), num("acphase", 0, -360, 360, "°"),
		num("amplitude", 0, -1e5, 1e5, "V"), num("frequency", 50, 0, 1e9, "Hz"), num("phase", 0, -360, 360, "°"), num("ilim", 0, 0, 1e4, "A")}, 2, 2, 0},
	// the current flows through the source from + to -, so it is drawn from the node at +
	CurrentSource: {[]string{"+", "-"}, []param{value("amperes", 0, -1e4, 1e4, "A"), num("ac", 0, -1e4, 1e4, "A"), num("acphase", 0, -360, 360, "°"),
		num("amplitude", 0, -1e4, 1e4, "A"), num("frequency", 50, 0, 1e9, "Hz"), num("phase", 0, -360, 360, "°")}, 2, 2, 0},
}
