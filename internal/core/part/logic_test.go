package part

import (
	"strings"
	"testing"
)

func parseOne(t *testing.T, logic string) (*Type, string) {
	t.Helper()
	rec := "- part: p\n  title: t\n  source: from memory\n  pins: A B C Y /Q GND\n  logic: |\n    " + strings.ReplaceAll(logic, "\n", "\n    ") + "\n"
	ts, fl := Parse("x.yaml", []byte(rec))
	if len(fl) > 0 {
		return nil, fl[0].Text
	}
	return ts[0], ""
}

func TestStatementsAreRead(t *testing.T) {
	for _, c := range []struct{ logic, want string }{
		{"Y = A & !B", ""},
		{"Y = A ? B : C", ""},
		{"w = A | B\nY = w ^ C", ""},
		{"store q: while !A -> 0; rise B -> C\nY = q\n/Q = !q", ""},
		{"oc Y = A & Y", ""},
		{"tri Y = A when B", ""},
		{"table A B -> Y\n 0- 1\n 11 x", ""},
		{"ram m 4x2: address A B; data C A; write !B\nY = m.0 & m.1", ""},
		{"each A B C: resistor # Y", ""},
		{"Y = A +", "unexpected"},
		{"Y = D", "no pin or name D"},
		{"w = v\nv = w\nY = v", "depend on themselves"},
		{"store Y: while A -> 0", "is a pin"},
		{"link A B", "expected  link"},
		{"table A B -> Y\n 0-11", "expected 2 inputs"},
		{"Y = GND", "supply pin"},
		{"ram m 4x2: address A; data C A; write !B", "do not make"},
		{"Y = A\nY = B", "already defined"},
		{"Y = " + strings.Repeat("(", 500) + "A", "nested"},
		{"Y = " + strings.Repeat("!", 500) + "A", "nested"},
		{"fuse A", "takes 2 pins"},
		{"wobble A B", "not a statement"},
	} {
		ty, msg := parseOne(t, c.logic)
		if c.want == "" && ty == nil || !strings.Contains(msg, c.want) {
			t.Errorf("%q: got %q, want %q", c.logic, msg, c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("- part: p\n  title: t\n  source: s\n  pins: A B Y\n  logic: |\n    Y = A & !B\n"))
	f.Add([]byte("- part: p\n  pins: A\n"))
	f.Add([]byte("{}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		ts, fl := Parse("f.yaml", data)
		for _, ty := range ts {
			if ty.Name == "" || len(ty.Pins) == 0 {
				t.Errorf("a type without name or pins came out of %q", data)
			}
		}
		for _, x := range fl {
			if x.Text == "" {
				t.Error("an empty finding")
			}
		}
	})
}
