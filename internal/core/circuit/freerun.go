package circuit

import (
	"fmt"
	"math/bits"
	"slices"

	"halfsplit/internal/core/part"
)

// The free run: a processor that fetches nothing but no-operations counts through its addresses by itself. Its inside is not modelled, so
// the action moves its address pins instead, and its strobes, in as few steps as show what counting shows. It runs only while its clock
// has been seen to move and its hold pins are right, as far as the model can tell: else its outputs are unknown, as ever.
//
// What a bus shows while an adapter feeds the processor depends on the adapter: its data pins are left unknown.

// freeRun is a processor that can run free.
type freeRun struct {
	part    int
	fr      *part.FreeRun
	lines   []int // inputs of the address pins that are wired, lowest first; None where one is not
	control []freeControl
	clocks  []InputSet // what makes the board's clocks run: To is ignored
	release []InputSet // outside inputs on nets that the processor drives, and on pins that are held
}

type freeControl struct {
	input       int
	idle, fetch Level
}

func levelOf(high bool) Level {
	if high {
		return High
	}
	return Low
}

// freeRuns gives the outputs of each such processor an input of their own.
func (b *builder) freeRuns() {
	c := b.c
	for pi := range c.Parts {
		fr := c.Parts[pi].Type.FreeRun
		if fr == nil || !slices.ContainsFunc(fr.Address, func(n int) bool { return b.drivenBy(pi, n) != None }) {
			continue
		}
		r := &freeRun{part: pi, fr: fr}
		gate := b.gate(r)
		move := func(node int) int {
			d := b.drivenBy(pi, node)
			if d == None {
				return None
			}
			pin := c.Drivers[d].Pin
			c.Drivers[d].Input, c.Drivers[d].Gate = len(c.Inputs), gate
			if in := c.Nets[c.Pins[pin].Net].Input; in != None {
				r.release = append(r.release, InputSet{in, LetGo})
			}
			c.Inputs = append(c.Inputs, Input{Net: c.Pins[pin].Net, Pin: pin})
			return len(c.Inputs) - 1
		}
		for _, n := range slices.Backward(fr.Address) {
			r.lines = append(r.lines, move(n))
		}
		for _, k := range fr.Control {
			if in := move(k.Node); in != None {
				r.control = append(r.control, freeControl{in, levelOf(k.Idle), levelOf(k.Fetch)})
			}
		}
		b.free = append(b.free, r)
	}
}

// drivenBy is the driver at a node of a part, when its pin is wired.
func (b *builder) drivenBy(pi, node int) int {
	pin := b.c.Parts[pi].NodePin[node]
	if pin == None || !b.c.Pins[pin].Wired {
		return None
	}
	return b.c.Pins[pin].Driver
}

// gate is when the processor runs, in terms of its pins and of a stored bit that says that its clock has moved. What the model cannot
// follow is taken to be right. It notes what the action has to hold and to clock.
func (b *builder) gate(r *freeRun) part.Expr {
	c := b.c
	p := &c.Parts[r.part]
	all := part.Expr{Op: part.OpConst, Val: 1}
	and := func(e part.Expr) {
		if all.Op == part.OpConst {
			all = e
			return
		}
		all = part.Expr{Op: part.OpAnd, Args: []part.Expr{all, e}}
	}
	for _, h := range r.fr.Hold {
		net, ok := b.followed(r.part, h.Node)
		if !ok {
			continue
		}
		if in := c.Nets[net].Input; in != None {
			r.release = append(r.release, InputSet{in, levelOf(h.High)})
		}
		heard := part.Expr{Op: part.OpPin, Index: h.Node}
		if !h.High {
			heard = part.Expr{Op: part.OpNot, Args: []part.Expr{heard}}
		}
		and(heard)
	}
	for i, in := range c.Inputs {
		if in.Pin != None && c.Drivers[c.Pins[in.Pin].Driver].Stmt.Kind == part.ClockOut {
			r.clocks = append(r.clocks, InputSet{Input: i})
		}
	}
	net, ok := b.followed(r.part, r.fr.Clock)
	if net != None && c.Nets[net].Input != None {
		r.clocks = append(r.clocks, InputSet{Input: c.Nets[net].Input})
	}
	if ok {
		clock := part.Expr{Op: part.OpPin, Index: r.fr.Clock}
		one := part.Expr{Op: part.OpConst, Val: 1}
		s := &part.Stmt{Kind: part.Store, Node: -1, A: -1, B: -1, Ctl: -1, Ctl2: -1, Bit: c.Bits - p.Bit,
			Clauses: []part.Clause{{When: part.Rise, Cond: clock, Val: one}, {When: part.Fall, Cond: clock, Val: one}}}
		p.Stores = append(p.Stores, len(c.Stores))
		c.Stores = append(c.Stores, Store{r.part, c.Bits, s})
		c.Bits++
		and(part.Expr{Op: part.OpBit, Index: s.Bit})
	}
	return all
}

