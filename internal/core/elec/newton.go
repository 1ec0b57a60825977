package elec

import (
	"fmt"
	"math"
	"strings"
)

// This file finds operating points: Newton from where it is, then with conductances that are taken away (gmin
// stepping), then with sources that are turned up (source stepping), then as if every node had a capacitor (pseudo-transient; Kelley
// and Keyes, "Convergence analysis of pseudo-transient continuation", SIAM J. Numer. Anal. 35, 1998).

// NoPoint tells that no operating point was found, and how far the last attempt came.
type NoPoint struct {
	Residual   float64 // amperes, the largest imbalance of a node
	Node       string  // where
	Iterations int
	Tried      []string // the methods, in order
	Reason     string   // "" or what else was noticed
}

func (e *NoPoint) Error() string {
	s := fmt.Sprintf("no operating point found after %d iterations (%s)", e.Iterations, strings.Join(e.Tried, ", "))
	if e.Node != "" {
		s += fmt.Sprintf("; node %s is out of balance by %.3g A", e.Node, e.Residual)
	}
	if e.Reason != "" {
		s += "; " + e.Reason
	}
	return s
}

// OP finds the operating point of the circuit as compiled or patched. See Solver.OP.
func (c *Circuit) OP(opt Options, p Patch) (*Solution, error) { return c.NewSolver().OP(opt, p) }

// OP finds the operating point of the circuit with a patch. The error is a *NoPoint if there is none to be found, and says what
// does not fit if the patch does not.
func (s *Solver) OP(opt Options, p Patch) (*Solution, error) {
	if err := s.c.Check(p); err != nil {
		return nil, err
	}
	s.begin(opt.filled(), p)
	iter, method, err := s.point()
	if err != nil {
		return nil, err
	}
	return s.solution(iter, method)
}

// start puts x and the limiters where the search begins.
func (s *Solver) start(from *Solution) {
	if from != nil && len(from.x) == len(s.x) && len(from.mem) == len(s.mem) {
		copy(s.x, from.x)
		copy(s.mem, from.mem)
	} else {
		clear(s.x)
		s.coldMemory()
	}
	for i := range s.elems {
		if e := &s.elems[i]; e.joints >= 0 {
			for t := 0; t < int(e.nt); t++ {
				s.inner[int(e.joints)+t] = s.x[e.t[t]]
			}
		}
	}
}

// coldMemory starts junctions at their critical voltage, as SPICE does, so that the first step sees them conduct.
func (s *Solver) coldMemory() {
	clear(s.mem)
	for i := range s.elems {
		e := &s.elems[i]
		par, mem := s.par[e.par:], s.mem[e.mem:]
		switch e.kind {
		case eBJT:
			mem[0] = par[13]
		case eDiode:
			mem[0] = min(par[6], 1)
		}
	}
}

// point runs the methods in turn.
func (s *Solver) point() (iterations int, method string, err error) {
	fail := &NoPoint{}
	try := func(name string, run func() (int, bool)) bool {
		n, ok := run()
		iterations += n
		method = name
		fail.Tried = append(fail.Tried, name)
		if r, at := s.residual(); !ok && (fail.Node == "" || r < fail.Residual) {
			fail.Residual = r
			if at >= 0 {
				fail.Node = s.c.names[at]
			}
		}
		return ok
	}
	if s.opt.From != nil && try("newton from a known point", func() (int, bool) {
		s.start(s.opt.From)
		return s.newton(1, 0, nil, min(s.opt.MaxIter, 40))
	}) {
		return iterations, method, nil
	}
	if s.opt.From != nil && try("relaxation from a known point", s.relaxation) {
		return iterations, method, nil
	}
	ok := try("newton", func() (int, bool) { s.start(nil); return s.newton(1, 0, nil, s.opt.MaxIter) }) ||
		try("gmin stepping", s.gminStepping) ||
		try("source stepping", s.sourceStepping) ||
		try("pseudo-transient", s.pseudoTransient)
	s.setGmin(s.opt.Gmin)
	if ok {
		return iterations, method, nil
	}
	fail.Iterations = iterations
	if s.lost >= 0 {
		fail.Reason = "the open terminals of " + s.c.devices[s.lost].Name + " did not come to rest"
	}
	return iterations, method, fail
}

