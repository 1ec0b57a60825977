package unit

import (
	"math"
	"testing"
)

func TestParse(t *testing.T) {
	for in, want := range map[string]float64{"4.7k": 4700, "4K7": 4700, "2R2": 2.2, "330": 330, "100n": 1e-7, "5 V": 5, "-12 V": -12, "10 MΩ": 1e7, "0.03 V": 0.03, "1M": 1e6, "1m": 1e-3, "22 ohm": 22, "1e3": 1000} {
		if got, err := Parse(in); err != nil || math.Abs(got-want) > 1e-12*math.Abs(want) {
			t.Errorf("Parse(%q) = %g, %v; want %g", in, got, err, want)
		}
	}
	for _, in := range []string{"", "k", "abc", "1e999", "4.7.1", "1E", "NaN", "Inf", "5 volts of 3", "4k7.2"} {
		if got, err := Parse(in); err == nil {
			t.Errorf("Parse(%q) = %g, want an error", in, got)
		}
	}
}

func TestFormatReadsBack(t *testing.T) {
	n := 0
	for _, v := range []float64{0, 1, 4700, 2.2, 1e-7, 330, 999.6, 1e6, 0.047, 123456} {
		got, err := Parse(Format(v))
		if err != nil || math.Abs(got-v) > 0.006*math.Abs(v) {
			t.Errorf("Format(%g) = %q reads back as %g, %v", v, Format(v), got, err)
		}
		n++
	}
	if n != 10 {
		t.Error(n)
	}
}

func TestWith(t *testing.T) {
	for v, want := range map[float64]string{4700: "4.7 kΩ", 0.888: "888 mΩ", 0: "0 Ω", -12: "-12 Ω", 2.2e-6: "2.2 µΩ"} {
		if got := With(v, "Ω"); got != want {
			t.Errorf("%g is %q, want %q", v, got, want)
		}
	}
}
