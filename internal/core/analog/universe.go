package analog

import (
	"fmt"
	"slices"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/unit"
)

// Universe is every fault that is considered, with its severities and its weight before anything was seen.
type Universe struct {
	M      *Model
	Faults []Fault
	Ways   [][]Way
	Weight []float64 // adds up to 1
}

// NewUniverse lays out what can be wrong with a board.
func NewUniverse(m *Model) *Universe {
	u := &Universe{M: m}
	for i := range m.Devices {
		u.device(i)
	}
	u.joints()
	u.nets()
	total := 0.0
	for _, w := range u.Weight {
		total += w
	}
	for i := range u.Weight {
		u.Weight[i] /= total
	}
	return u
}

func (u *Universe) add(f Fault, ways ...Way) {
	w := u.M.weight(f)
	if w <= 0 || len(ways) == 0 {
		return
	}
	for i := range ways {
		ways[i].Smear = len(ways) > 1
	}
	u.Faults = append(u.Faults, f)
	u.Ways = append(u.Ways, ways)
	u.Weight = append(u.Weight, w)
}

func at(k Kind, dev int) Fault {
	f := none(k)
	f.Device = dev
	return f
}

func atPin(k Kind, dev, pin int) Fault {
	f := at(k, dev)
	f.Pin = pin
	return f
}

func (u *Universe) set(e int, do elec.Do, param, detail string, values ...float64) []Way {
	var out []Way
	for _, v := range values {
		d := ""
		if detail != "" {
			d = fmt.Sprintf(detail, figure(v, do == elec.Scale))
		}
		out = append(out, Way{Patch: elec.Patch{Changes: []elec.Change{{Device: e, Do: do, Param: param, Value: v}}}, Detail: d})
	}
	return out
}

// figure is a factor as it stands, a quantity with its prefix.
func figure(v float64, factor bool) string {
	if factor {
		return fmt.Sprintf("%.3g", v)
	}
	return unit.Format(v)
}

func (u *Universe) bridge(e, a, b int, detail string, ohms ...float64) []Way {
	var out []Way
	for _, r := range ohms {
		d := ""
		if detail != "" {
			d = fmt.Sprintf(detail, unit.Format(r))
		}
		out = append(out, Way{Patch: u.M.E.Short(e, a, b, r), Detail: d})
	}
	return out
}

func (u *Universe) device(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	if u.chip(i) {
		return
	}
	open := Way{Patch: elec.Open(e, 0)}
	switch d.Kind {
	case elec.Resistor:
		if d.Part == circuit.None {
			u.load(i)
			return
		}
		u.add(at(Open, i), open)
		if u.M.C.Parts[d.Part].Type.Name == "resistor" {
			u.add(at(Drifted, i), u.set(e, elec.Scale, "ohms", "to about %s times its value", 0.5, 0.75, 1.35, 1.8, 2.5, 4)...)
			u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.1)...)
			if u.M.C.Parts[d.Part].Src.Replaced {
				u.add(at(WrongPart, i), u.set(e, elec.Scale, "ohms", "of about %s times the value", 0.01, 0.1, 10, 100)...)
			}
		}
	case elec.Capacitor:
		u.capacitor(i)
	case elec.Inductor:
		u.add(at(Open, i), open)
		u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.05)...)
	case elec.Fuse:
		u.add(at(FuseBlown, i), open)
	case elec.Switch:
		u.add(at(Open, i), open)
		u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.1)...)
	case elec.Potentiometer:
		u.potentiometer(i)
	case elec.Diode, elec.Zener, elec.LED:
		u.add(at(Open, i), open)
		u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.5)...)
		u.add(at(Leaky, i), u.bridge(e, 0, 1, "as if %sΩ lay across it", 300, 3e3, 30e3)...)
		u.add(at(Reversed, i), Way{Patch: elec.Patch{Changes: []elec.Change{{Device: e, Do: elec.Reverse}}}})
		if d.Kind == elec.Zener {
			u.add(at(Drifted, i), u.set(e, elec.Scale, "bv", "to about %s times its voltage", 0.8, 1.2)...)
		}
	case elec.Rectifier:
		for k, ends := range [][2]int{{0, 2}, {1, 2}, {3, 0}, {3, 1}} {
			f := atPin(JunctionOpen, i, ends[0])
			f.PinB = ends[1]
			u.add(f, u.set(e, elec.Set, "open", "", float64(k+1))...)
			f.Kind = JunctionShort
			u.add(f, u.bridge(e, ends[0], ends[1], "", 0.1)...)
		}
	case elec.BJT, elec.Darlington, elec.JFET, elec.MOSFET:
		u.transistor(i)
	case elec.OpAmp, elec.Comparator, elec.OTA:
		u.amplifier(i)
	case elec.Regulator:
		u.regulator(i)
	case elec.Reference:
		u.add(atPin(JunctionOpen, i, 0), Way{Patch: elec.Open(e, 0)})
		u.add(at(Short, i), u.bridge(e, 0, 2, "", 1)...)
		u.add(at(Drifted, i), u.set(e, elec.Scale, "volts", "to about %s times its voltage", 0.85, 1.15)...)
	case elec.VoltageSource, elec.CurrentSource:
		u.source(i)
	}
}

