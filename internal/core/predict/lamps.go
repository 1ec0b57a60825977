package predict

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/sim"
)

// What the eye sees of indicators during an action. A board has many and most faults change few of them, so a batch follows only those whose
// nets or links differ from the good board's; the others are looked up there.

// lampSeen is what is seen of an indicator: in which lanes it is seen lit, seen dark (else it is unknown), and changes.
type lampSeen struct{ lit, dark, changes uint64 }

// lampAcc is what an indicator has shown so far.
type lampAcc struct {
	end             sim.Heard // in the last moment
	lit             uint64    // may have been lit in some moment
	dark            uint64    // may have been dark in every moment
	everOn, everOff uint64    // surely lit, surely dark in some moment
}

func newLampAcc() lampAcc { return lampAcc{dark: ^uint64(0)} }

func (l *lampAcc) add(h sim.Heard) {
	l.end = h
	l.lit |= h.P1
	l.dark &= h.P0
	l.everOn |= h.P1 &^ h.P0
	l.everOff |= h.P0 &^ h.P1
}

// seen is what that comes to; whole tells that the eye watches the whole action, not its end.
func (l *lampAcc) seen(whole bool) lampSeen {
	h := l.end
	if whole {
		h = sim.Heard{P0: l.dark, P1: l.lit}
	}
	return lampSeen{h.P1 &^ h.P0, h.P0 &^ h.P1, l.everOn & l.everOff}
}

// lampsOn lists for each net the indicators between it and another.
func lampsOn(c *circuit.Circuit) [][]int32 {
	on := make([][]int32, len(c.Nets))
	for i, l := range c.Lamps {
		on[l.A] = append(on[l.A], int32(i))
		if l.K != l.A {
			on[l.K] = append(on[l.K], int32(i))
		}
	}
	return on
}

// view is the moments of an experiment that the eye sees: from moment from of the trace to its end.
type view struct {
	t    *sim.Trace
	from int
}

// eye gives the moments that are seen: those of the last action; without one, the state there is.
func eye(base, whole *sim.Trace) view {
	if base == whole {
		return view{whole, whole.Moments() - 1}
	}
	return view{whole, base.Moments()}
}

// goodLamp is what an indicator of the good board shows before moment to.
func (v view) goodLamp(p *sim.Program, lamp, to int) lampAcc {
	a := newLampAcc()
	for k := v.from; k < to; k++ {
		a.add(p.Lit(lamp, v.t.Settled(k)))
	}
	return a
}

func (v view) goodLamps(m *Model, whole bool) []lampSeen {
	out := make([]lampSeen, len(m.C.Lamps))
	for i := range out {
		a := v.goodLamp(m.P, i, v.t.Moments())
		out[i] = a.seen(whole)
	}
	return out
}

// lampWatch is what a worker notes of the indicators of a batch.
type lampWatch struct {
	stamp []uint32
	now   uint32
	list  []int32 // those followed
	accs  []lampAcc
}

func newLampWatch(c *circuit.Circuit) lampWatch {
	return lampWatch{stamp: make([]uint32, len(c.Lamps)), accs: make([]lampAcc, len(c.Lamps))}
}

// begin follows the indicators that a fault of the batch sits on.
func (w *lampWatch) begin(e *sim.Engine, p *sim.Program, v view) {
	w.now++
	w.list = w.list[:0]
	for i := range w.stamp {
		if e.LampPatched(i) {
			w.follow(p, int32(i), v, v.from)
		}
	}
}

func (w *lampWatch) follow(p *sim.Program, lamp int32, v view, k int) {
	if w.stamp[lamp] != w.now {
		w.stamp[lamp] = w.now
		w.list = append(w.list, lamp)
		w.accs[lamp] = v.goodLamp(p, int(lamp), k)
	}
}

// moment notes moment k, which the engine has settled.
func (w *lampWatch) moment(e *sim.Engine, m *Model, v view, k int) {
	for _, n := range e.Touched() {
		for _, l := range m.lampsOn[n] {
			w.follow(m.P, l, v, k)
		}
	}
	for _, l := range w.list {
		w.accs[l].add(e.Lit(int(l)))
	}
}

// seen gives the indicators followed, ascending, and what is seen of each.
func (w *lampWatch) seen(whole bool) ([]int32, []lampSeen) {
	slices.Sort(w.list)
	out := make([]lampSeen, len(w.list))
	for i, l := range w.list {
		out[i] = w.accs[l].seen(whole)
	}
	return slices.Clone(w.list), out
}
