package oracle

// The Verilog of a board: parts, nets, faults. One module holds the board; what drives it is in bench.go.

import (
	"fmt"
	"strings"
)

// gate is a register through which a loop reads something that is not part of it: when that has changed, the loop
// is first settled with it unknown.
type gate struct{ name, source, unknown string }

type writer struct {
	n     *network
	b     *strings.Builder
	gates [][]gate // by loop
}

// writeBoard writes all declarations and assignments of the board module.
func (w *writer) writeBoard() {
	n, b := w.n, w.b
	w.gates = make([][]gate, len(n.loops))
	fmt.Fprintf(b, "reg [%d:0] f; reg tick, init, newm, lim; reg [%d:0] fresh;\n", max(1, len(n.faults))-1, max(1, len(n.loops))-1)
	for i := range n.nodes {
		fmt.Fprintf(b, "wire [4:0] lev%d;\n", i)
	}
	done := map[*Model]bool{}
	for _, u := range n.units {
		if !done[u.model] {
			done[u.model] = true
			u.model.verilogFunctions(b, false)
		}
	}
	b.WriteString(levelFunction)
	b.WriteString(hearFunction)
	w.inputs()
	for _, u := range n.units {
		w.unitWires(u)
	}
	for i, e := range n.ents {
		switch e.kind {
		case "driver", "switch":
			w.control(i, e)
		case "read":
			w.read(e)
		}
	}
	for _, u := range n.units {
		for i := range u.model.drivers {
			w.contribution(u, i)
		}
	}
	for i := range n.nodes {
		w.summary(i)
	}
	for gi := range n.groups {
		w.levels(gi)
	}
	for _, u := range n.units {
		w.hearing(u)
	}
}

// inputs writes what drives from outside: in<i> is the set {Z, 1, 0} that the steps set.
func (w *writer) inputs() {
	for i, net := range w.n.board.Inputs {
		at := func(kind string) string {
			return w.n.cond(func(f Fault) bool { return f.Kind == kind && f.Net == net })
		}
		fmt.Fprintf(w.b, "reg [2:0] in%d; wire [2:0] ci%d = %s;\n", i, i,
			choose([][2]string{{at("source-low"), "3'b001"}, {at("source-high"), "3'b010"}, {at("source-dead"), "3'b100"}}, fmt.Sprintf("in%d", i)))
	}
}

// choose writes a chain of conditional operators, leaving out empty conditions.
func choose(cases [][2]string, otherwise string) string {
	var s strings.Builder
	for _, c := range cases {
		if c[0] != "" {
			fmt.Fprintf(&s, "(%s) ? %s : ", c[0], c[1])
		}
	}
	return s.String() + otherwise
}

func (w *writer) unitWires(u *unit) {
	m, b := u.model, w.b
	fmt.Fprintf(b, "wire [%d:1] h_%s;\n", m.pins, u.id)
	for i := range m.drivers {
		fmt.Fprintf(b, "wire [2:0] d_%s_%d, c_%s_%d;\n", u.id, i, u.id, i)
	}
	for i := range m.switches {
		fmt.Fprintf(b, "wire [2:0] w_%s_%d;\n", u.id, i)
	}
	if m.bits == 0 && m.memory == nil {
		return
	}
	word, addr := 1, 1
	if m.memory != nil {
		word, addr = m.memory.bits, len(m.memory.address)
	}
	fmt.Fprintf(b, "wire [%d:0] s_%s; wire [%d:0] rd_%s; wire [%d:0] ra_%s; wire ch_%s;\n", max(1, m.bits)-1, u.id, word-1, u.id, addr-1, u.id, u.id)
	fmt.Fprintf(b, "st_%s %s(h_%s, ra_%s, tick, init, newm, lim, s_%s, rd_%s, ch_%s);\n", m.name, u.id, u.id, u.id, u.id, u.id, u.id)
	if m.memory == nil {
		fmt.Fprintf(b, "assign ra_%s = 1'b0;\n", u.id)
	}
}

