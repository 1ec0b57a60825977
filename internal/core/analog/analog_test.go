package analog_test

// Drawn boards: every hypothesis has a name of its own, blind drills end with the true fault in the first group, and the same log
// gives the same answer whatever the number of goroutines.

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

func lab(t *testing.T, seed uint64, parts, workers int) *analog.Lab {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	c, fl := circuit.Build(analog.Generate(rand.New(rand.NewPCG(seed, 0)), parts), lib)
	if c == nil {
		t.Fatal(fl)
	}
	m, fl := analog.New(c, workers)
	if m == nil {
		t.Fatal(fl)
	}
	if len(m.Silent) > 0 {
		t.Errorf("no electrical model for %v", m.Silent)
	}
	return analog.NewLab(analog.NewUniverse(m))
}

func TestUniverse(t *testing.T) {
	l := lab(t, 1, 40, 2)
	sum, names := 0.0, map[string]bool{}
	for i, f := range l.U.Faults {
		sum += l.U.Weight[i]
		name := l.U.M.Name(f)
		if names[name] {
			t.Errorf("two faults are called %s", name)
		}
		names[name] = true
		if got, err := l.U.Find(name); err != nil || got != i {
			t.Errorf("%s: found %d, %v", name, got, err)
		}
		for _, w := range l.U.Ways[i] {
			if err := l.U.M.E.Check(w.Patch); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		if l.U.M.Text(f, "") == "" {
			t.Errorf("%s has no text", name)
		}
	}
	if math.Abs(sum-1) > 1e-9 || len(names) < 150 {
		t.Errorf("weights add up to %v over %d faults", sum, len(names))
	}
	if _, err := l.U.Find("leeky@C1"); err == nil {
		t.Error("a fault that is none was found")
	}
}

func TestDrills(t *testing.T) {
	found, n := 0, 0
	l := lab(t, 20, 20, 2)
	rng := rand.New(rand.NewPCG(7, 25))
	for range 8 {
		x, err := analog.Drill(context.Background(), l, rng, evidence.Bench{Meter: true, Scope: true}, false, 0)
		if err != nil {
			t.Fatal(err)
		}
		n++
		if x.Found {
			found++
		} else {
			t.Logf("missed %s from %s after %d checks", x.Truth, x.Symptom, x.Checks)
		}
		if x.Probability < 0 || x.Probability > 1+1e-9 || math.IsNaN(x.Bound) {
			t.Errorf("%+v", x)
		}
	}
	if n != 8 || found < 7 {
		t.Errorf("true fault in the first group in %d of %d", found, n)
	}
}

func TestSameAnswerForAnyWorkers(t *testing.T) {
	var said [2]string
	for i, workers := range []int{1, 3} {
		l := lab(t, 9, 30, workers)
		s, fl := analog.NewSession(l, &evidence.Case{Log: []evidence.Entry{{Index: 1, Sure: 0.98, Volts: []evidence.Measured{{At: "N1", Volts: 0.2}, {At: "+12V", Volts: 11.9}}}}})
		if s == nil {
			t.Fatal(fl)
		}
		if err := s.Run(context.Background()); err != nil {
			t.Fatal(err)
		}
		p, err := s.Plan(context.Background(), evidence.Bench{Meter: true}, advise.DefaultCosts())
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range s.Suspects(p) {
			said[i] += fmt.Sprintf("%v %.9f %d\n", x.Faults, x.P, x.Group)
		}
		for _, x := range p.Proposals {
			said[i] += fmt.Sprintf("%v %s %.9f\n", x.Check, x.At, x.Bits)
		}
	}
	if said[0] != said[1] || len(said[0]) < 100 {
		t.Errorf("one goroutine:\n%.400s\nthree:\n%.400s", said[0], said[1])
	}
}
