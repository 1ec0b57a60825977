package joint

import (
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/part"
)

// What the logic notices of the analogue half: how nets are heard, which lamps are lit, which chips and pull-ups have a supply.

// tap is a place where the logic hears the analogue half: a net, or a lamp of its own (nodes of its two ends).
type tap struct {
	net, lamp int // circuit.None where it is the other
	a, k      int // nodes of a lamp
	vil, vih  float64
	stage     int    // see Split.Stage
	from      []int  // shares that it moves with; nil for one that stands still
	table     []byte // of the sound board, over from
	seat      int    // the logic's input, or its pin where it moves
}

// States of a tap and of a supply.
const (
	unknown = 'x'
	heard0  = '0'
	heard1  = '1'
	works   = '+'
	ailing  = '~'
	dead    = '-'
)

// image is how the logic finds the analogue half.
type image struct {
	taps  []byte
	loads []byte // in the order of Split.Loads
	rails []byte // in the order of Model.Rails
}

// litVolts and darkVolts are across a red LED at half a milliampere and at 20 µA (common practice, no source).
const (
	litVolts  = 1.5
	darkVolts = 1.38
)

// A rail below the one share of its volts pulls nothing up; above the other, as it should (estimates).
const (
	goneBelow = 0.3
	fullAbove = 0.7
)

func levelForce(state byte) circuit.ForceKind {
	switch state {
	case heard0:
		return circuit.Drives0
	case heard1:
		return circuit.Drives1
	}
	return circuit.DrivesX
}

// findTaps lists the taps: nets first, then lamps. quiet are links of the analogue half that would pass levels between taps.
func (b *Board) findTaps(c *circuit.Circuit) (quiet []int) {
	s := b.A.Split
	for n := range c.Nets {
		if s.Net[n] == analog.Solved && b.A.Node(n) >= 0 && !c.Nets[n].Hidden {
			t := tap{net: n, lamp: circuit.None, stage: s.Stage[n]}
			t.vil, t.vih = b.thresholds(c, n)
			b.taps = append(b.taps, t)
		}
	}
	for i, l := range c.Links {
		ends := []int{l.A, l.B, l.Ctl, l.Ctl2}
		if slices.ContainsFunc(ends, func(n int) bool { return n != circuit.None && b.outerSolved(c, l.Part, n) }) && (s.Mine[l.Part] || l.Kind == circuit.Switch) && l.Kind != circuit.Joint {
			quiet = append(quiet, i)
		}
	}
	for _, d := range b.A.Devices {
		if d.Kind != elec.LED || d.Part == circuit.None || !s.Mine[d.Part] || b.isSwitchedIn(c, d) || d.Pins[0] == circuit.None || d.Pins[1] == circuit.None {
			continue
		}
		for _, l := range c.Parts[d.Part].Lamps {
			n := c.Pins[d.Pins[0]].Net
			if s.Net[n] != analog.Solved {
				n = c.Pins[d.Pins[1]].Net
			}
			b.taps = append(b.taps, tap{net: circuit.None, lamp: l, a: b.A.Node(c.Pins[d.Pins[0]].Net), k: b.A.Node(c.Pins[d.Pins[1]].Net), stage: s.Stage[n]})
		}
	}
	return quiet
}

// outerSolved tells whether an end of a link is, or leads to, a solved net.
func (b *Board) outerSolved(c *circuit.Circuit, pi, n int) bool {
	if b.A.Split.Net[n] == analog.Solved {
		return true
	}
	return c.Nets[n].Hidden && slices.ContainsFunc(c.Parts[pi].Pins, func(p int) bool { return c.Pins[p].Inside == n && b.A.Split.Net[c.Pins[p].Net] == analog.Solved })
}

// isSwitchedIn tells whether one of a lamp's ends is a switched stage, or a level, and none is solved.
func (b *Board) isSwitchedIn(c *circuit.Circuit, d analog.Device) bool {
	in := false
	for _, p := range d.Pins {
		switch n := b.A.Split.Net[c.Pins[p].Net]; n {
		case analog.Solved:
			return false
		case analog.Switched, analog.Shared, analog.Logic:
			in = true
		}
	}
	return in
}

// thresholds are the levels of who listens on a net; of a logic probe set for TTL where nobody does.
func (b *Board) thresholds(c *circuit.Circuit, n int) (vil, vih float64) {
	vil, vih = 0.8, 2.0
	first := true
	for _, q := range c.Nets[n].Pins {
		p := &c.Parts[c.Pins[q].Part]
		if !b.A.Split.Logic[c.Pins[q].Part] || c.Pins[q].Use&part.Heard == 0 {
			continue
		}
		supply := 5.0
		for _, l := range b.A.Split.Loads {
			if l.Part == c.Pins[q].Part && c.Nets[l.High].Rail {
				supply = c.Nets[l.High].Volts
			}
		}
		l, ok := p.Family.Limits(supply)
		if !ok || l.VIH == 0 {
			continue
		}
		if first {
			vil, vih, first = l.VIL, l.VIH, false
		}
		vil, vih = min(vil, l.VIL), max(vih, l.VIH)
	}
	return vil, vih
}