const (
	voltTol = 1e-7 // volts
	ampTol  = 1e-10
)

// newton iterates at most most times from x; ok if it came to rest.
func (s *Solver) newton(lambda, extra float64, anchor []float64, most int) (iterations int, ok bool) {
	reordered := false
	theta := 1.0
	s.stale = s.stale || extra != s.lastExtra
	s.lastExtra = extra
	clear(s.before)
	for it := 1; it <= most; it++ {
		s.assemble(lambda, extra, anchor)
		if it > 1 && s.fresh == 0 && theta == 1 && s.balanced() {
			return it, true
		}
		if !s.factorise() {
			return it, false
		}
		s.step()
		if it > patience {
			theta = s.slow(theta)
		}
		rest, finite := s.move(theta)
		if !finite {
			if reordered || !s.recover(lambda, extra, anchor) {
				return it, false
			}
			reordered = true
			continue
		}
		if !s.limited && theta == 1 && it > 1 && (rest || it > 3 && s.rounding()) {
			return it, s.believable()
		}
	}
	return most, false
}

// patience is after how many iterations Newton is made to go more slowly where it turns back on itself.
const patience = 10

// slow shortens the steps while they swing to and fro, and lengthens them while they do not.
func (s *Solver) slow(theta float64) float64 {
	dot := 0.0
	for i, d := range s.dx[:s.c.n] {
		if !s.c.current[i] {
			dot += d * s.before[i]
		}
	}
	copy(s.before, s.dx)
	if dot < 0 {
		return max(theta/2, 1.0/32)
	}
	return min(1, theta*1.6)
}

// move takes theta of the step; rest tells that it was small, finite that it was not absurd.
func (s *Solver) move(theta float64) (rest, finite bool) {
	rest, finite = true, true
	tol := s.opt.Tol
	for i := 0; i < s.c.n; i++ {
		d := s.dx[i]
		x := s.x[i] + theta*d
		s.x[i] = x
		lim := voltTol
		if s.c.current[i] {
			lim = ampTol
		}
		if !(abs(d) <= tol*abs(x)+lim) {
			rest = false
			if !(abs(d) < 1e12) {
				finite = false
			}
		}
	}
	return rest, finite
}

// balanced tells that F is as good as zero.
func (s *Solver) balanced() bool {
	for i := 0; i < s.c.n; i++ {
		lim := 1e-12
		if s.c.current[i] {
			lim = 1e-9
		}
		if !(abs(s.f[i]) <= lim) {
			return false
		}
	}
	return true
}

// rounding tells that what is left of F is rounding error, so that no further step can mean anything. It matters where a part of the
// circuit hangs in the air and a picoampere moves it by volts.
func (s *Solver) rounding() bool {
	for i := 0; i < s.c.n; i++ {
		lim := 2e-13
		if s.c.current[i] {
			lim = 1e-9
		}
		if !(abs(s.f[i]) <= lim) {
			return false
		}
	}
	return true
}

// believable tells that no node is out of balance by what nothing can deliver: far beyond a junction's knee the slopes are so steep that every
// step is small wherever one is.
func (s *Solver) believable() bool {
	for i := 0; i < s.c.n; i++ {
		if !s.c.current[i] && !(abs(s.f[i]) <= 1e3) {
			return false
		}
	}
	return true
}

// recover goes back to zero and orders the pivots again, after a step that was not finite.
func (s *Solver) recover(lambda, extra float64, anchor []float64) bool {
	clear(s.x)
	if anchor != nil {
		copy(s.x, anchor)
	}
	s.coldMemory()
	for i, v := range s.inner {
		if v-v != 0 {
			s.inner[i] = 0
		}
	}
	s.assemble(lambda, extra, anchor)
	return s.reorder()
}

