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

// 7805: 4.80 to 5.20 V, drop-out 2 V typical at 1 A, quiescent 5 mA typical, 230 mA into a short at 35 V, peak 2.2 A, ripple rejection 62 dB at
// least and 73 typical (LM78XX rev 1.3.1).
func TestRegulator7805(t *testing.T) {
	c := newNet().add(VoltageSource, "V", 10, nil, "in", "0").add(Regulator, "U1", 0, nil, "in", "out", "0").model("7805").add(CurrentSource, "I", 0.5, nil, "out", "0").compile(t)
	at := func(volts, amperes float64) *Solution {
		return op(t, c, Patch{Changes: []Change{{Device: 0, Do: Set, Param: "volts", Value: volts}, {Device: 2, Do: Set, Param: "amperes", Value: amperes}}})
	}
	for _, vin := range []float64{7.5, 10, 20} {
		for _, amps := range []float64{0.005, 0.5, 1} {
			if v, _ := at(vin, amps).V("out"); v < 4.8 || v > 5.2 {
				t.Errorf("%g V in, %g A: %.3f V", vin, amps, v)
			}
		}
	}
	if v, _ := at(6, 1).V("out"); math.Abs(v-4) > 0.05 {
		t.Errorf("in drop-out at 6 V: %.3f V, want 2 V less", v)
	}
	if i, _ := at(10, 0).Supply(0); math.Abs(i-5e-3) > 1e-4 {
		t.Errorf("quiescent current %g A", i)
	}
	short := func(volts float64) float64 {
		s := op(t, c, Patch{Changes: []Change{{Device: 0, Do: Set, Param: "volts", Value: volts}, {Device: 2, Do: Set, Param: "amperes", Value: 0}}, Bridges: []Bridge{{A: 2, B: 0, Ohms: 0.01}}})
		i, _ := s.Supply(0)
		return i
	}
	if i := short(35); math.Abs(i-0.235) > 0.02 {
		t.Errorf("%.3f A into a short at 35 V, want 0.23", i)
	}
	if i := short(7); i > 2.2 || i < 1.4 {
		t.Errorf("%.3f A into a short at 7 V, want below the peak of 2.2", i)
	}
	ac, err := c.AC(ACOptions{Inject: &Bridge{A: 1, B: 0, Ohms: 1e-3, Volts: 1}}, Patch{Changes: []Change{{Device: 0, Do: Joint, Pin: 0, Value: 10}, {Device: 0, Do: Set, Param: "volts", Value: 15.05}}}, []float64{120})
	if err != nil {
		t.Fatal(err)
	}
	g, ok := ac.Gain(0, 1, 2)
	if db := -20 * math.Log10(g); !ok || db < 62 || db > 75 {
		t.Errorf("ripple rejection %.1f dB", db)
	}
}

// The aged supply of the demonstration: 9 V rms, 1 A, 50 Hz; with half of 4700 µF the 5 V regulator falls out of regulation in every valley.
func TestDriedReservoir(t *testing.T) {
	c := newNet().add(VoltageSource, "V", 0, map[string]float64{"amplitude": 9 * math.Sqrt2, "ohms": 0.2}, "a", "b").
		add(Rectifier, "B", 0, nil, "a", "b", "r", "0").model("BRIDGE-1A5").add(Capacitor, "C", 4700e-6, map[string]float64{"esr": 0.05}, "r", "0").
		add(Regulator, "U", 0, nil, "r", "o", "0").model("7805").add(Resistor, "L", 5, nil, "o", "0").add(Capacitor, "C2", 10e-6, nil, "o", "0").compile(t)
	dip := func(k float64) float64 {
		l, settled, err := c.Ripple(RippleOptions{Period: 0.02}, Patch{Changes: []Change{{Device: 2, Do: Scale, Param: "farads", Value: k}}})
		if err != nil || !settled {
			t.Fatal(err, settled)
		}
		return l[c.Node("o")].PeakToPeak()
	}
	if pp := dip(1); pp > 0.05 {
		t.Errorf("good: %.3f V of ripple behind the regulator", pp)
	}
	if pp := dip(0.3); pp < 0.5 {
		t.Errorf("dried: %.3f V of ripple behind the regulator", pp)
	}
}

// An RC discharge and an RC low-pass against their formulas.
func TestTimeAndFrequency(t *testing.T) {
	c := newNet().add(VoltageSource, "V", 0, map[string]float64{"ac": 1, "amplitude": 1, "frequency": 50}, "in", "0").add(Resistor, "R", 1e3, nil, "in", "out").add(Capacitor, "C", 3.3e-6, nil, "out", "0").compile(t)
	f := 1 / (2 * math.Pi * 1e3 * 3.3e-6)
	ac, err := c.AC(ACOptions{}, Patch{}, []float64{f, 10 * f})
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range []complex128{1 / complex(1, 1), 1 / complex(1, 10)} {
		if got := ac.Voltage(k, 2); math.Hypot(real(got-want), imag(got-want)) > 1e-6 {
			t.Errorf("%v, want %v", got, want)
		}
	}
	w, err := c.Tran(TranOptions{Stop: 0.2}, Patch{})
	if err != nil {
		t.Fatal(err)
	}
	want := 1 / math.Hypot(1, 50/f)
	if l := w.Level(2, 0.16); math.Abs(l.Max-want) > 2e-3*want || math.Abs(l.Ripple-want/math.Sqrt2) > 2e-3*want || math.Abs(l.Mean) > 1e-3 {
		t.Errorf("%+v, want an amplitude of %.5f", l, want)
	}
}
