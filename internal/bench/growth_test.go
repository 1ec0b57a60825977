package bench

import (
	"context"
	"testing"
	"time"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// The time of a first answer grows no faster than the faults of the board, the readings of the log, and the faults considered. What is
// compared is measured in turns in one run, the fastest of some turns each, and may be half as much again as a straight line allows.

const (
	turns = 4
	slack = 1.5
)

// first takes the time of a first answer that considers one fault in every so many.
func (w workload) first(t *testing.T, readings, every int) time.Duration {
	t.Helper()
	ctx := context.Background()
	began := time.Now()
	m := predict.New(w.c, 1)
	var fs []fault.Fault
	for i, f := range fault.Universe(w.c) {
		if i%every == 0 {
			fs = append(fs, f)
		}
	}
	s, fl := diagnose.GroundOf(m, fs).Session(&evidence.Case{Have: w.have, Log: w.log[:readings]})
	if s == nil {
		t.Fatal(fl)
	}
	r, err := s.Run(ctx)
	if err != nil {
		t.Fatal(err)
	}
	b, err := advise.NewBench(ctx, s, r, w.have, advise.DefaultCosts())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Plan(ctx, advise.Options{}); err != nil {
		t.Fatal(err)
	}
	return time.Since(began)
}

// compare times two answers in turns and checks that the second takes no more than so many times the first.
func compare(t *testing.T, what string, times float64, small, big func() time.Duration) {
	t.Helper()
	a, b := small(), big()
	for range turns - 1 {
		a, b = min(a, small()), min(b, big())
	}
	t.Logf("%s: %v and %v, %.1f times; linear is %.1f", what, a, b, float64(b)/float64(a), times)
	if float64(b) > slack*times*float64(a) {
		t.Errorf("%s: the time grows %.1f times, linear is %.1f", what, float64(b)/float64(a), times)
	}
}

func TestGrowth(t *testing.T) {
	small, big := workloadOf(t, 1, 25, 20), workloadOf(t, 1, 100, 20)
	faults := func(w workload) float64 { return float64(len(fault.Universe(w.c))) }
	compare(t, "faults of the board", faults(big)/faults(small),
		func() time.Duration { return small.first(t, 10, 1) }, func() time.Duration { return big.first(t, 10, 1) })
	compare(t, "readings of the log", 4,
		func() time.Duration { return big.first(t, 5, 1) }, func() time.Duration { return big.first(t, 20, 1) })
	compare(t, "faults considered", 4,
		func() time.Duration { return big.first(t, 10, 4) }, func() time.Duration { return big.first(t, 10, 1) })
}
