package loading

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Board is a circuit with, where wanted, other parts in the place of those that are fitted. Pins are matched by their numbers.
type Board struct {
	C     *circuit.Circuit
	swap  map[int]part.Match
	group []int   // net → group of nets that copper and closed links join
	nets  [][]int // group → nets
}

// New gathers what is joined for good: solder joints, fuses, coils and links without resistance.
func New(c *circuit.Circuit) *Board {
	b := &Board{C: c, swap: map[int]part.Match{}, group: make([]int, len(c.Nets))}
	for i := range b.group {
		b.group[i] = i
	}
	for _, l := range c.Links {
		if l.Kind == circuit.Joint || l.Kind == circuit.Closed {
			b.join(l.A, l.B)
		}
	}
	b.nets = make([][]int, len(c.Nets))
	for i := range b.group {
		b.group[i] = b.root(i)
		b.nets[b.group[i]] = append(b.nets[b.group[i]], i)
	}
	return b
}

func (b *Board) root(n int) int {
	for b.group[n] != n {
		n = b.group[n]
	}
	return n
}

func (b *Board) join(x, y int) {
	x, y = b.root(x), b.root(y)
	b.group[max(x, y)] = min(x, y)
}

// With is the same board with another part in the place of one. Its pins count by number.
func (b *Board) With(partIndex int, m part.Match) *Board {
	n := *b
	n.swap = map[int]part.Match{partIndex: m}
	return &n
}

// Match is the part that sits at a place.
func (b *Board) Match(pi int) part.Match {
	if m, ok := b.swap[pi]; ok {
		return m
	}
	return part.Match{Type: b.C.Parts[pi].Type, Family: b.C.Parts[pi].Family}
}

// Supply is the voltage between the highest and the lowest rail that a part's supply pins are on; 0 when unknown.
func (b *Board) Supply(pi int) float64 {
	low, high := 0.0, 0.0
	for _, id := range b.C.Parts[pi].Pins {
		p := b.C.Pins[id]
		if n := b.C.Nets[p.Net]; p.Supply && n.Rail {
			low, high = min(low, n.Volts), max(high, n.Volts)
		}
	}
	return high - low
}

// node is the type's node at a pin, in the part that sits there now; -1 when that part has nothing at this pin.
func (b *Board) node(id int) (m part.Match, node int) {
	p := b.C.Pins[id]
	m = b.Match(p.Part)
	if p.Number > len(m.Type.Pins) {
		return m, -1
	}
	return m, m.Type.Pins[p.Number-1].Node
}

// Output is one output on a net. Known is false where the part's family has no figures.
type Output struct {
	Pin    int // index into Circuit.Pins
	Kind   part.Kind
	Limits part.Limits
	Family part.Family
	Known  bool
}

// Input is one input on a net.
type Input struct {
	Pin    int
	Limits part.Limits
	Family part.Family
	Known  bool
}

// Pull is a resistor from the net to a rail.
type Pull struct {
	Part  int
	Ohms  float64
	Volts float64
}

// Extra is what something else than an input asks of the net: a lamp, a transistor's base.
type Extra struct {
	Text      string
	Low, High float64
}

// Net is what meets on one piece of copper.
type Net struct {
	Root    int // lowest net index of the group
	Name    string
	Outputs []Output
	Inputs  []Input
	Pulls   []Pull
	Extras  []Extra
	Rail    bool
	Volts   float64
	Outside bool // driven from outside the model
	Moved   bool // a diode, transistor or analogue switch ends on it and may drive it
}

// Net gathers the net of an index and everything that is joined with it for good.
func (b *Board) Net(ni int) Net {
	root := b.group[ni]
	n := Net{Root: root}
	for _, i := range b.nets[root] {
		cn := b.C.Nets[i]
		if n.Name == "" && !cn.Hidden {
			n.Name = cn.Name
		}
		if cn.Rail {
			n.Rail, n.Volts = true, cn.Volts
		}
		n.Outside = n.Outside || cn.Input != circuit.None
		for _, id := range cn.Pins {
			if b.group[b.C.Pins[id].Net] == root && b.C.Pins[id].Net == i {
				b.pin(&n, id)
			}
		}
		for _, l := range cn.Links {
			b.link(&n, l)
		}
	}
	if n.Name == "" {
		n.Name = b.C.NetName(root)
	}
	return n
}

func (b *Board) pin(n *Net, id int) {
	m, node := b.node(id)
	if node < 0 || m.Type.Nodes[node].Supply {
		return
	}
	l, known := m.Limits(node, b.Supply(b.C.Pins[id].Part))
	if m.Type.Nodes[node].Use&part.Heard != 0 {
		n.Inputs = append(n.Inputs, Input{id, l, m.Family, known})
	}
	for _, s := range m.Type.Stmts {
		switch s.Kind {
		case part.Drive, part.DriveLow, part.DriveHigh, part.DriveTri:
			if s.Node == node {
				n.Outputs = append(n.Outputs, Output{id, s.Kind, l, m.Family, known})
			}
		case part.ClockOut:
			n.Outside = n.Outside || s.Node == node
		}
	}
}

