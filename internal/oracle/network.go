package oracle

// A board with its faults as nodes, links and drivers, ready to be written as Verilog. Faults that differ only by a
// switch in the text (all but bridges) share one network: bit k of the Verilog register f turns fault k on.

import (
	"fmt"
	"strings"
)

// unit is a part with a model on the board.
type unit struct {
	Part
	id      string // Verilog name, "u3"
	model   *Model
	bipolar bool
	node    map[int]int // node by pin
}

// node is a net, or the part's side of a joint that may be open, or a pin that is connected to nothing.
type node struct {
	name         string
	net          bool
	sup0, sup1   []string // Verilog conditions under which a supply level stands here
	cmos         bool     // an output that can drive it, or a net joined to it, is not bipolar
	cmosIf       []string // or is not under these conditions
	drives       []drive
	group, place int // group and index in it
}

// drive is a contribution of output strength: the set {Z, 1, 0} in a Verilog wire.
type drive struct {
	wire    string
	bipolar bool
	entity  int // the driver's entity, -1 for an input from outside
}

// wireLink is a plain link (on is a one-bit condition) or a switch (on is a {Z,1,0} set of its control: 1 on, 0 off).
type wireLink struct {
	a, b   int
	plain  bool
	short  bool // a resistor that a fault shorts
	on     string
	entity int
}

type resistor struct {
	a, b, ohms int
	open       string // condition
}

// group is a set of nodes whose levels are settled together.
type group struct {
	nodes     []int
	links     []wireLink
	resistors []resistor
	rails     []resistor // b is a rail's node outside the group
}

type network struct {
	board  *Board
	faults []Fault
	units  []*unit
	nodes  []*node
	byName map[string]int
	links  []wireLink
	res    []resistor
	groups []*group
	rail   map[int]bool
	ents   []*entity
	loops  []loop
}

// cond joins the conditions of the faults that fit into a Verilog expression; "" if none fits.
func (n *network) cond(fits func(Fault) bool) string {
	var terms []string
	for k, f := range n.faults {
		if fits(f) {
			terms = append(terms, fmt.Sprintf("f[%d]", k))
		}
	}
	return strings.Join(terms, "|")
}

func (n *network) pinCond(kind, ref string, pin int) string {
	return n.cond(func(f Fault) bool { return f.Kind == kind && f.Ref == ref && f.Pin == pin })
}

func (n *network) addNode(name string, net bool) int {
	if i, ok := n.byName[name]; ok {
		return i
	}
	i := len(n.nodes)
	n.byName[name] = i
	n.nodes = append(n.nodes, &node{name: name, net: net})
	return i
}

// newNetwork lays the board out. models holds the models by "type family".
func newNetwork(b *Board, faults []Fault, models func(typ, family string) (*Model, error), withBridges bool) (*network, error) {
	n := &network{board: b, faults: faults, byName: map[string]int{}, rail: map[int]bool{}}
	for _, name := range b.Nets() {
		i := n.addNode(name, true)
		if level, ok := b.Rails[name]; ok {
			n.rail[i] = true
			if level == '0' {
				n.nodes[i].sup0 = append(n.nodes[i].sup0, "1'b1")
			} else {
				n.nodes[i].sup1 = append(n.nodes[i].sup1, "1'b1")
			}
		}
	}
	for k, f := range faults {
		if err := n.netFault(k, f, withBridges); err != nil {
			return nil, err
		}
	}
	for i, p := range b.Parts {
		if p.Type == "resistor" {
			if err := n.addResistor(p); err != nil {
				return nil, err
			}
			continue
		}
		m, err := models(p.Type, p.Family)
		if err != nil {
			return nil, err
		}
		bip, err := Bipolar(p.Family)
		if err != nil {
			return nil, err
		}
		u := &unit{Part: p, id: fmt.Sprintf("u%d", i), model: m, bipolar: bip, node: map[int]int{}}
		n.units = append(n.units, u)
		n.connect(u)
	}
	for i, name := range b.Inputs {
		at := n.nodes[n.byName[name]]
		at.drives = append(at.drives, drive{fmt.Sprintf("ci%d", i), n.anyBipolar(name), -1})
	}
	n.makeEntities()
	if err := n.checkFaults(); err != nil {
		return nil, err
	}
	n.makeGroups()
	n.markFamilies()
	n.findLoops()
	n.adoptDrivers()
	return n, nil
}

