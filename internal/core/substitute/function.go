package substitute

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/part"
)

// pinDifferences compares two pin-outs by number: supply, direction, nothing inside.
func pinDifferences(a, b *part.Type) []string {
	var out []string
	if len(a.Pins) != len(b.Pins) {
		return []string{fmt.Sprintf("%d pins instead of %d", len(b.Pins), len(a.Pins))}
	}
	for i := range a.Pins {
		x, y := pinWord(a, i), pinWord(b, i)
		if x != y {
			out = append(out, fmt.Sprintf("pin %d: %s (%s) instead of %s (%s)", i+1, b.Pins[i].Name, y, a.Pins[i].Name, x))
		}
	}
	return out
}

func pinWord(t *part.Type, i int) string {
	k := t.Pins[i].Node
	if k < 0 {
		return "nothing inside"
	}
	n := t.Nodes[k]
	switch {
	case n.Supply && (n.Name == "GND" || n.Name == "VSS"):
		return "ground"
	case n.Supply && (n.Name == "VCC" || n.Name == "VDD"):
		return "supply"
	case n.Supply:
		return "supply " + n.Name
	}
	if d := n.Direction(); d != "none" {
		return d
	}
	return "nothing inside"
}

// comparison of two functions whose pin-outs agree.
type comparison uint8

const (
	different comparison = iota
	same
	otherOutputs // the same but for open collectors
	unmodelled   // at least one of them is opaque
)

const mostLeaves = 14 // 2^14 rows are compared in no time

// sameFunction compares by pin number. Parts without storage are compared by all rows of their truth tables, others by their statements.
func sameFunction(a, b *part.Type) comparison {
	switch {
	case a == b:
		return same
	case a.Opaque || b.Opaque:
		return unmodelled
	}
	x, y := outputs(a), outputs(b)
	if x == nil || y == nil {
		if slices.Equal(sorted(a), sorted(b)) {
			return same
		}
		return different
	}
	if len(x) != len(y) {
		return different
	}
	result := same
	for pin, sa := range x {
		sb, ok := y[pin]
		switch {
		case !ok || (sa.Kind == part.DriveTri) != (sb.Kind == part.DriveTri) || (sa.Kind == part.DriveHigh) != (sb.Kind == part.DriveHigh):
			return different
		case sa.Kind != sb.Kind:
			result = otherOutputs
		}
		if !equal(a, b, sa.Expr, sb.Expr) || !equal(a, b, sa.Cond, sb.Cond) {
			return different
		}
	}
	return result
}

// outputs gives the statement of each driven pin, by first pin number; nil when the part does anything else or remembers.
func outputs(t *part.Type) map[int]part.Stmt {
	out := map[int]part.Stmt{}
	for _, s := range t.Stmts {
		switch s.Kind {
		case part.Drive, part.DriveLow, part.DriveHigh, part.DriveTri:
		default:
			return nil
		}
		for _, e := range []part.Expr{s.Expr, s.Cond} {
			pure := true
			e.Leaves(func(l part.Expr) { pure = pure && l.Op == part.OpPin })
			if !pure {
				return nil
			}
		}
		out[t.Nodes[s.Node].Pins[0]] = s
	}
	return out
}

func pinsOf(t *part.Type, e part.Expr) (out []int) {
	e.Leaves(func(l part.Expr) { out = append(out, t.Nodes[l.Index].Pins[0]) })
	return out
}

func equal(a, b *part.Type, x, y part.Expr) bool {
	pins := append(pinsOf(a, x), pinsOf(b, y)...)
	slices.Sort(pins)
	pins = slices.Compact(pins)
	if len(pins) > mostLeaves {
		return text(a, x) == text(b, y)
	}
	level := map[int]uint8{}
	for row := range 1 << len(pins) {
		for i, p := range pins {
			level[p] = uint8(row >> i & 1)
		}
		if eval(a, x, level) != eval(b, y, level) {
			return false
		}
	}
	return true
}

// eval is an expression's value for known pins: 0, 1, or 2 for unknown.
func eval(t *part.Type, e part.Expr, level map[int]uint8) uint8 {
	switch e.Op {
	case part.OpConst:
		return e.Val
	case part.OpPin:
		return level[t.Nodes[e.Index].Pins[0]]
	case part.OpNot:
		return [...]uint8{1, 0, 2}[eval(t, e.Args[0], level)]
	case part.OpMux:
		if eval(t, e.Args[0], level) == 1 {
			return eval(t, e.Args[1], level)
		}
		return eval(t, e.Args[2], level)
	case part.OpTable:
		return row(t, e, level)
	}
	v := eval(t, e.Args[0], level)
	for _, a := range e.Args[1:] {
		w := eval(t, a, level)
		switch {
		case e.Op == part.OpAnd && (v == 0 || w == 0):
			v = 0
		case e.Op == part.OpOr && (v == 1 || w == 1):
			v = 1
		case v == 2 || w == 2:
			v = 2
		case e.Op == part.OpXor:
			v ^= w
		}
	}
	return v
}

func row(t *part.Type, e part.Expr, level map[int]uint8) uint8 {
	for _, r := range e.Rows {
		match := true
		for i, want := range r.In {
			match = match && (want == 2 || want == eval(t, e.Args[i], level))
		}
		if match {
			return r.Out
		}
	}
	return 2
}

// sorted writes every statement with pins by number, in an order that does not depend on the record's.
func sorted(t *part.Type) []string {
	var out []string
	pin := func(n int) string {
		if n < 0 {
			return "-"
		}
		return fmt.Sprint(t.Nodes[n].Pins[0])
	}
	for _, s := range t.Stmts {
		var b strings.Builder
		fmt.Fprintf(&b, "%d %s %s %s %s %s %d %v %v %v %v %dx%d:", s.Kind, pin(s.Node), pin(s.A), pin(s.B), pin(s.Ctl), pin(s.Ctl2), s.Bit, s.Pulse, s.Closed, s.As, s.At, s.Words, s.Width)
		b.WriteString(text(t, s.Expr) + "|" + text(t, s.Cond))
		for _, c := range s.Clauses {
			fmt.Fprintf(&b, ";%d %s>%s", c.When, text(t, c.Cond), text(t, c.Val))
		}
		for _, e := range slices.Concat(s.Address, s.Data) {
			b.WriteString("," + text(t, e))
		}
		out = append(out, b.String())
	}
	slices.Sort(out)
	return out
}

// text is an expression with pins by number, for comparison only.
func text(t *part.Type, e part.Expr) string {
	var b strings.Builder
	fmt.Fprintf(&b, "(%d", e.Op)
	switch e.Op {
	case part.OpConst:
		fmt.Fprintf(&b, "=%d", e.Val)
	case part.OpPin:
		fmt.Fprintf(&b, " p%d", t.Nodes[e.Index].Pins[0])
	case part.OpBit:
		fmt.Fprintf(&b, " q%d", e.Index)
	}
	for _, a := range e.Args {
		b.WriteString(text(t, a))
	}
	for _, r := range e.Rows {
		fmt.Fprintf(&b, "%v%d", r.In, r.Out)
	}
	return b.String() + ")"
}
