package loading

import (
	"math"
	"testing"

	"halfsplit/internal/core/part"
)

func limits(t *testing.T, f part.Family) part.Limits {
	t.Helper()
	l, ok := f.Limits(5)
	if !ok {
		t.Fatalf("no figures for family %q", f)
	}
	return l
}

// Fan-out as unit loads are counted: Motorola SN54/74LS138 unit-load note, DS006613, SDLS025B, DS006489, MM74HC02, TL/F/5939.
func TestPublishedFanOut(t *testing.T) {
	checked := 0
	for _, w := range []struct {
		driver, load part.Family
		low, high    int
	}{
		{"74", "74", 10, 10}, {"LS", "LS", 20, 20}, {"LS", "74", 5, 10}, {"74", "LS", 40, 20}, {"S", "S", 10, 20}, {"HC", "LS", 10, 200},
	} {
		low, high := FanOut(limits(t, w.driver), limits(t, w.load))
		if low != w.low || high != w.high {
			t.Errorf("%s into %s: low %d, high %d; want %d, %d", w.driver, w.load, low, high, w.low, w.high)
		}
		checked++
	}
	// CD4001B: 0.44 mA at 25 °C feeds one LS input, 0.36 mA at 85 °C none of 0.4 mA and one of 0.36 mA.
	cmos, ls := limits(t, "4000"), limits(t, "LS")
	warm, _ := FanOut(cmos, ls)
	cold := times(cmos.IOL25, ls.IIL)
	if warm != 0 || cold != 1 || times(cmos.IOL, 0.36e-3) != 1 {
		t.Errorf("4000B into LS: %d warm, %d at 25 °C", warm, cold)
	}
	// Published quiz: eight TTL inputs ask 12.8 mA.
	if a := 8 * limits(t, "74").IIL; math.Abs(a-12.8e-3) > 1e-9 {
		t.Errorf("eight TTL inputs: %g A", a)
	}
	// LS high against HC input: short by 0.45 V.
	if d := limits(t, "HC").VIH - ls.VOH; math.Abs(d-0.45) > 1e-9 {
		t.Errorf("LS into HC is short by %g V", d)
	}
	if checked != 6 {
		t.Error(checked)
	}
}

// The pull-up table of DM54/74LS12, TL/F/6351: standard TTL, VCC 5 V, rows of N inputs, columns of n outputs.
func TestPublishedPullUps(t *testing.T) {
	largest := [][]float64{
		{8965, 4814, 3291, 2500, 2015, 1688, 1452},
		{7878, 4482, 3132, 2407, 1954, 1645, 1420},
		{7027, 4193, 2988, 2321, 1897, 1604, 1390},
		{6341, 3939, 2857, 2241, 1843, 1566, 1361},
		{5777, 3714, 2736, 2166, 1793, 1529, 1333},
		{5306, 3513, 2626, 2096, 1744, 1494, 1306},
		{4905, 3333, 2524, 2031, 1699, 1460, 1280},
	}
	smallest := []float64{319, 359, 410, 479, 575, 718, 958}
	checked := 0
	for row := range largest {
		for col := range largest[row] {
			inputs, outputs := float64(row+1), float64(col+1)
			p := PullUp{SupplyMin: 5, SupplyMax: 5, VOH: 2.4, VOL: 0.4, IOL: 16e-3, Leak: outputs * 250e-6, IIH: inputs * 40e-6, IIL: inputs * 1.6e-3}
			lo, hi, fits := p.Range()
			if !fits || math.Abs(hi-largest[row][col]) > 1 || math.Abs(lo-smallest[row]) > 1 {
				t.Errorf("%g inputs, %g outputs: %.1f to %.1f Ω, the book prints %g to %g", inputs, outputs, lo, hi, smallest[row], largest[row][col])
			}
			checked++
		}
	}
	if checked != 49 {
		t.Error(checked)
	}
	// A textbook's Example 15-6: three outputs of 30 mA, four TTL inputs: 195 Ω at least.
	lo, _, _ := PullUp{SupplyMin: 5, SupplyMax: 5, VOH: 2.4, VOL: 0.4, IOL: 30e-3, Leak: 3 * 250e-6, IIH: 4 * 40e-6, IIL: 4 * 1.6e-3}.Range()
	if math.Round(lo) != 195 {
		t.Errorf("%.1f Ω, the textbook has 195 Ω", lo)
	}
	// LS by the same equations: 742 Ω to 5.39 kΩ.
	lo, hi, _ := PullUp{SupplyMin: 4.75, SupplyMax: 5.25, VOH: 2.7, VOL: 0.5, IOL: 8e-3, Leak: 3 * 100e-6, IIH: 4 * 20e-6, IIL: 4 * 0.4e-3}.Range()
	if math.Round(lo) != 742 || math.Abs(hi-5390) > 10 {
		t.Errorf("LS: %.0f to %.0f Ω", lo, hi)
	}
}
