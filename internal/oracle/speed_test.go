package oracle

import (
	"context"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// BenchmarkAgainstVerilog puts the same faulty boards through both simulators in one run: Icarus takes the faults one after another in
// one process, already compiled (its start is taken off by a run with a single fault), the program all of its single faults at once.
// The metric is faults per second of the program over faults per second of Icarus.
//
//	go test -run - -bench Verilog -benchtime 1x ./internal/oracle
func BenchmarkAgainstVerilog(b *testing.B) {
	const verilogFaults = 40
	l, err := Load()
	if err != nil {
		b.Fatal(err)
	}
	var types []TypeName
	for _, n := range []string{"7400", "7402", "7404", "7408", "7432", "7474", "7486", "74138", "74139", "74153", "74157", "74161", "74163", "74174", "74175", "74244", "74245", "74373", "74374"} {
		types = append(types, TypeName{n, "LS"})
	}
	random := rand.New(rand.NewSource(3))
	board, err := l.RandomBoard(random, 60, types, false)
	if err != nil {
		b.Fatal(err)
	}
	var jobs []Job
	for range verilogFaults {
		f, err := l.RandomFault(random, board)
		if err != nil {
			b.Fatal(err)
		}
		jobs = append(jobs, Job{board, []Fault{f}})
	}
	lib, fl := part.Embedded()
	if fl.Errors() {
		b.Fatal(fl)
	}
	c, fl := circuit.Build(coreBoard(board), lib)
	if c == nil {
		b.Fatal(fl)
	}
	m := predict.New(c, 1)
	var hyps [][]predict.Way
	for _, f := range fault.Universe(c) {
		hyps = append(hyps, []predict.Way{{F: f}})
	}
	ctx := context.Background()
	for b.Loop() {
		one, all := l.execution(b, jobs[:1]), l.execution(b, jobs)
		verilog := (all - one).Seconds() / float64(len(jobs)-1)
		began := time.Now()
		if _, err := m.Pack(hyps).Show(ctx, predict.Setting{Actions: []int{0}}, predict.Want{}); err != nil {
			b.Fatal(err)
		}
		ours := time.Since(began).Seconds() / float64(len(hyps))
		b.ReportMetric(verilog/ours, "times-faster")
		b.ReportMetric(1e6*ours, "us/fault")
		b.ReportMetric(1e6*verilog, "us/fault-Verilog")
		b.ReportMetric(float64(len(hyps)), "faults")
	}
}

// execution compiles the jobs and gives the time that running them takes.
func (l *Library) execution(b *testing.B, jobs []Job) time.Duration {
	b.Helper()
	text, _, err := l.program(jobs)
	if err != nil {
		b.Fatal(err)
	}
	source, program := filepath.Join(b.TempDir(), "board.v"), filepath.Join(b.TempDir(), "board.vvp")
	if err := os.WriteFile(source, []byte(text), 0o600); err != nil {
		b.Fatal(err)
	}
	if out, err := exec.Command("iverilog", "-g2005", "-o", program, source).CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, first(out))
	}
	began := time.Now()
	if out, err := exec.Command("vvp", "-n", program).CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, first(out))
	}
	return time.Since(began)
}
