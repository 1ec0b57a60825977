package elec

import (
	"math"
)

// This file holds the solver: its own copy of a circuit with a patch applied, and the assembly of F(x) and its Jacobian.
// F is the current that leaves each node, and for a branch the voltage that is missing.

// Solver solves patched versions of one circuit. It belongs to one goroutine; a circuit may have many.
type Solver struct {
	c       *Circuit
	opt     Options
	devPar  []float64
	par     []float64
	mem     []float64
	elems   []element
	slots   []int32
	joints  []float64 // ohms [element with joints * maxTerms + terminal]
	inner   []float64 // voltages behind them
	series  []series
	dirty   []int32
	flipped []int32
	bridges []bridge
	off     bool // sources dead

	lin  []float64 // [slot] linear part of the Jacobian
	b    []float64 // [unknown] what the sources put in
	a    []float64 // [slot] Jacobian
	x, f []float64 // [unknown], n+1 long
	dx   []float64
	gmin float64
	fac  *factor[float64]
	main *factor[float64] // with the circuit's own order; fac is another after the pivots had to be chosen anew
	l    local
	memo []memo // [element], valid for nonlinear ones
	// fresh counts the elements that the last assembly evaluated anew; stale tells that a has changed since fac was computed
	fresh     int
	stale     bool
	lastExtra float64
	before    []float64 // the step before
	limited   bool
	lost      int32       // a device whose joint did not settle, or -1
	zs        [][]float64 // work space for bridges
	kept      base
}

// memo is the straight line that stands for an element as long as its voltages hardly move. Most faults are felt by a
// few elements only, and the exponentials of the others need not be computed again.
type memo struct {
	v, i  [maxTerms]float64
	g     [maxTerms * maxTerms]float64 // [terminal*nt+terminal]
	valid bool
}

// hardly is how far, in volts, a terminal may move before its element is evaluated anew: the error of the straight line is the
// square of this over the width of the element's sharpest corner, far below the accuracy that is asked for.
var hardly = [...]float64{eDiode: 1e-5, eBJT: 1e-5, eJFET: 1e-5, eMOS: 1e-5, eOpAmp: 1e-7, eComp: 1e-8, eOTA: 1e-5, ePhoto: 1e-5, eReg: 1e-7, eRef: 1e-7, eSwitch: 1e-5, eLimited: 1e-7}

// base is the linear part of the circuit as compiled, kept from one patch to the next.
type base struct {
	leak   float64
	off    bool
	lin, b []float64
}

type bridge struct {
	a, b int32
	g, e float64
}

// Options tell how an answer is looked for. The zero value is right for most uses.
type Options struct {
	From       *Solution // start here, normally the good operating point; nil: from zero
	SourcesOff bool      // voltage sources are disconnected and current sources dead, as with the power off
	Currents   bool      // keep the terminal currents in the solution
	Leak       float64   // siemens from every node to the reference; 0: 1e-12
	Gmin       float64   // siemens across every junction; 0: 1e-12
	MaxIter    int       // Newton iterations of one attempt; 0: 100
	Tol        float64   // relative size of the last Newton step; 0: 1e-6
}

func (o Options) filled() Options {
	if o.Leak <= 0 {
		o.Leak = 1e-12
	}
	if o.Gmin <= 0 {
		o.Gmin = 1e-12
	}
	if o.MaxIter <= 0 {
		o.MaxIter = 100
	}
	if o.Tol <= 0 {
		o.Tol = 1e-6
	}
	return o
}

// NewSolver returns a solver for the circuit.
func (c *Circuit) NewSolver() *Solver { return c.newSolver() }

func (c *Circuit) newSolver() *Solver {
	n, nz := c.n+1, len(c.pat.col)+1
	s := &Solver{c: c, lin: make([]float64, nz), a: make([]float64, nz), b: make([]float64, n), x: make([]float64, n), f: make([]float64, n), dx: make([]float64, n),
		mem: make([]float64, c.mems), memo: make([]memo, len(c.elems)), before: make([]float64, n)}
	if c.ord != nil {
		s.main = newFactor[float64](c.ord)
	}
	return s
}

