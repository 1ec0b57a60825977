package oracle

// The Verilog function of a group of nodes: from what stands at each node to the set of levels it may have.
//
// A node's summary (10 bits) is {supply 1, supply 0, a CMOS output can drive (see
// markFamilies), two or more may drive, one may drive,
// all may let go, one must drive 1, one must drive 0, one may drive 1, one may drive 0}; its result (5 bits) is
// {a fight would be among bipolar outputs only, F, Z, 1, 0}.

import (
	"fmt"
	"strings"
)

// levelFunction writes lv: a node with neither links nor resistors.
const levelFunction = `function [4:0] lv; input [9:0] a;
  if (a[9] | a[8]) lv = a[9] & a[8] ? 5'b00011 : a[9] ? 5'b00010 : 5'b00001;
  else lv = {~a[7], a[0] & a[1] & a[6], a[4], a[1] & ~a[2], a[0] & ~a[3]};
endfunction
`

// hearFunction writes hear: the level an input hears, which is known when all that the net may be sounds alike: a
// floating net is 1 to a bipolar input, a fight among bipolar outputs only is 0 to any.
const hearFunction = `function hear; input [4:0] l; input bip; reg zero, one;
  begin
    zero = l[0] | l[3] | (l[2] & ~bip);
    one = l[1] | l[2] | (l[3] & ~l[4]);
    hear = zero & one ? 1'bx : one;
  end
endfunction
`

func (g *group) trivial() bool {
	return len(g.nodes) == 1 && len(g.links) == 0 && len(g.rails) == 0
}

// inputWidth is 10 bits for each node, 2 for each link {may be off, may be on}, 1 for each resistor (open), 4+1 for
// each resistor to a rail (the rail's level, open).
func (g *group) inputWidth() int {
	return 10*len(g.nodes) + 2*len(g.links) + len(g.resistors) + 5*len(g.rails)
}

