// The command analog-drills runs the blind drills of the analogue half and prints docs/ANALOG-DRILLS.md.
package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"time"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

var (
	count  = flag.Int("n", 40, "drills a board")
	boards = flag.Int("boards", 3, "drawn boards of each size")
	missed = flag.Bool("missed", false, "list the drills in which the true fault was missed, on the error stream")
)

func main() {
	flag.Parse()
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

type sum struct {
	n, found                                     int
	checks, minutes, bits, bound, expect, stated float64
}

func run() error {
	fmt.Printf(`# Blind drills of the analogue half

Written by `+"`go run ./cmd/analog-drills -n %d -boards %d > docs/ANALOG-DRILLS.md`"+`. In each drill every tolerance of the board is drawn at random, one fault is drawn as
often as its prior says, with a severity that no hypothesis has exactly, and the meter errs by up to 1 %%. Machines in which no powered reading shows the
fault are drawn again. One reading that is wrong is given; the planner asks for the rest until one group of look-alikes holds 95 %%, or nothing is left to ask.
The bound is the length of the shortest code over the look-alike groups after the complaint, with as many signs as the best-spread check then has
outcomes: no plan can need fewer on average, and no check after the first is as well spread. The next column is the doubt divided by what the most
telling check of the start tells.

| board | parts | faults | drills | true fault in the first group | stated | checks | minutes | doubt, bits | bound, checks | checks / bound | bits / best check |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
`, *count, *boards)
	lib, fl := part.Embedded()
	if fl.Errors() {
		return fmt.Errorf("%v", fl)
	}
	var all sum
	for _, dir := range []string{"bench-supply", "string-voice"} {
		b, fl := yamlfile.ReadBoard("examples/" + dir + "/board.yaml")
		if fl.Errors() {
			return fmt.Errorf("%v", fl)
		}
		if err := drills(b, dir, lib, *count, &all); err != nil {
			return err
		}
	}
	for _, parts := range []int{20, 50, 100, 150} {
		for k := range *boards {
			b := analog.Generate(rand.New(rand.NewPCG(uint64(parts), uint64(k))), parts)
			if err := drills(b, fmt.Sprintf("drawn %d", k+1), lib, *count, &all); err != nil {
				return err
			}
		}
	}
	row("all", 0, 0, all)
	return nil
}

func drills(b *board.Board, name string, lib *part.Library, n int, all *sum) error {
	c, fl := circuit.Build(b, lib)
	if c == nil {
		return fmt.Errorf("%s: %v", name, fl)
	}
	m, fl := analog.New(c, 0)
	if m == nil {
		return fmt.Errorf("%s: %v", name, fl)
	}
	l := analog.NewLab(analog.NewUniverse(m))
	rng := rand.New(rand.NewPCG(7, uint64(len(b.Parts))))
	var s sum
	began := time.Now()
	for range n {
		t, err := analog.Drill(context.Background(), l, rng, evidence.Bench{Meter: true, Scope: true, Iron: true})
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		s.n++
		if t.Found {
			s.found++
		} else if *missed {
			fmt.Fprintf(os.Stderr, "%s missed %s from %s after %d checks, %.2f\n", name, t.Truth, t.Symptom, t.Checks, t.Probability)
		}
		s.checks += float64(t.Checks)
		s.minutes += t.Minutes
		s.bits += t.Bits
		s.bound += t.Bound
		s.expect += t.Expected
		s.stated += t.Probability
	}
	fmt.Fprintf(os.Stderr, "%s: %d drills in %v\n", name, n, time.Since(began).Round(time.Second))
	row(name, len(b.Parts), len(l.U.Faults), s)
	all.n += s.n
	all.found += s.found
	all.checks += s.checks
	all.minutes += s.minutes
	all.bits += s.bits
	all.bound += s.bound
	all.expect += s.expect
	all.stated += s.stated
	return nil
}

func row(name string, parts, faults int, s sum) {
	n := float64(s.n)
	cell := func(v int) string {
		if v == 0 {
			return ""
		}
		return fmt.Sprint(v)
	}
	fmt.Printf("| %s | %s | %s | %d | %.0f %% | %.0f %% | %.2f | %.1f | %.2f | %.2f | %.2f | %.2f |\n", name, cell(parts), cell(faults), s.n, 100*float64(s.found)/n, 100*s.stated/n,
		s.checks/n, s.minutes/n, s.bits/n, s.bound/n, s.checks/max(s.bound, 1e-9), s.expect/n)
}
