package drill_test

import (
	"context"
	"reflect"
	"testing"

	"halfsplit/internal/bench"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/drill"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

func play(t *testing.T, packages int, o drill.Options) *drill.Report {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	c, fl := circuit.Build(bench.Generate(uint64(packages)+1, packages), lib)
	if c == nil {
		t.Fatal(fl)
	}
	o.Have, o.Costs = evidence.Bench{Scope: true, Meter: true, Iron: true}, advise.DefaultCosts()
	r, err := drill.Run(context.Background(), predict.New(c, 1), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The promise: without wrong readings one fault ends in the first look-alike group nearly always, and both human ways of searching take
// at least one and a half times the minutes. docs/DRILLS.md has the long run.
func TestOneFaultIsFoundSooner(t *testing.T) {
	const n = 24
	r := play(t, 10, drill.Options{Faults: 1, Count: n, Seed: 7, Workers: 2})
	found := 0
	var ours, halving, tracing float64
	for _, x := range r.Trials {
		if x.Planner.Found {
			found++
		}
		ours += x.Planner.Minutes
		halving += x.Halving.Minutes
		tracing += x.Tracing.Minutes
		if x.Planner.Checks == 0 && x.Bits > 1 {
			t.Errorf("%v: no check although %.1f bits were open", x.Truth, x.Bits)
		}
	}
	if len(r.Trials) != n || found < n-1 {
		t.Errorf("the true fault was in the first group in %d of %d drills", found, len(r.Trials))
	}
	if halving < 1.5*ours || tracing < 1.5*ours {
		t.Errorf("minutes: %.0f, halving %.0f, tracing %.0f; the technicians should need 1.5 times as many", ours, halving, tracing)
	}
}

func TestDrillsAreTheSameOnAnyNumberOfWorkers(t *testing.T) {
	o := drill.Options{Faults: 2, Count: 3, Seed: 3, Slips: 0.05, Workers: 1}
	one := play(t, 6, o)
	o.Workers = 3
	if three := play(t, 6, o); !reflect.DeepEqual(one, three) {
		t.Errorf("one worker: %+v\nthree: %+v", one, three)
	}
}
