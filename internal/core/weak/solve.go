package weak

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/crillab/gophersat/solver"
)

// The search: the smallest number of bad parts, then all sets of that size.

// hunt is one set of clauses in the library's solver. Clauses are only ever added: the library forgets under which assumptions it has
// learned a clause, so the bound is tightened step by step instead.
type hunt struct {
	s *solver.Solver
}

func newHunt(f *cnf) *hunt {
	list := make([][]int, len(f.clauses))
	for i, c := range f.clauses {
		list[i] = make([]int, len(c))
		for k, l := range c {
			list[i][k] = int(l)
		}
	}
	return &hunt{solver.New(solver.ParseSliceNb(list, f.vars))}
}

func (h *hunt) add(ls ...lit) {
	c := make([]solver.Lit, len(ls))
	for i, l := range ls {
		c[i] = solver.IntToLit(int32(l))
	}
	h.s.AppendClause(solver.NewClause(c))
}

// errStopped is what ends a search from inside.
var errStopped = errors.New("stopped")

// solve looks for a model; nil means there is none. The library cannot be interrupted, but it hands every clause that it learns to a channel:
// closing it ends the search at the next one, by the panic that is caught here.
func (h *hunt) solve(ctx context.Context) (model []bool, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if ctx.Done() == nil {
		return h.run()
	}
	learned := make(chan string)
	h.s.Certified, h.s.CertChan = true, learned
	var finished error
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() {
			if r := recover(); r != nil {
				if ctx.Err() == nil {
					finished = fmt.Errorf("the solver failed: %v", r)
					return
				}
				finished = errStopped
			}
		}()
		model, finished = h.run()
	}()
	for {
		select {
		case <-learned:
		case <-done:
			return model, finished
		case <-ctx.Done():
			close(learned)
			<-done
			return nil, ctx.Err()
		}
	}
}

func (h *hunt) run() ([]bool, error) {
	if h.s.Solve() != solver.Sat {
		return nil, nil
	}
	return h.s.Model(), nil
}

func (f *cnf) holds(model []bool, l lit) bool {
	if l < 0 {
		return !model[-l-1]
	}
	return model[l-1]
}

// least gives the smallest number of the literals bad that can hold; ok is false when the clauses have no model at all.
func least(ctx context.Context, f *cnf, bad []lit) (n int, ok bool, err error) {
	count := f.totalizer(bad, len(bad))
	h := newHunt(f)
	n = -1
	for {
		m, err := h.solve(ctx)
		if err != nil {
			return 0, false, err
		}
		if m == nil {
			return n, n >= 0, nil
		}
		n = 0
		for _, b := range bad {
			if f.holds(m, b) {
				n++
			}
		}
		if n == 0 {
			return 0, true, nil
		}
		h.add(-count[n-1])
	}
}

// all lists the sets of n literals of bad that can hold, as ascending indices, at most most of them; more tells whether there are others.
func all(ctx context.Context, f *cnf, bad []lit, n, most int) (sets [][]int, more bool, err error) {
	if n == 0 {
		return [][]int{{}}, false, nil
	}
	count := f.totalizer(bad, n+1)
	if len(count) > n {
		f.clause(-count[n])
	}
	h := newHunt(f)
	for {
		m, err := h.solve(ctx)
		if err != nil {
			return nil, false, err
		}
		if m == nil {
			break
		}
		var set []int
		var block []lit
		for i, b := range bad {
			if f.holds(m, b) {
				set, block = append(set, i), append(block, -b)
			}
		}
		if len(set) != n {
			return nil, false, fmt.Errorf("the solver found a set of %d parts where %d is the least", len(set), n)
		}
		if len(sets) == most {
			more = true
			break
		}
		sets = append(sets, set)
		h.add(block...)
	}
	slices.SortFunc(sets, slices.Compare[[]int])
	return sets, more, nil
}
