package spice

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"halfsplit/internal/core/elec"
)

// This file measures faulty operating points per second against the simulator, on the same list of faults, in one run.

// board is a circuit of native devices only (no behavioural sources, which are slow in the simulator): transistor stages
// with a zener supply, about as many devices as asked for.
func board(stages int, rng *rand.Rand) *circuit {
	c := newCircuit("board", rng)
	c.add(elec.VoltageSource, 18, params{"ohms": 0.5}, "in", "0").r(100, 150, "in", "z").add(elec.Zener, 0, params{"is": 1e-14, "bv": 12, "ibv": 5e-3, "nbv": 2, "rs": 5}, "0", "z").
		add(elec.BJT, 0, c.npn(), "in", "z", "vp")
	prev := "vp"
	for i := range stages {
		n := func(s string) string { return fmt.Sprintf("%s%d", s, i) }
		c.r(2e4, 8e4, prev, n("b")).r(8e3, 2e4, n("b"), "0").add(elec.BJT, 0, c.npn(), n("c"), n("b"), n("e")).r(2e3, 6e3, "vp", n("c")).r(500, 2e3, n("e"), "0").
			add(elec.BJT, 0, c.pnp(), n("q"), n("c"), n("f")).r(1e3, 3e3, "vp", n("f")).r(2e3, 6e3, n("q"), "0").
			add(elec.Diode, 0, params{"is": 2.52e-9, "n": 1.752, "rs": 0.568}, n("q"), n("o")).r(5e3, 2e4, n("o"), "0")
		prev = n("o")
	}
	return c
}

// race is the result: points per second of processor time. deck is the simulator with all faulty circuits in one deck, its start taken off;
// analysis is the faster of two ways (one large circuit, or one after the other in one process) with reading the decks taken off as well.
type race struct {
	devices, unknowns, faults int
	engine, deck, analysis    float64
	agreed, unsolved          int
}

// run solves n faults of the circuit with the engine and with the simulator.
func run(t testing.TB, c *circuit, n int) race {
	models, _ := elec.Embedded()
	e, fs := elec.Compile(c.nl, models)
	if e == nil {
		t.Fatal(fs)
	}
	opt := elec.Options{Leak: leakSiemens, Gmin: 1e-14}
	good, err := e.OP(opt, elec.Patch{})
	if err != nil {
		t.Fatal(err)
	}
	var patches []elec.Patch
	for range n {
		p, _ := fault(c, e)
		patches = append(patches, p)
	}
	opt.From = good
	r := race{devices: len(c.nl.Devices), unknowns: e.Unknowns(), faults: n}
	sols := make([]*elec.Solution, n)
	solve := func(from, step int) {
		s := e.NewSolver()
		for i := from; i < n; i += step {
			sols[i], _ = s.OP(opt, patches[i])
		}
	}
	solve(0, 1)
	const rounds = 20
	start := processorTime(t, syscall.RUSAGE_SELF)
	for range rounds {
		solve(0, 1)
	}
	r.engine = rounds * float64(n) / (processorTime(t, syscall.RUSAGE_SELF) - start)
	r.spices(t, c, e, models, patches, sols)
	for _, s := range sols {
		if s == nil {
			r.unsolved++
		}
	}
	return r
}

// spices measures the simulator, and counts how many of its answers agree.
func (r *race) spices(t testing.TB, c *circuit, e *elec.Circuit, models *elec.Models, patches []elec.Patch, sols []*elec.Solution) {
	const options = "\n.options gmin=1e-14 abstol=1e-12 reltol=1e-3 itl1=500\n.end\n"
	dir := t.TempDir()
	var all bytes.Buffer
	all.WriteString("* all\n")
	var load, each bytes.Buffer
	for i, p := range patches {
		d := write(c.nl, e, models, p, fmt.Sprintf("f%d", i))
		text := strings.Join(d.lines, "\n")
		all.WriteString(text + "\n")
		name := filepath.Join(dir, fmt.Sprintf("s%d.cir", i))
		put(t, name, "* one\n"+text+options)
		fmt.Fprintf(&load, "source %s\nremcirc\n", name)
		fmt.Fprintf(&each, "source %s\nop\nprint v(f%dn%d)\ndestroy all\nremcirc\n", name, i, len(d.nodes)-1)
	}
	big := filepath.Join(dir, "all.cir")
	put(t, big, all.String()+options)
	last := len(c.nl.Nodes) - 1
	var prints strings.Builder
	for i := range patches {
		fmt.Fprintf(&prints, "print v(f%dn%d)\n", i, last)
	}
	took := func(script string) (float64, string) {
		start := processorTime(t, syscall.RUSAGE_CHILDREN)
		out := command(t, dir, "set noaskquit\n"+script+"echo @@end\nquit\n")
		return processorTime(t, syscall.RUSAGE_CHILDREN) - start, out
	}
	n := float64(len(patches))
	empty, _ := took("")
	read, _ := took("source " + big + "\n")
	ran, out := took("source " + big + "\nop\n" + prints.String())
	r.deck = n / max(ran-empty, 1e-6)
	r.analysis = n / max(ran-read, 1e-6)
	read, _ = took(load.String())
	ran, one := took(each.String())
	if a := n / max(ran-read, 1e-6); a > r.analysis {
		r.analysis = a
	}
	if !strings.Contains(out, "v(f0n") { // it found no answer for the whole
		t.Error("the simulator does not solve the one deck")
		out = one
	}
	for i, s := range sols {
		key := fmt.Sprintf("v(f%dn%d) = ", i, last)
		at := strings.Index(out, key)
		var v float64
		if at < 0 || s == nil {
			continue
		}
		if _, err := fmt.Sscan(out[at+len(key):], &v); err == nil && math.Abs(v-s.Voltage(last)) < 0.01+0.005*math.Abs(v) {
			r.agreed++
		} else {
			t.Logf("%v: %v, simulator %v", patches[i], s.Voltage(last), v)
		}
	}
}

// processorTime is what this process or its children have used, in seconds. Processor time, because other work on the machine would
// spoil the comparison by the clock.
func processorTime(t testing.TB, who int) float64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(who, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

func put(t testing.TB, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The promise: at least 20 times as many faulty operating points per second as the simulator on the same faults in one deck.
func TestSpeedAgainstTheSimulator(t *testing.T) {
	for _, stages := range []int{3, 6} {
		r := run(t, board(stages, rand.New(rand.NewPCG(3, 3))), 150)
		t.Logf("%d devices, %d unknowns: %.0f points/s, the simulator %.0f, its analysis alone %.0f: ratios %.1f and %.1f", r.devices, r.unknowns, r.engine, r.deck, r.analysis, r.engine/r.deck, r.engine/r.analysis)
		if r.agreed < r.faults*97/100 || r.unsolved > 0 {
			t.Errorf("%d devices: only %d of %d answers agree, %d unsolved", r.devices, r.agreed, r.faults, r.unsolved)
		}
		if r.engine < 20*r.deck {
			t.Errorf("%d devices: %.1f times as fast, want 20", r.devices, r.engine/r.deck)
		}
	}
}

func BenchmarkAgainstSpice(b *testing.B) {
	var r race
	for b.Loop() {
		r = run(b, board(8, rand.New(rand.NewPCG(3, 3))), 300)
	}
	b.ReportMetric(r.engine, "points/s")
	b.ReportMetric(r.engine/r.deck, "x-deck")
	b.ReportMetric(r.engine/r.analysis, "x-analysis")
	if r.engine < 20*r.deck {
		b.Errorf("%.1f times as fast, want 20", r.engine/r.deck)
	}
}
