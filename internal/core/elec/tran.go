package elec

import (
	"fmt"
	"math"
)

// This file integrates supplies in time: trapezoidal rule, backward Euler after a step that had to be refused (so that the trapezoidal
// rule does not ring where a diode lets go), step length from the distance between prediction and result.

// TranOptions tell how far and how finely to integrate, in seconds.
type TranOptions struct {
	Options
	Stop    float64
	MaxStep float64 // 0: Stop/1000
	Accept  float64 // error of one step, as a fraction of a voltage; 0: 1e-3
}

// Waves is a transient. Time[k] is in seconds; V(node) are volts.
type Waves struct {
	c     *Circuit
	Time  []float64
	v     [][]float64 // [node][k]
	Steps int         // taken, refused ones included
}

// V returns the waveform of a node by index, as long as Time; nil if there is no such node.
func (w *Waves) V(node int) []float64 {
	if node < 0 || node >= len(w.v) {
		return nil
	}
	return w.v[node]
}

// Level sums up a waveform over a span of time: extremes, time-weighted mean, and root mean square of what is left without
// the mean, all in volts.
type Level struct{ Min, Max, Mean, Ripple float64 }

// PeakToPeak is the size of the ripple.
func (l Level) PeakToPeak() float64 { return l.Max - l.Min }

// integrator holds the state of all capacitors and windings.
type integrator struct {
	s          *Solver
	t, h       float64
	accept     float64
	hmin, hmax float64
	euler      int       // how many more steps are taken with backward Euler
	vc, jc     []float64 // [element] voltage inside a capacitor and its current
	iw, vw     []float64 // [element] current of a winding and the voltage of its inductance
	before     []float64 // x one step earlier, for the prediction
	hb         float64   // the length of that step
	keep, mem  []float64
	inner      []float64
	steps      int
}

// Tran integrates the patched circuit from its operating point at time 0.
func (c *Circuit) Tran(opt TranOptions, p Patch) (*Waves, error) {
	if !(opt.Stop > 0) || math.IsInf(opt.Stop, 0) || !(opt.MaxStep >= 0) {
		return nil, fmt.Errorf("a transient of %v s in steps of %v s is not possible", opt.Stop, opt.MaxStep)
	}
	g, err := c.integrate(opt, p)
	if err != nil {
		return nil, err
	}
	w := &Waves{c: c, v: make([][]float64, len(c.nodes))}
	w.put(0, g.s.x)
	err = g.run(opt.Stop, w.put)
	w.Steps = g.steps
	return w, err
}

func (w *Waves) put(t float64, x []float64) {
	w.Time = append(w.Time, t)
	w.v[0] = append(w.v[0], 0)
	for i := 1; i < len(w.v); i++ {
		w.v[i] = append(w.v[i], x[i-1])
	}
}

func (c *Circuit) integrate(opt TranOptions, p Patch) (*integrator, error) {
	s := c.NewSolver()
	if err := c.Check(p); err != nil {
		return nil, err
	}
	s.begin(opt.Options.filled(), p)
	s.waveforms(0)
	if _, _, err := s.point(); err != nil {
		return nil, fmt.Errorf("before the start: %w", err)
	}
	g := newIntegrator(s, opt)
	for i := range s.elems {
		e := &s.elems[i]
		par := s.par[e.par:]
		switch e.kind {
		case eCap:
			v := s.x[e.t[0]] - s.x[e.t[1]]
			g.vc[i] = v * par[2] / (par[1] + par[2])
		case eWinding:
			g.iw[i] = s.x[e.t[2]]
		}
	}
	return g, nil
}

