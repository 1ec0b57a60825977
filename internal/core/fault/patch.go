package fault

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/sim"
)

// Modes is how many different ways a kind can show itself; each is simulated in a lane of its own and they share the
// fault's probability. A dead part drives nothing (mode 0), or sits low or high.
func (f Fault) Modes() int {
	switch f.Kind {
	case PartDead:
		return 3
	case Other:
		return f.B
	}
	return 1
}

// ModeWeight is the share of a mode. The split is an estimate: no published figure was found.
func (f Fault) ModeWeight(mode int) float64 {
	if f.Kind == PartDead {
		return [3]float64{0.5, 0.25, 0.25}[mode]
	}
	if f.Kind == Other { // severities are laid out evenly
		return 1 / float64(f.B)
	}
	return 1
}

// Patches are the primitive changes that make the fault, in the given lanes.
func (f Fault) Patches(c *circuit.Circuit, mode int, lanes uint64) []sim.Patch {
	one := func(k sim.PatchKind) []sim.Patch { return []sim.Patch{{Kind: k, Index: f.A, Lanes: lanes}} }
	switch f.Kind {
	case OutputLow:
		return one(sim.OutLow)
	case OutputHigh:
		return one(sim.OutHigh)
	case OutputOpen:
		return one(sim.OutOpen)
	case InputLow:
		return one(sim.InLow)
	case InputHigh:
		return one(sim.InHigh)
	case InputOpen:
		return one(sim.InOpen)
	case JointOpen:
		if c.Pins[f.A].Supply {
			return wholePart(c, c.Pins[f.A].Part, sim.OutOpen, lanes)
		}
		return one(sim.JointOpen)
	case NetLow:
		return one(sim.NetLow)
	case NetHigh:
		return one(sim.NetHigh)
	case Bridge:
		return []sim.Patch{{Kind: sim.Bridge, Index: f.A, Other: f.B, Lanes: lanes}}
	case PartDead:
		return wholePart(c, f.A, [3]sim.PatchKind{sim.OutOpen, sim.OutLow, sim.OutHigh}[mode], lanes)
	case NoSupply:
		return wholePart(c, f.A, sim.OutOpen, lanes)
	case PartErratic:
		return wholePart(c, f.A, sim.OutUnknown, lanes)
	case Open:
		ps := one(sim.LinkOpen)
		if l := c.Links[f.A].Lamp; l != circuit.None {
			ps = append(ps, sim.Patch{Kind: sim.Dark, Index: l, Lanes: lanes})
		}
		return ps
	case Short:
		return one(sim.LinkShort)
	case Value:
		return one(sim.LinkMaybe)
	case SegmentDark:
		return one(sim.Dark)
	case SourceLow:
		return one(sim.SrcLow)
	case SourceHigh:
		return one(sim.SrcHigh)
	}
	if f.Kind == Other {
		return f.otherPatches(c, mode, lanes)
	}
	return one(sim.SrcDead)
}

// wholePart patches every output of a part; its analogue switches open with it.
func wholePart(c *circuit.Circuit, part int, k sim.PatchKind, lanes uint64) []sim.Patch {
	var ps []sim.Patch
	for _, d := range c.Parts[part].Drivers {
		ps = append(ps, sim.Patch{Kind: k, Index: c.Drivers[d].Pin, Lanes: lanes})
	}
	for _, l := range c.Parts[part].Links {
		if c.Links[l].Kind == circuit.Switch {
			lk := sim.LinkOpen
			if k == sim.OutUnknown {
				lk = sim.LinkMaybe
			}
			ps = append(ps, sim.Patch{Kind: lk, Index: l, Lanes: lanes})
		}
	}
	return ps
}
