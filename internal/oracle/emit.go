package oracle

// The Verilog text of a model: its functions, exact in three values, and the module that holds its storage.

import (
	"fmt"
	"strings"
)

// verilogFunctions writes the value functions of the model, which storage needs, or the others, which the board needs.
// A value function of width w gives {may be 1, may be 0} (2w bits), a driver or switch function the set {Z, 1, 0} of
// what may be there.
func (m *Model) verilogFunctions(b *strings.Builder, values bool) {
	for _, f := range m.functions {
		if (f.kind == "value") != values {
			continue
		}
		if f.native {
			f.writeNative(b)
		} else {
			f.writeExact(b)
		}
	}
}

func (f *function) inputs() int { return max(1, len(f.leaves)) }

// resultWidth is the width of what the exact function returns.
func (f *function) resultWidth() int {
	if f.kind == "value" {
		return 2 * f.width
	}
	return 3
}

func (f *function) prologue(b *strings.Builder) {
	for _, l := range f.locals {
		fmt.Fprintf(b, "  %s\n", l)
	}
}

// writeNative writes a function that Verilog's operators evaluate exactly on unknown inputs.
func (f *function) writeNative(b *strings.Builder) {
	fmt.Fprintf(b, "function [%d:0] x_%s; input [%d:0] v;\n", f.resultWidth()-1, f.name, f.inputs()-1)
	f.prologue(b)
	fmt.Fprintf(b, "  reg [%d:0] r; reg en; integer i;\nbegin\n", max(f.width, 1)-1)
	for _, l := range f.lines {
		fmt.Fprintf(b, "  %s\n", l)
	}
	fmt.Fprintf(b, "  r = %s;\n", f.result)
	if f.kind == "value" {
		fmt.Fprintf(b, "  for (i = 0; i < %d; i = i + 1) begin\n    x_%s[i] = r[i] !== 1'b1;\n    x_%s[i+%d] = r[i] !== 1'b0;\n  end\n",
			f.width, f.name, f.name, f.width)
	} else {
		high, en := "3'b010", "1'b1"
		if f.kind == "oc" {
			high = "3'b100"
		}
		if f.when != "" {
			en = f.when
		}
		fmt.Fprintf(b, "  en = %s;\n", en)
		fmt.Fprintf(b, "  x_%s = (en !== 1'b0 ? (r[0] !== 1'b1 ? 3'b001 : 3'b000) | (r[0] !== 1'b0 ? %s : 3'b000) : 3'b000) | (en !== 1'b1 ? 3'b100 : 3'b000);\n",
			f.name, high)
	}
	b.WriteString("end\nendfunction\n")
}

// writeExact writes the two-valued function r_ and the exact one x_, which tries every completion of the unknown
// inputs until no further outcome is possible.
func (f *function) writeExact(b *strings.Builder) {
	w, n := f.width, f.inputs()
	if f.kind != "value" {
		w = 3
	}
	fmt.Fprintf(b, "function [%d:0] r_%s; input [%d:0] v;\n", w-1, f.name, n-1)
	f.prologue(b)
	fmt.Fprintf(b, "  reg [%d:0] r;\nbegin\n", w-1)
	for _, l := range f.lines {
		fmt.Fprintf(b, "  %s\n", l)
	}
	switch f.kind {
	case "table":
	case "value":
		fmt.Fprintf(b, "  r = %s;\n", f.result)
	case "out":
		fmt.Fprintf(b, "  r = (%s) ? 3'b010 : 3'b001;\n", f.result)
	case "oc":
		fmt.Fprintf(b, "  r = (%s) ? 3'b100 : 3'b001;\n", f.result)
	case "tri":
		fmt.Fprintf(b, "  r = (%s) ? ((%s) ? 3'b010 : 3'b001) : 3'b100;\n", f.when, f.result)
	}
	fmt.Fprintf(b, "  r_%s = r;\nend\nendfunction\n", f.name)

	fmt.Fprintf(b, "function [%d:0] x_%s; input [%d:0] v;\n", f.resultWidth()-1, f.name, n-1)
	fmt.Fprintf(b, "  reg [%d:0] u, c, s; reg [%d:0] r, may1, may0; reg go; integer i;\nbegin\n", n-1, w-1)
	b.WriteString("  for (i = 0; i < " + fmt.Sprint(n) + "; i = i + 1) begin\n    u[i] = v[i] === 1'bx || v[i] === 1'bz;\n    c[i] = v[i] === 1'b1;\n  end\n")
	fmt.Fprintf(b, "  s = 0; may1 = 0; may0 = 0; go = 1;\n  while (go) begin\n    r = r_%s(c | s);\n", f.name)
	if f.kind == "value" {
		b.WriteString("    may1 = may1 | r; may0 = may0 | ~r;\n    s = (s - u) & u;\n    go = s != 0 && !((&may1) && (&may0));\n  end\n")
		fmt.Fprintf(b, "  x_%s = {may1, may0};\n", f.name)
	} else {
		fmt.Fprintf(b, "    may1 = may1 | r;\n    s = (s - u) & u;\n    go = s != 0 && may1 != %s;\n  end\n", f.full)
		fmt.Fprintf(b, "  x_%s = may1;\n", f.name)
	}
	b.WriteString("end\nendfunction\n")
}

// call writes a call of the exact function with leaves read from the given vectors (of pins, stored bits, memory).
func (f *function) call(pins, state, memory string) string {
	return fmt.Sprintf("x_%s({%s})", f.name, f.arguments(pins, state, memory))
}

