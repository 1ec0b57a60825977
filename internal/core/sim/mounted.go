package sim

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// The overlay of the batch at hand, laid out so that an engine finds a patch by index: looking it up is what a settling does
// most often. Only what an overlay names is written when it is mounted and cleared when the next one is.
type mounted struct {
	pins     []*pinPatch
	links    []*linkPatch
	srcs     []*srcPatch
	dark     []uint64 // by lamp
	supply   []drive  // by net
	fightX   []uint64 // by net
	notPlain []uint64
	extra    [][]int32 // by node
	supers   [][]int32 // group → supers it is in
	loopX    []uint64  // by loop
	odd      []bool    // group: a link of it is patched, or a leg of one is off its net
	swept    []bool    // loop: an open joint in it lets members read what they do not read otherwise
}

func newMounted(p *Program) mounted {
	c := p.C
	return mounted{pins: make([]*pinPatch, len(c.Pins)), links: make([]*linkPatch, len(c.Links)), srcs: make([]*srcPatch, len(c.Inputs)),
		dark: make([]uint64, len(c.Lamps)), supply: make([]drive, len(c.Nets)), fightX: make([]uint64, len(c.Nets)),
		notPlain: make([]uint64, len(c.Nets)), extra: make([][]int32, p.nodes), supers: make([][]int32, len(p.groups)),
		loopX: make([]uint64, len(p.loops)), odd: make([]bool, len(p.groups)), swept: make([]bool, len(p.loops))}
}

// mount puts an overlay in the place of the last one; nil is the good board.
func (e *Engine) mount(o *Overlay) {
	m := &e.on
	if e.ov == o {
		return
	}
	if last := e.ov; last != nil {
		for k := range last.pins {
			m.pins[k] = nil
		}
		for k := range last.links {
			m.links[k] = nil
		}
		for k := range last.srcs {
			m.srcs[k] = nil
		}
		for k := range last.dark {
			m.dark[k] = 0
		}
		for _, s := range last.supply {
			m.supply[s.net] = drive{}
		}
		for k := range last.fightX {
			m.fightX[k] = 0
		}
		for k := range last.notPlain {
			m.notPlain[k] = 0
		}
		for k := range last.extra {
			m.extra[k] = nil
		}
		for k := range last.superOf {
			m.supers[k] = nil
		}
		for k := range last.loopX {
			m.loopX[k] = 0
		}
		for _, g := range last.odd {
			m.odd[g] = false
		}
		for _, l := range last.swept {
			m.swept[l] = false
		}
	}
	e.ov = o
	if o == nil {
		return
	}
	if len(e.circle) < len(o.supers) {
		e.circle = make([]circleState, len(o.supers))
	}
	for k, v := range o.pins {
		m.pins[k] = v
	}
	for k, v := range o.links {
		m.links[k] = v
	}
	for k, v := range o.srcs {
		m.srcs[k] = v
	}
	for k, v := range o.dark {
		m.dark[k] = v
	}
	for _, s := range o.supply {
		m.supply[s.net] = s.d
	}
	for k, v := range o.fightX {
		m.fightX[k] = v
	}
	for k, v := range o.notPlain {
		m.notPlain[k] = v
	}
	for k, v := range o.extra {
		m.extra[k] = v
	}
	for k, v := range o.superOf {
		m.supers[k] = v
	}
	for k, v := range o.loopX {
		m.loopX[k] = v
	}
	for _, g := range o.odd {
		m.odd[g] = true
	}
	for _, l := range o.swept {
		m.swept[l] = true
	}
}

// findOdd lists the groups whose links are not what they are on the good board, and the loops with an open joint.
func (o *Overlay) findOdd(p *Program) {
	link := func(li int) {
		for _, n := range []int{p.C.Links[li].A, p.C.Links[li].B} {
			if g := p.groupOf[n]; g >= 0 && !slices.Contains(o.odd, g) {
				o.odd = append(o.odd, g)
			}
		}
	}
	for li := range o.links {
		link(int(li))
	}
	for q, x := range o.pins {
		if x.joint == 0 {
			continue
		}
		for _, li := range p.C.Parts[p.C.Pins[q].Part].Links {
			if l := &p.C.Links[li]; l.PinA == int(q) || l.PinB == int(q) || l.CtlPin == int(q) || l.Ctl2Pin == int(q) {
				link(li)
			}
		}
		if pos := p.hearPos[q]; pos >= 0 && p.units[pos].kind == uLoop {
			o.swept = append(o.swept, p.units[pos].index)
		}
	}
}

// findSupply sums up the shorts on each net.
func (o *Overlay) findSupply(p *Program) {
	at := map[int32]drive{}
	put := func(net int, low, high uint64) {
		if low|high != 0 {
			d := at[int32(net)]
			d.add(fixed(false, low))
			d.add(fixed(true, high))
			at[int32(net)] = d
		}
	}
	for n, x := range o.nets {
		put(int(n), x.low, x.high)
	}
	for q, x := range o.pins {
		pin := &p.C.Pins[q]
		net := pin.Net
		if pin.Inside != circuit.None {
			net = pin.Inside
		}
		put(net, x.inLow&^x.joint, x.inHigh&^x.joint)
	}
	for n, d := range at {
		o.supply = append(o.supply, supplyPatch{n, d})
	}
}
