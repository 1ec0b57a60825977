package spice

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
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

type race struct {
	devices, unknowns, faults int
	engine, engineAll, spice  float64 // points per second: one processor, all, the simulator
	how                       string
	spiceElse                 float64 // the simulator's other way
	agreed                    int
	unsolved                  int
}

// run solves n faults of the circuit both ways. The simulator gets them all in one deck, once as one large circuit and once as single circuits
// in one process; the faster counts, and the time to start it and to read the decks is taken off.
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
	rate := func(workers int) float64 {
		best := math.Inf(1)
		for range 5 {
			start := time.Now()
			var wg sync.WaitGroup
			for w := range workers {
				wg.Go(func() { solve(w, workers) })
			}
			wg.Wait()
			best = min(best, time.Since(start).Seconds())
		}
		return float64(n) / best
	}
	r.engine, r.engineAll = rate(1), rate(runtime.GOMAXPROCS(0))
	whole, single := r.spices(t, c, e, models, patches, sols)
	r.spice, r.spiceElse, r.how = whole, single, "as one large circuit"
	if single > whole {
		r.spice, r.spiceElse, r.how = single, whole, "one by one"
	}
	for _, s := range sols {
		if s == nil {
			r.unsolved++
		}
	}
	return r
}

// spices returns the simulator's points per second both ways, and counts how many of its answers agree.
func (r *race) spices(t testing.TB, c *circuit, e *elec.Circuit, models *elec.Models, patches []elec.Patch, sols []*elec.Solution) (whole, single float64) {
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
		all.Grow(0)
	}
	big := filepath.Join(dir, "all.cir")
	put(t, big, all.String()+options)
	last := len(c.nl.Nodes) - 1
	var prints strings.Builder
	for i := range patches {
		fmt.Fprintf(&prints, "print v(f%dn%d)\n", i, last)
	}
	took := func(script string) (float64, string) {
		start := time.Now()
		out := command(t, dir, "set noaskquit\n"+script+"echo @@end\nquit\n")
		return time.Since(start).Seconds(), out
	}
	loaded, _ := took("source " + big + "\n")
	ran, out := took("source " + big + "\nop\n")
	_, printed := took("source " + big + "\nop\n" + prints.String())
	whole = float64(len(patches)) / max(ran-loaded, 1e-6)
	if !strings.Contains(out, "No. of Data Rows") {
		whole = 0 // it found no answer this way
	}
	loaded, _ = took(load.String())
	ran, out = took(each.String())
	single = float64(len(patches)) / max(ran-loaded, 1e-6)
	if whole > 0 {
		out = printed
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
		}
	}
	return whole, single
}

func put(t testing.TB, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The promise: at least 20 times as many faulty operating points per second as the simulator, on one processor against its one.
func TestSpeedAgainstTheSimulator(t *testing.T) {
	for _, stages := range []int{3, 8} {
		r := run(t, board(stages, rand.New(rand.NewPCG(3, 3))), 300)
		t.Logf("%+v ratio %.1f, with all processors %.1f", r, r.engine/r.spice, r.engineAll/r.spice)
		if r.agreed < r.faults*95/100 || r.unsolved > 0 {
			t.Errorf("%d devices: only %d of %d answers agree, %d unsolved", r.devices, r.agreed, r.faults, r.unsolved)
		}
	}
}
