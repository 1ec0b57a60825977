package sim

import (
	"slices"

	"halfsplit/internal/core/part"
)

// Expressions become gates. One whose leaves each occur once is computed as it stands: that is exact. Any other
// becomes a decision diagram of multiplexers (Bryant 1986), which is exact for the same reason: on every path each
// leaf is asked once. Ours is small and per expression, without complement edges, in order of first occurrence.

// ref is a node with an optional inversion: node<<1 | inverted.
type ref int32

func (r ref) node() int32 { return int32(r) >> 1 }

type gateOp uint8

const (
	opAnd gateOp = iota
	opXor
	opMux // ins: select, then, else
)

type gate struct {
	op  gateOp
	out int32 // node
	ins []ref
}

// leafRef finds the node of a leaf of an expression (a pin heard or a stored bit).
type leafRef func(part.Expr) ref

// compile returns the node that carries the value of e.
func (p *Program) compile(e part.Expr, leaf leafRef) ref {
	seen, once := map[ref]bool{}, true
	e.Leaves(func(l part.Expr) {
		r := leaf(l)
		if r.node() >= nodes0 && seen[r] {
			once = false
		}
		seen[r] = true
	})
	if once && !hasTable(e) {
		return p.tree(e, leaf)
	}
	d := diagram{p: p, vars: nil, unique: map[[3]ref]ref{}, pos: map[ref]int{}}
	e.Leaves(func(l part.Expr) {
		r := leaf(l)
		if _, ok := d.pos[r]; !ok && r.node() >= nodes0 {
			d.pos[r] = len(d.vars)
			d.vars = append(d.vars, r)
		}
	})
	return d.build(e, leaf)
}

func hasTable(e part.Expr) bool {
	return e.Op == part.OpTable || slices.ContainsFunc(e.Args, hasTable)
}

func (p *Program) tree(e part.Expr, leaf leafRef) ref {
	switch e.Op {
	case part.OpConst:
		return constRef(e.Val)
	case part.OpPin, part.OpBit:
		return leaf(e)
	case part.OpNot:
		return p.tree(e.Args[0], leaf) ^ 1
	case part.OpMux:
		return p.gate(opMux, []ref{p.tree(e.Args[0], leaf), p.tree(e.Args[1], leaf), p.tree(e.Args[2], leaf)})
	}
	ins := make([]ref, 0, len(e.Args))
	for _, a := range e.Args {
		r := p.tree(a, leaf)
		if e.Op == part.OpOr {
			r ^= 1
		}
		ins = append(ins, r)
	}
	switch {
	case e.Op == part.OpXor:
		return p.gate(opXor, ins)
	case e.Op == part.OpOr:
		return p.gate(opAnd, ins) ^ 1
	}
	return p.gate(opAnd, ins)
}

// gate makes a node, or finds the one that computes the same.
func (p *Program) gate(op gateOp, ins []ref) ref {
	if len(ins) == 1 {
		return ins[0]
	}
	key := make([]byte, 0, 1+4*len(ins))
	key = append(key, byte(op))
	for _, r := range ins {
		key = append(key, byte(r), byte(r>>8), byte(r>>16), byte(r>>24))
	}
	if n, ok := p.shared[string(key)]; ok {
		return n
	}
	n := p.newNode()
	p.shared[string(key)] = ref(n << 1)
	p.gates = append(p.gates, gate{op, n, ins})
	return ref(n << 1)
}

type diagram struct {
	p      *Program
	vars   []ref
	unique map[[3]ref]ref
	pos    map[ref]int
	val    map[ref]uint8
}

// build expands e over its leaves in order. Tables of up to 16 inputs stay small because equal branches are merged.
func (d *diagram) build(e part.Expr, leaf leafRef) ref {
	d.val = map[ref]uint8{}
	return d.expand(e, leaf, 0)
}

func (d *diagram) expand(e part.Expr, leaf leafRef, k int) ref {
	if v := d.ternary(e, leaf); v != 3 {
		return constRef(v)
	}
	v := d.vars[k]
	d.val[v] = 0
	lo := d.expand(e, leaf, k+1)
	d.val[v] = 1
	hi := d.expand(e, leaf, k+1)
	delete(d.val, v)
	if lo == hi {
		return lo
	}
	if hi == constRef(1) && lo == constRef(0) {
		return v
	}
	if hi == constRef(0) && lo == constRef(1) {
		return v ^ 1
	}
	key := [3]ref{v, hi, lo}
	if r, ok := d.unique[key]; ok {
		return r
	}
	r := d.p.gate(opMux, []ref{v, hi, lo})
	d.unique[key] = r
	return r
}

// ternary evaluates with some leaves still open: 0, 1, 2 (unknown whatever the leaves), or 3 (not yet decided).
func (d *diagram) ternary(e part.Expr, leaf leafRef) uint8 {
	switch e.Op {
	case part.OpConst:
		return e.Val
	case part.OpPin, part.OpBit:
		r := leaf(e)
		if r.node() < nodes0 {
			return constVal(r)
		}
		if v, ok := d.val[r]; ok {
			return v
		}
		return 3
	case part.OpNot:
		return not3(d.ternary(e.Args[0], leaf))
	case part.OpMux:
		c := d.ternary(e.Args[0], leaf)
		if c < 2 {
			return d.ternary(e.Args[2-c], leaf)
		}
		a, b := d.ternary(e.Args[1], leaf), d.ternary(e.Args[2], leaf)
		if a == b && a != 3 {
			return a
		}
		if max(a, b, c) == 3 {
			return 3
		}
		return 2
	case part.OpTable:
		return d.table(e, leaf)
	}
	out, open := uint8(0), false
	if e.Op == part.OpAnd {
		out = 1
	}
	unknown := false
	for _, a := range e.Args {
		v := d.ternary(a, leaf)
		switch {
		case v == 3:
			open = true
		case v == 2:
			unknown = true
		case e.Op == part.OpAnd && v == 0:
			return 0
		case e.Op == part.OpOr && v == 1:
			return 1
		case e.Op == part.OpXor:
			out ^= v
		}
	}
	if open {
		return 3
	}
	if unknown {
		return 2
	}
	return out
}

func (d *diagram) table(e part.Expr, leaf leafRef) uint8 {
	in := make([]uint8, len(e.Args))
	for i, a := range e.Args {
		in[i] = d.ternary(a, leaf)
	}
	for _, r := range e.Rows {
		match := uint8(1)
		for i, want := range r.In {
			switch {
			case want == 2 || in[i] == want:
			case in[i] > 1:
				match = max(match, in[i])
			default:
				match = 0
			}
			if match == 0 {
				break
			}
		}
		switch match {
		case 1:
			return r.Out
		case 2:
			return 2
		case 3:
			return 3
		}
	}
	return 2
}

func not3(v uint8) uint8 {
	if v < 2 {
		return 1 - v
	}
	return v
}

func constRef(v uint8) ref {
	switch v {
	case 0:
		return nodeOne<<1 | 1
	case 1:
		return nodeOne << 1
	}
	return nodeX << 1
}

func constVal(r ref) uint8 {
	if r.node() == nodeX {
		return 2
	}
	return 1 - uint8(r&1)
}

// The first nodes are constants; the others follow from nodes0.
const (
	nodeOne = 0
	nodeX   = 1
	nodes0  = 2
)
