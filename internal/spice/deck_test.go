package spice

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfsplit/internal/core/elec"
)

// This file writes a netlist with a patch as lines of a deck. It applies the patch by its own means: parameters are
// changed in a table, an open terminal becomes a resistor to a new node.

// deck is one circuit as text, and the names of its nodes there (index by elec node).
type deck struct {
	lines []string
	nodes []string
	tag   string // goes before every name, so that many circuits fit into one deck
}

func (d *deck) add(format string, args ...any) {
	d.lines = append(d.lines, fmt.Sprintf(format, args...))
}

const openOhms = 1e12

// write renders the circuit. tag keeps names apart.
func write(nl elec.Netlist, c *elec.Circuit, models *elec.Models, p elec.Patch, tag string) *deck {
	d := &deck{tag: tag}
	for i := range nl.Nodes {
		if i == 0 {
			d.nodes = append(d.nodes, "0")
			continue
		}
		d.nodes = append(d.nodes, fmt.Sprintf("%sn%d", tag, i))
		d.leak(d.nodes[i], d.nodes[i])
	}
	for i, dev := range nl.Devices {
		w := &part{d: d, dev: dev, name: fmt.Sprintf("%sx%d", tag, i), p: map[string]float64{}}
		for _, name := range elec.Params(dev.Kind) {
			w.p[name], _ = c.Param(i, name)
		}
		for _, n := range dev.Nodes {
			w.pin = append(w.pin, d.nodes[n])
		}
		reversed := false
		for _, ch := range p.Changes {
			if ch.Device != i {
				continue
			}
			switch ch.Do {
			case elec.Set:
				w.p[ch.Param] = ch.Value
			case elec.Scale:
				w.p[ch.Param] *= ch.Value
			case elec.Replace:
				for k, v := range models.Find(ch.Model).Params {
					w.p[k] = v
				}
			case elec.Reverse:
				reversed = true
			case elec.Joint:
				r := ch.Value
				if r == 0 {
					r = openOhms
				}
				outer := w.pin[ch.Pin]
				w.pin[ch.Pin] = fmt.Sprintf("%sj%d", w.name, ch.Pin)
				d.add("R%sj%d %s %s %g", w.name, ch.Pin, outer, w.pin[ch.Pin], r)
			}
		}
		if reversed {
			last := len(w.pin) - 1
			w.pin[0], w.pin[last] = w.pin[last], w.pin[0]
		}
		w.write()
	}
	for i, b := range p.Bridges {
		d.add("V%sb%d %s %sbm%d %g", tag, i, d.nodes[b.A], tag, i, b.Volts)
		d.add("R%sb%d %sbm%d %s %g", tag, i, tag, i, d.nodes[b.B], b.Ohms)
	}
	return d
}

// part is one device while it is written.
type part struct {
	d    *deck
	dev  elec.Device
	name string
	pin  []string
	p    map[string]float64
}

// shunt is the leakage from a node to the reference. The engine puts it on every node, inner ones of devices included.
func (w *part) shunt(nodes ...string) {
	for i, n := range nodes {
		w.d.leak(f("%ssh%d%s", w.name, i, n), n)
	}
}

func (d *deck) leak(name, node string) { d.add("R%s %s 0 %g", name, node, 1/leakSiemens) }

// leakSiemens is the leakage of every node to the reference in these comparisons: 1 GΩ, so that what an open joint leaves in the
// air has a voltage that both programs can agree on.
const leakSiemens = 1e-9

func (w *part) in(s string) string { return w.name + s }

func (w *part) r(suffix, a, b string, ohms float64) {
	w.d.add("R%s%s %s %s %.12g", w.name, suffix, a, b, ohms)
}

// i adds a behavioural current from a to b; v a helping node that carries a value as a voltage.
func (w *part) i(suffix, a, b, expr string) { w.d.add("B%s%s %s %s I=%s", w.name, suffix, a, b, expr) }
func (w *part) v(suffix, expr string) string {
	w.d.add("B%s%s %s 0 V=%s", w.name, suffix, w.in(suffix), expr)
	return "V(" + w.in(suffix) + ")"
}

func diff(a, b string) string {
	if b == "0" {
		return "V(" + a + ")"
	}
	if a == "0" {
		return "(-V(" + b + "))"
	}
	return "(V(" + a + ")-V(" + b + "))"
}

