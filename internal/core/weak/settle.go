package weak

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// One settling: the levels of all nodes, from the inputs, the contacts and the stored bits, while storage stands still.

// node is what is known of a node in a frame: the level that is heard there, and whether nothing drives or pulls it.
type node struct {
	v, idle lit
	fight   lit // outputs of both levels may be on it
}

// frame is the settled board.
type frame struct {
	nodes []node
	bits  []lit
}

// layer is what one strength brings to a node: for certain a 0 or a 1, and possibly.
type layer struct {
	s, m [2]lit
}

// settler works out one frame.
type settler struct {
	*unroll
	prev    *frame // the levels that loops start from
	now     *frame
	looping bool
	free    map[int][2]lit // per driver of a bad part: what it drives towards 0 and towards 1, the same throughout the frame
}

func (r *unroll) settle(prev *frame, bits []lit) *frame {
	s := &settler{unroll: r, prev: prev, now: &frame{make([]node, len(r.y.rail)), bits}, free: map[int][2]lit{}}
	for i, l := range r.y.rail {
		if l != none {
			s.now.nodes[i] = node{l, no, no}
		}
	}
	for _, st := range r.y.order {
		if st.loop {
			s.looping = true
			s.loop(st)
			s.looping = false
			continue
		}
		for _, u := range st.units {
			s.unit(u)
		}
	}
	return s.now
}

// loop lets the units of a loop run a few steps of equal delay from where they stood. What has not come to rest then is free.
func (s *settler) loop(st stage) {
	var nodes []int
	for _, u := range st.units {
		nodes = append(nodes, s.y.units[u]...)
	}
	for _, k := range nodes {
		s.now.nodes[k] = s.prev.nodes[k]
	}
	before := make([]node, len(nodes))
	for range min(len(st.units), 6) + 2 {
		same := true
		for i, k := range nodes {
			before[i] = s.now.nodes[k]
		}
		after := make([]node, 0, len(nodes))
		for _, u := range st.units {
			saved := s.now.nodes
			s.now.nodes = append([]node(nil), saved...)
			s.unit(u)
			for _, k := range s.y.units[u] {
				after = append(after, s.now.nodes[k])
			}
			s.now.nodes = saved
		}
		for i, k := range nodes {
			same = same && after[i] == before[i]
			s.now.nodes[k] = after[i]
		}
		if same {
			return
		}
	}
	for i, k := range nodes {
		n := &s.now.nodes[k]
		n.v = s.f.unless(s.f.xor(n.v, before[i].v), n.v)
	}
}

// unit works out nodes that links join.
func (s *settler) unit(u int) {
	nodes, wires := s.y.units[u], s.y.wiresOf[u]
	if len(nodes) == 1 && len(wires) == 0 {
		s.single(u, nodes[0])
		return
	}
	at := map[int]int{}
	base := make([]layer, len(nodes))
	for i, k := range nodes {
		at[k] = i
		base[i] = s.base(k)
	}
	s.join(u, at, base)
}

// single is a node with outputs only.
func (s *settler) single(u, k int) {
	y := s.y
	if len(y.drivers[k]) == 1 && len(y.inputs[k]) == 0 && !s.cleared[k] {
		d := &s.c.Drivers[y.drivers[k][0]]
		if d.Stmt.Kind == part.Drive {
			bad := s.bad[d.Part]
			h := s.eval(d.Part, d.Stmt.Expr, s.now)
			n := node{h, no, no}
			switch {
			case bad == no:
			case s.floats[k]: // only here does it matter that it may drive nothing
				w := s.wild(y.drivers[k][0])
				v := s.f.fresh()
				s.f.clause(-w[0], -v)
				s.f.clause(-w[1], v)
				if y.floatUp[k] {
					s.f.clause(w[0], v)
				}
				n = node{s.f.mux(bad, v, h), s.f.and(bad, -w[0], -w[1]), no}
			case s.looping:
				n.v = s.f.mux(bad, s.wild(y.drivers[k][0])[1], h)
			default:
				n.v = s.f.unless(bad, h)
			}
			s.now.nodes[k] = n
			return
		}
	}
	s.now.nodes[k] = s.resolve(u, k, []layer{s.base(k)}, s.cleared[k])
}

// wild is what an output of a bad part drives: nothing, 0 or 1.
func (s *settler) wild(d int) [2]lit {
	w, ok := s.free[d]
	if !ok {
		w = [2]lit{s.f.fresh(), s.f.fresh()}
		s.f.clause(-w[0], -w[1])
		s.free[d] = w
	}
	return w
}

