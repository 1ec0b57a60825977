package elec

import (
	"strings"
	"testing"

	"halfsplit/internal/core/finding"
)

// Every record that comes with the program is read without a finding, names are not used twice, and a device of every
// record compiles.
func TestRecords(t *testing.T) {
	m, fs := Embedded()
	if len(fs) > 0 {
		t.Fatal(fs)
	}
	seen := map[string]string{}
	kindsSeen := map[Kind]bool{}
	for _, r := range m.All() {
		kindsSeen[r.Kind] = true
		for _, n := range append([]string{r.Name}, r.Aka...) {
			if other, twice := seen[strings.ToUpper(n)]; twice {
				t.Errorf("%s names both %s and %s", n, other, r.Name)
			}
			seen[strings.ToUpper(n)] = r.Name
		}
		n := newNet()
		nodes := []string{"a", "b", "c", "d", "e", "f", "g", "h", "i", "j"}[:len(Terminals(r.Kind))]
		n.add(r.Kind, "X", 1, nil, nodes...).model(r.Name)
		for _, s := range nodes {
			n.add(Resistor, "R"+s, 1e3, nil, s, "0")
		}
		c, fs := Compile(n.nl, m)
		if c == nil {
			t.Errorf("%s: %v", r.Name, fs)
		}
	}
	if len(m.All()) < 120 || len(kindsSeen) < 15 {
		t.Errorf("only %d records of %d kinds", len(m.All()), len(kindsSeen))
	}
}

// Forward and regulated voltages of the records are what their titles and sources say.
func TestRecordsAtWork(t *testing.T) {
	at := func(kind Kind, model string, reverse bool, amperes float64) float64 {
		n := newNet().add(CurrentSource, "I", amperes, nil, "0", "x")
		if reverse {
			n.add(kind, "D", 0, nil, "0", "x")
		} else {
			n.add(kind, "D", 0, nil, "x", "0")
		}
		v, _ := op(t, n.model(model).compile(t), Patch{}).V("x")
		return v
	}
	for _, k := range []struct {
		kind    Kind
		model   string
		reverse bool
		amperes float64
		lo, hi  float64
	}{
		{Diode, "1N4148", false, 10e-3, 0.65, 1.0}, // 1 V at most at 10 mA, 1N4148 sheet, from memory
		{Diode, "1N4007", false, 1, 0.7, 1.1},      // 1.1 V at most at 1 A, 1N4001 sheet, from memory
		{Diode, "1N5817", false, 1, 0.3, 0.45},     // 0.45 V at most at 1 A, 1N5817 sheet, from memory
		{Diode, "1N34A", false, 5e-3, 0.25, 1.0},   // 1 V at most at 5 mA, 1N34A sheet, from memory
		{LED, "LED-RED", false, 10e-3, 1.5, 2.0},
		{LED, "LED-GREEN", false, 10e-3, 1.9, 2.4},
		{LED, "LED-BLUE", false, 10e-3, 2.8, 3.5},
		{LED, "LED-IR", false, 10e-3, 1.1, 1.4},
		{Zener, "BZX79-C5V1", true, 5e-3, 4.85, 5.36},
		{Zener, "BZX79-C12", true, 5e-3, 11.4, 12.7},
		{Zener, "1N4733", true, 49e-3, 4.84, 5.7},
	} {
		if v := at(k.kind, k.model, k.reverse, k.amperes); !(v >= k.lo && v <= k.hi) {
			t.Errorf("%s at %g A: %.3f V, want %g to %g", k.model, k.amperes, v, k.lo, k.hi)
		}
	}
}

func TestRecordsWithMistakes(t *testing.T) {
	for text, want := range map[string]string{
		"- {model: X, kind: diode, source: none, params: {ohms: 1}}":  "no parameter",
		"- {model: X, kind: dyode, source: none}":                     "unknown kind",
		"- {model: X, kind: diode}":                                   "no source",
		"- {kind: diode, source: none}":                               "no name",
		"- {model: X, kind: diode, source: none, params: {is: 1e30}}": "believed",
		"- {model: X, kind: diode, source: none, params: {is: .nan}}": "is is NaN",
		"- {model: X, kind: diode, source: none, tol: {is: -1}}":      "tolerance",
		"- {model: X, kind: diode, source: none, tol: {volts: 1}}":    "no parameter",
		"- {model: X, kind: diode, source: none, colour: red}":        "unknown field",
		"- model: [": "",
	} {
		var fs finding.List
		m := &Models{byName: map[string]*Model{}}
		m.Add("x.yaml", []byte(text), &fs)
		if len(fs) != 1 || !strings.Contains(fs[0].Text, want) || len(m.All()) > 0 {
			t.Errorf("%s: %v, want %q", text, fs, want)
		}
	}
}
