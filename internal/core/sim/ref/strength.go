package ref

import (
	"math"

	"halfsplit/internal/core/circuit"
)

// Strengths: what is on a node, layer by layer, and what of it a link passes on.

// The layers, strongest first; nothing is weaker than all.
const (
	supply = iota
	strong // outputs
	weak
	faint
	nothing
)

// layer is what is on a node at one strength. may: the values (0, 1) that may be there. must: those that are there
// for sure, given that nothing stronger is. best and worst are for the weak layer, by value (0, 1): the least total resistance in ohms towards
// that value over everything that may conduct, and over what conducts for sure.
type layer struct {
	may, must   set
	best, worst [2]float64
}

// signal is what is on a node.
type signal [4]layer

func noLayer() layer {
	inf := math.Inf(1)
	return layer{best: [2]float64{inf, inf}, worst: [2]float64{inf, inf}}
}

func noSignal() signal {
	return signal{noLayer(), noLayer(), noLayer(), noLayer()}
}

// add joins a contribution to a layer and tells whether that changed anything.
func (l *layer) add(x layer) bool {
	old := *l
	l.may |= x.may
	l.must |= x.must
	for v := range 2 {
		l.best[v] = min(l.best[v], x.best[v])
		l.worst[v] = min(l.worst[v], x.worst[v])
	}
	return *l != old
}

// shows gives the levels that a layer makes possible, and whether a weaker layer may show instead.
func (l layer) shows(strength int) (level set, through bool) {
	switch {
	case strength == weak && l.must == unknown:
		return l.divider(), false
	case l.may == unknown && strength == strong:
		level = canF
		if l.must&can1 == 0 {
			level |= can0
		}
		if l.must&can0 == 0 {
			level |= can1
		}
		return level, l.must == 0
	}
	return l.may, l.must == 0
}

// divider decides between a weak 0 and a weak 1 by the least total resistances.
func (l layer) divider() set {
	if l.best != l.worst {
		return unknown // a link on the way is only possibly on
	}
	switch part := l.best[0] / (l.best[0] + l.best[1]); {
	case part < 0.3:
		return can0
	case part > 0.5:
		return can1
	}
	return unknown
}

// level is what a node may be.
func (s *signal) level() set {
	var out set
	for strength := range s {
		level, through := s[strength].shows(strength)
		out |= level
		if !through {
			return out
		}
	}
	return out | canZ
}

// outcome is one way a node may be: the strongest layer with something in it, the values there, and the resistances towards them.
type outcome struct {
	strength    int
	values      set
	best, worst [2]float64
}

// outcomes lists all ways a node may be, as far as it is known. At the strength being worked out every contribution is taken
// on its own; a stronger layer is finished and shows its level.
func (s *signal) outcomes(working int) []outcome {
	var out []outcome
	for k := range s {
		l := s[k]
		for _, values := range []set{can0, can1, unknown} {
			if values&^l.may == 0 && l.must&^values == 0 {
				out = append(out, outcome{k, values, l.best, l.worst})
			}
		}
		if finished := k < working; finished && k != strong && l.may == unknown {
			out = dropLayer(out, k)
			level, _ := l.shows(k)
			for _, v := range level.members() {
				out = append(out, outcome{k, v, l.best, l.worst})
			}
		}
		if l.must != 0 {
			return out
		}
	}
	return append(out, outcome{strength: nothing})
}

func dropLayer(list []outcome, strength int) []outcome {
	var out []outcome
	for _, o := range list {
		if o.strength != strength {
			out = append(out, o)
		}
	}
	return out
}

// pass gives what an outcome becomes behind a wire that conducts. fromA tells that it comes from the wire's end a.
func (w *wire) pass(o outcome, fromA bool) outcome {
	if o.strength == nothing {
		return o
	}
	if o.strength != weak {
		o.best, o.worst = [2]float64{}, [2]float64{}
	}
	switch w.kind {
	case circuit.Switch, circuit.Transistor, circuit.RelayContact, circuit.Diode:
		o.strength = max(o.strength, strong)
	case circuit.Resistor:
		o.strength = max(o.strength, weak)
		for v := range 2 {
			o.best[v] += w.link.Ohms
			o.worst[v] += w.link.Ohms
		}
	case circuit.Faint, circuit.FaintBoth:
		o.strength = faint
	}
	if w.kind == circuit.Diode || w.kind == circuit.Faint {
		if fromA {
			o.values &= can1
		} else {
			o.values &= can0
		}
		if o.values == 0 {
			o.strength = nothing
		}
	}
	return o
}

// arrives gives what reaches the other end of a wire at one strength.
func (w *wire) arrives(from *signal, fromA bool, is state, strength int) layer {
	in := noLayer()
	if is == off {
		return in
	}
	sure, longest := unknown, [2]float64{}
	for _, o := range from.outcomes(strength) {
		o = w.pass(o, fromA)
		switch {
		case o.strength < strength: // then this layer does not count on the other end
		case o.strength > strength:
			sure = 0
		default:
			in.may |= o.values
			sure &= o.values
			for v := range 2 {
				if o.values&(can0<<v) != 0 {
					in.best[v] = min(in.best[v], o.best[v])
					longest[v] = max(longest[v], o.worst[v])
				}
			}
		}
	}
	if is == perhaps {
		sure = 0
	}
	in.must = sure & in.may
	for v := range 2 {
		if in.must&(can0<<v) != 0 {
			in.worst[v] = longest[v]
		}
	}
	return in
}
