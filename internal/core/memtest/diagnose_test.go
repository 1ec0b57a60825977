package memtest

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func eight() Shape {
	s := Shape{Words: 32, Width: 8}
	for b := range 8 {
		s.Chips = append(s.Chips, Chip{Name: "U" + string(rune('1'+b)), LowBit: b, Bits: 1, First: 0, Last: 31})
	}
	return s
}

func nibbles() Shape {
	return Shape{Words: 32, Width: 8, Chips: []Chip{{"U1", 0, 4, 0, 15}, {"U2", 4, 4, 0, 15}, {"U3", 0, 4, 16, 31}, {"U4", 4, 4, 16, 31}}}
}

// marchFails runs a test on a board with a cause and notes the failing reads.
func marchFails(s Shape, c Cause, m March, backgrounds []uint32) []Read {
	var out []Read
	mem := newMemory(s, c)
	for bi, bg := range backgrounds {
		m.Steps(s.Words, s.Width, []uint32{bg}, func(st Step) bool {
			if !st.Read {
				mem.write(st.Address, st.Data)
			} else if v := mem.read(st.Address); v != st.Data {
				out = append(out, Read{st.Element, bi, st.Address, st.Data, v})
			}
			return true
		})
	}
	return out
}

// Every line and chip fault of two memories under March C− with its backgrounds: it is seen, and the cause comes out first or ties with one that reads
// exactly the same (a ×1 chip and its data line).
func TestEveryLineFaultByMarch(t *testing.T) {
	m, _ := Named("c-")
	seen := 0
	for _, s := range []Shape{eight(), nibbles(), {Words: 32, Width: 4}} {
		bgs := Backgrounds(s.Width)
		for _, c := range s.lineCauses() {
			fails := marchFails(s, c, m, bgs)
			if len(fails) == 0 {
				t.Errorf("%s is not seen by March C− with %d backgrounds", c.Text(s), len(bgs))
				continue
			}
			r, err := DiagnoseMarch(s, m, bgs, fails)
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(r.Suspects, func(x Suspect) bool { return x.Cause == c })
			if i < 0 || !r.Suspects[i].Exact || !r.Suspects[0].Exact {
				t.Errorf("%s: %+v", c.Text(s), r.Suspects[:min(3, len(r.Suspects))])
				continue
			}
			for _, x := range r.Suspects[:i] { // whatever is before it reads the same
				if !slices.Equal(marchFails(s, x.Cause, m, bgs), fails) {
					t.Errorf("%s comes after %s, which reads otherwise", c.Text(s), x.Cause.Text(s))
				}
			}
			seen++
		}
	}
	if seen != 2*(8+8+28+5+10)+2*(4+8+28+5+10)+2*(1+4+6+5+10) {
		t.Error(seen)
	}
}

// One background never sees two data lines shorted together.
func TestOneBackgroundIsNotEnough(t *testing.T) {
	m, _ := Named("c-")
	if f := marchFails(eight(), Cause{Kind: DataShorted, A: 2, B: 3}, m, []uint32{0}); len(f) != 0 {
		t.Errorf("%d fails", len(f))
	}
	if f := marchFails(eight(), Cause{Kind: DataShorted, A: 2, B: 3}, m, Backgrounds(8)); len(f) == 0 {
		t.Error("the stripes do not see it either")
	}
}

// Single cells: every stuck cell of a small memory leads to its chip, address and bit, and its elements to the kind of fault.
func TestEveryStuckCell(t *testing.T) {
	m, _ := Named("c-")
	s := nibbles()
	n := 0
	for a := range s.Words {
		for b := range s.Width {
			for _, high := range []bool{false, true} {
				var fails []Read
				cell := uint32(0)
				m.Steps(s.Words, s.Width, []uint32{0}, func(st Step) bool {
					if st.Address == a && st.Read {
						cell = uint32(force(int(st.Data), b, high))
						if cell != st.Data {
							fails = append(fails, Read{st.Element, 0, a, st.Data, cell})
						}
					}
					return true
				})
				r, err := DiagnoseMarch(s, m, []uint32{0}, fails)
				if err != nil || r.Suspects[0].Cause != (Cause{Kind: CellBad, A: a, B: b}) {
					t.Fatalf("cell %X bit %d: %+v %v", a, b, r.Suspects, err)
				}
				want := map[bool]string{false: "stuck at 0", true: "stuck at 1"}[high]
				if len(r.Cells) != 1 || !slices.Contains(r.Cells[0].Kinds, want) || r.Cells[0].Chip != s.chipAt(a, b) {
					t.Fatalf("%+v", r.Cells)
				}
				n++
			}
		}
	}
	if n != 32*8*2 {
		t.Error(n)
	}
}