func (b *Board) link(n *Net, li int) {
	l := b.C.Links[li]
	other := l.B
	if b.group[l.A] != n.Root {
		other = l.A
	}
	if b.group[other] == n.Root {
		return
	}
	switch l.Kind {
	case circuit.Joint, circuit.Closed:
	case circuit.Resistor:
		if v, rail := b.rail(other); rail {
			n.Pulls = append(n.Pulls, Pull{l.Part, l.Ohms, v})
			return
		}
		b.through(n, l, other)
	case circuit.Faint, circuit.FaintBoth:
		b.lamp(n, l, other, 0)
	case circuit.Contact1, circuit.RelayContact:
	default:
		n.Moved = true
	}
}

func (b *Board) rail(ni int) (float64, bool) {
	for _, i := range b.nets[b.group[ni]] {
		if b.C.Nets[i].Rail {
			return b.C.Nets[i].Volts, true
		}
	}
	return 0, false
}

// lampDrop and baseDrop are common practice for a red lamp and a silicon junction.
const (
	lampDrop = 1.8
	baseDrop = 0.7
)

// through looks at the far end of a series resistor: a lamp, a base, further inputs, or a second resistor to a rail.
func (b *Board) through(n *Net, r circuit.Link, far int) {
	if r.Ohms <= 0 {
		return
	}
	for _, i := range b.nets[b.group[far]] {
		for _, li := range b.C.Nets[i].Links {
			l := b.C.Links[li]
			end := l.B
			if b.group[l.A] != b.group[far] {
				end = l.A
			}
			switch {
			case l.Part == r.Part && l.A == r.A && l.B == r.B:
			case l.Kind == circuit.Faint || l.Kind == circuit.FaintBoth:
				b.lamp(n, l, end, r.Ohms)
			case l.Kind == circuit.Resistor:
				if v, rail := b.rail(end); rail {
					n.Pulls = append(n.Pulls, Pull{l.Part, l.Ohms + r.Ohms, v})
				}
			}
		}
		b.bases(n, i, r.Ohms)
	}
}

// bases finds transistors whose control is on a net: they end no link there.
func (b *Board) bases(n *Net, ni int, ohms float64) {
	for _, id := range b.C.Nets[ni].Pins {
		for _, li := range b.C.Parts[b.C.Pins[id].Part].Links {
			if l := b.C.Links[li]; l.Kind == circuit.Transistor && l.Ctl != circuit.None && l.CtlPin == id {
				b.base(n, l, ohms)
			}
		}
	}
}

func (b *Board) base(n *Net, l circuit.Link, ohms float64) {
	v, rail := b.rail(l.B)
	if !rail {
		return
	}
	for _, s := range b.C.Parts[l.Part].Type.Stmts {
		e := Extra{Text: "base of " + b.C.Parts[l.Part].Ref}
		switch s.Kind {
		case part.NPN:
			e.High = max(0, (nominalHigh-v-baseDrop)/ohms)
		case part.PNP:
			e.Low = max(0, (v-baseDrop-nominalLow)/ohms)
		default:
			continue
		}
		n.Extras = append(n.Extras, e)
		return
	}
}

// nominalHigh and nominalLow stand for the output's level where a lamp's or base's current is reckoned: the guaranteed ones of LS.
const (
	nominalHigh = 2.7
	nominalLow  = 0.5
)

// lamp reckons the current of an indicator whose other end is at a rail, directly or over its resistor.
func (b *Board) lamp(n *Net, l circuit.Link, end int, ohms float64) {
	v, rail := b.rail(end)
	if !rail {
		for _, i := range b.nets[b.group[end]] {
			for _, li := range b.C.Nets[i].Links {
				k := b.C.Links[li]
				far := k.B
				if b.group[k.A] != b.group[end] {
					far = k.A
				}
				if kv, ok := b.rail(far); ok && (k.Kind == circuit.Resistor || k.Kind == circuit.Transistor) {
					v, rail = kv, true
					if k.Kind == circuit.Resistor {
						ohms += k.Ohms
					}
				}
			}
		}
	}
	if !rail || ohms <= 0 {
		return
	}
	e := Extra{Text: "lamp " + b.C.Parts[l.Part].Ref}
	anodeHere := b.group[l.A] != b.group[end]
	if anodeHere && v < nominalHigh {
		e.High = max(0, (nominalHigh-v-lampDrop)/ohms)
	} else if !anodeHere {
		e.Low = max(0, (v-lampDrop-nominalLow)/ohms)
	}
	if e.Low > 0 || e.High > 0 {
		n.Extras = append(n.Extras, e)
	}
}

// Roots lists one net index for each group that is no rail's inside, in order.
func (b *Board) Roots() []int {
	var out []int
	for i, g := range b.group {
		if i == g {
			out = append(out, i)
		}
	}
	return out
}

// RootsOf lists the groups that the wired pins of a part are on, in order, each once.
func (b *Board) RootsOf(pi int) []int {
	var out []int
	for _, id := range b.C.Parts[pi].Pins {
		out = append(out, b.group[b.C.Pins[id].Net])
	}
	slices.Sort(out)
	return slices.Compact(out)
}
