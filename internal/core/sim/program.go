package sim

import (
	"slices"
	"sync"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Program is a circuit in the order in which it is computed. It is not changed after Compile and is shared by
// all engines.
//
// A node carries a Heard level: constants, stored bits, what each input pin hears, gates, memory outputs. Nets carry a
// NetLevel and are settled in groups joined by links. The units of work (pin, gate, memory, group, loop) stand in
// topological order; a position is an index into units.
type Program struct {
	C      *circuit.Circuit
	nodes  int
	gates  []gate
	shared map[string]ref

	bitNode  []int32 // stored bit → node; memory output bits too
	hearNode []int32 // pin → node, -1 when nothing listens
	stores   []store
	mems     []memory
	drivers  []driver // by circuit driver index
	cond     []ref    // by circuit link index: condition of a switch

	groups    []group
	groupOf   []int32 // net → group, -1 for a rail
	local     []int32 // net → index within its group
	bipolar   []bool  // net: every output that may fight there is bipolar
	plain     []bool  // net: all of them are of the plain 74 family
	units     []unit
	loops     []loop
	nodeFan   [][]int32 // node → positions that read it
	netFan    [][]int32 // net → positions that read it
	nodeStore [][]int32 // node → stores that read it
	groupPos  []int32   // group → position (of its loop, if it is in one)
	hearPos   []int32   // pin → position
	memPos    []int32
	nodeLoop  []int32 // node → loop or -1
	netLoop   []int32
	inputNet  []int32 // input → net whose group it moves
	pulseBits []int32 // stores of one-shots
	loopPos   []int32 // loop → position
	inner     inner
	joined    []int    // net → representative of the nets it is joined to by anything but a resistor or lamp
	reach     sync.Map // group → groups downstream of it, found when first asked for
}

type unitKind uint8

const (
	uHear unitKind = iota
	uGate
	uMem
	uGroup
	uLoop
)

type unit struct {
	kind  unitKind
	index int32
}

type loop struct {
	members []unit
	nodes   []int32
	nets    []int32
}

// inner is who within a loop reads what the loop computes: members by node and by net.
type inner struct {
	ofNode [][]int32
	ofNet  [][]int32
}

type group struct {
	nets   []int32
	links  []int32
	simple bool  // one net; no links, but for resistors to rails of one level
	pull   drive // what those resistors bring
}

type driver struct {
	pin       int32
	kind      part.Kind
	val, cond ref
	gate      ref // of an output that a free run moves
	input     int32
}

type store struct {
	node    int32
	pulse   bool
	clauses []clause
}

type clause struct {
	when      part.ClauseKind
	cond, val ref
}

type memory struct {
	nodes    []int32 // output bits, lowest first
	address  []ref   // most significant first
	data     []ref   // lowest first
	write    ref
	rom      bool
	words    int
	contents []byte
}

func (p *Program) newNode() int32 {
	p.nodes++
	return int32(p.nodes - 1)
}

// Compile orders a circuit for simulation.
func Compile(c *circuit.Circuit) *Program {
	p := &Program{C: c, nodes: nodes0, shared: map[string]ref{}}
	p.bitNode = make([]int32, c.Bits)
	for i := range p.bitNode {
		p.bitNode[i] = p.newNode()
	}
	p.hearNode = slices.Repeat([]int32{-1}, len(c.Pins))
	for i, pin := range c.Pins {
		if pin.Use&part.Heard != 0 && c.Parts[pin.Part].NodePin[pin.Node] == i {
			p.hearNode[i] = p.newNode()
		}
	}
	p.compileParts()
	p.makeGroups()
	p.families()
	p.order()
	p.shared = nil
	return p
}

// leafOf returns the leaf resolver for one part.
func (p *Program) leafOf(pi int) leafRef {
	c := p.C
	return func(e part.Expr) ref {
		if e.Op == part.OpBit {
			return ref(p.bitNode[c.Parts[pi].Bit+e.Index] << 1)
		}
		pin := c.Parts[pi].NodePin[e.Index]
		if pin == circuit.None || p.hearNode[pin] < 0 {
			if c.Parts[pi].Family.Bipolar() {
				return constRef(1)
			}
			return constRef(2)
		}
		return ref(p.hearNode[pin] << 1)
	}
}

func (p *Program) compileParts() {
	c := p.C
	for _, d := range c.Drivers {
		leaf := p.leafOf(d.Part)
		dr := driver{pin: int32(d.Pin), kind: d.Stmt.Kind, cond: constRef(1), input: int32(d.Input)}
		if d.Stmt.Kind != part.ClockOut {
			dr.val = p.compile(d.Stmt.Expr, leaf)
		}
		if d.Stmt.Kind == part.DriveTri {
			dr.cond = p.compile(d.Stmt.Cond, leaf)
		}
		dr.gate = constRef(0)
		if d.Input != circuit.None && d.Stmt.Kind != part.ClockOut {
			dr.gate = p.compile(d.Gate, leaf)
		}
		p.drivers = append(p.drivers, dr)
	}
	for _, l := range c.Links {
		r := constRef(1)
		if l.Kind == circuit.Switch {
			r = p.compile(l.Cond, p.leafOf(l.Part))
		}
		p.cond = append(p.cond, r)
	}
	for _, s := range c.Stores {
		leaf := p.leafOf(s.Part)
		st := store{node: p.bitNode[s.Bit], pulse: s.Stmt.Pulse}
		for _, cl := range s.Stmt.Clauses {
			st.clauses = append(st.clauses, clause{cl.When, p.compile(cl.Cond, leaf), p.compile(cl.Val, leaf)})
		}
		if st.pulse {
			p.pulseBits = append(p.pulseBits, int32(len(p.stores)))
		}
		p.stores = append(p.stores, st)
	}
	for _, m := range c.Memories {
		leaf := p.leafOf(m.Part)
		mm := memory{rom: m.Stmt.Kind == part.ROM, words: m.Stmt.Words, contents: m.Contents, write: constRef(0)}
		for b := range m.Stmt.Width {
			mm.nodes = append(mm.nodes, p.bitNode[m.Bit+b])
		}
		for _, a := range m.Stmt.Address {
			mm.address = append(mm.address, p.compile(a, leaf))
		}
		if !mm.rom {
			mm.write = p.compile(m.Stmt.Cond, leaf)
			for i := len(m.Stmt.Data) - 1; i >= 0; i-- {
				mm.data = append(mm.data, p.compile(m.Stmt.Data[i], leaf))
			}
		}
		p.mems = append(p.mems, mm)
	}
	p.inputNet = make([]int32, len(c.Inputs))
	for i, in := range c.Inputs {
		p.inputNet[i] = int32(in.Net)
	}
}

// makeGroups joins nets that links connect; rails stay apart, because their level never changes.
func (p *Program) makeGroups() {
	c := p.C
	root := make([]int, len(c.Nets))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for _, l := range c.Links {
		if !c.Nets[l.A].Rail && !c.Nets[l.B].Rail {
			a, b := find(l.A), find(l.B)
			root[max(a, b)] = min(a, b)
		}
	}
	p.groupOf = slices.Repeat([]int32{-1}, len(c.Nets))
	p.local = make([]int32, len(c.Nets))
	byRoot := map[int]int32{}
	for i, n := range c.Nets {
		if n.Rail {
			continue
		}
		g, ok := byRoot[find(i)]
		if !ok {
			g = int32(len(p.groups))
			byRoot[find(i)] = g
			p.groups = append(p.groups, group{})
		}
		p.groupOf[i] = g
		p.local[i] = int32(len(p.groups[g].nets))
		p.groups[g].nets = append(p.groups[g].nets, int32(i))
	}
	for i, l := range c.Links {
		g := p.groupOf[l.A]
		if g < 0 {
			g = p.groupOf[l.B]
		}
		if g >= 0 {
			p.groups[g].links = append(p.groups[g].links, int32(i))
		}
	}
	for i := range p.groups {
		p.groups[i].simple, p.groups[i].pull = p.pulled(&p.groups[i])
	}
}

// pulled tells whether a group is a net that nothing but resistors to rails of one level hangs on.
func (p *Program) pulled(g *group) (bool, drive) {
	var pull drive
	for _, li := range g.links {
		l := &p.C.Links[li]
		a, b := &p.C.Nets[l.A], &p.C.Nets[l.B]
		if l.Kind != circuit.Resistor || !a.Rail && !b.Rail {
			return false, drive{}
		}
		pull.add(fixed(a.Rail && a.High || b.Rail && b.High, all))
	}
	return len(g.nets) == 1 && pull.m0&pull.m1 == 0, pull
}

// families finds for each net whether all outputs that could take part in a fight there are bipolar, or plain 74.
func (p *Program) families() {
	c := p.C
	p.bipolar = slices.Repeat([]bool{true}, len(c.Nets))
	p.plain = slices.Repeat([]bool{true}, len(c.Nets))
	root := make([]int, len(c.Nets))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	for _, l := range c.Links {
		if l.Kind != circuit.Resistor && l.Kind != circuit.Faint && l.Kind != circuit.FaintBoth && !c.Nets[l.A].Rail && !c.Nets[l.B].Rail {
			a, b := find(l.A), find(l.B)
			root[max(a, b)] = min(a, b)
		}
	}
	mark := func(net int, bip, plain bool) {
		r := find(net)
		p.bipolar[r] = p.bipolar[r] && bip
		p.plain[r] = p.plain[r] && plain
	}
	for _, d := range c.Drivers {
		f := c.Parts[d.Part].Family
		mark(c.Pins[d.Pin].Net, f.Bipolar(), f.Plain())
	}
	for _, in := range c.Inputs {
		if in.Pin != circuit.None {
			continue
		}
		bip := slices.ContainsFunc(c.Nets[in.Net].Pins, func(q int) bool { return c.Parts[c.Pins[q].Part].Family.Bipolar() })
		mark(in.Net, bip, false)
	}
	p.joined = make([]int, len(c.Nets))
	for i := range c.Nets {
		p.joined[i] = find(i)
		p.bipolar[i], p.plain[i] = p.bipolar[find(i)], p.plain[find(i)]
	}
}
