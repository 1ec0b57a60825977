package sim

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// Nets joined by links are settled together, layer by layer of strength: supply, output, weak, faint. Within a
// layer, levels spread along links until nothing changes; sure and possible drives only grow, so the order does not matter.

type groupScratch struct {
	local                 []int32 // net → index in the (super)group at hand
	sup, out, weak, faint []drive
	on, short             []conduct
	dist                  []float64
	level, own            []NetLevel
	outputs               drive // of the net whose bridges are looked at
}

func newScratch(p *Program) groupScratch {
	return groupScratch{local: make([]int32, len(p.C.Nets))}
}

// super is what bridges make of groups: one bigger group, in the lanes of the bridges.
type super struct {
	nets     []int32
	lanes    []uint64 // per net: where a bridge of this super is at its group
	links    []int32
	bridges  []bridge
	feedback uint64 // lanes whose bridge closes a loop of gates
	pos      int32  // position of one member, to wake it by
	pair     bool   // one bridge between two plain nets
}

// setter takes the level of a net in some lanes.
type setter func(net int32, v NetLevel, lanes uint64)

// group settles a group and hands each net's level to set; in the lanes of bridges, those of the nets at their other ends too.
func (e *Engine) group(g int32, set setter) {
	gr := &e.p.groups[g]
	supers := e.on.supers[g]
	if gr.simple && !e.on.odd[g] {
		n := gr.nets[0]
		out := e.outputsOn(n)
		v := resolve(e.supplyOn(n), out, gr.pull, drive{}, 0, 0)
		if len(supers) == 0 {
			set(n, v, all)
			return
		}
		e.scratch.outputs = out
		e.bridged(gr, append(e.scratch.own[:0], v), supers, set)
		return
	}
	e.linked(gr.nets, gr.links, nil)
	if len(supers) == 0 {
		for k, n := range gr.nets {
			set(n, e.scratch.level[k], all)
		}
		return
	}
	e.bridged(gr, append(e.scratch.own[:0], e.scratch.level...), supers, set)
}

// bridged settles the supers that a group is in, own being its levels where no bridge is.
func (e *Engine) bridged(gr *group, own []NetLevel, supers []int32, set setter) {
	e.scratch.own = own
	for _, si := range supers {
		su := &e.ov.supers[si]
		if e.circle[si] == still {
			e.stand(gr, own, su, si)
			continue
		}
		if su.pair {
			e.pair(su, gr.nets[0], e.circle[si] == unknown)
		} else {
			e.linked(su.nets, su.links, su)
			if e.circle[si] == unknown {
				e.forget(su)
			}
		}
		for k, n := range su.nets {
			v := e.scratch.level[k]
			if i := slices.Index(gr.nets, n); i >= 0 {
				own[i] = v.pick(su.lanes[k], own[i])
			} else {
				set(n, v, su.lanes[k])
			}
		}
	}
	for i, n := range gr.nets {
		set(n, own[i], all)
	}
}

// pair is linked for one bridge between two plain nets. What is on either at supply or output strength is on both; what a resistor brings
// counts across the bridge only where nothing stronger may be. scratch.outputs is what drives the net mine.
func (e *Engine) pair(su *super, mine int32, forget bool) {
	s := &e.scratch
	s.size(2, 0)
	if forget {
		s.level[0], s.level[1] = NetLevel{all, all, all, all}, NetLevel{all, all, all, all}
		return
	}
	other := su.nets[0]
	if other == mine {
		other = su.nets[1]
	}
	sup, out := e.supplyOn(mine), s.outputs
	sup.add(e.supplyOn(other))
	out.add(e.outputsOn(other))
	for k, n := range su.nets {
		weak := e.p.groups[e.p.groupOf[n]].pull
		weak.add(below(e.p.groups[e.p.groupOf[su.nets[1-k]]].pull, sup, out))
		s.level[k] = resolve(sup, out, weak, drive{}, 0, 0)
	}
}

// conducts tells in which lanes a link passes anything, as the kind it is. With across, open joints at its ends
// are overlooked: the question is then what reaches the inside end.
func (e *Engine) conducts(li int32, across bool) conduct {
	l := &e.p.C.Links[li]
	on := conduct{all, all}
	switch l.Kind {
	case circuit.Contact1:
		on = e.contact(l.Contact)
	case circuit.Switch:
		c := e.get(e.p.cond[li])
		on = conduct{^c.P0, c.P1}
	case circuit.Transistor:
		on = e.transistor(l)
	case circuit.RelayContact:
		on = e.relay(l)
	}
	if o := e.on.links[li]; o != nil {
		off := o.open | o.short
		on.must &^= off | o.maybe
		on.may &^= off
		on.may |= o.maybe
	}
	if l.Kind == circuit.Faint || l.Kind == circuit.FaintBoth {
		d := e.on.dark[l.Lamp]
		on.must &^= d
		on.may &^= d
	}
	if !across {
		j := e.jointLanes(l.PinA) | e.jointLanes(l.PinB)
		on.must &^= j
		on.may &^= j
	}
	return on
}

