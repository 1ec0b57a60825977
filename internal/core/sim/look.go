package sim

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// What the settled moment shows.

// NetLevel is the level of a net in all lanes.
func (e *Engine) NetLevel(net int) NetLevel { return e.netNow(int32(net)) }

// PinLevel is the level at a pin's leg: that of its net, but of the part's side where the joint is open.
func (e *Engine) PinLevel(pin int) NetLevel {
	q := &e.p.C.Pins[pin]
	v := e.netNow(int32(q.Net))
	if q.Inside != circuit.None {
		if l := e.jointLink(pin); l >= 0 {
			if o := e.on.links[l]; o != nil {
				v = e.netNow(int32(q.Inside)).pick(o.open, v)
			}
		}
		return v
	}
	if j := e.jointLanes(pin); j != 0 {
		v = e.pinSide(pin).pick(j, v)
	}
	return v
}

func (e *Engine) jointLink(pin int) int32 {
	for _, l := range e.p.C.Parts[e.p.C.Pins[pin].Part].Links {
		if e.p.C.Links[l].Kind == circuit.Joint && e.p.C.Links[l].PinA == pin {
			return int32(l)
		}
	}
	return -1
}

// Plain reports whether every output that may fight on a net of the good board is of the plain 74 family.
func (p *Program) Plain(net int) bool { return p.plain[net] }

// PlainFight gives the lanes in which a fight on the net reads as a legal low.
func (e *Engine) PlainFight(net int) uint64 {
	if !e.p.plain[net] {
		return 0
	}
	return ^e.on.notPlain[net]
}

// Lit tells in which lanes a lamp may be dark (P0) and may be lit (P1).
func (e *Engine) Lit(lamp int) Heard {
	l := &e.p.C.Lamps[lamp]
	lit := lights(l, lampEnd(e.netNow(int32(l.A)), e.fightLow(int32(l.A))), lampEnd(e.netNow(int32(l.K)), e.fightLow(int32(l.K))))
	li := int32(l.Link)
	on := e.conducts(li, false)
	if o := e.on.links[li]; o != nil { // a shorted lamp does not light either
		on.must &^= o.short
		on.may &^= o.short
	}
	lit.P1 &= on.may
	lit.P0 |= ^on.must
	return lit
}

// Lit is Engine.Lit for the good board with net levels as Trace.Settled gives them; pins lifted off the lamp's nets are not seen.
func (p *Program) Lit(lamp int, settled []uint8) Heard {
	l := &p.C.Lamps[lamp]
	return lights(l, lampEnd(netOf(settled[l.A]), p.fightLow(int32(l.A))), lampEnd(netOf(settled[l.K]), p.fightLow(int32(l.K))))
}

// LampPatched tells whether a patch of the batch changes what a lamp shows while its nets are as on the good board.
func (e *Engine) LampPatched(lamp int) bool {
	l := &e.p.C.Lamps[lamp]
	x := &e.p.C.Links[l.Link]
	return e.on.dark[lamp] != 0 || e.on.links[l.Link] != nil || e.jointLanes(x.PinA)|e.jointLanes(x.PinB) != 0 || e.on.fightX[l.A]|e.on.fightX[l.K] != 0
}

// lights compares what is at the two ends of a lamp.
func lights(l *circuit.Lamp, a, k drive) Heard {
	if l.Both {
		return Heard{^(a.m1&k.m0 | a.m0&k.m1), a.y1&k.y0 | a.y0&k.y1}
	}
	return Heard{^(a.m1 & k.m0), a.y1 & k.y0}
}

// lampEnd is what a net brings to a lamp; fightLow are the lanes in which a fight there is heard as low.
func lampEnd(v NetLevel, fightLow uint64) drive {
	low := v.F & fightLow
	v.V0 |= low
	v.V1 |= v.F &^ low
	v.V0 |= v.F &^ low
	v.F = 0
	return asDrive(v)
}

// Touched lists the nets whose level differs from the good board's in some lane of the settled moment.
func (e *Engine) Touched() []int32 { return e.cur.nets }

// Settled gives the level of every net of the good board at the end of a moment, as NetFrom reads it.
func (t *Trace) Settled(moment int) []uint8 {
	sp := t.moments[moment]
	return t.netRows[sp.first+sp.n-1]
}

// NetFrom spreads a level as Settled gives it over all lanes.
func NetFrom(b uint8) NetLevel { return netOf(b) }

// Layers tells in which lanes a net's level is surely decided at supply, output, weak and faint strength. Lanes in none
// of them float, fight between layers, or are unknown.
func (e *Engine) Layers(net int) [4]uint64 {
	g := e.p.groupOf[net]
	if g < 0 {
		return [4]uint64{all}
	}
	gr := &e.p.groups[g]
	d := [4]drive{e.supplyOn(int32(net)), e.outputsOn(int32(net))}
	if len(gr.links) > 0 {
		e.linked(gr.nets, gr.links, nil)
		d = e.scratch.drives(int32(net))
	}
	for _, si := range e.on.supers[g] {
		su := &e.ov.supers[si]
		e.linked(su.nets, su.links, su)
		m := su.lanes[slices.Index(su.nets, int32(net))]
		for i, x := range e.scratch.drives(int32(net)) {
			d[i] = d[i].mask(^m)
			d[i].add(x.mask(m))
		}
	}
	var out [4]uint64
	open := all
	for i, x := range d {
		out[i] = open & (x.m0 | x.m1)
		open &^= x.y0 | x.y1
	}
	return out
}

// drives gives what linked found on a net, strongest first.
func (s *groupScratch) drives(net int32) [4]drive {
	k := s.local[net]
	return [4]drive{s.sup[k], s.out[k], s.weak[k], s.faint[k]}
}

// Program returns what the engine computes.
func (e *Engine) Program() *Program { return e.p }