func newIntegrator(s *Solver, opt TranOptions) *integrator {
	n := len(s.elems)
	g := &integrator{s: s, accept: opt.Accept, hmax: opt.MaxStep, vc: make([]float64, n), jc: make([]float64, n), iw: make([]float64, n), vw: make([]float64, n),
		before: append([]float64(nil), s.x...), keep: make([]float64, len(s.x)), mem: make([]float64, len(s.mem)), inner: make([]float64, len(s.inner))}
	if g.hmax == 0 {
		g.hmax = opt.Stop / 1000
	}
	if g.accept <= 0 {
		g.accept = 1e-3
	}
	g.hmin = g.hmax * 1e-7
	g.h = g.hmax / 100
	g.euler = 2
	return g
}

// waveforms puts the sources' values at time t into b.
func (s *Solver) waveforms(t float64) {
	if s.off {
		return
	}
	sine := func(amplitude, f, deg float64) float64 {
		return amplitude * math.Sin(2*math.Pi*f*t+deg*math.Pi/180)
	}
	for i := range s.elems {
		e := &s.elems[i]
		par := s.par[e.par:]
		switch e.kind {
		case eVsrc:
			s.b[e.t[2]] += sine(par[4], par[5], par[6])
		case eIsrc:
			v := sine(par[3], par[4], par[5])
			s.b[e.t[0]] -= v
			s.b[e.t[1]] += v
		}
	}
}

// stamp fills lin and b for a step of length h that ends at t.
func (g *integrator) stamp(t, h float64, euler bool) {
	s := g.s
	s.stampDC()
	s.stale = true
	s.waveforms(t)
	k := 2.0
	if euler {
		k = 1
	}
	for i := range s.elems {
		e := &s.elems[i]
		if e.kind != eCap {
			continue
		}
		par := s.par[e.par:]
		gc, ieq := g.capacitor(i, par, k, h, euler)
		den := 1 + gc*par[1]
		s.conductance(e, gc/den-1/(par[1]+par[2]))
		s.b[e.t[0]] += ieq / den
		s.b[e.t[1]] -= ieq / den
	}
	for gi, group := range s.c.groups {
		m := len(group)
		for a, ea := range group {
			r := s.elems[ea].t[2]
			for b, eb := range group {
				l := k * s.mutual(ea, eb) / h
				s.lin[s.c.gslots[gi][a*m+b]] -= l
				s.b[r] -= l * g.iw[eb]
			}
			if !euler {
				s.b[r] -= g.vw[ea]
			}
		}
	}
}

// capacitor returns the companion conductance of what is behind the ESR, and its source.
func (g *integrator) capacitor(i int, par []float64, k, h float64, euler bool) (gc, ieq float64) {
	gc = k*par[0]/h + 1/par[2]
	ieq = k * par[0] / h * g.vc[i]
	if !euler {
		ieq += g.jc[i]
	}
	return gc, ieq
}

// run integrates until the given time and reports every accepted step.
func (g *integrator) run(until float64, report func(t float64, x []float64)) error {
	s := g.s
	for g.t < until*(1-1e-12) {
		h := min(g.h, g.hmax, until-g.t)
		if left := until - g.t; h < left && left < 2*h {
			h = left / 2
		}
		euler := g.euler > 0
		copy(g.keep, s.x)
		copy(g.mem, s.mem)
		copy(g.inner, s.inner)
		g.steps++
		g.stamp(g.t+h, h, euler)
		if g.hb > 0 { // start from the prediction
			for i := range s.x {
				s.x[i] += (g.keep[i] - g.before[i]) * h / g.hb
			}
		}
		_, ok := s.newton(1, 0, nil, 40)
		if !ok { // the prediction may lie beyond a corner: start from the last point
			copy(s.x, g.keep)
			copy(s.mem, g.mem)
			copy(s.inner, g.inner)
			_, ok = s.newton(1, 0, nil, 60)
		}
		err := math.Inf(1)
		if ok {
			err = g.distance(h, euler)
		}
		if (!ok || err > 1) && h > g.hmin {
			copy(s.x, g.keep)
			copy(s.mem, g.mem)
			copy(s.inner, g.inner)
			g.euler = 2
			if ok {
				g.h = h * max(0.2, 0.8/math.Sqrt(err))
			} else {
				g.h = h / 8
			}
			continue
		}
		if !ok {
			r, at := s.residual()
			e := &NoPoint{Residual: r, Tried: []string{"newton"}, Reason: fmt.Sprintf("at %.6g s, with the step at its least", g.t)}
			if at >= 0 {
				e.Node = s.c.names[at]
			}
			return e
		}
		g.accepted(h, euler)
		report(g.t, s.x)
		if g.euler > 0 {
			g.euler--
		}
		g.h = h * min(2, max(0.5, 0.9/math.Sqrt(max(err, 1e-3))))
	}
	return nil
}

