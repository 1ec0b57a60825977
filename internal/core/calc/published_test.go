package calc

import (
	"math"
	"strings"
	"testing"
)

// run calculates with fields written as name=value, separated by blanks.
func run(t *testing.T, name, fields string) Result {
	t.Helper()
	c, err := Find(name)
	if err != nil {
		t.Fatal(err)
	}
	typed := map[string]string{}
	for _, f := range strings.Fields(fields) {
		k, v, _ := strings.Cut(f, "=")
		typed[k] = strings.ReplaceAll(v, "_", " ")
	}
	r, _, err := c.Calculate(typed)
	if err != nil {
		t.Fatalf("%s %s: %v", name, fields, err)
	}
	return r
}

func value(t *testing.T, r Result, name string) float64 {
	t.Helper()
	for _, l := range r.Lines {
		if l.Name == name {
			return l.Value
		}
	}
	t.Fatalf("no line %s in %v", name, r.Lines)
	return 0
}

// Values that stand in print, or follow by arithmetic from what does.
func TestPublishedValues(t *testing.T) {
	checks := []struct {
		calc, fields, line string
		want, within       float64 // within: share
		source             string
	}{
		{"ripple", "current=1 capacitance=4700u frequency=50", "ripple", 2.13, 0.002, "derived"},
		{"ripple", "current=1 capacitance=4700u frequency=60", "ripple", 1.77, 0.002, "derived"},
		{"ripple", "current=1 capacitance=4700u frequency=50 rectifier=half", "ripple", 4.255, 0.001, "derived"},
		{"reservoir", "current=10m frequency=60 droop=0.1", "capacitance", 833e-6, 0.001, "derived"},
		{"reservoir", "current=1 frequency=60 secondary=12.6 lowest=12.2 drop=0", "capacitance", 1482e-6, 0.006, "published worked example, 8.3 mC / 5.6 V; exact 1488 µF"},
		{"reservoir", "current=1 frequency=60 secondary=12.6 lowest=12.2 drop=0", "charge", 8.3e-3, 0.01, "same example"},
		{"regulator", "secondary=9 current=1 capacitance=4700u", "peak", 10.73, 0.001, "aged-capacitor demo, derived"},
		{"regulator", "secondary=9 current=1 capacitance=4700u", "valley", 8.60, 0.001, "same"},
		{"regulator", "secondary=9 current=1 capacitance=4700u", "headroom", 1.6, 0.01, "same"},
		{"regulator", "secondary=9 current=1 capacitance=4700u", "valley-low", 7.33, 0.001, "same"},
		{"regulator", "secondary=9 current=1 capacitance=4700u", "headroom-low", 0.33, 0.02, "same"},
		{"regulator", "secondary=9 current=1 capacitance=2350u", "valley", 6.47, 0.001, "same, capacitor at half"},
		{"heatsink", "power=10 case=3 washer=0 ambient=25 junction=125", "sink", 7, 1e-9, "(125 − 25)/10 − 3"},
		{"discharge", "capacitance=220u voltage=340 resistor=1k safe=60", "time", 0.38, 0.01, "derived"},
		{"discharge", "capacitance=220u voltage=340 resistor=1k safe=60", "power", 116, 0.005, "derived"},
		{"discharge", "capacitance=10000u voltage=35 resistor=1k", "energy", 6.1, 0.01, "derived"},
		{"battery", "capacity=235 retention=1u selfdischarge=0", "life", 26.8 * year, 0.002, "CR2032, derived"},
		{"battery", "capacity=235 retention=10u selfdischarge=0", "life", 2.7 * year, 0.01, "derived"},
		{"battery", "capacity=235 retention=20u selfdischarge=0", "life", 1.34 * year, 0.002, "derived"},
		{"battery", "cell=nicd cells=3 capacity=60 retention=20u", "self", 14.6e-6, 0.02, "NiCd pack, derived"},
		{"battery", "cell=nicd cells=3 capacity=60 retention=20u", "life", 72 * 86400, 0.02, "derived"},
		{"battery", "cell=nicd cells=3 capacity=60 retention=20u", "ideal", 125 * 86400, 0.001, "derived"},
		{"pull-up", "driver=74 load=74 drivers=4 loads=3 tolerance=0", "most", 2321.4, 0.0001, "DM74LS12 TL/F/6351 equations; printed 2321"},
		{"pull-up", "driver=74 load=74 drivers=4 loads=3 tolerance=0", "least", 410.7, 0.0001, "printed 410"},
		{"pull-up", "driver=74 load=74 drivers=1 loads=4 tolerance=0 iol=30m", "least", 195, 0.001, "textbook Example 15-6"},
		{"pull-up", "driver=LS load=LS drivers=3 loads=4", "most", 5390, 0.001, "derived"},
		{"pull-up", "driver=LS load=LS drivers=3 loads=4", "least", 742, 0.001, "derived"},
		{"track", "length=100 width=0.5", "resistance", 98.3e-3, 0.001, "IPC worked example"},
		{"track", "length=100 width=0.5 thickness=1_oz", "square", 0.49e-3, 0.01, "0.49 mΩ for each square"},
		{"track", "length=100_mm width=0.1_mm thickness=0.5_oz", "resistance", 1, 0.02, "1000 squares of ½ oz = 1 Ω"},
		{"track", "length=25 width=0.3 current=28m", "volts", 1.2e-3, 0.05, "28 mA contention over 83 squares"},
		{"volts-per-octave", "voltage=4", "expected", 523.25, 0.0001, "tuning procedure: 523.2 Hz"},
		{"volts-per-octave", "voltage=0", "expected", 32.703, 1e-9, "32.7 Hz"},
		{"volts-per-octave", "voltage=1", "semitone", 83.333e-3, 0.0001, "definition"},
		{"volts-per-octave", "voltage=1", "cent", 0.8333e-3, 0.0001, "definition"},
		{"pitch", "frequency=466.1638", "target", 466.1638, 1e-6, "f = 440·2^(1/12)"},
		{"pitch", "frequency=880 reference=440", "cents", 1200, 1e-12, "an octave"},
		{"one-shot", "part=4528 resistor=10k capacitance=10000p supply=5", "time", 30e-6, 0.08, "MC14528B table: 30 µs typical at 5 V"},
		{"one-shot", "part=4528 resistor=10k capacitance=10000p supply=10", "time", 50e-6, 0.08, "50 µs at 10 V"},
		{"one-shot", "part=4528 resistor=10k capacitance=10000p supply=15", "time", 55e-6, 0.08, "55 µs at 15 V"},
		{"one-shot", "part=74123 resistor=10k capacitance=100n", "time", 0.28 * 10e3 * 100e-9 * 1.07, 1e-9, "0.28·RC·(1 + 0.7/R)"},
		{"one-shot", "part=74LS123 resistor=10k capacitance=100n", "time", 450e-6, 1e-9, "0.45·RC"},
		{"one-shot", "part=74121 resistor=10k capacitance=100n", "time", 700e-6, 0.011, "0.7·RC (ln 2)"},
		{"one-shot", "part=74221 resistor=10k capacitance=100n", "time", 700e-6, 0.011, "0.7·RC"},
		{"one-shot", "part=4047 resistor=10k capacitance=100n", "time", 2.48e-3, 1e-9, "HEF4047B"},
		{"one-shot", "part=4098 resistor=10k capacitance=100n", "time", 500e-6, 1e-9, "CD4098BMS"},
		{"one-shot", "part=4538 resistor=10k capacitance=100n", "time", 1e-3, 1e-9, "R·C"},
		{"one-shot", "part=555 resistor=10k capacitance=100n", "time", 1.1e-3, 0.002, "1.1·RC"},
		{"oscillator", "part=555 ra=1k resistor=10k capacitance=10n", "frequency", 1.44 / (21e3 * 10e-9), 0.003, "1.44/((RA+2RB)C)"},
		{"filter", "resistor=1k capacitance=159.15n", "frequency", 1000, 0.0001, "1/(2πRC)"},
		{"filter", "kind=rc-low resistor=1k capacitance=159.155n at=1000", "level", -3.0103, 0.0001, "−3 dB at the corner"},
		{"divider", "r1=10k r2=10k", "voltage", 2.5, 1e-12, "half"},
		{"rc", "resistor=10k capacitance=10u", "time", 0.1, 1e-9, "63 % after R·C"},
		{"taper", "total=100k quarter=25k half=50k three=75k", "middle", 0.5, 0.001, "linear: 50 % at half travel"},
		{"segments", "supply=5 digits=4 average=5m", "peak", 20e-3, 1e-12, "average times digits"},
		{"led", "supply=5 forward=2 sat=0 current=10m", "exact", 300, 1e-9, "Ohm's law"},
	}
	done := 0
	for _, c := range checks {
		got := value(t, run(t, c.calc, c.fields), c.line)
		if math.Abs(got-c.want) > c.within*math.Abs(c.want)+1e-15 {
			t.Errorf("%s %s: %s = %g, want %g within %g (%s)", c.calc, c.fields, c.line, got, c.want, c.within, c.source)
		}
		done++
	}
	if done != 56 {
		t.Errorf("%d values checked", done)
	}
}