func (n *network) netFault(k int, f Fault, withBridges bool) error {
	bit := fmt.Sprintf("f[%d]", k)
	switch f.Kind {
	case "net-low", "net-high", "bridge", "source-low", "source-high", "source-dead":
		i, ok := n.byName[f.Net]
		if !ok {
			return fmt.Errorf("fault on unknown net %q", f.Net)
		}
		switch f.Kind {
		case "net-low":
			if n.rail[i] {
				break
			}
			n.nodes[i].sup0 = append(n.nodes[i].sup0, bit)
		case "net-high":
			if n.rail[i] {
				break
			}
			n.nodes[i].sup1 = append(n.nodes[i].sup1, bit)
		case "bridge":
			j, ok := n.byName[f.Net2]
			if !ok {
				return fmt.Errorf("bridge to unknown net %q", f.Net2)
			}
			if withBridges {
				n.link(wireLink{a: i, b: j, plain: true, on: bit, entity: -1})
			}
		}
	}
	return nil
}

// link adds a link. A rail stays where it is and passes nothing on, so each link to one gets an end of its own that
// stands at the rail's level.
func (n *network) link(l wireLink) {
	for _, end := range []*int{&l.a, &l.b} {
		if n.rail[*end] {
			rail := n.nodes[*end]
			*end = n.addNode(fmt.Sprintf("%s#%d", rail.name, len(n.nodes)), false)
			n.nodes[*end].sup0, n.nodes[*end].sup1 = rail.sup0, rail.sup1
		}
	}
	n.links = append(n.links, l)
}

func (n *network) addResistor(p Part) error {
	a, ok1 := p.Pins[1]
	b, ok2 := p.Pins[2]
	if !ok1 || !ok2 {
		return nil
	}
	ohms := p.Ohms
	if ohms == 0 {
		ohms = 10000
	}
	open := n.cond(func(f Fault) bool { return f.Ref == p.Ref && (f.Kind == "open" || f.Kind == "joint-open") })
	n.res = append(n.res, resistor{n.byName[a], n.byName[b], ohms, open})
	if short := n.cond(func(f Fault) bool { return f.Ref == p.Ref && f.Kind == "short" }); short != "" {
		n.link(wireLink{a: n.byName[a], b: n.byName[b], plain: true, short: true, on: short, entity: -1})
	}
	return nil
}

// connect gives each signal pin its node: the net, or its own side of a joint that a fault may open.
func (n *network) connect(u *unit) {
	for _, pin := range u.model.signalPins() {
		net, connected := u.Pins[pin]
		own := fmt.Sprintf("%s#%d", u.Ref, pin)
		open := n.pinCond("joint-open", u.Ref, pin)
		switch {
		case !connected:
			u.node[pin] = n.addNode(own, false)
		case open != "":
			u.node[pin] = n.addNode(own, false)
			n.link(wireLink{a: u.node[pin], b: n.byName[net], plain: true, on: "~(" + open + ")", entity: -1})
		default:
			u.node[pin] = n.byName[net]
		}
		if n.rail[u.node[pin]] {
			continue
		}
		at := n.nodes[u.node[pin]]
		if c := n.pinCond("input-low", u.Ref, pin); c != "" {
			at.sup0 = append(at.sup0, c)
		}
		if c := n.pinCond("input-high", u.Ref, pin); c != "" {
			at.sup1 = append(at.sup1, c)
		}
	}
}

// anyBipolar tells whether an input from outside meets a bipolar part on its net.
func (n *network) anyBipolar(net string) bool {
	for _, u := range n.units {
		for _, name := range u.Pins {
			if name == net && u.bipolar {
				return true
			}
		}
	}
	return false
}

