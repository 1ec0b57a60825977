package elec

import (
	"fmt"
	"math"
	"testing"
)

// This file compares operating points with formulas that can be written down.

// net builds netlists by node name; the reference is called 0.
type net struct {
	nl Netlist
	at map[string]int
}

func newNet() *net { return &net{Netlist{Nodes: []string{"0"}}, map[string]int{"0": 0}} }

func (n *net) add(kind Kind, name string, value float64, params map[string]float64, nodes ...string) *net {
	d := Device{Name: name, Kind: kind, Value: value, Params: params}
	for _, s := range nodes {
		if _, ok := n.at[s]; !ok {
			n.at[s] = len(n.nl.Nodes)
			n.nl.Nodes = append(n.nl.Nodes, s)
		}
		d.Nodes = append(d.Nodes, n.at[s])
	}
	n.nl.Devices = append(n.nl.Devices, d)
	return n
}

func (n *net) model(m string) *net { n.nl.Devices[len(n.nl.Devices)-1].Model = m; return n }

func (n *net) compile(t testing.TB) *Circuit {
	t.Helper()
	models, fs := Embedded()
	if len(fs) > 0 {
		t.Fatal(fs)
	}
	c, fs := Compile(n.nl, models)
	if c == nil {
		t.Fatal(fs)
	}
	return c
}

