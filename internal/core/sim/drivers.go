package sim

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// What a driver, an input from outside, or a short puts on copper.

// contribution is what a driver puts on its pin, faults of the driver included, the joint not.
func (e *Engine) contribution(d *driver) drive {
	var c drive
	if d.kind == part.ClockOut {
		c = e.level(int(d.input))
	} else {
		on := Heard{0, all}
		if d.kind == part.DriveTri {
			if on = e.get(d.cond); on.P1 == 0 && d.input < 0 && e.on.pins[d.pin] == nil {
				return c
			}
		}
		v := e.get(d.val)
		switch d.kind {
		case part.DriveLow:
			c = drive{m0: ^v.P1, y0: v.P0}
		case part.DriveHigh:
			c = drive{m1: ^v.P0, y1: v.P1}
		case part.DriveTri:
			c = drive{^v.P1 &^ on.P0, ^v.P0 &^ on.P0, v.P0 & on.P1, v.P1 & on.P1}
		default:
			c = drive{^v.P1, ^v.P0, v.P0, v.P1}
		}
	}
	if d.input >= 0 && d.kind != part.ClockOut {
		c = e.stepped(d, c)
	}
	if o := e.on.pins[d.pin]; o != nil {
		c = c.mask(^(o.outLow | o.outHigh | o.outOpen | o.outX))
		c.add(fixed(false, o.outLow))
		c.add(fixed(true, o.outHigh))
		c.add(drive{y0: o.outX, y1: o.outX})
	}
	return c
}

// stepped is what an output drives that a free run moves: what the action says in the lanes in which the processor surely runs, else c.
func (e *Engine) stepped(d *driver, c drive) drive {
	to := e.in.inputs[d.input]
	if e.union && to != e.was.inputs[d.input] {
		e.doubt = true
		return c
	}
	if to == circuit.Unknown {
		return c
	}
	g := e.get(d.gate)
	runs := g.P1 &^ g.P0
	c = c.mask(^runs)
	c.add(levelDrive(to).mask(runs))
	return c
}

// level is what an action makes an input drive, faults of the source included.
func (e *Engine) level(input int) drive {
	c := levelDrive(e.in.inputs[input])
	if e.union && e.in.inputs[input] != e.was.inputs[input] {
		c = drive{y0: all, y1: all}
		e.doubt = true
	}
	if s := e.on.srcs[input]; s != nil {
		c = c.mask(^(s.low | s.high | s.dead))
		c.add(fixed(false, s.low))
		c.add(fixed(true, s.high))
	}
	return c
}

func levelDrive(l circuit.Level) drive {
	switch l {
	case circuit.Low:
		return fixed(false, all)
	case circuit.High:
		return fixed(true, all)
	case circuit.LetGo:
		return drive{}
	}
	return drive{y0: all, y1: all}
}

// supplyOn is what is on a net at supply strength: shorts outside, and shorts inside parts whose joints hold.
func (e *Engine) supplyOn(net int32) drive { return e.on.supply[net] }

// outputsOn is what drivers and the outside put on a net.
func (e *Engine) outputsOn(net int32) drive {
	var s drive
	n := &e.p.C.Nets[net]
	for _, d := range n.Drivers {
		c := e.contribution(&e.p.drivers[d])
		if o := e.on.pins[e.p.drivers[d].pin]; o != nil && o.joint != 0 {
			c = c.mask(^o.joint)
		}
		s.add(c)
	}
	if n.Input != circuit.None {
		s.add(e.level(n.Input))
	}
	return s
}

// pinSide is the level on the part's side of an open joint: its own driver, a short inside, or what its links bring.
func (e *Engine) pinSide(pin int) NetLevel {
	p := e.p
	q := &p.C.Pins[pin]
	var sup, out, weak, faint drive
	if o := e.on.pins[pin]; o != nil {
		sup.add(fixed(false, o.inLow))
		sup.add(fixed(true, o.inHigh))
	}
	if q.Driver != circuit.None {
		out = e.contribution(&p.drivers[q.Driver])
	}
	for _, li := range p.C.Parts[q.Part].Links {
		l := &p.C.Links[li]
		far, farPin := circuit.None, circuit.None
		if l.PinA == pin {
			far, farPin = l.B, l.PinB
		} else if l.PinB == pin {
			far, farPin = l.A, l.PinA
		}
		if far == circuit.None {
			continue
		}
		level := asDrive(e.netGet(int32(far))).mask(^e.jointLanes(farPin))
		if o := e.on.links[li]; o != nil {
			out.add(level.mask(o.short))
		}
		d := level.gated(e.conducts(int32(li), true))
		switch {
		case l.Kind == circuit.Resistor:
			weak.add(d)
		case l.Kind == circuit.Faint && far == l.A:
			faint.add(drive{m1: d.m1, y1: d.y1})
		case l.Kind == circuit.Faint:
			faint.add(drive{m0: d.m0, y0: d.y0})
		case l.Kind == circuit.FaintBoth:
			faint.add(d)
		case l.Kind == circuit.Diode && far == l.A:
			out.add(drive{m1: d.m1, y1: d.y1})
		case l.Kind == circuit.Diode:
			out.add(drive{m0: d.m0, y0: d.y0})
		default:
			out.add(d)
		}
	}
	return resolve(sup, out, weak, faint, 0, 0)
}

// asDrive turns a level back into what it would put on something it is joined to.
func asDrive(v NetLevel) drive {
	return drive{v.V0 &^ (v.V1 | v.Z | v.F), v.V1 &^ (v.V0 | v.Z | v.F), v.V0 | v.F, v.V1 | v.F}
}

// resolve lets the strongest drive decide. lowW and highW are the lanes in which a divider has decided a conflict of
// weak drives.
func resolve(sup, out, weak, faint drive, lowW, highW uint64) NetLevel {
	var r NetLevel
	open := all
	step := func(d drive) (f uint64) {
		r.V0 |= open & d.y0 &^ d.m1
		r.V1 |= open & d.y1 &^ d.m0
		f = open & d.y0 & d.y1
		open &^= d.m0 | d.m1
		return f
	}
	f := step(sup)
	r.V0 |= f
	r.V1 |= f
	r.F |= step(out)
	f = step(weak)
	r.V0 |= f &^ highW
	r.V1 |= f &^ lowW
	f = step(faint)
	r.V0 |= f
	r.V1 |= f
	r.Z |= open
	return r
}
