package app

import (
	"fmt"
	"strings"

	"halfsplit/internal/core/part"
)

// The behaviour of a part, from its parsed statements back to the words of docs/part-language.md. Names of expressions were
// replaced by what they stand for when the record was read; stored bits are called q0, q1 ….

func statements(t *part.Type) []string {
	var out []string
	if t.Positions != nil {
		out = append(out, "positions "+strings.Join(t.Positions, " "))
	}
	for _, s := range t.Stmts {
		out = append(out, statement(t, s))
	}
	return out
}

func statement(t *part.Type, s part.Stmt) string {
	name := func(n int) string {
		if n < 0 {
			return "-"
		}
		return t.Nodes[n].Name
	}
	e := func(x part.Expr) string { return expression(t, x, 0) }
	ends := func(nodes ...int) string {
		var out []string
		for _, n := range nodes {
			out = append(out, name(n))
		}
		return strings.Join(out, " ")
	}
	switch s.Kind {
	case part.Drive:
		return name(s.Node) + " = " + e(s.Expr)
	case part.DriveLow:
		return "oc " + name(s.Node) + " = " + e(s.Expr)
	case part.DriveHigh:
		return "oe " + name(s.Node) + " = " + e(s.Expr)
	case part.DriveTri:
		return "tri " + name(s.Node) + " = " + e(s.Expr) + " when " + e(s.Cond)
	case part.Store:
		return clauses(t, s)
	case part.RAM, part.ROM:
		return fmt.Sprintf("memory of %d words of %d bits", s.Words, s.Width)
	case part.Link:
		return "link " + ends(s.A, s.B) + " when " + e(s.Cond)
	case part.NPN, part.PNP:
		return word(s.Kind) + " " + ends(s.Ctl, s.A, s.B)
	case part.NMOS, part.PMOS, part.NJFET:
		return word(s.Kind) + " " + ends(s.Ctl, s.A, s.B)
	case part.Relay:
		return "relay " + ends(s.Ctl, s.Ctl2, s.A, s.B)
	case part.ClockOut:
		return "clock " + name(s.Node)
	case part.Contact:
		out := "contact " + ends(s.A, s.B)
		if s.As != "" {
			out += " as " + s.As
		}
		if s.At != nil {
			out += " at " + strings.Join(s.At, " ")
		}
		return out
	}
	return word(s.Kind) + " " + ends(s.A, s.B)
}

func word(k part.Kind) string {
	return map[part.Kind]string{part.Resistor: "resistor", part.Diode: "diode", part.LED: "led", part.NPN: "npn", part.PNP: "pnp", part.NMOS: "nmos",
		part.PMOS: "pmos", part.NJFET: "njfet", part.Fuse: "fuse", part.Lamp: "lamp"}[k]
}

func clauses(t *part.Type, s part.Stmt) string {
	var out []string
	for _, c := range s.Clauses {
		when := [...]string{"while", "rise", "fall"}[c.When]
		out = append(out, when+" "+expression(t, c.Cond, 0)+" -> "+expression(t, c.Val, 0))
	}
	keyword := "store"
	if s.Pulse {
		keyword = "pulse"
	}
	return fmt.Sprintf("%s q%d: %s", keyword, s.Bit, strings.Join(out, "; "))
}

// expression writes a tree with the fewest parentheses; level is the binding strength of what stands around it.
func expression(t *part.Type, x part.Expr, level int) string {
	join := func(op string, own int) string {
		var out []string
		for _, a := range x.Args {
			out = append(out, expression(t, a, own))
		}
		s := strings.Join(out, " "+op+" ")
		if own < level {
			s = "(" + s + ")"
		}
		return s
	}
	switch x.Op {
	case part.OpConst:
		return [...]string{"0", "1", "unknown"}[x.Val]
	case part.OpPin:
		return t.Nodes[x.Index].Name
	case part.OpBit:
		return fmt.Sprintf("q%d", x.Index)
	case part.OpNot:
		return "!" + expression(t, x.Args[0], 5)
	case part.OpAnd:
		return join("&", 4)
	case part.OpXor:
		return join("^", 3)
	case part.OpOr:
		return join("|", 2)
	case part.OpMux:
		s := expression(t, x.Args[0], 2) + " ? " + expression(t, x.Args[1], 2) + " : " + expression(t, x.Args[2], 1)
		if level > 1 {
			s = "(" + s + ")"
		}
		return s
	}
	var in []string
	for _, a := range x.Args {
		in = append(in, expression(t, a, 0))
	}
	return "table of " + strings.Join(in, " ")
}
