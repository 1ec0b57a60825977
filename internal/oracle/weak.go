package oracle

// Resistors: the weak level of every node that no output drives, for every combination of what the nodes around it
// may be and of switches that may be on.

import (
	"fmt"
	"strings"
)

func (g *group) weak() bool { return len(g.resistors)+len(g.rails) > 0 }

const farAway = 1000000000

// writeWeak writes nested loops over the levels the nodes may have at output strength (k: 0, 1, 2 nothing, 3 fight)
// and, in the innermost, the lowest resistances towards 0 (a) and towards 1 (b).
func (n *network) writeWeak(b *strings.Builder, g *group) {
	k := len(g.nodes)
	fmt.Fprintf(b, "  rs = 0;\n  for (mk = 0; mk < %d; mk = mk + 1) begin\n  ok = 1;\n", 1<<len(g.links))
	for l := range g.links {
		fmt.Fprintf(b, "  if (mk[%d] ? !on[%d] : !off[%d]) ok = 0;\n", l, l, l)
	}
	for i := range g.nodes {
		fmt.Fprintf(b, "  for (k%d = 0; k%d < 4; k%d = k%d + 1) if (ok && st[%d+k%d]) begin\n", i, i, i, i, 4*i, i)
	}
	// Nodes joined for certain have one level.
	b.WriteString("    go = 1;\n")
	for l, link := range g.links {
		i, j := n.nodes[link.a].place, n.nodes[link.b].place
		fmt.Fprintf(b, "    if (on[%d] && !off[%d] && !sup[%d] && !sup[%d] && k%d != k%d) go = 0;\n", l, l, i, j, i, j)
	}
	b.WriteString("    if (go) begin\n")
	for i := range g.nodes {
		fmt.Fprintf(b, "    a%d = k%d == 0 || k%d == 3 ? 0 : %d; b%d = k%d == 1 || k%d == 3 ? 0 : %d;\n", i, i, i, farAway, i, i, i, farAway)
	}
	railBase := 10*k + 2*len(g.links) + len(g.resistors)
	fmt.Fprintf(b, "    for (r = 0; r < %d; r = r + 1) begin\n", max(1, k))
	for x, res := range g.rails {
		i, at := n.nodes[res.a].place, railBase+5*x
		fmt.Fprintf(b, "      if (k%d == 2 && !v[%d]) begin if (v[%d] | v[%d]) a%d = a%d < %d ? a%d : %d; if (v[%d] | v[%d]) b%d = b%d < %d ? b%d : %d; end\n",
			i, at+4, at, at+3, i, i, res.ohms, i, res.ohms, at+1, at+3, i, i, res.ohms, i, res.ohms)
	}
	for x, res := range g.resistors {
		open := fmt.Sprintf("!v[%d]", 10*k+2*len(g.links)+x)
		n.relax(b, res.a, res.b, res.ohms, open)
		n.relax(b, res.b, res.a, res.ohms, open)
	}
	for l, link := range g.links {
		i, j := n.nodes[link.a].place, n.nodes[link.b].place
		through := fmt.Sprintf("mk[%d] && k%d == 2 && k%d == 2", l, i, j)
		n.relax(b, link.a, link.b, 0, through)
		n.relax(b, link.b, link.a, 0, through)
	}
	b.WriteString("    end\n")
	for i := range g.nodes {
		// The level is a/(a+b) of the way up: 0 below 0.3, 1 above 0.5, unknown between.
		fmt.Fprintf(b, `    if (k%d != 2) rs[%d+k%d] = 1;
    else if (a%d >= %d && b%d >= %d) rs[%d] = 1;
    else if (b%d >= %d || (a%d < %d && 7*a%d < 3*b%d)) rs[%d] = 1;
    else if (a%d >= %d || a%d > b%d) rs[%d] = 1;
    else begin rs[%d] = 1; rs[%d] = 1; end
`, i, 4*i, i, i, farAway, i, farAway, 4*i+2, i, farAway, i, farAway, i, i, 4*i, i, farAway, i, i, 4*i+1, 4*i, 4*i+1)
	}
	b.WriteString("    end\n" + strings.Repeat("  end\n", k) + "  end\n")
}

func (n *network) relax(b *strings.Builder, to, from, ohms int, cond string) {
	i, j := n.nodes[to].place, n.nodes[from].place
	for _, d := range []string{"a", "b"} {
		fmt.Fprintf(b, "      if (%s && k%d == 2 && %s%d + %d < %s%d) %s%d = %s%d + %d;\n", cond, i, d, j, ohms, d, i, d, i, d, j, ohms)
	}
}
