package elec

import "math"

// This file evaluates junctions, bipolar transistors, junction and MOS field-effect transistors. The equations are those
// of Berkeley's level-1 models (Antognetti and Massobrio, "Semiconductor Device Modeling with SPICE", 1988): the
// diode with breakdown and series resistance, a Gummel-Poon transistor without terminal resistances or charge,
// Shichman and Hodges for the field-effect transistors.

// junctionCurrent is the ideal junction with SPICE's flat reverse branch; nvt is the emission coefficient times VT.
func junctionCurrent(v, is, nvt float64) (i, g float64) {
	if v >= -3*nvt {
		x := v / nvt
		if x > 300 { // beyond any physical current: go on in a straight line so that nothing overflows
			e := math.Exp(300)
			return is*e*(1+x-300) - is, is * e / nvt
		}
		e := math.Exp(x)
		return is * (e - 1), is * e / nvt
	}
	a := 3 * nvt / (v * math.E)
	a = a * a * a
	return -is * (1 + a), is * 3 * a / v
}

// damp limits the step of a junction voltage (SPICE's pnjlim); held tells whether it did. Unlike there, a junction that was off and
// is asked to conduct starts at its knee: creeping up to it cost up to ten steps for each transistor that saturates.
func damp(v, old, nvt, vcrit float64) (limited float64, held bool) {
	if v <= vcrit || abs(v-old) <= 2*nvt {
		return v, false
	}
	if knee := vcrit - kneeBelow*nvt; old < min(3*nvt, knee-nvt) {
		return knee, true
	}
	if old > 0 {
		if a := 1 + (v-old)/nvt; a > 0 {
			return old + nvt*math.Log(a), true
		}
		return vcrit, true
	}
	return nvt * math.Log(max(v/nvt, 2)), true
}

// kneeBelow is how many emission voltages the knee lies below the critical voltage, where some 18 mA flow: about 0.3 mA.
const kneeBelow = 4

// critical is the voltage above which junction steps are damped.
func critical(is, nvt float64) float64 { return nvt * math.Log(nvt/(math.Sqrt2*is)) }

// branch adds a current i with conductance g that flows from terminal a to b.
func (l *local) branch(a, b int, i, g float64) {
	l.i[a] += i
	l.i[b] -= i
	l.g[a*maxTerms+a] += g
	l.g[b*maxTerms+b] += g
	l.g[a*maxTerms+b] -= g
	l.g[b*maxTerms+a] -= g
}

// Diode parameters: is, n*VT, rs, bv, ibv, nbv*VT, vcrit.
func diodeCurrent(v float64, par []float64, gmin float64) (i, g float64) {
	i, g = junctionCurrent(v, par[0], par[1])
	if bv := par[3]; bv > 0 && v < -bv/2 {
		x := -(v + bv) / par[5]
		e := math.Exp(min(x, 300))
		i -= par[4] * e
		g += par[4] * e / par[5]
	}
	return i + gmin*v, g + gmin
}

func dampDiode(v, old float64, par []float64) (float64, bool) {
	if bv := par[3]; bv > 0 && v < 0 {
		nvt := par[5]
		w, held := damp(-(v + bv), -(old + bv), nvt, critical(par[4], nvt))
		if held {
			return -w - bv, true
		}
	}
	return damp(v, old, par[1], par[6])
}

func (l *local) diode(par, mem []float64, gmin float64) {
	v := l.v[0] - l.v[1]
	rs := par[2]
	if rs <= 0 {
		vj, held := dampDiode(v, mem[0], par)
		mem[0] = vj
		i, g := diodeCurrent(vj, par, gmin)
		l.limited = held
		l.branch(0, 1, i+g*(v-vj), g)
		return
	}
	// With a series resistance the junction voltage is found here, so that outside the diode is nearly straight.
	vj := mem[0]
	var i, g float64
	l.limited = true
	for step := 0; step < 100; step++ {
		i, g = diodeCurrent(vj, par, gmin)
		f := i - (v-vj)/rs
		next, held := dampDiode(vj-f/(g+1/rs), vj, par)
		d := next - vj
		vj = next
		if !held && abs(d) < 1e-12+1e-12*abs(vj) {
			l.limited = false
			break
		}
	}
	mem[0] = vj
	i, g = diodeCurrent(vj, par, gmin)
	gt := g / (1 + g*rs)
	i += g / (1 + g*rs) * (v - vj - i*rs) // what is left of the inner iteration
	l.branch(0, 1, i, gt)
}

