package analog

import (
	"math"

	"halfsplit/internal/core/elec"
)

// This file computes what is not read off the solution of the whole board: ohms and series resistance with the power off, levels of a signal, gain.

// reading is what a hypothesis shows in a check that needs a solution of its own; that of an alternating level serves all nodes.
func (l *Lab) reading(s *elec.Solver, k Check, h int) Prediction {
	if k.Kind != AC && k.Kind != Gain {
		return l.probe(s, k, l.patch(h, k.Cond), h)
	}
	at := tone{h, k.Cond, k.Frequency, k.injected()}
	l.tonesLock.Lock()
	v, ok := l.tones[at]
	l.tonesLock.Unlock()
	if !ok {
		v = l.levelsAt(s, k, l.patch(h, k.Cond).And(k.Cond.patch(l.U.M)), h)
		l.tonesLock.Lock()
		l.tones[at] = v
		l.tonesLock.Unlock()
	}
	return k.level(v)
}

// tone is a signal at one frequency: the board's own, or one that is injected at a node.
type tone struct {
	h         int
	c         Condition
	frequency float64
	at        int // -1 for the board's own
}

// injected is the node at which a check brings its own signal in, -1 for none.
func (k Check) injected() int {
	if k.Kind == Gain {
		return k.A
	}
	return -1
}

// level reads a check off the volts rms of all nodes.
func (k Check) level(v []float64) Prediction {
	switch {
	case v == nil:
		return Prediction{}
	case k.Kind == AC:
		return finite(scales[AC], v[k.A])
	case !(v[k.A] > 1e-30):
		return Prediction{}
	}
	return finite(scales[Gain], v[k.B]/v[k.A])
}

// What is injected for a gain: little enough that nothing clips, behind the ohms of a usual generator and a capacitor that is none to the signal.
const (
	injectedVolts = 0.1
	injectedOhms  = 50
)

// levelsAt are the volts rms of all nodes with the signals on; nil where there is no answer.
func (l *Lab) levelsAt(s *elec.Solver, k Check, p elec.Patch, h int) []float64 {
	c := k.Cond
	c.Bench = false
	opt := elec.ACOptions{Options: l.begin(h, c)}
	if n := k.injected(); n >= 0 {
		opt.Inject = &elec.Bridge{A: n, B: 0, Ohms: injectedOhms, Volts: injectedVolts}
	}
	ac, err := s.AC(opt, p, []float64{k.Frequency})
	if err != nil {
		return nil
	}
	out := make([]float64, len(l.U.M.nets))
	for n := range out {
		v := ac.Voltage(0, n)
		out[n] = math.Hypot(real(v), imag(v))
	}
	return out
}

// probe computes a check that needs a solution of its own. The search begins where hypothesis h has its.
func (l *Lab) probe(s *elec.Solver, k Check, p elec.Patch, h int) Prediction {
	m := l.U.M
	sc := scales[k.Kind]
	p = p.And(k.Cond.patch(m))
	from := func(off bool) elec.Options {
		c := k.Cond
		c.Bench = off
		return l.begin(h, c)
	}
	switch k.Kind {
	case Ohms:
		r, _, err := s.Ohms(from(true), p, elec.LowPower(), k.A, k.B)
		if err != nil {
			return Prediction{}
		}
		mu := sc.in(min(r, openOhms))
		return Prediction{mu, l.logSigma(k, mu), true}
	case ESR:
		a, b, ok := m.ends(k.Device)
		if !ok {
			return Prediction{}
		}
		return l.impedance(s, from(true), sc, p, a, b)
	case AC, Gain:
		return k.level(l.levelsAt(s, k, p, h))
	}
	return Prediction{}
}

// openOhms is where a meter says that there is no path.
const openOhms = 20e6

// impedance is what an ESR meter shows: the magnitude at 100 kHz of what lies between two nodes with the power off, below every knee.
func (l *Lab) impedance(s *elec.Solver, from elec.Options, sc scale, p elec.Patch, a, b int) Prediction {
	const behind, volts = 50, 0.05
	ac, err := s.AC(elec.ACOptions{Options: from, Inject: &elec.Bridge{A: a, B: b, Ohms: behind, Volts: volts}}, p, []float64{100e3})
	if err != nil {
		return Prediction{}
	}
	v := ac.Voltage(0, a) - ac.Voltage(0, b)
	i := (complex(volts, 0) - v) / behind
	if i == 0 {
		return finite(sc, 1e6)
	}
	z := v / i
	return finite(sc, min(math.Hypot(real(z), imag(z)), 1e6))
}

func finite(sc scale, x float64) Prediction {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return Prediction{}
	}
	return Prediction{sc.in(x), sc.sigma, true}
}
