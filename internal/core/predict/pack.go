package predict

import (
	"context"
	"slices"
	"sync"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/sim"
)

// Way is a fault in one of the modes in which it can show itself.
type Way struct {
	F    fault.Fault
	Mode int
}

// Pack is a list of hypotheses, one a lane, 64 to a batch. A hypothesis is a set of ways; the empty set is the good board.
type Pack struct {
	m    *Model
	Hyps [][]Way

	mu       sync.Mutex
	overlays map[string][]*sim.Overlay // by lifted pins
	starts   map[string][]*sim.Batch   // by sequence of actions
}

// Pack lays out hypotheses.
func (m *Model) Pack(hyps [][]Way) *Pack {
	return &Pack{m: m, Hyps: hyps, overlays: map[string][]*sim.Overlay{}, starts: map[string][]*sim.Batch{}}
}

// Batches is how many words of 64 lanes there are.
func (p *Pack) Batches() int { return (len(p.Hyps) + 63) / 64 }

// batchOverlays builds the overlays for a bench.
func (p *Pack) batchOverlays(s Setting) []*sim.Overlay {
	key := Setting{Lifted: s.Lifted}.Key()
	p.mu.Lock()
	defer p.mu.Unlock()
	if o, ok := p.overlays[key]; ok {
		return o
	}
	bench := p.m.bench(s)
	var out []*sim.Overlay
	for b := range p.Batches() {
		var ps []sim.Patch
		otherwise := map[int]uint64{} // input → lanes in which the analogue half does not do what a sound one does
		for k := b * 64; k < min(len(p.Hyps), b*64+64); k++ {
			for _, w := range p.Hyps[k] {
				ps = append(ps, w.F.Patches(p.m.C, w.Mode, 1<<(k&63))...)
				for _, in := range w.F.Forced(p.m.C, w.Mode) {
					otherwise[in] |= 1 << (k & 63)
				}
			}
		}
		ps = append(ps, p.m.rest(func(f circuit.Force) uint64 {
			if f.Do <= circuit.DrivesX {
				return ^otherwise[f.Index]
			}
			return ^uint64(0)
		})...)
		out = append(out, p.m.P.Overlay(bench, ps))
	}
	p.overlays[key] = out
	return out
}

// Show runs an experiment on all hypotheses and returns what each batch shows. The state before the last action is kept, so
// that many actions after the same start cost one start.
func (p *Pack) Show(ctx context.Context, s Setting, want Want) ([]*Shown, error) {
	return p.ShowSome(ctx, s, want, nil, nil)
}

// ShowSome is Show for the batches that are needed (nil: all) and not there yet; the others stay as they are in have, which is not changed.
func (p *Pack) ShowSome(ctx context.Context, s Setting, want Want, have []*Shown, need []bool) ([]*Shown, error) {
	out := make([]*Shown, p.Batches())
	copy(out, have)
	todo := missing(out, need)
	if len(todo) == 0 {
		return out, ctx.Err()
	}
	x := p.m.experiment(s, want)
	if err := p.begin(ctx, &x, need); err != nil {
		return nil, err
	}
	err := p.m.each(ctx, len(todo), func(w *worker, k int) { out[todo[k]] = w.watch(p.m, &x, todo[k]) })
	return out, err
}

// ShowAll is Show for many experiments at once; what is wanted may differ from one to the next.
func (p *Pack) ShowAll(ctx context.Context, sets []Setting, want func(set int) Want) ([][]*Shown, error) {
	out := make([][]*Shown, len(sets))
	xs := make([]experiment, len(sets))
	if err := p.m.Share(ctx, len(sets), func(i int) { xs[i] = p.m.experiment(sets[i], want(i)) }); err != nil {
		return nil, err
	}
	for i := range xs {
		out[i] = make([]*Shown, p.Batches())
		if err := p.begin(ctx, &xs[i], nil); err != nil {
			return nil, err
		}
	}
	n := p.Batches()
	err := p.m.each(ctx, n*len(sets), func(w *worker, k int) { out[k/n][k%n] = w.watch(p.m, &xs[k/n], k%n) })
	return out, err
}

// experiment is a setting made ready to be shown to batches.
type experiment struct {
	s           Setting
	want        Want
	before      []int
	base, whole *sim.Trace // up to the action that is watched, and to its end
	seeWhole    bool       // the eye watches the whole action
	good        *goodShown
	ovs         []*sim.Overlay
	starts      []*sim.Batch
}

func (m *Model) experiment(s Setting, want Want) experiment {
	before, watched := m.plan(s)
	x := experiment{s: s, want: want, before: before, base: m.trace(s, before)}
	x.whole = x.base
	if watched != circuit.None {
		x.whole = m.trace(s, append(before[:len(before):len(before)], watched))
		x.seeWhole = m.C.Actions[watched].Whole
	}
	x.good = m.goodOf(s, x.base, x.whole)
	return x
}

// begin takes the batches that are needed to where the watched action begins.
func (p *Pack) begin(ctx context.Context, x *experiment, need []bool) (err error) {
	x.ovs = p.batchOverlays(x.s)
	x.starts, err = p.startsOf(ctx, x.s, x.before, x.base, x.ovs, need)
	return err
}

// missing lists the entries that are needed and not there.
func missing[T any](have []*T, need []bool) []int {
	var todo []int
	for i := range have {
		if have[i] == nil && (need == nil || need[i]) {
			todo = append(todo, i)
		}
	}
	return todo
}

func (p *Pack) startsOf(ctx context.Context, s Setting, before []int, base *sim.Trace, ovs []*sim.Overlay, need []bool) ([]*sim.Batch, error) {
	key := Setting{s.Lifted, before}.Key()
	p.mu.Lock()
	st := slices.Clone(p.starts[key])
	p.mu.Unlock()
	if st == nil {
		st = make([]*sim.Batch, len(ovs))
	}
	todo := missing(st, need)
	if len(todo) == 0 {
		return st, nil
	}
	if err := p.m.each(ctx, len(todo), func(w *worker, k int) { st[todo[k]] = w.e.Run(base, ovs[todo[k]], nil, nil) }); err != nil {
		return nil, err
	}
	p.mu.Lock()
	p.starts[key] = st
	p.mu.Unlock()
	return st, nil
}
