package elec

import "math"

// This file evaluates the macro-models: op-amp, comparator, OTA, optocoupler, regulators, shunt reference, analogue switch
// and the current-limited source. They are smooth closed expressions, written so that all current that leaves an
// output comes out of a supply pin. The op-amp follows the plan of Boyle et al. ("Macromodeling of integrated circuit
// operational amplifiers", IEEE J. Solid-State Circuits SC-9, 1974) with tanh in place of its input pair.

// softplus is the smooth max(x, 0) with corner width w, and its slope.
func softplus(x, w float64) (y, slope float64) {
	t := x / w
	if t > 40 {
		return x, 1
	}
	if t < -700 {
		return 0, 0
	}
	e := math.Exp(t)
	return w * math.Log1p(e), e / (1 + e)
}

// logistic is 1/(1+exp(-x)) and its slope.
func logistic(x float64) (y, slope float64) {
	y = 1 / (1 + math.Exp(-max(-700, min(700, x))))
	return y, y * (1 - y)
}

// tanhSlope returns tanh and its slope.
func tanhSlope(x float64) (y, slope float64) {
	if x > 20 || x < -20 {
		return math.Copysign(1, x), 0
	}
	y = math.Tanh(x)
	return y, 1 - y*y
}

// hold keeps the argument of a function that saturates beyond -1 and 1 from jumping over its straight part, where
// alone its slope tells anything.
func hold(u, old float64) (held float64, limited bool) {
	const edge = 2.0
	switch {
	case u > edge && old < -edge, u < -edge && old > edge:
		return 0, true
	case u > edge && old < edge-0.1:
		return edge, true
	case u < -edge && old > 0.1-edge:
		return -edge, true
	}
	return u, false
}

// row adds to the derivatives of terminal r.
func (l *local) dv(r, c int, g float64) { l.g[r*maxTerms+c] += g }

// power is how far an amplifier is alive at the supply voltage between its terminals p and n.
func (l *local) power(p, n int, vmin float64) (y, slope float64) {
	y, slope = logistic((l.v[p] - l.v[n] - vmin) / powerWidth)
	return y, slope / powerWidth
}

const powerWidth = 0.2 // volts over which an amplifier wakes up

// bias draws i from terminal t to the terminal n, in so far as the supply p, n is there.
func (l *local) bias(t, p, n int, i, pw, dpw float64) {
	l.i[t] += i * pw
	l.i[n] -= i * pw
	l.dv(t, p, i*dpw)
	l.dv(t, n, -i*dpw)
	l.dv(n, p, -i*dpw)
	l.dv(n, n, i*dpw)
}

