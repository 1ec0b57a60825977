package elec

import (
	"math"
	"testing"
)

// The aged-capacitor demonstration: 9 V rms, 2 V bridge, 1 A, 50 Hz, 4700 µF: peak 10.73 V, valley 8.60 V by ΔV = I/(2fC) (standard
// textbook; the formula takes the capacitor as feeding the load for the whole half period, so the truth is a little better).
func TestReservoir(t *testing.T) {
	build := func(farads float64) *Circuit {
		return newNet().add(VoltageSource, "V", 0, map[string]float64{"amplitude": 9 * math.Sqrt2, "ohms": 0.01}, "a", "b").
			add(Rectifier, "B", 0, map[string]float64{"is": 1e-9, "n": 1.85, "rs": 0.02}, "a", "b", "r", "0").
			add(Capacitor, "C", farads, nil, "r", "0").add(CurrentSource, "I", 1, nil, "r", "0").compile(t)
	}
	for farads, want := range map[float64]float64{4700e-6: 2.13, 2350e-6: 4.26} {
		l, settled, err := build(farads).Ripple(RippleOptions{Period: 0.02}, Patch{})
		if err != nil || !settled {
			t.Fatal(err, settled)
		}
		c := l[3]
		t.Logf("%g F: %+v p-p %.3f", farads, c, c.PeakToPeak())
		if r := c.PeakToPeak() / want; r < 0.6 || r > 1 {
			t.Errorf("%g F: ripple %.3f V p-p, the formula's bound is %.3f", farads, c.PeakToPeak(), want)
		}
		if math.Abs(c.Max-10.73) > 0.35 {
			t.Errorf("%g F: peak %.2f V, want about 10.73", farads, c.Max)
		}
	}
}