func (e *Engine) jointLanes(pin int) uint64 {
	if pin == circuit.None {
		return 0
	}
	if o := e.on.pins[pin]; o != nil {
		return o.joint
	}
	return 0
}

func (e *Engine) contact(k int) conduct {
	closed := e.p.C.Contacts[k].Closed != e.in.pressed[k]
	on := conduct{}
	if closed {
		on = conduct{all, all}
	}
	if e.union && e.in.pressed[k] != e.was.pressed[k] {
		on = conduct{0, all}
		e.doubt = true
	}
	return on
}

func (e *Engine) control(net, pin int) NetLevel {
	v := e.netGet(int32(net))
	if j := e.jointLanes(pin); j != 0 {
		v = NetLevel{Z: all}.pick(j, v)
	}
	return v
}

func (e *Engine) transistor(l *circuit.Link) conduct {
	if l.Ctl == circuit.None {
		if l.Normally {
			return conduct{all, all}
		}
		return conduct{}
	}
	v := e.control(l.Ctl, l.CtlPin)
	yes, no := v.V1, v.V0
	if !l.OnHigh {
		yes, no = no, yes
	}
	if l.Normally {
		yes |= v.Z
	} else {
		no |= v.Z
	}
	return conduct{yes &^ (no | v.F), yes | v.F}
}

func (e *Engine) relay(l *circuit.Link) conduct {
	on := conduct{}
	if l.Ctl != circuit.None && l.Ctl2 != circuit.None {
		p, n := e.control(l.Ctl, l.CtlPin), e.control(l.Ctl2, l.Ctl2Pin)
		sp, sn := asDrive(p), asDrive(n)
		on = conduct{sp.m0&sn.m1 | sp.m1&sn.m0, sp.y0&sn.y1 | sp.y1&sn.y0}
	}
	if l.Normally {
		on = conduct{^on.may, ^on.must}
	}
	return on
}

// strong tells whether a link passes supply strength unchanged.
func strong(k circuit.LinkKind) bool {
	return k == circuit.Joint || k == circuit.Closed || k == circuit.Contact1
}

func (s *groupScratch) size(nets, links int) {
	if cap(s.sup) < nets {
		s.sup, s.out, s.weak, s.faint = make([]drive, nets), make([]drive, nets), make([]drive, nets), make([]drive, nets)
	}
	if cap(s.on) < links {
		s.on, s.short = make([]conduct, links), make([]conduct, links)
	}
	if cap(s.level) < nets {
		s.level = make([]NetLevel, nets)
	}
	s.sup, s.out, s.weak, s.faint, s.level = s.sup[:nets], s.out[:nets], s.weak[:nets], s.faint[:nets], s.level[:nets]
	s.on, s.short = s.on[:links], s.short[:links]
}

// end is one end of a link as the spreading sees it: an index in the group, or a rail.
type end struct {
	k    int32 // -1 for a rail
	high bool
}

func (e *Engine) end(net int) end {
	n := &e.p.C.Nets[net]
	if n.Rail {
		return end{-1, n.High}
	}
	return end{e.scratch.local[net], false}
}

// linked computes the levels of nets that links and bridges join, into scratch.level.
func (e *Engine) linked(nets, links []int32, su *super) {
	s := &e.scratch
	s.size(len(nets), len(links))
	for k, n := range nets {
		s.local[n] = int32(k)
		s.sup[k], s.out[k], s.weak[k], s.faint[k] = e.supplyOn(n), e.outputsOn(n), drive{}, drive{}
	}
	closed, joins := su != nil, su != nil // some link passes supply strength, output strength
	for k, li := range links {
		s.on[k] = e.conducts(li, false)
		s.short[k] = conduct{}
		kind := e.p.C.Links[li].Kind
		closed = closed || strong(kind)
		joins = joins || kind != circuit.Resistor && kind != circuit.Faint && kind != circuit.FaintBoth
		if o := e.on.links[li]; o != nil {
			closed, joins = true, true
			j := e.jointLanes(e.p.C.Links[li].PinA) | e.jointLanes(e.p.C.Links[li].PinB)
			s.short[k] = conduct{o.short &^ j, o.short &^ j}
		}
	}
	var br []bridge
	if su != nil {
		br = su.bridges
	}
	// a layer is spread only where something can carry it, and where a net is still open below what is stronger
	if closed {
		e.spreadSupply(links, br)
	}
	if joins {
		e.spreadOutput(links, br)
	}
	if e.open(nets, s.sup, s.out) {
		e.spreadWeak(links, br)
		if e.open(nets, s.sup, s.out, s.weak) {
			e.spreadFaint(links, br)
		}
	}
	for k := range nets {
		low, high := e.dividers(links, br, k)
		s.level[k] = resolve(s.sup[k], s.out[k], s.weak[k], s.faint[k], low, high)
	}
}

// open tells whether some net may be decided by nothing in these layers, in some lane.
func (e *Engine) open(nets []int32, layers ...[]drive) bool {
	for k := range nets {
		sure := uint64(0)
		for _, l := range layers {
			sure |= l[k].m0 | l[k].m1
		}
		if sure != all {
			return true
		}
	}
	return false
}