// arguments lists the leaves from the highest to the lowest.
func (f *function) arguments(pins, state, memory string) string {
	if len(f.leaves) == 0 {
		return "1'b0"
	}
	args := make([]string, len(f.leaves))
	for i, l := range f.leaves {
		base := map[leafKind]string{pinLeaf: pins, stateLeaf: state, memoryLeaf: memory}[l.kind]
		args[len(args)-1-i] = fmt.Sprintf("%s[%d]", base, l.bit)
	}
	return strings.Join(args, ", ")
}

// verilogStorage writes the module of the part's storage. h are the levels heard, one bit per pin number; at each
// rising tick the bits take their next values, and ch tells that one changed. With lim set, a bit that would change
// becomes unknown and stays so until the next newm.
func (m *Model) verilogStorage(b *strings.Builder) {
	bits, word, addr := max(m.bits, 1), 1, 1
	if m.memory != nil {
		word, addr = m.memory.bits, len(m.memory.address)
	}
	fmt.Fprintf(b, "module st_%s(h, ra, tick, init, newm, lim, s, rd, ch);\n", m.name)
	fmt.Fprintf(b, "input [%d:1] h; input [%d:0] ra; input tick, init, newm, lim;\n", m.pins, addr-1)
	fmt.Fprintf(b, "output [%d:0] s; output [%d:0] rd; output ch;\n", bits-1, word-1)
	fmt.Fprintf(b, "reg [%d:0] s, ps, n, lock; reg [%d:0] rd; reg ch; reg [%d:1] ph; integer i;\n", bits-1, word-1, m.pins)
	m.verilogFunctions(b, true)
	m.memoryDeclarations(b)
	b.WriteString("always @(posedge newm) begin\n  lock = 0;\n")
	for _, r := range m.registers {
		if r.pulse {
			fmt.Fprintf(b, "  s[%d:%d] <= 0;\n", r.offset+r.width-1, r.offset)
		}
	}
	b.WriteString("end\n")
	fmt.Fprintf(b, "always @(posedge init) begin\n  s <= {%d{1'bx}}; lock = 0; ch = 0;\n", bits)
	m.memoryInit(b)
	b.WriteString("end\n")
	for _, r := range m.registers {
		fmt.Fprintf(b, "reg [%d:0] %s_0, %s_1; reg [%d:0] %s_v; reg [1:0] %s_c, %s_p; reg %s_go, %s_may, %s_must;\n",
			r.width-1, r.name, r.name, 2*r.width-1, r.name, r.name, r.name, r.name, r.name, r.name)
	}
	b.WriteString("always @(posedge tick) begin\n  n = s; ch = 0;\n  if (!init) begin\n")
	for _, r := range m.registers {
		r.next(b)
	}
	if m.bits > 0 {
		fmt.Fprintf(b, `    for (i = 0; i < %d; i = i + 1) begin
      if (lock[i]) n[i] = 1'bx;
      if (n[i] !== s[i]) begin
        ch = 1;
        if (lim) begin n[i] = 1'bx; lock[i] = 1; end
      end
    end
`, m.bits)
	}
	m.memoryTick(b)
	b.WriteString("  end\n  ph = h; ps = s; s <= n;\nend\nendmodule\n")
}

// next writes the computation of a register's next value into n. Each clause may decide, must decide, or does not.
func (r *register) next(b *strings.Builder) {
	q, hi, lo := r.name, r.offset+r.width-1, r.offset
	fmt.Fprintf(b, "    %s_0 = 0; %s_1 = 0; %s_go = 1;\n", q, q, q)
	for _, c := range r.clauses {
		fmt.Fprintf(b, "    %s_c = %s;\n", q, c.when.call("h", "s", "rd"))
		from, state := "h", "s"
		if c.kind == "level" {
			fmt.Fprintf(b, "    %s_may = %s_c[1]; %s_must = %s_c == 2'b10;\n", q, q, q, q)
		} else {
			before, after := 0, 1
			if c.kind == "fall" {
				before, after = 1, 0
			}
			fmt.Fprintf(b, "    %s_p = %s;\n", q, c.when.call("ph", "ps", "rd"))
			fmt.Fprintf(b, "    %s_may = %s_p[%d] && %s_c[%d]; %s_must = %s_may && %s_p != 2'b11 && %s_c != 2'b11;\n",
				q, q, before, q, after, q, q, q, q)
			from, state = "ph", "ps"
		}
		fmt.Fprintf(b, "    if (%s_go && %s_may) begin\n      %s_v = %s;\n      {%s_1, %s_0} = {%s_1, %s_0} | %s_v;\n      if (%s_must) %s_go = 0;\n    end\n",
			q, q, q, c.value.call(from, state, "rd"), q, q, q, q, q, q, q)
	}
	fmt.Fprintf(b, "    for (i = %d; i <= %d; i = i + 1) begin\n", lo, hi)
	fmt.Fprintf(b, "      if (%s_go) begin if (s[i] !== 1'b0) %s_1[i-%d] = 1; if (s[i] !== 1'b1) %s_0[i-%d] = 1; end\n", q, q, lo, q, lo)
	fmt.Fprintf(b, "      n[i] = %s_1[i-%d] ? (%s_0[i-%d] ? 1'bx : 1'b1) : 1'b0;\n    end\n", q, lo, q, lo)
}
