package ref

import (
	"maps"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// One round's settling: storage stands still, everything else is computed until it no longer changes.

// snapshot is all that a round's settling rests on and leads to.
type snapshot struct {
	levels  []set // node
	bits    []set // stored bits and memory output bits
	values  []set // expression
	inputs  []circuit.Level
	pressed []bool
	rewrote []map[int]bool // memory → words that changed since the end of the last round
}

func (s snapshot) clone() snapshot {
	out := snapshot{slices.Clone(s.levels), slices.Clone(s.bits), slices.Clone(s.values), slices.Clone(s.inputs), slices.Clone(s.pressed), nil}
	for _, m := range s.rewrote {
		out.rewrote = append(out.rewrote, maps.Clone(m))
	}
	return out
}

// view is how a component sees the rest while it settles. With doubt, every input of the component that has changed since the end of the
// last round is unknown.
type view struct {
	r     *run
	in    map[int]bool // things of the component
	doubt bool
	rails []layer // the supply layer of every node
}

func (r *run) settle() {
	sure := r.w.supplies(view{r: r}.state)
	doubtful := r.w.supplies(view{r: r, doubt: true}.state)
	for n := range r.w.nodes {
		if r.w.rail(n) {
			sig := noSignal()
			sig[supply] = sure[n]
			r.now.levels[n] = sig.level()
		}
	}
	for _, comp := range r.plan.components {
		v := view{r: r, in: map[int]bool{}, rails: sure}
		for _, t := range comp.things {
			v.in[t] = true
		}
		switch {
		case !comp.loop:
			v.compute(comp.things[0], replace)
			continue
		case comp.fresh:
			v.forget(comp)
		default:
			v.doubt, v.rails = true, doubtful
			v.relax(comp, widen)
			v.doubt, v.rails = false, sure
		}
		v.relax(comp, replace)
	}
}

// widen adds what becomes possible, replace takes what remains possible. Both only ever go one way inside a settling.
func widen(old, computed set) set    { return old | computed }
func replace(_, computed set) set    { return computed }
func (v view) outside(t int) bool    { return t == circuit.None || !v.in[t] }
func (v view) doubts(same bool) bool { return v.doubt && !same }

func (v view) forget(comp component) {
	for _, t := range comp.things {
		for _, n := range v.r.plan.things[t].nodes {
			v.r.now.levels[n] = anything
		}
		for _, b := range v.r.memoryBits(t) {
			v.r.now.bits[b] = unknown
		}
		if e := v.r.plan.things[t].expression; e != circuit.None {
			v.r.now.values[e] = unknown
		}
	}
}

func (v view) relax(comp component, how func(old, computed set) set) {
	for changed := true; changed; {
		changed = false
		for _, t := range comp.things {
			changed = v.compute(t, how) || changed
		}
	}
}

// compute works out one thing and tells whether it changed.
func (v view) compute(t int, how func(old, computed set) set) bool {
	r, changed := v.r, false
	th := r.plan.things[t]
	if e := th.expression; e != circuit.None {
		x := r.w.expressions[e]
		next := how(r.now.values[e], value(x.expr, v.leaf(x.part)))
		changed = next != r.now.values[e]
		r.now.values[e] = next
		return changed
	}
	if th.memory != circuit.None {
		word := v.read(th.memory)
		for k, b := range r.memoryBits(t) {
			next := how(r.now.bits[b], word[k])
			changed = changed || next != r.now.bits[b]
			r.now.bits[b] = next
		}
		return changed
	}
	for k, level := range r.w.solve(th.nodes, v) {
		n := th.nodes[k]
		next := how(r.now.levels[n], level)
		changed = changed || next != r.now.levels[n]
		r.now.levels[n] = next
	}
	return changed
}

// value is that of an expression which has been computed.
func (v view) value(e int) set {
	if v.outside(e) && v.doubts(v.r.now.values[e] == v.r.old.values[e]) {
		return unknown
	}
	return v.r.now.values[e]
}

// leaf is what an expression of a part finds at a pin heard or a bit.
func (v view) leaf(partIndex int) func(part.Expr) set {
	p := v.r.c.Parts[partIndex]
	return func(l part.Expr) set {
		if l.Op == part.OpPin {
			return v.heard(p.NodePin[l.Index])
		}
		return v.bit(partIndex, l.Index)
	}
}

func (v view) heard(pin int) set {
	if pin == circuit.None {
		return unknown
	}
	n := v.r.w.nodeOf[pin]
	now := v.r.w.hears(pin, v.r.now.levels[n])
	if v.outside(v.r.plan.thingOf[n]) && v.doubts(now == v.r.w.hears(pin, v.r.old.levels[n])) {
		return unknown
	}
	return now
}

func (v view) bit(partIndex, bit int) set {
	b := v.r.c.Parts[partIndex].Bit + bit
	if m := v.r.w.memoryOfBit(partIndex, bit); m != circuit.None && !v.outside(v.r.w.thingOfMemory(m)) {
		return v.r.now.bits[b]
	}
	if v.doubts(v.r.now.bits[b] == v.r.old.bits[b]) {
		return unknown
	}
	return v.r.now.bits[b]
}

// drive is what outputs and inputs from outside put on a node.
func (v view) drive(node int) layer {
	w := v.r.w
	out := noLayer()
	for _, i := range w.inputsAt[node] {
		out.add(fromInput(v.input(i), w.source[i]))
	}
	for _, i := range w.atNode[node] {
		out.add(v.output(&w.outputs[i]))
	}
	return out
}

func (v view) input(i int) circuit.Level {
	if v.doubts(v.r.now.inputs[i] == v.r.old.inputs[i]) {
		return circuit.Unknown
	}
	return v.r.now.inputs[i]
}

func (v view) output(o *output) layer {
	switch o.stuck {
	case stuckLow:
		return driven(can0)
	case stuckHigh:
		return driven(can1)
	case stuckOpen:
		return noLayer()
	case stuckUnknown:
		return driven(unknown)
	}
	if o.input != circuit.None && o.stmt.Kind != part.ClockOut {
		if to := v.input(o.input); to != circuit.Unknown && v.value(o.gate) == can1 {
			return fromInput(to, works)
		}
	}
	l := driven(v.value(o.value))
	switch o.stmt.Kind {
	case part.ClockOut:
		return fromInput(v.input(o.input), v.r.w.source[o.input])
	case part.DriveLow:
		return only(l, can0)
	case part.DriveHigh:
		return only(l, can1)
	case part.DriveTri:
		switch v.value(o.cond) {
		case can0:
			return noLayer()
		case unknown:
			l.must = 0
		}
	}
	return l
}

// only keeps one value of a contribution: an open collector cannot drive the other.
func only(l layer, v set) layer {
	l.may &= v
	l.must &= v
	return l
}

// state tells whether a wire is on.
func (v view) state(i int) state {
	x := &v.r.w.wires[i]
	switch x.fault {
	case neverOn:
		return off
	case alwaysOn:
		return on
	case maybeOn:
		return perhaps
	}
	switch x.kind {
	case circuit.Contact1:
		k := x.link.Contact
		if v.doubts(v.r.now.pressed[k] == v.r.old.pressed[k]) {
			return perhaps
		}
		if v.r.c.Contacts[k].Closed != v.r.now.pressed[k] {
			return on
		}
		return off
	case circuit.Switch:
		return stateOf(v.value(x.cond))
	case circuit.Transistor, circuit.RelayContact:
		now := v.controlled(x, &v.r.now)
		if v.outsideNode(x.ctl) && v.outsideNode(x.ctl2) && v.doubts(now == v.controlled(x, &v.r.old)) {
			return perhaps
		}
		return now
	}
	return on
}

func (v view) outsideNode(n int) bool {
	return n == circuit.None || v.outside(v.r.plan.thingOf[n])
}

// controlled tells whether a transistor or relay contact is on at the levels of a snapshot. A control that is wired to nothing at all
// is at a node that nothing drives.
func (v view) controlled(x *wire, s *snapshot) state {
	level := func(n int) set {
		if n == circuit.None {
			return canZ
		}
		return s.levels[n]
	}
	if x.kind == circuit.Transistor {
		return conducts(x.link, level(x.ctl))
	}
	pulled := across(level(x.ctl), level(x.ctl2), true)
	if x.link.Normally {
		pulled = pulled.invert()
	}
	return stateOf(pulled)
}

func (v view) supply(node int) *layer { return &v.rails[node] }
