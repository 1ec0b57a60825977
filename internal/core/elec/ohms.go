package elec

import (
	"fmt"
	"math"
)

// This file computes ohms in circuit with the power off, as a meter sees them through the whole network.

// OhmMeter is a source of Volts behind Ohms, the red lead on the first node.
type OhmMeter struct{ Volts, Ohms float64 }

// LowPower is a meter whose test voltage stays below the knee of a silicon junction: 0.2 V open circuit behind 1 kΩ
// (the low-power ohms function of service meters; the values are common practice, no source). DiodeTest shows 1 mA driven from 3 V.
func LowPower() OhmMeter { return OhmMeter{0.2, 1e3} }

// DiodeTest is the diode function of a service meter, 3 V behind 2.4 kΩ (common practice, no source).
func DiodeTest() OhmMeter { return OhmMeter{3, 2.4e3} }

// openReading is the ohms above which a meter shows an open circuit.
const openReading = 1e9

// InputResistance is what a low-power ohmmeter shows between two nodes, all sources disconnected. See Solver.Ohms.
func (c *Circuit) InputResistance(opt Options, p Patch, a, b int) (ohms float64, err error) {
	r, _, err := c.NewSolver().Ohms(opt, p, LowPower(), a, b)
	return r, err
}

// Ohms is what a meter shows with the red lead on node a and the black lead on b, with the power off: ohms, at most 1e9, and the
// volts between the leads.
func (s *Solver) Ohms(opt Options, p Patch, m OhmMeter, a, b int) (ohms, volts float64, err error) {
	if a == b {
		return 0, 0, nil
	}
	if !(m.Volts > 0) || !(m.Ohms > 0) || math.IsInf(m.Volts+m.Ohms, 0) {
		return 0, 0, fmt.Errorf("a meter of %v V behind %v Ω measures nothing", m.Volts, m.Ohms)
	}
	opt.SourcesOff = true
	opt.Currents = false
	q := p.And(Patch{Bridges: []Bridge{{A: a, B: b, Ohms: m.Ohms, Volts: m.Volts}}})
	sol, err := s.OP(opt, q)
	if err != nil {
		return 0, 0, err
	}
	v := sol.Voltage(a) - sol.Voltage(b)
	i := (m.Volts - v) / m.Ohms
	if i <= v/openReading {
		return openReading, v, nil
	}
	return min(max(v/i, 0), openReading), v, nil
}
