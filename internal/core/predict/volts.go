package predict

import (
	"math"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
)

// What a meter shows at a place, as a mixture of bell curves: one for each way the level can have come about.
// Sources: level bands built on Fairchild DS006613 (74), TI SDLS025B (LS), Fairchild MM74HC02 (HC), National
// TL/F/5939 (4000B) and, for open inputs, a service periodical of 1996; fight levels are derived there and no data sheet states them.
// Spreads are estimates.

// Bell is one way: mean and spread in volts, and its weight.
type Bell struct{ Mean, SD, Weight float64 }

// Bells is a mixture; weights add up to 1. Empty means that nothing is known: any voltage is as likely.
type Bells []Bell

// background is the density of a slip or of the unknown: even over what a 5 V board can show.
const background = 1 / 6.5

// Density is the probability density at v volts, the meter's own spread (0.5 % and 10 mV) included.
func (b Bells) Density(v float64) float64 {
	if len(b) == 0 {
		return background
	}
	d := 0.0
	meter := 0.01 + 0.005*math.Abs(v)
	for _, x := range b {
		s := math.Hypot(x.SD, meter)
		z := (v - x.Mean) / s
		d += x.Weight * math.Exp(-z*z/2) / (s * math.Sqrt(2*math.Pi))
	}
	return d
}

// Band is a range of voltages that a person would call one reading.
type Band struct {
	To   float64 // upper end in volts; the lower is the one before
	Text string
}

// VoltBands are the bands in rising order.
var VoltBands = [...]Band{{0.08, "below 0.08 V"}, {0.6, "0.08 to 0.6 V"}, {1.2, "0.6 to 1.2 V"}, {1.9, "1.2 to 1.9 V"}, {2.7, "1.9 to 2.7 V"},
	{4.2, "2.7 to 4.2 V"}, {4.93, "4.2 to 4.93 V"}, {math.Inf(1), "above 4.93 V"}}

// InBands is the probability of each band.
func (b Bells) InBands() [len(VoltBands)]float64 {
	var out [len(VoltBands)]float64
	if len(b) == 0 {
		for i := range out {
			out[i] = 1 / float64(len(out))
		}
		return out
	}
	for _, x := range b {
		s := math.Hypot(x.SD, 0.015)
		last := 0.0
		for i, band := range VoltBands {
			c := 0.5 * (1 + math.Erf((band.To-x.Mean)/(s*math.Sqrt2)))
			out[i] += x.Weight * (c - last)
			last = c
		}
	}
	return out
}

// Volter is what a place brings to a voltage, whatever the hypothesis: the family on its net, its supply, what hangs on it.
type Volter struct {
	lv      part.Levels
	listens bool // a bipolar input pulls an open net up
	soft    bool
	top     float64
}

// Volter looks a place up once for many lanes.
func (m *Model) Volter(p circuit.Place) Volter {
	n := &m.C.Nets[p.Net]
	return Volter{netFamily(m.C, n).Levels(), listens(m.C, n), Soft(m.C, p.Net), supplyOf(m.C, p.Net)}
}

// Volts is what the meter shows at a place in one lane of a batch that was asked for volts.
func (s *Shown) Volts(hyp []Way, p circuit.Place, lane int) Bells {
	return s.VoltsWith(s.m.Volter(p), hyp, p, lane)
}

// VoltsWith is Volts with the place looked up.
func (s *Shown) VoltsWith(m Volter, hyp []Way, p circuit.Place, lane int) Bells {
	if p.Pin != circuit.None && s.c.Nets[p.Net].Rail {
		return s.m.SupplyVolts(hyp, p.Pin)
	}
	v, layers := s.End(p)
	strength := len(layers)
	for i, l := range layers {
		if l>>lane&1 == 1 {
			strength = i
			break
		}
	}
	switch v.Sign(lane) {
	case 'X':
		return nil
	case 'Z':
		if m.listens && m.lv.OpenIn > 0 {
			return Bells{{m.lv.OpenIn, 0.15, 1}}
		}
		return Bells{{0, 0.1, 0.7}, {1.2, 1, 0.3}} // a 10 MΩ meter drags an open CMOS node down
	case 'F':
		return Bells{{m.lv.FightLow, 0.15, 0.8}, {1.5, 1, 0.2}}
	case '0':
		return lowBells(s.c, hyp, p, m.lv, strength)
	}
	return highBells(s.c, hyp, p, m, strength)
}

