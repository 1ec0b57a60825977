package elec

import (
	"math"
	"testing"
)

// The adjoint circuit and one solution per parameter give the same, with bridges, open joints and the power off too.
func TestGradientIsEffect(t *testing.T) {
	c := stage(t)
	s := c.NewSolver()
	checked := 0
	for name, p := range map[string]Patch{"good": {}, "bridge": c.Short(c.Device("Q"), 0, 2, 100), "two bridges": c.Short(c.Device("Q"), 0, 2, 100).And(c.Short(c.Device("R2"), 0, 1, 3e3)),
		"open joint": Open(c.Device("Q"), 1), "open resistor": Open(c.Device("R2"), 0)} {
		point, err := s.OP(Options{}, p)
		if err != nil {
			t.Fatal(err)
		}
		l, err := s.Linear(Options{}, p, point)
		if err != nil {
			t.Fatal(err)
		}
		g, x := make([]float64, len(l.Uncertain())), make([]float64, c.n+1)
		for a := range c.nodes {
			for _, b := range []int{0, 1, c.Node("f")} {
				l.Gradient(a, b, g)
				for u := range g {
					l.effect(u, x)
					want := x[s.index(a)] - x[s.index(b)]
					if math.Abs(g[u]-want) > 1e-9+1e-6*math.Abs(want) {
						t.Errorf("%s: %s to %s, parameter %d: %g by the adjoint, %g forward", name, c.nodes[a], c.nodes[b], u, g[u], want)
					}
					checked++
				}
			}
		}
	}
	if checked < 500 {
		t.Errorf("only %d slopes checked", checked)
	}
}
