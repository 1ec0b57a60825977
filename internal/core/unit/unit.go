// Package unit reads and prints electrical quantities the way they stand on parts and schematics:
// 4.7k, 4K7, 100n, 0.03 V, 2R2, 10 MΩ.
package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Volt and Ohm are plain numbers with their unit in the type, so that they cannot be mixed up.
type (
	Volt float64
	Ohm  float64
)

var prefixes = map[string]float64{"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "": 1, "R": 1, "r": 1, "k": 1e3, "K": 1e3, "M": 1e6, "meg": 1e6, "Meg": 1e6, "G": 1e9}

// Parse reads a number with an optional SI prefix and an optional unit word (V, Ω, ohm, ohms, F, H, A, Hz, s).
// A prefix may stand in place of the decimal point (IEC 60062): 4K7 is 4700, 2R2 is 2.2.
// It returns an error for anything else, also for NaN, infinities and more than 32 characters.
func Parse(s string) (float64, error) {
	t := strings.TrimSpace(s)
	if len(t) == 0 || len(t) > 32 {
		return 0, fmt.Errorf("%.32q is not a value; write one as 4.7k, 4K7, 100n or 5 V", s)
	}
	for _, u := range []string{"ohms", "ohm", "Ohms", "Ohm", "Ω", "Ω", "Hz", "V", "F", "H", "A", "s"} {
		if r, ok := strings.CutSuffix(t, u); ok {
			t = strings.TrimSpace(r)
			break
		}
	}
	end := strings.IndexFunc(t, func(r rune) bool { return !strings.ContainsRune("0123456789.+-eE", r) })
	// an exponent needs digits after it, so that 1E stays an error and 4E3 is read whole
	num, rest := t, ""
	if end >= 0 {
		num, rest = t[:end], t[end:]
	}
	word := strings.TrimRight(rest, "0123456789")
	tail := rest[len(word):]
	mul, ok := prefixes[strings.TrimSpace(word)]
	if !ok || (tail != "" && (strings.Contains(num, ".") || word == "")) {
		return 0, fmt.Errorf("%q is not a value; write one as 4.7k, 4K7, 100n or 5 V", s)
	}
	if tail != "" {
		num += "." + tail
	}
	v, err := strconv.ParseFloat(num, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a value; write one as 4.7k, 4K7, 100n or 5 V", s)
	}
	return v * mul, nil
}

// Format prints v with three significant digits and an SI prefix: 4.7k, 100n, 0.
func Format(v float64) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v, 'g', 3, 64)
	}
	steps := []struct {
		f float64
		p string
	}{{1e9, "G"}, {1e6, "M"}, {1e3, "k"}, {1, ""}, {1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}, {1e-12, "p"}}
	for _, s := range steps {
		if math.Abs(v) >= s.f*0.9995 {
			return strconv.FormatFloat(round3(v/s.f), 'f', -1, 64) + s.p
		}
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

// With prints v as Format does, with its unit, as it stands in a sentence: 4.7 kΩ, 888 mV, 0 V.
func With(v float64, unit string) string {
	s := Format(v)
	if n := strings.TrimRight(s, "GMkmµnp"); n != s {
		return n + " " + s[len(n):] + unit
	}
	return s + " " + unit
}

func round3(v float64) float64 {
	m := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*m) / m
}
