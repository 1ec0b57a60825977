package spice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"halfsplit/internal/core/elec"
)

const tight = "reltol=1e-6 vntol=1e-9 itl1=500"

type pointCase struct {
	name string
	c    *circuit
	e    *elec.Circuit
	p    elec.Patch
	sol  *elec.Solution
	job  *job
}

// points makes good and faulty circuits of every family and solves them with the engine.
func points(t testing.TB, perFamily, faults int) (cases []*pointCase, unsolved int) {
	models, fs := elec.Embedded()
	if len(fs) > 0 {
		t.Fatal(fs)
	}
	rng := rand.New(rand.NewPCG(5, 39))
	opt := elec.Options{Leak: leakSiemens}
	for _, fam := range families {
		for k := range perFamily {
			c := newCircuit(fam.name, rng)
			fam.make(c)
			e, fs := elec.Compile(c.nl, models)
			if e == nil {
				t.Fatal(fam.name, fs)
			}
			good, err := e.OP(opt, elec.Patch{})
			if err != nil {
				unsolved++
				t.Logf("%s %d: %v", fam.name, k, err)
				continue
			}
			add := func(what string, p elec.Patch, sol *elec.Solution) {
				pc := &pointCase{name: fmt.Sprintf("%s %d, %s", fam.name, k, what), c: c, e: e, p: p, sol: sol}
				d := write(c.nl, e, models, p, "")
				pc.job = &job{deck: d, options: tight, analysis: "op"}
				for _, n := range d.nodes[1:] {
					pc.job.print = append(pc.job.print, "v("+n+")")
				}
				cases = append(cases, pc)
			}
			add("good", elec.Patch{}, good)
			warm := opt
			warm.From = good
			for range faults {
				p, what := fault(c, e)
				sol, err := e.OP(warm, p)
				if err != nil {
					unsolved++
					t.Logf("%s %d, %s: %v", fam.name, k, what, err)
					continue
				}
				add(what, p, sol)
			}
		}
	}
	return cases, unsolved
}

// Operating points, good and faulty, agree node by node.
func TestOperatingPoints(t *testing.T) {
	cases, unsolved := points(t, 5, 4)
	var jobs []*job
	for _, c := range cases {
		jobs = append(jobs, c.job)
	}
	simulate(t, jobs)
	agreed, silent, nodes := 0, 0, 0
	byFamily := map[string]int{}
	for _, c := range cases {
		worst, at, missing := 0.0, 0, false
		for i, name := range c.job.deck.nodes[1:] {
			want, ok := c.job.values["v("+name+")"]
			if !ok {
				missing = true
				break
			}
			got := c.sol.Voltage(i + 1)
			nodes++
			if e := math.Abs(got-want) / (2e-4 + 2e-4*math.Abs(want)); !(e <= worst) {
				worst, at = e, i+1
			}
		}
		switch {
		case missing:
			silent++
			t.Logf("no answer from the simulator: %s", c.name)
		case worst > 1:
			name := c.job.deck.nodes[at]
			t.Errorf("%s: %s is %.9g V, the simulator says %.9g V (%s)", c.name, c.c.nl.Nodes[at], c.sol.Voltage(at), c.job.values["v("+name+")"], c.sol.Method)
		default:
			agreed++
			byFamily[c.c.family]++
		}
	}
	t.Logf("%d circuits agree in %d nodes; the simulator gave up on %d, the engine on %d", agreed, nodes, silent, unsolved)
	if agreed < 500 || len(byFamily) != len(families) || silent > len(cases)/20 || unsolved > 2 {
		t.Errorf("only %d agree, of %d families; %d without answer, %d unsolved", agreed, len(byFamily), silent, unsolved)
	}
}