// The whole table that DM74LS12 and the books around it print: standard TTL, VCC 5, VOH 2.4, IOH 250 µA, IIH 40 µA, VOL 0.4, IOL 16 mA. Rows: inputs,
// columns: outputs 1 to 7, last R min. The book cuts off the decimals.
func TestPullUpTable(t *testing.T) {
	table := [7][8]float64{
		{8965, 4814, 3291, 2500, 2015, 1688, 1452, 319}, {7878, 4482, 3132, 2407, 1954, 1645, 1420, 359}, {7027, 4193, 2988, 2321, 1897, 1604, 1390, 410},
		{6341, 3939, 2857, 2241, 1843, 1566, 1361, 479}, {5777, 3714, 2736, 2166, 1793, 1529, 1333, 575}, {5306, 3513, 2626, 2096, 1744, 1494, 1306, 718},
		{4905, 3333, 2524, 2031, 1699, 1460, 1280, 958},
	}
	n := 0
	for i, row := range table {
		for k, want := range row {
			outputs, lineName := k+1, "most"
			if k == 7 {
				outputs, lineName = 1, "least"
			}
			r := run(t, "pull-up", "driver=74 load=74 tolerance=0 drivers="+string(rune('0'+outputs))+" loads="+string(rune('1'+i)))
			if got := value(t, r, lineName); math.Abs(got-want) > 1 {
				t.Errorf("%d inputs, %d outputs: %s %g, printed %g", i+1, outputs, lineName, got, want)
			}
			n++
		}
	}
	if n != 56 {
		t.Error(n)
	}
}

