package ref

import (
	"halfsplit/internal/core/circuit"
)

// What an input hears, when a controlled link is on, when an indicator is lit.

// hears gives what a part hears at one of its pins, a subset of {0, 1}, when the pin's node has a level.
func (w *wiring) hears(pin int, level set) set {
	if pin == circuit.None {
		return unknown
	}
	bipolar := w.c.Parts[w.c.Pins[pin].Part].Family.Bipolar()
	switch {
	case w.open[pin]:
		level = canZ
	case w.forced[pin] != 0:
		level = w.forced[pin]
	}
	var out set
	for _, m := range level.members() {
		switch {
		case m == can0 || m == can1:
			out |= m
		case m == canZ && bipolar:
			out |= can1
		case m == canF && w.bipolar[w.nodeOf[pin]]:
			out |= can0
		default:
			out |= unknown
		}
	}
	return out
}

// state of a link: on, off, or perhaps on.
type state uint8

const (
	off state = iota
	on
	perhaps
)

// stateOf turns a truth into a state.
func stateOf(v set) state {
	switch v {
	case can0:
		return off
	case can1:
		return on
	}
	return perhaps
}

// conducts tells whether a transistor conducts at a level of its base or gate.
func conducts(l *circuit.Link, level set) state {
	var out set
	for _, m := range level.members() {
		switch m {
		case can0:
			out |= truth(!l.OnHigh)
		case can1:
			out |= truth(l.OnHigh)
		case canZ:
			out |= truth(l.Normally)
		default:
			out |= unknown
		}
	}
	return stateOf(out)
}

func truth(b bool) set { return levelSet(b) }

// across tells whether current flows from a to k (or, with either, also from k to a): one is 1 and the other 0.
// A fight may be either.
func across(a, k set, either bool) set {
	var out set
	for _, x := range unfought(a).members() {
		for _, y := range unfought(k).members() {
			out |= truth(x == can1 && y == can0 || either && x == can0 && y == can1)
		}
	}
	return out
}

func unfought(level set) set {
	if level&canF != 0 {
		return level&^canF | unknown
	}
	return level
}

// settled is a level as an indicator takes it: a fight that is heard as 0 counts as 0.
func (w *wiring) settled(node int, level set) set {
	if level&canF != 0 && w.bipolar[node] {
		return level&^canF | can0
	}
	return level
}

// fights finds, for every node, of which families the outputs are that can fight there: those on the node and on the nodes
// that anything but a resistor, an LED or a lamp joins to it, on or not. A short makes a plain link of any of those. A rail joins
// nothing: it is stronger than any output. A joint that is open does not take its output out: the families are those of the board as wired.
func (w *wiring) fights() {
	g := newSets(w.nodes)
	for _, x := range w.wires {
		weak := x.kind == circuit.Resistor || x.kind == circuit.Faint || x.kind == circuit.FaintBoth
		if !weak && !w.rail(x.a) && !w.rail(x.b) {
			g.join(x.a, x.b)
		}
	}
	for n := range w.nodes {
		g.join(n, w.netOf[n])
	}
	rootBipolar, rootPlain := make([]bool, w.nodes), make([]bool, w.nodes)
	for n := range w.nodes {
		rootBipolar[n], rootPlain[n] = true, true
	}
	for n := range w.nodes {
		bipolar, plain := w.outputsAre(n)
		root := g.find(n)
		rootBipolar[root] = rootBipolar[root] && bipolar
		rootPlain[root] = rootPlain[root] && plain
	}
	for n := range w.nodes {
		w.bipolar = append(w.bipolar, rootBipolar[g.find(n)])
		w.plain = append(w.plain, rootPlain[g.find(n)])
	}
}

// outputsAre tells whether all outputs on a node are bipolar, and of the plain 74 family. An input driven from outside counts as
// bipolar when any bipolar part is on its net.
func (w *wiring) outputsAre(node int) (bipolar, plain bool) {
	bipolar, plain = true, true
	for _, o := range w.atNode[node] {
		f := w.c.Parts[w.outputs[o].part].Family
		bipolar, plain = bipolar && f.Bipolar(), plain && f.Plain()
	}
	if len(w.inputsAt[node]) > 0 {
		any := false
		for _, p := range w.c.Nets[node].Pins {
			any = any || w.c.Parts[w.c.Pins[p].Part].Family.Bipolar()
		}
		bipolar, plain = bipolar && any, false
	}
	return bipolar, plain
}
