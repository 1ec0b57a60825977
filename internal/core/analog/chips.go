package analog

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/part"
)

// This file puts the chips of the logic into the electrical circuit: what they draw from their supply, what their outputs are behind, what their
// inputs and analogue switches do. How they stand comes from outside, as a sign for each Share in Condition.Drive.

// Signs of Condition.Drive.
const (
	Free      = '-' // driven by nothing, or by what is solved anyway
	OutLow    = 'L' // by an output
	OutHigh   = 'H'
	ShortLow  = 'l' // held by a short in a chip or on the copper
	ShortHigh = 'h'
	Doubtful  = 'x'
)

// Resistances behind outputs and shorts (from memory of the outputs' characteristics in the family data books; shorts: common practice, no source).
const (
	bipolarLow  = 15.0
	bipolarHigh = 110.0
	cmosOhms    = 2000.0 // volts × ohms of a 4000 output: about 400 Ω at 5 V
	fastOhms    = 40.0   // HC, HCT
	shortedOhms = 6.0
)

// current is what a chip draws, in amperes, by family and by size: small, medium and large. Typical figures of the families' data sheets, from memory.
func current(f part.Family, t *part.Type) float64 {
	size := 0
	switch n := len(t.Pins); {
	case t.Prior == "cpu":
		size = 2
	case t.Prior == "lsi" || t.Prior == "memory" || n > 24:
		size = 2
	case t.Prior == "msi" || n > 14:
		size = 1
	}
	ma := [3]float64{3, 14, 30}
	switch f {
	case "74", "ttl", "H":
		ma = [3]float64{12, 40, 60}
	case "S", "AS":
		ma = [3]float64{20, 60, 100}
	case "F":
		ma = [3]float64{10, 35, 60}
	case "ALS":
		ma = [3]float64{2, 8, 20}
	case "L":
		ma = [3]float64{1, 4, 8}
	case "nmos":
		ma = [3]float64{20, 40, 70}
	case "HC", "HCT", "4000", "cmos":
		ma = [3]float64{0.05, 0.1, 1}
	}
	return ma[size] / 1000
}

// chips adds the logic's parts and fills what both halves touch.
func (b *mapper) chips() {
	s, c := b.m.Split, b.m.C
	for pi := range c.Parts {
		if s.Logic[pi] {
			b.load(pi)
			b.switches(pi)
		}
	}
	for n := range c.Nets {
		shared := s.Net[n] == Shared
		if b.m.node[n] < 0 || !shared && !(s.Net[n] == Solved && s.heard(c, n)) {
			continue
		}
		sh := Share{Net: n, Switch: -1, Output: shared}
		f, high := b.familyOn(n)
		volts := 5.0
		if high != circuit.None {
			sh.supply = b.m.node[high]
			if v := c.Nets[high].Volts; v > 0 {
				volts = v
			}
		}
		sh.low, sh.high = asSource(f, volts)
		if sh.supply != 0 { // a high sags with the supply
			sh.nominal = volts
		}
		if shared {
			sh.Stages = b.stagesAt(n)
		}
		s.Shares = append(s.Shares, sh)
	}
	for _, sh := range s.Shares {
		if sh.Switch < 0 {
			b.bipolarInputs(sh.Net)
		}
	}
}

