package weak

import (
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// What was seen, as clauses. A frame that did not come to rest excuses everything in it.

func (r *unroll) look(s *Seen, frames []shown, moved bool) {
	if s.Look == Lamp {
		r.lamp(s, frames, moved)
		return
	}
	k := r.place(s.Place)
	if r.y.rail[k] != none { // a reading of a rail says nothing of the parts
		return
	}
	if s.AtEnd {
		frames = frames[len(frames)-1:]
	}
	f := r.f
	var low, high, fight []lit
	for _, x := range frames {
		n := x.nodes[k]
		low = append(low, f.or(x.unrest, f.and(-n.v, -n.idle)))
		high = append(high, f.or(x.unrest, f.and(n.v, -n.idle)))
		fight = append(fight, f.or(x.unrest, n.fight))
	}
	weak := len(r.y.wiresOf[r.y.unit[k]]) > 0 // a divider may stand between the levels
	switch s.Word {
	case predict.Low, predict.High:
		want, sign := high, lit(1)
		if s.Word == predict.Low {
			want, sign = low, -1
		}
		for _, x := range frames {
			n := x.nodes[k]
			f.clause(x.unrest, sign*n.v, n.idle)
		}
		r.once(want)
	case predict.Pulses:
		r.once(low)
		r.once(high)
	case predict.Floating:
		for _, x := range frames {
			if n := x.nodes[k]; !weak {
				f.clause(x.unrest, n.idle)
			}
		}
	case predict.Between:
		if !weak {
			r.once(fight)
		}
	}
}

// once demands that something holds in some moment of the last action; when only its end is followed, it may have held before.
func (r *unroll) once(ls []lit) {
	if !r.cut || len(ls) == 1 { // one moment is the end, which is always followed
		r.f.clause(ls...)
	}
}

// place is the node of a place: a pin is read on the part's side, which differs from the net's when it is lifted.
func (r *unroll) place(p circuit.Place) int {
	if p.Pin != circuit.None {
		return r.y.pinNode[p.Pin]
	}
	return r.y.netNode[p.Net]
}

// lamp is lit when its anode is 1 and its cathode 0 (a lamp that works both ways: when they differ). A bad one shows anything.
func (r *unroll) lamp(s *Seen, frames []shown, moved bool) {
	f := r.f
	l := &r.c.Lamps[s.Lamp]
	var w wire
	for _, x := range r.y.wires {
		if x.Link == &r.c.Links[l.Link] {
			w = x
		}
	}
	if w.Link == nil { // both ends on one node: it never lights
		return
	}
	switch {
	case !s.Whole || len(frames) == 1:
		frames = frames[len(frames)-1:]
	case moved:
		frames = frames[1:] // the settled state before is not part of the action
	}
	var bright, dark []lit
	for _, x := range frames {
		a, b := x.nodes[w.a], x.nodes[w.b]
		on := f.and(a.v, -b.v)
		if l.Both {
			on = f.xor(a.v, b.v)
		}
		free := f.or(r.bad[l.Part], x.unrest)
		bright = append(bright, f.or(on, free))
		dark = append(dark, f.or(-on, free))
	}
	if s.Lit {
		r.once(bright)
	}
	if !s.Dark {
		return
	}
	if s.Lit { // blinking: dark at times
		r.once(dark)
		return
	}
	for _, d := range dark {
		f.clause(d)
	}
}
