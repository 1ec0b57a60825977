package diagnose

import (
	"math"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
)

// A repair starts a new epoch. A fault of the part that was replaced most likely ends there; a repair may also bring
// a fault of its own. An item is a lane of the single-fault pack together with the epochs in which it is there.

// What a repair does, as probabilities (estimates).
const (
	curesInside   = 0.985 // a new part: whatever was wrong inside the old one is gone
	curesJoint    = 0.93  // soldering or seating a pin afresh
	curesBridge   = 0.5   // a splash beside the part goes with it
	repairBlunder = 0.03  // a lifted pad, a splash, a bad new part: something new is wrong
)

type item struct {
	lane       int // in Session.ways
	fault      int
	born, dies int // epochs: there from born to dies-1
	logw       float64
}

const forever = math.MaxInt32

func (it item) at(epoch int) bool { return it.born <= epoch && epoch < it.dies }

// items lists every life of every way a single fault can show itself.
func (s *Session) items() []item {
	out := make([]item, 0, len(s.ways))
	for lane, w := range s.ways {
		lw := math.Log(s.Odds[w.fault] * w.share)
		alive := 0.0
		for k, r := range s.repairs {
			c := s.cures(s.Faults[w.fault], r)
			if c == 0 {
				continue
			}
			out = append(out, item{lane, w.fault, 0, k + 1, lw + alive + math.Log(c)})
			alive += math.Log(1 - c)
		}
		out = append(out, item{lane, w.fault, 0, forever, lw + alive})
	}
	for k, r := range s.repairs {
		out = append(out, s.blunders(k+1, r)...)
	}
	return out
}

// cures is the probability that a repair ended a fault.
func (s *Session) cures(f fault.Fault, r repair) float64 {
	c := s.M.C
	part := f.Part(c)
	at, joint := f.Joint(c)
	x, y, bridge := f.Between(c)
	for _, p := range r.replaced {
		switch {
		case part == p && joint || part == p && f.Kind == fault.NoSupply:
			return curesJoint
		case part == p:
			return curesInside
		case bridge && s.beside(p, x) && s.beside(p, y):
			return curesBridge
		}
	}
	for _, pin := range r.soldered {
		switch {
		case joint && at == pin:
			return curesJoint
		case f.Kind == fault.NoSupply && c.Pins[pin].Supply && c.Pins[pin].Part == part:
			return curesJoint
		case bridge && (c.Pins[pin].Net == x || c.Pins[pin].Net == y):
			return curesBridge
		}
	}
	for _, p := range r.reseated {
		if part == p && (joint || f.Kind == fault.NoSupply) {
			return curesJoint
		}
	}
	for _, n := range r.cleared {
		if part == circuit.None && (f.Net(c) == n || bridge && y == n) {
			return curesInside
		}
	}
	return 0
}

func (s *Session) beside(part, net int) bool {
	for _, id := range s.M.C.Parts[part].Pins {
		if s.M.C.Pins[id].Net == net {
			return true
		}
	}
	return false
}

// blunders are the faults that a repair may have brought: at the pins it touched.
func (s *Session) blunders(epoch int, r repair) []item {
	touched := map[int]bool{}
	pins := map[int]bool{}
	for _, p := range r.replaced {
		touched[p] = true
		for _, id := range s.M.C.Parts[p].Pins {
			pins[id] = true
		}
	}
	for _, id := range r.soldered {
		pins[id] = true
	}
	var out []item
	total := 0.0
	for lane, w := range s.ways {
		f := s.Faults[w.fault]
		hit := touched[f.Part(s.M.C)] && f.Part(s.M.C) != circuit.None
		at, joint := f.Joint(s.M.C)
		x, y, bridge := f.Between(s.M.C)
		switch {
		case joint:
			hit = pins[at]
		case bridge:
			hit = false
			for p := range touched {
				hit = hit || s.beside(p, x) && s.beside(p, y)
			}
		}
		if hit {
			wt := s.Odds[w.fault] * w.share
			total += wt
			out = append(out, item{lane, w.fault, epoch, forever, math.Log(wt)})
		}
	}
	for i := range out {
		out[i].logw += math.Log(repairBlunder / total)
	}
	return out
}
