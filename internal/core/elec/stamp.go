package elec

// This file prepares a solver for a patch: the linear elements' part of the equations, and what can be taken over from
// the point to start from.

// stampLinear fills lin and b: from what is kept, if the patch changes no linear element.
func (s *Solver) stampLinear() {
	k := &s.kept
	if k.lin == nil || k.leak != s.opt.Leak || k.off != s.off {
		dirty := s.changedLinear()
		s.stampDC()
		if !dirty {
			k.lin, k.b = append(k.lin[:0], s.lin...), append(k.b[:0], s.b...)
			k.leak, k.off = s.opt.Leak, s.off
		}
		return
	}
	if s.changedLinear() {
		s.stampDC()
		return
	}
	copy(s.lin, k.lin)
	copy(s.b, k.b)
}

func (s *Solver) changedLinear() bool {
	for _, d := range s.dirty {
		for i := s.c.first[d]; i < s.c.first[d+1]; i++ {
			if s.elems[i].linear() {
				return true
			}
		}
	}
	return false
}

// recall takes over the straight lines of the point to start from, for all elements that the patch leaves alone.
func (s *Solver) recall() {
	from := s.opt.From
	if from == nil || len(from.memo) != len(s.memo) || from.gmin != s.gmin {
		s.forget()
		return
	}
	copy(s.memo, from.memo)
	for i := range s.elems {
		if e := &s.elems[i]; e.joints >= 0 {
			s.memo[i].valid = false
		}
	}
	for _, d := range s.dirty {
		s.forgetDevice(d)
	}
}

func (s *Solver) forget() {
	for i := range s.memo {
		s.memo[i].valid = false
	}
}

func (s *Solver) forgetDevice(d int32) {
	for i := s.c.first[d]; i < s.c.first[d+1]; i++ {
		s.memo[i].valid = false
	}
}

func (s *Solver) index(node int) int32 {
	if node == 0 {
		return int32(s.c.n)
	}
	return s.c.unknownOf(node)
}

// disconnect takes away what feeds the circuit.
func (s *Solver) disconnect() {
	for i := range s.elems {
		e := &s.elems[i]
		par := s.par[e.par:]
		switch e.kind {
		case eVsrc:
			if s.c.devices[e.dev].Kind == VoltageSource {
				par[0], par[1] = 0, openOhms
			}
		case eLimited:
			par[0], par[1], par[7] = 0, 1/openOhms, 1
		case eIsrc:
			clear(par[:6])
		case eOpAmp: // the fraction of a volt of a meter wakes no amplifier
			par[12] = asleep
		case eComp:
			par[6] = asleep
		}
	}
}

// asleep is a least supply that nothing reaches, in volts.
const asleep = 1e3

// stampDC fills lin and b with the linear elements at direct current.
func (s *Solver) stampDC() {
	clear(s.lin)
	clear(s.b)
	for i := range s.elems {
		e := &s.elems[i]
		if !e.linear() {
			continue
		}
		par := s.par[e.par:]
		switch e.kind {
		case eRes:
			s.conductance(e, 1/par[0])
		case eCap:
			s.conductance(e, 1/(par[1]+par[2]))
		case eWinding:
			s.branch(e, par[1])
		case eVsrc:
			s.branch(e, par[1])
			s.b[e.t[2]] += par[0]
		case eIsrc:
			s.b[e.t[0]] -= par[0]
			s.b[e.t[1]] += par[0]
		}
	}
	for _, d := range s.c.diag {
		s.lin[d] += s.opt.Leak
	}
}

func (s *Solver) conductance(e *element, g float64) {
	k := s.slots[e.slot : e.slot+4]
	s.lin[k[0]] += g
	s.lin[k[1]] -= g
	s.lin[k[2]] -= g
	s.lin[k[3]] += g
}

// branch stamps v(a) - v(b) - r i = ... and i into the nodes. With a large resistance the equation is divided by it.
func (s *Solver) branch(e *element, r float64) {
	k := s.slots[e.slot : e.slot+5]
	s.lin[k[0]]++
	s.lin[k[1]]--
	s.lin[k[2]]++
	s.lin[k[3]]--
	s.lin[k[4]] -= r
}
