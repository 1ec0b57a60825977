package joint

import (
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
)

// Stages of transistors, lamps and resistors that the logic follows as switches: there an analogue fault is, for the logic, the fault that its own
// simulation has for the same thing.

// asSwitch is what the logic notices of a fault in a switched stage; nil for one that only a meter shows, or that sits elsewhere.
func (b *Board) asSwitch(f analog.Fault, w analog.Way) []circuit.Force {
	s := b.A.Split
	switch f.Kind {
	case analog.NetShort:
		if s.Net[f.A] == analog.Switched {
			return []circuit.Force{{Do: circuit.Holds0, Index: f.A}}
		}
		return nil
	case analog.Bridge:
		return b.bridged(f.A, f.B)
	}
	if f.Device < 0 || !b.isSwitched(b.A.Devices[f.Device]) {
		return nil
	}
	d := b.A.Devices[f.Device]
	link, lamp := b.element(d)
	if f.Kind == analog.JointOpen {
		return []circuit.Force{{Do: circuit.Detaches, Index: d.Pins[f.Pin]}}
	}
	if d.Kind == elec.Capacitor {
		return b.capacitor(d, f, w)
	}
	if link == circuit.None {
		return nil
	}
	do := func(k circuit.ForceKind) []circuit.Force {
		out := []circuit.Force{{Do: k, Index: link}}
		if k == circuit.Cuts && lamp != circuit.None {
			out = append(out, circuit.Force{Do: circuit.Darkens, Index: lamp})
		}
		return out
	}
	switch f.Kind {
	case analog.Open, analog.FuseBlown, analog.JunctionOpen, analog.Reversed:
		return do(circuit.Cuts)
	case analog.Short:
		return do(circuit.Closes)
	case analog.JunctionShort:
		switch {
		case f.Pin == 0 && f.PinB == 2: // collector and emitter
			return do(circuit.Closes)
		case f.Pin == 1 && f.PinB == 2: // base and emitter
			return do(circuit.Cuts)
		}
		return do(circuit.Doubts)
	case analog.LowGain, analog.Drifted, analog.WrongPart:
		if v := factor(w); v > 0 && v <= 0.1 || v >= 3 {
			return do(circuit.Doubts)
		}
	case analog.Leaky:
		if len(w.Patch.Bridges) > 0 && w.Patch.Bridges[0].Ohms < 1e3 && d.Kind != elec.LED {
			return do(circuit.Doubts)
		}
	}
	return nil
}

// factor is by what a value is multiplied; 0 for a fault of another sort.
func factor(w analog.Way) float64 {
	for _, ch := range w.Patch.Changes {
		if ch.Do == elec.Scale {
			return ch.Value
		}
	}
	return 0
}

// element is the link of a device that is the only one in its part, and its lamp.
func (b *Board) element(d analog.Device) (link, lamp int) {
	link, lamp = circuit.None, circuit.None
	for _, l := range b.C.Parts[d.Part].Links {
		if b.C.Links[l].Kind == circuit.Joint {
			continue
		}
		if link != circuit.None {
			return circuit.None, circuit.None
		}
		link, lamp = l, b.C.Links[l].Lamp
	}
	return link, lamp
}

// capacitor is one that is shorted, or leaks so much that a level cannot stand on it.
func (b *Board) capacitor(d analog.Device, f analog.Fault, w analog.Way) []circuit.Force {
	if f.Kind != analog.Short && !(f.Kind == analog.Leaky && len(w.Patch.Bridges) > 0 && w.Patch.Bridges[0].Ohms < 100) {
		return nil
	}
	if d.Pins[0] == circuit.None || d.Pins[1] == circuit.None {
		return nil
	}
	return b.bridged(b.C.Pins[d.Pins[0]].Net, b.C.Pins[d.Pins[1]].Net)
}

// bridged joins two nets for the logic, as far as it simulates them; what is solved it is told.
func (b *Board) bridged(x, y int) []circuit.Force {
	s := b.A.Split
	if s.Net[x] == analog.Solved || s.Net[y] == analog.Solved {
		return nil
	}
	for _, e := range [][2]int{{x, y}, {y, x}} {
		if s.Net[e[0]] != analog.Rail {
			continue
		}
		if s.Net[e[1]] == analog.Rail { // both are supplies
			return nil
		}
		if b.C.Nets[e[0]].High {
			return []circuit.Force{{Do: circuit.Holds1, Index: e[1]}}
		}
		return []circuit.Force{{Do: circuit.Holds0, Index: e[1]}}
	}
	return []circuit.Force{{Do: circuit.Joins, Index: min(x, y), With: max(x, y)}}
}
