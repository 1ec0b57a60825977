package elec

import (
	"fmt"
	"math"
)

// This file holds changes of a compiled circuit: what a fault does to a device, in electrical terms. The solver applies
// them to its own copy; nothing is compiled again.

// Patch is a set of changes. The zero value is the circuit as compiled.
type Patch struct {
	Changes []Change
	Bridges []Bridge
}

// Do tells what a Change does.
type Do uint8

// What can be done to a device.
const (
	Set     Do = iota // parameter Param takes Value
	Scale             // parameter Param is multiplied by Value
	Joint             // terminal Pin gets a resistance of Value ohms in series; 0 means open (1e12 Ω)
	Reverse           // a two-terminal device is the other way round; a transistor has its outer terminals swapped
	Replace           // the device has the parameters of record Model
)

// Change is one change of the device with index Device.
type Change struct {
	Device int
	Do     Do
	Pin    int
	Param  string
	Value  float64
	Model  string
}

// Bridge joins two nodes (indexes) through Ohms, at least 1e-6, and an electromotive force of Volts that raises A above B.
type Bridge struct {
	A, B  int
	Ohms  float64
	Volts float64
}

const openOhms = 1e12

// Open is an open terminal of a device.
func Open(dev, pin int) Patch { return Patch{Changes: []Change{{Device: dev, Do: Joint, Pin: pin}}} }

// Short bridges two terminals of a device with some ohms.
func (c *Circuit) Short(dev, pinA, pinB int, ohms float64) Patch {
	n := c.devices[dev].Nodes
	return Patch{Bridges: []Bridge{{A: n[pinA], B: n[pinB], Ohms: ohms}}}
}

// Stuck ties terminal pin of a device to another of its terminals through some ohms, its own drive being gone: an output stuck at a rail.
func (c *Circuit) Stuck(dev, pin, rail int, ohms float64) Patch {
	p := c.Short(dev, pin, rail, ohms)
	p.Changes = Open(dev, pin).Changes
	return p
}

// And joins two patches.
func (p Patch) And(q Patch) Patch {
	return Patch{append(append([]Change(nil), p.Changes...), q.Changes...), append(append([]Bridge(nil), p.Bridges...), q.Bridges...)}
}

// Check says why a patch does not fit the circuit, or nil.
func (c *Circuit) Check(p Patch) error {
	for _, ch := range p.Changes {
		if ch.Device < 0 || ch.Device >= len(c.devices) {
			return fmt.Errorf("there is no device %d", ch.Device)
		}
		d := &c.devices[ch.Device]
		switch ch.Do {
		case Set, Scale:
			i := c.specs[ch.Device].index(ch.Param)
			if i < 0 {
				return fmt.Errorf("%s: a %s has no parameter %q", d.Name, d.Kind, ch.Param)
			}
			if math.IsNaN(ch.Value) || math.IsInf(ch.Value, 0) {
				return fmt.Errorf("%s: %s cannot become %v", d.Name, ch.Param, ch.Value)
			}
		case Joint:
			if ch.Pin < 0 || ch.Pin >= len(d.Nodes) || !(ch.Value >= 0 && ch.Value < math.Inf(1)) {
				return fmt.Errorf("%s: no joint of %v Ω can be at terminal %d", d.Name, ch.Value, ch.Pin)
			}
		case Reverse:
			if !c.reversible(ch.Device) {
				return fmt.Errorf("%s: a %s cannot be the other way round here", d.Name, d.Kind)
			}
		case Replace:
			if r := c.models.Find(ch.Model); r == nil || !likeKinds(r.Kind, d.Kind) {
				return fmt.Errorf("%s: there is no %s model %q", d.Name, d.Kind, ch.Model)
			}
		default:
			return fmt.Errorf("%s: unknown change %d", d.Name, ch.Do)
		}
	}
	for _, b := range p.Bridges {
		if b.A < 0 || b.B < 0 || b.A >= len(c.nodes) || b.B >= len(c.nodes) || !(b.Ohms >= 0) || math.IsInf(b.Ohms+b.Volts, 0) || math.IsNaN(b.Volts) {
			return fmt.Errorf("a bridge of %v Ω between nodes %d and %d is not possible", b.Ohms, b.A, b.B)
		}
	}
	return nil
}

