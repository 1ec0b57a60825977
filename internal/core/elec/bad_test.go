package elec

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// What is wrong with a netlist is a finding that names the nodes.
func TestFindings(t *testing.T) {
	base := func() *net {
		return newNet().add(VoltageSource, "V1", 5, nil, "rail", "0").add(Resistor, "R1", 1e3, nil, "rail", "out").add(Resistor, "R2", 1e3, nil, "out", "0")
	}
	for name, k := range map[string]struct {
		n     *net
		want  []string
		error bool
	}{
		"a huge capacitor":       {base().add(Capacitor, "C1", 1e30, nil, "out", "0"), []string{"C1", "out", "1e+30"}, true},
		"ohms below zero":        {base().add(Resistor, "R3", -5, nil, "out", "0"), []string{"R3", "out", "-5"}, true},
		"no number":              {base().add(Resistor, "R3", math.NaN(), nil, "out", "rail"), []string{"R3", "out, rail", "NaN"}, true},
		"endless":                {base().add(VoltageSource, "V3", math.Inf(1), nil, "x", "0"), []string{"V3", "x", "Inf"}, true},
		"zero ohms":              {base().add(Resistor, "R3", 0, nil, "out", "link"), []string{"R3", "out, link", "0 Ω"}, false},
		"two sources":            {base().add(VoltageSource, "V2", 12, nil, "rail", "0"), []string{"V2", "rail, 0", "loop"}, true},
		"a coil across a source": {base().add(Inductor, "L1", 1e-3, nil, "rail", "0"), []string{"L1", "rail", "loop"}, true},
		"a floating pair":        {base().add(Resistor, "R9", 1e3, nil, "p", "q").add(Capacitor, "C9", 1e-6, nil, "q", "out"), []string{"p, q"}, false},
		"an unknown kind":        {base().add("resistr", "R3", 1, nil, "a", "b"), []string{"R3", "resistr"}, true},
		"an unknown model":       {base().add(Diode, "D3", 0, nil, "out", "0").model("1N9999X"), []string{"D3", "1N9999X"}, true},
		"the wrong model":        {base().add(Diode, "D3", 0, nil, "out", "0").model("7805"), []string{"D3", "7805"}, true},
		"too few nodes":          {base().add(BJT, "Q3", 0, nil, "out", "0"), []string{"Q3", "2 nodes"}, true},
		"an unknown parameter":   {base().add(Diode, "D3", 0, map[string]float64{"iss": 1}, "out", "0"), []string{"D3", "iss"}, true},
		"the same name":          {base().add(Resistor, "R1", 1e3, nil, "out", "0"), []string{"R1", "like another"}, true},
	} {
		models, _ := Embedded()
		c, fs := Compile(k.n.nl, models)
		if fs.Errors() != k.error || (c == nil) != k.error || len(fs) == 0 {
			t.Errorf("%s: circuit %v, findings %v", name, c != nil, fs)
			continue
		}
		for _, w := range k.want {
			if !strings.Contains(fs[0].Text+fs[0].Hint, w) {
				t.Errorf("%s: %v does not say %q", name, fs[0], w)
			}
		}
	}
	if c, fs := Compile(Netlist{}, nil); c != nil || !fs.Errors() {
		t.Error("an empty netlist compiled")
	}
}

func TestReadValue(t *testing.T) {
	for _, k := range []struct {
		kind Kind
		text string
		want float64 // NaN: refused
	}{
		{Resistor, "4k7", 4700}, {Resistor, "470", 470}, {Capacitor, "100n", 1e-7}, {Capacitor, "100", math.NaN()}, {Capacitor, "4700uF", 4700e-6},
		{Inductor, "10", math.NaN()}, {Inductor, "10m", 0.01}, {VoltageSource, "5", 5}, {Resistor, "many", math.NaN()},
	} {
		v, err := ReadValue(k.kind, k.text)
		if math.IsNaN(k.want) != (err != nil) || err == nil && math.Abs(v-k.want) > 1e-9*k.want {
			t.Errorf("%s %q: %v, %v", k.kind, k.text, v, err)
		}
	}
}

