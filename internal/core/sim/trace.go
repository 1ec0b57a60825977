package sim

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// Trace is the good board through an experiment, round by round: the base from which batches of faulty boards
// differ. Moment 0 is the unknown state. A Trace is not changed once made; Extend makes a longer one that shares what
// went before.
type Trace struct {
	p       *Program
	ov      *Overlay // what is not a fault but the state of the bench: lifted pins
	rows    [][]uint8
	netRows [][]uint8
	logLen  []int // writes to memory before each round
	log     []memWrite
	moved   [][]int32  // stores that take a new value at the end of each round
	looked  []bitset   // stores that could have moved then: those that read something that changed in this round or the last
	active  [][]uint64 // units that were computed in each round, a bit per position: what else reads is as it was a round ago
	moments []span
	ins     []external
}

// span is the rounds of one moment.
type span struct{ first, n int }

// maxRounds bounds a moment: what still swings then is unknown.
const maxRounds = 256

// Moments is how many moments the trace has, the unknown state included.
func (t *Trace) Moments() int { return len(t.moments) }

// Unknown settles the good board in the unknown state. The patches (all lanes) are the state of the bench, such as lifted pins.
func (p *Program) Unknown(bench []Patch) *Trace {
	t := &Trace{p: p}
	if len(bench) > 0 {
		t.ov = p.Overlay(bench, nil)
	}
	e := NewEngine(p)
	row, netRow := p.blank()
	e.row, e.netRow = row, netRow
	for pos := range p.units {
		e.wake(int32(pos))
	}
	ins := external{slices.Repeat([]circuit.Level{circuit.Unknown}, len(p.C.Inputs)), make([]bool, len(p.C.Contacts))}
	t.moment(e, ins, true)
	return t
}

// blank is the row in which everything is unknown.
func (p *Program) blank() (row, netRow []uint8) {
	row, netRow = slices.Repeat([]uint8{3}, p.nodes), slices.Repeat([]uint8{15}, len(p.C.Nets))
	row[nodeOne] = 2
	for i, n := range p.C.Nets {
		if n.Rail {
			netRow[i] = 1
			if n.High {
				netRow[i] = 2
			}
		}
	}
	return row, netRow
}

// Extend runs further actions on the good board.
func (t *Trace) Extend(actions ...int) *Trace {
	x := &Trace{p: t.p, ov: t.ov, rows: slices.Clip(t.rows), netRows: slices.Clip(t.netRows), logLen: slices.Clip(t.logLen),
		log: slices.Clip(t.log), moved: slices.Clip(t.moved), active: slices.Clip(t.active), looked: slices.Clip(t.looked), moments: slices.Clip(t.moments), ins: slices.Clip(t.ins)}
	e := NewEngine(t.p)
	last := len(x.rows) - 1
	e.row, e.netRow = x.rows[last], x.netRows[last]
	e.in = x.ins[len(x.ins)-1]
	for _, a := range actions {
		for _, m := range t.p.C.Actions[a].Moments {
			x.moment(e, x.apply(m), false)
		}
	}
	return x
}

// apply makes the outside of the next moment.
func (t *Trace) apply(m circuit.Moment) external {
	last := t.ins[len(t.ins)-1]
	if len(m.Sets) > 0 {
		last.inputs = slices.Clone(last.inputs)
	}
	if len(m.Contacts) > 0 {
		last.pressed = slices.Clone(last.pressed)
	}
	for _, s := range m.Sets {
		to := s.To
		if to == circuit.Invert {
			to = [...]circuit.Level{circuit.High, circuit.Low, circuit.Unknown, circuit.LetGo, circuit.Unknown}[last.inputs[s.Input]]
		}
		last.inputs[s.Input] = to
	}
	for _, c := range m.Contacts {
		last.pressed[c.Contact] = c.Pressed
	}
	return last
}

// moment settles the good board; every round is the difference from the one before.
func (t *Trace) moment(e *Engine, in external, first bool) {
	e.mount(t.ov)
	e.was, e.in = e.in, in
	if first {
		e.was = in
	}
	e.wakeOutside()
	var pend []pending
	if !first {
		for _, s := range t.p.pulseBits {
			pend = append(pend, pending{t.p.stores[s].node, Heard{all, 0}})
		}
	}
	sp := span{first: len(t.rows)}
	for r := 0; ; r++ {
		e.prevRow, e.prevNetRow = e.row, e.netRow
		e.prev.begin(e.stamp + 1)
		e.stamp += 2
		e.cur.begin(e.stamp)
		e.log, e.logTo = t.log, len(t.log)
		t.logLen = append(t.logLen, len(t.log))
		for _, b := range pend {
			e.setNode(b.node, b.h)
		}
		if t.ov != nil {
			for _, pos := range t.ov.seeds {
				e.wake(pos)
			}
		}
		e.active = make([]uint64, len(e.queue))
		e.settle()
		t.active = append(t.active, e.active)
		e.was = e.in
		everything := first && r == 0
		var moved uint64
		e.looked.set(len(t.p.stores), everything)
		e.look(e.cur.nodes)
		e.look(e.lately)
		pend, moved = e.nextBits(pend[:0], r >= maxRounds, all)
		moving := moved != 0
		t.moved, t.looked = append(t.moved, slices.Clone(e.movers)), append(t.looked, slices.Clone(e.looked))
		for mi := range t.p.mems {
			if (everything || e.touched(mi)) && e.writeMemory(mi, &t.log) {
				e.wake(t.p.memPos[mi])
				moving = true
			}
		}
		e.lately = append(e.lately[:0], e.cur.nodes...)
		e.changed = e.changed[:0]
		t.keep(e)
		if !moving || r > maxRounds {
			sp.n = r + 1
			break
		}
	}
	clear(e.queue)
	t.moments = append(t.moments, sp)
	t.ins = append(t.ins, in)
}

// keep stores the round as a row of its own.
func (t *Trace) keep(e *Engine) {
	row, netRow := slices.Clone(e.row), slices.Clone(e.netRow)
	for _, n := range e.cur.nodes {
		row[n] = e.cur.v[n].byteOf()
	}
	for _, n := range e.cur.nets {
		netRow[n] = e.cur.nv[n].byteOf()
	}
	t.rows, t.netRows = append(t.rows, row), append(t.netRows, netRow)
	e.row, e.netRow = row, netRow
}

// wakeOutside wakes the groups whose inputs or contacts an action has moved.
func (e *Engine) wakeOutside() {
	for i := range e.in.inputs {
		if e.in.inputs[i] != e.was.inputs[i] {
			e.wake(e.p.groupPos[e.p.groupOf[e.p.inputNet[i]]])
		}
	}
	for k := range e.in.pressed {
		if e.in.pressed[k] != e.was.pressed[k] {
			e.wakeContact(k)
		}
	}
}

func (e *Engine) wakeContact(k int) {
	for _, li := range e.p.C.Parts[e.p.C.Contacts[k].Part].Links {
		l := &e.p.C.Links[li]
		for _, n := range []int{l.A, l.B} {
			if g := e.p.groupOf[n]; g >= 0 {
				e.wake(e.p.groupPos[g])
			}
		}
	}
}

// touched tells whether anything a memory listens to when writing differs from the row.
func (e *Engine) touched(mi int) bool {
	m := &e.p.mems[mi]
	if m.rom {
		return false
	}
	hit := func(r ref) bool { return e.cur.st[r.node()] == e.cur.stamp }
	return hit(m.write) || slices.ContainsFunc(m.address, hit) || slices.ContainsFunc(m.data, hit)
}