// followed gives the net of a pin that hears, and tells whether the model knows what level comes there: from rails, clock sources and outside
// inputs through parts that are modelled and remember nothing.
func (b *builder) followed(pi, node int) (net int, ok bool) {
	pin := b.c.Parts[pi].NodePin[node]
	if pin == None || !b.c.Pins[pin].Wired {
		return None, false
	}
	net = b.c.Pins[pin].Net
	return net, b.c.Pins[pin].Use&part.Heard != 0 && b.known(net, map[int]bool{})
}

func (b *builder) known(net int, seen map[int]bool) bool {
	c := b.c
	n := &c.Nets[net]
	if n.Rail || seen[net] {
		return true
	}
	seen[net] = true
	some := n.Input != None
	for _, d := range n.Drivers {
		some = true
		s := c.Drivers[d].Stmt
		ok := s.Kind == part.ClockOut || b.leavesKnown(c.Drivers[d].Part, s.Expr, seen)
		if !ok || s.Kind == part.DriveTri && !b.leavesKnown(c.Drivers[d].Part, s.Cond, seen) {
			return false
		}
	}
	for _, li := range n.Links {
		l := &c.Links[li]
		switch l.Kind {
		case Joint, Closed, Contact1, Resistor:
			some = true
			if !b.known(l.A, seen) || !b.known(l.B, seen) {
				return false
			}
		case Faint, FaintBoth:
		case Switch:
			if l.Cond.Op != part.OpConst || l.Cond.Val != 0 { // a capacitor passes nothing
				return false
			}
		case Diode: // a clamp or a discharge path to a rail changes no level at rest
			if !c.Nets[l.A].Rail && !c.Nets[l.B].Rail {
				return false
			}
		default:
			return false
		}
	}
	return some
}

func (b *builder) leavesKnown(pi int, e part.Expr, seen map[int]bool) bool {
	if e.Op == part.OpConst && e.Val == 2 {
		return false
	}
	ok := true
	e.Leaves(func(l part.Expr) {
		if l.Op == part.OpBit {
			ok = false
			return
		}
		if pin := b.c.Parts[pi].NodePin[l.Index]; pin != None && ok {
			ok = b.known(b.c.Pins[pin].Net, seen)
		}
	})
	return ok
}

// freeActions makes the actions: a prelude that fits the adapter and lets the clock run, then the run.
func (b *builder) freeActions() {
	for _, r := range b.free {
		name := "free-run"
		ref := b.c.Parts[r.part].Ref
		if _, taken := b.c.actByName[name]; taken || len(b.free) > 1 {
			name += "-" + ref
		}
		if _, taken := b.c.actByName[name]; taken {
			continue // the board describes it itself
		}
		b.c.Actions = append(b.c.Actions, Action{Moments: b.freeStart(r), FreeRun: r.part})
		b.c.actByName[name] = len(b.c.Actions)
		b.c.Actions = append(b.c.Actions, Action{Name: name, Title: fmt.Sprintf("Free run: %s fetches no-operations (%02X) at every address", ref, r.fr.Opcode),
			Whole: true, Moments: b.freeMoments(r), Prelude: []int{len(b.c.Actions) - 1}, FreeRun: r.part})
	}
}

// tick is one half of a fetch: the address, the strobes and the board's clocks.
func (r *freeRun) tick(word uint64, fetch bool) Moment {
	var m Moment
	for i, in := range r.lines {
		if in != None {
			m.Sets = append(m.Sets, InputSet{in, levelOf(word>>i&1 == 1)})
		}
	}
	for _, k := range r.control {
		to := k.idle
		if fetch {
			to = k.fetch
		}
		m.Sets = append(m.Sets, InputSet{k.input, to})
	}
	for _, k := range r.clocks {
		m.Sets = append(m.Sets, InputSet{k.Input, levelOf(fetch)})
	}
	return m
}

func (b *builder) freeStart(r *freeRun) []Moment {
	first := r.tick(0, false)
	first.Sets = append(r.release[:len(r.release):len(r.release)], first.Sets...)
	return []Moment{first, r.tick(0, true), r.tick(0, false)}
}

// most address lines that meet in one piece of logic and are counted through in full; of more the highest are.
const counted = 7

