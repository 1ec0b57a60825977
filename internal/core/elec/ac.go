package elec

import (
	"fmt"
	"math"
	"math/cmplx"
)

// This file computes the small-signal answer at given frequencies, around an operating point.

// ACOptions tell what is driven. Without Inject the sources' own ac parameters drive the circuit; with it they are
// dead and the bridge is the generator: Volts behind Ohms between two nodes, raising A above B.
type ACOptions struct {
	Options
	Inject *Bridge
}

// AC is the answer of a circuit at some frequencies.
type AC struct {
	c           *Circuit
	Frequencies []float64
	Point       *Solution
	v           [][]complex128 // [frequency][node]
}

// Voltage is the phasor of a node (index) at the frequency with index k, in volts.
func (a *AC) Voltage(k, node int) complex128 {
	if k < 0 || k >= len(a.v) || node < 0 || node >= len(a.c.nodes) {
		return 0
	}
	return a.v[k][node]
}

// Gain is the ratio of the voltages of two nodes at frequency k as a magnitude; ok is false if the input is not driven.
func (a *AC) Gain(k, in, out int) (gain float64, ok bool) {
	d := cmplx.Abs(a.Voltage(k, in))
	if !(d > 1e-30) {
		return 0, false
	}
	return cmplx.Abs(a.Voltage(k, out)) / d, true
}

// AC finds the operating point of the patched circuit and its small-signal answer. See Solver.AC.
func (c *Circuit) AC(opt ACOptions, p Patch, frequencies []float64) (*AC, error) {
	return c.NewSolver().AC(opt, p, frequencies)
}

// AC finds the operating point of the patched circuit and its small-signal answer at the frequencies, in hertz above 0.
func (s *Solver) AC(opt ACOptions, p Patch, frequencies []float64) (*AC, error) {
	for _, f := range frequencies {
		if !(f > 0 && f <= 1e12) {
			return nil, fmt.Errorf("%v Hz is not a frequency between 0 and 1e12 Hz", f)
		}
	}
	if opt.Inject != nil {
		if err := s.c.Check(Patch{Bridges: []Bridge{*opt.Inject}}); err != nil {
			return nil, err
		}
	}
	point, err := s.OP(opt.Options, p)
	if err != nil {
		return nil, err
	}
	out := &AC{c: s.c, Frequencies: append([]float64(nil), frequencies...), Point: point}
	s.assemble(1, 0, nil)
	for i, d := range s.lin { // leave what the nonlinear elements stamped
		s.a[i] -= d
	}
	z := &acWork{s: s, f: newFactor[complex128](s.fac.o), a: make([]complex128, len(s.a)), b: make([]complex128, s.c.n+1)}
	for _, f := range frequencies {
		v, err := z.at(2*math.Pi*f, opt.Inject)
		if err != nil {
			return nil, fmt.Errorf("at %v Hz: %w", f, err)
		}
		out.v = append(out.v, v)
	}
	return out, nil
}

type acWork struct {
	s *Solver
	f *factor[complex128]
	a []complex128
	b []complex128
}

