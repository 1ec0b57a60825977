package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// The answers on any number of workers are the same byte for byte, the first one and those after further readings.
func TestSameOnAnyNumberOfWorkers(t *testing.T) {
	const readings, further = 6, 3
	compared := 0
	for i, packages := range []int{5, 12, 30, 60} {
		w := workloadOf(t, uint64(i), packages, readings+further)
		want := w.answers(t, readings, 1)
		for _, workers := range []int{2, 8} {
			for k, got := range w.answers(t, readings, workers) {
				compared++
				if !bytes.Equal(got, want[k]) {
					t.Errorf("%d packages, %d readings: %d workers answer otherwise than one", packages, readings+k, workers)
				}
			}
		}
	}
	if compared != 4*2*(1+further) {
		t.Errorf("%d answers compared", compared)
	}
}

// workloadOf invents a board, a fault and a log by a seed.
func workloadOf(t *testing.T, seed uint64, packages, readings int) workload {
	t.Helper()
	lib, _ := part.Embedded()
	c, fl := circuit.Build(Generate(seed, packages), lib)
	if c == nil {
		t.Fatal(fl)
	}
	m := predict.New(c, 0)
	f, err := Fault(context.Background(), m, seed)
	if err != nil {
		t.Fatal(err)
	}
	log, err := Log(context.Background(), m, f, seed, readings)
	if err != nil {
		t.Fatal(err)
	}
	return workload{c, log, evidence.Bench{Scope: true, Meter: true, Iron: true, Spare: true}}
}

// answers gives the first answer, and one after each further reading, as JSON without the time.
func (w workload) answers(t *testing.T, first, workers int) [][]byte {
	t.Helper()
	b, fl := app.NewBench(w.c, &evidence.Case{Have: w.have, Log: w.log[:first]}, workers, advise.Costs{})
	if b == nil {
		t.Fatal(fl)
	}
	var out [][]byte
	for k := first; ; k++ {
		d, err := b.Diagnose(context.Background(), 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		d.ElapsedMS = 0
		text, err := json.Marshal(d)
		if err != nil || len(d.Suspects) == 0 || len(text) < 1000 {
			t.Fatal(err, len(d.Suspects), len(text))
		}
		out = append(out, text)
		if k == len(w.log) {
			return out
		}
		if fl := b.S.Add(w.log[k]); fl.Errors() {
			t.Fatal(fl)
		}
	}
}
