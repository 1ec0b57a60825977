package app

import (
	"cmp"
	"context"
	"slices"

	"halfsplit/internal/core/circuit"
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
// with one pin only cannot be rung out and are left out; rails come last, since a break in one shows at once. Nil without a board.
func (d *Desk) ZoneNets(ctx context.Context, id int64) ([]ZoneNet, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	if o.job.Board.Version == 0 || len(o.job.Intake.Zones) == 0 {
		return nil, nil
	}
	l, err := d.loaded(ctx, o.job.Board.Version)
	if err != nil || l.circuit == nil {
		return nil, err
	}
	return zoneNets(l.circuit, o.job.Intake.Zones), nil
}

func zoneNets(c *circuit.Circuit, zones []job.Zone) []ZoneNet {
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
			}
		}
		for _, name := range z.Nets {
			if n, ok := c.Net(name); ok {
				touch(n, z.Kind, "")
			}
		}
	}
	var out []ZoneNet
	for n := range c.Nets { // the board's own order
		if z := found[n]; z != nil {
			out = append(out, *z)
		}
	}
	slices.SortStableFunc(out, func(a, b ZoneNet) int {
		rail := func(z ZoneNet) int {
			if z.Rail {
				return 1
			}
			return 0
		}
		return cmp.Compare(rail(a), rail(b))
	})
	return out
}
