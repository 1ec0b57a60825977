package ref

import "halfsplit/internal/core/part"

// The value of an expression is known exactly when its known leaves force it. Each unknown leaf is tried at 0 and at 1
// until the value no longer depends on the rest (Shannon's expansion).

type leafKey struct {
	op    part.Op
	index int
}

// value gives what an expression may be, a subset of {0, 1}; leaf says the same of a pin heard or a bit.
func value(e part.Expr, leaf func(part.Expr) set) set {
	known := map[leafKey]set{}
	var order []leafKey
	e.Leaves(func(l part.Expr) {
		k := leafKey{l.Op, l.Index}
		if _, seen := known[k]; !seen {
			known[k] = leaf(l)
			order = append(order, k)
		}
	})
	return expand(e, known, order)
}

func expand(e part.Expr, known map[leafKey]set, order []leafKey) set {
	v := threeValued(e, known)
	if v != unknown {
		return v
	}
	for i, k := range order {
		if known[k] != unknown {
			continue
		}
		known[k] = can0
		v = expand(e, known, order[i+1:])
		if v != unknown {
			known[k] = can1
			v |= expand(e, known, order[i+1:])
		}
		known[k] = unknown
		return v
	}
	return unknown // a constant or a row of a table says so
}

// threeValued takes every operand on its own.
func threeValued(e part.Expr, known map[leafKey]set) set {
	arg := func(i int) set { return threeValued(e.Args[i], known) }
	switch e.Op {
	case part.OpConst:
		return [3]set{can0, can1, unknown}[e.Val]
	case part.OpPin, part.OpBit:
		return known[leafKey{e.Op, e.Index}]
	case part.OpNot:
		return arg(0).invert()
	case part.OpAnd:
		out := can1
		for i := range e.Args {
			out = both(out, arg(i))
		}
		return out
	case part.OpOr:
		out := can1
		for i := range e.Args {
			out = both(out, arg(i).invert())
		}
		return out.invert()
	case part.OpXor:
		out := can0
		for i := range e.Args {
			out = differ(out, arg(i))
		}
		return out
	case part.OpMux:
		return choose(arg(0), arg(1), arg(2))
	}
	return table(e, known)
}

func both(x, y set) set {
	out := (x | y) & can0
	if x&y&can1 != 0 {
		out |= can1
	}
	return out
}

func differ(x, y set) set {
	var out set
	if x&can0 != 0 {
		out |= y
	}
	if x&can1 != 0 {
		out |= y.invert()
	}
	return out
}

// choose is c ? yes : no; it is also how a clause of a store whose condition may be unknown decides.
func choose(c, yes, no set) set {
	var out set
	if c&can1 != 0 {
		out |= yes
	}
	if c&can0 != 0 {
		out |= no
	}
	return out
}

// table tries the rows in order: a row that may match may count, one that must match ends the search.
func table(e part.Expr, known map[leafKey]set) set {
	var out set
	for _, r := range e.Rows {
		match := can1
		for i, want := range r.In {
			if want < 2 {
				is1 := threeValued(e.Args[i], known)
				if want == 0 {
					is1 = is1.invert()
				}
				match = both(match, is1)
			}
		}
		if match&can1 != 0 {
			out |= [3]set{can0, can1, unknown}[r.Out]
		}
		if match == can1 {
			return out
		}
	}
	return unknown
}
