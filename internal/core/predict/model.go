// Package predict says what a board would show: for many hypotheses at once, what a scope, an eye, a meter would
// read at any place after any experiment. Diagnosis compares it with what was seen; the planner looks for where hypotheses differ.
package predict

import (
	"context"
	"fmt"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/sim"
)

// Model is a circuit ready to be asked. It keeps what it has computed and may be used by many goroutines.
type Model struct {
	C *circuit.Circuit
	P *sim.Program

	workers int
	lampsOn [][]int32
	engines sync.Pool
	mu      sync.Mutex
	traces  map[string]*sim.Trace
	goods   map[string]*goodShown
	ohms    *ohmNet
}

// New compiles a circuit. workers is how many goroutines a question may use; 0 means one per processor. The
// answers do not depend on it.
func New(c *circuit.Circuit, workers int) *Model {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	m := &Model{C: c, P: sim.Compile(c), workers: workers, lampsOn: lampsOn(c), traces: map[string]*sim.Trace{}, goods: map[string]*goodShown{}}
	m.engines.New = func() any { return newWorker(m.P) }
	return m
}

// Setting is the state of the bench in an experiment: pins lifted, and the actions after start. Readings are about
// the last action; without actions, about the last action of start.
type Setting struct {
	Lifted  []int // pins, ascending
	Actions []int
}

// Key tells settings apart.
func (s Setting) Key() string {
	b := make([]byte, 0, 32)
	for i, list := range [][]int{s.Lifted, s.Actions} {
		if i > 0 {
			b = append(b, ' ')
		}
		b = append(b, '[')
		for k, x := range list {
			if k > 0 {
				b = append(b, ' ')
			}
			b = strconv.AppendInt(b, int64(x), 10)
		}
		b = append(b, ']')
	}
	return string(b)
}

// plan splits a setting into what comes before the action that is watched, and that action (None when there is none).
func (m *Model) plan(s Setting) (before []int, watched int) {
	seq := m.C.Sequence(s.Actions)
	if len(seq) == 0 {
		return nil, circuit.None
	}
	return seq[:len(seq)-1], seq[len(seq)-1]
}

// Whole reports whether indicators are watched during the whole of the last action.
func (m *Model) Whole(s Setting) bool {
	_, w := m.plan(s)
	return w != circuit.None && m.C.Actions[w].Whole
}

// bench is what is done to every board of a batch; lifted pins only. trace adds what a sound analogue half does, the batches what theirs do.
func (m *Model) bench(s Setting) []sim.Patch {
	var ps []sim.Patch
	for _, pin := range s.Lifted {
		ps = append(ps, fault.Fault{Kind: fault.JointOpen, A: pin, B: circuit.None}.Patches(m.C, 0, ^uint64(0))...)
	}
	return ps
}

// rest is what a sound analogue half does, in the lanes that are asked for.
func (m *Model) rest(lanes func(circuit.Force) uint64) []sim.Patch {
	var ps []sim.Patch
	for _, f := range m.C.Rest {
		ps = append(ps, fault.ForcePatches(m.C, f, lanes(f))...)
	}
	return ps
}

// trace returns the good board through a sequence of actions, computing what is not there yet. Longer sequences build on shorter ones.
func (m *Model) trace(s Setting, seq []int) *sim.Trace {
	key := fmt.Sprint(s.Lifted, seq)
	m.mu.Lock()
	t := m.traces[key]
	m.mu.Unlock()
	if t != nil {
		return t
	}
	if len(seq) == 0 {
		t = m.P.Unknown(append(m.bench(s), m.rest(func(circuit.Force) uint64 { return ^uint64(0) })...))
	} else {
		t = m.trace(s, seq[:len(seq)-1]).Extend(seq[len(seq)-1])
	}
	m.mu.Lock()
	m.traces[key] = t
	m.mu.Unlock()
	return t
}

// Share runs f(0) … f(n-1) on the model's workers and stops early when ctx ends. Results must go to places of their own.
func (m *Model) Share(ctx context.Context, n int, f func(i int)) error {
	return m.each(ctx, n, func(_ *worker, i int) { f(i) })
}

// each runs f(0) … f(n-1) on the model's workers, each with an engine of its own, and stops early when ctx ends. Results must
// go to places of their own: the order in which the calls end is not defined.
func (m *Model) each(ctx context.Context, n int, f func(w *worker, i int)) error {
	workers := min(m.workers, n)
	if workers <= 1 {
		w := m.engines.Get().(*worker)
		defer m.engines.Put(w)
		for i := range n {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			f(w, i)
		}
		return nil
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			w := m.engines.Get().(*worker)
			defer m.engines.Put(w)
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(w, i)
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}