// Parameters: vos, ibias, ios, 1/rin, gm, imax, 1/rc, voh, vol, 1/rout, isc, iq, vmin. Terminals +, -, out, v+, v-, and c, the
// inner node that carries the compensating capacitor (two capacitors beside this element, see build.go).
func (l *local) opamp(par, mem []float64) {
	const P, N, O, VP, VN, C = 0, 1, 2, 3, 4, 5
	pw, dpw := l.power(VP, VN, par[12])
	l.bias(P, VP, VN, par[1]+par[2]/2, pw, dpw)
	l.bias(N, VP, VN, par[1]-par[2]/2, pw, dpw)
	l.bias(VP, VP, VN, par[11], pw, dpw)
	l.branch(P, N, par[3]*(l.v[P]-l.v[N]), par[3])
	// input stage: current into c, half from each rail
	gm, imax := par[4], par[5]
	u0 := gm / imax * (l.v[P] - l.v[N] + par[0])
	u, held := hold(u0, mem[0])
	mem[0] = u
	th, dth := tanhSlope(u)
	i := imax * pw * (th + dth*(u0-u))
	g := gm * pw * dth
	dp := imax * th * dpw
	for _, f := range [...]struct {
		t int
		k float64
	}{{C, -1}, {VP, 0.5}, {VN, 0.5}} {
		l.i[f.t] += f.k * i
		l.dv(f.t, P, f.k*g)
		l.dv(f.t, N, -f.k*g)
		l.dv(f.t, VP, f.k*dp)
		l.dv(f.t, VN, -f.k*dp)
	}
	l.branch(C, VP, par[6]/2*(l.v[C]-l.v[VP]), par[6]/2)
	l.branch(C, VN, par[6]/2*(l.v[C]-l.v[VN]), par[6]/2)
	// the rails hold c, in so far as there is a supply: else the two clamps would pump current from one rail into the other
	clamp := func(from, to int, x float64) {
		y, s := softplus(x, clampWidth)
		l.branch(from, to, clampSiemens*pw*y, clampSiemens*pw*s)
		g := clampSiemens * dpw * y
		l.dv(from, VP, g)
		l.dv(from, VN, -g)
		l.dv(to, VP, -g)
		l.dv(to, VN, g)
	}
	clamp(C, VP, l.v[C]-l.v[VP]+par[7])
	clamp(VN, C, l.v[VN]+par[8]-l.v[C])
	// output stage
	isc := par[10]
	w0 := par[9] / isc * (l.v[C] - l.v[O])
	w, held2 := hold(w0, mem[1])
	mem[1] = w
	th, dth = tanhSlope(w)
	io := isc * pw * (th + dth*(w0-w))
	g = pw*par[9]*dth + idleSiemens
	io += idleSiemens * (l.v[C] - l.v[O])
	dp = isc * th * dpw
	l.i[O] -= io
	l.dv(O, C, -g)
	l.dv(O, O, g)
	l.dv(O, VP, -dp)
	l.dv(O, VN, dp)
	up, ds := softplus(io, outputWidth)
	up -= outputWidth * math.Ln2 * (1 - pw) // what flows through an idle output stage flows only with a supply
	k := outputWidth * math.Ln2 * dpw
	l.dv(VP, VP, k)
	l.dv(VP, VN, -k)
	l.dv(VN, VP, -k)
	l.dv(VN, VN, k)
	// up comes out of v+, up-io goes into v-
	l.i[VP] += up
	l.i[VN] -= up - io
	for _, q := range [...]struct {
		t int
		d float64
	}{{C, g}, {O, -g}, {VP, dp}, {VN, -dp}} {
		l.dv(VP, q.t, ds*q.d)
		l.dv(VN, q.t, (1-ds)*q.d)
	}
	l.limited = held || held2
}

const (
	clampWidth   = 0.01 // volts: corner of an amplifier's rails
	clampSiemens = 1e-3
	outputWidth  = 1e-4 // amperes: overlap of the output stage
	idleSiemens  = 1e-9 // of an output without supply
)

// Parameters: vos, ibias, gain, 1/ron, isat, iq, vmin. Open collector, emitter at v-.
func (l *local) comparator(par, mem []float64) {
	const P, N, O, VP, VN = 0, 1, 2, 3, 4
	pw, dpw := l.power(VP, VN, par[6])
	l.bias(P, VP, VN, par[1], pw, dpw)
	l.bias(N, VP, VN, par[1], pw, dpw)
	l.bias(VP, VP, VN, par[5], pw, dpw)
	k := par[2] / 5 // the output swings a few volts while the input moves by 5/gain
	u0 := k * (l.v[N] - l.v[P] - par[0])
	u, held := hold(u0, mem[0])
	mem[0] = u
	l.limited = held
	on, don := logistic(2 * u)
	on += 2 * don * (u0 - u)
	don *= 2 * k
	isat := par[4]
	th, dth := tanhSlope(par[3] / isat * (l.v[O] - l.v[VN]))
	i := isat * pw * on * th
	go_ := par[3]*pw*on*dth + 1e-12
	i += 1e-12 * (l.v[O] - l.v[VN])
	gi, gp := isat*pw*th*don, isat*on*th*dpw
	for _, f := range [...]struct {
		t int
		k float64
	}{{O, 1}, {VN, -1}} {
		l.i[f.t] += f.k * i
		l.dv(f.t, O, f.k*go_)
		l.dv(f.t, VN, -f.k*(go_+gp))
		l.dv(f.t, VP, f.k*gp)
		l.dv(f.t, N, f.k*gi)
		l.dv(f.t, P, -f.k*gi)
	}
}

