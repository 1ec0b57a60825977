package weak

import (
	"context"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// The board through the moments of an experiment: rounds in which all stored bits move together, and what was seen as clauses.

// plan is what does not depend on which parts may be bad.
type plan struct {
	c         *circuit.Circuit
	xs        []Experiment
	layouts   []*layout // one for each experiment
	most      int       // moments followed of each
	rounds    int
	shortened bool
}

// work bounds the clauses of all experiments together, so that building and solving them stays a matter of seconds.
const work = 30_000

func newPlan(c *circuit.Circuit, xs []Experiment, moments int) *plan {
	p := &plan{c: c, xs: xs, most: moments}
	known := map[string]*layout{}
	for _, x := range xs {
		k := predict.Setting{Lifted: x.Setting.Lifted}.Key()
		y := known[k]
		if y == nil {
			y = newLayout(c, x.Setting.Lifted)
			known[k] = y
		}
		p.layouts = append(p.layouts, y)
	}
	// A part that waits for another adds a round at most; more than a handful one after the other are rare, and what has not come to rest is left free.
	p.rounds = 1
	if len(c.Stores) > 0 {
		clocked := 0
		for i := range c.Parts {
			if len(c.Parts[i].Stores) > 0 {
				clocked++
			}
		}
		p.rounds = min(2+clocked, 4)
	}
	if p.most <= 0 {
		p.most = max(4, work/p.cost())
	}
	return p
}

// cost is the clauses that one moment adds, over all experiments: those of one settling from an unknown state, as often as rounds are usual.
func (p *plan) cost() int {
	if len(p.xs) == 0 {
		return 1
	}
	f := newCNF()
	r := &unroll{plan: p, f: f, y: p.layouts[0], bad: make([]lit, len(p.c.Parts)), wild: no}
	for i := range r.bad {
		r.bad[i] = f.fresh()
	}
	r.begin()
	r.moment(r.unknown())
	return len(f.clauses) * len(p.xs)
}

// clauses writes everything out for the parts that may be bad.
func (p *plan) clauses(ctx context.Context, may []bool) (*cnf, []suspect, error) {
	f := newCNF()
	var list []suspect
	bad := make([]lit, len(p.c.Parts))
	for i := range bad {
		bad[i] = no
		if may[i] {
			bad[i] = f.fresh()
			list = append(list, suspect{i, bad[i]})
		}
	}
	for i := range p.xs {
		x := &p.xs[i]
		r := &unroll{plan: p, f: f, y: p.layouts[i], bad: slices.Clone(bad), cleared: map[int]bool{}, floats: map[int]bool{}}
		for _, e := range x.Excused {
			r.bad[e] = yes
		}
		for _, n := range x.Free {
			r.cleared[r.y.netNode[n]] = true
		}
		for k := range x.Seen {
			if x.Seen[k].Look == Level && x.Seen[k].Word == predict.Floating {
				r.floats[r.place(x.Seen[k].Place)] = true
			}
		}
		if err := r.experiment(ctx, x); err != nil {
			return nil, nil, err
		}
	}
	return f, list, nil
}

// unroll is one experiment on its way.
type unroll struct {
	*plan
	f       *cnf
	y       *layout
	bad     []lit
	cleared map[int]bool // nodes that may have any level
	floats  map[int]bool // nodes where floating was read
	in      [][2]lit     // per input: drives a 0, drives a 1
	closed  []bool       // per contact
	cut     bool         // the last action is followed in part
	wild    lit          // the moment before did not come to rest
}

// seen is a frame in which something was looked at; unrest excuses all of it.
type shown struct {
	*frame
	unrest lit
}

func (r *unroll) experiment(ctx context.Context, x *Experiment) error {
	seq := r.c.Sequence(x.Setting.Actions)
	var moments []circuit.Moment
	last := 0 // first moment of the last action
	for _, a := range seq {
		last = len(moments)
		moments = append(moments, r.c.Actions[a].Moments...)
	}
	r.begin()
	skip := max(0, len(moments)-r.most)
	r.cut = skip > last
	if skip > 0 {
		r.shortened = true
	}
	for _, m := range moments[:skip] {
		r.outside(m)
	}
	cur := r.unknown()
	frames := []shown{{cur, no}}
	for i, m := range moments[skip:] {
		if err := ctx.Err(); err != nil {
			return err
		}
		if skip+i == last {
			frames = frames[len(frames)-1:]
		}
		r.outside(m)
		s := r.moment(cur)
		cur = s.frame
		frames = append(frames, s)
	}
	if last == len(moments) { // the last action does nothing
		frames = frames[len(frames)-1:]
	}
	for i := range x.Seen {
		r.look(&x.Seen[i], frames, len(frames) > 1 || len(moments) > 0)
	}
	return nil
}

// begin is the bench before anything is done: inputs unknown, contacts at rest.
func (r *unroll) begin() {
	r.in, r.closed, r.wild = make([][2]lit, len(r.c.Inputs)), make([]bool, len(r.c.Contacts)), no
	for i := range r.in {
		v := r.f.fresh()
		r.in[i] = [2]lit{-v, v}
	}
	for i, k := range r.c.Contacts {
		r.closed[i] = k.Closed
	}
}

// unknown is a settled board with everything stored unknown.
func (r *unroll) unknown() *frame {
	bits := make([]lit, r.c.Bits)
	for i := range bits {
		bits[i] = r.f.fresh()
	}
	cur := &frame{make([]node, len(r.y.rail)), bits}
	for i := range cur.nodes {
		cur.nodes[i] = node{r.f.fresh(), no, no}
	}
	return r.settle(cur, r.memories(bits))
}

// outside moves inputs and contacts.
func (r *unroll) outside(m circuit.Moment) {
	for _, s := range m.Sets {
		switch s.To {
		case circuit.Low:
			r.in[s.Input] = [2]lit{yes, no}
		case circuit.High:
			r.in[s.Input] = [2]lit{no, yes}
		case circuit.Unknown:
			v := r.f.fresh()
			r.in[s.Input] = [2]lit{-v, v}
		case circuit.LetGo:
			r.in[s.Input] = [2]lit{no, no}
		case circuit.Invert:
			r.in[s.Input][0], r.in[s.Input][1] = r.in[s.Input][1], r.in[s.Input][0]
		}
	}
	for _, k := range m.Contacts {
		r.closed[k.Contact] = r.c.Contacts[k.Contact].Closed != k.Pressed
	}
}

// moment runs rounds until nothing changes, or as many as are followed.
func (r *unroll) moment(before *frame) shown {
	bits := slices.Clone(before.bits)
	for _, s := range r.c.Stores {
		if s.Stmt.Pulse {
			bits[s.Bit] = no
		}
	}
	prev := before
	for round := 0; ; round++ {
		cur := r.settle(prev, bits)
		next, unrest := r.step(prev, cur)
		r.wild = no
		if unrest == no {
			return shown{&frame{cur.nodes, next}, no}
		}
		if round+1 == r.rounds {
			for i, b := range next {
				next[i] = r.f.unless(unrest, b)
			}
			r.wild = unrest
			return shown{&frame{cur.nodes, next}, unrest}
		}
		prev, bits = cur, next
	}
}

// step gives every stored bit its next value; unrest tells whether any changes.
func (r *unroll) step(prev, cur *frame) (next []lit, unrest lit) {
	next = slices.Clone(cur.bits)
	var moved []lit
	for _, s := range r.c.Stores {
		v := r.f.unless(r.wild, r.clauseChain(s, prev, cur))
		moved = append(moved, r.f.xor(v, cur.bits[s.Bit]))
		next[s.Bit] = v
	}
	return r.memories(next), r.f.or(moved...)
}

// clauseChain is the first active clause of a stored bit, else the bit as it was.
func (r *unroll) clauseChain(s circuit.Store, prev, cur *frame) lit {
	v := cur.bits[s.Bit]
	for _, cl := range slices.Backward(s.Stmt.Clauses) {
		now := r.eval(s.Part, cl.Cond, cur)
		active, from := now, cur
		if cl.When != part.While {
			was := r.eval(s.Part, cl.Cond, prev)
			active, from = r.f.and(-was, now), prev
			if cl.When == part.Fall {
				active = r.f.and(was, -now)
			}
		}
		if active != no {
			v = r.f.mux(active, r.eval(s.Part, cl.Val, from), v)
		}
	}
	return v
}

// memories leaves what memories give out free.
func (r *unroll) memories(bits []lit) []lit {
	if len(r.c.Memories) == 0 {
		return bits
	}
	out := slices.Clone(bits)
	for _, m := range r.c.Memories {
		for b := range m.Stmt.Width {
			out[m.Bit+b] = r.f.fresh()
		}
	}
	return out
}
