package app

import (
	"cmp"
	"context"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/job"
)

// ZoneNet is a net that passes through a damaged area, to be rung out: every pin of it against the first.
type ZoneNet struct {
	Net   string
	Rail  bool
	Pins  []string // on the board, by part and pin
	Zones []string // kinds of the areas, in the order of the intake
	Parts []string // of the areas, through which it passes
}

// ZoneNets lists the nets that run through the damaged areas of a job: those that an area names, and those of the parts it names. Nets
// with one pin only cannot be rung out and are left out; rails come last, since a break in one shows at once. Unknown are the names that
// the board does not have. Both nil without a board.
func (d *Desk) ZoneNets(ctx context.Context, id int64) (nets []ZoneNet, unknown []string, err error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	defer o.mu.Unlock()
	if o.job.Board.Version == 0 || len(o.job.Intake.Zones) == 0 {
		return nil, nil, nil
	}
	l, err := d.loaded(ctx, o.job.Board.Version)
	if err != nil || l.circuit == nil {
		return nil, nil, err
	}
	nets, unknown = zoneNets(l.circuit, o.job.Intake.Zones)
	return nets, unknown, nil
}

func zoneNets(c *circuit.Circuit, zones []job.Zone) (nets []ZoneNet, unknown []string) {
	found := map[int]*ZoneNet{}
	touch := func(net int, kind, ref string) {
		n := &c.Nets[net]
		if n.Hidden || len(n.Pins) < 2 {
			return
		}
		z := found[net]
		if z == nil {
			z = &ZoneNet{Net: n.Name, Rail: n.Rail}
			for _, q := range n.Pins {
				z.Pins = append(z.Pins, c.PinName(q))
			}
			found[net] = z
		}
		if !slices.Contains(z.Zones, kind) {
			z.Zones = append(z.Zones, kind)
		}
		if ref != "" && !slices.Contains(z.Parts, ref) {
			z.Parts = append(z.Parts, ref)
		}
	}
	for _, z := range zones {
		for _, ref := range z.Parts {
			if p, ok := c.PartByRef(ref); ok {
				for _, q := range c.Parts[p].Pins {
					touch(c.Pins[q].Net, z.Kind, ref)
				}
			} else if !slices.Contains(unknown, ref) {
				unknown = append(unknown, ref)
			}
		}
		for _, name := range z.Nets {
			if n, ok := c.Net(name); ok {
				touch(n, z.Kind, "")
			} else if !slices.Contains(unknown, name) {
				unknown = append(unknown, name)
			}
		}
	}
	for n := range c.Nets { // the board's own order
		if z := found[n]; z != nil {
			nets = append(nets, *z)
		}
	}
	slices.SortStableFunc(nets, func(a, b ZoneNet) int {
		rail := func(z ZoneNet) int {
			if z.Rail {
				return 1
			}
			return 0
		}
		return cmp.Compare(rail(a), rail(b))
	})
	return nets, unknown
}

// onBoard takes out of a case's damage what the board does not have: the intake is written before the board is known, and a slip there
// must not stop the diagnosis. ZoneNets tells of it.
func onBoard(c *circuit.Circuit, k *evidence.Case) *evidence.Case {
	for i := range k.Damage {
		z := &k.Damage[i]
		z.Parts = slices.DeleteFunc(slices.Clone(z.Parts), func(ref string) bool { _, ok := c.PartByRef(ref); return !ok })
		z.Nets = slices.DeleteFunc(slices.Clone(z.Nets), func(name string) bool { _, ok := c.Net(name); return !ok })
	}
	k.Damage = slices.DeleteFunc(k.Damage, func(z evidence.Zone) bool { return len(z.Parts)+len(z.Nets) == 0 })
	return k
}
