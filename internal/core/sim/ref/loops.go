package ref

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// The order of settling. Nodes that links tie together form a group, whatever the links do at the moment; rails tie
// nothing, because nothing acts on them. Groups, expressions and memories depend on each other. What depends on itself is a
// loop (a strongly connected component).

// thing is an expression, a memory (which reads out what its address says) or a group of nodes.
type thing struct {
	expression int // else circuit.None
	memory     int // else circuit.None
	nodes      []int
	after      []int // things that depend on this one
}

// component is one thing, or a loop of things.
type component struct {
	things []int
	loop   bool
	fresh  bool // a loop that only a fault makes: it starts from unknown each time
}

// plan is the order of settling of one board.
type plan struct {
	things     []thing
	thingOf    []int // node → thing, None for rails
	components []component
}

// Things are numbered: expressions first, then memories, then groups.
func (w *wiring) plan() *plan {
	p := &plan{}
	for i := range w.expressions {
		p.things = append(p.things, thing{expression: i, memory: circuit.None})
	}
	for i := range w.c.Memories {
		p.things = append(p.things, thing{expression: circuit.None, memory: i})
	}
	p.thingOf = w.groups(p)
	for i, e := range w.expressions {
		e.expr.Leaves(func(l part.Expr) {
			if l.Op == part.OpPin {
				p.depend(w.thingHeard(p, e.part, l.Index), i)
			} else if m := w.memoryOfBit(e.part, l.Index); m != circuit.None {
				p.depend(w.thingOfMemory(m), i)
			}
		})
	}
	for m, lines := range w.addresses {
		for _, e := range lines {
			p.depend(e, w.thingOfMemory(m))
		}
	}
	for _, o := range w.outputs {
		p.depend(o.value, p.thingOf[o.node])
		p.depend(o.cond, p.thingOf[o.node])
		p.depend(o.gate, p.thingOf[o.node])
	}
	for _, x := range w.wires {
		to := p.thingOf[x.a]
		if to == circuit.None {
			to = p.thingOf[x.b]
		}
		for _, ctl := range []int{x.ctl, x.ctl2} {
			if ctl != circuit.None {
				p.depend(p.thingOf[ctl], to)
			}
		}
		if x.link != nil && x.link.Kind == circuit.Switch {
			p.depend(x.cond, to)
		}
	}
	p.components = order(p.things)
	return p
}

func (p *plan) depend(from, to int) {
	if from != circuit.None && to != circuit.None && !slices.Contains(p.things[from].after, to) {
		p.things[from].after = append(p.things[from].after, to)
	}
}

func (w *wiring) thingOfMemory(m int) int { return len(w.expressions) + m }

// groups makes a thing of each group of nodes and returns node → thing.
func (w *wiring) groups(p *plan) []int {
	tied := newSets(w.nodes)
	for _, x := range w.wires {
		if !w.rail(x.a) && !w.rail(x.b) {
			tied.join(x.a, x.b)
		}
	}
	thingOf := slices.Repeat([]int{circuit.None}, w.nodes)
	for n := range w.nodes {
		if w.rail(n) {
			continue
		}
		root := tied.find(n) // the lowest node of its group, so it has been seen
		if root == n {
			thingOf[n] = len(p.things)
			p.things = append(p.things, thing{expression: circuit.None, memory: circuit.None})
		}
		thingOf[n] = thingOf[root]
		p.things[thingOf[n]].nodes = append(p.things[thingOf[n]].nodes, n)
	}
	return thingOf
}

func (w *wiring) thingHeard(p *plan, partIndex, typeNode int) int {
	pin := w.c.Parts[partIndex].NodePin[typeNode]
	if pin == circuit.None {
		return circuit.None
	}
	return p.thingOf[w.nodeOf[pin]]
}

// memoryOfBit gives the memory whose output bit an index of a part is, or None for a stored bit.
func (w *wiring) memoryOfBit(partIndex, bit int) int {
	global := w.c.Parts[partIndex].Bit + bit
	for _, m := range w.c.Parts[partIndex].Memory {
		mem := w.c.Memories[m]
		if global >= mem.Bit && global < mem.Bit+mem.Stmt.Width {
			return m
		}
	}
	return circuit.None
}

// order finds the strongly connected components, each after all that it depends on (R. Tarjan, "Depth-first search and linear
// graph algorithms", SIAM Journal on Computing 1, 1972).
func order(things []thing) []component {
	number := make([]int, len(things)) // from 1 in the order of the visit
	low := make([]int, len(things))
	done := make([]bool, len(things))
	var stack []int
	var out []component
	count := 0
	var visit func(v int)
	visit = func(v int) {
		count++
		number[v], low[v] = count, count
		stack = append(stack, v)
		for _, next := range things[v].after {
			if number[next] == 0 {
				visit(next)
				low[v] = min(low[v], low[next])
			} else if !done[next] {
				low[v] = min(low[v], number[next])
			}
		}
		if low[v] < number[v] {
			return
		}
		at := slices.Index(stack, v)
		comp := component{things: slices.Clone(stack[at:])}
		stack = stack[:at]
		for _, m := range comp.things {
			done[m] = true
		}
		comp.loop = len(comp.things) > 1 || slices.Contains(things[v].after, v)
		out = append(out, comp)
	}
	for v := range things {
		if number[v] == 0 {
			visit(v)
		}
	}
	slices.Reverse(out) // dependents were found first
	return out
}

// compare marks as fresh the loops that the good board does not have: those that are not within one of its loops.
func (p *plan) compare(w *wiring, good *plan, goodWiring *wiring) {
	loopOf := map[int]int{} // net, or -1-memory, of the good board → its loop
	for i, comp := range good.components {
		if comp.loop {
			for _, name := range good.members(goodWiring, comp) {
				loopOf[name] = i + 1
			}
		}
	}
	for i, comp := range p.components {
		names := p.members(w, comp)
		for _, name := range names {
			if comp.loop && (loopOf[name] == 0 || loopOf[name] != loopOf[names[0]]) {
				p.components[i].fresh = true
			}
		}
	}
}

// members names a component's nodes by their nets, and its expressions and memories by negative numbers. A pin that is lifted off a rail
// stands for nothing on the good board and is left out.
func (p *plan) members(w *wiring, comp component) []int {
	var out []int
	for _, t := range comp.things {
		if len(p.things[t].nodes) == 0 {
			out = append(out, -1-t)
		}
		for _, n := range p.things[t].nodes {
			if net := w.netOf[n]; !w.c.Nets[net].Rail {
				out = append(out, net)
			}
		}
	}
	return out
}
