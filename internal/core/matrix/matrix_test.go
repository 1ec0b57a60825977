package matrix

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func grid(t *testing.T, rows, columns int, diodes bool) Layout {
	t.Helper()
	l, err := Grid(rows, columns, 1, false, diodes)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The rule, for every set of keys of a 3 × 3 and a 2 × 5 matrix: without diodes (r, c) reads closed exactly when both are in one connected component; with
// diodes exactly the pressed keys are read.
func TestConnectedComponentRule(t *testing.T) {
	n := 0
	for _, size := range [][2]int{{3, 3}, {2, 5}} {
		plain, good := grid(t, size[0], size[1], false), grid(t, size[0], size[1], true)
		for bits := range 1 << (size[0] * size[1]) {
			var pressed []int
			parent := make([]int, size[0]+size[1])
			for i := range parent {
				parent[i] = i
			}
			find := func(i int) int {
				for parent[i] != i {
					i = parent[i]
				}
				return i
			}
			for k := range plain.Keys {
				if bits>>k&1 == 1 {
					pressed = append(pressed, k)
					parent[find(plain.Keys[k].Row)] = find(size[0] + plain.Keys[k].Column)
				}
			}
			var want []string
			for k := range plain.Keys {
				if find(plain.Keys[k].Row) == find(size[0]+plain.Keys[k].Column) {
					want = append(want, plain.Keys[k].Name)
				}
			}
			if got := plain.Scan(nil, pressed); !slices.Equal(got, want) {
				t.Fatalf("without diodes, %v: %v, want %v", pressed, got, want)
			}
			if got := good.names(good.setOf(pressed)); !slices.Equal(good.Scan(nil, pressed), got) {
				t.Fatalf("with diodes, %v: %v", pressed, good.Scan(nil, pressed))
			}
			n++
		}
	}
	if n != 512+1024 {
		t.Error(n)
	}
}

// Ghosting and masking as Dribin describes them.
func TestGhostsAndMasking(t *testing.T) {
	l := grid(t, 2, 2, false)
	if got := l.Ghosts([]int{0, 1, 2}); !slices.Equal(got, []string{"4"}) {
		t.Error(got)
	}
	with, without := l.Scan(nil, []int{0, 1, 2, 3}), l.Scan(nil, []int{0, 1, 2})
	if !slices.Equal(with, without) || !slices.Equal(l.Scan(nil, []int{0, 2, 3}), with) {
		t.Error("pressing the ghosted key, or letting go of its opposite, changes the scan")
	}
	if got := l.GhostKeys([]int{0, 1}); len(got) != 2 || got[0].Key != "3" || !slices.Equal(got[0].Appears, []string{"4"}) {
		t.Errorf("%+v", got)
	}
	if got := grid(t, 4, 4, true).GhostKeys([]int{0, 1}); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

// trialsOf plays the technician: everything is tried on a matrix with faults.
func trialsOf(l Layout, faults []Fault, combos [][]int) []Trial {
	var out []Trial
	for _, keys := range combos {
		s := l.observe(faults, keys)
		tr := Trial{Pressed: keys}
		for k, key := range l.Keys {
			x := l.crossing(key.Row, key.Column)
			if s.read.has(x) {
				tr.Read = append(tr.Read, k)
			}
			tr.Repeats = tr.Repeats || s.noisy.has(x)
		}
		out = append(out, tr)
	}
	return out
}

func singles(l Layout) [][]int {
	out := [][]int{nil}
	for k := range l.Keys {
		out = append(out, []int{k})
	}
	return out
}

// Every single fault of a 3 × 3 matrix, with and without diodes, with a chip that drives two columns: whatever can be seen with all singles, pairs
// and triples is explained, and the planted fault is in the first suspect's class or, where a commoner cause reads the same, among the suspects.
func TestEverySingleFault(t *testing.T) {
	visible, hidden, first := 0, 0, 0
	for _, diodes := range []bool{true, false} {
		l := grid(t, 3, 3, diodes)
		l.Chips = []Chip{{Name: "U1", Columns: []int{0, 1}}}
		combos := singles(l)
		for a := range l.Keys {
			for b := range a {
				combos = append(combos, []int{b, a})
				for c := range b {
					combos = append(combos, []int{c, b, a})
				}
			}
		}
		for _, f := range l.Universe() {
			trials := trialsOf(l, []Fault{f}, combos)
			if f.Kind == ContactNoisy || f.Kind == RowNoisy || f.Kind == ColumnNoisy {
				trials = trialsOf(l, []Fault{f}, singles(l)) // repeats are noted for single keys
			}
			d := Diagnose(l, trials)
			if d.Healthy {
				hidden++
				continue
			}
			visible++
			found := -1
			for i, s := range d.Suspects {
				if len(s.Faults) == 1 && slices.Contains(s.Faults[0], f) && found < 0 {
					found = i
				}
			}
			if found < 0 || len(d.Suspects[0].Wrong) > 0 {
				t.Errorf("diodes %v: %s is not found: %+v", diodes, f.Text(l), d.Suspects)
			}
			if found == 0 {
				first++
			}
			if sum := sumOf(d); math.Abs(sum-1) > 1e-9 {
				t.Errorf("probabilities add up to %g", sum)
			}
		}
	}
	t.Logf("%d seen, %d in the first class, %d cannot be seen", visible, first, hidden)
	if visible != first || visible < 200 || hidden > 4 {
		t.Errorf("%d seen, %d in the first class, %d cannot be seen", visible, first, hidden)
	}
}

func sumOf(d Diagnosis) float64 {
	s := 0.0
	for _, x := range d.Suspects {
		s += x.Probability
	}
	return s
}

// Two and three random faults on an 8 × 8 matrix from single keys alone: the true set, up to look-alikes, is the first suspect nearly always.
func TestSeveralFaults(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	l := grid(t, 8, 8, true)
	universe := l.Universe()
	tried, first, explained := 0, 0, 0
	for tried < 150 {
		var faults []Fault
		for range 2 + rng.IntN(2) {
			for {
				f := universe[rng.IntN(len(universe))]
				if f.prior(l) >= 0.001 || rng.IntN(20) == 0 {
					faults = append(faults, f)
					break
				}
			}
		}
		trials := trialsOf(l, faults, singles(l))
		d := Diagnose(l, trials)
		if d.Healthy {
			continue
		}
		tried++
		if len(d.Suspects) == 0 {
			continue
		}
		if len(d.Suspects[0].Wrong) == 0 {
			explained++
		} else {
			t.Logf("%v is taken for %v, which leaves %d trials", faults, d.Suspects[0].Faults, len(d.Suspects[0].Wrong))
		}
		// faults that change nothing beside the others are not asked for
		ok := true
		for i, f := range faults {
			rest := slices.Concat(faults[:i], faults[i+1:])
			same := true
			for _, tr := range trials {
				same = same && l.observe(rest, tr.Pressed).equal(l.observe(faults, tr.Pressed))
			}
			if !same && !slices.ContainsFunc(d.Suspects[0].Faults, func(c []Fault) bool { return slices.Contains(c, f) }) {
				ok = false
			}
		}
		if ok {
			first++
		}
	}
	t.Logf("%d tried, %d explained, %d first", tried, explained, first)
	if tried != 150 || explained < 148 || first < 145 {
		t.Errorf("%d tried, %d explained, %d with the true set first", tried, explained, first)
	}
}

// What the trade says: a row is a row, scattered keys are contacts, two columns that come together are shorted, a regular stride is an address line.
func TestTradeRules(t *testing.T) {
	l := grid(t, 4, 8, true)
	n := 0
	for _, c := range []struct {
		what                 string
		dead, repeats, stuck []int
		extra                map[int][]int
		want                 Kind
		size                 int
	}{
		{"a row", []int{8, 9, 10, 11, 12, 13, 14, 15}, nil, nil, nil, RowOpen, 1},
		{"a column", []int{3, 11, 19, 27}, nil, nil, nil, ColumnOpen, 1},
		{"one key", []int{5}, nil, nil, nil, ContactOpen, 1},
		{"scattered keys", []int{1, 10, 20, 30}, nil, nil, nil, ContactOpen, 4},
		{"the end of a row", []int{12, 13, 14, 15}, nil, nil, nil, RowBreak, 1},
		{"a row that repeats", nil, []int{0, 1, 2, 3, 4, 5, 6, 7}, nil, nil, RowNoisy, 1},
		{"a stuck key", nil, nil, []int{6}, nil, ContactClosed, 1},
		{"columns 2 and 3 together", nil, nil, nil, map[int][]int{2: {3}, 3: {2}, 10: {11}, 11: {10}, 18: {19}, 19: {18}, 26: {27}, 27: {26}}, ColumnsShort, 1},
	} {
		d := Diagnose(l, Trials(l, c.dead, c.repeats, c.stuck, nil, c.extra))
		if len(d.Suspects) == 0 || len(d.Suspects[0].Faults) != c.size || d.Suspects[0].Faults[0][0].Kind != c.want {
			t.Errorf("%s: %+v", c.what, d.Suspects)
		}
		n++
	}
	every := Diagnose(l, trialsOf(l, []Fault{{Kind: ColumnAddress, A: 1}}, singles(l)))
	if every.Suspects[0].Faults[0][0] != (Fault{Kind: ColumnAddress, A: 1}) {
		t.Errorf("%+v", every.Suspects)
	}
	if n != 8 {
		t.Error(n)
	}
}

// A dead key: open contact or open diode read the same on every key, so a meter has to tell. A shorted diode shows only in threes, and Next finds such
// a three when the diode is suspected.
func TestNextAndMeter(t *testing.T) {
	l := grid(t, 3, 3, true)
	d := Diagnose(l, Trials(l, []int{4}, nil, nil, nil, nil))
	if next := Next(l, nil, d, 5); len(d.Suspects[0].Faults[0]) != 2 || slices.ContainsFunc(next, func(n Try) bool { return n.Bits > 0.9 }) {
		t.Errorf("%+v %+v", d.Suspects[0], next)
	}
	if m := Meter(l, d.Suspects[0]); len(m) != 1 || !strings.Contains(m[0], "bridge the contact of key 5") {
		t.Error(m)
	}
	// three corners bring the fourth: one of the diodes on the way is shorted; further rectangles tell which
	trials := append(Trials(l, nil, nil, nil, nil, nil), trialsOf(l, []Fault{{Kind: DiodeShort, A: 0}}, [][]int{{0, 1, 3}, {0, 4, 1}})...)
	d = Diagnose(l, trials)
	if d.Healthy || !slices.ContainsFunc(d.Suspects, func(s Suspect) bool { return slices.Contains(s.Faults[0], Fault{Kind: DiodeShort, A: 0}) }) {
		t.Errorf("%+v", d)
	}
	// half a row not tried yet: the untried keys tell a row from a few contacts
	l = grid(t, 4, 8, true)
	trials = Trials(l, []int{8, 9}, nil, nil, []int{10, 11, 12, 13, 14, 15}, nil)
	d = Diagnose(l, trials)
	next := Next(l, trials, d, 5)
	if len(next) == 0 || len(next[0].Keys) != 1 || !slices.Contains([]string{"11", "12", "13", "14", "15", "16"}, next[0].Keys[0]) || next[0].Bits < 0.1 {
		t.Errorf("%+v", next)
	}
}

func TestScatteredByTheDozen(t *testing.T) {
	l, err := Grid(8, 16, 0, true, true)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 8))
	var dead []int
	for k := range l.Keys {
		if rng.IntN(4) == 0 {
			dead = append(dead, k)
		}
	}
	d := Diagnose(l, Trials(l, dead, nil, nil, nil, nil))
	if len(d.Suspects) == 0 || len(d.Suspects[0].Wrong) > 0 || len(dead) < 20 {
		t.Errorf("%d dead: %v wrong %v", len(dead), d.Suspects[0].Faults, d.Suspects[0].Wrong)
	}
}

