package draw

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// The circuit around the suspects, laid out from left to right along the signal. The layout is the usual one in four steps, after
// Sugiyama, Tagawa and Toda (1981): break the loops, put blocks into columns, order each column by the middle of its neighbours, route.
// What would need a long or a backward wire ends in a stub with the net's name, as do rails and lines with many listeners.

// NeighbourhoodOptions says what to draw.
type NeighbourhoodOptions struct {
	Parts, Nets []int         // what is asked about: part and net indices
	Hops        int           // how far around; 0 counts as 1
	Levels      map[int]Level // by net index
	Path        []int         // nets along which the wrong level travels, in order
	Probe       []int         // pins to ring, indices into Circuit.Pins
	Most        int           // blocks at most; 0 is 24
}

// manyListeners is the number of drawn pins from which on a net is not wired but named at each pin.
const manyListeners = 7

// manyDrivers is the number of outputs up to which what drives a net counts as its neighbour; a common bus has more.
const manyDrivers = 4

// Neighbourhood draws the blocks around some parts and nets. The picture is empty (W = 0) when nothing asked about has a block.
func Neighbourhood(c *circuit.Circuit, o NeighbourhoodOptions) Picture {
	s := &scheme{c: c, o: o}
	left := s.choose()
	if len(s.blocks) == 0 {
		return Picture{}
	}
	dist := distances(c)
	for i := range s.blocks {
		s.blocks[i].aim(c, dist)
	}
	s.trim()
	s.layer()
	s.wires()
	s.bundles()
	s.measure()
	s.order()
	s.settle()
	return s.draw(left)
}

// scheme is a neighbourhood in the making.
type scheme struct {
	c      *circuit.Circuit
	o      NeighbourhoodOptions
	blocks []block
	column []int          // of a block
	nets   map[int]*wired // drawn nets that have a wire
	items  [][]*item      // by column, from top to bottom
	tagged map[int]end    // net → the port where its level is written
	onPath map[int]int    // net → place in the path, from 1
}

// end is a port of a block.
type end struct{ block, port int }

// wired is a net with a wire: the ports it joins, and the columns it spans.
type wired struct {
	net        int
	from, to   []end
	first, end int // columns
}

// choose takes the blocks that are asked about, then those around them, up to the most that are wanted; it returns the names of those
// for which there was no room.
func (s *scheme) choose() (left []string) {
	c, o := s.c, s.o
	most := o.Most
	if most <= 0 {
		most = 24
	}
	hops := max(o.Hops, 1)
	all := make([][]block, len(c.Parts))
	blocks := func(pi int) []block {
		if all[pi] == nil {
			all[pi] = blocksOf(c, pi)
		}
		return all[pi]
	}
	taken := map[string]bool{}
	var leftSeen = map[string]bool{}
	take := func(b block) {
		switch {
		case taken[b.name] || leftSeen[b.name]:
		case len(s.blocks) >= most:
			leftSeen[b.name] = true
			left = append(left, b.name)
		default:
			taken[b.name] = true
			s.blocks = append(s.blocks, b)
		}
	}
	on := func(b block, net int) bool {
		return slices.ContainsFunc(b.ports, func(x port) bool { return x.net == net })
	}
	touching := func(net int, drivers bool) {
		for _, id := range c.Nets[net].Pins {
			if drives := c.Pins[id].Driver != none; drives == drivers {
				for _, b := range blocks(c.Pins[id].Part) {
					if slices.ContainsFunc(b.ports, func(x port) bool { return x.pin == id }) {
						take(b)
					}
				}
			}
		}
	}
	s.onPath = map[int]int{}
	for i, n := range o.Path {
		if s.onPath[n] == 0 {
			s.onPath[n] = i + 1
		}
		touching(n, true)
		if i == 0 {
			continue
		}
		for _, id := range c.Nets[n].Pins {
			for _, b := range blocks(c.Pins[id].Part) {
				if on(b, n) && on(b, o.Path[i-1]) {
					take(b)
				}
			}
		}
	}
	for _, p := range o.Parts {
		for _, b := range blocks(p) {
			take(b)
		}
	}
	for _, id := range o.Probe {
		for _, b := range blocks(c.Pins[id].Part) {
			if slices.ContainsFunc(b.ports, func(x port) bool { return x.pin == id }) {
				take(b)
			}
		}
	}
	for _, n := range o.Nets {
		if !c.Nets[n].Rail {
			touching(n, true)
		}
	}
	for _, n := range slices.Concat(o.Nets, o.Path) {
		if !c.Nets[n].Rail {
			touching(n, false)
		}
	}
	for from := 0; hops > 0; hops-- {
		to := len(s.blocks)
		for i := from; i < to; i++ {
			for _, drivers := range []bool{true, false} {
				for _, x := range s.blocks[i].ports {
					if n := &c.Nets[x.net]; !n.Rail && (drivers && len(n.Drivers) <= manyDrivers || !drivers && len(n.Pins) <= manyListeners+2) {
						touching(x.net, drivers)
					}
				}
			}
		}
		from = to
	}
	return left
}