// BJT parameters: type, is, bf, br, nf*VT, nr*VT, 1/vaf, 1/var, 1/ikf, ise, ne*VT, isc, nc*VT, vcrit. Terminals c, b, e.
func (l *local) bjt(par, mem []float64, gmin float64) {
	s := par[0]
	vbe0, vbc0 := s*(l.v[1]-l.v[2]), s*(l.v[1]-l.v[0])
	vbe, h1 := damp(vbe0, mem[0], par[4], par[13])
	vbc, h2 := damp(vbc0, mem[1], par[5], par[13])
	mem[0], mem[1] = vbe, vbc
	l.limited = h1 || h2
	is, bf, br := par[1], par[2], par[3]
	cbe, gbe := junctionCurrent(vbe, is, par[4])
	cbc, gbc := junctionCurrent(vbc, is, par[5])
	var cben, gben, cbcn, gbcn float64
	if par[9] > 0 {
		cben, gben = junctionCurrent(vbe, par[9], par[10])
	}
	if par[11] > 0 {
		cbcn, gbcn = junctionCurrent(vbc, par[11], par[12])
	}
	cben += gmin * vbe
	gben += gmin
	cbcn += gmin * vbc
	gbcn += gmin
	q1 := 1 / max(1-vbc*par[6]-vbe*par[7], 0.02)
	qb, dqe, dqc := q1, q1*q1*par[7], q1*q1*par[6]
	if oik := par[8]; oik > 0 {
		arg := max(0, 1+4*oik*cbe)
		sq := 1.0
		if arg > 0 {
			sq = math.Sqrt(arg)
		}
		qb = q1 * (1 + sq) / 2
		dqe = q1 * (qb*par[7] + oik*gbe/sq)
		dqc = q1 * qb * par[6]
	}
	ic := (cbe-cbc)/qb - cbc/br - cbcn
	ib := cbe/bf + cben + cbc/br + cbcn
	go_ := (gbc + (cbe-cbc)*dqc/qb) / qb
	a := (gbe - (cbe-cbc)*dqe/qb) / qb // dIc/dvbe
	gpi, gmu := gbe/bf+gben, gbc/br+gbcn
	b := -go_ - gmu // dIc/dvbc
	ic += a*(vbe0-vbe) + b*(vbc0-vbc)
	ib += gpi*(vbe0-vbe) + gmu*(vbc0-vbc)
	l.i[0], l.i[1], l.i[2] = s*ic, s*ib, -s*(ic+ib)
	const C, B, E = 0, maxTerms, 2 * maxTerms
	l.g[C+0], l.g[C+1], l.g[C+2] = -b, a+b, -a
	l.g[B+0], l.g[B+1], l.g[B+2] = -gmu, gpi+gmu, -gpi
	l.g[E+0], l.g[E+1], l.g[E+2] = b+gmu, -(a + b + gpi + gmu), a+gpi
}

// dampGate limits the step of a gate or drain voltage.
func dampGate(v, old float64) (float64, bool) {
	const most = 4.0
	if v > old+most+abs(old) {
		return old + most + abs(old), true
	}
	if v < old-most-abs(old) {
		return old - most - abs(old), true
	}
	return v, false
}

// JFET parameters: type, vto, beta, lambda, is, vcrit. Terminals d, g, s. vto is negative for a depletion device of either type.
func (l *local) jfet(par, mem []float64, gmin float64) {
	s, is := par[0], par[4]
	d, g, so := s*l.v[0], s*l.v[1], s*l.v[2]
	vgs, h1 := damp(g-so, mem[0], thermal, par[5])
	vgd, h2 := damp(g-d, mem[1], thermal, par[5])
	vgs, h3 := dampGate(vgs, mem[0])
	vgd, h4 := dampGate(vgd, mem[1])
	mem[0], mem[1] = vgs, vgd
	l.limited = h1 || h2 || h3 || h4
	cgs, ggs := junctionCurrent(vgs, is, thermal)
	cgd, ggd := junctionCurrent(vgd, is, thermal)
	l.branch(1, 2, s*(cgs+gmin*vgs+(ggs+gmin)*(g-so-vgs)), ggs+gmin)
	l.branch(1, 0, s*(cgd+gmin*vgd+(ggd+gmin)*(g-d-vgd)), ggd+gmin)
	id, gm, gds := squareLaw(vgs, vgs-vgd, par[1], 2*par[2], par[3])
	id += gm*((g-so)-vgs) + gds*((d-so)-(vgs-vgd))
	l.channel(s, id, gm, gds)
}

// channel adds a drain current with its derivatives to vgs and vds.
func (l *local) channel(s, id, gm, gds float64) {
	l.i[0] += s * id
	l.i[2] -= s * id
	const D, S = 0, 2 * maxTerms
	l.g[D+0] += gds
	l.g[D+1] += gm
	l.g[D+2] -= gm + gds
	l.g[S+0] -= gds
	l.g[S+1] -= gm
	l.g[S+2] += gm + gds
}

// squareLaw is Shichman and Hodges's channel for either sign of vds.
func squareLaw(vgs, vds, vto, kp, lambda float64) (id, gm, gds float64) {
	if vds < 0 { // drain and source change places
		i, m, d := squareLaw(vgs-vds, -vds, vto, kp, lambda)
		return -i, -m, m + d
	}
	on := vgs - vto
	if on <= 0 {
		return 0, 0, 0
	}
	k := 1 + lambda*vds
	if vds >= on {
		return kp / 2 * on * on * k, kp * on * k, kp / 2 * on * on * lambda
	}
	id = kp * vds * (on - vds/2)
	return id * k, kp * vds * k, kp*(on-vds)*k + id*lambda
}

// MOS parameters: type, vto, kp, lambda, is of the body diode, vcrit. Terminals d, g, s; the body is tied to the source.
func (l *local) mos(par, mem []float64, gmin float64) {
	s := par[0]
	d, g, so := s*l.v[0], s*l.v[1], s*l.v[2]
	vgs, h1 := dampGate(g-so, mem[0])
	vds, h2 := dampGate(d-so, mem[1])
	vbd, h3 := damp(so-d, mem[2], thermal, par[5])
	mem[0], mem[1], mem[2] = vgs, vds, vbd
	l.limited = h1 || h2 || h3
	id, gm, gds := squareLaw(vgs, vds, par[1], par[2], par[3])
	l.channel(s, id+gm*(g-so-vgs)+gds*(d-so-vds), gm, gds)
	c, gd := junctionCurrent(vbd, par[4], thermal)
	l.branch(2, 0, s*(c+gmin*vbd+(gd+gmin)*(so-d-vbd)), gd+gmin)
}