func TestRefusesBadLayouts(t *testing.T) {
	for _, l := range []Layout{{}, {Rows: []string{"r"}, Columns: []string{"c"}}, {Rows: []string{"r"}, Columns: []string{"c"}, Keys: []Key{{Name: "a", Row: 1}}},
		{Rows: []string{"r"}, Columns: []string{"c"}, Keys: []Key{{Name: "a"}, {Name: "b"}}}, {Rows: []string{"r"}, Columns: []string{"c", "d"}, Keys: []Key{{Name: "a"}, {Name: "a", Column: 1}}}} {
		if l.Check() == nil {
			t.Errorf("%+v", l)
		}
	}
	for _, s := range [][2]int{{0, 4}, {4, 0}, {65, 1}, {64, 64}, {-1, 3}} {
		if _, err := Grid(s[0], s[1], 0, false, true); err == nil {
			t.Error(s)
		}
	}
	if l, err := Grid(4, 3, 1, true, true); err != nil || l.Check() != nil || l.Keys[1].Row != 1 || l.Keys[4].Column != 1 || l.Find("12") != 11 || l.Find("13") != -1 {
		t.Errorf("%+v %v", l, err)
	}
}

// Whatever keys are named, the search ends and its numbers are sound.
func FuzzDiagnose(f *testing.F) {
	f.Add(uint8(3), uint8(4), true, []byte{1, 2, 3}, []byte{5}, []byte{7}, []byte{0, 1})
	f.Fuzz(func(t *testing.T, rows, columns uint8, diodes bool, dead, repeats, stuck, extra []byte) {
		l, err := Grid(1+int(rows)%6, 1+int(columns)%6, 0, false, diodes)
		if err != nil {
			t.Fatal(err)
		}
		keys := func(b []byte) []int {
			var out []int
			for _, x := range b {
				out = append(out, int(x)%len(l.Keys))
			}
			return out
		}
		more := map[int][]int{}
		for i, k := range keys(extra) {
			more[k] = append(more[k], i%len(l.Keys))
		}
		trials := Trials(l, keys(dead), keys(repeats), keys(stuck), nil, more)
		d := Diagnose(l, trials)
		if !d.Healthy && len(d.Suspects) > 0 && math.Abs(sumOf(d)-1) > 1e-6 {
			t.Errorf("probabilities add up to %g", sumOf(d))
		}
		for _, n := range Next(l, trials, d, 3) {
			if math.IsNaN(n.Bits) {
				t.Error("NaN bits")
			}
		}
	})
}