// at solves for one angular frequency.
func (z *acWork) at(w float64, inject *Bridge) ([]complex128, error) {
	s, c := z.s, z.s.c
	n := c.n
	for i, g := range s.a {
		z.a[i] = complex(g, 0)
	}
	clear(z.b)
	z.stamp(w, inject == nil)
	if !z.f.refactor(z.a) {
		mag := make([]float64, len(z.a))
		for i, v := range z.a {
			mag[i] = cmplx.Abs(v)
		}
		o, stuck, ok := choose(c.pat, mag)
		if !ok {
			return nil, fmt.Errorf("the equations do not determine %s", c.names[stuck])
		}
		if z.f = newFactor[complex128](o); !z.f.refactor(z.a) {
			return nil, fmt.Errorf("the equations are singular")
		}
	}
	type tie struct {
		a, b int32
		g    complex128
	}
	var ties []tie
	for _, b := range s.bridges {
		ties = append(ties, tie{b.a, b.b, complex(b.g, 0)})
	}
	if inject != nil {
		g := 1 / max(inject.Ohms, 1e-6)
		a, b := s.index(inject.A), s.index(inject.B)
		ties = append(ties, tie{a, b, complex(g, 0)})
		z.b[a] += complex(g*inject.Volts, 0)
		z.b[b] -= complex(g*inject.Volts, 0)
	}
	x := make([]complex128, n+1)
	copy(x, z.b)
	z.f.solve(x, x)
	x[n] = 0
	var zs [][]complex128
	fix := func(y, col []complex128, t tie) {
		k := (y[t.a] - y[t.b]) / (1/t.g + col[t.a] - col[t.b])
		for i := range y {
			y[i] -= k * col[i]
		}
	}
	for k, t := range ties {
		col := make([]complex128, n+1)
		col[t.a]++
		col[t.b]--
		col[n] = 0
		z.f.solve(col, col)
		col[n] = 0
		for j := range k {
			fix(col, zs[j], ties[j])
		}
		zs = append(zs, col)
	}
	for k, t := range ties {
		fix(x, zs[k], t)
	}
	v := make([]complex128, len(c.nodes))
	for i := 1; i < len(v); i++ {
		if v[i] = x[i-1]; cmplx.IsNaN(v[i]) || cmplx.IsInf(v[i]) {
			return nil, fmt.Errorf("the answer at %s is not finite", c.nodes[i])
		}
	}
	return v, nil
}

// stamp adds the linear elements at angular frequency w.
func (z *acWork) stamp(w float64, sources bool) {
	s := z.s
	phasor := func(mag, deg float64) complex128 {
		if !sources || s.off {
			return 0
		}
		return cmplx.Rect(mag, deg*math.Pi/180)
	}
	for i := range s.elems {
		e := &s.elems[i]
		par := s.par[e.par:]
		switch e.kind {
		case eRes:
			z.conductance(e, complex(1/par[0], 0))
		case eCap:
			y := complex(1/par[2], w*par[0])
			z.conductance(e, y/(1+complex(par[1], 0)*y))
		case eWinding:
			z.branch(e, complex(par[1], 0))
		case eVsrc:
			z.branch(e, complex(par[1], 0))
			z.b[e.t[2]] += phasor(par[2], par[3])
		case eLimited:
			// its small-signal conductance is in the Jacobian already; the generator acts through it
			d := s.a[s.slots[e.slot]]
			i := complex(min(d, par[1]), 0) * phasor(par[2], par[3])
			z.b[e.t[0]] += i
			z.b[e.t[1]] -= i
		case eIsrc:
			i := phasor(par[1], par[2])
			z.b[e.t[0]] -= i
			z.b[e.t[1]] += i
		}
	}
	for g, group := range s.c.groups {
		for i, a := range group {
			for j, b := range group {
				l := s.mutual(a, b)
				z.a[s.c.gslots[g][i*len(group)+j]] -= complex(0, w*l)
			}
		}
	}
	for _, d := range s.c.diag {
		z.a[d] += complex(s.opt.Leak, 0)
	}
}

// mutual is the inductance between two windings of one group, henries.
func (s *Solver) mutual(a, b int32) float64 {
	pa, pb := s.par[s.elems[a].par:], s.par[s.elems[b].par:]
	if a == b {
		return pa[0]
	}
	return pa[2] * math.Sqrt(pa[0]*pb[0])
}

func (z *acWork) conductance(e *element, y complex128) {
	k := z.s.slots[e.slot : e.slot+4]
	z.a[k[0]] += y
	z.a[k[1]] -= y
	z.a[k[2]] -= y
	z.a[k[3]] += y
}

func (z *acWork) branch(e *element, r complex128) {
	k := z.s.slots[e.slot : e.slot+5]
	z.a[k[0]]++
	z.a[k[1]]--
	z.a[k[2]]++
	z.a[k[3]]--
	z.a[k[4]] -= r
}