// stagesAt are the solved stages that a driven net can move.
func (b *mapper) stagesAt(n int) []int {
	var out []int
	for i := range b.m.Devices {
		d := &b.m.Devices[i]
		if !slices.ContainsFunc(d.Pins, func(p int) bool { return p != circuit.None && b.m.C.Pins[p].Net == n }) {
			continue
		}
		out = append(out, b.stagesOf(d)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// stagesOf are the solved stages that a device has pins in.
func (b *mapper) stagesOf(d *Device) []int {
	var out []int
	for _, p := range d.Pins {
		if p == circuit.None {
			continue
		}
		if n := b.m.C.Pins[p].Net; b.m.Split.Net[n] == Solved && !slices.Contains(out, b.m.Split.Stage[n]) {
			out = append(out, b.m.Split.Stage[n])
		}
	}
	return out
}

// asSource is what an output of a family at a supply is: volts behind ohms, and the spread of the volts.
func asSource(f part.Family, supply float64) (low, high source) {
	lv := f.Levels()
	switch {
	case f.Bipolar() || f == "nmos":
		return source{lv.VOLTyp, bipolarLow, 0.08}, source{min(lv.VOHTyp, supply-0.8), bipolarHigh, 0.3}
	case f == "4000":
		r := cmosOhms / max(supply, 3)
		return source{0, r, 0.02}, source{supply, r, 0.04}
	case f == "":
		return source{0.1, 50, 0.1}, source{min(4.5, supply), 100, 0.4}
	}
	return source{0, fastOhms, 0.02}, source{supply, fastOhms, 0.04}
}

// familyOn is the family of the chip that drives a net, else of one that listens, with the net of its positive supply.
func (b *mapper) familyOn(n int) (part.Family, int) {
	c := b.m.C
	for _, d := range c.Nets[n].Drivers {
		if p := c.Drivers[d].Part; b.m.Split.Logic[p] {
			high, _ := b.supply(p)
			return c.Parts[p].Family, high
		}
	}
	for _, q := range c.Nets[n].Pins {
		if p := c.Pins[q].Part; b.m.Split.Logic[p] {
			high, _ := b.supply(p)
			return c.Parts[p].Family, high
		}
	}
	return "", circuit.None
}

// supply gives the nets of a chip's highest and lowest supply pins; None where it has none.
func (b *mapper) supply(pi int) (high, low int) {
	c := b.m.C
	high, low = circuit.None, circuit.None
	for _, p := range c.Parts[pi].Pins {
		q := c.Pins[p]
		if !q.Supply || q.Net == circuit.None || c.Nets[q.Net].Hidden {
			continue
		}
		name := c.Parts[pi].Type.Nodes[q.Node].Name
		switch {
		case name == "GND" || name == "VSS" || q.Net == b.m.Ground:
			if low == circuit.None {
				low = q.Net
			}
		case !c.Nets[q.Net].Rail || c.Nets[q.Net].Volts > 0:
			if high == circuit.None || c.Nets[q.Net].Volts > c.Nets[high].Volts {
				high = q.Net
			}
		}
	}
	return high, low
}

func (b *mapper) load(pi int) {
	c := b.m.C
	high, low := b.supply(pi)
	if high == circuit.None || low == circuit.None || high == low {
		return
	}
	volts := c.Nets[high].Volts - c.Nets[low].Volts
	if !c.Nets[high].Rail || volts <= 0 {
		volts = 5
	}
	p := &c.Parts[pi]
	works, dead := 3.9, 2.2 // a bipolar chip below its 4.75 V works on for a while (common practice, no source)
	switch {
	case p.Family == "4000":
		works, dead = 2.8, 1.2
	case p.Family == "HC":
		works, dead = 2, 1.2
	}
	ld := Load{Part: pi, High: high, Low: low, Works: min(works, 0.85*volts), Dead: min(dead, 0.4*volts), device: len(b.m.Devices)}
	b.m.Split.Loads = append(b.m.Split.Loads, ld)
	pins := []int{circuit.None, circuit.None}
	for _, q := range p.Pins {
		if c.Pins[q].Supply && c.Pins[q].Net == high {
			pins[0] = q
		}
		if c.Pins[q].Supply && c.Pins[q].Net == low {
			pins[1] = q
		}
	}
	b.device(Device{Name: p.Ref, Part: pi, Class: "chip", Kind: elec.Resistor, Pins: pins}, "", volts/current(p.Family, p.Type), 0.35, nil)
}

// switches adds the analogue switches of a chip whose ends are solved and whose condition is one level.
func (b *mapper) switches(pi int) {
	c, s := b.m.C, b.m.Split
	if !s.There[pi] {
		return
	}
	k := 0
	for _, l := range c.Parts[pi].Links {
		if c.Links[l].Kind != circuit.Switch {
			continue
		}
		k++
		a, z := outerEnds(c, l)
		if a == circuit.None || z == circuit.None || c.Links[l].Cond.Op != part.OpPin || !s.Here(c.Pins[a].Net) || !s.Here(c.Pins[z].Net) ||
			s.Net[c.Pins[a].Net] < Switched && s.Net[c.Pins[z].Net] < Switched {
			continue
		}
		ctl := c.Parts[pi].NodePin[c.Links[l].Cond.Index]
		if ctl == circuit.None {
			continue
		}
		ron := 300.0 // 4016 and 4066 at 5 V, from memory of their sheets
		if strings.HasPrefix(string(c.Parts[pi].Family), "HC") {
			ron = 60
		}
		closed := 0.0
		if n := &c.Nets[c.Pins[ctl].Net]; !n.Rail {
			s.Shares = append(s.Shares, Share{Net: c.Pins[ctl].Net, Switch: len(b.m.Devices), Stages: b.stagesOf(&Device{Pins: []int{a, z}})})
		} else if n.High {
			closed = 1
		}
		b.device(Device{Name: c.Parts[pi].Ref + "/" + strconv.Itoa(k), Part: pi, Class: "chip switch", Kind: elec.Switch, Pins: []int{a, z}}, "", 0, 0,
			map[string]float64{"closed": closed, "ron": ron, "roff": 1e9})
	}
}

// bipolarInputs adds what a TTL input gives into a net that is pulled down: its resistor from the supply and a junction.
func (b *mapper) bipolarInputs(n int) {
	c := b.m.C
	for _, q := range c.Nets[n].Pins {
		p := c.Pins[q].Part
		if !b.m.Split.Logic[p] || c.Pins[q].Use&part.Heard == 0 || !c.Parts[p].Family.Bipolar() {
			continue
		}
		high, _ := b.supply(p)
		if high == circuit.None || b.m.node[high] < 0 {
			continue
		}
		l, ok := c.Parts[p].Family.Limits(5)
		if !ok || l.IIL == 0 {
			continue
		}
		name := c.PinName(q)
		inner := b.loose(name + " inside")
		b.add(Device{Name: name, Part: p, Class: "chip input", Kind: elec.Resistor, Pins: []int{circuit.None, circuit.None}}, elec.Device{Name: name + " pull",
			Kind: elec.Resistor, Nodes: []int{b.m.node[high], inner}, Value: 4.3 / (0.6 * l.IIL), Tol: 0.3})
		b.add(Device{Name: name, Part: p, Class: "chip input", Kind: elec.Diode, Pins: []int{circuit.None, circuit.None}}, elec.Device{Name: name + " junction",
			Kind: elec.Diode, Nodes: []int{inner, b.m.node[n]}, Model: "an-diode"})
	}
}

// add puts in a device whose nodes are not those of its pins.
func (b *mapper) add(d Device, e elec.Device) {
	d.Index, d.Value = len(b.nl.Devices), e.Value
	b.nl.Devices = append(b.nl.Devices, e)
	b.m.Devices = append(b.m.Devices, d)
}

// drive is what the signs of a condition do to the circuit.
func (m *Model) drive(signs string) elec.Patch {
	var p elec.Patch
	if m.Split == nil {
		return p
	}
	for i := range min(len(signs), len(m.Split.Shares)) {
		sh, sign := &m.Split.Shares[i], signs[i]
		if sh.Switch >= 0 {
			if sign == OutHigh || sign == ShortHigh {
				p.Changes = append(p.Changes, elec.Change{Device: m.Devices[sh.Switch].Index, Do: elec.Set, Param: "closed", Value: 1})
			}
			continue
		}
		n := m.node[sh.Net]
		switch sign {
		case OutLow:
			p.Bridges = append(p.Bridges, elec.Bridge{A: n, B: 0, Ohms: sh.low.ohms, Volts: sh.low.volts})
		case OutHigh:
			p.Bridges = append(p.Bridges, elec.Bridge{A: n, B: sh.supply, Ohms: sh.high.ohms, Volts: sh.high.volts - sh.nominal})
		case ShortLow:
			p.Bridges = append(p.Bridges, elec.Bridge{A: n, B: 0, Ohms: shortedOhms})
		case ShortHigh:
			p.Bridges = append(p.Bridges, elec.Bridge{A: n, B: sh.supply, Ohms: shortedOhms})
		}
	}
	return p
}

// driveSigma is the spread of a node's volts that comes from the output that drives it.
func (m *Model) driveSigma(node int, signs string) float64 {
	if m.Split == nil {
		return 0
	}
	s := 0.0
	for i := range min(len(signs), len(m.Split.Shares)) {
		sh := &m.Split.Shares[i]
		if sh.Switch >= 0 || m.node[sh.Net] != node {
			continue
		}
		switch signs[i] {
		case OutLow:
			s = math.Hypot(s, sh.low.sigma)
		case OutHigh:
			s = math.Hypot(s, sh.high.sigma)
		case ShortLow, ShortHigh:
			s = math.Hypot(s, 0.08)
		}
	}
	return s
}

// Dead gives the signs that are left when the power is off: shorts.
func Dead(signs string) string {
	out := []byte(signs)
	for i, s := range out {
		if s != ShortLow && s != ShortHigh {
			out[i] = Free
		}
	}
	if strings.Trim(string(out), string(Free)) == "" {
		return ""
	}
	return string(out)
}
