package analog

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/part"
)

// This file says which half of a mixed board computes what. Nets that analogue devices join, rails and outputs of logic left out, form stages. A
// stage of resistors, diodes, LEDs, switches and capacitors alone is the logic's, as on a board without an analogue half. One with transistors in it
// is solved, and the logic follows it as the switches that they are. One with an amplifier, a reference, a control or a supply in it is solved, and
// the logic is told what it hears there.

// Domain tells which half computes a net.
type Domain uint8

// Domains of a net.
const (
	Logic    Domain = iota // the logic alone
	Rail                   // a declared rail
	Shared                 // logic or the outside drives it, parts of the analogue half hang on it
	Switched               // solved; the logic follows it through transistors as switches
	Solved                 // solved; the logic is told
)

// Split is how a mixed board is shared out.
type Split struct {
	Net    []Domain
	Mine   []bool // part: its faults are the analogue half's
	Logic  []bool // part: a chip of the logic
	There  []bool // part: solved with the analogue half
	Stage  []int  // net → a net that stands for its stage
	Shares []Share
	Loads  []Load
}

// Share is something that both halves touch; its place in the list is that of its sign in Condition.Drive.
type Share struct {
	Net     int // circuit net whose level matters
	Switch  int // Devices: an analogue switch that the level controls; -1 where the net itself is driven
	Output  bool
	Stages  []int // that it can move
	supply  int   // node of the chips' positive supply, 0 for none
	low     source
	high    source
	nominal float64 // volts of the supply that high was said for
}

type source struct{ volts, ohms, sigma float64 }

// Load is a chip of the logic on its supply.
type Load struct {
	Part        int
	High, Low   int // circuit nets of its supply pins
	Works, Dead float64
	device      int
}

// split shares a board out; nil when it has no logic or the logic is not joined with what is solved here.
func (b *mapper) split() *Split {
	c := b.m.C
	scratch := &mapper{m: &Model{C: c, Ground: b.m.Ground, control: b.m.control, node: slices.Repeat([]int{-1}, len(c.Nets))}, models: b.models}
	devices := make([][]Device, len(c.Parts))
	s := &Split{Net: make([]Domain, len(c.Nets)), Mine: make([]bool, len(c.Parts)), Logic: make([]bool, len(c.Parts)), There: make([]bool, len(c.Parts))}
	any := false
	for pi := range c.Parts {
		first := len(scratch.m.Devices)
		scratch.part(pi)
		devices[pi] = scratch.m.Devices[first:]
		s.Logic[pi] = len(devices[pi]) == 0 && isLogic(c, pi)
		any = any || s.Logic[pi]
	}
	if !any {
		return nil
	}
	x := splitter{s: s, c: c, devices: devices, stage: make([]int, len(c.Nets))}
	x.nets()
	for n := range x.stage {
		s.Stage = append(s.Stage, x.find(n))
	}
	x.judge()
	x.owners()
	return s
}

// isLogic tells a chip whose inside the logic simulates.
func isLogic(c *circuit.Circuit, pi int) bool {
	p := &c.Parts[pi]
	if len(p.Stores)+len(p.Memory) > 0 {
		return true
	}
	for _, d := range p.Drivers {
		if c.Drivers[d].Stmt != nil {
			return true
		}
	}
	return slices.ContainsFunc(p.Links, func(l int) bool { return c.Links[l].Kind == circuit.Switch })
}

type splitter struct {
	s       *Split
	c       *circuit.Circuit
	devices [][]Device
	stage   []int // net → a net that stands for its stage, by union
}

func (x *splitter) find(n int) int {
	for x.stage[n] != n {
		n = x.stage[n]
	}
	return n
}

// driven tells a net that a chip of the logic or the outside drives.
func (x *splitter) driven(n int) bool {
	if x.c.Nets[n].Input != circuit.None {
		return true
	}
	return slices.ContainsFunc(x.c.Nets[n].Drivers, func(d int) bool { return x.s.Logic[x.c.Drivers[d].Part] })
}

// between are the nets of a device that belong to stages.
func (x *splitter) between(d Device) []int {
	var out []int
	for _, p := range d.Pins {
		if p == circuit.None {
			continue
		}
		if n := x.c.Pins[p].Net; !x.c.Nets[n].Rail && !x.driven(n) {
			out = append(out, n)
		}
	}
	return out
}

func (x *splitter) nets() {
	for n := range x.stage {
		x.stage[n] = n
	}
	join := func(list []int) {
		for _, n := range list[min(1, len(list)):] {
			a, b := x.find(list[0]), x.find(n)
			x.stage[max(a, b)] = min(a, b)
		}
	}
	for pi := range x.devices {
		for _, d := range x.devices[pi] {
			join(x.between(d))
		}
		for _, l := range x.c.Parts[pi].Links {
			if x.c.Links[l].Kind == circuit.Switch {
				a, b := outerEnds(x.c, l)
				join(x.between(Device{Pins: []int{a, b}}))
			}
		}
	}
}

// outerEnds are the pins at the two ends of a link, also where they reach it through an inside net.
func outerEnds(c *circuit.Circuit, l int) (a, b int) {
	at := func(net, pin int) int {
		if pin != circuit.None {
			return pin
		}
		for _, p := range c.Parts[c.Links[l].Part].Pins {
			if c.Pins[p].Inside == net {
				return p
			}
		}
		return circuit.None
	}
	return at(c.Links[l].A, c.Links[l].PinA), at(c.Links[l].B, c.Links[l].PinB)
}