// distance compares the result with the straight prediction, for what has memory: 1 is the most that is accepted.
func (g *integrator) distance(h float64, euler bool) float64 {
	if g.hb == 0 {
		return 0.5
	}
	s := g.s
	worst := 0.0
	see := func(now, last, before, floor float64) {
		pred := last + (last-before)*h/g.hb
		worst = max(worst, abs(now-pred)/(12*g.accept*(max(abs(now), abs(last))+floor)))
	}
	for i := range s.elems {
		e := &s.elems[i]
		a, b := e.t[0], e.t[1]
		switch e.kind {
		case eCap:
			if s.par[e.par] > 1e-9 {
				see(s.x[a]-s.x[b], g.keep[a]-g.keep[b], g.before[a]-g.before[b], 0.1)
			}
		case eWinding:
			see(s.x[a]-s.x[b], g.keep[a]-g.keep[b], g.before[a]-g.before[b], 2)
		}
	}
	return worst
}

// accepted moves the memory to the end of the step.
func (g *integrator) accepted(h float64, euler bool) {
	s := g.s
	k := 2.0
	if euler {
		k = 1
	}
	for i := range s.elems {
		e := &s.elems[i]
		par := s.par[e.par:]
		switch e.kind {
		case eCap:
			gc, ieq := g.capacitor(i, par, k, h, euler)
			v := s.x[e.t[0]] - s.x[e.t[1]]
			amps := (gc*v - ieq) / (1 + gc*par[1])
			vc := v - par[1]*amps
			g.jc[i] = amps - vc/par[2]
			g.vc[i] = vc
		case eWinding:
			g.iw[i] = s.x[e.t[2]]
			g.vw[i] = s.x[e.t[0]] - s.x[e.t[1]] - par[1]*g.iw[i]
		}
	}
	copy(g.before, g.keep)
	g.hb = h
	g.t += h
}

// RippleOptions tell the period of what feeds the circuit, in seconds (1/50 s of mains), how many periods it may take to
// settle (0: 200), how many steps a period has at least (0: 200), and where to begin: From is the settled state of another patch of the circuit, nil the
// operating point with capacitors empty. Same is the relative change from one period to the next that counts as none (0: 2e-4).
type RippleOptions struct {
	Options
	Period  float64
	Periods int
	Steps   int
	Accept  float64
	Same    float64
	From    *Steady
}

// Steady is a circuit after a period that is like the one before. It does not change and may be shared.
type Steady struct {
	Levels  []Level // of every node over the last period
	Settled bool    // false if it was still changing
	Periods int     // that it took

	x, mem, vc, jc, iw, vw []float64
}

// Ripple integrates until one period is like the one before and returns the level of every node (index) over the last
// period. settled is false if it was still changing.
func (c *Circuit) Ripple(opt RippleOptions, p Patch) (levels []Level, settled bool, err error) {
	s, err := c.Steady(opt, p)
	if err != nil {
		return nil, false, err
	}
	return s.Levels, s.Settled, nil
}