// across hands every link and bridge to pass, both ways where it conducts both ways, until no drive grows. to is the receiving
// index; from is -1 for a rail of level high.
type passFunc func(kind circuit.LinkKind, on conduct, from end, to int32, forward bool) bool

func (e *Engine) across(links []int32, br []bridge, pass passFunc) {
	s := &e.scratch
	for changed := true; changed; {
		changed = false
		both := func(kind circuit.LinkKind, on conduct, a, b end) {
			if on.may == 0 {
				return
			}
			if b.k >= 0 && pass(kind, on, a, b.k, true) {
				changed = true
			}
			if a.k >= 0 && pass(kind, on, b, a.k, false) {
				changed = true
			}
		}
		for k, li := range links {
			l := &e.p.C.Links[li]
			a, b := e.end(l.A), e.end(l.B)
			both(l.Kind, s.on[k], a, b)
			both(circuit.Closed, s.short[k], a, b)
		}
		for _, x := range br {
			both(circuit.Closed, conduct{x.lanes, x.lanes}, e.end(int(x.a)), e.end(int(x.b)))
		}
	}
}

func grow(d *drive, o drive) bool {
	old := *d
	d.add(o)
	return *d != old
}

func (e *Engine) spreadSupply(links []int32, br []bridge) {
	s := &e.scratch
	e.across(links, br, func(kind circuit.LinkKind, on conduct, from end, to int32, _ bool) bool {
		if !strong(kind) {
			return false
		}
		return grow(&s.sup[to], e.supplyOf(from).gated(on))
	})
}

func (e *Engine) supplyOf(from end) drive {
	if from.k < 0 {
		return fixed(from.high, all)
	}
	return e.scratch.sup[from.k]
}

// unfought is what supplies on a net pass on at a lower strength: where two of them may fight, neither level is sure.
func (d drive) unfought() drive {
	return drive{d.m0 &^ d.y1, d.m1 &^ d.y0, d.y0, d.y1}
}

// below masks a drive to where it still counts beside what is stronger: it is sure where nothing stronger can contradict it, and possible
// where there may be nothing stronger.
func below(d drive, stronger ...drive) drive {
	for _, x := range stronger {
		none := ^(x.m0 | x.m1)
		d = drive{d.m0 &^ x.y1, d.m1 &^ x.y0, d.y0 & none, d.y1 & none}
	}
	return d
}

func oneWay(d drive, kind circuit.LinkKind, forward bool) drive {
	if kind == circuit.Diode || kind == circuit.Faint {
		if forward { // from the anode: only a 1 passes
			return drive{m1: d.m1, y1: d.y1}
		}
		return drive{m0: d.m0, y0: d.y0}
	}
	return d
}

func (e *Engine) spreadOutput(links []int32, br []bridge) {
	s := &e.scratch
	e.across(links, br, func(kind circuit.LinkKind, on conduct, from end, to int32, forward bool) bool {
		if kind == circuit.Resistor || kind == circuit.Faint || kind == circuit.FaintBoth {
			return false
		}
		var d drive
		if from.k >= 0 {
			d = below(s.out[from.k], s.sup[from.k])
		}
		if !strong(kind) {
			d.add(e.supplyOf(from).unfought())
		}
		return grow(&s.out[to], oneWay(d, kind, forward).gated(on))
	})
}

// upper is the level that a net passes on when it is decided at supply or output strength.
func (e *Engine) upper(from end) drive {
	d := e.supplyOf(from).unfought()
	if from.k >= 0 {
		d.add(below(e.scratch.out[from.k], e.scratch.sup[from.k]))
	}
	return d
}

func (e *Engine) spreadWeak(links []int32, br []bridge) {
	s := &e.scratch
	e.across(links, br, func(kind circuit.LinkKind, on conduct, from end, to int32, forward bool) bool {
		if kind == circuit.Faint || kind == circuit.FaintBoth {
			return false
		}
		var d drive
		if kind == circuit.Resistor {
			d = e.upper(from)
		}
		if from.k >= 0 {
			d.add(below(s.weak[from.k], s.sup[from.k], s.out[from.k]))
		}
		return grow(&s.weak[to], oneWay(d, kind, forward).gated(on))
	})
}

func (e *Engine) spreadFaint(links []int32, br []bridge) {
	s := &e.scratch
	e.across(links, br, func(kind circuit.LinkKind, on conduct, from end, to int32, forward bool) bool {
		var d drive
		if kind == circuit.Faint || kind == circuit.FaintBoth {
			d = e.upper(from)
			if from.k >= 0 {
				d.add(below(s.weak[from.k], s.sup[from.k], s.out[from.k]))
			}
		}
		if from.k >= 0 {
			d.add(below(s.faint[from.k], s.sup[from.k], s.out[from.k], s.weak[from.k]))
		}
		return grow(&s.faint[to], oneWay(d, kind, forward).gated(on))
	})
}
