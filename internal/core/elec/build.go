package elec

import "math"

// This file turns devices into elements: which elements a device consists of (add) and how their parameters follow
// from the device's (fill). The fill functions are kept, so that a patch can change a parameter later.

type fill func(p, par []float64)

// term is a terminal of an element under construction: an unknown and the device terminal that it belongs to (-1: inner).
type term struct {
	unknown int32
	pin     int8
}

const ground = -1

type builder struct {
	c     *Circuit
	dev   int
	d     *Device
	p     []float64
	part  int32
	pairs [][2]int32
}

// pin is a terminal on its node.
func (b *builder) pin(i int) term { return term{b.c.unknownOf(b.d.Nodes[i]), int8(i)} }

// inner is a new node inside the device.
func (b *builder) inner(name string) term { return term{b.c.newUnknown(b.d.Name+"."+name, false), -1} }

// joined is an inner node behind a joint of 1 µΩ, for terminals that several elements of the device share.
func (b *builder) joined(i int, name string) term {
	t := b.inner(name)
	b.resistor(func([]float64) float64 { return 1e-6 }, b.pin(i), t)
	return t
}

func (b *builder) add(k ekind, f fill, terms ...term) int {
	c := b.c
	sh := &shapes[k]
	if k == eVsrc || k == eWinding {
		terms = append(terms, term{c.newUnknown(b.d.Name+" current", true), -1})
	}
	e := element{kind: k, nt: int8(len(terms)), dev: int32(b.dev), part: b.part, par: int32(len(c.par)), mem: int32(c.mems), joints: -1}
	b.part++
	for i, t := range terms {
		e.t[i], e.pin[i] = t.unknown, t.pin
	}
	c.par = append(c.par, make([]float64, sh.pars)...)
	f(b.p, c.par[e.par:])
	c.mems += sh.mem
	e.slot = int32(len(b.pairs))
	b.pairs = append(b.pairs, pairsOf(&e)...)
	c.elems = append(c.elems, e)
	c.fills = append(c.fills, f)
	return len(c.elems) - 1
}

// pairsOf lists the matrix entries of an element in the order in which they are stamped.
func pairsOf(e *element) (out [][2]int32) {
	t := e.t
	switch e.kind {
	case eRes, eCap:
		return [][2]int32{{t[0], t[0]}, {t[0], t[1]}, {t[1], t[0]}, {t[1], t[1]}}
	case eIsrc:
		return nil
	case eVsrc, eWinding:
		return [][2]int32{{t[0], t[2]}, {t[1], t[2]}, {t[2], t[0]}, {t[2], t[1]}, {t[2], t[2]}}
	}
	for r := 0; r < int(e.nt); r++ {
		for q := 0; q < int(e.nt); q++ {
			out = append(out, [2]int32{t[r], t[q]})
		}
	}
	return out
}

func same(p, par []float64) { copy(par, p) }

func diodeFill(p, par []float64) {
	is, nvt := p[0], p[1]*thermal
	par[0], par[1], par[2], par[3], par[4], par[5], par[6] = is, nvt, p[2], p[3], p[4], p[5]*thermal, critical(is, nvt)
}

func invert(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return 1 / x
}

func bjtFill(p, par []float64) {
	copy(par, []float64{sign(p[0]), p[1], p[2], p[3], p[4] * thermal, p[5] * thermal, invert(p[6]), invert(p[7]), invert(p[8]),
		p[9], p[10] * thermal, p[11], p[12] * thermal, critical(p[1], p[4]*thermal)})
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}

func fetFill(p, par []float64) {
	copy(par, []float64{sign(p[0]), p[1], p[2], p[3], p[4], critical(p[4], thermal)})
}

const compensation = 30e-12 // farads inside every op-amp macro-model; gm and the slewing current follow from it

// ampFill fills an op-amp's element from amplifier parameters.
func ampFill(p, par []float64) {
	gm := 2 * math.Pi * p[5] * compensation
	imax := p[6] * compensation
	rc := max(p[4], 1e-3) / gm
	if p[4] == 0 { // a dead input stage: the output rests in the middle
		gm, rc = 1e-15, 1e6
	}
	copy(par, []float64{p[0], p[1], p[2], 1 / p[3], gm, imax, 1 / rc, p[7], p[8], 1 / p[9], p[10], p[11], p[12]})
}

// amp adds an op-amp element with its compensating capacitor, half to each rail.
func (b *builder) amp(f fill, plus, minus, out, vp, vn term) {
	c := b.inner("gain")
	b.add(eOpAmp, f, plus, minus, out, vp, vn, c)
	half := func(_, par []float64) { par[0], par[1], par[2] = compensation/2, 0, never }
	b.add(eCap, half, c, term{vp.unknown, -1})
	b.add(eCap, half, c, term{vn.unknown, -1})
}