// dead gives the condition under which no output of the part drives anything.
func (n *network) dead(u *unit) string {
	return n.cond(func(f Fault) bool {
		_, supply := u.model.Record.Supply[f.Pin]
		return f.Ref == u.Ref && (f.Kind == "part-dead" || f.Kind == "no-supply" || (f.Kind == "joint-open" && supply))
	})
}

func (n *network) checkFaults() error {
	for _, f := range n.faults {
		found := false
		switch f.Kind {
		case "net-low", "net-high", "bridge":
			found = true
		case "source-low", "source-high", "source-dead":
			for _, name := range n.board.Inputs {
				found = found || name == f.Net
			}
		case "open", "short", "joint-open", "part-dead", "no-supply", "part-erratic", "input-low", "input-high", "input-open":
			for _, p := range n.board.Parts {
				found = found || p.Ref == f.Ref
			}
		case "output-low", "output-high", "output-open":
			for _, u := range n.units {
				for _, d := range u.model.drivers {
					found = found || (u.Ref == f.Ref && d.pin == f.Pin)
				}
			}
		default:
			return fmt.Errorf("unknown kind of fault %q", f.Kind)
		}
		if !found {
			return fmt.Errorf("fault %+v fits nothing on the board", f)
		}
	}
	return nil
}

// makeGroups joins nodes that links or resistors connect. A rail is in no group: what is connected to it reads its
// level, which nothing changes.
func (n *network) makeGroups() {
	parent := make([]int, len(n.nodes))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			i = parent[i]
		}
		return i
	}
	for _, l := range n.links {
		parent[find(l.a)] = find(l.b)
	}
	for _, r := range n.res {
		if !n.rail[r.a] && !n.rail[r.b] {
			parent[find(r.a)] = find(r.b)
		}
	}
	index := map[int]int{}
	for i, at := range n.nodes {
		root := find(i)
		g, ok := index[root]
		if !ok {
			g = len(n.groups)
			index[root] = g
			n.groups = append(n.groups, &group{})
		}
		at.group, at.place = g, len(n.groups[g].nodes)
		n.groups[g].nodes = append(n.groups[g].nodes, i)
	}
	for _, l := range n.links {
		g := n.groups[n.nodes[l.a].group]
		g.links = append(g.links, l)
	}
	for _, r := range n.res {
		a, b := n.nodes[r.a].group, n.nodes[r.b].group
		switch {
		case a == b:
			n.groups[a].resistors = append(n.groups[a].resistors, r)
		case n.rail[r.a] && n.rail[r.b]:
		case n.rail[r.a]:
			n.groups[b].rails = append(n.groups[b].rails, resistor{r.b, r.a, r.ohms, r.open})
		default:
			n.groups[a].rails = append(n.groups[a].rails, r)
		}
	}
}

// markFamilies finds for each node whether an output that can drive it, or a net joined to it, is not bipolar. A
// resistor joins only while a fault shorts it.
func (n *network) markFamilies() {
	for _, at := range n.nodes {
		for _, d := range at.drives {
			at.cmos = at.cmos || !d.bipolar
		}
	}
	n.spread(func(l wireLink) bool { return !l.short }, func(at *node) *bool { return &at.cmos })
	for _, l := range n.links {
		if !l.short {
			continue
		}
		reached := make([]bool, len(n.nodes))
		place := map[*node]*bool{}
		for i, at := range n.nodes {
			place[at] = &reached[i]
			reached[i] = at.cmos && (i == l.a || i == l.b)
		}
		n.spread(func(o wireLink) bool { return !o.short || o == l }, func(at *node) *bool { return place[at] })
		for i, at := range n.nodes {
			if reached[i] && !at.cmos {
				at.cmosIf = append(at.cmosIf, l.on)
			}
		}
	}
}

// spread carries a mark along the links that join.
func (n *network) spread(joins func(wireLink) bool, mark func(*node) *bool) {
	for changed := true; changed; {
		changed = false
		for _, l := range n.links {
			a, b := mark(n.nodes[l.a]), mark(n.nodes[l.b])
			if joins(l) && *a != *b {
				*a, *b, changed = true, true, true
			}
		}
	}
}
