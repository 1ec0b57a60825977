package circuit

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// lint warns of what is likely a slip in the board file. Errors that make a board unusable are found while it is built.
func (b *builder) lint() {
	c := b.c
	if len(c.Board.Parts) == 0 {
		b.fl.Errorf(finding.Pos{File: c.Board.File}, "parts", "add parts:", "the board has no parts")
	}
	for i := range c.Parts {
		b.openPins(i)
		b.supplies(i)
	}
	lonely := 0
	for i := range c.Nets {
		if b.isLonely(i) {
			lonely++
		}
	}
	near := slips(slices.Sorted(maps.Keys(c.netByName)), lonely)
	for i := range c.Nets {
		if b.isLonely(i) {
			b.lonely(i, near)
		}
		b.driven(i)
	}
	b.shortedRails()
}

func (b *builder) openPins(pi int) {
	p := &b.c.Parts[pi]
	said := map[int]bool{}
	for _, w := range p.Src.Pins {
		if w.Net == "-" {
			for _, n := range p.Type.PinByName(w.Pin) {
				said[n] = true
			}
		}
	}
	var in, out, other []string
	for _, id := range p.Pins {
		pin := b.c.Pins[id]
		if pin.Wired || said[pin.Number] || pin.Supply {
			continue
		}
		text := fmt.Sprintf("%d (%s)", pin.Number, p.Type.Nodes[pin.Node].Name)
		switch {
		case pin.Use&part.Heard != 0:
			in = append(in, text)
		case pin.Use&part.Driven != 0:
			out = append(out, text)
		default:
			other = append(other, text)
		}
	}
	if len(in) > 0 {
		b.fl.Warnf(p.Src.Pos, p.Ref, "wire them, or write - where they are really open", "%s: inputs wired to nothing: %s", p.Ref, strings.Join(in, ", "))
	}
	if n := len(out) + len(other); n > 0 {
		b.fl.Warnf(p.Src.Pos, p.Ref, "write - where they are really open", "%s: pins wired to nothing: %s", p.Ref, strings.Join(append(out, other...), ", "))
	}
}

func (b *builder) supplies(pi int) {
	p := &b.c.Parts[pi]
	for _, id := range p.Pins {
		pin := b.c.Pins[id]
		if !pin.Supply {
			continue
		}
		n, node := b.c.Nets[pin.Net], p.Type.Nodes[pin.Node]
		name := node.Name
		switch {
		case !n.Rail:
			b.fl.Warnf(p.Src.Pos, p.Ref, "add the net under rails: if it is one", "%s: supply pin %d (%s) is on %s, which is not a rail; it is taken as powered", p.Ref, pin.Number, name, n.Name)
		case node.HasV && (name == "VDD" || name == "VSS"): // a PMOS part has VSS at the top and VDD at the bottom: its record says so
		case (name == "VCC" || name == "VDD") && n.Volts <= 0, (name == "GND" || name == "VSS") && n.Volts > 0:
			b.fl.Errorf(p.Src.Pos, p.Ref, "check the pin numbers", "%s: supply pin %d (%s) is on %s (%g V)", p.Ref, pin.Number, name, n.Name, n.Volts)
		}
	}
}

// isLonely tells whether a net has a single pin, and no source from outside at its other end.
func (b *builder) isLonely(ni int) bool {
	n := b.c.Nets[ni]
	if n.Hidden || n.Rail || n.Input != None || len(n.Pins) != 1 {
		return false
	}
	a := b.c.Board.Analog
	return a == nil || !slices.ContainsFunc(a.Sources, func(s board.Source) bool { return s.Plus == n.Name || s.Minus == n.Name })
}

// lonely warns of a net with a single pin: often a misspelt name. near gives the name that it may have been meant to be, or "".
func (b *builder) lonely(ni int, near func(string) string) {
	n := b.c.Nets[ni]
	hint := ""
	if near := near(n.Name); near != "" {
		hint = "is it " + near + "?"
	}
	b.fl.Warnf(n.Pos, n.Name, hint, "net %s is on one pin only, %s", n.Name, b.c.PinName(n.Pins[0]))
}

// driven warns of nets that two plain outputs drive, and of nets that nothing can drive.
func (b *builder) driven(ni int) {
	n := b.c.Nets[ni]
	if n.Hidden || n.Rail {
		return
	}
	var hard []string
	for _, d := range n.Drivers {
		if b.c.Drivers[d].Stmt.Kind == part.Drive {
			hard = append(hard, b.c.PinName(b.c.Drivers[d].Pin))
		}
	}
	if len(hard) > 1 {
		b.fl.Warnf(n.Pos, n.Name, "check the wiring", "net %s is driven by several outputs that never let go: %s", n.Name, strings.Join(hard, ", "))
	}
	heard := slices.ContainsFunc(n.Pins, func(p int) bool { return b.c.Pins[p].Use&part.Heard != 0 })
	if heard && len(n.Drivers) == 0 && n.Input == None && len(n.Links) == 0 && len(n.Pins) > 1 {
		b.fl.Warnf(n.Pos, n.Name, "add it to inputs: if it comes from elsewhere", "nothing drives net %s", n.Name)
	}
	b.held(ni, heard)
	oc := slices.ContainsFunc(n.Drivers, func(d int) bool { return b.c.Drivers[d].Stmt.Kind == part.DriveLow })
	pulled := slices.ContainsFunc(n.Links, func(l int) bool {
		k := b.c.Links[l].Kind
		return k == Resistor || k == Faint || k == Transistor || k == Diode
	})
	if oc && heard && len(n.Links) > 0 && !pulled || oc && heard && len(n.Links) == 0 {
		b.fl.Warnf(n.Pos, n.Name, "add the pull-up resistor", "net %s has an open-collector output but no pull-up", n.Name)
	}
}

// shortedRails refuses two rails of different voltage that a closed link joins for good.
func (b *builder) shortedRails() {
	for _, l := range b.c.Links {
		x, y := b.c.Nets[l.A], b.c.Nets[l.B]
		always := l.Kind == Closed || l.Kind == Resistor && l.Ohms == 0
		if always && x.Rail && y.Rail && x.Volts != y.Volts {
			p := b.c.Parts[l.Part]
			b.fl.Errorf(p.Src.Pos, p.Ref, "check its pins", "%s joins the rails %s and %s: the supplies are shorted", p.Ref, x.Name, y.Name)
		}
	}
}