// Parameters: vos, 1/beta, is, n*VT, voh, vol, gain. Terminals +, -, out, bias, v+, v-.
func (l *local) ota(par, mem []float64, gmin float64) {
	const P, N, O, B, VP, VN = 0, 1, 2, 3, 4, 5
	vb0 := l.v[B] - l.v[VN]
	vb, h1 := damp(vb0, mem[0], par[3], critical(par[2], par[3]))
	mem[0] = vb
	ib, gb := junctionCurrent(vb, par[2], par[3])
	ib += gmin*vb + (gb+gmin)*(vb0-vb)
	gb += gmin
	l.branch(B, VN, ib, gb)
	u0 := (l.v[P] - l.v[N] + par[0]) / (2 * thermal)
	u, h2 := hold(u0, mem[1])
	mem[1] = u
	l.limited = h1 || h2
	th, dth := tanhSlope(u)
	th += dth * (u0 - u)
	gu := dth / (2 * thermal)
	// add puts current k*ib*(1+sign*tanh)/2*sat((va-vb-gap)/w) from terminal a to b
	add := func(k, sign float64, a, b int, gap float64) {
		sat, dsat := 1.0, 0.0
		if gap >= 0 {
			sat, dsat = tanhSlope((l.v[a] - l.v[b] - gap) / otaWidth)
			dsat /= otaWidth
		}
		half := (1 + sign*th) / 2
		i := k * ib * half * sat
		for _, f := range [...]struct {
			t int
			s float64
		}{{a, 1}, {b, -1}} {
			l.i[f.t] += f.s * i
			l.dv(f.t, B, f.s*k*gb*half*sat)
			l.dv(f.t, VN, -f.s*k*gb*half*sat)
			l.dv(f.t, P, f.s*k*ib*sign*gu/2*sat)
			l.dv(f.t, N, -f.s*k*ib*sign*gu/2*sat)
			l.dv(f.t, a, f.s*k*ib*half*dsat)
			l.dv(f.t, b, -f.s*k*ib*half*dsat)
		}
	}
	add(par[6], 1, VP, O, par[4])
	add(par[6], -1, O, VN, par[5])
	add(par[1], 1, P, VN, -1)
	add(par[1], -1, N, VN, -1)
	l.branch(VP, VN, ib, 0) // the tail of the input pair, mirrored from v+
	l.dv(VP, B, gb)
	l.dv(VP, VN, -gb)
	l.dv(VN, B, -gb)
	l.dv(VN, VN, gb)
}

const otaWidth = 0.1 // volts over which an output mirror runs out of room

// Parameters: is, n*VT, base current per diode current, vcrit. Terminals a, k, c, b.
func (l *local) photo(par, mem []float64, gmin float64) {
	v0 := l.v[0] - l.v[1]
	v, held := damp(v0, mem[0], par[1], par[3])
	mem[0] = v
	l.limited = held
	i, g := junctionCurrent(v, par[0], par[1])
	i += g * (v0 - v)
	l.branch(0, 1, i+gmin*v0, g+gmin)
	k := par[2]
	l.i[2] += k * i
	l.i[3] -= k * i
	l.dv(2, 0, k*g)
	l.dv(2, 1, -k*g)
	l.dv(3, 0, -k*g)
	l.dv(3, 1, k*g)
}

// clip is x kept smoothly between 0 and hi, with its slope.
func clip(x, hi, w float64) (y, slope float64) {
	a, da := softplus(x, w)
	b, db := softplus(x-hi, w)
	return a - b, da - db
}

// holdClip is hold for clip: it works on x scaled so that 0 to hi is -1 to 1.
func holdClip(x, hi float64, mem *float64) (float64, bool) {
	u, held := hold(2*x/hi-1, *mem)
	*mem = u
	return (u + 1) / 2 * hi, held
}

