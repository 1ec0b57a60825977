package spice

import (
	"math"

	"halfsplit/internal/core/elec"
)

// This file writes the macro-models as behavioural sources, from their description in the engine's documentation.

func (w *part) macro() {
	p, pin := w.p, w.pin
	switch w.dev.Kind {
	case elec.OpAmp:
		w.amplifier("", pin[0], pin[1], pin[2], pin[3], pin[4], p)
	case elec.Comparator:
		w.comparator()
	case elec.OTA:
		w.ota()
	case elec.Optocoupler:
		w.optocoupler()
	case elec.Regulator:
		sign := 1.0
		if p["sign"] < 0 {
			sign = -1
		}
		w.regulator("", pin[0], pin[1], pin[2], sign, p["volts"], p["ro"], p["drop"], p["ilim"], p["iq"], p["line"], p["vsoa"])
	case elec.Regulator723:
		w.regulator723()
	case elec.Reference:
		w.reference()
	case elec.AnalogSwitch:
		y := w.v("y", f("1/(1+exp(-(%s-%g*%s)/%g))", diff(pin[2], pin[4]), p["threshold"], diff(pin[3], pin[4]), p["width"]))
		w.i("", pin[0], pin[1], f("(%g*%s+%g)*%s", 1/p["ron"], y, 1/p["roff"], diff(pin[0], pin[1])))
	}
}

func (w *part) amplifier(s, plus, minus, out, vp, vn string, p map[string]float64) {
	const cc = 30e-12
	gm, imax := 2*math.Pi*p["gbw"]*cc, p["slew"]*cc
	rc := p["a0"] / gm
	if p["a0"] == 0 {
		gm, rc = 1e-15, 1e6
	}
	c := w.in(s + "c")
	w.shunt(c)
	pw := w.v(s+"pw", f("1/(1+exp(-(%s-%g)/0.2))", diff(vp, vn), p["vmin"]))
	w.i(s+"bp", plus, vn, f("%g*%s", p["ibias"]+p["ios"]/2, pw))
	w.i(s+"bn", minus, vn, f("%g*%s", p["ibias"]-p["ios"]/2, pw))
	w.i(s+"iq", vp, vn, f("%g*%s", p["iq"], pw))
	w.r(s+"in", plus, minus, p["rin"])
	// in microamperes
	g := w.v(s+"g", f("%g*%s*tanh(%g*(%s+%g))", imax*1e6, pw, gm/imax, diff(plus, minus), p["vos"]))
	w.i(s+"ga", vp, c, "0.5e-6*"+g)
	w.i(s+"gb", vn, c, "0.5e-6*"+g)
	w.r(s+"ca", c, vp, 2*rc)
	w.r(s+"cb", c, vn, 2*rc)
	w.i(s+"hi", c, vp, f("1e-3*%s*%s", pw, softplus(f("(%s+%g)", diff(c, vp), p["voh"]), 0.01)))
	w.i(s+"lo", vn, c, f("1e-3*%s*%s", pw, softplus(f("(%s+%g)", diff(vn, c), p["vol"]), 0.01)))
	// in milliamperes
	io := w.v(s+"io", f("1e3*(%g*%s*tanh(%s/%g)+1e-9*%s)", p["isc"], pw, diff(c, out), p["rout"]*p["isc"], diff(c, out)))
	up := f("(%s-%g*(1-%s))", softplus(io, 0.1), 0.1*math.Ln2, pw)
	w.i(s+"up", vp, out, f("1e-3*%s", up))
	w.i(s+"dn", out, vn, f("1e-3*(%s-%s)", up, io))
	w.d.add("C%s%s1 %s %s %g", w.name, s, c, vp, cc/2)
	w.d.add("C%s%s2 %s %s %g", w.name, s, c, vn, cc/2)
}

func (w *part) comparator() {
	p, pin := w.p, w.pin
	pw := w.v("pw", f("1/(1+exp(-(%s-%g)/0.2))", diff(pin[3], pin[4]), p["vmin"]))
	w.i("bp", pin[0], pin[4], f("%g*%s", p["ibias"], pw))
	w.i("bn", pin[1], pin[4], f("%g*%s", p["ibias"], pw))
	w.i("iq", pin[3], pin[4], f("%g*%s", p["iq"], pw))
	// 1/(1+exp(-2u)) is (1+tanh(u))/2
	on := w.v("on", f("0.5+0.5*tanh(%g*(%s-%g))", p["a0"]/5, diff(pin[1], pin[0]), p["vos"]))
	v := diff(pin[2], pin[4])
	w.i("o", pin[2], pin[4], f("%g*%s*%s*tanh(%s/%g)+1e-12*%s", p["isat"], pw, on, v, p["ron"]*p["isat"], v))
}

