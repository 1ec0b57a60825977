// Command calibrate plays blind drills on the example machines and on invented boards and writes docs/DRILLS.md: how many checks
// and minutes the planner needs beside two human ways of searching, and how often what it stated was true.
//
//	go run ./cmd/calibrate > docs/DRILLS.md
//
// It takes some minutes. The same counts and seed give the same text.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/bench"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

type disk struct{}

func (disk) Board(p string) (*board.Board, finding.List)  { return yamlfile.ReadBoard(p) }
func (disk) Case(p string) (*evidence.Case, finding.List) { return yamlfile.ReadCase(p) }
func (disk) Bytes(p string) ([]byte, error)               { return os.ReadFile(p) }

func main() {
	one := flag.Int("one", 110, "drills with one fault, on each board")
	two := flag.Int("two", 70, "drills with two faults")
	three := flag.Int("three", 40, "drills with three faults")
	invented := flag.Int("invented", 70, "drills with one fault on each invented board")
	exhaustive := flag.Int("exhaustive", 3, "drills that are also played with two-step planning over all checks")
	clean := flag.Int("clean", 60, "drills without wrong readings, with one fault on each board and half as many with two on the machines")
	seed := flag.Uint64("seed", 1, "seed of all drills")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, [3]int{*one, *two, *three}, *clean, *invented, *exhaustive, *seed); err != nil {
		fmt.Fprintln(os.Stderr, "calibrate:", err)
		os.Exit(1)
	}
}

type subject struct {
	name string
	c    *circuit.Circuit
}

func run(ctx context.Context, w io.Writer, counts [3]int, clean, invented, exhaustive int, seed uint64) error {
	var machines, boards []subject
	for _, name := range []string{"keyboard-scanner", "lift-panel"} {
		c, fl := app.LoadBoard(disk{}, "examples/"+name+"/board.yaml", nil)
		if c == nil {
			return fmt.Errorf("%v (run it in the project's root folder)", fl.Only(finding.Error))
		}
		machines = append(machines, subject{name, c})
	}
	lib, _ := part.Embedded()
	for _, n := range []int{10, 25, 50} {
		c, fl := circuit.Build(bench.Generate(seed+uint64(n), n), lib)
		if c == nil {
			return fmt.Errorf("invented board of %d packages: %v", n, fl.Only(finding.Error))
		}
		boards = append(boards, subject{fmt.Sprintf("invented, %d packages", n), c})
	}
	fmt.Fprintf(w, "# Blind drills\n\nWritten by `go run ./cmd/calibrate > docs/DRILLS.md`, seed %d. Bench: scope, meter, iron. Minutes count\n"+
		"readings, set-up changes, repairs that were tried and the risk of desoldering, by the default costs; all players pay the same.\n\n", seed)
	fmt.Fprint(w, "| board | faults | wrong readings | drills | checks | minutes | true fault in the first group | halving: minutes | tracing: minutes | doubt at first, bits | bound, checks |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	total := 0
	bands := map[int][]app.Calibration{}
	row := func(s subject, faults, count int, slips float64) error {
		if count == 0 {
			return nil
		}
		d, err := app.Drill(ctx, s.c, app.DrillRequest{Faults: faults, Count: count, Seed: seed, Have: evidence.Bench{Scope: true, Meter: true, Iron: true}, Slips: slips, Progress: progress(s.name, faults, count)})
		if err != nil {
			return err
		}
		total += count
		if slips > 0 {
			bands[faults] = append(bands[faults], d.Calibration...)
		}
		fmt.Fprintf(w, "| %s | %d | %.0f %% | %d | %.1f | %.0f | %.1f %% | %.0f (×%.1f) | %.0f (×%.1f) | %.1f | %.1f |\n", s.name, faults, 100*slips, count, d.Planner.Checks, d.Planner.Minutes, 100*d.Planner.InFirst,
			d.Halving.Minutes, d.Halving.Minutes/d.Planner.Minutes, d.Tracing.Minutes, d.Tracing.Minutes/d.Planner.Minutes, d.EntropyBits, d.BoundChecks)
		return nil
	}
	const slips = 0.02
	type round struct {
		subjects      []subject
		faults, count int
		slips         float64
	}
	for _, r := range []round{{machines, 1, clean, 0}, {boards, 1, clean, 0}, {machines, 2, clean / 2, 0}, {machines, 1, counts[0], slips}, {boards, 1, invented, slips},
		{machines, 2, counts[1], slips}, {machines, 3, counts[2], slips}} {
		for _, s := range r.subjects {
			if err := row(s, r.faults, r.count, r.slips); err != nil {
				return err
			}
		}
	}
	fmt.Fprintf(w, "\n%d drills in all. The bound is the length of the shortest code for the look-alike groups with as many signs as the best-spread check has outcomes; meters have many, so no\n"+
		"plan comes near it. The next table therefore compares with planning two steps deep over every check.\n\n", total)
	fmt.Fprint(w, "| board | faults | drills | checks | two steps over all checks | ratio |\n|---|---|---|---|---|---|\n")
	for _, s := range append(machines, boards...) {
		d, err := app.Drill(ctx, s.c, app.DrillRequest{Faults: 1, Count: exhaustive, Seed: seed, Have: evidence.Bench{Scope: true, Meter: true, Iron: true}, Slips: 0.02, Exhaustive: true, Progress: progress(s.name+", all", 1, exhaustive)})
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "| %s | 1 | %d | %.2f | %.2f | %.2f |\n", s.name, exhaustive, d.Planner.Checks, d.Exhaustive, d.Planner.Checks/d.Exhaustive)
	}
	for faults := 1; faults <= 3; faults++ {
		calibration(w, faults, bands[faults])
	}
	return nil
}

// calibration prints what was stated of places against how often it was true, over all boards.
func calibration(w io.Writer, faults int, rows []app.Calibration) {
	fmt.Fprintf(w, "\n## Stated against true, %d fault(s) present\n\nEvery place (a part, or a net outside any part) that the ranking gave at least 1 %% after any reading of any drill with wrong readings.\n\n| stated | mean stated | true | places |\n|---|---|---|---|\n", faults)
	for i := range 10 {
		var n int
		var stated, observed float64
		for _, c := range rows {
			if int(c.From*10+0.5) == i {
				n += c.Count
				stated += c.Stated * float64(c.Count)
				observed += c.Observed * float64(c.Count)
			}
		}
		if n > 0 {
			fmt.Fprintf(w, "| %d to %d %% | %.0f %% | %.0f %% | %d |\n", 10*i, 10*i+10, 100*stated/float64(n), 100*observed/float64(n), n)
		}
	}
}

func progress(name string, faults, count int) func(int) {
	return func(done int) {
		fmt.Fprintf(os.Stderr, "\r%s, %d fault(s): %d of %d   ", name, faults, done, count)
		if done == count {
			fmt.Fprintln(os.Stderr)
		}
	}
}