// Parameters: sign, volts, 1/ro, drop, ilim, iq, line, 1/vsoa. Terminals in, out, ref.
func (l *local) regulator(par, mem []float64) {
	const I, O, R = 0, 1, 2
	s := par[0]
	vi, vo := s*(l.v[I]-l.v[R]), s*(l.v[O]-l.v[R])
	// what the regulator aims at: its own voltage, or what the input leaves
	drop := vi - par[3] - par[1] - par[6]*vi
	cut, dcut := softplus(-drop, regWidth)
	target := par[1] + par[6]*vi - cut
	dt := par[6] + dcut*(1-par[6])
	r := max(vi-vo, 0) * par[7]
	q := 1 / (1 + r*r*r*r)
	hi := par[4] * q
	dhi := -4 * par[4] * q * q * r * r * r * par[7]
	x0 := (target - vo) * par[2]
	x, held := holdClip(x0, hi, &mem[0])
	l.limited = held
	w := par[4] * regCorner
	y, d := clip(x, hi, w)
	_, dy := softplus(x-hi, w) // dclip/dhi
	i := y + d*(x0-x)
	gi, gO := d*dt*par[2]+dy*dhi, -d*par[2]-dy*dhi
	l.i[I] += s * i
	l.i[O] -= s * i
	for _, f := range [...]struct {
		t int
		k float64
	}{{I, 1}, {O, -1}} {
		l.dv(f.t, I, f.k*gi)
		l.dv(f.t, O, f.k*gO)
		l.dv(f.t, R, -f.k*(gi+gO))
	}
	th, dth := tanhSlope(vi)
	l.branch(I, R, s*par[5]*th, par[5]*dth)
	// the diodes of the chip: the output cannot be pulled far beyond ref, nor above the input
	y, d = softplus(-vo-chipDiode, regWidth)
	l.branch(R, O, s*chipSiemens*y, chipSiemens*d)
	y, d = softplus(vo-vi-chipDiode, regWidth)
	l.branch(O, I, s*chipSiemens*y, chipSiemens*d)
}

const (
	chipDiode   = 0.6 // volts
	chipSiemens = 1
	regWidth    = 0.05 // volts: corner between regulation and drop-out
	regCorner   = 2e-3 // of the limit: corner of the current limit
)

// Parameters: volts, gm, iref, imax, 1/vmin, imin. Terminals k, ref, a.
func (l *local) reference(par, mem []float64) {
	const K, R, A = 0, 1, 2
	vr, vk := l.v[R]-l.v[A], l.v[K]-l.v[A]
	x0 := (vr-par[0])*par[1] + par[3]*1e-3
	x, held := holdClip(x0, par[3], &mem[0])
	l.limited = held
	y, d := clip(x, par[3], par[3]*refCorner)
	y += d*(x0-x) + par[5]
	th, dth := tanhSlope(2 * vk * par[4])
	dth *= 2 * par[4]
	i, gr, gk := y*th, d*par[1]*th, y*dth
	l.branch(K, A, i, gk)
	l.dv(K, R, gr)
	l.dv(K, A, -gr)
	l.dv(A, R, -gr)
	l.dv(A, A, gr)
	t2, d2 := tanhSlope(vr)
	l.branch(R, A, par[2]*t2, par[2]*d2)
}

const refCorner = 2e-4 // of imax

// Parameters: 1/ron, 1/roff, threshold as a fraction of the supply, width. Terminals a, b, control, v+, v-.
func (l *local) analogSwitch(par []float64) {
	const A, B, C, VP, VN = 0, 1, 2, 3, 4
	th := par[2]
	y, d := logistic((l.v[C] - l.v[VN] - th*(l.v[VP]-l.v[VN])) / par[3])
	g := par[0]*y + par[1]
	v := l.v[A] - l.v[B]
	l.branch(A, B, g*v, g)
	dg := par[0] * d / par[3] * v
	for _, f := range [...]struct {
		t int
		k float64
	}{{A, 1}, {B, -1}} {
		l.dv(f.t, C, f.k*dg)
		l.dv(f.t, VP, -f.k*dg*th)
		l.dv(f.t, VN, -f.k*dg*(1-th))
	}
}

// Parameters: volts, 1/ohms, and as eVsrc, ilim last. Terminals +, -.
func (l *local) limitedSource(par, mem []float64) {
	ilim := par[7]
	x0 := (par[0]-(l.v[0]-l.v[1]))*par[1] + ilim
	x, held := holdClip(x0, 2*ilim, &mem[0])
	l.limited = held
	y, d := clip(x, 2*ilim, ilim*regCorner)
	l.branch(0, 1, ilim-(y+d*(x0-x)), d*par[1])
}