func op(t testing.TB, c *Circuit, p Patch) *Solution {
	t.Helper()
	s, err := c.OP(Options{Currents: true}, p)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func wantV(t testing.TB, s *Solution, node string, want, tol float64) {
	t.Helper()
	if v, ok := s.V(node); !ok || !(math.Abs(v-want) <= tol) {
		t.Errorf("node %s: %.9g V, want %.9g ± %.2g", node, v, want, tol)
	}
}

func TestDivider(t *testing.T) {
	c := newNet().add(VoltageSource, "V1", 10, nil, "in", "0").add(Resistor, "R1", 1e3, nil, "in", "out").add(Resistor, "R2", 3e3, nil, "out", "0").compile(t)
	s := op(t, c, Patch{})
	wantV(t, s, "out", 7.5, 1e-8)
	if i, err := s.Supply(0); err != nil || math.Abs(i-2.5e-3) > 1e-9 {
		t.Errorf("supply %v A, %v", i, err)
	}
	if i, ok := s.Current(2, 0); !ok || math.Abs(i-2.5e-3) > 1e-9 {
		t.Errorf("R2 %v A, %v", i, ok)
	}
	from := Options{From: s}
	for name, k := range map[string]struct {
		p    Patch
		want float64
	}{
		"R1 open": {Open(1, 0), 0}, "R2 open": {Open(2, 1), 10}, "R2 shorted": {c.Short(2, 0, 1, 1e-3), 1e-5},
		"R1 doubled":       {Patch{Changes: []Change{{Device: 1, Do: Scale, Param: "ohms", Value: 2}}}, 6},
		"R2 set":           {Patch{Changes: []Change{{Device: 2, Do: Set, Param: "ohms", Value: 1e3}}}, 5},
		"dirty joint":      {Patch{Changes: []Change{{Device: 1, Do: Joint, Pin: 1, Value: 2e3}}}, 5},
		"a battery across": {Patch{Bridges: []Bridge{{A: 2, B: 0, Ohms: 750, Volts: 1}}}, 4.25},
		"supply reversed":  {Patch{Changes: []Change{{Device: 0, Do: Reverse}}}, -7.5},
	} {
		s, err := c.OP(from, k.p)
		if err != nil {
			t.Fatal(name, err)
		}
		if v, _ := s.V("out"); math.Abs(v-k.want) > 2e-6 {
			t.Errorf("%s: %v V, want %v", name, v, k.want)
		}
	}
}

// A ladder of ten equal sections, 1 kΩ along and 2 kΩ down, closed by 2 kΩ: every tap has half the voltage of the one before (R-2R).
func TestLadder(t *testing.T) {
	n := newNet().add(VoltageSource, "V", 8, nil, "t0", "0")
	for i := range 10 {
		a, b := fmt.Sprint("t", i), fmt.Sprint("t", i+1)
		n.add(Resistor, "A"+a, 1e3, nil, a, b).add(Resistor, "B"+a, 2e3, nil, b, "0")
	}
	n.add(Resistor, "end", 2e3, nil, "t10", "0")
	s := op(t, n.compile(t), Patch{})
	for i := range 11 {
		wantV(t, s, fmt.Sprint("t", i), 8/math.Pow(2, float64(i)), 1e-7)
	}
}

// Wheatstone: the detector's voltage with and without a load, by Thévenin.
func TestBridge(t *testing.T) {
	n := newNet().add(VoltageSource, "V", 5, nil, "s", "0").add(Resistor, "R1", 100, nil, "s", "l").add(Resistor, "R2", 120, nil, "l", "0").
		add(Resistor, "R3", 100, nil, "s", "r").add(Resistor, "R4", 100, nil, "r", "0").add(Resistor, "G", 50, nil, "l", "r")
	s := op(t, n.compile(t), Patch{})
	open := 5 * (120.0/220 - 0.5)
	thevenin := 100*120.0/220 + 50
	l, _ := s.V("l")
	r, _ := s.V("r")
	if want := open * 50 / (50 + thevenin); math.Abs(l-r-want) > 1e-9 {
		t.Errorf("%.9f V, want %.9f", l-r, want)
	}
	if open := op(t, n.compile(t), Open(5, 0)); math.Abs(open.Voltage(2)-open.Voltage(3)-5*(120.0/220-0.5)) > 1e-7 {
		t.Error("without detector", open.Voltages())
	}
}

func TestOpAmpStage(t *testing.T) {
	c := newNet().add(VoltageSource, "VP", 15, nil, "vp", "0").add(VoltageSource, "VN", -15, nil, "vn", "0").add(VoltageSource, "VI", 1, nil, "in", "0").
		add(OpAmp, "U1", 0, nil, "in", "inv", "out", "vp", "vn").model("741").add(Resistor, "RF", 9e3, nil, "out", "inv").add(Resistor, "RG", 1e3, nil, "inv", "0").add(Resistor, "RL", 2e3, nil, "out", "0").compile(t)
	good := op(t, c, Patch{})
	wantV(t, good, "out", 10, 2e-3)
	set := func(dev int, name string, v float64) Patch {
		return Patch{Changes: []Change{{Device: dev, Do: Set, Param: name, Value: v}}}
	}
	for name, k := range map[string]struct {
		p         Patch
		want, tol float64
	}{
		"driven to its rail":       {set(2, "volts", 2), 13.7, 0.4},
		"5 mV of offset":           {set(3, "vos", 5e-3), 10.05, 2e-3},
		"input stage dead":         {set(3, "a0", 0), 0, 0.6},
		"output at the upper rail": {c.Stuck(3, 2, 3, 20), 14.8, 0.2},
		"output at the lower rail": {c.Stuck(3, 2, 4, 20), -14.8, 0.2},
		"feedback open":            {Open(4, 0), 13.7, 0.5},
		"no negative supply":       {Open(3, 4), 0, 2}, // what the chip draws leaves by its output
		"resistor to ground open":  {Open(5, 0), 1, 2e-3},
	} {
		s, err := c.OP(Options{From: good}, k.p)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if v, _ := s.V("out"); !(math.Abs(v-k.want) <= k.tol) {
			t.Errorf("%s: %.4f V, want %.3f ± %.3g", name, v, k.want, k.tol)
		}
	}
	// All current from the rails goes into the load, the feedback and nowhere else.
	sum := 0.0
	for pin := range 5 {
		i, _ := good.Current(3, pin)
		sum += i
	}
	if math.Abs(sum) > 1e-9 {
		t.Errorf("the op-amp's terminal currents add up to %g A", sum)
	}
}