func TestWarnsOutsideTheRange(t *testing.T) {
	n := 0
	for _, c := range []struct{ calc, fields, want string }{
		{"ripple", "current=10 capacitance=100u secondary=9", "empty before the next peak"},
		{"ripple", "current=1 capacitance=1000u secondary=9", "third of the peak"},
		{"regulator", "secondary=7 current=1 capacitance=2200u", "drops out at nominal mains"},
		{"regulator", "secondary=9 current=1 capacitance=3900u", "drops out at low mains"},
		{"regulator", "secondary=30 current=0.1 capacitance=2200u", "more than the 35 V"},
		{"one-shot", "part=74123 resistor=1k capacitance=100n", "outside the 5 kΩ to 50 kΩ"},
		{"one-shot", "part=74123 resistor=10k capacitance=100p", "has a graph"},
		{"one-shot", "part=555 resistor=10k capacitance=100u", "tolerance and leakage"},
		{"pull-up", "drivers=50 loads=15", "no resistor satisfies both"},
		{"pull-up", "driver=LS load=LS drivers=3 loads=4 fitted=10k", "above the range"},
		{"battery", "capacity=235 retention=1u", "shelf life"},
		{"battery", "capacity=60 cell=nicd retention=1u", "below the 2 V"},
		{"resistor", "mark=470", "read otherwise"},
		{"resistor", "mark=4.9k", "no E-series"},
		{"track", "length=100 width=0.1 current=10", "100 °C"},
	} {
		r := run(t, c.calc, c.fields)
		if !strings.Contains(strings.Join(r.Warnings, "\n"), c.want) {
			t.Errorf("%s %s: warnings %q lack %q", c.calc, c.fields, r.Warnings, c.want)
		}
		n++
	}
	if n != 15 {
		t.Error(n)
	}
}