// control writes a driver or a switch control; in a loop, what it reads from outside the loop comes through gates.
func (w *writer) control(id int, e *entity) {
	pins, state, word := "h_"+e.u.id, "s_"+e.u.id, "rd_"+e.u.id
	if e.loop < 0 {
		fmt.Fprintf(w.b, "assign %s = %s;\n", e.wire(), e.fn.call(pins, state, word))
		return
	}
	args := make([]string, len(e.fn.leaves))
	for i, l := range e.fn.leaves {
		base := map[leafKind]string{pinLeaf: pins, stateLeaf: state, memoryLeaf: word}[l.kind]
		source := fmt.Sprintf("%s[%d]", base, l.bit)
		args[len(args)-1-i] = source
		if !w.n.inLoop(e, l) {
			name := fmt.Sprintf("gl_%d_%d", id, i)
			fmt.Fprintf(w.b, "reg %s;\n", name)
			w.gates[e.loop] = append(w.gates[e.loop], gate{name, source, "1'bx"})
			args[len(args)-1-i] = name
		}
	}
	fmt.Fprintf(w.b, "assign %s = x_%s({%s});\n", e.wire(), e.fn.name, strings.Join(args, ", "))
}

// inLoop tells whether the leaf is computed within the entity's own loop.
func (n *network) inLoop(e *entity, l leaf) bool {
	for _, i := range n.loops[e.loop].members {
		other := n.ents[i]
		if l.kind == pinLeaf && other.kind == "group" && n.nodes[e.u.node[l.bit]].group == other.index {
			return true
		}
		if l.kind == memoryLeaf && other.kind == "read" && other.u == e.u {
			return true
		}
	}
	return false
}

func (w *writer) read(e *entity) {
	for i, pin := range e.u.model.memory.address {
		source := fmt.Sprintf("h_%s[%d]", e.u.id, pin)
		if e.loop >= 0 && !w.n.inLoop(e, leaf{pinLeaf, pin}) {
			name := fmt.Sprintf("ga_%s_%d", e.u.id, i)
			fmt.Fprintf(w.b, "reg %s;\n", name)
			w.gates[e.loop] = append(w.gates[e.loop], gate{name, source, "1'bx"})
			source = name
		}
		fmt.Fprintf(w.b, "assign ra_%s[%d] = %s;\n", e.u.id, i, source)
	}
}

// contribution is what a driver gives after the faults at its pin and of its part.
func (w *writer) contribution(u *unit, i int) {
	pin := u.model.drivers[i].pin
	erratic := w.n.cond(func(f Fault) bool { return f.Kind == "part-erratic" && f.Ref == u.Ref })
	fmt.Fprintf(w.b, "assign c_%s_%d = %s;\n", u.id, i, choose([][2]string{
		{w.n.pinCond("output-low", u.Ref, pin), "3'b001"},
		{w.n.pinCond("output-high", u.Ref, pin), "3'b010"},
		{w.n.pinCond("output-open", u.Ref, pin), "3'b100"},
		{w.n.dead(u), "3'b100"},
		{erratic, "3'b111"},
	}, fmt.Sprintf("d_%s_%d", u.id, i)))
}

// summary writes what stands at a node (see groupfn.go).
func (w *writer) summary(i int) {
	at := w.n.nodes[i]
	inLoop := w.n.groupLoop(at.group)
	var zero, one, off []string
	for k, d := range at.drives {
		wire := d.wire
		if inLoop >= 0 && (d.entity < 0 || w.n.ents[d.entity].loop != inLoop) {
			name := fmt.Sprintf("gd_%d_%d", i, k)
			fmt.Fprintf(w.b, "reg [2:0] %s;\n", name)
			w.gates[inLoop] = append(w.gates[inLoop], gate{name, wire, "3'b111"})
			wire = name
		}
		zero, one, off = append(zero, wire+"[0]"), append(one, wire+"[1]"), append(off, wire+"[2]")
	}
	either := func(conds []string) string {
		if len(conds) == 0 {
			return "1'b0"
		}
		return strings.Join(conds, "|")
	}
	cmos := either(at.cmosIf)
	if at.cmos {
		cmos = "1'b1"
	}
	if len(zero) == 0 {
		fmt.Fprintf(w.b, "wire [9:0] nd%d = {%s, %s, %s, 7'b0010000};\n", i, either(at.sup1), either(at.sup0), cmos)
		return
	}
	k := len(zero) - 1
	join := func(list []string) string { return "{" + strings.Join(list, ", ") + "}" }
	fmt.Fprintf(w.b, "wire [%d:0] z%d = %s, o%d = %s, y%d = %s, a%d = z%d | o%d;\n", k, i, join(zero), i, join(one), i, join(off), i, i, i)
	fmt.Fprintf(w.b, "wire [9:0] nd%d = {%s, %s, %s, |(a%d & (a%d - 1)), |a%d, &y%d, |(o%d & ~z%d & ~y%d), |(z%d & ~o%d & ~y%d), |o%d, |z%d};\n",
		i, either(at.sup1), either(at.sup0), cmos, i, i, i, i, i, i, i, i, i, i, i, i)
}

