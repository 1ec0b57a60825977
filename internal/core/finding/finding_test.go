package finding

import "testing"

func TestNearest(t *testing.T) {
	known := []string{"/G2A", "/G2B", "G1", "CLK", "VCC", "power-up", "lamps-3"}
	for typed, want := range map[string]string{"/G3A": "/G2A", "clk": "CLK", "lamps-33": "lamps-3", "pwoer-up": "power-up", "zzzzzzzz": ""} {
		if got := Nearest(typed, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", typed, got, want)
		}
	}
}

func TestSortPutsErrorsInPlaceAndDropsRepeats(t *testing.T) {
	var l List
	l.Warnf(Pos{"b", 2, 1}, "", "", "later")
	l.Errorf(Pos{"a", 9, 1}, "", "", "first file")
	l.Warnf(Pos{"b", 2, 1}, "", "", "later")
	l.Sort()
	if len(l) != 2 || l[0].Text != "first file" || !l.Errors() {
		t.Errorf("%v", l)
	}
	if got := l[0].String(); got != "a:9:1: error: first file" {
		t.Error(got)
	}
}
