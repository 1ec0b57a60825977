package elec

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
)

// stage is a biased transistor with a zener supply and an op-amp behind it, all with tolerances.
func stage(t testing.TB) *Circuit {
	n := newNet().add(VoltageSource, "V", 20, map[string]float64{"ohms": 10}, "in", "0").add(VoltageSource, "VN", -12, nil, "vn", "0").
		add(Resistor, "R0", 330, nil, "in", "z").add(Zener, "Z", 0, nil, "0", "z").model("BZX79-C12").
		add(Resistor, "R1", 47e3, nil, "z", "b").add(Resistor, "R2", 10e3, nil, "b", "0").add(BJT, "Q", 0, nil, "c", "b", "e").model("BC547").
		add(Resistor, "RC", 4.7e3, nil, "z", "c").add(Resistor, "RE", 1e3, nil, "e", "0").
		add(OpAmp, "U", 0, nil, "c", "f", "o", "z", "vn").model("TL072").add(Resistor, "RF", 10e3, nil, "o", "f").add(Resistor, "RG", 100e3, nil, "f", "0")
	for i := range n.nl.Devices {
		if n.nl.Devices[i].Kind == Resistor {
			n.nl.Devices[i].Tol = 0.05
		}
	}
	return n.compile(t)
}

// A divider of two resistors of ±5 %: the formula of error propagation.
func TestSpreadOfADivider(t *testing.T) {
	n := newNet().add(VoltageSource, "V", 10, nil, "in", "0").add(Resistor, "R1", 1e3, nil, "in", "out").add(Resistor, "R2", 3e3, nil, "out", "0")
	n.nl.Devices[1].Tol, n.nl.Devices[2].Tol = 0.05, 0.1
	s, err := n.compile(t).Spread(Options{}, Patch{})
	if err != nil {
		t.Fatal(err)
	}
	k := 10 * 0.75 * 0.25 // volts per relative change of either
	if want := k * math.Hypot(0.05, 0.1) / math.Sqrt(3); math.Abs(s.Sigma[2]-want) > 1e-3*want {
		t.Errorf("sigma %.6f V, want %.6f", s.Sigma[2], want)
	}
	if want := k * 0.15; math.Abs(s.Worst[2]-want) > 1e-3*want {
		t.Errorf("worst %.6f V, want %.6f", s.Worst[2], want)
	}
	if len(s.Uncertain) != 2 || math.Abs(s.Effect(0, 2)+k*0.05) > 1e-5 {
		t.Errorf("%v %v", s.Uncertain, s.Effect(0, 2))
	}
}

// Sensitivities and chance agree, for the good circuit and for faulty ones.
func TestSpreadAgainstChance(t *testing.T) {
	c := stage(t)
	checked := 0
	for _, p := range []Patch{{}, {Changes: []Change{{Device: c.Device("R2"), Do: Scale, Param: "ohms", Value: 1.3}}}, {Bridges: []Bridge{{A: c.Node("c"), B: 0, Ohms: 22e3}}}} {
		s, err := c.Spread(Options{}, p)
		if err != nil {
			t.Fatal(err)
		}
		_, sigma, lost, err := c.NewSolver().MonteCarlo(Options{}, p, 3000, rand.New(rand.NewPCG(1, 2)))
		if err != nil || lost > 0 {
			t.Fatal(err, lost)
		}
		for i, name := range c.Nodes() {
			if sigma[i] < 1e-4 {
				continue
			}
			checked++
			if r := s.Sigma[i] / sigma[i]; r < 0.9 || r > 1.12 {
				t.Errorf("%s: %.4f V by sensitivities, %.4f V by chance", name, s.Sigma[i], sigma[i])
			}
		}
	}
	if checked < 20 {
		t.Errorf("only %d nodes checked", checked)
	}
}

// Ohms in circuit: what junctions below their knee do not carry, and what other paths add.
func TestOhms(t *testing.T) {
	n := newNet().add(VoltageSource, "V", 5, nil, "vcc", "0").add(Resistor, "R1", 10e3, nil, "vcc", "b").add(Resistor, "R2", 4.7e3, nil, "b", "0").
		add(BJT, "Q", 0, nil, "c", "b", "0").model("2N3904").add(Resistor, "RC", 1e3, nil, "vcc", "c").add(Diode, "D", 0, nil, "0", "c").model("1N4148").add(Capacitor, "C", 1e-7, nil, "vcc", "0")
	c := n.compile(t)
	at := func(p Patch, a, b string) float64 {
		r, err := c.InputResistance(Options{}, p, c.Node(a), c.Node(b))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	for _, k := range []struct {
		p    Patch
		a, b string
		want float64
	}{
		{Patch{}, "b", "0", 4.7e3}, {Patch{}, "vcc", "b", 10e3}, {Patch{}, "vcc", "0", 14.7e3}, {Patch{}, "vcc", "c", 1e3},
		{Open(c.Device("R2"), 0), "b", "0", 1e6}, {c.Short(c.Device("Q"), 1, 2, 3), "b", "0", 3}, {Patch{Changes: []Change{{Device: c.Device("R1"), Do: Scale, Param: "ohms", Value: 10}}}, "vcc", "b", 100e3},
	} {
		got := at(k.p, k.a, k.b)
		if k.want >= 1e6 && got < 3e5 || k.want < 1e6 && math.Abs(got/k.want-1) > 0.08 {
			t.Errorf("%s to %s: %g Ω, want %g", k.a, k.b, got, k.want)
		}
	}
	if _, v, err := c.NewSolver().Ohms(Options{}, Patch{}, DiodeTest(), c.Node("0"), c.Node("c")); err != nil || math.Abs(v-0.62) > 0.08 {
		t.Errorf("diode test %.3f V, %v", v, err)
	}
}

// Many goroutines on one circuit, and one solver over many patches, give the same answers to the last bit.
func TestSharedCircuit(t *testing.T) {
	c := stage(t)
	good := op(t, c, Patch{})
	var patches []Patch
	for d := range c.devices {
		for p := range c.devices[d].Nodes {
			patches = append(patches, Open(d, p))
		}
	}
	patches = patches[:27] // prime to the strides below
	opt := Options{From: good}
	var want [][]float64
	one := c.NewSolver()
	for _, p := range patches {
		s, err := one.OP(opt, p)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, s.Voltages())
	}
	var wg sync.WaitGroup
	wrong := make([]int, 8)
	for w := range 8 {
		wg.Go(func() {
			s := c.NewSolver()
			for i := range patches {
				k := (i*5 + w*3) % len(patches) // another order for each
				got, err := s.OP(opt, patches[k])
				if err != nil || fmt.Sprint(got.Voltages()) != fmt.Sprint(want[k]) {
					wrong[w]++
				}
			}
		})
	}
	wg.Wait()
	for w, n := range wrong {
		if n > 0 {
			t.Errorf("goroutine %d: %d of %d answers differ", w, n, len(patches))
		}
	}
}