func (u *Universe) capacitor(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	u.add(at(Open, i), Way{Patch: elec.Open(e, 0)})
	u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.5)...)
	switch d.Class {
	case "electrolytic":
		u.add(at(Leaky, i), u.bridge(e, 0, 1, "as if %sΩ lay across it", 20, 60, 180, 500, 1.5e3)...)
		u.add(at(LowCapacitance, i), u.set(e, elec.Scale, "farads", "to about %s times its value", 0.1, 0.2, 0.35, 0.55)...)
		esr, _ := u.M.E.Param(e, "esr")
		u.add(at(HighESR, i), u.set(e, elec.Set, "esr", "of about %sΩ", max(10*esr, 1), max(30*esr, 3), max(100*esr, 10), max(300*esr, 30))...)
		if u.M.C.Parts[d.Part].Src.Replaced {
			u.add(at(Reversed, i), u.bridge(e, 0, 1, "", 20, 100, 500)...)
		}
	case "tantalum":
		u.add(at(Leaky, i), u.bridge(e, 0, 1, "as if %sΩ lay across it", 3, 8, 22, 60, 150, 400, 1.2e3)...)
	default:
		u.add(at(Leaky, i), u.bridge(e, 0, 1, "as if %sΩ lay across it", 1e3, 10e3, 100e3)...)
	}
}

func (u *Universe) potentiometer(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	u.add(atPin(WiperOpen, i, 1), Way{Patch: elec.Open(e, 1)})
	u.add(atPin(Open, i, 0), Way{Patch: elec.Open(e, 0)})
	u.add(atPin(Open, i, 2), Way{Patch: elec.Open(e, 2)})
	var ways []Way
	for k := range 8 {
		p := (float64(k) + 0.5) / 8
		ways = append(ways, Way{Detail: fmt.Sprintf("at about %.2f of its travel", p), Patch: elec.Patch{Changes: []elec.Change{
			{Device: e, Do: elec.Set, Param: "worn-at", Value: p}, {Device: e, Do: elec.Set, Param: "worn-width", Value: 0.125},
			{Device: e, Do: elec.Set, Param: "worn-ohms", Value: 1e9}}}})
	}
	u.add(at(TrackWorn, i), ways...)
	u.Ways[len(u.Ways)-1] = plain(ways) // places, not a scale
	u.add(at(Drifted, i), u.set(e, elec.Scale, "ohms", "to about %s times its value", 1.6, 3)...)
}

func plain(ways []Way) []Way {
	for i := range ways {
		ways[i].Smear = false
	}
	return ways
}

