package diagnose

import (
	"cmp"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
)

// Which faults are simulated side by side. 64 boards cost little more than the one among them with the most to compute, and share what
// they have in common: so faults that move the same net go together, and so do those that stay inside one part. The order is seen nowhere else.

// lanes gives the ways in the order in which they are laid out.
func (g *Ground) lanes() []int {
	c := g.M.C
	type place struct{ inside, at, by int }
	where := make([]place, len(g.ways))
	for i, w := range g.ways {
		f := g.Faults[w.fault]
		switch net := moved(c, f); {
		case net != circuit.None:
			where[i] = place{0, net, 0}
		case f.Kind == fault.InputOpen || f.Kind == fault.JointOpen:
			where[i] = place{1, f.Part(c), c.Pins[f.A].Net}
		default:
			where[i] = place{1, f.Part(c), circuit.None}
		}
	}
	out := make([]int, len(g.ways))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int {
		x, y := where[a], where[b]
		return cmp.Or(cmp.Compare(x.inside, y.inside), cmp.Compare(x.at, y.at), cmp.Compare(x.by, y.by))
	})
	return out
}

// moved is the net that a fault holds or lets go for all who listen to it; None where only the inside of a part notices, or nobody. Of two
// bridged nets it is the one with more pins.
func moved(c *circuit.Circuit, f fault.Fault) int {
	switch f.Kind {
	case fault.InputOpen:
		return circuit.None
	case fault.JointOpen:
		if c.Pins[f.A].Driver == circuit.None {
			return circuit.None
		}
	case fault.Bridge:
		if len(c.Nets[f.B].Pins) > len(c.Nets[f.A].Pins) {
			return f.B
		}
		return f.A
	case fault.Open, fault.Short, fault.Value:
		l := &c.Links[f.A]
		if c.Nets[l.A].Rail {
			return l.B
		}
		return l.A
	}
	return f.Net(c)
}
