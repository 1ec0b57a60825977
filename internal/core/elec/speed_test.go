package elec

// Speed against the plain way of doing the same, in one run: the metric says how many times faster.

import (
	"math"
	"testing"
	"time"
)

func BenchmarkGradient(b *testing.B) {
	c := stage(b)
	s := c.NewSolver()
	point, err := s.OP(Options{}, Patch{})
	if err != nil {
		b.Fatal(err)
	}
	g := make([]float64, len(c.Uncertain()))
	var adjoint, plain time.Duration
	for b.Loop() {
		t := time.Now()
		l, err := s.Linear(Options{}, Patch{}, point)
		if err != nil {
			b.Fatal(err)
		}
		l.Gradient(c.Node("o"), 0, g)
		adjoint += time.Since(t)
		t = time.Now()
		for _, u := range c.Uncertain() {
			if _, err := s.ends(Options{}, Patch{}, point, u); err != nil {
				b.Fatal(err)
			}
		}
		plain += time.Since(t)
	}
	b.ReportMetric(float64(plain)/float64(adjoint), "x-both-ends")
}

func BenchmarkSteady(b *testing.B) {
	c := newNet().add(VoltageSource, "V", 0, map[string]float64{"amplitude": 9 * math.Sqrt2, "ohms": 0.3}, "a", "b").add(Rectifier, "B", 0, map[string]float64{"is": 1e-8, "n": 1.9, "rs": 0.03}, "a", "b", "r", "0").
		add(Capacitor, "C", 4700e-6, map[string]float64{"esr": 0.03}, "r", "0").add(Regulator, "U", 0, nil, "r", "o", "0").model("7805").add(Resistor, "L", 10, nil, "o", "0").compile(b)
	good, err := c.Steady(RippleOptions{Period: 0.02}, Patch{})
	if err != nil || !good.Settled {
		b.Fatal(err)
	}
	fault := Patch{Changes: []Change{{Device: c.Device("C"), Do: Scale, Param: "farads", Value: 0.3}}}
	var warm, cold time.Duration
	for b.Loop() {
		t := time.Now()
		x, err := c.Steady(RippleOptions{Options: Options{Tol: 1e-4}, Period: 0.02, Periods: 12, Steps: 40, Accept: 4e-3, Same: 1e-3, From: good}, fault)
		warm += time.Since(t)
		t = time.Now()
		y, err2 := c.Steady(RippleOptions{Period: 0.02}, fault)
		cold += time.Since(t)
		if err != nil || err2 != nil || math.Abs(x.Levels[c.Node("r")].Mean-y.Levels[c.Node("r")].Mean) > 0.05 {
			b.Fatal(err, err2, x.Levels[c.Node("r")], y.Levels[c.Node("r")])
		}
	}
	b.ReportMetric(float64(cold)/float64(warm), "x-cold")
}

// A supply that starts from where the good one has settled comes to the same as one that starts empty.
func TestSteadyFromAnother(t *testing.T) {
	c := newNet().add(VoltageSource, "V", 0, map[string]float64{"amplitude": 9 * math.Sqrt2, "ohms": 0.3}, "a", "b").add(Rectifier, "B", 0, map[string]float64{"is": 1e-8, "n": 1.9, "rs": 0.03}, "a", "b", "r", "0").
		add(Capacitor, "C", 2200e-6, nil, "r", "0").add(Resistor, "L", 20, nil, "r", "0").compile(t)
	good, err := c.Steady(RippleOptions{Period: 0.02}, Patch{})
	if err != nil || !good.Settled {
		t.Fatal(err)
	}
	checked := 0
	for _, p := range []Patch{{}, {Changes: []Change{{Device: 2, Do: Scale, Param: "farads", Value: 0.2}}}, {Changes: []Change{{Device: 3, Do: Scale, Param: "ohms", Value: 4}}}, {Bridges: []Bridge{{A: c.Node("r"), B: 0, Ohms: 15}}}} {
		cold, err1 := c.Steady(RippleOptions{Period: 0.02}, p)
		warm, err2 := c.Steady(RippleOptions{Options: Options{Tol: 1e-4}, Period: 0.02, Steps: 40, Accept: 4e-3, Same: 1e-3, From: good}, p)
		if err1 != nil || err2 != nil || !cold.Settled || !warm.Settled {
			t.Fatal(err1, err2)
		}
		r := c.Node("r")
		a, b := cold.Levels[r], warm.Levels[r]
		if math.Abs(a.Mean-b.Mean) > 0.01*a.Mean || math.Abs(a.PeakToPeak()-b.PeakToPeak()) > 0.05*a.PeakToPeak()+0.02 {
			t.Errorf("%+v from another, %+v from empty", b, a)
		}
		checked++
	}
	if checked != 4 {
		t.Errorf("%d checked", checked)
	}
}
