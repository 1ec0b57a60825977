package elec

import (
	"fmt"
	"slices"
)

// This file holds a circuit at its operating point as a straight line: what every uncertain parameter pushes into the equations, and how far that
// moves voltages. Forward (one solution per parameter) it gives all nodes; by the adjoint circuit (Director and Rohrer, "The generalized adjoint
// network and network sensitivities", IEEE Trans. Circuit Theory CT-16, 1969) one solution per voltage gives all parameters.

// push is what half a thousandth of a tolerance puts into one equation.
type push struct {
	at int32
	by float64
}

// part of the half range that a parameter is moved by for a derivative.
const nudge = 1e-3

// Linear is a solver at an operating point. It is good until the solver is used for something else.
type Linear struct {
	s      *Solver
	list   []Uncertain
	pushes [][]push
	z, zt  [][]float64 // answers to a unit current across each bridge, of the equations and of their transpose
	work   []float64
	steep  bool
}

// Linear makes a straight line of a patched circuit at its operating point, found by OP with the same options and patch.
func (s *Solver) Linear(opt Options, p Patch, point *Solution) (*Linear, error) {
	o := opt.filled()
	o.From = point
	s.begin(o, p)
	s.start(point)
	s.assemble(1, 0, nil)
	s.stale = true
	return s.linear(s.c.Uncertain())
}

// linear is Linear where the solver stands.
func (s *Solver) linear(list []Uncertain) (*Linear, error) {
	if !s.factorise() {
		return nil, fmt.Errorf("the equations are singular at the operating point")
	}
	l := &Linear{s: s, list: list, work: make([]float64, s.c.n+1), steep: s.limited}
	var p []float64
	for k, u := range list {
		d := s.c.devices[u.Device].Kind
		if s.off && (d == VoltageSource || d == CurrentSource) {
			l.pushes = append(l.pushes, nil)
			continue
		}
		p = append(p[:0], s.c.paramsOf(u.Device, s.devPar)...)
		p[s.c.specs[u.Device].index(u.Param)] += list[k].Half * nudge
		l.pushes = append(l.pushes, s.pushed(u.Device, p))
	}
	for pass := range 2 {
		var zs [][]float64
		for _, b := range s.bridges {
			z := make([]float64, s.c.n+1)
			z[b.a]++
			z[b.b]--
			z[s.c.n] = 0
			l.plain(z, pass == 1)
			for j, q := range s.bridges[:len(zs)] {
				s.correct(z, zs[j], q)
			}
			zs = append(zs, z)
		}
		if pass == 0 {
			l.z = zs
		} else {
			l.zt = zs
		}
	}
	return l, nil
}

// Uncertain lists the parameters, in the order of gradients.
func (l *Linear) Uncertain() []Uncertain { return l.list }

// plain solves without the bridges.
func (l *Linear) plain(x []float64, transposed bool) {
	if transposed {
		l.s.fac.solveTransposed(x, x)
	} else {
		l.s.fac.solve(x, x)
	}
	x[l.s.c.n] = 0
}

// Gradient puts into out how far the voltage from node b to node a moves when each uncertain parameter moves by its half range.
func (l *Linear) Gradient(a, b int, out []float64) {
	s, y := l.s, l.work
	clear(y)
	y[s.index(a)]++
	y[s.index(b)]--
	y[s.c.n] = 0
	l.plain(y, true)
	for k, q := range s.bridges {
		s.correct(y, l.zt[k], q)
	}
	for u, list := range l.pushes {
		sum := 0.0
		for _, p := range list {
			sum -= y[p.at] * p.by
		}
		out[u] = sum / nudge
	}
}

// Effect puts into out how far every unknown moves when one uncertain parameter moves by its half range.
func (l *Linear) effect(u int, out []float64) {
	s := l.s
	clear(out)
	if len(l.pushes[u]) == 0 {
		return
	}
	for _, p := range l.pushes[u] {
		out[p.at] -= p.by / nudge
	}
	out[s.c.n] = 0
	l.plain(out, false)
	for k, q := range s.bridges {
		s.correct(out, l.z[k], q)
	}
}

// Together puts into volts how far every node moves when all uncertain parameters move, each by z times its half range.
func (l *Linear) Together(z, volts []float64) {
	s, x := l.s, l.work
	clear(x)
	for u, list := range l.pushes {
		for _, p := range list {
			x[p.at] -= z[u] * p.by / nudge
		}
	}
	x[s.c.n] = 0
	l.plain(x, false)
	for k, q := range s.bridges {
		s.correct(x, l.z[k], q)
	}
	volts[0] = 0
	copy(volts[1:], x)
}

// pushed is what parameters p of a device instead of its present ones add to the equations.
func (s *Solver) pushed(dev int, p []float64) []push {
	c := s.c
	var out []push
	for i := c.first[dev]; i < c.first[dev+1]; i++ {
		e := &s.elems[i]
		sh := &shapes[e.kind]
		now := s.par[e.par:][:sh.pars]
		var next [16]float64
		par := next[:sh.pars]
		c.fills[i](p, par)
		if slices.Contains(s.flipped, int32(dev)) {
			par[0] = -par[0]
		}
		for _, j := range s.series {
			if j.elem == i {
				addSeries(e.kind, par, j.ohms)
			}
		}
		if slices.Equal(par, now) {
			continue
		}
		before := s.flow(e, now)
		after := s.flow(e, par)
		for t := range int(e.nt) {
			if d := after[t] - before[t]; d != 0 && int(e.t[t]) < c.n {
				out = append(out, push{e.t[t], d})
			}
		}
	}
	return out
}

// flow is what an element with the parameters par puts into the equations of its terminals at the present voltages.
func (s *Solver) flow(e *element, par []float64) (f [maxTerms]float64) {
	v := s.x[e.t[0]] - s.x[e.t[1]]
	switch e.kind {
	case eRes:
		f[0] = v / par[0]
		f[1] = -f[0]
	case eCap:
		f[0] = v / (par[1] + par[2])
		f[1] = -f[0]
	case eWinding:
		f[2] = -par[1] * s.x[e.t[2]]
	case eVsrc:
		f[2] = -par[1]*s.x[e.t[2]] - par[0]
	case eIsrc:
		f[0], f[1] = par[0], -par[0]
	default:
		sh := &shapes[e.kind]
		var keep, mem [16]float64
		var inner [maxTerms]float64
		own, memory := s.par[e.par:][:sh.pars], s.mem[e.mem:][:sh.mem]
		copy(keep[:], own)
		copy(mem[:], memory)
		copy(own, par)
		if e.joints >= 0 {
			copy(inner[:], s.inner[e.joints:])
		}
		for t := range int(e.nt) {
			s.l.v[t] = s.x[e.t[t]]
		}
		s.evaluate(e)
		f = s.l.i
		copy(own, keep[:])
		copy(memory, mem[:])
		if e.joints >= 0 {
			copy(s.inner[e.joints:], inner[:])
		}
	}
	return f
}