// A patch that does not fit is refused, before anything is computed.
func TestPatchesThatDoNotFit(t *testing.T) {
	c := stage(t)
	for i, p := range []Patch{
		Open(99, 0), Open(0, 7), Open(-1, 0), {Changes: []Change{{Device: 1, Do: Set, Param: "speed", Value: 1}}}, {Changes: []Change{{Device: 1, Do: Scale, Param: "volts", Value: math.NaN()}}},
		{Changes: []Change{{Device: c.Device("U"), Do: Reverse}}}, {Changes: []Change{{Device: c.Device("Z"), Do: Replace, Model: "7805"}}}, {Bridges: []Bridge{{A: 0, B: 99, Ohms: 1}}},
		{Bridges: []Bridge{{A: 0, B: 1, Ohms: math.Inf(1)}}}, {Bridges: []Bridge{{A: 0, B: 1, Ohms: -1}}}, {Changes: []Change{{Device: 0, Do: 77}}},
	} {
		if s, err := c.OP(Options{}, p); err == nil || s != nil {
			t.Errorf("patch %d was taken", i)
		}
	}
	if _, err := c.AC(ACOptions{}, Patch{}, []float64{-5}); err == nil {
		t.Error("a negative frequency was taken")
	}
	if _, err := c.Tran(TranOptions{Stop: math.NaN()}, Patch{}); err == nil {
		t.Error("a transient without end was taken")
	}
	if _, _, err := c.Ripple(RippleOptions{}, Patch{}); err == nil {
		t.Error("a period of nothing was taken")
	}
}

// Where there is no operating point the error says how far it came and where.
func TestNoPoint(t *testing.T) {
	c := stage(t)
	_, err := c.OP(Options{MaxIter: 1}, Patch{})
	var no *NoPoint
	if !errors.As(err, &no) || len(no.Tried) != 4 || no.Node == "" || !(no.Residual > 0) || no.Iterations == 0 {
		t.Fatalf("%v", err)
	}
	if s := no.Error(); !strings.Contains(s, no.Node) || !strings.Contains(s, "source stepping") {
		t.Error(s)
	}
}

// Wild faults, several at once and with wild values, never bring forth NaN or an infinity: an answer is finite or an error.
func TestNeverNaN(t *testing.T) {
	c := stage(t)
	good := op(t, c, Patch{})
	rng := rand.New(rand.NewPCG(9, 9))
	wild := func() float64 { return math.Pow(10, 24*rng.Float64()-12) }
	answers, refused := 0, 0
	s := c.NewSolver()
	for range 1500 {
		var p Patch
		for range 1 + rng.IntN(4) {
			d := rng.IntN(len(c.devices))
			switch rng.IntN(4) {
			case 0:
				p.Changes = append(p.Changes, Change{Device: d, Do: Joint, Pin: rng.IntN(len(c.devices[d].Nodes)), Value: wild()})
			case 1:
				names := Params(c.devices[d].Kind)
				p.Changes = append(p.Changes, Change{Device: d, Do: Set, Param: names[rng.IntN(len(names))], Value: wild()})
			case 2:
				names := Params(c.devices[d].Kind)
				p.Changes = append(p.Changes, Change{Device: d, Do: Scale, Param: names[rng.IntN(len(names))], Value: wild()})
			default:
				p.Bridges = append(p.Bridges, Bridge{A: rng.IntN(len(c.nodes)), B: rng.IntN(len(c.nodes)), Ohms: wild(), Volts: rng.NormFloat64()})
			}
		}
		sol, err := s.OP(Options{From: good, Currents: true}, p)
		if err != nil {
			var no *NoPoint
			if !errors.As(err, &no) || no.Residual-no.Residual != 0 {
				t.Fatalf("%v: %v", p, err)
			}
			refused++
			continue
		}
		answers++
		for _, v := range append(sol.Voltages(), sol.currents...) {
			if v-v != 0 {
				t.Fatalf("%v: %v", p, sol.Voltages())
			}
		}
	}
	t.Logf("%d answers, %d without a point", answers, refused)
	if answers < 1450 {
		t.Errorf("only %d answers", answers)
	}
}
