package draw

import (
	"cmp"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Functional units: the gates, flip-flops and resistors that share one package but nothing inside it.

// block is one functional unit of a part. The blocks of one part are lettered in the order of their lowest pin.
type block struct {
	part  int
	name  string
	ports []port
	more  int // pins not drawn
}

// port is one pin of a block, or several lines of one bus drawn as one.
type port struct {
	pin, net int
	out      bool // on the right
	bundle   []int
	label    string // of a bundle
}

// nodesOf lists the nodes and stored bits that a statement ties together; bits count from the number of nodes on. Loose statements
// (a resistor, a diode, a contact) do not tie their ends to others through a supply rail.
func nodesOf(t *part.Type, s *part.Stmt) (all []int, loose bool) {
	add := func(e part.Expr) {
		e.Leaves(func(l part.Expr) {
			if l.Op == part.OpBit {
				all = append(all, len(t.Nodes)+l.Index)
			} else {
				all = append(all, l.Index)
			}
		})
	}
	for _, n := range []int{s.Node, s.A, s.B, s.Ctl, s.Ctl2} {
		if n >= 0 {
			all = append(all, n)
		}
	}
	add(s.Expr)
	add(s.Cond)
	for _, c := range s.Clauses {
		add(c.Cond)
		add(c.Val)
	}
	for _, e := range slices.Concat(s.Address, s.Data) {
		add(e)
	}
	switch s.Kind {
	case part.Store:
		all = append(all, len(t.Nodes)+s.Bit)
	case part.RAM, part.ROM:
		for b := range s.Width {
			all = append(all, len(t.Nodes)+s.Bit+b)
		}
	case part.Link, part.Resistor, part.Diode, part.LED, part.Lamp, part.Fuse, part.Contact:
		loose = true
	}
	return all, loose
}

// blocksOf splits a part into its functional units; units whose pins are all on rails or wired to nothing are left out.
func blocksOf(c *circuit.Circuit, pi int) []block {
	p := &c.Parts[pi]
	t := p.Type
	root := make([]int, len(t.Nodes)+t.Bits())
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	onRail := func(n int) bool {
		return n < len(t.Nodes) && p.NodePin[n] != none && c.Nets[c.Pins[p.NodePin[n]].Net].Rail
	}
	whole := t.Opaque || len(t.Stmts) == 0 || strings.HasPrefix(t.Name, "digit")
	railOf := map[int][]int{} // a node of a loose statement → its ends on rails
	spoken := make([]bool, len(root))
	for i := range t.Stmts {
		nodes, loose := nodesOf(t, &t.Stmts[i])
		free := slices.Clone(nodes)
		if loose && !whole {
			free = slices.DeleteFunc(free, onRail)
		}
		for _, n := range nodes {
			spoken[n] = true
			if loose && len(free) > 0 && onRail(n) && !slices.Contains(railOf[free[0]], n) {
				railOf[free[0]] = append(railOf[free[0]], n)
			}
		}
		for k := 1; k < len(free); k++ {
			root[find(free[k])] = find(free[0])
		}
	}
	first := -1 // the unit that takes what no statement speaks of
	for n := range t.Nodes {
		switch {
		case t.Nodes[n].Supply:
		case first < 0:
			first = n
		case whole || !spoken[n]:
			root[find(n)] = find(first)
		}
	}
	groups := map[int][]int{}
	for n := range t.Nodes {
		if !t.Nodes[n].Supply {
			groups[find(n)] = append(groups[find(n)], n)
		}
	}
	shared := map[int]bool{} // supply ends of loose statements belong to several units and found none
	for n, rails := range railOf {
		for _, r := range rails {
			shared[r] = true
			if g := groups[find(n)]; !slices.Contains(g, r) {
				groups[find(n)] = append(g, r)
			}
		}
	}
	return lettered(c, pi, groups, shared)
}

// lettered makes units of groups of nodes, lettered by their lowest own pin, so that the third gate is c though the second is unused.
func lettered(c *circuit.Circuit, pi int, groups map[int][]int, shared map[int]bool) []block {
	p := &c.Parts[pi]
	type founded struct {
		lowest int
		nodes  []int
	}
	var all []founded
	for _, nodes := range groups {
		f := founded{nodes: nodes}
		for _, n := range nodes {
			if low := slices.Min(p.Type.Nodes[n].Pins); !shared[n] && (f.lowest == 0 || low < f.lowest) {
				f.lowest = low
			}
		}
		if f.lowest > 0 {
			all = append(all, f)
		}
	}
	slices.SortFunc(all, func(a, b founded) int { return cmp.Compare(a.lowest, b.lowest) })
	var out []block
	for i, f := range all {
		u := block{part: pi, name: p.Ref}
		if len(all) > 1 {
			u.name += letters(i)
		}
		for _, n := range f.nodes {
			if id := p.NodePin[n]; id != none && c.Pins[id].Wired {
				u.ports = append(u.ports, port{pin: id, net: c.Pins[id].Net})
			}
		}
		slices.SortFunc(u.ports, func(a, b port) int { return cmp.Compare(a.pin, b.pin) })
		if slices.ContainsFunc(u.ports, func(x port) bool { return !c.Nets[x.net].Rail }) {
			out = append(out, u)
		}
	}
	return out
}

// letters counts a, b, … z, aa, ab …
func letters(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letters(i/26-1) + letters(i%26)
}

// far is the distance of a net that nothing drives.
const far = 1000

// distances counts, for every net, the links between it and the nearest output or input from outside; nets that only a rail reaches
// begin at far. Signals run from low to high.
func distances(c *circuit.Circuit) []int {
	d := make([]int, len(c.Nets))
	var queue []int
	start := func(n, at int) {
		if d[n] < 0 {
			d[n] = at
			queue = append(queue, n)
		}
	}
	for i := range d {
		d[i] = -1
	}
	spread := func() {
		for len(queue) > 0 {
			n := queue[0]
			queue = queue[1:]
			if c.Nets[n].Rail && d[n] < far {
				continue
			}
			for _, l := range c.Nets[n].Links {
				k := &c.Links[l]
				for _, to := range []int{k.A, k.B} {
					if !c.Nets[to].Rail {
						start(to, d[n]+1)
					}
				}
			}
			for _, l := range byControl(c, n) {
				for _, to := range []int{l.A, l.B} {
					if !c.Nets[to].Rail {
						start(to, d[n]+1)
					}
				}
			}
		}
	}
	for n := range c.Nets {
		if len(c.Nets[n].Drivers) > 0 || c.Nets[n].Input != none {
			start(n, 0)
		}
	}
	spread()
	for n := range c.Nets {
		if c.Nets[n].Rail {
			start(n, far)
		}
	}
	spread()
	for n := range d {
		if d[n] < 0 {
			d[n] = 2 * far
		}
	}
	return d
}

// byControl lists the links of the parts on a net that the net controls.
func byControl(c *circuit.Circuit, n int) []circuit.Link {
	var out []circuit.Link
	for _, id := range c.Nets[n].Pins {
		for _, l := range c.Parts[c.Pins[id].Part].Links {
			if k := c.Links[l]; k.Ctl == n || k.Ctl2 == n {
				out = append(out, k)
			}
		}
	}
	return out
}

// aim puts every port on its side: what is heard left, what is driven right; ends of links lie along the way of the signal.
func (u *block) aim(c *circuit.Circuit, dist []int) {
	nearest := -1 // the linked port where the signal comes in
	links := 0
	for i, x := range u.ports {
		q := &c.Pins[x.pin]
		if q.Use&(part.Heard|part.Driven) != 0 {
			u.ports[i].out = q.Driver != none || q.Use&part.Driven != 0
			continue
		}
		if c.Nets[x.net].Rail {
			continue
		}
		links++
		if nearest < 0 || dist[x.net] < dist[u.ports[nearest].net] {
			nearest = i
		}
	}
	control := map[int]bool{}
	for _, l := range c.Parts[u.part].Links {
		if k := &c.Links[l]; k.Ctl != none {
			control[k.Ctl], control[k.Ctl2] = true, true
		}
	}
	digit := strings.HasPrefix(c.Parts[u.part].Type.Name, "digit")
	for i, x := range u.ports {
		q := &c.Pins[x.pin]
		if q.Use&(part.Heard|part.Driven) != 0 {
			continue
		}
		rail := c.Nets[x.net].Rail
		switch source := nearest >= 0 && dist[u.ports[nearest].net] >= far; {
		case digit, q.Inside != none && control[q.Inside], control[x.net]:
			u.ports[i].out = false
		case q.Use == 0: // a connector brings what the board does not drive
			u.ports[i].out = c.Nets[x.net].Input != none || dist[x.net] >= far
		case rail: // a two-ended part to a rail: the rail is where the signal is not
			u.ports[i].out = links == 1 && !source && len(u.ports) == 2
		case links == 1:
			u.ports[i].out = source || len(u.ports) > 2
		default:
			u.ports[i].out = i != nearest
		}
	}
}
