package spice

import (
	"fmt"
	"math"
	"math/rand/v2"

	"halfsplit/internal/core/elec"
)

// This file makes circuits by chance: networks, and the stages that boards consist of with values drawn around
// sensible ones.

// circuit is a netlist under construction.
type circuit struct {
	family string
	nl     elec.Netlist
	at     map[string]int
	rng    *rand.Rand
}

func newCircuit(family string, rng *rand.Rand) *circuit {
	return &circuit{family: family, nl: elec.Netlist{Nodes: []string{"0"}}, at: map[string]int{"0": 0}, rng: rng}
}

type params = map[string]float64

func (c *circuit) add(kind elec.Kind, value float64, p params, nodes ...string) *circuit {
	d := elec.Device{Name: fmt.Sprintf("%s%d", kind, len(c.nl.Devices)+1), Kind: kind, Value: value, Params: p}
	for _, s := range nodes {
		if _, ok := c.at[s]; !ok {
			c.at[s] = len(c.nl.Nodes)
			c.nl.Nodes = append(c.nl.Nodes, s)
		}
		d.Nodes = append(d.Nodes, c.at[s])
	}
	c.nl.Devices = append(c.nl.Devices, d)
	return c
}

// ohms is a resistance between two decades, evenly by logarithm.
func (c *circuit) ohms(lo, hi float64) float64 {
	return math.Round(lo*math.Pow(hi/lo, c.rng.Float64())*1e3) / 1e3
}
func (c *circuit) between(lo, hi float64) float64 { return lo + (hi-lo)*c.rng.Float64() }
func (c *circuit) r(lo, hi float64, a, b string) *circuit {
	return c.add(elec.Resistor, c.ohms(lo, hi), nil, a, b)
}
func (c *circuit) rails(v float64) *circuit {
	return c.add(elec.VoltageSource, v, nil, "vp", "0").add(elec.VoltageSource, -v, nil, "vn", "0")
}

func (c *circuit) npn() params {
	return params{"is": 1e-14 * c.between(0.5, 2), "bf": c.between(60, 300), "br": c.between(1, 6), "vaf": c.between(40, 120), "ikf": c.between(0.05, 0.4), "ise": 1e-14, "ne": 1.5}
}
func (c *circuit) pnp() params { p := c.npn(); p["npn"] = -1; return p }
func (c *circuit) opamp() params {
	return params{"vos": c.between(-3e-3, 3e-3), "ibias": c.between(1e-9, 1e-7), "rin": 2e6, "a0": c.ohms(2e4, 1e6), "gbw": 1e6, "slew": 0.5e6, "voh": c.between(0.5, 1.5), "vol": c.between(0.5, 1.5)}
}