// character is what a device makes of its stage.
func character(d Device) Domain {
	switch d.Kind {
	case elec.Resistor, elec.Capacitor, elec.Fuse, elec.Switch, elec.Diode, elec.LED:
		return Logic
	case elec.BJT, elec.Darlington, elec.JFET, elec.MOSFET:
		return Switched
	}
	return Solved
}

// touched tells the stages that a chip, the outside or an action has to do with.
func (x *splitter) touched() map[int]bool {
	out := map[int]bool{}
	for pi := range x.c.Parts {
		near := x.s.Logic[pi] || len(x.devices[pi]) == 0 || slices.ContainsFunc(x.c.Parts[pi].Links, func(l int) bool { return x.c.Links[l].Kind == circuit.Contact1 })
		for _, p := range x.c.Parts[pi].Pins {
			near = near || x.driven(x.c.Pins[p].Net)
		}
		if !near {
			continue
		}
		for _, p := range x.c.Parts[pi].Pins {
			if n := x.c.Pins[p].Net; !x.c.Nets[n].Rail && !x.driven(n) {
				out[x.find(n)] = true
			}
		}
	}
	return out
}

func (x *splitter) judge() {
	is := map[int]Domain{}
	for pi := range x.devices {
		for _, d := range x.devices[pi] {
			for _, n := range x.between(d) {
				is[x.find(n)] = max(is[x.find(n)], character(d))
			}
		}
	}
	touched := x.touched()
	for n := range x.stage { // a stage that no chip has to do with: an indicator on a supply
		if r := x.find(n); is[r] == Logic && !touched[r] && !x.c.Nets[n].Rail && !x.driven(n) && len(x.c.Nets[n].Pins) > 0 {
			is[r] = Solved
		}
	}
	if a := x.c.Board.Analog; a != nil { // what is fed from outside is no level
		for _, src := range a.Sources {
			for _, name := range []string{src.Plus, src.Minus} {
				if n, ok := x.c.Net(name); ok && !x.c.Nets[n].Rail && !x.driven(n) {
					is[x.find(n)] = Solved
				}
			}
		}
	}
	for pi := range x.c.Parts { // nor is what chips run on
		for _, p := range x.c.Parts[pi].Pins {
			if n := x.c.Pins[p].Net; x.c.Pins[p].Supply && !x.c.Nets[n].Rail && !x.driven(n) {
				is[x.find(n)] = Solved
			}
		}
	}
	for n := range x.s.Net {
		switch {
		case x.c.Nets[n].Rail:
			x.s.Net[n] = Rail
		case !x.driven(n):
			x.s.Net[n] = is[x.find(n)]
		}
	}
}

// owners decides about parts, and which driven nets are shared.
func (x *splitter) owners() {
	s, c := x.s, x.c
	shared := func(d Device) {
		for _, p := range d.Pins {
			if p != circuit.None && x.driven(c.Pins[p].Net) {
				s.Net[c.Pins[p].Net] = Shared
			}
		}
	}
	for pi := range x.devices {
		for _, d := range x.devices[pi] {
			in := x.between(d)
			rails := len(in) == 0 && !slices.ContainsFunc(d.Pins, func(p int) bool { return p != circuit.None && !c.Nets[c.Pins[p].Net].Rail })
			if rails || character(d) != Logic || slices.ContainsFunc(in, func(n int) bool { return s.Net[n] >= Switched }) {
				s.Mine[pi] = true
				shared(d)
			}
		}
		for _, l := range c.Parts[pi].Links { // an analogue switch between a level and what is solved
			if c.Links[l].Kind == circuit.Switch {
				a, b := outerEnds(c, l)
				d := Device{Pins: []int{a, b}}
				if slices.ContainsFunc(x.between(d), func(n int) bool { return s.Net[n] >= Switched }) {
					s.There[pi] = true
					shared(d)
				}
			}
		}
	}
	for pi := range x.devices { // what else hangs on a shared net counts for its volts
		for _, d := range x.devices[pi] {
			s.There[pi] = s.There[pi] || s.Mine[pi] || slices.ContainsFunc(d.Pins, func(p int) bool { return p != circuit.None && s.Net[c.Pins[p].Net] == Shared })
		}
	}
}

// heard tells a net that a chip of the logic listens to.
func (s *Split) heard(c *circuit.Circuit, n int) bool {
	return slices.ContainsFunc(c.Nets[n].Pins, func(p int) bool { return s.Logic[c.Pins[p].Part] && c.Pins[p].Use&(part.Heard|part.Linked) != 0 })
}

// Here tells whether a net is solved.
func (s *Split) Here(n int) bool { return s.Net[n] != Logic }

// bridgeIsMine tells whether a bridge between two nets is the analogue half's.
func (s *Split) bridgeIsMine(a, b int) bool {
	if !s.Here(a) || !s.Here(b) {
		return false
	}
	return s.Net[a] >= Switched || s.Net[b] >= Switched || s.Net[a] == Rail && s.Net[b] == Rail
}