// freeMoments is the run: every combination of the lines that meet in a decoder or other logic, all such pieces at once, then each line high by
// itself. Where more lines meet than are counted through, it ends with the address unknown, so that nothing is called steady that was not shown to be.
func (b *builder) freeMoments(r *freeRun) []Moment {
	groups := b.meeting(r)
	long, partial := 0, false
	for i, g := range groups {
		if len(g) > counted {
			groups[i], partial = g[len(g)-counted:], true
		}
		long = max(long, len(groups[i]))
	}
	var words []uint64
	for j := range 1 << long {
		w := uint64(0)
		for _, g := range groups {
			for k, line := range g {
				w |= uint64(j) >> k & 1 << line
			}
		}
		words = append(words, w)
	}
	for i := range r.lines {
		words = append(words, 1<<i)
	}
	words = append(words, 1<<len(r.lines)-1, 0)
	var out []Moment
	for _, w := range words {
		out = append(out, r.tick(w, false), r.tick(w, true))
	}
	if partial {
		var m Moment
		for _, in := range r.lines {
			if in != None {
				m.Sets = append(m.Sets, InputSet{in, Unknown})
			}
		}
		out = append(out, m)
	}
	return out
}

// meeting sorts the address lines into groups that meet in some part that is modelled and is no memory; lines are numbered from the lowest,
// and rise within a group. A line that meets none is in no group.
func (b *builder) meeting(r *freeRun) [][]int {
	c := b.c
	mask := make([]uint64, len(c.Nets))
	var together []uint64 // lines that one expression hears
	for i, in := range r.lines {
		if in != None {
			mask[c.Inputs[in].Net] |= 1 << i
		}
	}
	for again := true; again; {
		again, together = false, together[:0]
		grow := func(net int, m uint64) {
			if !c.Nets[net].Rail && mask[net]|m != mask[net] {
				mask[net] |= m
				again = true
			}
		}
		heard := func(pi int, exprs ...part.Expr) (m uint64) {
			for _, e := range exprs {
				e.Leaves(func(l part.Expr) {
					if l.Op != part.OpPin {
						return
					}
					if pin := c.Parts[pi].NodePin[l.Index]; pin != None {
						m |= mask[c.Pins[pin].Net]
					}
				})
			}
			return m
		}
		for _, d := range c.Drivers {
			if m := heard(d.Part, d.Stmt.Expr, d.Stmt.Cond); m != 0 && d.Part != r.part {
				grow(c.Pins[d.Pin].Net, m)
				together = append(together, m)
			}
		}
		for _, s := range c.Stores {
			for _, cl := range s.Stmt.Clauses {
				if m := heard(s.Part, cl.Cond, cl.Val); m != 0 && s.Part != r.part {
					together = append(together, m)
					for _, d := range c.Parts[s.Part].Drivers {
						grow(c.Pins[c.Drivers[d].Pin].Net, m)
					}
				}
			}
		}
		for _, l := range c.Links {
			if l.Kind == Faint || l.Kind == FaintBoth || l.Kind == Resistor && (c.Nets[l.A].Rail || c.Nets[l.B].Rail) {
				continue
			}
			grow(l.A, mask[l.B])
			grow(l.B, mask[l.A])
		}
	}
	return unite(together, len(r.lines))
}

// unite joins sets of lines that share one; sets of a single line are left out.
func unite(sets []uint64, lines int) [][]int {
	group := make([]uint64, lines)
	for i := range group {
		group[i] = 1 << i
	}
	for again := true; again; {
		again = false
		for _, s := range sets {
			all := s
			for i := range group {
				if s>>i&1 == 1 {
					all |= group[i]
				}
			}
			for i := range group {
				if all>>i&1 == 1 && group[i] != all {
					group[i], again = all, true
				}
			}
		}
	}
	var out [][]int
	for i, g := range group {
		if bits.TrailingZeros64(g) != i || bits.OnesCount64(g) < 2 {
			continue
		}
		var one []int
		for k := range lines {
			if g>>k&1 == 1 {
				one = append(one, k)
			}
		}
		out = append(out, one)
	}
	return out
}

// Rate is how fast a net runs in a free run of a processor: one period for Divide clocks. Pin is the address pin that gives it.
type Rate struct {
	Pin, Net, Divide int
}

// Rates lists the address lines that a free run of a part counts on, lowest first; nil for a part that cannot.
func (c *Circuit) Rates(pi int) []Rate {
	fr := c.Parts[pi].Type.FreeRun
	if fr == nil {
		return nil
	}
	var out []Rate
	for i := range fr.Address {
		if pin := c.Parts[pi].NodePin[fr.Address[len(fr.Address)-1-i]]; pin != None && c.Pins[pin].Wired {
			out = append(out, Rate{pin, c.Pins[pin].Net, fr.Divide(i)})
		}
	}
	return out
}
