package memtest

import (
	"slices"
	"strings"
	"testing"
)

// Coverage by exhaustive simulation: four one-bit cells, every fault, every content at switch-on. The table is the literature's: MATS+ finds every address
// fault, MATS++ the transitions too, March X the inversions, March C− everything unlinked.
func TestCoverage(t *testing.T) {
	n := 0
	for _, row := range []struct {
		test   string
		length int
		want   [6]int
	}{
		{"mats", 4, [6]int{8, 4, 38, 12, 12, 36}}, {"mats+", 5, [6]int{8, 4, 44, 18, 18, 36}}, {"mats++", 6, [6]int{8, 8, 44, 18, 18, 36}}, {"x", 6, [6]int{8, 8, 44, 24, 24, 36}}, {"y", 8, [6]int{8, 8, 44, 24, 24, 36}},
		{"c-", 10, [6]int{8, 8, 44, 24, 48, 48}}, {"c", 11, [6]int{8, 8, 44, 24, 48, 48}}, {"a", 15, [6]int{8, 8, 44, 24, 48, 48}}, {"b", 17, [6]int{8, 8, 44, 24, 48, 48}},
	} {
		m, err := Named(row.test)
		if err != nil || m.Length() != row.length {
			t.Fatalf("%s: %d operations, %v", row.test, m.Length(), err)
		}
		for i, class := range Classes() {
			got, all := Coverage(m, class, 4)
			if got != row.want[i] || all != [6]int{8, 8, 44, 24, 48, 48}[i] {
				t.Errorf("%s finds %d of %d %s faults, want %d", row.test, got, all, class, row.want[i])
			}
			n += all
		}
	}
	if n != 9*180 {
		t.Error(n)
	}
}

// March C− finds every fault of the six classes in five cells too.
func TestMarchCFindsAll(t *testing.T) {
	m, err := Named("c-")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, class := range Classes() {
		got, all := Coverage(m, class, 5)
		if got != all {
			t.Errorf("%s: %d of %d", class, got, all)
		}
		n += all
	}
	if n != 10+10+(10+60)+40+80+80 {
		t.Error(n)
	}
}

// The syndromes of March C− at the victim (M1 to M5 are its reading elements).
func TestMarchCSyndromes(t *testing.T) {
	m, _ := Named("c-")
	table := Syndromes(m)
	n := 0
	for _, row := range []struct {
		elements []int
		fault    string
	}{
		{[]int{2, 4}, "stuck at 0"}, {[]int{2, 4}, "cannot rise"}, {[]int{2, 4}, "address reaches no cell and reads 0"}, {[]int{2, 4}, "held at 0 while a lower address is 0"},
		{[]int{1, 3, 5}, "stuck at 1"}, {[]int{1, 3, 5}, "address reaches no cell and reads 1"}, {[]int{1, 3, 5}, "held at 1 while a lower address is 0"},
		{[]int{3, 5}, "cannot fall"}, {[]int{1, 3, 5}, "cannot fall"},
		{[]int{4}, "forced to 0 by rising of a lower address"}, {[]int{1}, "forced to 1 by rising of a lower address"}, {[]int{2}, "forced to 0 by falling of a lower address"}, {[]int{5}, "forced to 1 by falling of a lower address"},
		{[]int{2}, "forced to 0 by rising of a higher address"}, {[]int{3}, "forced to 1 by rising of a higher address"}, {[]int{4}, "forced to 0 by falling of a higher address"}, {[]int{3}, "forced to 1 by falling of a higher address"},
		{[]int{1, 4}, "turned over by rising of a lower address"}, {[]int{2, 5}, "turned over by falling of a lower address"}, {[]int{2, 3}, "turned over by rising of a higher address"}, {[]int{3, 4}, "turned over by falling of a higher address"},
		{[]int{1, 5}, "held at 1 while a lower address is 1"}, {[]int{3}, "held at 1 while a higher address is 1"}, {[]int{1, 2}, "address reaches a lower cell"}, {[]int{3, 4}, "address reaches a higher"},
	} {
		if row.fault == "address reaches a lower cell" { // reads at the victim after the lower cell was written
			row.fault = "address reaches a lower address instead"
		}
		if row.fault == "address reaches a higher" {
			row.fault = "address reaches a higher address instead"
		}
		if got := Match(table, row.elements); !slices.Contains(got, row.fault) {
			t.Errorf("M%v: %s is not among %s", row.elements, row.fault, strings.Join(got, "; "))
		}
		n++
	}
	if n != 25 {
		t.Error(n)
	}
}

func TestNotation(t *testing.T) {
	n := 0
	for _, name := range Names() {
		m, err := Named(name)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Parse(name, m.String())
		if err != nil || back.String() != m.String() || back.Length() != m.Length() {
			t.Errorf("%s: %s %v", name, m, err)
		}
		n++
	}
	for _, s := range []string{"", "up", "up()", "sideways(r0)", "up(x0)", "up(r2)", "up(r0;w1)", "c--", strings.Repeat("up(r0);", 70) + "up(r0)"} {
		if m, err := Named(s); err == nil {
			t.Errorf("%q: %v", s, m)
		}
		n++
	}
	if n != 18 {
		t.Error(n)
	}
}

func TestBackgroundsTellBitsApart(t *testing.T) {
	n := 0
	for _, width := range []int{1, 2, 4, 7, 8, 16} {
		bs := Backgrounds(width)
		for a := range width {
			for b := range a {
				if !slices.ContainsFunc(bs, func(v uint32) bool { return v>>a&1 != v>>b&1 }) {
					t.Errorf("width %d: bits %d and %d are always the same", width, a, b)
				}
				n++
			}
		}
	}
	if n != 0+1+6+21+28+120 {
		t.Error(n)
	}
}
