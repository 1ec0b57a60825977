// Package drill is blind practice: a board is broken at random, a player looks for the fault by asking for readings, and every
// reading is answered by simulation. The project's own planner plays, and beside it two technicians: one who halves the signal path
// and one who traces back from the symptom.
package drill

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// Options of a drill.
type Options struct {
	Faults     int    // how many at once
	Count      int    // how many drills
	Seed       uint64 // the same seed gives the same drills
	Have       evidence.Bench
	Slips      float64 // share of readings answered wrongly
	Costs      advise.Costs
	Exhaustive bool // also play with two-step planning over all checks
	Workers    int
	Progress   func(done int) // may be nil; called from one goroutine at a time
}

// Play is one player's game.
type Play struct {
	Checks  int     // readings taken
	Minutes float64 // all of it, repairs included
	Found   bool    // the true fault stood in the first look-alike group each time
	Stated  []Stated
}

// Stated is a claim and whether it was true, for calibration.
type Stated struct {
	P    float64
	True bool
}

// Trial is one broken board.
type Trial struct {
	Truth      []predict.Way
	Bits       float64 // entropy over look-alike groups once the symptom is known
	Bound      float64 // fewest checks any plan needs on average, for these groups
	Planner    Play
	Exhaustive Play
	Halving    Play
	Tracing    Play
}

// Report is all trials, and how many random faults were thrown away because no action shows them.
type Report struct {
	Trials    []Trial
	Invisible int
}

// maxChecks ends a game that gets nowhere.
const maxChecks = 80

// Run plays the drills. Trials are independent and their results do not depend on the number of workers.
func Run(ctx context.Context, m *predict.Model, o Options) (*Report, error) {
	g := &game{m: m, ground: diagnose.NewGround(m), o: o, pool: drillable(m.C), cones: map[int][]int{}}
	g.odds = fault.Priors(m.C, g.pool, nil)
	r := &Report{Trials: make([]Trial, o.Count)}
	wasted := make([]int, o.Count)
	err := parallel(ctx, o.Workers, o.Count, o.Progress, func(i int) error {
		rng := rand.New(rand.NewPCG(o.Seed, uint64(i)))
		t, w, err := g.trial(ctx, rng)
		if t != nil {
			r.Trials[i] = *t
		}
		wasted[i] = w
		return err
	})
	for _, w := range wasted {
		r.Invisible += w
	}
	return r, err
}

// drillable leaves out what has no one effect to answer from.
func drillable(c *circuit.Circuit) []fault.Fault {
	return slices.DeleteFunc(fault.Universe(c), func(f fault.Fault) bool { return f.Kind == fault.PartErratic || f.Kind == fault.Value })
}

type game struct {
	m      *predict.Model
	ground *diagnose.Ground
	o      Options
	pool   []fault.Fault
	odds   []float64
	mu     sync.Mutex
	cones  map[int][]int // net → what can decide it
}

// draw picks a fault by its prior.
func (g *game) draw(rng *rand.Rand) predict.Way {
	total := 0.0
	for _, w := range g.odds {
		total += w
	}
	x := rng.Float64() * total
	for i, w := range g.odds {
		if x -= w; x <= 0 {
			f := g.pool[i]
			mode := 0
			for u := rng.Float64(); mode < f.Modes()-1 && u > f.ModeWeight(mode); mode++ {
				u -= f.ModeWeight(mode)
			}
			return predict.Way{F: f, Mode: mode}
		}
	}
	return predict.Way{F: g.pool[len(g.pool)-1]}
}

// trial breaks a board so that it shows, and lets everybody play.
func (g *game) trial(ctx context.Context, rng *rand.Rand) (*Trial, int, error) {
	wasted := 0
	for {
		if err := ctx.Err(); err != nil {
			return nil, wasted, err
		}
		var truth []predict.Way
		for len(truth) < g.o.Faults {
			w := g.draw(rng)
			if slices.ContainsFunc(truth, func(t predict.Way) bool { return t.F.A == w.F.A && t.F.Kind.Site() == w.F.Kind.Site() }) {
				continue
			}
			if s, err := g.symptom(ctx, []predict.Way{w}); err != nil {
				return nil, wasted, err
			} else if s == nil {
				wasted++
				if wasted > 5000 {
					return nil, wasted, errInvisible
				}
				continue
			}
			truth = append(truth, w)
		}
		first, err := g.symptom(ctx, truth)
		if err != nil {
			return nil, wasted, err
		}
		if first == nil { // they hide each other
			wasted++
			continue
		}
		t := &Trial{Truth: truth}
		seed := rng.Uint64()
		// every player gets the same unit and the same luck
		if t.Planner, err = g.plan(ctx, newUnit(g, truth, seed), t, false); err != nil {
			return nil, wasted, err
		}
		if g.o.Exhaustive {
			if t.Exhaustive, err = g.plan(ctx, newUnit(g, truth, seed), nil, true); err != nil {
				return nil, wasted, err
			}
		}
		if t.Halving, err = g.human(ctx, newUnit(g, truth, seed), true); err != nil {
			return nil, wasted, err
		}
		if t.Tracing, err = g.human(ctx, newUnit(g, truth, seed), false); err != nil {
			return nil, wasted, err
		}
		return t, wasted, nil
	}
}

// huffman is the mean length of the shortest code for weights with d signs: the fewest checks of at most d outcomes each that
// can tell them apart on average (Huffman 1952).
func huffman(p []float64, d int) float64 {
	q := slices.Clone(p)
	if len(q) < 2 || d < 2 {
		return 0
	}
	for (len(q)-1)%(d-1) != 0 {
		q = append(q, 0)
	}
	mean := 0.0
	for len(q) > 1 {
		slices.SortFunc(q, func(a, b float64) int {
			switch {
			case a > b:
				return -1
			case a < b:
				return 1
			}
			return 0
		})
		s := 0.0
		for _, x := range q[len(q)-d:] {
			s += x
		}
		q = append(q[:len(q)-d], s)
		mean += s
	}
	return mean
}

func bits(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}
