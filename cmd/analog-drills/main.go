// The command analog-drills runs the blind drills of the analogue half and writes what it measured into docs/analogue-boards.md.
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime/pprof"
	"strings"
	"time"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

var (
	count   = flag.Int("n", 8, "drills of each kind on every board")
	only    = flag.String("only", "", "only boards whose name holds this; nothing is written then")
	missed  = flag.Bool("missed", false, "tell of every drill in which the true fault was missed")
	every   = flag.Bool("every", false, "tell of every drill")
	mode    = flag.String("for", "", "minutes or checks: only drills of this kind; nothing is written then")
	slips   = flag.Float64("slips", 0, "probability of a reading to be one of another place; nothing is written then")
	profile = flag.String("profile", "", "write a processor profile to this file")
	into    = flag.String("into", "docs/analogue-boards.md", "file whose table is replaced; \"\" for none")
)

func main() {
	flag.Parse()
	if *profile != "" {
		f, err := os.Create(*profile)
		if err == nil {
			err = pprof.StartCPUProfile(f)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	err := run()
	pprof.StopCPUProfile()
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// machine is a board to practise on.
type machine struct {
	name string
	b    *board.Board
}

func machines() ([]machine, error) {
	var out []machine
	for _, dir := range []string{"bench-supply", "string-voice"} {
		b, fl := yamlfile.ReadBoard("examples/" + dir + "/board.yaml")
		if fl.Errors() {
			return nil, fmt.Errorf("run it where examples/ is: %v", fl)
		}
		out = append(out, machine{dir, b})
	}
	for _, x := range []struct{ parts, boards int }{{20, 3}, {50, 2}, {100, 2}, {150, 2}} {
		for k := range x.boards {
			out = append(out, machine{fmt.Sprintf("drawn %d-%d", x.parts, k+1), analog.Generate(rand.New(rand.NewPCG(uint64(x.parts), uint64(k))), x.parts)})
		}
	}
	return out, nil
}

func run() error {
	list, err := machines()
	if err != nil {
		return err
	}
	lib, fl := part.Embedded()
	if fl.Errors() {
		return fmt.Errorf("%v", fl)
	}
	var table bytes.Buffer
	fmt.Fprintln(&table, head)
	all := map[bool]*sum{false: {}, true: {}}
	for _, m := range list {
		if !strings.Contains(m.name, *only) {
			continue
		}
		for _, fewest := range []bool{false, true} {
			if *mode != "" && *mode != kind(fewest) {
				continue
			}
			s, err := drills(m, lib, fewest)
			if err != nil {
				return fmt.Errorf("%s: %w", m.name, err)
			}
			row := s.row(m.name, kind(fewest))
			fmt.Fprintf(&table, "%s\n", row)
			all[fewest].add(s)
		}
	}
	for _, fewest := range []bool{false, true} {
		if all[fewest].n > 0 {
			fmt.Fprintln(&table, all[fewest].row("all", kind(fewest)))
		}
	}
	fmt.Print(table.String())
	if *into == "" || *only != "" || *mode != "" || *slips > 0 {
		return nil
	}
	return replace(*into, table.String())
}

func kind(fewest bool) string {
	if fewest {
		return "checks"
	}
	return "minutes"
}

const head = `| board | devices | faults | for fewest | drills | true fault in the first group | stated | group: faults, parts | checks | bound | checks / bound | bits / best check | checks / that | minutes | s a step |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |`

// sum adds up drills.
type sum struct {
	devices, faults, n, found, plans       int
	checks, minutes, bound, expect, stated float64
	groupFaults, groupParts, seconds, bits float64
}

func (s *sum) add(t sum) {
	s.n += t.n
	s.found += t.found
	s.plans += t.plans
	s.checks += t.checks
	s.minutes += t.minutes
	s.bound += t.bound
	s.expect += t.expect
	s.stated += t.stated
	s.groupFaults += t.groupFaults
	s.groupParts += t.groupParts
	s.seconds += t.seconds
	s.bits += t.bits
}

func (s *sum) row(name, kind string) string {
	n := float64(s.n)
	number := func(v int) string {
		if v == 0 {
			return ""
		}
		return fmt.Sprint(v)
	}
	return fmt.Sprintf("| %s | %s | %s | %s | %d | %.0f %% | %.0f %% | %.1f, %.1f | %.2f | %.2f | %.2f | %.2f | %.2f | %.1f | %.2f |", name, number(s.devices), number(s.faults), kind, s.n,
		100*float64(s.found)/n, 100*s.stated/n, s.groupFaults/n, s.groupParts/n, s.checks/n, s.bound/n, s.checks/max(s.bound, 1e-9), s.expect/n, s.checks/max(s.expect, 1e-9), s.minutes/n,
		s.seconds/float64(max(1, s.plans)))
}

func drills(m machine, lib *part.Library, fewest bool) (sum, error) {
	c, fl := circuit.Build(m.b, lib)
	if c == nil {
		return sum{}, fmt.Errorf("%v", fl)
	}
	model, fl := analog.New(c, 0)
	if model == nil {
		return sum{}, fmt.Errorf("%v", fl)
	}
	l := analog.NewLab(analog.NewUniverse(model))
	s := sum{devices: len(m.b.Parts), faults: len(l.U.Faults)}
	began := time.Now()
	for i := range *count {
		t, err := analog.Drill(context.Background(), l, rand.New(rand.NewPCG(uint64(len(m.b.Parts)), uint64(i))), evidence.Bench{Meter: true, Scope: true, Iron: true}, fewest, *slips)
		if err != nil {
			return s, err
		}
		s.n++
		if t.Found {
			s.found++
		}
		if *every || *missed && !t.Found {
			fmt.Fprintf(os.Stderr, "%s %d: found %v, %s from %s: %s; %s; %.2f bits, bound %.2f, expected %.2f\n", m.name, i, t.Found, t.Truth, t.Symptom, strings.Join(t.Asked, ", "), strings.Join(t.Ended, ", "),
				t.Bits, t.Bound, t.Expected)
		}
		s.checks += float64(t.Checks)
		s.minutes += t.Minutes
		s.bits += t.Bits
		s.bound += t.Bound
		s.expect += t.Expected
		s.stated += t.Probability
		s.groupFaults += float64(t.Faults)
		s.groupParts += float64(t.Parts)
		s.plans += t.Plans
	}
	s.seconds = time.Since(began).Seconds()
	fmt.Fprintf(os.Stderr, "%s for %s: %d of %d found, %.2f checks, bound %.2f, in %.1f s\n", m.name, kind(fewest), s.found, s.n, s.checks/float64(s.n), s.bound/float64(s.n), s.seconds)
	return s, nil
}

// The table stands between these lines of the document.
const (
	tableFrom = "<!-- analog-drills -->"
	tableTo   = "<!-- end -->"
)

func replace(file, table string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	before, rest, ok := strings.Cut(string(text), tableFrom)
	_, after, ok2 := strings.Cut(rest, tableTo)
	if !ok || !ok2 {
		return fmt.Errorf("%s has no lines %s and %s to put the table between", file, tableFrom, tableTo)
	}
	return os.WriteFile(file, []byte(before+tableFrom+"\n\n"+table+"\n"+tableTo+after), 0o644)
}