// base is what the outputs and inputs on a node bring.
func (s *settler) base(k int) layer {
	f := s.f
	var low, high []lit
	for _, i := range s.y.drivers[k] {
		d := &s.c.Drivers[i]
		e := [2]lit{no, no}
		switch d.Stmt.Kind {
		case part.ClockOut:
			e = s.in[d.Input]
		default:
			v := s.eval(d.Part, d.Stmt.Expr, s.now)
			switch d.Stmt.Kind {
			case part.Drive:
				e = [2]lit{-v, v}
			case part.DriveLow:
				e[0] = -v
			case part.DriveHigh:
				e[1] = v
			case part.DriveTri:
				on := s.eval(d.Part, d.Stmt.Cond, s.now)
				e = [2]lit{f.and(on, -v), f.and(on, v)}
			}
		}
		if bad := s.bad[d.Part]; bad != no {
			w := s.wild(i)
			e = [2]lit{f.mux(bad, w[0], e[0]), f.mux(bad, w[1], e[1])}
		}
		low, high = append(low, e[0]), append(high, e[1])
	}
	for _, i := range s.y.inputs[k] {
		low, high = append(low, s.in[i][0]), append(high, s.in[i][1])
	}
	b := [2]lit{f.or(low...), f.or(high...)}
	return layer{b, b}
}

// resolve takes the strongest layer that brings anything.
func (s *settler) resolve(u, k int, layers []layer, cleared bool) node {
	f := s.f
	fight := f.and(layers[0].m[0], layers[0].m[1])
	if s.y.bipolar[u] && len(s.y.inputs[k]) == 0 {
		// every output in the fight sinks more than it gives: it is heard as low
		layers[0].s[1], layers[0].m[1] = f.and(layers[0].s[1], -layers[0].m[0]), f.and(layers[0].m[1], -layers[0].s[0])
	}
	var must [2][]lit
	quiet := yes
	for _, l := range layers {
		must[0] = append(must[0], f.and(quiet, l.s[0], -l.m[1]))
		must[1] = append(must[1], f.and(quiet, l.s[1], -l.m[0]))
		quiet = f.and(quiet, -l.m[0], -l.m[1])
	}
	if s.y.floatUp[k] {
		must[1] = append(must[1], quiet)
	}
	low, high := f.or(must[0]...), f.or(must[1]...)
	v := high
	switch {
	case cleared:
		v, quiet, fight = f.fresh(), f.fresh(), yes
	case low != -high:
		if low == yes || high == yes {
			v = high
			if low == yes {
				v = no
			}
			break
		}
		v = f.fresh()
		f.clause(-low, -v)
		f.clause(-high, v)
	}
	return node{v, quiet, fight}
}

// eval is an expression of a part in a frame. What the record calls unknown is free.
func (s *unroll) eval(pt int, e part.Expr, at *frame) lit {
	f := s.f
	args := func() []lit {
		out := make([]lit, len(e.Args))
		for i, a := range e.Args {
			out[i] = s.eval(pt, a, at)
		}
		return out
	}
	switch e.Op {
	case part.OpConst:
		switch e.Val {
		case 0:
			return no
		case 1:
			return yes
		}
	case part.OpPin:
		if pin := s.c.Parts[pt].NodePin[e.Index]; pin != circuit.None {
			return at.nodes[s.y.pinNode[pin]].v
		}
	case part.OpBit:
		return at.bits[s.c.Parts[pt].Bit+e.Index]
	case part.OpNot:
		return -args()[0]
	case part.OpAnd:
		return f.and(args()...)
	case part.OpOr:
		return f.or(args()...)
	case part.OpXor:
		x := no
		for _, a := range args() {
			x = f.xor(x, a)
		}
		return x
	case part.OpMux:
		a := args()
		return f.mux(a[0], a[1], a[2])
	case part.OpTable:
		return s.table(e.Rows, args())
	}
	return f.fresh()
}

// table is the first row that matches.
func (s *unroll) table(rows []part.Row, in []lit) lit {
	f := s.f
	out := lit(none)
	for i := len(rows) - 1; i >= 0; i-- {
		var match []lit
		for k, v := range rows[i].In {
			switch v {
			case 0:
				match = append(match, -in[k])
			case 1:
				match = append(match, in[k])
			}
		}
		m := f.and(match...)
		if m == no {
			continue
		}
		if out == none && m != yes {
			out = f.fresh()
		}
		v := lit(none)
		switch rows[i].Out {
		case 0:
			v = no
		case 1:
			v = yes
		default:
			v = f.fresh()
		}
		if m == yes {
			out = v
		} else {
			out = f.mux(m, v, out)
		}
	}
	if out == none {
		return f.fresh()
	}
	return out
}