// begin takes a fresh copy of the circuit and applies the patch. The patch has been checked.
func (s *Solver) begin(opt Options, p Patch) {
	c := s.c
	s.opt = opt
	s.devPar = append(s.devPar[:0], c.devPar...)
	s.par = append(s.par[:0], c.par...)
	s.elems = append(s.elems[:0], c.elems...)
	s.slots = append(s.slots[:0], c.slots...)
	s.joints, s.inner, s.series, s.dirty, s.flipped, s.bridges = s.joints[:0], s.inner[:0], s.series[:0], s.dirty[:0], s.flipped[:0], s.bridges[:0]
	s.gmin = opt.Gmin
	s.off = opt.SourcesOff
	s.lost = -1
	s.stale = true
	s.fac = s.main // whatever happened to earlier patches must not show in the answer
	for _, ch := range p.Changes {
		s.change(ch)
	}
	for _, b := range p.Bridges {
		s.bridges = append(s.bridges, bridge{s.index(b.A), s.index(b.B), 1 / max(b.Ohms, 1e-6), b.Volts})
	}
	for _, d := range s.dirty {
		p := c.paramsOf(int(d), s.devPar)
		for i := c.first[d]; i < c.first[d+1]; i++ {
			e := &s.elems[i]
			c.fills[i](p, s.par[e.par:][:shapes[e.kind].pars])
		}
	}
	for _, d := range s.flipped {
		for i := c.first[d]; i < c.first[d+1]; i++ {
			par := s.par[s.elems[i].par:]
			par[0] = -par[0]
		}
	}
	for _, j := range s.series {
		e := &s.elems[j.elem]
		addSeries(e.kind, s.par[e.par:][:shapes[e.kind].pars], j.ohms)
	}
	if s.off {
		s.disconnect()
	}
	s.stampLinear()
	s.recall()
}

// assemble fills f with F(x), sources scaled by lambda, and a with the Jacobian. extra siemens pull every node towards anchor, or 0.
func (s *Solver) assemble(lambda, extra float64, anchor []float64) {
	c, x, f, a := s.c, s.x, s.f, s.a
	n := c.n
	x[n] = 0
	copy(a, s.lin)
	col := c.pat.col
	for i := 0; i < n; i++ {
		sum := -lambda * s.b[i]
		lo, hi := c.pat.row[i], c.pat.row[i+1]
		cs := col[lo:hi]
		vs := s.lin[lo:hi]
		vs = vs[:len(cs)]
		for k, j := range cs {
			sum += vs[k] * x[j]
		}
		f[i] = sum
	}
	s.limited = false
	s.fresh = 0
	for i := range s.elems {
		e := &s.elems[i]
		if e.linear() {
			continue
		}
		nt := int(e.nt)
		m := &s.memo[i]
		near := m.valid
		far := hardly[e.kind]
		var v, cur [maxTerms]float64
		for t := 0; t < nt; t++ {
			v[t] = x[e.t[t]]
			if d := v[t] - m.v[t]; d > far || d < -far {
				near = false
			}
		}
		if near {
			for t := 0; t < nt; t++ {
				v[t] -= m.v[t]
			}
			for r := 0; r < nt; r++ {
				sum := m.i[r]
				for q, g := range m.g[r*nt:][:nt] {
					sum += g * v[q]
				}
				cur[r] = sum
			}
		} else {
			s.renew(e, m, &v)
			cur = m.i
		}
		slots := s.slots[e.slot:][:nt*nt]
		for r := 0; r < nt; r++ {
			f[e.t[r]] += cur[r]
		}
		for k, g := range m.g[:nt*nt] {
			a[slots[k]] += g
		}
	}
	if s.fresh > 0 {
		s.stale = true
	}
	if extra > 0 {
		for i, d := range c.diag {
			if c.current[i] {
				continue
			}
			a[d] += extra
			ref := 0.0
			if anchor != nil {
				ref = anchor[i]
			}
			f[i] += extra * (x[i] - ref)
		}
	}
	for _, b := range s.bridges {
		i := b.g * (x[b.a] - x[b.b] - lambda*b.e)
		f[b.a] += i
		f[b.b] -= i
	}
	f[n] = 0
}