func (c *Circuit) reversible(dev int) bool {
	switch c.devices[dev].Kind {
	case Diode, Zener, LED, BJT, JFET, MOSFET, VoltageSource, CurrentSource, Resistor, Fuse, Switch, Inductor:
		return true
	}
	return false
}

// change applies one change to the solver's copy. The parameter arrays of the solver are fresh.
func (s *Solver) change(ch Change) {
	c := s.c
	spec := c.specs[ch.Device]
	p := c.paramsOf(ch.Device, s.devPar)
	switch ch.Do {
	case Set:
		i := spec.index(ch.Param)
		p[i] = spec.params[i].within(ch.Value)
	case Scale:
		i := spec.index(ch.Param)
		p[i] = spec.params[i].within(p[i] * ch.Value)
	case Replace:
		d := c.devices[ch.Device]
		d.Model = ch.Model
		q, _ := c.models.resolve(&d, spec)
		copy(p, q)
	case Joint:
		r := ch.Value
		if r == 0 {
			r = openOhms
		}
		for i := c.first[ch.Device]; i < c.first[ch.Device+1]; i++ {
			e := &s.elems[i]
			for t := 0; t < int(e.nt); t++ {
				if int(e.pin[t]) == ch.Pin {
					s.joint(int(i), t, r)
				}
			}
		}
		return
	case Reverse:
		for i := c.first[ch.Device]; i < c.first[ch.Device+1]; i++ {
			s.reverse(&s.elems[i])
		}
		return
	}
	s.dirty = append(s.dirty, int32(ch.Device))
}

// within keeps a patched value among those that the equations can bear.
func (q *param) within(v float64) float64 { return min(max(v, q.lo), q.hi) }

// joint puts ohms in series with a terminal. Linear elements take them into their own resistance.
func (s *Solver) joint(i, t int, ohms float64) {
	e := &s.elems[i]
	if e.linear() {
		s.series = append(s.series, series{int32(i), ohms})
		s.dirty = append(s.dirty, e.dev)
		return
	}
	if e.joints < 0 {
		e.joints = int32(len(s.joints))
		s.joints = append(s.joints, make([]float64, maxTerms)...)
		s.inner = append(s.inner, make([]float64, maxTerms)...)
	}
	s.joints[int(e.joints)+t] = ohms
}

type series struct {
	elem int32
	ohms float64
}

// addSeries adds series ohms to the parameters of a linear element.
func addSeries(k ekind, par []float64, ohms float64) {
	switch k {
	case eRes:
		par[0] = min(par[0]+ohms, never)
	case eCap, eWinding, eVsrc:
		par[1] = min(par[1]+ohms, never)
	case eIsrc:
		if ohms >= 1e9 {
			clear(par)
		}
	}
}

func (s *Solver) reverse(e *element) {
	a, b := 0, 1
	if e.nt == 3 && !e.linear() {
		b = 2
	}
	switch e.kind {
	case eVsrc, eIsrc, eLimited:
		s.flipped = append(s.flipped, e.dev)
		s.dirty = append(s.dirty, e.dev)
		return
	case eWinding, eRes:
		return
	}
	n := int(e.nt)
	e.t[a], e.t[b] = e.t[b], e.t[a]
	e.pin[a], e.pin[b] = e.pin[b], e.pin[a]
	perm := [maxTerms]int{0, 1, 2, 3, 4, 5}
	perm[a], perm[b] = b, a
	old := e.slot
	e.slot = int32(len(s.slots))
	for r := 0; r < n; r++ {
		for q := 0; q < n; q++ {
			s.slots = append(s.slots, s.slots[int(old)+perm[r]*n+perm[q]])
		}
	}
}
