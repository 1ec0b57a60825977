package fault

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/sim"
)

// Other is the kind of a fault of an analogue half: A counts Circuit.Others, B how many severities it has. Files and people know it under the name
// that its own half gives it, see Word.
const Other Kind = "other"

// OtherFault is a fault of the analogue half.
func OtherFault(c *circuit.Circuit, i int) Fault {
	return Fault{Kind: Other, A: i, B: len(c.Others[i].Ways)}
}

// Word is the kind as files and JSON write it.
func (f Fault) Word(c *circuit.Circuit) string {
	if f.Kind == Other {
		return c.Others[f.A].Kind
	}
	return string(f.Kind)
}

// TextOf is Text with what the mode adds: for people.
func (f Fault) TextOf(c *circuit.Circuit, mode int) string {
	if f.Kind == Other && mode < len(c.Others[f.A].Ways) {
		return c.Others[f.A].Ways[mode].Detail
	}
	return f.Text(c)
}

// Joint tells whether resoldering or reseating is what ends the fault, and at which pin; a pin of None means any of the part.
func (f Fault) Joint(c *circuit.Circuit) (pin int, ok bool) {
	switch {
	case f.Kind == JointOpen:
		return f.A, true
	case f.Kind == Other && c.Others[f.A].Pin != circuit.None:
		return c.Others[f.A].Pin, true
	}
	return circuit.None, false
}

// Between gives the two nets of a bridge.
func (f Fault) Between(c *circuit.Circuit) (a, b int, ok bool) {
	switch {
	case f.Kind == Bridge:
		return f.A, f.B, true
	case f.Kind == Other && c.Others[f.A].Net2 != circuit.None:
		return c.Others[f.A].Net, c.Others[f.A].Net2, true
	}
	return circuit.None, circuit.None, false
}

// Forced lists the inputs that an analogue fault decides otherwise than a sound half does.
func (f Fault) Forced(c *circuit.Circuit, mode int) []int {
	if f.Kind != Other {
		return nil
	}
	var out []int
	for _, x := range c.Others[f.A].Ways[mode].Forces {
		if x.Do <= circuit.DrivesX {
			out = append(out, x.Index)
		}
	}
	return out
}

// Touched lists the nets at which the logic notices a fault of the analogue half first, each once.
func (f Fault) Touched(c *circuit.Circuit, mode int) []int {
	var out []int
	add := func(n int) {
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for _, x := range c.Others[f.A].Ways[mode].Forces {
		switch x.Do {
		case circuit.Drives0, circuit.Drives1, circuit.DrivesX:
			add(c.Inputs[x.Index].Net)
		case circuit.Unpowered, circuit.Ailing:
			for _, d := range c.Parts[x.Index].Drivers {
				add(c.Pins[c.Drivers[d].Pin].Net)
			}
		case circuit.Holds0, circuit.Holds1:
			add(x.Index)
		case circuit.Cuts, circuit.Closes, circuit.Doubts:
			add(c.Links[x.Index].A)
			add(c.Links[x.Index].B)
		case circuit.Darkens:
			add(c.Lamps[x.Index].A)
		case circuit.Detaches, circuit.Silences, circuit.Drives0There, circuit.Drives1There, circuit.DrivesXThere:
			add(c.Pins[x.Index].Net)
		case circuit.Joins:
			add(x.Index)
			add(x.With)
		}
	}
	return out
}

// ForcePatches are the changes that a force makes.
func ForcePatches(c *circuit.Circuit, x circuit.Force, lanes uint64) []sim.Patch {
	one := func(k sim.PatchKind) []sim.Patch {
		return []sim.Patch{{Kind: k, Index: x.Index, Other: x.With, Lanes: lanes}}
	}
	switch x.Do {
	case circuit.Drives0:
		return one(sim.SrcLow)
	case circuit.Drives1:
		return one(sim.SrcHigh)
	case circuit.Unpowered:
		return wholePart(c, x.Index, sim.OutOpen, lanes)
	case circuit.Ailing:
		return wholePart(c, x.Index, sim.OutUnknown, lanes)
	case circuit.Holds0:
		return one(sim.NetLow)
	case circuit.Holds1:
		return one(sim.NetHigh)
	case circuit.Cuts:
		return one(sim.LinkOpen)
	case circuit.Closes:
		return one(sim.LinkShort)
	case circuit.Doubts:
		return one(sim.LinkMaybe)
	case circuit.Darkens:
		return one(sim.Dark)
	case circuit.Detaches:
		return one(sim.JointOpen)
	case circuit.Joins:
		return one(sim.Bridge)
	case circuit.Silences:
		return one(sim.OutOpen)
	case circuit.Drives0There:
		return one(sim.OutLow)
	case circuit.Drives1There:
		return one(sim.OutHigh)
	case circuit.DrivesXThere:
		return one(sim.OutUnknown)
	}
	return nil // DrivesX: the input is left unknown
}

func (f Fault) otherPatches(c *circuit.Circuit, mode int, lanes uint64) []sim.Patch {
	var ps []sim.Patch
	for _, x := range c.Others[f.A].Ways[mode].Forces {
		ps = append(ps, ForcePatches(c, x, lanes)...)
	}
	return ps
}
