package elec

import (
	"math"
	"testing"
)

// With every source off nothing on a board has a voltage: no amplifier may feed itself.
func TestNothingFeedsItself(t *testing.T) {
	n := newNet().add(VoltageSource, "VP", 12, nil, "vp", "0").add(VoltageSource, "VN", -12, nil, "vn", "0").add(Resistor, "LP", 1e4, nil, "vp", "0").add(Resistor, "LN", 2e4, nil, "vn", "0").
		add(Resistor, "RI", 1e4, nil, "in", "0").add(OpAmp, "U1", 0, nil, "in", "inv", "out", "vp", "vn").model("741").add(Resistor, "RF", 9e3, nil, "out", "inv").add(Resistor, "RG", 1e3, nil, "inv", "0").
		add(Resistor, "RL", 2e3, nil, "out", "0")
	c := n.compile(t)
	s, err := c.OP(Options{SourcesOff: true}, Patch{})
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, name := range []string{"vp", "vn", "in", "inv", "out"} {
		v, ok := s.V(name)
		if !ok || math.Abs(v) > 2e-3 {
			t.Errorf("%s stands at %g V without any source", name, v)
		}
		looked++
	}
	if looked != 5 {
		t.Errorf("%d nodes", looked)
	}
}
