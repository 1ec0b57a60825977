package bench

import (
	"context"
	"os"
	"regexp"
	"strconv"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// The engine on an invented board of 200 packages: a first answer to a case of ten readings, and the answer after one more reading.
// Run with  go test -run - -bench . -benchmem ./internal/bench

const (
	benchPackages = 200
	benchSeed     = 1
)

type workload struct {
	c    *circuit.Circuit
	log  []evidence.Entry
	have evidence.Bench
}

func load(tb testing.TB, packages, readings int) workload {
	tb.Helper()
	lib, _ := part.Embedded()
	c, fl := circuit.Build(Generate(benchSeed, packages), lib)
	if c == nil {
		tb.Fatal(fl)
	}
	m := predict.New(c, 0)
	f, err := Fault(context.Background(), m, benchSeed)
	if err != nil {
		tb.Fatal(err)
	}
	log, err := Log(context.Background(), m, f, benchSeed, readings)
	if err != nil {
		tb.Fatal(err)
	}
	return workload{c, log, evidence.Bench{Scope: true, Meter: true, Iron: true}}
}

// answer starts on a case from a board in memory and gives the first diagnosis.
func (w workload) answer(tb testing.TB, entries int) *app.Bench {
	b, fl := app.NewBench(w.c, &evidence.Case{Have: w.have, Log: w.log[:entries]}, 0, advise.Costs{})
	if b == nil {
		tb.Fatal(fl)
	}
	if _, err := b.Diagnose(context.Background(), 0, 0); err != nil {
		tb.Fatal(err)
	}
	return b
}

// peak is the most memory the process has held so far, in MB; 0 where the system does not tell.
func peak() float64 {
	data, err := os.ReadFile("/proc/self/status")
	m := regexp.MustCompile(`VmHWM:\s*(\d+) kB`).FindSubmatch(data)
	if err != nil || m == nil {
		return 0
	}
	kb, _ := strconv.ParseFloat(string(m[1]), 64)
	return kb / 1024
}

func BenchmarkDiagnoseCold(b *testing.B) {
	w := load(b, benchPackages, 10)
	b.ReportMetric(float64(len(fault.Universe(w.c))), "faults")
	b.ReportMetric(float64(len(w.c.Actions)), "actions")
	b.ReportAllocs()
	for b.Loop() {
		w.answer(b, len(w.log))
	}
	b.ReportMetric(peak(), "peak-MB")
}

func BenchmarkDiagnoseWarm(b *testing.B) {
	w := load(b, benchPackages, 11)
	last := len(w.log) - 1
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		x := w.answer(b, last)
		b.StartTimer()
		if fl := x.S.Add(w.log[last]); fl.Errors() {
			b.Fatal(fl)
		}
		if _, err := x.Diagnose(context.Background(), 0, 0); err != nil {
			b.Fatal(err)
		}
	}
}
