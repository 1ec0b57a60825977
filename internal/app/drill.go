package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/drill"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// DrillRequest asks how well the method does on random faults of a board.
type DrillRequest struct {
	Faults, Count int
	Seed          uint64
	Have          evidence.Bench
	Slips         float64
	Exhaustive    bool
	Workers       int            // 0 means one per processor. The answer does not depend on it
	Progress      func(done int) // may be nil
}

// Drill breaks copies of a board and lets the planner and two human ways of searching look for the faults.
func Drill(ctx context.Context, c *circuit.Circuit, q DrillRequest) (DrillView, error) {
	x, fl, err := mixed(ctx, c, nil, q.Workers)
	switch {
	case err != nil:
		return DrillView{}, err
	case fl.Errors():
		return DrillView{}, Wrong{fmt.Errorf("%s", fl.Only(finding.Error)[0].Text)}
	case x != nil:
		return jointDrill(ctx, x, q)
	}
	if q.Workers == 0 {
		q.Workers = runtime.GOMAXPROCS(0)
	}
	r, err := drill.Run(ctx, predict.New(c, 1), drill.Options{Faults: q.Faults, Count: q.Count, Seed: q.Seed, Have: q.Have, Slips: q.Slips,
		Costs: advise.DefaultCosts(), Exhaustive: q.Exhaustive, Workers: q.Workers, Progress: q.Progress})
	if err != nil {
		return DrillView{}, err
	}
	v := DrillView{Board: c.Board.Title, Faults: q.Faults, Count: q.Count, Seed: q.Seed, Have: haveWords(q.Have), Slips: q.Slips, Invisible: r.Invisible}
	v.Planner = figures(r.Trials, func(t drill.Trial) drill.Play { return t.Planner })
	v.Halving = figures(r.Trials, func(t drill.Trial) drill.Play { return t.Halving })
	v.Tracing = figures(r.Trials, func(t drill.Trial) drill.Play { return t.Tracing })
	if q.Exhaustive {
		v.Exhaustive = figures(r.Trials, func(t drill.Trial) drill.Play { return t.Exhaustive }).Checks
	}
	var stated []drill.Stated
	for _, t := range r.Trials {
		v.EntropyBits += t.Bits / float64(len(r.Trials))
		v.BoundChecks += t.Bound / float64(len(r.Trials))
		stated = append(stated, t.Planner.Stated...)
	}
	v.EntropyBits, v.BoundChecks = round(v.EntropyBits, 3), round(v.BoundChecks, 3)
	v.Calibration = bands(stated)
	return v, nil
}

func figures(trials []drill.Trial, play func(drill.Trial) drill.Play) DrillFigures {
	var f DrillFigures
	var checks, minutes []float64
	n := float64(len(trials))
	for _, t := range trials {
		p := play(t)
		checks, minutes = append(checks, float64(p.Checks)), append(minutes, p.Minutes)
		f.Checks += float64(p.Checks) / n
		f.Minutes += p.Minutes / n
		if p.Found {
			f.InFirst += 1 / n
		}
	}
	return DrillFigures{round(f.Checks, 3), round(percentile(checks, 0.95), 3), round(f.Minutes, 3), round(percentile(minutes, 0.95), 3), round(f.InFirst, 4)}
}

// percentile is the smallest value that at least the share q of the values do not exceed.
func percentile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return x[min(len(x)-1, max(0, int(math.Ceil(q*float64(len(x))))-1))]
}

// bands compares what was stated with what was true, in tenths of probability; empty bands are left out.
func bands(stated []drill.Stated) []Calibration {
	var out []Calibration
	slices.SortStableFunc(stated, func(a, b drill.Stated) int { return cmp.Compare(a.P, b.P) })
	for i := range 10 {
		c := Calibration{From: float64(i) / 10, To: float64(i+1) / 10}
		for _, s := range stated {
			if s.P < c.From || s.P >= c.To && (i < 9 || s.P > 1) {
				continue
			}
			c.Count++
			c.Stated += s.P
			if s.True {
				c.Observed++
			}
		}
		if c.Count > 0 {
			c.Stated, c.Observed = round(c.Stated/float64(c.Count), 4), round(c.Observed/float64(c.Count), 4)
			out = append(out, c)
		}
	}
	return out
}

// haveWords is a bench in the words of have:.
func haveWords(b evidence.Bench) []string {
	out := []string{"eyes"}
	for _, x := range []struct {
		has  bool
		word string
	}{{b.Scope, "scope"}, {b.Probe, "logic-probe"}, {b.Meter, "meter"}, {b.Iron, "iron"}, {b.Spare, "spare"}, {b.Adapter, "adapter"}} {
		if x.has {
			out = append(out, x.word)
		}
	}
	return out
}