// families make one circuit each, from a source of chance.
var families = []struct {
	name string
	make func(c *circuit)
}{
	{"resistors", func(c *circuit) { c.network(false) }},
	{"diodes", func(c *circuit) { c.network(true) }},
	{"ladder", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(-12, 12), nil, "l0", "0")
		for i := range 8 + c.rng.IntN(12) {
			a, b := fmt.Sprintf("l%d", i), fmt.Sprintf("l%d", i+1)
			c.r(1e3, 3e3, a, b).r(1e3, 1e4, b, "0")
		}
	}},
	{"bridge", func(c *circuit) {
		c.add(elec.VoltageSource, 10, params{"ohms": 1}, "a", "0").r(100, 1e5, "a", "l").r(100, 1e5, "a", "r").r(100, 1e5, "l", "0").r(100, 1e5, "r", "0").r(10, 1e6, "l", "r")
		c.add(elec.Potentiometer, 1e4, params{"position": c.between(0, 1), "mid": c.between(0.1, 0.9), "worn-at": 0.5, "worn-width": 0.4, "worn-ohms": 5e3}, "a", "l", "0")
	}},
	{"zener", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(8, 30), nil, "in", "0").add(elec.Fuse, 0, nil, "in", "f").r(100, 3e3, "f", "z")
		c.add(elec.Zener, 0, params{"is": 1e-14, "bv": c.between(3, 7), "ibv": 5e-3, "nbv": c.between(1, 4), "rs": c.between(1, 10)}, "0", "z").r(1e3, 1e5, "z", "0")
		c.add(elec.LED, 0, params{"is": 1e-18, "n": 1.8, "rs": 2}, "z", "k").r(100, 2e3, "k", "0")
	}},
	{"emitter", func(c *circuit) { // a divider-biased stage and an emitter follower
		c.add(elec.VoltageSource, c.between(9, 15), nil, "vp", "0").r(2e4, 2e5, "vp", "b").r(5e3, 5e4, "b", "0").add(elec.BJT, 0, c.npn(), "c", "b", "e").
			r(1e3, 1e4, "vp", "c").r(220, 2e3, "e", "0").add(elec.BJT, 0, c.npn(), "vp", "c", "o").r(1e3, 1e4, "o", "0").add(elec.BJT, 0, c.pnp(), "0", "o", "q").r(1e3, 1e4, "vp", "q")
	}},
	{"pair", func(c *circuit) { // differential pair on a current mirror
		n := c.npn()
		c.rails(12).r(1e4, 1e5, "vp", "m").add(elec.Array, 0, n, "m", "m", "vn", "t", "m", "vn", "x", "p", "t", "y", "n", "t").
			r(3e3, 1e4, "vp", "x").r(3e3, 1e4, "vp", "y").r(1e3, 1e4, "p", "0").r(1e3, 1e4, "n", "0").add(elec.CurrentSource, c.between(-1e-5, 1e-5), nil, "p", "0")
	}},
	{"switch", func(c *circuit) { // transistor switches, one of them a Darlington
		c.add(elec.VoltageSource, 5, nil, "v5", "0").add(elec.VoltageSource, c.between(0, 5), nil, "in", "0").r(1e3, 2e4, "in", "b").add(elec.BJT, 0, c.npn(), "c", "b", "0").r(470, 5e3, "v5", "c").
			r(1e3, 2e4, "c", "d").add(elec.Darlington, 0, c.npn(), "l", "d", "0").r(30, 300, "v5", "l").add(elec.Diode, 0, params{"is": 1e-9, "n": 1.8, "rs": 0.1}, "l", "v5")
	}},
	{"inverting", func(c *circuit) {
		c.rails(15).add(elec.VoltageSource, c.between(-3, 3), nil, "in", "0").r(1e3, 1e5, "in", "i").r(1e3, 1e6, "i", "o").r(1e3, 1e5, "p", "0").add(elec.OpAmp, 0, c.opamp(), "p", "i", "o", "vp", "vn").r(1e3, 1e5, "o", "0")
	}},
	{"two op-amps", func(c *circuit) {
		c.rails(c.between(9, 15)).add(elec.VoltageSource, c.between(-2, 2), nil, "in", "0").add(elec.OpAmp, 0, c.opamp(), "in", "i", "o", "vp", "vn").r(1e3, 1e5, "o", "i").r(1e3, 1e5, "i", "0").
			r(1e3, 1e5, "o", "j").r(1e3, 1e5, "j", "q").add(elec.OpAmp, 0, c.opamp(), "0", "j", "q", "vp", "vn").r(500, 1e4, "q", "0")
	}},
	{"comparator", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(5, 15), nil, "vp", "0").r(1e3, 1e5, "vp", "r").r(1e3, 1e5, "r", "0").r(1e3, 1e5, "vp", "s").r(1e3, 1e5, "s", "0").
			add(elec.Comparator, 0, params{"ibias": -25e-9, "vos": 1e-3}, "r", "s", "o", "vp", "0").r(1e3, 1e4, "vp", "o")
	}},
	{"ota", func(c *circuit) {
		c.rails(12).add(elec.VoltageSource, c.between(-0.05, 0.05), nil, "in", "0").add(elec.OTA, 0, nil, "in", "g", "o", "b", "vp", "vn").r(100, 1e3, "g", "0").r(1e4, 1e5, "vp", "b").r(1e3, 5e4, "o", "0").
			add(elec.JFET, 0, params{"vto": -1.5, "beta": 1e-3, "lambda": 0.01}, "vp", "o", "f").r(3e3, 2e4, "f", "vn")
	}},
	{"mosfets", func(c *circuit) {
		c.add(elec.VoltageSource, 12, nil, "vp", "0").add(elec.VoltageSource, c.between(0, 6), nil, "g", "0").add(elec.MOSFET, 0, params{"vto": c.between(1, 3), "kp": 0.02, "lambda": 0.01}, "d", "g", "s").r(100, 1e3, "vp", "d").r(10, 300, "s", "0").
			add(elec.MOSFET, 0, params{"nch": -1, "vto": 2, "kp": 0.02, "lambda": 0.01}, "l", "d", "vp").r(100, 1e3, "l", "0")
	}},
	{"jfets", func(c *circuit) {
		c.rails(9).add(elec.JFET, 0, params{"vto": c.between(-4, -1), "beta": 1e-3, "lambda": 0.005, "is": 1e-14}, "d", "g", "s").r(1e5, 1e6, "g", "0").r(500, 5e3, "vp", "d").r(200, 5e3, "s", "vn").
			add(elec.JFET, 0, params{"nch": -1, "vto": -2, "beta": 5e-4, "lambda": 0.005, "is": 1e-14}, "x", "d", "y").r(500, 5e3, "vp", "y").r(500, 5e3, "x", "vn")
	}},
	{"regulator", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(6, 25), params{"ohms": 0.2}, "in", "0").add(elec.Regulator, 0, params{"vsoa": 20}, "in", "o", "0").r(5, 500, "o", "0").r(1e3, 1e4, "o", "d").r(1e3, 1e4, "d", "0")
	}},
	{"adjustable", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(12, 30), params{"ohms": 0.2}, "in", "0").add(elec.Regulator, 0, params{"volts": 1.25, "drop": 1.75, "iq": 5e-5, "ilim": 1.5}, "in", "o", "a").
			add(elec.Resistor, 240, nil, "o", "a").r(500, 3e3, "a", "0").r(20, 2e3, "o", "0")
	}},
	{"negative", func(c *circuit) {
		c.add(elec.VoltageSource, -c.between(10, 25), params{"ohms": 0.2}, "in", "0").add(elec.Regulator, 0, params{"sign": -1, "volts": 12, "drop": 1.5}, "in", "o", "0").r(20, 2e3, "o", "0").
			add(elec.Diode, 0, params{"is": 1e-9, "n": 1.8, "rs": 0.05}, "o", "0")
	}},
	{"723", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(12, 25), nil, "in", "0").add(elec.Regulator723, 0, nil, "in", "in", "ref", "p", "n", "e", "e", "o", "k", "0").r(5, 30, "e", "o").
			r(2e3, 5e3, "ref", "p").r(2e3, 1e4, "p", "0").r(1e3, 5e3, "o", "n").r(50, 1e3, "o", "0")
	}},
	{"reference", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(9, 20), nil, "in", "0").r(200, 2e3, "in", "k").add(elec.Reference, 0, nil, "k", "r", "0").r(2e3, 1e4, "k", "r").r(2e3, 1e4, "r", "0").r(2e3, 1e5, "k", "0")
	}},
	{"optocoupler", func(c *circuit) {
		c.add(elec.VoltageSource, 5, nil, "v5", "0").add(elec.VoltageSource, c.between(1, 12), nil, "in", "gi").add(elec.Resistor, 1e6, nil, "gi", "0").r(220, 5e3, "in", "a").
			add(elec.Optocoupler, 0, params{"ctr": c.between(0.2, 2)}, "a", "gi", "c", "0").r(470, 1e4, "v5", "c")
	}},
	{"analogue switch", func(c *circuit) {
		c.rails(7.5).add(elec.VoltageSource, c.between(-7, 7), nil, "ctl", "0").add(elec.VoltageSource, c.between(-3, 3), nil, "in", "0").r(1e3, 1e4, "in", "a").add(elec.AnalogSwitch, 0, nil, "a", "b", "ctl", "vp", "vn").r(1e4, 1e6, "b", "0").
			add(elec.OpAmp, 0, c.opamp(), "b", "o", "o", "vp", "vn").r(1e3, 1e5, "o", "0")
	}},
	{"thyristor", func(c *circuit) { // triggered through its gate
		c.add(elec.VoltageSource, c.between(5, 20), nil, "in", "0").r(50, 1e3, "in", "a").add(elec.SCR, 0, nil, "a", "g", "0").add(elec.VoltageSource, 5, nil, "d", "0").r(100, 500, "d", "g")
	}},
	{"bench supply", func(c *circuit) {
		c.add(elec.VoltageSource, c.between(3, 15), params{"ilim": c.between(0.02, 1), "ohms": 0.05}, "in", "0").r(3, 100, "in", "0").add(elec.Switch, 0, nil, "in", "s").r(10, 1e3, "s", "0")
	}},
}