// Reads without elements: the address written as data, and its inverse, all read back. Data lines, address lines and chips come out first or tied.
func TestEveryLineFaultByReads(t *testing.T) {
	n := 0
	for _, s := range []Shape{eight(), nibbles()} {
		for _, c := range s.lineCauses() {
			var reads []Read
			mem := newMemory(s, c)
			for a := range s.Words {
				mem.write(a, uint32(a*5+a/7)&0xFF)
			}
			fails := 0
			for a := range s.Words {
				x := Read{Element: -1, Address: a, Expected: uint32(a*5+a/7) & 0xFF, Got: mem.read(a)}
				if x.Got != x.Expected {
					fails++
				}
				reads = append(reads, x)
			}
			if fails == 0 {
				t.Errorf("%s is not seen", c.Text(s))
				continue
			}
			r, err := DiagnoseReads(s, reads)
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(r.Suspects, func(x Suspect) bool { return x.Cause == c })
			if i < 0 || r.Suspects[i].Missed > 0 || i > 0 && r.Suspects[0].Probability > 6*r.Suspects[i].Probability {
				t.Errorf("%s at %d: %+v", c.Text(s), i, r.Suspects[:min(3, len(r.Suspects))])
			}
			n++
		}
	}
	if n != 2*(8+8+28+5+10)+2*(4+8+28+5+10) {
		t.Error(n)
	}
}

func TestFacts(t *testing.T) {
	s := eight()
	r, err := DiagnoseReads(s, []Read{{-1, 0, 5, 0, 4}, {-1, 0, 7, 0, 4}, {-1, 0, 13, 0xFF, 0xFF}})
	if err != nil || len(r.Facts) != 2 || !strings.Contains(r.Facts[0], "D2 (U3) always read 1 for 0, 2 times") || !strings.Contains(r.Facts[1], "A0 = 1, A2 = 1, A3 = 0") {
		t.Errorf("%+v %v", r.Facts, err)
	}
}

func TestRefuses(t *testing.T) {
	s := eight()
	n := 0
	for _, x := range []Read{{Address: 32}, {Address: -1}, {Expected: 256}, {Got: 256}} {
		if _, err := DiagnoseReads(s, []Read{x}); err == nil {
			t.Errorf("%+v", x)
		}
		n++
	}
	for _, s := range []Shape{{}, {Words: 1, Width: 8}, {Words: 64}, {Words: 64, Width: 17}, {Words: MaxWords + 1, Width: 1}, {Words: 64, Width: 8, Chips: []Chip{{"U1", 7, 2, 0, 3}}}, {Words: 64, Width: 8, Chips: []Chip{{"U1", 0, 2, 5, 3}}}} {
		if s.Check() == nil {
			t.Errorf("%+v", s)
		}
		n++
	}
	if n != 11 {
		t.Error(n)
	}
}

func FuzzReads(f *testing.F) {
	f.Add([]byte{1, 0, 4, 3, 0, 4, 9, 255, 251})
	f.Fuzz(func(t *testing.T, data []byte) {
		s := nibbles()
		var reads []Read
		for i := 0; i+2 < len(data) && i < 300; i += 3 {
			reads = append(reads, Read{Element: -1, Address: int(data[i]) % 32, Expected: uint32(data[i+1]), Got: uint32(data[i+2])})
		}
		r, err := DiagnoseReads(s, reads)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range r.Suspects {
			if math.IsNaN(x.Probability) || x.Probability < 0 || x.Probability > 1 {
				t.Fatalf("%+v", x)
			}
		}
	})
}