func (n *network) writeGroup(b *strings.Builder, gi int) {
	g := n.groups[gi]
	k := len(g.nodes)
	fmt.Fprintf(b, "function [%d:0] g%d; input [%d:0] v;\n", 5*k-1, gi, g.inputWidth()-1)
	fmt.Fprintf(b, "  reg [%d:0] m0, m1, mu0, mu1, az, an, my, cm, s0, s1, sup, x0, x1, e0, e1, t, c0, c1, cz, cf, bad0, bad1;\n", k-1)
	fmt.Fprintf(b, "  reg [%d:0] P, D, M, Q0, Q1; reg [%d:0] off, on, pl; reg [%d:0] st; reg [%d:0] rs; reg go; integer i, j, r;\n",
		k*k-1, max(1, len(g.links))-1, 4*k-1, 4*k-1)
	if g.weak() {
		for i := range g.nodes {
			fmt.Fprintf(b, "  integer a%d, b%d, k%d;\n", i, i, i)
		}
		b.WriteString("  integer mk; reg ok;\n")
	}
	b.WriteString("begin\n")
	fmt.Fprintf(b, `  for (i = 0; i < %d; i = i + 1) begin
    m0[i] = v[10*i]; m1[i] = v[10*i+1]; mu0[i] = v[10*i+2]; mu1[i] = v[10*i+3]; az[i] = v[10*i+4];
    an[i] = v[10*i+5]; my[i] = v[10*i+6]; cm[i] = v[10*i+7]; s0[i] = v[10*i+8]; s1[i] = v[10*i+9];
  end
  off = 0; on = 0; pl = 0;
`, k)
	for l, link := range g.links {
		at := 10*k + 2*l
		fmt.Fprintf(b, "  on[%d] = v[%d]; off[%d] = v[%d];\n", l, at, l, at+1)
		if link.plain {
			fmt.Fprintf(b, "  pl[%d] = 1;\n", l)
		}
	}
	n.closure(b, g, "P", "pl[%d] && on[%d] && !off[%d]", "1")
	fmt.Fprintf(b, `  t = s0; for (i = 0; i < %d; i = i + 1) s0[i] = |(t & P[i*%d +: %d]);
  t = s1; for (i = 0; i < %d; i = i + 1) s1[i] = |(t & P[i*%d +: %d]);
  sup = s0 | s1; x0 = 0; x1 = 0;
`, k, k, k, k, k, k)
	// A supply passes a switch as an output: certain if the switch is on for certain.
	for l, link := range g.links {
		if link.plain {
			continue
		}
		for _, ends := range [][2]int{{link.a, link.b}, {link.b, link.a}} {
			from, to := n.nodes[ends[0]].place, n.nodes[ends[1]].place
			fmt.Fprintf(b, `  if (on[%d] && sup[%d] && !sup[%d]) begin
    if (s0[%d]) x0[%d] = 1; if (s1[%d]) x1[%d] = 1;
    if (!off[%d]) begin if (!s1[%d]) mu0[%d] = 1; if (!s0[%d]) mu1[%d] = 1; az[%d] = 0; end
  end
`, l, from, to, from, to, from, to, l, from, to, from, to, to)
		}
	}
	b.WriteString("  e0 = m0 | x0; e1 = m1 | x1; my = my | (an & (x0 | x1)) | (x0 & x1);\n")
	n.closure(b, g, "D", "on[%d] && !off[%d]", "1")
	n.closure(b, g, "M", "on[%d]", "1")
	fmt.Fprintf(b, "  for (i = 0; i < %d; i = i + 1) begin bad0[i] = |(mu1 & D[i*%d +: %d]); bad1[i] = |(mu0 & D[i*%d +: %d]); end\n", k, k, k, k, k)
	n.closure(b, g, "Q0", "on[%d]", "!bad0[%d] && !bad0[%d]")
	n.closure(b, g, "Q1", "on[%d]", "!bad1[%d] && !bad1[%d]")
	fmt.Fprintf(b, `  for (i = 0; i < %d; i = i + 1) begin
    c0[i] = !bad0[i] && |(e0 & Q0[i*%d +: %d]);
    c1[i] = !bad1[i] && |(e1 & Q1[i*%d +: %d]);
    cz[i] = &(az | ~D[i*%d +: %d]);
    t = M[i*%d +: %d] & (an | x0 | x1);
    cf[i] = |(e0 & M[i*%d +: %d]) && |(e1 & M[i*%d +: %d]) && ((|(t & (t - 1))) || (|(my & t)));
    st[4*i +: 4] = sup[i] ? (s0[i] & s1[i] ? 4'b0011 : s1[i] ? 4'b0010 : 4'b0001) : {cf[i], cz[i], c1[i], c0[i]};
    g%d[5*i+4] = !sup[i] && !cm[i];
  end
`, k, k, k, k, k, k, k, k, k, k, k, k, k, gi)
	if g.weak() {
		n.writeWeak(b, g)
	} else {
		b.WriteString("  rs = st;\n")
	}
	fmt.Fprintf(b, "  for (i = 0; i < %d; i = i + 1) g%d[5*i +: 4] = rs[4*i +: 4];\nend\nendfunction\n", k, gi)
}

// closure writes the computation of which nodes each node is connected to (bit masks in one long vector) over the
// links that satisfy the condition, between nodes of which neither or (for plain links) both are at supply.
func (n *network) closure(b *strings.Builder, g *group, name, linkCond, nodeCond string) {
	k := len(g.nodes)
	fmt.Fprintf(b, "  %s = 0; for (i = 0; i < %d; i = i + 1) %s[i*%d+i] = 1;\n", name, k, name, k)
	if len(g.links) == 0 {
		return
	}
	b.WriteString("  go = 1; while (go) begin go = 0;\n")
	for l, link := range g.links {
		if name == "P" && !link.plain {
			continue
		}
		i, j := n.nodes[link.a].place, n.nodes[link.b].place
		cond := fill(linkCond, l)
		if nodeCond != "1" {
			cond += " && " + fmt.Sprintf(nodeCond, i, j)
		}
		if name != "P" {
			cond += fmt.Sprintf(" && !sup[%d] && !sup[%d]", i, j)
		}
		fmt.Fprintf(b, "    if (%s && %s[%d +: %d] != %s[%d +: %d]) begin go = 1; %s[%d +: %d] = %s[%d +: %d] | %s[%d +: %d]; %s[%d +: %d] = %s[%d +: %d]; end\n",
			cond, name, i*k, k, name, j*k, k, name, i*k, k, name, i*k, k, name, j*k, k, name, j*k, k, name, i*k, k)
	}
	b.WriteString("  end\n")
}

func fill(pattern string, l int) string {
	return strings.ReplaceAll(pattern, "%d", fmt.Sprint(l))
}
