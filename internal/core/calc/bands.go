package calc

// The colour code of IEC 60062:2016. Digits and multipliers as its scope states them (pink was new in 2016); the tolerance and temperature
// columns are from memory of it, and grey, orange and yellow changed their tolerance between editions.

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
)

type colour struct {
	name, short string
	digit       int // -1 where the colour is no digit
	power       int // of ten
	tolerance   float64
	ppm         float64 // temperature coefficient per kelvin, 0 where none
}

var colours = []colour{
	{"black", "bk", 0, 0, 0, 250}, {"brown", "bn", 1, 1, 0.01, 100}, {"red", "rd", 2, 2, 0.02, 50}, {"orange", "og", 3, 3, 0.0005, 15}, {"yellow", "ye", 4, 4, 0.0002, 25},
	{"green", "gn", 5, 5, 0.005, 20}, {"blue", "bu", 6, 6, 0.0025, 10}, {"violet", "vt", 7, 7, 0.001, 5}, {"grey", "gy", 8, 8, 0.0001, 1}, {"white", "wh", 9, 9, 0, 0},
	{"gold", "gd", -1, -1, 0.05, 0}, {"silver", "sr", -1, -2, 0.1, 0}, {"pink", "pk", -1, -3, 0, 0},
}

// other words for the same colours.
var colourWords = map[string]string{"gray": "grey", "purple": "violet", "bl": "black", "br": "brown", "or": "orange", "yl": "yellow", "vi": "violet", "go": "gold", "si": "silver", "sv": "silver", "b": "black"}

func findColour(w string) (colour, error) {
	w = strings.ToLower(w)
	if to, ok := colourWords[w]; ok {
		w = to
	}
	var names []string
	for _, c := range colours {
		if c.name == w || c.short == w {
			return c, nil
		}
		names = append(names, c.name)
	}
	if n := finding.Nearest(w, names); n != "" {
		return colour{}, fmt.Errorf("%.20q is no colour of the code; did you mean %s?", w, n)
	}
	return colour{}, fmt.Errorf("%.20q is no colour of the code: %s", w, strings.Join(names, ", "))
}

// Mark is what a marking says. Tolerance is a fraction each way, Low and High where they differ (both 0 for none known).
type Mark struct {
	Value     float64 // ohms or farads
	Low, High float64 // tolerance as fractions: −Low … +High; 0 when unknown
	Absolute  float64 // tolerance in farads instead, small capacitors
	PPM       float64 // per kelvin, 0 unknown
	Volts     float64 // rated voltage, 0 unknown
	How       string
}

// Bands reads three to six colour bands, or one black band (a link). The error names the band.
func Bands(words []string) (Mark, error) {
	var cs []colour
	for i, w := range words {
		c, err := findColour(w)
		if err != nil {
			return Mark{}, fmt.Errorf("band %d: %w", i+1, err)
		}
		cs = append(cs, c)
	}
	if len(cs) == 1 && cs[0].name == "black" {
		return Mark{How: "one black band: a zero-ohm link"}, nil
	}
	if len(cs) < 3 || len(cs) > 6 {
		return Mark{}, fmt.Errorf("%d bands; a resistor has three to six", len(cs))
	}
	n := 2
	if len(cs) >= 5 {
		n = 3
	}
	m, value := Mark{}, 0
	for i := range n {
		if cs[i].digit < 0 {
			return m, fmt.Errorf("band %d: %s is no digit; read the bands from the other end", i+1, cs[i].name)
		}
		value = value*10 + cs[i].digit
	}
	if cs[0].digit == 0 {
		return m, fmt.Errorf("band 1: black does not come first; read the bands from the other end")
	}
	m.Value = scaled(value, cs[n].power)
	m.How = fmt.Sprintf("%d · 10^%d", value, cs[n].power)
	m.Low, m.High = 0.2, 0.2
	if len(cs) > 3 {
		t := cs[n+1]
		if t.tolerance == 0 {
			return m, fmt.Errorf("band %d: %s is no tolerance; read the bands from the other end", n+2, t.name)
		}
		m.Low, m.High = t.tolerance, t.tolerance
	}
	if len(cs) == 6 {
		if cs[5].ppm == 0 {
			return m, fmt.Errorf("band 6: %s is no temperature coefficient", cs[5].name)
		}
		m.PPM = cs[5].ppm
	}
	return m, nil
}

// BandsOf gives the colours of a value with digits significant digits (2 or 3), without tolerance; ok is false where that is not exact or out of the code.
func BandsOf(v float64, significant int) ([]string, bool) {
	m, power, ok := mantissa(v, significant)
	if !ok || power < -3 || power > 9 {
		return nil, false
	}
	out := []string{}
	for _, d := range fmt.Sprint(m) {
		out = append(out, colours[d-'0'].name)
	}
	for _, c := range colours {
		if c.power == power {
			return append(out, c.name), true
		}
	}
	return nil, false
}

// toleranceBand is the colour of a tolerance, "" where there is none.
func toleranceBand(t float64) string {
	i := slices.IndexFunc(colours, func(c colour) bool { return c.tolerance > 0 && math.Abs(c.tolerance-t) < 1e-9 })
	if i < 0 {
		return ""
	}
	return colours[i].name
}

// mantissa writes v as m·10^power with exactly n digits of m.
func mantissa(v float64, n int) (m, power int, ok bool) {
	if !(v > 0) || math.IsInf(v, 0) || v < 1e-18 || v > 1e18 {
		return 0, 0, false
	}
	power = int(math.Floor(math.Log10(v)+1e-12)) - n + 1
	f := v / math.Pow(10, float64(power))
	m = int(math.Round(f))
	if m == int(math.Pow10(n)) {
		m, power = m/10, power+1
		f /= 10
	}
	return m, power, math.Abs(f-float64(m)) < 1e-6*f
}