func softplus(x string, width float64) string {
	return fmt.Sprintf("(max(%s,0)+%g*ln(1+exp(-abs(%s)/%g)))", x, width, x, width)
}

func f(format string, args ...any) string { return fmt.Sprintf(format, args...) }

func (w *part) model(kind string, params map[string]float64) string {
	var b strings.Builder
	for _, k := range slices.Sorted(maps.Keys(params)) {
		fmt.Fprintf(&b, " %s=%.12g", k, params[k])
	}
	name := w.in("m")
	w.d.add(".model %s %s(%s)", name, kind, b.String())
	return name
}

func (w *part) write() {
	p, pin := w.p, w.pin
	switch w.dev.Kind {
	case elec.Resistor, elec.Fuse:
		w.r("", pin[0], pin[1], p["ohms"])
	case elec.Switch:
		if p["closed"] >= 0.5 {
			w.r("", pin[0], pin[1], p["ron"])
		} else {
			w.r("", pin[0], pin[1], p["roff"])
		}
	case elec.Capacitor:
		a := pin[0]
		if p["esr"] > 0 {
			a = w.in("a")
			w.r("e", pin[0], a, p["esr"])
		}
		w.r("l", a, pin[1], p["leak"])
		w.d.add("C%s %s %s %.12g", w.name, a, pin[1], p["farads"])
	case elec.Inductor:
		w.winding("", pin[0], pin[1], p["henries"], p["dcr"])
	case elec.Transformer:
		w.transformer()
	case elec.Potentiometer:
		w.potentiometer()
	case elec.Diode, elec.Zener, elec.LED:
		w.diode("", w.diodeModel(), pin[0], pin[1])
	case elec.Rectifier:
		m := w.diodeModel()
		w.shunt(pin...)
		for i, ends := range [][2]string{{pin[0], pin[2]}, {pin[1], pin[2]}, {pin[3], pin[0]}, {pin[3], pin[1]}} {
			if int(p["open"]) != i+1 {
				w.diode(f("%d", i), m, ends[0], ends[1])
			}
		}
	case elec.BJT, elec.Array:
		m := w.bipolar("", 1)
		for i := 0; i+2 < len(pin); i += 3 {
			w.d.add("Q%s%d %s %s %s %s", w.name, i, pin[i], pin[i+1], pin[i+2], m)
		}
	case elec.Darlington:
		m, mid := w.bipolar("", 1), w.in("mid")
		w.d.add("Q%s1 %s %s %s %s", w.name, pin[0], pin[1], mid, m)
		w.d.add("Q%s2 %s %s %s %s %.12g", w.name, pin[0], mid, pin[2], m, p["area"])
		w.shunt(pin[0], pin[1], pin[2], mid)
		w.r("1", pin[1], mid, p["r1"])
		w.r("2", mid, pin[2], p["r2"])
	case elec.SCR:
		mid := w.in("mid")
		w.d.add(".model %sp PNP(IS=%g BF=%g BR=0.1)", w.name, p["is"], p["bfp"])
		w.d.add(".model %sn NPN(IS=%g BF=%g BR=0.1)", w.name, p["is"], p["bfn"])
		w.d.add("Q%s1 %s %s %s %sp", w.name, pin[1], mid, pin[0], w.name)
		w.d.add("Q%s2 %s %s %s %sn", w.name, mid, pin[1], pin[2], w.name)
		w.r("g", pin[1], pin[2], p["rgk"])
		w.shunt(pin[1], pin[2], mid)
	case elec.JFET:
		kind := "NJF"
		if p["nch"] < 0 {
			kind = "PJF"
		}
		w.d.add("J%s %s %s %s %s", w.name, pin[0], pin[1], pin[2], w.model(kind, map[string]float64{"VTO": p["vto"], "BETA": p["beta"], "LAMBDA": p["lambda"], "IS": p["is"]}))
	case elec.MOSFET:
		kind, s := "NMOS", 1.0
		if p["nch"] < 0 {
			kind, s = "PMOS", -1
		}
		m := w.model(kind, map[string]float64{"LEVEL": 1, "VTO": s * p["vto"], "KP": p["kp"], "LAMBDA": p["lambda"], "IS": p["is"]})
		w.d.add("M%s %s %s %s %s %s W=1 L=1", w.name, pin[0], pin[1], pin[2], pin[2], m)
	case elec.VoltageSource:
		w.source()
	case elec.CurrentSource:
		w.d.add("I%s %s %s DC %.12g AC %g %g SIN(%g %g %g 0 0 %g)", w.name, pin[0], pin[1], p["amperes"], p["ac"], p["acphase"], p["amperes"], p["amplitude"], p["frequency"], p["phase"])
	default:
		w.macro()
	}
}