func (w *part) ota() {
	p, pin := w.p, w.pin
	w.d.add("V%sib %s %s 0", w.name, pin[3], w.in("ib"))
	w.diode("b", w.model("D", map[string]float64{"IS": p["is"], "N": p["n"]}), w.in("ib"), pin[5])
	ib := f("I(V%sib)", w.name)
	th := w.v("t", f("tanh((%s+%g)/%.9g)", diff(pin[0], pin[1]), p["vos"], 2*8.617333262e-5*300.15))
	w.i("up", pin[4], pin[2], f("%g*%s*(1+%s)/2*tanh((%s-%g)/0.1)", p["gain"], ib, th, diff(pin[4], pin[2]), p["voh"]))
	w.i("dn", pin[2], pin[5], f("%g*%s*(1-%s)/2*tanh((%s-%g)/0.1)", p["gain"], ib, th, diff(pin[2], pin[5]), p["vol"]))
	w.i("bp", pin[0], pin[5], f("%g*%s*(1+%s)/2", 1/p["beta"], ib, th))
	w.i("bn", pin[1], pin[5], f("%g*%s*(1-%s)/2", 1/p["beta"], ib, th))
	w.i("tail", pin[4], pin[5], ib)
}

func (w *part) optocoupler() {
	p, pin := w.p, w.pin
	base := w.in("base")
	if len(pin) > 4 {
		base = pin[4]
	}
	w.shunt(base, pin[2])
	w.d.add("V%sl %s %s 0", w.name, pin[0], w.in("l"))
	w.diode("l", w.model("D", map[string]float64{"IS": p["is"], "N": p["n"]}), w.in("l"), pin[1])
	w.d.add("F%s %s %s V%sl %g", w.name, pin[2], base, w.name, p["ctr"]/p["bf"])
	w.d.add(".model %sq NPN(IS=%g BF=%g BR=1 VAF=%g)", w.name, p["ist"], p["bf"], p["vaf"])
	w.d.add("Q%s %s %s %s %sq", w.name, pin[2], base, pin[3], w.name)
}

func (w *part) regulator(s, in, out, ref string, sign, volts, ro, drop, ilim, iq, line, vsoa float64) {
	vi := w.v(s+"vi", f("%g*%s", sign, diff(in, ref)))
	vo := w.v(s+"vo", f("%g*%s", sign, diff(out, ref)))
	target := w.v(s+"t", f("%g+%g*%s-%s", volts, line, vi, softplus(f("(%g+%g*%s-%s)", drop+volts, line, vi, vi), 0.05)))
	hi := f("%g", ilim)
	if vsoa > 0 {
		hi = w.v(s+"h", f("%g/(1+(max(%s-%s,0)/%g)^4)", ilim, vi, vo, vsoa))
	}
	x := f("((%s-%s)/%g)", target, vo, ro)
	i := w.v(s+"i", f("%s-%s", softplus(x, ilim*2e-3), softplus(f("(%s-%s)", x, hi), ilim*2e-3)))
	w.i(s+"o", in, out, f("%g*%s", sign, i))
	w.i(s+"q", in, ref, f("%g*%g*tanh(%s)", sign, iq, vi))
	w.i(s+"d", ref, out, f("%g*%s", sign, softplus(f("(-%s-0.6)", vo), 0.05)))
	w.i(s+"e", out, in, f("%g*%s", sign, softplus(f("(%s-%s-0.6)", vo, vi), 0.05)))
}

func (w *part) regulator723() {
	p, pin := w.p, w.pin
	w.shunt(pin[0], pin[9], pin[6], pin[8], pin[7], pin[5])
	w.regulator("r", pin[0], pin[2], pin[9], 1, p["vref"], 1, 2, 0.015, 0, 2e-4, 0)
	w.amplifier("a", pin[3], pin[4], pin[8], pin[0], pin[9], map[string]float64{"ibias": 1e-6, "rin": 1e6, "a0": p["a0"], "gbw": p["gbw"], "slew": 1e6,
		"voh": 1.5, "vol": 1, "rout": 300, "isc": 2e-3, "iq": p["iq"], "vmin": 5})
	w.d.add(".model %sq NPN(IS=%g BF=%g BR=1)", w.name, p["is"], p["bf"])
	w.d.add("Q%s1 %s %s %s %sq", w.name, pin[1], pin[8], pin[5], w.name)
	w.d.add("Q%s2 %s %s %s %sq", w.name, pin[8], pin[6], pin[7], w.name)
}

func (w *part) reference() {
	p, pin := w.p, w.pin
	x := f("((%s-%g)*%g+%g)", diff(pin[1], pin[2]), p["volts"], p["gm"], p["imax"]*1e-3)
	width := p["imax"] * 2e-4
	y := w.v("y", f("1e3*(%s-%s+%g)", softplus(x, width), softplus(f("(%s-%g)", x, p["imax"]), width), p["imin"]))
	w.i("", pin[0], pin[2], f("1e-3*%s*tanh(2*%s/%g)", y, diff(pin[0], pin[2]), p["vmin"]))
	w.i("r", pin[1], pin[2], f("%g*tanh(%s)", p["iref"], diff(pin[1], pin[2])))
}
