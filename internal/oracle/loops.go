package oracle

// What depends on what within a round, and the loops in it.

import "fmt"

// entity is something computed within a round: a driver, a switch control, a memory's read word (of unit u), or a
// group of nodes.
type entity struct {
	kind  string // "driver", "switch", "read", "group"
	u     *unit
	index int // driver, switch or group index
	fn    *function
	loop  int // index into loops, -1: none
}

func (e *entity) wire() string {
	switch e.kind {
	case "driver":
		return fmt.Sprintf("d_%s_%d", e.u.id, e.index)
	case "switch":
		return fmt.Sprintf("w_%s_%d", e.u.id, e.index)
	}
	return ""
}

// loop is a set of entities that feed back on each other. fresh: it exists only because of a fault and starts from
// unknown whenever it is settled.
type loop struct {
	members []int
	fresh   bool
}

func (n *network) makeEntities() {
	for _, u := range n.units {
		for i, d := range u.model.drivers {
			id := len(n.ents)
			n.ents = append(n.ents, &entity{kind: "driver", u: u, index: i, fn: d.fn, loop: -1})
			at := n.nodes[u.node[d.pin]]
			at.drives = append(at.drives, drive{fmt.Sprintf("c_%s_%d", u.id, i), u.bipolar, id})
		}
		for i, s := range u.model.switches {
			id := len(n.ents)
			n.ents = append(n.ents, &entity{kind: "switch", u: u, index: i, fn: s.fn, loop: -1})
			n.link(wireLink{a: u.node[s.a], b: u.node[s.b], on: fmt.Sprintf("w_%s_%d", u.id, i), entity: id})
		}
		if u.model.memory != nil {
			n.ents = append(n.ents, &entity{kind: "read", u: u, loop: -1})
		}
	}
}

// dependencies gives for each entity the entities it reads directly.
func (n *network) dependencies() [][]int {
	groups := len(n.ents)
	for g := range n.groups {
		n.ents = append(n.ents, &entity{kind: "group", index: g, loop: -1})
	}
	reads := map[*unit]int{}
	for i, e := range n.ents {
		if e.kind == "read" {
			reads[e.u] = i
		}
	}
	deps := make([][]int, len(n.ents))
	for i, e := range n.ents {
		switch e.kind {
		case "driver", "switch":
			for _, l := range e.fn.leaves {
				switch l.kind {
				case pinLeaf:
					deps[i] = append(deps[i], groups+n.nodes[e.u.node[l.bit]].group)
				case memoryLeaf:
					deps[i] = append(deps[i], reads[e.u])
				}
			}
		case "read":
			for _, pin := range e.u.model.memory.address {
				deps[i] = append(deps[i], groups+n.nodes[e.u.node[pin]].group)
			}
		case "group":
			g := n.groups[e.index]
			for _, at := range g.nodes {
				for _, d := range n.nodes[at].drives {
					if d.entity >= 0 {
						deps[i] = append(deps[i], d.entity)
					}
				}
			}
			for _, l := range g.links {
				if l.entity >= 0 {
					deps[i] = append(deps[i], l.entity)
				}
			}
		}
	}
	return deps
}

// findLoops finds the strongly connected sets of entities (Tarjan), in an order in which each set comes after those
// it reads.
func (n *network) findLoops() {
	deps := n.dependencies()
	count := 0
	order, low := make([]int, len(deps)), make([]int, len(deps))
	onStack := make([]bool, len(deps))
	var stack []int
	var visit func(int)
	visit = func(v int) {
		count++
		order[v], low[v] = count, count
		stack = append(stack, v)
		onStack[v] = true
		for _, w := range deps[v] {
			if order[w] == 0 {
				visit(w)
				low[v] = min(low[v], low[w])
			} else if onStack[w] {
				low[v] = min(low[v], order[w])
			}
		}
		if low[v] != order[v] {
			return
		}
		var set []int
		for {
			w := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			onStack[w] = false
			set = append(set, w)
			if w == v {
				break
			}
		}
		if len(set) > 1 {
			for _, w := range set {
				n.ents[w].loop = len(n.loops)
			}
			n.loops = append(n.loops, loop{members: set})
		}
	}
	for v := range deps {
		if order[v] == 0 {
			visit(v)
		}
	}
}

// markFresh marks the loops that the board without its bridges does not have, with the same drivers, switches and
// nets.
func (n *network) markFresh(plain *network) {
	for i := range n.loops {
		n.loops[i].fresh = true
		for _, l := range plain.loops {
			if n.key(n.loops[i]) == plain.key(l) {
				n.loops[i].fresh = false
			}
		}
	}
}

// key names a loop by its drivers and switches, which are numbered alike in both networks, and its nets.
func (n *network) key(l loop) string {
	entities, nets := map[int]bool{}, map[int]bool{}
	for _, e := range l.members {
		if n.ents[e].kind != "group" {
			entities[e] = true
			continue
		}
		for _, i := range n.groups[n.ents[e].index].nodes {
			if n.nodes[i].net {
				nets[i] = true
			}
		}
	}
	return fmt.Sprint(sortedKeys(entities), sortedKeys(nets))
}

// adoptDrivers takes into each loop the drivers that are no part of a loop but drive a net of this one: what they
// read is then an input of the loop.
func (n *network) adoptDrivers() {
	for k, l := range n.loops {
		for _, e := range l.members {
			if n.ents[e].kind != "group" {
				continue
			}
			for _, at := range n.groups[n.ents[e].index].nodes {
				for _, d := range n.nodes[at].drives {
					if d.entity >= 0 && n.ents[d.entity].loop < 0 {
						n.ents[d.entity].loop = k
					}
				}
			}
		}
	}
}