func (n *network) groupLoop(g int) int {
	for _, e := range n.ents {
		if e.kind == "group" && e.index == g {
			return e.loop
		}
	}
	return -1
}

// levels writes the levels lev<node> of a group. A loop that starts fresh first makes them unknown.
func (w *writer) levels(gi int) {
	g := w.n.groups[gi]
	loop := w.n.groupLoop(gi)
	all := ""
	if loop >= 0 {
		all = fmt.Sprintf("fresh[%d] ? {%d{5'b01111}} : ", loop, len(g.nodes))
	}
	if g.trivial() {
		i := g.nodes[0]
		fmt.Fprintf(w.b, "assign lev%d = %slv(nd%d);\n", i, all, i)
		return
	}
	w.n.writeGroup(w.b, gi)
	var args []string
	for _, i := range g.nodes {
		args = append(args, fmt.Sprintf("nd%d", i))
	}
	for k, l := range g.links {
		if l.plain {
			args = append(args, l.on, "~("+l.on+")")
		} else {
			on := l.on
			if loop >= 0 && w.n.ents[l.entity].loop != loop {
				name := fmt.Sprintf("gw_%d_%d", gi, k)
				fmt.Fprintf(w.b, "reg [2:0] %s;\n", name)
				w.gates[loop] = append(w.gates[loop], gate{name, on, "3'b011"})
				on = name
			}
			args = append(args, on+"[1]", on+"[0]")
		}
	}
	open := func(r resistor) string {
		if r.open == "" {
			return "1'b0"
		}
		return "|{" + r.open + "}"
	}
	for _, r := range g.resistors {
		args = append(args, open(r))
	}
	for _, r := range g.rails {
		args = append(args, fmt.Sprintf("lev%d[3:0]", r.b), open(r))
	}
	// The vector's first element is its lowest part.
	for i, j := 0, len(args)-1; i < j; i, j = i+1, j-1 {
		args[i], args[j] = args[j], args[i]
	}
	k := len(g.nodes)
	fmt.Fprintf(w.b, "wire [%d:0] lg%d = %sg%d({%s});\n", 5*k-1, gi, all, gi, strings.Join(args, ", "))
	for p, i := range g.nodes {
		fmt.Fprintf(w.b, "assign lev%d = lg%d[%d:%d];\n", i, gi, 5*p+4, 5*p)
	}
}

// hearing writes what each pin of the part hears.
func (w *writer) hearing(u *unit) {
	bip, open := "1'b0", "1'bx"
	if u.bipolar {
		bip, open = "1'b1", "1'b1"
	}
	for pin := 1; pin <= u.model.pins; pin++ {
		node, ok := u.node[pin]
		if !ok {
			fmt.Fprintf(w.b, "assign h_%s[%d] = 1'bx;\n", u.id, pin)
			continue
		}
		fmt.Fprintf(w.b, "assign h_%s[%d] = %s;\n", u.id, pin, choose([][2]string{
			{w.n.pinCond("input-open", u.Ref, pin), open},
			{w.n.pinCond("input-low", u.Ref, pin), "1'b0"},
			{w.n.pinCond("input-high", u.Ref, pin), "1'b1"},
		}, fmt.Sprintf("hear(lev%d, %s)", node, bip)))
	}
}
