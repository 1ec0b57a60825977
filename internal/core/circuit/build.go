package circuit

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Build joins a board with the library. The Circuit is nil when any finding is an error.
func Build(b *board.Board, lib *part.Library) (*Circuit, finding.List) {
	bl := &builder{c: &Circuit{Board: b, netByName: map[string]int{}, partByRef: map[string]int{}, actByName: map[string]int{}}, lib: lib,
		inputOf: map[int]int{}, clockOf: map[int]int{}, leverOf: map[int][]int{}}
	bl.rails()
	for i := range b.Parts {
		bl.part(&b.Parts[i])
	}
	bl.outside()
	for i := range bl.c.Parts {
		bl.inside(i)
	}
	bl.crossRefs()
	bl.freeRuns()
	bl.actions()
	bl.freeActions()
	bl.lint()
	bl.fl.Sort()
	if bl.fl.Errors() {
		return nil, bl.fl
	}
	return bl.c, bl.fl
}

type builder struct {
	c       *Circuit
	lib     *part.Library
	fl      finding.List
	inputOf map[int]int   // net → input
	clockOf map[int]int   // net → input of a clock source on it
	leverOf map[int][]int // part → its switches, one for each section
	free    []*freeRun    // processors that can run free
}

func (b *builder) net(name string, pos finding.Pos) int {
	if i, ok := b.c.netByName[name]; ok {
		return i
	}
	i := len(b.c.Nets)
	b.c.Nets = append(b.c.Nets, Net{Name: name, Input: None, Pos: pos})
	b.c.netByName[name] = i
	return i
}

func (b *builder) hidden(pos finding.Pos) int {
	b.c.Nets = append(b.c.Nets, Net{Hidden: true, Input: None, Pos: pos})
	return len(b.c.Nets) - 1
}

func (b *builder) rails() {
	for _, r := range b.c.Board.Rails {
		n := b.net(r.Net, r.Pos)
		b.c.Nets[n].Rail, b.c.Nets[n].Volts, b.c.Nets[n].High = true, r.Volts, r.Volts >= 2
	}
}

func (b *builder) part(src *board.Part) {
	if _, dup := b.c.partByRef[src.Ref]; dup {
		b.fl.Errorf(src.Pos, src.Ref, "give one of them another name", "there are two parts %s", src.Ref)
		return
	}
	m, err := b.find(src)
	if err != nil {
		pos := src.TypePos
		if pos.Line == 0 {
			pos = src.Pos
		}
		b.fl.Errorf(pos, src.Ref, "", "%s: %v", src.Ref, err)
		return
	}
	m.Type = b.programmed(src, m.Type)
	p := Part{Ref: src.Ref, Src: src, Type: m.Type, Family: m.Family}
	pi := len(b.c.Parts)
	b.c.partByRef[src.Ref] = pi
	netOf := map[int]board.Pin{}
	for i, w := range src.Pins {
		nums := []int{i + 1}
		if src.Listed {
			if i >= len(m.Type.Pins) {
				b.fl.Errorf(w.Pos, src.Ref, "", "%s: %d nets listed, a %s has %d pins", src.Ref, len(src.Pins), src.Type, len(m.Type.Pins))
				break
			}
		} else if nums = m.Type.PinByName(w.Pin); nums == nil {
			b.fl.Errorf(w.Pos, src.Ref+"."+w.Pin, finding.DidYouMean(w.Pin, m.Type.PinWords()), "no pin %s on a %s (%d pins)", w.Pin, src.Type, len(m.Type.Pins))
			continue
		}
		for _, n := range nums {
			if old, dup := netOf[n]; dup && old.Net != w.Net {
				b.fl.Errorf(w.Pos, src.Ref+"."+w.Pin, "", "%s pin %d is wired twice, to %s and to %s", src.Ref, n, old.Net, w.Net)
			}
			netOf[n] = w
		}
	}
	b.c.Parts = append(b.c.Parts, p)
	b.pins(pi, netOf)
}

