package worked

// Half-splitting: a chain of equal stages, wrong at the end, one equally likely fault. With every reading at one price the planner has to come
// out at the least expected number of probes. (The figures follow from the best binary tree over n leaves; the method is in the trade's
// literature since the 1950s.)

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// chain makes a module of n buffers in a row; with inverters, every stage is two of them.
func chain(n int, inverters bool) string {
	text := fmt.Sprintf("module chain (s0, s%d);\ninput s0;\noutput s%d;\n", n, n)
	for i := 1; i <= n; i++ {
		if inverters {
			text += fmt.Sprintf("not A%d (m%d, s%d);\nnot B%d (s%d, m%d);\n", i, i, i-1, i, i, i)
		} else {
			text += fmt.Sprintf("buf B%d (s%d, s%d);\n", i, i, i-1)
		}
	}
	return text + "endmodule"
}

// probing plays the technician against every fault of a list at once.
type probing struct {
	t      *testing.T
	c      *circuit.Circuit
	ground *diagnose.Ground
	costs  advise.Costs
}

// alone keeps the suspects of one fault, because the example grants that there is one.
func alone(r *diagnose.Result) *diagnose.Result {
	out := &diagnose.Result{Best: r.Best}
	total := 0.0
	for _, u := range r.Suspects {
		if len(u.Faults) == 1 {
			out.Suspects = append(out.Suspects, u)
			total += u.P
		}
	}
	for i := range out.Suspects {
		out.Suspects[i].P /= total
	}
	return out
}

// ask follows the planner's first choice for as long as suspects are left that it can tell apart, and returns for every true fault how many
// probes it took.
func (x *probing) ask(truths []int, log []evidence.Entry, depth int, probes map[int]int) {
	x.t.Helper()
	ctx := context.Background()
	s, fl := x.ground.Session(&evidence.Case{Log: log})
	noErrors(x.t, fl)
	r, err := s.Run(ctx)
	if err != nil {
		x.t.Fatal(err)
	}
	r = alone(r)
	if r.Suspects[0].P > 0.9 {
		for _, f := range truths {
			if r.Suspects[0].Faults[0] != f {
				x.t.Errorf("after %d probes the planner settles on %s, but it was %s", depth, s.Key(r.Suspects[0]), x.ground.Faults[f].String(x.c))
			}
			probes[f] = depth
		}
		return
	}
	b, err := advise.NewBench(ctx, s, r, evidence.Bench{Scope: true}, x.costs)
	if err != nil {
		x.t.Fatal(err)
	}
	plan, err := b.Plan(ctx, advise.Options{NoRepairs: true})
	if err != nil {
		x.t.Fatal(err)
	}
	if len(plan.Checks) == 0 || plan.Checks[0].Kind != advise.Read {
		x.t.Fatalf("nothing to read while %d faults are left", len(truths))
	}
	c := plan.Checks[0]
	next := map[string][]int{}
	for _, f := range truths {
		shape, err := x.ground.M.Expect(ctx, []predict.Way{{F: x.ground.Faults[f]}}, c.Setting, []circuit.Place{c.Place})
		if err != nil {
			x.t.Fatal(err)
		}
		next[shape[0].Word.String()] = append(next[shape[0].Word.String()], f)
	}
	if depth > 20 {
		x.t.Fatal("no end of probing")
	}
	for _, word := range []string{"low", "high"} {
		if len(next[word]) > 0 {
			e := entry(evidence.Reading{At: x.c.PinName(c.Place.Pin), Is: word})
			x.ask(next[word], append(slices.Clone(log), e), depth+1, probes)
		}
		delete(next, word)
	}
	if len(next) > 0 {
		x.t.Fatalf("a reading that is neither low nor high: %v", next)
	}
}

// entry is a log entry of the one action, seen beyond doubt.
func entry(read ...evidence.Reading) evidence.Entry {
	return evidence.Entry{Do: []string{"feed"}, HasDo: true, Read: read, Sure: 1}
}

func TestHalfSplitting(t *testing.T) {
	checked := 0
	for _, k := range []struct {
		n         int
		inverters bool
		total     int // probes over all n faults: n times the expected number
		worst     int
	}{
		{4, false, 8, 2}, {8, false, 24, 3}, {10, false, 34, 4}, {16, false, 64, 4}, {100, false, 672, 7},
		{4, true, 8, 2}, {10, true, 34, 4}, {16, true, 64, 4},
	} {
		_, c := gates(t, chain(k.n, k.inverters), "1")
		m := predict.New(c, 0)
		var faults []fault.Fault
		for _, f := range fault.Universe(c) {
			if f.Kind == fault.OutputLow && c.Parts[f.Part(c)].Ref[0] == 'B' {
				faults = append(faults, f)
			}
		}
		x := &probing{t, c, diagnose.GroundOf(m, faults), advise.Costs{Read: 1, Easy: 1, Hard: 1}}
		var truths []int
		for i := range faults {
			truths = append(truths, i)
		}
		probes := map[int]int{}
		x.ask(truths, []evidence.Entry{entry(evidence.Reading{At: fmt.Sprintf("s%d", k.n), Is: "low"})}, 0, probes)
		total, worst := 0, 0
		for _, d := range probes {
			total, worst = total+d, max(worst, d)
		}
		if len(probes) != k.n || total != k.total || worst != k.worst {
			t.Errorf("%d stages: %d faults found with %d probes, at worst %d; want %d with %d, at worst %d", k.n, len(probes), total, worst, k.n, k.total, k.worst)
		}
		checked++
	}
	if checked != 8 {
		t.Errorf("%d chains checked", checked)
	}
}
