package circuit

import (
	"halfsplit/internal/core/part"
)

// What a part's statements become on the board: drivers, links, stored bits, memories, indicators.

var segNames = [8]string{"a", "b", "c", "d", "e", "f", "g", "dp"}

func (b *builder) inside(pi int) {
	c := b.c
	p := &c.Parts[pi]
	p.Bit = c.Bits
	c.Bits += p.Type.Bits()
	lamps := 0
	for i := range p.Type.Stmts {
		if k := p.Type.Stmts[i].Kind; k == part.LED || k == part.Lamp {
			lamps++
		}
	}
	b.switches(pi)
	digit := None
	for i := range p.Type.Stmts {
		s := &p.Type.Stmts[i]
		switch s.Kind {
		case part.Drive, part.DriveLow, part.DriveHigh, part.DriveTri, part.ClockOut:
			b.driver(pi, s)
		case part.Store:
			p.Stores = append(p.Stores, len(c.Stores))
			c.Stores = append(c.Stores, Store{pi, p.Bit + s.Bit, s})
		case part.RAM, part.ROM:
			p.Memory = append(p.Memory, len(c.Memories))
			c.Memories = append(c.Memories, Memory{pi, p.Bit + s.Bit, s, p.Src.Contents})
			if s.Kind == part.ROM && p.Src.Contents == nil {
				b.fl.Warnf(p.Src.Pos, p.Ref, "add  contents: FILE  with the memory's image", "%s: no contents given, so what it reads out is unknown", p.Ref)
			}
		case part.LED, part.Lamp:
			digit = b.lamp(pi, s, lamps, digit)
		default:
			b.discrete(pi, s)
		}
	}
}

func (b *builder) driver(pi int, s *part.Stmt) {
	c := b.c
	pin := c.Parts[pi].NodePin[s.Node]
	if pin == None {
		return
	}
	d := Driver{Part: pi, Pin: pin, Stmt: s, Input: None}
	if s.Kind == part.ClockOut {
		d.Input = len(c.Inputs)
		b.clockOf[c.Pins[pin].Net] = d.Input
		c.Inputs = append(c.Inputs, Input{Net: c.Pins[pin].Net, Pin: pin})
	}
	c.Pins[pin].Driver = len(c.Drivers)
	c.Parts[pi].Drivers = append(c.Parts[pi].Drivers, len(c.Drivers))
	c.Drivers = append(c.Drivers, d)
}

// end gives the net that a link reaches at a node, and the pin whose joint is in between (None for an inside net).
func (b *builder) end(pi, node int) (net, pin int) {
	id := b.c.Parts[pi].NodePin[node]
	if id == None {
		return None, None
	}
	if in := b.c.Pins[id].Inside; in != None {
		return in, None
	}
	return b.c.Pins[id].Net, id
}

// newLink makes a link between two nodes of a part; it returns None when an end is wired to nothing at all.
func (b *builder) newLink(pi int, kind LinkKind, s *part.Stmt) (Link, bool) {
	l := Link{Kind: kind, Part: pi, Contact: None, Lamp: None, Ctl: None, Ctl2: None, CtlPin: None, Ctl2Pin: None, Cond: s.Cond}
	l.A, l.PinA = b.end(pi, s.A)
	l.B, l.PinB = b.end(pi, s.B)
	if s.Ctl >= 0 {
		l.Ctl, l.CtlPin = b.end(pi, s.Ctl)
	}
	if s.Ctl2 >= 0 {
		l.Ctl2, l.Ctl2Pin = b.end(pi, s.Ctl2)
	}
	return l, l.A != None && l.B != None
}

var linkKinds = map[part.Kind]LinkKind{part.Link: Switch, part.Resistor: Resistor, part.Diode: Diode, part.NPN: Transistor, part.PNP: Transistor,
	part.NMOS: Transistor, part.PMOS: Transistor, part.NJFET: Transistor, part.Contact: Contact1, part.Relay: RelayContact, part.Fuse: Closed}

// defaultOhms is taken for a resistor whose value the board does not give (common practice for a pull-up, no source).
const defaultOhms = 10e3

func (b *builder) discrete(pi int, s *part.Stmt) {
	l, ok := b.newLink(pi, linkKinds[s.Kind], s)
	if !ok {
		return
	}
	src := b.c.Parts[pi].Src
	switch s.Kind {
	case part.Resistor:
		l.Ohms = defaultOhms
		if src.HasValue {
			l.Ohms = src.Value
		}
	case part.NPN, part.NMOS:
		l.OnHigh = true
	case part.NJFET:
		l.OnHigh, l.Normally = true, true
	case part.Relay:
		l.Normally = s.Closed
	case part.Contact:
		l.Contact = b.contact(pi, s)
	}
	b.link(l)
}

func (b *builder) lamp(pi int, s *part.Stmt, lamps, digit int) int {
	c := b.c
	kind := Faint
	if s.Kind == part.Lamp {
		kind = FaintBoth
	}
	l, ok := b.newLink(pi, kind, s)
	if !ok {
		return digit
	}
	name := c.Parts[pi].Ref
	if lamps > 1 && s.As != "" {
		name += "." + s.As
	}
	l.Lamp = len(c.Lamps)
	lamp := Lamp{Part: pi, Name: name, A: l.A, K: l.B, Both: kind == FaintBoth, Link: len(c.Links)}
	for k, seg := range segNames {
		if lamps >= 7 && s.As == seg {
			if digit == None {
				digit = len(c.Digits)
				c.Digits = append(c.Digits, Digit{Part: pi, Segs: [8]int{None, None, None, None, None, None, None, None}})
			}
			c.Digits[digit].Segs[k] = len(c.Lamps)
			lamp.Seg = seg
		}
	}
	c.Parts[pi].Lamps = append(c.Parts[pi].Lamps, len(c.Lamps))
	c.Lamps = append(c.Lamps, lamp)
	b.link(l)
	return digit
}