// gminStepping starts with large conductances everywhere and takes them away.
func (s *Solver) gminStepping() (iterations int, ok bool) {
	s.start(nil)
	saved := append([]float64(nil), s.x...)
	mem := append([]float64(nil), s.mem...)
	g, factor := 1e-2, 10.0
	good := math.Inf(1)
	for tries := 0; tries < 80; tries++ {
		s.setGmin(max(g, s.opt.Gmin))
		n, ok := s.newton(1, g, nil, s.opt.MaxIter/2)
		iterations += n
		if ok {
			copy(saved, s.x)
			copy(mem, s.mem)
			good = g
			if g <= 1e-12 {
				s.setGmin(s.opt.Gmin)
				n, ok = s.newton(1, 0, nil, s.opt.MaxIter)
				return iterations + n, ok
			}
			if n <= s.opt.MaxIter/8 {
				factor = min(factor*math.Sqrt(factor), 100)
			}
			g /= factor
			continue
		}
		copy(s.x, saved)
		copy(s.mem, mem)
		if math.IsInf(good, 1) {
			if g > 1e3 {
				break
			}
			g *= 100
			continue
		}
		factor = math.Sqrt(factor)
		if factor < 1.02 {
			break
		}
		g = good / factor
	}
	s.setGmin(s.opt.Gmin)
	return iterations, false
}

// setGmin changes the conductance across junctions, which makes everything remembered of them wrong.
func (s *Solver) setGmin(g float64) {
	if g != s.gmin {
		s.gmin = g
		s.forget()
	}
}

// sourceStepping turns all sources up from zero.
func (s *Solver) sourceStepping() (iterations int, ok bool) {
	s.setGmin(s.opt.Gmin)
	s.start(nil)
	saved := make([]float64, len(s.x))
	mem := append([]float64(nil), s.mem...)
	done, step := 0.0, 0.05
	for tries := 0; tries < 200; tries++ {
		next := min(1, done+step)
		n, ok := s.newton(next, 0, nil, s.opt.MaxIter/2)
		iterations += n
		if ok {
			copy(saved, s.x)
			copy(mem, s.mem)
			done = next
			if done == 1 {
				return iterations, true
			}
			step *= 2
			continue
		}
		copy(s.x, saved)
		copy(s.mem, mem)
		step /= 4
		if step < 1e-7 {
			break
		}
	}
	return iterations, false
}

// relaxation holds every node back to where it was at the known point, less and less: a few steps over a corner that Newton alone swings about.
func (s *Solver) relaxation() (iterations int, ok bool) {
	s.start(s.opt.From)
	anchor := append([]float64(nil), s.x...)
	mem := append([]float64(nil), s.mem...)
	g := 1e-3
	for range 24 {
		n, ok := s.newton(1, g, anchor, 15)
		iterations += n
		if !ok {
			copy(s.x, anchor)
			copy(s.mem, mem)
			g *= 8
			continue
		}
		copy(anchor, s.x)
		copy(mem, s.mem)
		if g < 1e-9 {
			n, ok := s.newton(1, 0, nil, 30)
			return iterations + n, ok
		}
		g /= 12
	}
	return iterations, false
}

// pseudoTransient holds every node back to where it was, less and less.
func (s *Solver) pseudoTransient() (iterations int, ok bool) {
	s.setGmin(s.opt.Gmin)
	s.start(nil)
	anchor := append([]float64(nil), s.x...)
	mem := append([]float64(nil), s.mem...)
	g := 1.0
	for tries := 0; tries < 400; tries++ {
		n, ok := s.newton(1, g, anchor, 30)
		iterations += n
		if !ok {
			copy(s.x, anchor)
			copy(s.mem, mem)
			g *= 8
			if g > 1e9 {
				break
			}
			continue
		}
		copy(anchor, s.x)
		copy(mem, s.mem)
		g /= 2.5
		if g < 1e-11 {
			n, ok := s.newton(1, 0, nil, s.opt.MaxIter)
			return iterations + n, ok
		}
	}
	return iterations, false
}