func (w *part) source() {
	p, a := w.p, w.pin[0]
	if p["ilim"] > 0 {
		x := w.v("x", f("(%g-%s)/%g+%g", p["volts"], diff(w.pin[0], w.pin[1]), max(p["ohms"], 1e-3), p["ilim"]))
		w.i("", w.pin[0], w.pin[1], f("%g-(%s-%s)", p["ilim"], softplus(x, p["ilim"]*2e-3), softplus(f("(%s-%g)", x, 2*p["ilim"]), p["ilim"]*2e-3)))
		return
	}
	if p["ohms"] > 0 {
		a = w.in("s")
		w.r("s", w.pin[0], a, p["ohms"])
	}
	sin := ""
	if p["amplitude"] != 0 {
		sin = f("SIN(%.12g %.12g %g 0 0 %g)", p["volts"], p["amplitude"], p["frequency"], p["phase"])
	}
	w.d.add("V%s %s %s DC %.12g AC %g %g %s", w.name, a, w.pin[1], p["volts"], p["ac"], p["acphase"], sin)
}

func (w *part) winding(suffix, a, b string, henries, ohms float64) {
	m := w.in(suffix + "w")
	w.r(suffix+"w", a, m, max(ohms, 1e-9))
	w.d.add("L%s%s %s %s %.12g", w.name, suffix, m, b, henries)
}

func (w *part) transformer() {
	p := w.p
	w.winding("p", w.pin[0], w.pin[1], p["lp"], p["rp"])
	names := []string{"p"}
	for i, n := range []string{"", "2", "3"} {
		if 2*i+3 >= len(w.pin) {
			break
		}
		ratio, rs := p["ratio"], p["rs"]
		if v := p["ratio"+n]; v > 0 {
			ratio = v
		}
		if v := p["rs"+n]; v > 0 {
			rs = v
		}
		name := f("s%d", i)
		w.winding(name, w.pin[2*i+2], w.pin[2*i+3], p["lp"]*ratio*ratio, rs)
		for k, other := range names {
			w.d.add("K%s%d%d L%s%s L%s%s %.12g", w.name, i, k, w.name, other, w.name, name, p["k"])
		}
		names = append(names, name)
	}
}

func (w *part) potentiometer() {
	p, m := w.p, w.in("m")
	w.shunt(m)
	fr := elec.TrackFraction(p["position"], p["mid"])
	w.r("a", w.pin[0], m, p["end"]+p["ohms"]*(1-fr))
	w.r("b", m, w.pin[2], p["end"]+p["ohms"]*fr)
	r := max(p["wiper"], 1e-3)
	if d := p["position"] - p["worn-at"]; p["worn-width"] > 0 && 2*max(d, -d) <= p["worn-width"] {
		r += p["worn-ohms"]
	}
	w.r("w", w.pin[1], m, r)
}

func (w *part) diodeModel() string {
	p := w.p
	m := map[string]float64{"IS": p["is"], "N": p["n"], "RS": p["rs"]}
	if p["bv"] > 0 {
		m["BV"], m["IBV"], m["NBV"] = p["bv"], p["ibv"], p["nbv"]
	}
	return w.model("D", m)
}

func (w *part) diode(suffix, model, a, k string) {
	w.d.add("D%s%s %s %s %s", w.name, suffix, a, k, model)
}

func (w *part) bipolar(suffix string, area float64) string {
	p, kind := w.p, "NPN"
	if p["npn"] < 0 {
		kind = "PNP"
	}
	m := map[string]float64{"IS": p["is"] * area, "BF": p["bf"], "BR": p["br"], "NF": p["nf"], "NR": p["nr"], "NE": p["ne"], "NC": p["nc"]}
	for name, key := range map[string]string{"VAF": "vaf", "VAR": "var", "IKF": "ikf", "ISE": "ise", "ISC": "isc"} {
		if p[key] > 0 {
			m[name] = p[key]
		}
	}
	return w.model(kind, m)
}
