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
	opt := elec.Options{Leak: leakSiemens, Gmin: 1e-14}
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

// apart is how far two readings are from each other, 1 being the most that counts as the same: 0.2 mV and 0.02 %.
func apart(got, want float64) float64 { return math.Abs(got-want) / (2e-4 + 2e-4*math.Abs(want)) }

// compare returns the worst node (index) and how far it is off; ok is false if the simulator gave no answer.
func (c *pointCase) compare() (at int, worst float64, ok bool) {
	for i, name := range c.job.deck.nodes[1:] {
		want, found := c.job.values["v("+name+")"]
		if !found {
			return 0, 0, false
		}
		if e := apart(c.sol.Voltage(i+1), want); !(e <= worst) {
			at, worst = i+1, e
		}
	}
	return at, worst, true
}

// Operating points, good and faulty, agree node by node. A circuit that latches has more than one, and some the simulator does not
// find by itself: those it is given the engine's answer to start from, and must come to rest there.
func TestOperatingPoints(t *testing.T) {
	cases, unsolved := points(t, 5, 4)
	var jobs []*job
	for _, c := range cases {
		jobs = append(jobs, c.job)
	}
	simulate(t, jobs)
	var again []*job
	for _, c := range cases {
		if _, worst, ok := c.compare(); !ok || worst > 1 && c.c.family == "thyristor" {
			for i, n := range c.job.deck.nodes[1:] {
				c.job.deck.add(".nodeset v(%s)=%.9g", n, c.sol.Voltage(i+1))
			}
			again = append(again, c.job)
		}
	}
	simulate(t, again)
	agreed, silent, nodes, faulty := 0, 0, 0, 0
	byFamily := map[string]int{}
	for _, c := range cases {
		at, worst, ok := c.compare()
		switch {
		case !ok:
			silent++
			t.Logf("no answer from the simulator: %s", c.name)
		case worst > 1:
			name := c.job.deck.nodes[at]
			t.Errorf("%s: %s is %.9g V, the simulator says %.9g V (%s)", c.name, c.c.nl.Nodes[at], c.sol.Voltage(at), c.job.values["v("+name+")"], c.sol.Method)
		default:
			agreed++
			nodes += len(c.job.deck.nodes) - 1
			byFamily[c.c.family]++
			if len(c.p.Changes)+len(c.p.Bridges) > 0 {
				faulty++
			}
		}
	}
	t.Logf("%d circuits, %d of them faulty, agree in %d nodes; %d needed a start, the simulator gave up on %d, the engine on %d", agreed, faulty, nodes, len(again), silent, unsolved)
	if agreed < 550 || faulty < 440 || len(byFamily) != len(families) || len(again) > len(cases)/20 || silent > len(cases)/50 || unsolved > 0 {
		t.Errorf("only %d agree, %d faulty, of %d families; %d started, %d without answer, %d unsolved", agreed, faulty, len(byFamily), len(again), silent, unsolved)
	}
}