// Steady integrates until one period is like the one before.
func (c *Circuit) Steady(opt RippleOptions, p Patch) (*Steady, error) {
	if !(opt.Period > 0) || math.IsInf(opt.Period, 0) {
		return nil, fmt.Errorf("a period of %v s is not possible", opt.Period)
	}
	most, steps, same := opt.Periods, opt.Steps, opt.Same
	if most <= 0 {
		most = 200
	}
	if steps <= 0 {
		steps = 200
	}
	if same <= 0 {
		same = 2e-4
	}
	tran := TranOptions{Options: opt.Options, Stop: opt.Period, MaxStep: opt.Period / float64(steps), Accept: opt.Accept}
	var g *integrator
	var err error
	least := 3
	if opt.From != nil && len(opt.From.x) == c.n+1 {
		least = 2
		g, err = c.resume(tran, p, opt.From)
	} else {
		g, err = c.integrate(tran, p)
	}
	if err != nil {
		return nil, err
	}
	out := &Steady{}
	w := &Waves{c: c, v: make([][]float64, len(c.nodes))}
	for k := 1; k <= most; k++ {
		w.clear()
		w.put(g.t, g.s.x)
		if err := g.run(float64(k)*opt.Period, w.put); err != nil {
			return nil, err
		}
		levels := w.levels()
		out.Settled = out.Levels != nil && alike(levels, out.Levels, same) && k >= least
		out.Levels, out.Periods = levels, k
		if out.Settled {
			break
		}
	}
	out.x, out.mem = append([]float64(nil), g.s.x...), append([]float64(nil), g.s.mem...)
	out.vc, out.jc, out.iw, out.vw = g.vc, g.jc, g.iw, g.vw
	return out, nil
}

// resume begins where another patch of the circuit has settled.
func (c *Circuit) resume(opt TranOptions, p Patch, from *Steady) (*integrator, error) {
	if err := c.Check(p); err != nil {
		return nil, err
	}
	s := c.NewSolver()
	s.begin(opt.Options.filled(), p)
	s.start(nil)
	copy(s.x, from.x)
	copy(s.mem, from.mem)
	for i := range s.elems {
		if e := &s.elems[i]; e.joints >= 0 {
			for t := 0; t < int(e.nt); t++ {
				s.inner[int(e.joints)+t] = s.x[e.t[t]]
			}
		}
	}
	g := newIntegrator(s, opt)
	copy(g.vc, from.vc)
	copy(g.jc, from.jc)
	copy(g.iw, from.iw)
	copy(g.vw, from.vw)
	return g, nil
}

func (w *Waves) clear() {
	w.Time = w.Time[:0]
	for i := range w.v {
		w.v[i] = w.v[i][:0]
	}
}

// levels sums up all nodes.
func (w *Waves) levels() []Level {
	out := make([]Level, len(w.v))
	for n := range w.v {
		out[n] = w.Level(n, 0)
	}
	return out
}

// Level sums up the waveform of a node (index) from a time on, in seconds. It is zero where there is nothing.
func (w *Waves) Level(node int, from float64) Level {
	at := 0
	for at < len(w.Time) && w.Time[at] < from {
		at++
	}
	if node < 0 || node >= len(w.v) || at == len(w.Time) {
		return Level{}
	}
	v, t := w.v[node][at:], w.Time[at:]
	l := Level{Min: v[0], Max: v[0], Mean: v[0]}
	area, square := 0.0, 0.0
	for k := 1; k < len(v); k++ {
		l.Min, l.Max = min(l.Min, v[k]), max(l.Max, v[k])
		h := t[k] - t[k-1]
		area += h * (v[k] + v[k-1]) / 2
		square += h * (v[k]*v[k] + v[k]*v[k-1] + v[k-1]*v[k-1]) / 3
	}
	if span := t[len(t)-1] - t[0]; span > 0 {
		l.Mean = area / span
		l.Ripple = math.Sqrt(max(0, square/span-l.Mean*l.Mean))
	}
	return l
}

func alike(a, b []Level, same float64) bool {
	for i := range a {
		tol := same*(abs(a[i].Max)+abs(a[i].Min)) + 1e-5
		if abs(a[i].Mean-b[i].Mean) > tol || abs(a[i].Max-b[i].Max) > 3*tol || abs(a[i].Min-b[i].Min) > 3*tol {
			return false
		}
	}
	return true
}
