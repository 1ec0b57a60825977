package worked

// Which faults no test can tell apart: five stuck-at candidates of c1355, with the classes published as CSPLib problem 043 (data page) and
// proved by satisfiability, one proof a pair. Random vectors find every difference that there is and none that is not.

import (
	"math/rand/v2"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/sim"
)

// candidate is a held net; those with one number in class cannot be told apart at the outputs.
type candidate struct {
	net   string
	kind  fault.Kind
	class int
}

func TestLookAlikes(t *testing.T) {
	// the rule of a gate: a low input of a nand is a high output
	lookAlikes(t, c17, 2000, [5]candidate{{"i1", fault.NetLow, 1}, {"z1", fault.NetHigh, 1}, {"z1", fault.NetLow, 2}, {"z4", fault.NetHigh, 3}, {"i5", fault.NetLow, 3}})
	if text, ok := benchmark(t, "iscas85/c1355.v"); ok {
		lookAlikes(t, text, 100_000, [5]candidate{{"N1258", fault.NetHigh, 1},
			{"N1339", fault.NetLow, 2}, {"N1307", fault.NetLow, 2}, {"N1177", fault.NetLow, 2}, {"N1081", fault.NetHigh, 3}})
	}
}

func lookAlikes(t *testing.T, text string, count int, candidates [5]candidate) {
	t.Helper()
	n, c := gates(t, text)
	var patches []sim.Patch
	for i, k := range candidates {
		net, ok := c.Net(k.net)
		if !ok {
			t.Fatalf("no net %s", k.net)
		}
		patches = append(patches, fault.Fault{Kind: k.kind, A: net, B: circuit.None}.Patches(c, 0, 1<<i)...)
	}
	var outs []int
	for _, o := range n.outputs {
		net, _ := c.Net(o)
		outs = append(outs, net)
	}
	r := &vectors{c: *c, rng: rand.New(rand.NewPCG(1355, 43))}
	var differ [5][5]int // vectors on which two candidates show different outputs
	shown := 0           // vectors on which some candidate shows
	const chunk = 2000
	for range count / chunk {
		r.each(chunk, patches, func(e *sim.Engine) {
			var alike [5]uint64 // per candidate, the candidates that show the same on every output
			for i := range alike {
				alike[i] = 1<<5 - 1
			}
			odd := false
			for _, o := range outs {
				v := e.NetLevel(o)
				if (v.V0^v.V1)&31 != 31 || (v.Z|v.F)&31 != 0 {
					t.Fatal("an output is neither low nor high")
				}
				if v.V1&(1<<5) != 0 { // the good board
					odd = odd || v.V1&31 != 31
				} else {
					odd = odd || v.V1&31 != 0
				}
				for i := range alike {
					if v.V1>>i&1 == 1 {
						alike[i] &= v.V1
					} else {
						alike[i] &= ^v.V1
					}
				}
			}
			if odd {
				shown++
			}
			for i := range alike {
				for j := range alike {
					if alike[i]>>j&1 == 0 {
						differ[i][j]++
					}
				}
			}
		})
	}
	if r.count != count || shown == 0 {
		t.Errorf("%d vectors, a fault shows on %d", r.count, shown)
	}
	pairs := 0
	for i, a := range candidates {
		for j, b := range candidates[:i] {
			pairs++
			if apart := differ[i][j] > 0; apart != (a.class != b.class) {
				t.Errorf("%s@%s and %s@%s differ on %d of %d vectors; published: classes %d and %d", a.kind, a.net, b.kind, b.net, differ[i][j], r.count, a.class, b.class)
			}
		}
	}
	if pairs != 10 {
		t.Errorf("%d pairs checked", pairs)
	}
}

// vectors feeds random levels to all inputs of a circuit.
type vectors struct {
	c     circuit.Circuit
	rng   *rand.Rand
	count int
}

// each settles n random vectors with the patches in their lanes and shows the engine after each.
func (r *vectors) each(n int, patches []sim.Patch, look func(*sim.Engine)) {
	act := circuit.Action{Name: "random"}
	for range n {
		var m circuit.Moment
		levels := r.rng.Uint64()
		for i := range r.c.Inputs {
			m.Sets = append(m.Sets, circuit.InputSet{Input: i, To: circuit.Level(levels >> i & 1)})
		}
		act.Moments = append(act.Moments, m)
	}
	r.c.Actions = []circuit.Action{act}
	p := sim.Compile(&r.c)
	trace := p.Unknown(nil).Extend(0)
	e := sim.NewEngine(p)
	e.Run(trace, p.Overlay(nil, patches), nil, func(moment int) {
		if moment == 0 {
			return
		}
		r.count++
		look(e)
	})
}