// resistor adds a resistance. Small ones get their current as an unknown: a large conductance in a part of the circuit that hangs in the air
// would drown the leakage that sets its voltage in rounding.
func (b *builder) resistor(of func(p []float64) float64, t, u term) {
	clamped := func(p []float64) float64 { return min(max(of(p), 1e-6), never) }
	if clamped(b.p) < 1 {
		b.add(eVsrc, func(p, par []float64) { par[1] = clamped(p) }, t, u)
		return
	}
	b.add(eRes, func(p, par []float64) { par[0] = clamped(p) }, t, u)
}

func (b *builder) build() {
	switch b.d.Kind {
	case Resistor, Fuse:
		b.resistor(func(p []float64) float64 { return p[0] }, b.pin(0), b.pin(1))
	case Switch:
		b.resistor(func(p []float64) float64 {
			if p[0] >= 0.5 {
				return p[1]
			}
			return p[2]
		}, b.pin(0), b.pin(1))
	case Capacitor:
		b.add(eCap, same, b.pin(0), b.pin(1))
	case Inductor:
		b.c.groups = append(b.c.groups, []int32{int32(b.add(eWinding, func(p, par []float64) { par[0], par[1], par[2] = p[0], p[1], 0 }, b.pin(0), b.pin(1)))})
	case Transformer:
		b.transformer()
	case Potentiometer:
		b.potentiometer()
	case Diode, Zener, LED:
		b.add(eDiode, diodeFill, b.pin(0), b.pin(1))
	case Rectifier:
		b.bridge()
	case BJT:
		b.add(eBJT, bjtFill, b.pin(0), b.pin(1), b.pin(2))
	case Darlington:
		b.darlington()
	case Array:
		for i := 0; i+2 < len(b.d.Nodes); i += 3 {
			b.add(eBJT, bjtFill, b.pin(i), b.pin(i+1), b.pin(i+2))
		}
	case JFET:
		b.add(eJFET, fetFill, b.pin(0), b.pin(1), b.pin(2))
	case MOSFET:
		b.add(eMOS, fetFill, b.pin(0), b.pin(1), b.pin(2))
	case SCR:
		b.scr()
	case OpAmp:
		b.amp(ampFill, b.pin(0), b.pin(1), b.pin(2), b.pin(3), b.pin(4))
	case Comparator:
		b.add(eComp, func(p, par []float64) { copy(par, p); par[3] = 1 / p[3] }, b.pin(0), b.pin(1), b.pin(2), b.pin(3), b.pin(4))
	case OTA:
		b.add(eOTA, func(p, par []float64) {
			copy(par, []float64{p[0], 1 / p[1], p[2], p[3] * thermal, p[4], p[5], p[6]})
		}, b.pin(0), b.pin(1), b.pin(2), b.pin(3), b.pin(4), b.pin(5))
	case Optocoupler:
		b.optocoupler()
	case Regulator:
		b.add(eReg, func(p, par []float64) {
			copy(par, []float64{sign(p[0]), p[1], 1 / p[2], p[3], p[4], p[5], p[6], invert(p[7])})
		}, b.pin(0), b.pin(1), b.pin(2))
	case Regulator723:
		b.regulator723()
	case Reference:
		b.add(eRef, func(p, par []float64) { copy(par, []float64{p[0], p[1], p[2], p[3], 1 / p[4], p[5]}) }, b.pin(0), b.pin(1), b.pin(2))
	case AnalogSwitch:
		b.add(eSwitch, func(p, par []float64) { copy(par, []float64{1 / p[0], 1 / p[1], p[2], p[3]}) }, b.pin(0), b.pin(1), b.pin(2), b.pin(3), b.pin(4))
	case VoltageSource:
		if b.p[7] > 0 {
			b.add(eLimited, func(p, par []float64) {
				copy(par, p)
				par[1] = 1 / max(p[1], 1e-3)
				par[7] = max(p[7], 1e-9)
			}, b.pin(0), b.pin(1))
			return
		}
		b.add(eVsrc, same, b.pin(0), b.pin(1))
	case CurrentSource:
		b.add(eIsrc, same, b.pin(0), b.pin(1))
	}
}

// Parameters: lp, k, rp, ratio, rs, ratio2, rs2, ratio3, rs3.
func (b *builder) transformer() {
	group := []int32{int32(b.add(eWinding, func(p, par []float64) { par[0], par[1], par[2] = p[0], p[2], p[1] }, b.pin(0), b.pin(1)))}
	for w := 0; 2*w+3 < len(b.d.Nodes); w++ {
		group = append(group, int32(b.add(eWinding, func(p, par []float64) {
			ratio, rs := p[3], p[4]
			if v := p[3+2*w]; v > 0 {
				ratio = v
			}
			if v := p[4+2*w]; v > 0 {
				rs = v
			}
			par[0], par[1], par[2] = p[0]*ratio*ratio, rs, p[1]
		}, b.pin(2*w+2), b.pin(2*w+3))))
	}
	b.c.groups = append(b.c.groups, group)
}

