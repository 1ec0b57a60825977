package elec

import "fmt"

// Solution is an operating point. It does not change and may be shared.
type Solution struct {
	c          *Circuit
	x, mem     []float64
	currents   []float64 // [terminal of all devices], if asked for
	memo       []memo    // [element], kept of points found without another to start from
	gmin       float64
	Residual   float64 // amperes, the largest imbalance of a node before the last step
	Iterations int
	Method     string
}

// solution copies the state of the solver.
func (s *Solver) solution(iterations int, method string) (*Solution, error) {
	n, m := len(s.x), len(s.mem)
	both := make([]float64, n+m)
	copy(both, s.x)
	copy(both[n:], s.mem)
	sol := &Solution{c: s.c, x: both[:n:n], mem: both[n:], Iterations: iterations, Method: method}
	for i, v := range sol.x[:n-1] {
		if v-v != 0 {
			return nil, &NoPoint{Node: s.c.names[i], Iterations: iterations, Tried: []string{method}, Reason: "the answer is not finite"}
		}
	}
	sol.Residual, _ = s.residual()
	if s.opt.From == nil {
		sol.memo, sol.gmin = append([]memo(nil), s.memo...), s.gmin
	}
	if s.opt.Currents {
		sol.currents = s.terminalCurrents()
	}
	return sol, nil
}

// Voltage is that of a node by index, against the reference.
func (s *Solution) Voltage(node int) float64 {
	if node <= 0 || node >= len(s.c.nodes) {
		return 0
	}
	return s.x[node-1]
}

// V is the voltage of a node by name; ok is false if there is no such node.
func (s *Solution) V(name string) (v float64, ok bool) {
	i := s.c.Node(name)
	return s.Voltage(i), i >= 0
}

// Voltages returns those of all nodes, by node index.
func (s *Solution) Voltages() []float64 {
	out := make([]float64, len(s.c.nodes))
	copy(out[1:], s.x)
	return out
}

// Current is what flows into a terminal of a device, in amperes. It needs Options.Currents; ok is false without, or if
// there is no such terminal.
func (s *Solution) Current(dev, pin int) (amperes float64, ok bool) {
	if s.currents == nil || dev < 0 || dev >= len(s.c.devices) || pin < 0 || pin >= len(s.c.devices[dev].Nodes) {
		return 0, false
	}
	return s.currents[int(s.c.pinAt[dev])+pin], true
}

// Supply is the current that a voltage source delivers out of its + terminal, in amperes; no Options are needed.
func (s *Solution) Supply(dev int) (amperes float64, err error) {
	if dev < 0 || dev >= len(s.c.devices) || s.c.devices[dev].Kind != VoltageSource {
		return 0, fmt.Errorf("device %d is not a voltage source", dev)
	}
	e := &s.c.elems[s.c.first[dev]]
	if e.kind == eVsrc {
		return -s.x[e.t[2]], nil
	}
	if i, ok := s.Current(dev, 0); ok {
		return -i, nil
	}
	return 0, fmt.Errorf("the current of %s needs Options.Currents", s.c.devices[dev].Name)
}

// terminalCurrents evaluates all elements at x and sums what flows into each terminal.
func (s *Solver) terminalCurrents() []float64 {
	c := s.c
	out := make([]float64, c.pinAt[len(c.devices)])
	for i := range s.elems {
		e := &s.elems[i]
		base := int(c.pinAt[e.dev])
		put := func(t int, v float64) {
			if e.pin[t] >= 0 {
				out[base+int(e.pin[t])] += v
			}
		}
		par := s.par[e.par:]
		v := s.x[e.t[0]] - s.x[e.t[1]]
		switch e.kind {
		case eRes:
			put(0, v/par[0])
			put(1, -v/par[0])
		case eCap:
			i := v / (par[1] + par[2])
			put(0, i)
			put(1, -i)
		case eWinding, eVsrc:
			put(0, s.x[e.t[2]])
			put(1, -s.x[e.t[2]])
		case eIsrc:
			put(0, par[0])
			put(1, -par[0])
		default:
			for t := 0; t < int(e.nt); t++ {
				s.l.v[t] = s.x[e.t[t]]
			}
			s.evaluate(e)
			for t := 0; t < int(e.nt); t++ {
				put(t, s.l.i[t])
			}
		}
	}
	return out
}
