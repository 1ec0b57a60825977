package elec

import (
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

func TestFollower(t *testing.T) {
	c := newNet().add(VoltageSource, "VP", 15, nil, "vp", "0").add(VoltageSource, "VN", -15, nil, "vn", "0").add(VoltageSource, "VI", 1, nil, "in", "0").
		add(OpAmp, "U1", 0, nil, "in", "inv", "out", "vp", "vn").add(Resistor, "RF", 9e3, nil, "out", "inv").add(Resistor, "RG", 1e3, nil, "inv", "0").add(Resistor, "RL", 2e3, nil, "out", "0").compile(t)
	s := op(t, c, Patch{})
	wantV(t, s, "out", 10, 2e-3)
	s2 := op(t, c, Patch{Changes: []Change{{Device: 2, Do: Set, Param: "volts", Value: 2}}})
	wantV(t, s2, "out", 13.5, 0.7)
	s3 := op(t, c, Open(3, 1))
	v, _ := s3.V("out")
	t.Log(v, s3.Iterations, s3.Method, s.Iterations, s.Method, s2.Iterations, s2.Method)
}

func TestRegulatorLoaded(t *testing.T) {
	n := newNet().add(VoltageSource, "V", 9, nil, "in", "0").add(Regulator, "U1", 0, nil, "in", "out", "0").add(Resistor, "RL", 10, nil, "out", "0")
	n.add(BJT, "Q1", 0, nil, "c", "b", "0").add(Resistor, "RB", 1e5, nil, "out", "b").add(Resistor, "RC", 500, nil, "out", "c")
	c := n.compile(t)
	s := op(t, c, Patch{})
	t.Log(s.Voltages(), s.Iterations, s.Method)
	for d := range n.nl.Devices {
		for p := range n.nl.Devices[d].Nodes {
			s, err := c.OP(Options{From: s}, Open(d, p))
			if err != nil {
				t.Error(err)
				continue
			}
			t.Log(n.nl.Devices[d].Name, p, s.Voltages(), s.Iterations, s.Method)
		}
	}
}