func (b *builder) find(src *board.Part) (part.Match, error) {
	if part.IsGate(src.Type) {
		return part.Gate(src.Type, len(src.Pins)-1)
	}
	return b.lib.Find(src.Type)
}

// pins makes the wired pins, the implied supply pins, and hidden nets for what is wired to nothing.
func (b *builder) pins(pi int, netOf map[int]board.Pin) {
	p := &b.c.Parts[pi]
	p.NodePin = slices.Repeat([]int{None}, len(p.Type.Nodes))
	ends := linkEnds(p.Type)
	for i, tp := range p.Type.Pins {
		w, listed := netOf[i+1]
		open := !listed || w.Net == "-"
		if tp.Node < 0 {
			if !open {
				b.net(w.Net, w.Pos)
			}
			continue
		}
		node := p.Type.Nodes[tp.Node]
		pin := Pin{Part: pi, Number: i + 1, Node: tp.Node, Net: None, Inside: None, Driver: None, Use: node.Use, Supply: node.Supply, Wired: !open}
		switch {
		case !open:
			pin.Net = b.net(w.Net, w.Pos)
		case node.Supply && !listed:
			pin.Net = b.impliedRail(p, node)
			if pin.Net == None {
				continue
			}
			pin.Wired = true
		case node.Supply:
			b.fl.Warnf(w.Pos, p.Ref, "", "%s: supply pin %d (%s) is left open", p.Ref, i+1, node.Name)
			continue
		case node.Use == 0:
			continue
		default:
			pin.Net = b.hidden(p.Src.Pos)
		}
		if pin.Use&part.Linked != 0 && ends[tp.Node] > 1 && !b.c.Nets[pin.Net].Hidden {
			pin.Inside = b.hidden(p.Src.Pos)
		}
		id := len(b.c.Pins)
		b.c.Pins = append(b.c.Pins, pin)
		p.Pins = append(p.Pins, id)
		if p.NodePin[tp.Node] == None || !b.c.Pins[p.NodePin[tp.Node]].Wired && pin.Wired {
			p.NodePin[tp.Node] = id
		}
		b.c.Nets[pin.Net].Pins = append(b.c.Nets[pin.Net].Pins, id)
		if pin.Inside != None {
			b.c.Nets[pin.Inside].Pins = append(b.c.Nets[pin.Inside].Pins, id)
			b.link(Link{Kind: Joint, A: pin.Net, B: pin.Inside, PinA: id, PinB: None, Ctl: None, Ctl2: None, CtlPin: None, Ctl2Pin: None, Contact: None, Part: pi, Lamp: None})
		}
	}
}

// linkEnds counts how many link statements end on each node.
func linkEnds(t *part.Type) []int {
	n := make([]int, len(t.Nodes))
	for _, s := range t.Stmts {
		for _, k := range []int{s.A, s.B, s.Ctl, s.Ctl2} {
			if k >= 0 {
				n[k]++
			}
		}
	}
	return n
}

// impliedRail finds the only rail that fits an unlisted supply pin.
func (b *builder) impliedRail(p *Part, n part.Node) int {
	fits := func(v float64) bool {
		switch {
		case n.HasV:
			return math.Abs(v-n.Volts) <= max(0.5, 0.1*math.Abs(n.Volts))
		case n.Name == "GND" || n.Name == "VSS":
			return v == 0
		case n.Name == "VEE" || n.Name == "VBB":
			return v <= 0
		case p.Family.Bipolar() || p.Family == "HCT" || p.Family == "nmos":
			return v >= 4.5 && v <= 5.5
		}
		return v >= 2 && v <= 18
	}
	found, names := None, []string{}
	for _, r := range b.c.Board.Rails {
		if fits(r.Volts) {
			found = b.c.netByName[r.Net]
			names = append(names, r.Net)
		}
	}
	switch len(names) {
	case 1:
		return found
	case 0:
		b.fl.Errorf(p.Src.Pos, p.Ref, "list the pin, or add the rail under rails:", "%s: supply pin %s (pin %d) is not listed and no rail fits it", p.Ref, n.Name, n.Pins[0])
	default:
		b.fl.Errorf(p.Src.Pos, p.Ref, "list the pin with its net", "%s: supply pin %s (pin %d) is not listed and more than one rail fits: %s", p.Ref, n.Name, n.Pins[0], strings.Join(names, ", "))
	}
	return None
}

