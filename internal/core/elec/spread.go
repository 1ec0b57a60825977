package elec

import (
	"math"
	"math/rand/v2"
	"slices"
)

// This file says how far a good circuit's voltages may lie from their middle, because of tolerances: by sensitivities (one
// linear solution per uncertain parameter, direct method: Director and Rohrer, "The generalized adjoint network and
// network sensitivities", IEEE Trans. Circuit Theory CT-16, 1969, give the adjoint form), and by chance as the check.
// A tolerance is half the width of a uniform distribution, so one standard deviation is tolerance/√3.

// Uncertain is a parameter of a device with its half range, in the parameter's own unit.
type Uncertain struct {
	Device int
	Param  string
	Half   float64
}

// Spread is what tolerances do to a circuit.
type Spread struct {
	c         *Circuit
	Point     *Solution
	Sigma     []float64 // volts, one standard deviation per node index
	Worst     []float64 // volts, all tolerances against one at once
	Uncertain []Uncertain
	effect    [][]float64 // [uncertain][node] volts for its half range
}

// Effect is how far the voltage of a node moves when an uncertain parameter (index into Uncertain) moves by its half range.
func (s *Spread) Effect(uncertain, node int) float64 { return s.effect[uncertain][node] }

// Uncertain lists what has a tolerance: the value of a device by its Tol, and what its model record gives.
func (c *Circuit) Uncertain() []Uncertain {
	var out []Uncertain
	for i := range c.devices {
		d := &c.devices[i]
		r := c.models.Find(d.Model)
		p := c.paramsOf(i, c.devPar)
		for k, q := range c.specs[i].params {
			half := 0.0
			if q.isValue {
				half = d.Tol * abs(p[k])
			}
			if r != nil {
				half = max(half, r.Tol[q.name]*abs(p[k]), r.Tol[q.name+"+"])
			}
			if half > 0 {
				out = append(out, Uncertain{i, q.name, half})
			}
		}
	}
	return out
}

// Spread finds the operating point and the spread of every node.
func (c *Circuit) Spread(opt Options, p Patch) (*Spread, error) { return c.NewSolver().Spread(opt, p) }

// Spread finds the operating point of the patched circuit and the spread of every node. A node whose sensitivity is too steep for a straight
// line (an amplifier without feedback) is moved no further than the point that the changed circuit really has.
func (s *Solver) Spread(opt Options, p Patch) (*Spread, error) {
	point, err := s.OP(opt, p)
	if err != nil {
		return nil, err
	}
	c := s.c
	out := &Spread{c: c, Point: point, Sigma: make([]float64, len(c.nodes)), Worst: make([]float64, len(c.nodes)), Uncertain: c.Uncertain()}
	line, err := s.Linear(opt, p, point)
	if err != nil {
		return nil, err
	}
	out.effect = make([][]float64, len(out.Uncertain))
	var steep []int
	big := reach(point)
	x := make([]float64, c.n+1)
	flat := make([]float64, len(out.Uncertain)*len(c.nodes))
	for u := range out.Uncertain {
		e := flat[u*len(c.nodes):][:len(c.nodes)]
		line.effect(u, x)
		copy(e[1:], x)
		out.effect[u] = e
		if line.steep || slices.ContainsFunc(e, func(v float64) bool { return !(abs(v) <= big) }) {
			steep = append(steep, u)
		}
	}
	for _, u := range steep { // the solver is used anew
		if out.effect[u], err = s.ends(opt, p, point, out.Uncertain[u]); err != nil {
			return nil, err
		}
	}
	for _, e := range out.effect {
		for i, v := range e {
			out.Sigma[i] += v * v / 3
			out.Worst[i] += abs(v)
		}
	}
	for i, v := range out.Sigma {
		out.Sigma[i] = math.Sqrt(v)
	}
	return out, nil
}

// reach is the largest voltage around; a linear effect beyond a tenth of it is not believed.
func reach(s *Solution) float64 {
	m := 1.0
	for _, v := range s.Voltages() {
		m = max(m, abs(v))
	}
	return m / 10
}

// ends moves one parameter to both ends of its range and solves the circuit there.
func (s *Solver) ends(opt Options, p Patch, point *Solution, u Uncertain) ([]float64, error) {
	i := s.c.specs[u.Device].index(u.Param)
	opt.From = point
	var ends [2]*Solution
	for k, by := range []float64{-u.Half, u.Half} {
		q := s.c.paramsOf(u.Device, s.c.devPar)[i]
		for _, ch := range p.Changes { // a fault may have changed it already
			if ch.Device == u.Device && ch.Param == u.Param && ch.Do == Set {
				q = ch.Value
			} else if ch.Device == u.Device && ch.Param == u.Param && ch.Do == Scale {
				q *= ch.Value
			}
		}
		sol, err := s.OP(opt, p.And(Patch{Changes: []Change{{Device: u.Device, Do: Set, Param: u.Param, Value: q + by}}}))
		if err != nil {
			return nil, err
		}
		ends[k] = sol
	}
	e := make([]float64, len(s.c.nodes))
	for k := range e {
		e[k] = (ends[1].Voltage(k) - ends[0].Voltage(k)) / 2
	}
	return e, nil
}

// MonteCarlo draws all uncertain parameters uniformly and returns mean and standard deviation per node of n circuits, and
// how many found no operating point and were left out.
func (s *Solver) MonteCarlo(opt Options, p Patch, n int, rng *rand.Rand) (mean, sigma []float64, lost int, err error) {
	point, err := s.OP(opt, p)
	if err != nil {
		return nil, nil, 0, err
	}
	nodes := len(s.c.nodes)
	mean, sq := make([]float64, nodes), make([]float64, nodes)
	all := s.c.Uncertain()
	opt.From = point
	for range n {
		q := Patch{Changes: slices.Clone(p.Changes), Bridges: p.Bridges}
		for _, u := range all {
			v, _ := s.c.Param(u.Device, u.Param)
			q.Changes = append([]Change{{Device: u.Device, Do: Set, Param: u.Param, Value: v + u.Half*(2*rng.Float64()-1)}}, q.Changes...)
		}
		sol, err := s.OP(opt, q)
		if err != nil {
			lost++
			continue
		}
		for i := range mean {
			d := sol.Voltage(i) - point.Voltage(i)
			mean[i] += d
			sq[i] += d * d
		}
	}
	k := float64(max(1, n-lost))
	sigma = make([]float64, nodes)
	for i := range mean {
		m := mean[i] / k
		sigma[i] = math.Sqrt(max(0, sq[i]/k-m*m))
		mean[i] = point.Voltage(i) + m
	}
	return mean, sigma, lost, nil
}