// image reads a solved board; taps of one without an answer are unknown.
func (b *Board) image(w analog.World) image {
	im := image{taps: slices.Repeat([]byte{unknown}, len(b.taps))}
	if !w.Known() {
		return im
	}
	for i, t := range b.taps {
		if t.lamp != circuit.None {
			switch v := w.Across(t.a, t.k); {
			case v >= litVolts:
				im.taps[i] = heard1
			case v <= darkVolts:
				im.taps[i] = heard0
			}
			continue
		}
		low, high := w.Range(b.A.Node(t.net))
		switch {
		case high < t.vil:
			im.taps[i] = heard0
		case low > t.vih:
			im.taps[i] = heard1
		}
	}
	for _, l := range b.A.Split.Loads {
		v := w.Across(b.A.Node(l.High), b.A.Node(l.Low))
		state := byte(works)
		switch {
		case v < l.Dead:
			state = dead
		case v < l.Works:
			state = ailing
		}
		im.loads = append(im.loads, state)
	}
	for _, n := range b.A.Rails() {
		state := byte(works)
		if r := &b.C.Nets[n]; r.Rail && r.High {
			switch v := w.Across(b.A.Node(n), 0) / r.Volts; {
			case v < goneBelow:
				state = dead
			case v < fullAbove:
				state = ailing
			}
		}
		im.rails = append(im.rails, state)
	}
	return im
}

// forces are what the logic notices of a hypothesis against the sound board.
func (b *Board) forces(w analog.World, tables map[int][]byte) []circuit.Force {
	var out []circuit.Force
	if !w.Known() {
		for _, t := range b.taps {
			do := circuit.ForceKind(circuit.DrivesX)
			if t.from != nil {
				do = circuit.DrivesXThere
			}
			out = append(out, circuit.Force{Do: do, Index: t.seat})
		}
		return out
	}
	im := b.image(w)
	good := b.rest
	for i, t := range b.taps {
		if t.from != nil {
			if f, ok := t.tableForce(tables[i]); ok {
				out = append(out, f)
			}
		} else if im.taps[i] != good.taps[i] {
			out = append(out, circuit.Force{Do: levelForce(im.taps[i]), Index: t.seat})
		}
	}
	gone := map[int]bool{} // parts
	for i, l := range b.A.Split.Loads {
		if good.loads[i] != works {
			continue
		}
		switch im.loads[i] {
		case dead:
			gone[l.Part] = true
		case ailing:
			out = append(out, circuit.Force{Do: circuit.Ailing, Index: l.Part})
		}
	}
	held := map[int]bool{}
	for i, l := range b.A.Split.Loads {
		if gone[l.Part] && im.loads[i] == dead {
			out = append(out, b.withoutSupply(l.Part, gone, held)...)
		}
	}
	for i, n := range b.A.Rails() {
		switch {
		case good.rails[i] != works:
		case im.rails[i] == dead:
			out = append(out, b.withoutRail(n, gone, held)...)
		case im.rails[i] == ailing:
			for _, l := range b.pulls[n] {
				out = append(out, circuit.Force{Do: circuit.Doubts, Index: l})
			}
		}
	}
	return out
}

// withoutSupply is what a chip without supply leaves: its outputs drive nothing, and what nobody else drives lies at ground.
func (b *Board) withoutSupply(pi int, gone, held map[int]bool) []circuit.Force {
	out := []circuit.Force{{Do: circuit.Unpowered, Index: pi}}
	for _, d := range b.C.Parts[pi].Drivers {
		n := b.C.Pins[b.C.Drivers[d].Pin].Net
		if !held[n] && b.orphan(n, gone) {
			held[n] = true
			out = append(out, circuit.Force{Do: circuit.Holds0, Index: n})
		}
	}
	return out
}

// orphan tells a net that nothing with a supply drives.
func (b *Board) orphan(n int, gone map[int]bool) bool {
	x := &b.C.Nets[n]
	if x.Rail || x.Input != circuit.None {
		return false
	}
	return !slices.ContainsFunc(x.Drivers, func(d int) bool { return !gone[b.C.Drivers[d].Part] })
}

// withoutRail is what a rail that is gone leaves: what it pulled up lies at ground, lamps on it are dark.
func (b *Board) withoutRail(rail int, gone, held map[int]bool) []circuit.Force {
	var out []circuit.Force
	for _, l := range b.pulls[rail] {
		n := b.C.Links[l].A + b.C.Links[l].B - rail
		if !held[n] && b.orphan(n, gone) {
			held[n] = true
			out = append(out, circuit.Force{Do: circuit.Holds0, Index: n})
		}
	}
	for i, l := range b.C.Lamps {
		if l.A == rail || l.Both && l.K == rail {
			out = append(out, circuit.Force{Do: circuit.Darkens, Index: i})
		}
	}
	return out
}

// findPulls notes through which links each rail pulls nets up.
func (b *Board) findPulls() {
	b.pulls = map[int][]int{}
	for i, l := range b.C.Links {
		if l.Kind != circuit.Resistor {
			continue
		}
		for _, e := range [][2]int{{l.A, l.B}, {l.B, l.A}} {
			if b.C.Nets[e[0]].Rail && !b.C.Nets[e[1]].Rail {
				b.pulls[e[0]] = append(b.pulls[e[0]], i)
			}
		}
	}
}