func (b *builder) link(l Link) int {
	i := len(b.c.Links)
	if l.Kind != Resistor {
		l.Ohms = 0
	}
	b.c.Links = append(b.c.Links, l)
	b.c.Parts[l.Part].Links = append(b.c.Parts[l.Part].Links, i)
	return i
}

// outside resolves inputs, buses and near nets.
func (b *builder) outside() {
	for _, in := range b.c.Board.Inputs {
		n, ok := b.c.netByName[in.Text]
		if !ok { // allowed: a bus is often listed whole although the model needs some of its lines only
			n = b.net(in.Text, in.Pos)
			b.fl.Warnf(in.Pos, in.Text, finding.DidYouMean(in.Text, b.pinNets()), "input %s is on no pin of any part", in.Text)
		}
		if b.c.Nets[n].Rail {
			b.fl.Errorf(in.Pos, in.Text, "take it out of inputs:", "%s is a rail and cannot be an input", in.Text)
			continue
		}
		if _, dup := b.inputOf[n]; dup {
			b.fl.Errorf(in.Pos, in.Text, "", "input %s is listed twice", in.Text)
			continue
		}
		b.inputOf[n] = len(b.c.Inputs)
		b.c.Nets[n].Input = len(b.c.Inputs)
		b.c.Inputs = append(b.c.Inputs, Input{Net: n, Pin: None})
	}
	for _, bus := range b.c.Board.Buses {
		for _, n := range bus.Nets {
			if _, ok := b.c.netByName[n.Text]; !ok {
				b.unknownNet(n, "bus "+bus.Name)
			}
		}
		if _, clash := b.c.netByName[bus.Name]; clash {
			b.fl.Errorf(bus.Pos, bus.Name, "rename the bus", "bus %s has the name of a net", bus.Name)
		}
	}
	for _, pair := range b.c.Board.Near {
		x, ok1 := b.c.netByName[pair[0].Text]
		y, ok2 := b.c.netByName[pair[1].Text]
		if !ok1 {
			b.unknownNet(pair[0], "near")
		}
		if !ok2 {
			b.unknownNet(pair[1], "near")
		}
		if ok1 && ok2 && x != y {
			b.c.Near = append(b.c.Near, [2]int{min(x, y), max(x, y)})
		}
	}
}

// pinNets lists the nets that some pin is on.
func (b *builder) pinNets() []string {
	var out []string
	for _, n := range b.c.Nets {
		if len(n.Pins) > 0 && !n.Hidden {
			out = append(out, n.Name)
		}
	}
	return out
}

func (b *builder) unknownNet(n board.Name, where string) {
	b.fl.Errorf(n.Pos, n.Text, finding.DidYouMean(n.Text, slices.Collect(maps.Keys(b.c.netByName))), "%s: net %s is on no pin of any part", where, n.Text)
}

func (b *builder) crossRefs() {
	c := b.c
	for i, d := range c.Drivers {
		n := c.Pins[d.Pin].Net
		if in := c.Pins[d.Pin].Inside; in != None {
			n = in
		}
		c.Nets[n].Drivers = append(c.Nets[n].Drivers, i)
	}
	for i, l := range c.Links {
		c.Nets[l.A].Links = append(c.Nets[l.A].Links, i)
		if l.B != l.A {
			c.Nets[l.B].Links = append(c.Nets[l.B].Links, i)
		}
	}
	slices.SortFunc(c.Near, func(x, y [2]int) int { return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1])) })
	c.Near = slices.Compact(c.Near)
}