// mostPorts is the number of pins of a block from which on pins that lead nowhere in the drawing are only counted.
const mostPorts = 18

// trim leaves out pins of big blocks that no other block shares and nobody asked about.
func (s *scheme) trim() {
	uses := map[int]int{}
	for _, b := range s.blocks {
		for _, x := range b.ports {
			uses[x.net]++
		}
	}
	for i := range s.blocks {
		b := &s.blocks[i]
		if len(b.ports) <= mostPorts {
			continue
		}
		keep := slices.DeleteFunc(slices.Clone(b.ports), func(x port) bool {
			return s.c.Nets[x.net].Rail || !s.asked(x) && uses[x.net] < 2
		})
		b.more = len(b.ports) - len(keep)
		b.ports = keep
	}
}

// asked tells whether a port must be drawn singly.
func (s *scheme) asked(x port) bool {
	_, level := s.o.Levels[x.net]
	return level || s.onPath[x.net] > 0 || slices.Contains(s.o.Nets, x.net) || slices.Contains(s.o.Probe, x.pin)
}

// wires decides which nets are drawn as wires; every other port gets a stub with the net's name.
func (s *scheme) wires() {
	s.nets = map[int]*wired{}
	for n, ends := range s.ends() {
		if s.c.Nets[n].Rail || len(ends) > manyListeners && s.onPath[n] == 0 {
			continue
		}
		w := &wired{net: n, first: len(s.blocks), end: -1}
		for _, e := range ends {
			if s.at(e).out {
				w.first = min(w.first, s.column[e.block])
			}
		}
		for _, e := range ends {
			if col := s.column[e.block]; !s.at(e).out && col > w.first && (col <= w.first+3 || s.leadsOn(e)) {
				w.to = append(w.to, e)
				w.end = max(w.end, col)
			}
		}
		for _, e := range ends {
			if s.at(e).out && s.column[e.block] < w.end {
				w.from = append(w.from, e)
			}
		}
		if len(w.from) > 0 && len(w.to) > 0 {
			s.nets[n] = w
		}
	}
}

// ends lists the ports of every drawn net.
func (s *scheme) ends() map[int][]end {
	out := map[int][]end{}
	for i := range s.blocks {
		for k, x := range s.blocks[i].ports {
			if x.bundle == nil {
				out[x.net] = append(out[x.net], end{i, k})
			}
		}
	}
	return out
}

func (s *scheme) at(e end) *port { return &s.blocks[e.block].ports[e.port] }

// isWired tells whether a wire, not a stub, ends at a port.
func (s *scheme) isWired(e end) bool {
	w := s.nets[s.at(e).net]
	return w != nil && s.at(e).bundle == nil && (slices.Contains(w.from, e) || slices.Contains(w.to, e))
}

// bundles draws three or more stubs of one bus on one side of a big block as one.
func (s *scheme) bundles() {
	for i := range s.blocks {
		b := &s.blocks[i]
		for _, out := range []bool{false, true} {
			side := 0
			for _, x := range b.ports {
				if x.out == out {
					side++
				}
			}
			if side <= 8 {
				continue
			}
			for _, bus := range s.c.Board.Buses {
				var in []int
				for k, x := range b.ports {
					name := s.c.Nets[x.net].Name
					onBus := slices.ContainsFunc(bus.Nets, func(n board.Name) bool { return n.Text == name })
					if x.out == out && onBus && x.bundle == nil && !s.asked(x) && !s.isWired(end{i, k}) {
						in = append(in, k)
					}
				}
				if len(in) >= 3 {
					s.bundle(b, in, bus)
					s.wires() // ports have moved
				}
			}
		}
	}
}

func (s *scheme) bundle(b *block, in []int, bus board.Bus) {
	x := b.ports[in[0]]
	for _, k := range in {
		x.bundle = append(x.bundle, b.ports[k].pin)
	}
	var lines []string // as the bus lists them
	for _, n := range bus.Nets {
		if slices.ContainsFunc(in, func(k int) bool { return s.c.Nets[b.ports[k].net].Name == n.Text }) {
			lines = append(lines, n.Text)
		}
	}
	x.label = "bus " + bus.Name + ": " + lines[0]
	if len(lines) > 1 {
		x.label += " to " + lines[len(lines)-1]
	}
	b.ports[in[0]] = x
	n := -1
	b.ports = slices.DeleteFunc(b.ports, func(port) bool { n++; return n != in[0] && slices.Contains(in, n) })
}

// said tells in words what is not drawn.
func said(left []string) string {
	if len(left) == 0 {
		return ""
	}
	if len(left) > 12 {
		return fmt.Sprintf("no room for %d more around here: %s and others", len(left), strings.Join(left[:10], ", "))
	}
	return "no room for " + strings.Join(left, ", ")
}

// leadsOn tells whether the path goes on through the block at a listening port.
func (s *scheme) leadsOn(e end) bool {
	k := s.onPath[s.at(e).net]
	if k == 0 || k == len(s.o.Path) {
		return false
	}
	return slices.ContainsFunc(s.blocks[e.block].ports, func(x port) bool { return x.net == s.o.Path[k] })
}