func (u *Universe) transistor(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	for pin := range 3 {
		u.add(atPin(JunctionOpen, i, pin), Way{Patch: elec.Open(e, pin)})
	}
	for _, ends := range [][2]int{{0, 1}, {1, 2}, {0, 2}} {
		f := atPin(JunctionShort, i, ends[0])
		f.PinB = ends[1]
		u.add(f, u.bridge(e, ends[0], ends[1], "", 2)...)
	}
	u.add(at(Leaky, i), u.bridge(e, 0, 2, "as if %sΩ lay from one end to the other", 300, 3e3, 30e3)...)
	if d.Kind == elec.BJT {
		u.add(at(LowGain, i), u.set(e, elec.Scale, "bf", "", 0.02, 0.1)...)
	}
}

func (u *Universe) amplifier(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	plus, minus := 3, 4
	if d.Kind == elec.OTA {
		plus, minus = 4, 5
	}
	stuck := func(k Kind, rail int) {
		if d.Pins[rail] != circuit.None && d.Pins[2] != circuit.None {
			u.add(atPin(k, i, 2), Way{Patch: u.M.E.Stuck(e, 2, rail, 20)})
		}
	}
	stuck(StuckHigh, plus)
	stuck(StuckLow, minus)
	u.add(atPin(JunctionOpen, i, 2), Way{Patch: elec.Open(e, 2)})
	switch d.Kind {
	case elec.OpAmp:
		u.add(at(InputDead, i), u.set(e, elec.Set, "a0", "", 0)...)
		u.add(at(Offset, i), u.set(e, elec.Set, "vos", "of about %sV", -0.25, -0.06, 0.06, 0.25)...)
	case elec.Comparator:
		u.add(at(Offset, i), u.set(e, elec.Set, "vos", "of about %sV", -0.1, 0.1)...)
	case elec.OTA:
		u.add(at(InputDead, i), u.set(e, elec.Set, "gain", "", 0)...)
		u.add(at(Offset, i), u.set(e, elec.Set, "vos", "of about %sV", -0.03, 0.03)...)
		u.add(atPin(JunctionOpen, i, 3), Way{Patch: elec.Open(e, 3)})
		f := atPin(JunctionShort, i, 3)
		f.PinB = minus
		u.add(f, u.bridge(e, 3, minus, "", 5)...)
	}
	for pin := range 2 { // a leaking input
		if d.Pins[pin] != circuit.None && d.Pins[minus] != circuit.None {
			u.add(atPin(Leaky, i, pin), u.bridge(e, pin, minus, "as if %sΩ lay to the negative supply", 100, 3e3, 100e3)...)
		}
	}
}

func (u *Universe) regulator(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	u.add(atPin(JunctionOpen, i, 1), Way{Patch: elec.Open(e, 1)})
	f := atPin(JunctionShort, i, 0)
	f.PinB = 1
	u.add(f, u.bridge(e, 0, 1, "", 0.2)...)
	if d.Pins[1] != circuit.None && d.Pins[2] != circuit.None {
		f = atPin(JunctionShort, i, 1)
		f.PinB = 2
		u.add(f, Way{Patch: u.M.E.Short(e, 1, 2, 0.5).And(elec.Open(e, 0))})
	}
	drop, _ := u.M.E.Param(e, "drop")
	u.add(at(Dropout, i), u.set(e, elec.Set, "drop", "(about %sV)", drop+2, drop+4, drop+7)...)
	u.add(at(Drifted, i), u.set(e, elec.Scale, "volts", "to about %s times its voltage", 0.6, 0.75, 0.88, 1.12)...)
	u.add(at(LowGain, i), u.set(e, elec.Scale, "ilim", "", 0.02, 0.1)...)
	if node := u.nodeOf(d, 1); node > 0 {
		u.add(at(Oscillating, i), Way{RippleNode: node, Ripple: 0.3})
	}
}

