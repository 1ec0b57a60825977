// Command growth times a first answer on invented boards of growing size and on logs of growing length, and writes docs/PERFORMANCE.md
// with docs/growth.svg beside it.
//
//	go run ./cmd/growth
//
// The figures are those of the machine it runs on; what counts is how they grow.
package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	"halfsplit/internal/app"
	"halfsplit/internal/bench"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

type point struct {
	packages, faults, readings int
	cold, warm                 time.Duration
}

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "growth:", err)
		os.Exit(1)
	}
}

func run() error {
	var boards, logs []point
	for _, n := range []int{25, 50, 100, 200, 400} {
		p, err := measure(n, 10)
		if err != nil {
			return err
		}
		boards = append(boards, p)
	}
	for _, n := range []int{1, 5, 10, 20, 40} {
		p, err := measure(100, n)
		if err != nil {
			return err
		}
		logs = append(logs, p)
	}
	var b strings.Builder
	b.WriteString("# Speed and growth\n\nWritten by `go run ./cmd/growth`: the median of three first answers (from a board in memory to suspects and checks), and of three answers after one\nmore reading in the same process. " +
		"`go test -run - -bench . -benchmem ./internal/bench` gives nanoseconds, allocations and peak memory for 200 packages;\n`go test -run - -bench Verilog -benchtime 1x ./internal/oracle` the ratio to Icarus Verilog on the same faults.\n\n![growth](growth.svg)\n\n")
	table(&b, "Ten readings, boards of growing size", boards)
	table(&b, "100 packages, logs of growing length", logs)
	if err := os.WriteFile("docs/growth.svg", []byte(plot(boards)), 0o644); err != nil {
		return err
	}
	return os.WriteFile("docs/PERFORMANCE.md", []byte(b.String()), 0o644)
}

func table(b *strings.Builder, title string, ps []point) {
	fmt.Fprintf(b, "## %s\n\n| packages | single faults | readings | first answer | µs a fault | one more reading |\n|---|---|---|---|---|---|\n", title)
	for _, p := range ps {
		fmt.Fprintf(b, "| %d | %d | %d | %d ms | %.0f | %d ms |\n", p.packages, p.faults, p.readings, p.cold.Milliseconds(), float64(p.cold.Microseconds())/float64(p.faults), p.warm.Milliseconds())
	}
	b.WriteString("\n")
}

// measure takes the median of three first and three further answers.
func measure(packages, readings int) (point, error) {
	ctx := context.Background()
	lib, _ := part.Embedded()
	c, fl := circuit.Build(bench.Generate(1, packages), lib)
	if c == nil {
		return point{}, fmt.Errorf("%v", fl)
	}
	m := predict.New(c, 0)
	f, err := bench.Fault(ctx, m, 1)
	if err != nil {
		return point{}, err
	}
	log, err := bench.Log(ctx, m, f, 1, readings+1)
	if err != nil {
		return point{}, err
	}
	var cold, warm []time.Duration
	for range 3 {
		began := time.Now()
		b, fl := app.NewBench(c, &evidence.Case{Have: evidence.Bench{Scope: true, Meter: true, Iron: true}, Log: log[:readings]}, 0, advise.Costs{})
		if b == nil {
			return point{}, fmt.Errorf("%v", fl)
		}
		if _, err := b.Diagnose(ctx, 0, 0); err != nil {
			return point{}, err
		}
		cold = append(cold, time.Since(began))
		began = time.Now()
		b.S.Add(log[readings])
		if _, err := b.Diagnose(ctx, 0, 0); err != nil {
			return point{}, err
		}
		warm = append(warm, time.Since(began))
	}
	return point{packages, len(fault.Universe(c)), readings, median(cold), median(warm)}, nil
}

func median(d []time.Duration) time.Duration {
	a, b, c := d[0], d[1], d[2]
	return max(min(a, b), min(max(a, b), c))
}

// plot draws time against the number of faults, with the straight line through the first board's time per fault.
func plot(ps []point) string {
	const w, h, pad = 640, 360, 56
	last := ps[len(ps)-1]
	top := float64(last.cold)
	for _, p := range ps {
		top = max(top, float64(p.cold), float64(ps[0].cold)/float64(ps[0].faults)*float64(last.faults))
	}
	x := func(f int) float64 { return pad + float64(f)/float64(last.faults)*(w-2*pad) }
	y := func(d float64) float64 { return h - pad - d/top*(h-2*pad) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" font-family="sans-serif" font-size="12"><rect width="100%%" height="100%%" fill="#fff"/>`, w, h, w, h)
	fmt.Fprintf(&b, `<path d="M%d %dV%dH%d" fill="none" stroke="#333"/>`, pad, pad, h-pad, w-pad)
	fmt.Fprintf(&b, `<path d="M%d %dL%.1f %.1f" stroke="#999" stroke-dasharray="5 4"/><text x="%d" y="%d" fill="#555">dashed: linear from the smallest board</text>`, pad, h-pad, x(last.faults), y(float64(ps[0].cold)/float64(ps[0].faults)*float64(last.faults)), pad+12, pad-8)
	line := ""
	for i, p := range ps {
		cmd := "L"
		if i == 0 {
			cmd = "M"
		}
		line += fmt.Sprintf("%s%.1f %.1f", cmd, x(p.faults), y(float64(p.cold)))
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="4" fill="#134"/><text x="%.1f" y="%.1f" text-anchor="middle">%d</text>`, x(p.faults), y(float64(p.cold)), x(p.faults), y(float64(p.cold))-10, p.packages)
	}
	fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="#134" stroke-width="2"/>`, line)
	fmt.Fprintf(&b, `<text x="%d" y="%d" text-anchor="middle">single faults (to %d); numbers at the points: packages</text>`, w/2, h-16, last.faults)
	fmt.Fprintf(&b, `<text x="16" y="%d" transform="rotate(-90 16 %d)" text-anchor="middle">first answer (to %.0f ms)</text></svg>`, h/2, h/2, top/1e6)
	return b.String() + "\n"
}