// TrackFraction is the part of a track between b and the wiper, for a travel 0 to 1 from b and the fraction mid at half travel: an
// exponential law through 0, mid and 1, linear for mid 0.5.
func TrackFraction(travel, mid float64) float64 {
	if abs(mid-0.5) < 1e-6 {
		return travel
	}
	k := (1 - mid) / mid
	return (math.Pow(k, 2*travel) - 1) / (k*k - 1)
}

// Parameters: ohms, position, mid, wiper, end, worn-at, worn-width, worn-ohms.
func (b *builder) potentiometer() {
	m := b.inner("wiper")
	b.resistor(func(p []float64) float64 { return p[4] + p[0]*(1-TrackFraction(p[1], p[2])) }, b.pin(0), m)
	b.resistor(func(p []float64) float64 { return p[4] + p[0]*TrackFraction(p[1], p[2]) }, m, b.pin(2))
	b.resistor(func(p []float64) float64 {
		r := max(p[3], 1e-3)
		if p[6] > 0 && abs(p[1]-p[5]) <= p[6]/2 {
			r += p[7]
		}
		return r
	}, b.pin(1), m)
}

func (b *builder) bridge() {
	ac1, ac2, plus, minus := b.joined(0, "ac1"), b.joined(1, "ac2"), b.joined(2, "plus"), b.joined(3, "minus")
	for i, ends := range [][2]term{{ac1, plus}, {ac2, plus}, {minus, ac1}, {minus, ac2}} {
		b.add(eDiode, func(p, par []float64) {
			diodeFill(p, par)
			if int(p[6]) == i+1 {
				par[0], par[3], par[6] = 0, 0, 1e30
			}
		}, ends[0], ends[1])
	}
}

func (b *builder) darlington() {
	n := len(bipolar)
	c, e, m := b.joined(0, "collector"), b.joined(2, "emitter"), b.inner("middle")
	base := b.joined(1, "base")
	b.add(eBJT, bjtFill, c, base, m)
	b.add(eBJT, func(p, par []float64) {
		q := append([]float64(nil), p[:n]...)
		q[1] *= p[n]
		q[8] *= p[n]
		q[9] *= p[n]
		bjtFill(q, par)
	}, c, m, e)
	b.resistor(func(p []float64) float64 { return p[n+1] }, base, m)
	b.resistor(func(p []float64) float64 { return p[n+2] }, m, e)
}

// Parameters: is, bfn, bfp, rgk.
func (b *builder) scr() {
	g, k, m := b.joined(1, "gate"), b.joined(2, "cathode"), b.inner("middle")
	transistor := func(s float64, bf int) fill {
		return func(p, par []float64) {
			bjtFill([]float64{s, p[0], p[bf], 0.1, 1, 1, 0, 0, 0, 0, 1.5, 0, 2}, par)
		}
	}
	b.add(eBJT, transistor(-1, 2), g, m, b.pin(0))
	b.add(eBJT, transistor(1, 1), m, g, k)
	b.resistor(func(p []float64) float64 { return p[3] }, g, k)
}

// Parameters: is, n, ctr, ist, bf, vaf.
func (b *builder) optocoupler() {
	c, e := b.joined(2, "collector"), b.pin(3)
	var base term
	if len(b.d.Nodes) > 4 {
		base = b.joined(4, "base")
	} else {
		base = b.inner("base")
	}
	b.add(ePhoto, func(p, par []float64) {
		copy(par, []float64{p[0], p[1] * thermal, p[2] / p[4], critical(p[0], p[1]*thermal)})
	}, b.pin(0), b.pin(1), c, base)
	b.add(eBJT, func(p, par []float64) {
		bjtFill([]float64{1, p[3], p[4], 1, 1, 1, p[5], 0, 0, 0, 1.5, 0, 2}, par)
	}, c, base, e)
}

// Parameters: vref, a0, gbw, iq, is, bf. Terminals v+, vc, vref, +, -, out, cl, cs, comp, v-.
func (b *builder) regulator723() {
	vp, vn := b.joined(0, "supply"), b.joined(9, "ground")
	cl, comp, cs := b.joined(6, "limit"), b.joined(8, "comp"), b.joined(7, "sense")
	out := b.joined(5, "output")
	b.add(eReg, func(p, par []float64) {
		copy(par, []float64{1, p[0], 1, 2, 0.015, 0, 2e-4, 0})
	}, vp, b.pin(2), vn)
	b.amp(func(p, par []float64) {
		ampFill([]float64{0, 1e-6, 0, 1e6, p[1], p[2], 1e6, 1.5, 1, 300, 2e-3, p[3], 5}, par)
	}, b.pin(3), b.pin(4), comp, vp, vn)
	transistor := func(p, par []float64) {
		bjtFill([]float64{1, p[4], p[5], 1, 1, 1, 0, 0, 0, 0, 1.5, 0, 2}, par)
	}
	b.add(eBJT, transistor, b.pin(1), comp, out)
	b.add(eBJT, transistor, comp, cl, cs)
}
