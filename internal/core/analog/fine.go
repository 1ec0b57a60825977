package analog

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"halfsplit/internal/core/elec"
)

// This file looks closer at stories that lead: at severities between the ways of a fault, and at states that tolerances can bring a board into and that no
// straight line from the middle reaches: a comparator that is over its threshold in one machine of four, an amplifier against its rail.

const (
	between4  = 4 // severities between two neighbouring ways
	machines  = 16
	mostOther = 2 // states besides the one in the middle
)

// layFine numbers the severities between the ways, after the hypotheses.
func (l *Lab) layFine() {
	l.total = len(l.Hyps)
	for _, ways := range l.U.Ways {
		l.fineFirst = append(l.fineFirst, l.total)
		if len(ways) > 1 && ways[0].Smear {
			l.total += between4 * (len(ways) - 1)
		}
	}
	l.states, l.statesOf = []elec.Patch{{}}, map[int][]state{}
}

// fine is the fault of a severity between two ways, and its patch.
func (l *Lab) fine(h int) (fault int, p elec.Patch) {
	fault, _ = slices.BinarySearchFunc(l.fineFirst, h+1, func(first, h int) int { return first - h })
	fault--
	i := h - l.fineFirst[fault]
	ways := l.U.Ways[fault]
	return fault, between(ways[i/between4].Patch, ways[i/between4+1].Patch, (float64(i%between4)+0.5)/between4)
}

// point is one severity near a way: t counts ways, from this one.
type point struct {
	h         int
	t, length float64
	weight    float64
}

// points are the severities that stand for a way: half way to either neighbour.
func (l *Lab) points(h int) []point {
	if h == 0 {
		return []point{{h: h, weight: 1}}
	}
	y := l.Hyps[h]
	ways := l.U.Ways[y.Fault]
	if len(ways) < 2 || !ways[y.Way].Smear {
		return []point{{h: h, weight: 1}}
	}
	var out []point
	step := 1.0 / between4
	for i := -between4 / 2; i < between4/2; i++ {
		at := y.Way*between4 + i
		if at >= 0 && at < between4*(len(ways)-1) {
			out = append(out, point{l.fineFirst[y.Fault] + at, (float64(i) + 0.5) * step, step, 0})
		}
	}
	if len(out) < between4 { // an end of the scale, and a little beyond
		out = append(out, point{h, 0, 0, 0})
		slices.SortFunc(out, func(a, b point) int { return int(math.Copysign(1, a.t-b.t)) })
	}
	for i := range out {
		out[i].weight = 1 / float64(len(out))
	}
	return out
}

// state is one of Lab.states with its probability.
type state struct {
	index  int
	weight float64
}

// explore finds the states of hypotheses: the same few machines, drawn once from a fixed seed, with each of the faults.
func (l *Lab) explore(ctx context.Context, hyps []int) error {
	m := l.U.M
	var todo []int
	for _, h := range hyps {
		if _, ok := l.statesOf[h]; !ok {
			todo = append(todo, h)
		}
	}
	if len(todo) == 0 {
		return nil
	}
	if m.Mains {
		for _, h := range todo {
			l.statesOf[h] = []state{{0, 1}}
		}
		return nil
	}
	c := l.usual(l.Rest)
	ws, err := l.world(ctx, c, todo)
	if err != nil {
		return err
	}
	all := m.E.Uncertain()
	rng := rand.New(rand.NewPCG(1, 1))
	z := make([][]float64, machines)
	own := make([]elec.Patch, machines)
	for k := range z {
		for _, x := range all {
			v, _ := m.E.Param(x.Device, x.Param)
			z[k] = append(z[k], 2*rng.Float64()-1)
			own[k].Changes = append(own[k].Changes, elec.Change{Device: x.Device, Do: elec.Set, Param: x.Param, Value: v + x.Half*z[k][len(z[k])-1]})
		}
	}
	if l.drawn == nil { // what a fault changes is little, also in a drawn machine
		l.drawn = make([]*elec.Solution, machines)
		if err := l.parallel(ctx, machines, func(s *elec.Solver, k int) {
			if sol, err := s.OP(l.from(false), own[k].And(c.patch(m))); err == nil {
				l.drawn[k] = sol
			}
		}); err != nil {
			l.drawn = nil
			return err
		}
	}
	found := make([][][]int, len(todo))
	err = l.parallel(ctx, len(todo), func(s *elec.Solver, i int) {
		h := todo[i]
		w := ws[h]
		if !w.known || w.point == nil {
			return
		}
		opt := l.begin(h, c)
		opt.Leak = w.leak
		p := l.patch(h, c)
		line, err := s.Linear(opt, p.And(c.patch(m)), w.point)
		if err != nil {
			return
		}
		straight := make([][]float64, machines)
		for k := range straight {
			straight[k] = make([]float64, len(w.volts))
			line.Together(z[k], straight[k])
		}
		opt.MaxIter = 50
		var volts [][]float64
		var groups [][]int
		for k := range machines {
			if opt.From = l.drawn[k]; opt.From == nil {
				opt.From = w.point
			}
			sol, err := s.OP(opt, own[k].And(p).And(c.patch(m)))
			if err != nil {
				volts = append(volts, nil)
				continue
			}
			v := sol.Voltages()
			volts = append(volts, v)
			if m.near(v, func(n int) (float64, float64) {
				return w.volts[n] + straight[k][n], 0.3*math.Abs(straight[k][n]) + 0.1 + 0.02*math.Abs(v[n])
			}) {
				continue
			}
			g := slices.IndexFunc(groups, func(g []int) bool {
				return m.near(v, func(n int) (float64, float64) { return volts[g[0]][n], 1.5 + 0.15*math.Abs(v[n]) })
			})
			if g < 0 {
				g = len(groups)
				groups = append(groups, nil)
			}
			groups[g] = append(groups[g], k)
		}
		slices.SortStableFunc(groups, func(a, b []int) int { return len(b) - len(a) })
		found[i] = groups
	})
	if err != nil {
		return err
	}
	for i, h := range todo {
		out := []state{{0, machines + 0.5}}
		for _, g := range found[i] {
			out[0].weight -= float64(len(g))
			if len(out) > mostOther {
				continue
			}
			out = append(out, state{l.stateAt(g[0], own), float64(len(g))})
		}
		total := 0.0
		for _, x := range out {
			total += x.weight
		}
		for k := range out {
			out[k].weight /= total
		}
		l.statesOf[h] = out
	}
	return nil
}

// stateAt is the index of a drawn machine among the states.
func (l *Lab) stateAt(k int, own []elec.Patch) int {
	if len(l.states) == 1 {
		l.states = append(l.states, own...)
	}
	return k + 1
}

// near compares the voltages of all nets.
func (m *Model) near(v []float64, of func(n int) (want, within float64)) bool {
	for n, net := range m.nets {
		if net < 0 {
			continue
		}
		if want, within := of(n); math.Abs(v[n]-want) > within {
			return false
		}
	}
	return true
}