// renew evaluates an element at v and keeps the result.
func (s *Solver) renew(e *element, m *memo, v *[maxTerms]float64) {
	s.l.v = *v
	s.evaluate(e)
	s.fresh++
	if s.l.limited {
		s.limited = true
	}
	m.valid = !s.l.limited
	m.v, m.i = *v, s.l.i
	nt := int(e.nt)
	for r := 0; r < nt; r++ {
		copy(m.g[r*nt:][:nt], s.l.g[r*maxTerms:])
	}
}

func (s *Solver) evaluate(e *element) {
	sh := &shapes[e.kind]
	par, mem := s.par[e.par:][:sh.pars], s.mem[e.mem:][:sh.mem]
	if e.joints < 0 {
		s.l.evaluate(e.kind, int(e.nt), par, mem, s.gmin)
		return
	}
	if !s.l.evaluateJointed(e.kind, int(e.nt), par, mem, s.joints[e.joints:], s.inner[e.joints:], s.gmin) {
		s.lost = e.dev
	}
}

// factorise computes the LU of a if a has changed, choosing new pivots if the present ones fail.
func (s *Solver) factorise() bool {
	if !s.stale {
		return true
	}
	if s.fac == nil || !s.fac.refactor(s.a) {
		return s.reorder()
	}
	s.stale = false
	return true
}

func (s *Solver) reorder() bool {
	o, _, ok := choose(s.c.pat, s.a)
	if !ok {
		return false
	}
	s.fac = newFactor[float64](o)
	s.stale = !s.fac.refactor(s.a)
	return !s.stale
}

// step solves J dx = -f, with the bridges by the formula of Sherman, Morrison and Woodbury.
func (s *Solver) step() {
	n := s.c.n
	for i := 0; i < n; i++ {
		s.dx[i] = -s.f[i]
	}
	s.fac.solve(s.dx, s.dx)
	s.dx[n] = 0
	m := len(s.bridges)
	if m == 0 {
		return
	}
	for len(s.zs) < m {
		s.zs = append(s.zs, make([]float64, n+1))
	}
	// One bridge after the other: z solves (J + earlier bridges) z = u.
	for k, b := range s.bridges {
		z := s.zs[k]
		clear(z)
		z[b.a]++
		z[b.b]--
		z[n] = 0
		s.fac.solve(z, z)
		z[n] = 0
		for j, q := range s.bridges[:k] {
			s.correct(z, s.zs[j], q)
		}
	}
	for k, b := range s.bridges {
		s.correct(s.dx, s.zs[k], b)
	}
}

// correct turns the solution y without a bridge into that with it; z is the answer to a unit current across it.
func (s *Solver) correct(y, z []float64, b bridge) {
	k := (y[b.a] - y[b.b]) / (1/b.g + z[b.a] - z[b.b])
	for i := range y {
		y[i] -= k * z[i]
	}
}

// residual is the largest imbalance of current in a node, and the unknown where it is.
func (s *Solver) residual() (worst float64, at int) {
	at = -1
	for i := 0; i < s.c.n; i++ {
		if v := abs(s.f[i]); !s.c.current[i] && !(v <= worst) {
			worst, at = v, i
		}
	}
	if math.IsNaN(worst) || math.IsInf(worst, 0) {
		worst = math.MaxFloat64
	}
	return worst, at
}