func (u *Universe) nodeOf(d *Device, pin int) int {
	if p := d.Pins[pin]; p != circuit.None {
		return u.M.node[u.M.C.Pins[p].Net]
	}
	return -1
}

func (u *Universe) source(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	s := d.Source
	switch s.Kind {
	case board.Load:
		u.load(i)
	case board.Mains:
		u.add(at(SourceDead, i), Way{Patch: elec.Open(e, 0)})
		u.add(at(SourceLow, i), u.set(e, elec.Scale, "amplitude", "(about %s times)", 0.5, 0.7, 0.82)...)
	case board.Signal:
		u.add(at(SourceDead, i), u.set(e, elec.Set, "ac", "", 0)...)
	case board.DC:
		u.add(at(SourceDead, i), Way{Patch: elec.Open(e, 0)})
		u.add(at(SourceLow, i), u.set(e, elec.Scale, "volts", "(about %s times)", 0.3, 0.6, 0.8, 1.25)...)
	}
}

// load is what the rest of the machine draws: nothing, or far too much.
func (u *Universe) load(i int) {
	d := &u.M.Devices[i]
	e := d.Index
	u.add(at(Open, i), Way{Patch: elec.Open(e, 0)})
	u.add(at(Short, i), u.bridge(e, 0, 1, "", 0.3)...)
}

// joints are those of parts with more than two legs; at a part with two, an open joint shows the same as an open part.
func (u *Universe) joints() {
	type leg struct{ part, net int }
	seen := map[leg]bool{}
	for i := range u.M.Devices {
		d := &u.M.Devices[i]
		if d.Part == circuit.None || len(d.Pins) < 3 || !u.M.mine(d) {
			continue
		}
		for pin, p := range d.Pins {
			if p == circuit.None || !u.M.C.Pins[p].Wired || seen[leg{d.Part, p}] {
				continue
			}
			seen[leg{d.Part, p}] = true
			var w Way
			for k := range u.M.Devices { // a leg that several sections share
				o := &u.M.Devices[k]
				if o.Part != d.Part {
					continue
				}
				if q := slices.Index(o.Pins, p); q >= 0 {
					w.Patch = w.Patch.And(elec.Open(o.Index, q))
				}
			}
			u.add(atPin(JointOpen, i, pin), w)
		}
	}
}

// nets adds shorts to ground and bridges between what lies side by side.
func (u *Universe) nets() {
	m := u.M
	for n := range m.C.Nets {
		if m.node[n] > 0 && !m.C.Nets[n].Hidden && (m.Split == nil || m.Split.Net[n] != Shared) {
			f := none(NetShort)
			f.A = n
			u.add(f, Way{Patch: elec.Patch{Bridges: []elec.Bridge{{A: m.node[n], B: 0, Ohms: 0.3}}}})
		}
	}
	pairs := slices.Clone(m.C.Near)
	for _, p := range m.C.Parts {
		for k := 0; k+1 < len(p.Pins); k++ {
			a, b := m.C.Pins[p.Pins[k]], m.C.Pins[p.Pins[k+1]]
			if len(p.Type.Pins) > 3 && b.Number == a.Number+1 {
				pairs = append(pairs, [2]int{min(a.Net, b.Net), max(a.Net, b.Net)})
			}
		}
	}
	slices.SortFunc(pairs, func(a, b [2]int) int { return slices.Compare(a[:], b[:]) })
	for _, p := range slices.Compact(pairs) {
		a, b := p[0], p[1]
		if a == b || m.node[a] < 0 || m.node[b] < 0 || m.node[a] == 0 || m.node[b] == 0 || m.C.Nets[a].Hidden || m.C.Nets[b].Hidden || m.Split != nil && !m.Split.bridgeIsMine(a, b) {
			continue
		}
		f := none(Bridge)
		f.A, f.B = a, b
		u.add(f, Way{Patch: elec.Patch{Bridges: []elec.Bridge{{A: m.node[a], B: m.node[b], Ohms: 0.5}}}})
	}
}
