package weak_test

// Whole boards with storage, buses and lamps: logs of hidden faults, made by the simulator, which shares nothing with the clauses.

import (
	"context"
	"slices"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/bench"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// A hidden fault at an output is always among the smallest sets when one part is enough, and mostly it is seen that not all parts are good; the log of a good
// board never blames a part.
func TestHiddenFaultIsNeverShutOut(t *testing.T) {
	ctx := context.Background()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	faulty, blamed, held := 0, 0, 0
	for seed := uint64(1); seed <= 6; seed++ {
		c, fl := circuit.Build(bench.Generate(seed, 8), lib)
		if fl.Errors() {
			t.Fatal(fl)
		}
		m := predict.New(c, 1)
		var drivers []fault.Fault
		for _, f := range fault.Universe(c) {
			if k := string(f.Kind); k == "output-low" || k == "output-high" || k == "output-open" {
				drivers = append(drivers, f)
			}
		}
		for k := range 3 {
			f := drivers[(int(seed)*7+k*31)%len(drivers)]
			log, err := bench.Log(ctx, m, f, seed, 4)
			if err != nil {
				t.Fatal(err)
			}
			w, fl, err := app.WeakOf(ctx, c, &evidence.Case{Log: log}, 50)
			if err != nil || fl.Errors() {
				t.Fatal(err, fl)
			}
			ref := c.Parts[f.Part(c)].Ref
			if !w.Possible || w.Cardinality > 1 {
				t.Errorf("board %d, %s: %+v", seed, f.Text(c), w)
			}
			faulty++
			if w.Cardinality == 1 {
				blamed++
				if slices.ContainsFunc(w.Sets, func(s []string) bool { return s[0] == ref }) {
					held++
				} else {
					t.Errorf("board %d, %s: the sets are %v", seed, f.Text(c), w.Sets)
				}
			}
		}
	}
	t.Logf("%d hidden faults, %d seen, %d of them with the part among the sets", faulty, blamed, held)
	if faulty != 18 || blamed < 6 {
		t.Errorf("%d faults, %d seen", faulty, blamed)
	}
}