// network is a connected net of resistors, sources and, if asked for, diodes.
func (c *circuit) network(diodes bool) {
	n := 5 + c.rng.IntN(20)
	name := func(i int) string { return fmt.Sprintf("n%d", i) }
	c.add(elec.VoltageSource, c.between(3, 20), nil, name(1), "0")
	for i := 2; i <= n; i++ { // a tree first, so that nothing floats
		c.r(100, 1e5, name(i), name(1+c.rng.IntN(i-1)))
	}
	for range n {
		a, b := 1+c.rng.IntN(n), c.rng.IntN(n+1)
		if a == b {
			continue
		}
		to := "0"
		if b > 0 {
			to = name(b)
		}
		if diodes && c.rng.IntN(2) == 0 {
			c.add(elec.Diode, 0, params{"is": 2.52e-9, "n": 1.752, "rs": 0.568, "bv": 80, "ibv": 1e-4}, name(a), to)
		} else {
			c.r(100, 1e5, name(a), to)
		}
	}
	c.add(elec.CurrentSource, c.between(-2e-3, 2e-3), nil, name(2), "0").r(1e3, 1e4, name(n), "0")
}

// fault draws one change of a circuit: an open terminal, a bad joint, a short, a leak, a drifted value, a changed parameter.
func fault(c *circuit, e *elec.Circuit) (elec.Patch, string) {
	for {
		i := c.rng.IntN(len(c.nl.Devices))
		d := &c.nl.Devices[i]
		if d.Kind == elec.VoltageSource || d.Kind == elec.CurrentSource {
			continue
		}
		pins := len(d.Nodes)
		switch c.rng.IntN(6) {
		case 0, 1:
			k := c.rng.IntN(pins)
			return elec.Open(i, k), fmt.Sprintf("%s terminal %d open", d.Name, k)
		case 2:
			k, r := c.rng.IntN(pins), c.ohms(100, 1e5)
			return elec.Patch{Changes: []elec.Change{{Device: i, Do: elec.Joint, Pin: k, Value: r}}}, fmt.Sprintf("%s terminal %d joint of %g", d.Name, k, r)
		case 3, 4:
			a, b := c.rng.IntN(pins), c.rng.IntN(pins)
			if d.Nodes[a] == d.Nodes[b] {
				continue
			}
			r := c.ohms(0.1, 1e4)
			return e.Short(i, a, b, r), fmt.Sprintf("%s terminals %d and %d bridged with %g", d.Name, a, b, r)
		default:
			names := elec.Params(d.Kind)
			k := names[c.rng.IntN(len(names))]
			v, _ := e.Param(i, k)
			if v == 0 || k == "npn" || k == "nch" || k == "sign" || k == "position" || k == "closed" || k == "k" {
				continue
			}
			by := []float64{0.5, 0.8, 1.5}[c.rng.IntN(3)]
			if k == "n" || k == "nf" || k == "nr" || k == "mid" || k == "threshold" {
				by = 1.05
			}
			return elec.Patch{Changes: []elec.Change{{Device: i, Do: elec.Scale, Param: k, Value: by}}}, fmt.Sprintf("%s %s times %g", d.Name, k, by)
		}
	}
}