// netFamily is the family that sets a net's levels: of the outputs on it, or of who listens.
func netFamily(c *circuit.Circuit, n *circuit.Net) part.Family {
	for _, d := range n.Drivers {
		if f := c.Parts[c.Drivers[d].Part].Family; f != "" {
			return f
		}
	}
	for _, q := range n.Pins {
		if f := c.Parts[c.Pins[q].Part].Family; f != "" {
			return f
		}
	}
	return "LS"
}

func listens(c *circuit.Circuit, n *circuit.Net) bool {
	for _, q := range n.Pins {
		if c.Pins[q].Use&part.Heard != 0 && c.Parts[c.Pins[q].Part].Family.Bipolar() {
			return true
		}
	}
	return false
}

func lowBells(c *circuit.Circuit, hyp []Way, p circuit.Place, lv part.Levels, strength int) Bells {
	switch strength {
	case 0:
		for _, w := range hyp {
			if w.F.Kind == fault.InputLow && w.F.Net(c) == p.Net {
				return Bells{{0.10, 0.06, 1}} // a few ohms in the part carry the driver's short-circuit current
			}
		}
		return Bells{{0.01, 0.02, 1}}
	case 2:
		return Bells{{0.15, 0.15, 0.6}, {0.5, 0.3, 0.4}}
	case 3:
		return Bells{{1.7, 0.4, 1}}
	}
	for _, w := range hyp {
		if w.F.Kind == fault.OutputLow && w.F.Net(c) == p.Net {
			return Bells{{lv.VOLTyp, 0.09, 0.6}, {0.06, 0.05, 0.4}} // stuck driver: a working low, or a burnt transistor
		}
	}
	return Bells{{lv.VOLTyp, max(0.02, 0.35*lv.VOLTyp), 1}}
}

func highBells(c *circuit.Circuit, hyp []Way, p circuit.Place, m Volter, strength int) Bells {
	lv, top := m.lv, m.top
	switch strength {
	case 0:
		for _, w := range hyp {
			if w.F.Kind == fault.InputHigh && w.F.Net(c) == p.Net {
				return Bells{{top - 0.1, 0.08, 1}}
			}
		}
		return Bells{{top, 0.03, 1}}
	case 2:
		if m.soft {
			return Bells{{1.8, 0.3, 0.5}, {0.7, 0.05, 0.3}, {top - 0.15, 0.2, 0.2}}
		}
		return Bells{{top - 0.15, 0.15, 1}}
	case 3:
		return Bells{{top - 1.7, 0.4, 1}}
	}
	if m.soft {
		return Bells{{min(lv.VOHTyp, top), 0.35, 0.7}, {2, 0.6, 0.3}}
	}
	return Bells{{min(lv.VOHTyp, top), max(0.05, 0.1*(top-lv.VOHTyp+0.5)), 0.85}, {top - 0.1, 0.1, 0.15}}
}

// Soft reports whether a diode junction hangs on the net and pulls a high down: an indicator's anode, a transistor's base.
func Soft(c *circuit.Circuit, net int) bool {
	for _, l := range c.Links {
		if (l.Kind == circuit.Faint && l.A == net) || (l.Kind == circuit.Transistor && l.Ctl == net) {
			return true
		}
	}
	return false
}

// supplyOf is the positive supply of the parts on a net, 5 V when none says.
func supplyOf(c *circuit.Circuit, net int) float64 {
	top := 0.0
	for _, l := range c.Nets[net].Links { // what a load or pull-up hangs on
		for _, e := range []int{c.Links[l].A, c.Links[l].B} {
			if c.Nets[e].Rail && c.Nets[e].Volts > top {
				top = c.Nets[e].Volts
			}
		}
	}
	if top > 0 {
		return top
	}
	for _, q := range c.Nets[net].Pins {
		for _, id := range c.Parts[c.Pins[q].Part].Pins {
			if c.Pins[id].Supply {
				top = max(top, c.Nets[c.Pins[id].Net].Volts)
			}
		}
	}
	if top == 0 {
		return 5
	}
	return top
}

// SupplyVolts is what the meter shows at a supply pin of a part: the rail, or what little gets there when the supply is lost.
func (m *Model) SupplyVolts(hyp []Way, pin int) Bells {
	q := m.C.Pins[pin]
	for _, w := range hyp {
		if w.F.Kind == fault.NoSupply && w.F.A == q.Part || w.F.Kind == fault.JointOpen && w.F.A == pin {
			return Bells{{0.5, 0.6, 0.7}, {2.2, 1, 0.3}} // fed backwards through its inputs
		}
	}
	return Bells{{m.C.Nets[q.Net].Volts, 0.05, 1}}
}
