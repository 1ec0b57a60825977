// Package ref is a slow, obvious simulator of one board with its faults: the oracle against which tests hold the
// fast one. It follows docs/simulation.md sentence by sentence and shares no code with the fast simulator.
//
// Reading order: set (levels as sets of possibilities), patch (primitive faults), wiring (the board with the faults
// built in), expression, hear (what an input hears, when a link is on), strength and network (how levels of different
// strength meet on nets), loops (the order of settling), settle, storage, run.
package ref

import (
	"halfsplit/internal/core/circuit"
)

// Machine is one board, good or faulty. It may be run many times; each run begins in the unknown state.
type Machine struct {
	c       *circuit.Circuit
	patches []Patch
}

// New returns the good board.
func New(c *circuit.Circuit) *Machine {
	return &Machine{c: c}
}

// Patch adds a primitive fault. Of two faults of the same thing that contradict each other the later counts.
func (m *Machine) Patch(p Patch) {
	m.patches = append(m.patches, p)
}

// Run does the actions (indices into Circuit.Actions, the start actions among them) in order, from the unknown state.
// It returns a Frame of the unknown state, then one for each moment.
func (m *Machine) Run(actions []int) []Frame {
	r := newRun(m.c, m.patches)
	r.rounds()
	frames := []Frame{r.frame()}
	for _, a := range actions {
		for _, mo := range m.c.Actions[a].Moments {
			r.change(mo)
			r.rounds()
			frames = append(frames, r.frame())
		}
	}
	return frames
}

// Frame is what could be seen at the end of one moment.
type Frame struct {
	w      *wiring
	levels []set
	lit    []byte
}

// Net is the level of a net: 0 1 X Z F.
func (f Frame) Net(i int) byte { return f.levels[i].sign() }

// Pin is the level at a pin, which is not that of its net when its joint is open.
func (f Frame) Pin(i int) byte { return f.levels[f.w.nodeOf[i]].sign() }

// Lit tells whether an indicator is lit: 0 1 X.
func (f Frame) Lit(lamp int) byte { return f.lit[lamp] }

// PlainFight tells whether every output that can take part in a fight on the net is of the plain 74 family.
func (f Frame) PlainFight(net int) bool { return f.w.plain[net] }
