package ref

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// Moments and rounds.

// run is one run of a board.
type run struct {
	c           *circuit.Circuit
	w           *wiring
	plan        *plan
	now, old    snapshot   // old: at the end of the last round
	before      [][]clause // stores' clauses at the end of the last round
	memory      [][]word
	frozen      []bool        // stored bit → unknown for the rest of the moment
	frozenCells map[cell]bool // the same for memory bits
}

// lastRound is after how many rounds of one moment a bit that still changes becomes unknown.
const lastRound = 256

func newRun(c *circuit.Circuit, patches []Patch) *run {
	r := &run{c: c, w: lay(c, patches), memory: newMemories(c)}
	r.plan = r.w.plan()
	goodWiring := lay(c, nil)
	r.plan.compare(r.w, goodWiring.plan(), goodWiring)
	r.now = snapshot{
		levels:  slices.Repeat([]set{anything}, r.w.nodes),
		bits:    slices.Repeat([]set{unknown}, c.Bits),
		values:  slices.Repeat([]set{unknown}, len(r.w.expressions)),
		inputs:  slices.Repeat([]circuit.Level{circuit.Unknown}, len(c.Inputs)),
		pressed: make([]bool, len(c.Contacts)),
	}
	for range c.Memories {
		r.now.rewrote = append(r.now.rewrote, map[int]bool{})
	}
	r.old = r.now.clone()
	for _, s := range c.Stores {
		r.before = append(r.before, slices.Repeat([]clause{{unknown, unknown}}, len(s.Stmt.Clauses)))
	}
	r.thaw()
	return r
}

func (r *run) thaw() {
	r.frozen = make([]bool, r.c.Bits)
	r.frozenCells = map[cell]bool{}
}

// change begins a moment: inputs and contacts change and one-shots fall back.
func (r *run) change(m circuit.Moment) {
	r.thaw()
	for _, s := range m.Sets {
		to := s.To
		if to == circuit.Invert {
			switch r.now.inputs[s.Input] {
			case circuit.Low:
				to = circuit.High
			case circuit.High:
				to = circuit.Low
			default:
				to = r.now.inputs[s.Input]
			}
		}
		r.now.inputs[s.Input] = to
	}
	for _, k := range m.Contacts {
		r.now.pressed[k.Contact] = k.Pressed
	}
	for _, s := range r.c.Stores {
		if s.Stmt.Pulse {
			r.now.bits[s.Bit] = can0
		}
	}
}

// rounds settles the board until no storage changes any more.
func (r *run) rounds() {
	for round := 1; ; round++ {
		r.settle()
		r.old = r.now.clone()
		for _, words := range r.now.rewrote {
			clear(words)
		}
		if !r.take(round >= lastRound) {
			return
		}
	}
}

// memoryBits gives the output bits of a thing that is a memory, lowest first.
func (r *run) memoryBits(t int) []int {
	m := r.plan.things[t].memory
	if m == circuit.None {
		return nil
	}
	out := make([]int, r.c.Memories[m].Stmt.Width)
	for b := range out {
		out[b] = r.c.Memories[m].Bit + b
	}
	return out
}

func (r *run) frame() Frame {
	f := Frame{w: r.w, levels: slices.Clone(r.now.levels)}
	for i, l := range r.c.Lamps {
		f.lit = append(f.lit, r.lit(i, l))
	}
	return f
}

// lit tells whether an indicator is lit. One that is shorted has no difference across it, one that is open carries no current.
func (r *run) lit(i int, l circuit.Lamp) byte {
	x := &r.w.wires[l.Link]
	if r.w.dark[i] || x.fault == neverOn || x.fault == alwaysOn {
		return '0'
	}
	lit := across(r.w.settled(x.a, r.now.levels[x.a]), r.w.settled(x.b, r.now.levels[x.b]), l.Both)
	if x.fault == maybeOn {
		lit |= can0
	}
	return lit.sign()
}
