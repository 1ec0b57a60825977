package oracle

// Programmable logic from random fuse maps against Icarus Verilog. The arrays are written here anew, by fuse numbers as the
// device tables of open programs give them, and share nothing with package pld.

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// cell is one output: the fuse at which its enable row begins (-1: none), and those of its first and last term.
type cell struct {
	pin, enable, first, last int
	register                 bool
	high                     bool // the pin is high while the sum is 1
}

// fuseArray is a device: for each pin into the array the number of its column within a row, the complement being one higher.
type fuseArray struct {
	name, part  string
	pins, fuses int
	width       int // fuses of a row
	columns     map[int]int
	cells       []cell
	clock, oe   int
	reset, set  int                // fuses at which these rows begin, -1: none
	setup       func(fuses []byte) // architecture fuses
}

// rows makes eight cells downwards from a pin, step fuses apart. Those in registers have no enable row.
func rows(top, step, width int, registers ...int) (out []cell) {
	for i := range 8 {
		c := cell{pin: top - i, enable: i * step, first: i*step + width, last: (i+1)*step - width}
		if slices.Contains(registers, c.pin) {
			c.register, c.enable, c.first = true, -1, i*step
		}
		out = append(out, c)
	}
	return out
}

func bare(cells []cell) []cell {
	for i := range cells {
		if cells[i].enable >= 0 {
			cells[i].first, cells[i].enable = cells[i].enable, -1
		}
	}
	return cells
}

func fuseArrays() []fuseArray {
	low20 := map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 11: 30, 13: 26, 14: 22, 15: 18, 16: 14, 17: 10, 18: 6}
	reg20 := map[int]int{2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 12: 30, 13: 26, 14: 22, 15: 18, 16: 14, 17: 10, 18: 6, 19: 2}
	easy20 := map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 11: 30, 12: 26, 13: 22, 14: 18, 17: 14, 18: 10, 19: 6}
	low24 := map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 10: 32, 11: 36, 13: 38, 14: 34, 16: 30, 17: 26, 18: 22, 19: 18, 20: 14, 21: 10, 23: 6}
	reg24 := map[int]int{2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 10: 32, 11: 36, 14: 38, 15: 34, 16: 30, 17: 26, 18: 22, 19: 18, 20: 14, 21: 10, 22: 6, 23: 2}
	big24 := map[int]int{1: 0, 2: 4, 3: 8, 4: 12, 5: 16, 6: 20, 7: 24, 8: 28, 9: 32, 10: 36, 11: 40, 13: 42, 14: 38, 15: 34, 16: 30, 17: 26, 18: 22, 19: 18, 20: 14, 21: 10, 22: 6, 23: 2}
	none := func(a fuseArray) fuseArray {
		a.reset, a.set = -1, -1
		return a
	}
	list := []fuseArray{
		none(fuseArray{name: "a10L8", part: "PAL10L8", pins: 20, fuses: 320, width: 20,
			columns: map[int]int{1: 2, 2: 0, 3: 4, 4: 6, 5: 8, 6: 10, 7: 12, 8: 14, 9: 16, 11: 18},
			cells: []cell{{pin: 12, enable: -1, first: 280, last: 300}, {pin: 13, enable: -1, first: 240, last: 260}, {pin: 14, enable: -1, first: 200, last: 220}, {pin: 15, enable: -1, first: 160, last: 180},
				{pin: 16, enable: -1, first: 120, last: 140}, {pin: 17, enable: -1, first: 80, last: 100}, {pin: 18, enable: -1, first: 40, last: 60}, {pin: 19, enable: -1, first: 0, last: 20}}}),
		none(fuseArray{name: "a12H6", part: "PAL12H6", pins: 20, fuses: 384, width: 24,
			columns: map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 10, 6: 12, 7: 14, 8: 16, 9: 20, 11: 22, 12: 18, 19: 6},
			cells: []cell{{pin: 13, enable: -1, first: 288, last: 360, high: true}, {pin: 14, enable: -1, first: 240, last: 264, high: true}, {pin: 15, enable: -1, first: 192, last: 216, high: true},
				{pin: 16, enable: -1, first: 144, last: 168, high: true}, {pin: 17, enable: -1, first: 96, last: 120, high: true}, {pin: 18, enable: -1, first: 0, last: 72, high: true}}}),
		none(fuseArray{name: "a14H4", part: "PAL14H4", pins: 20, fuses: 448, width: 28,
			columns: map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 14, 7: 16, 8: 20, 9: 24, 11: 26, 12: 22, 13: 18, 18: 10, 19: 6},
			cells:   []cell{{pin: 14, enable: -1, first: 336, last: 420, high: true}, {pin: 15, enable: -1, first: 224, last: 308, high: true}, {pin: 16, enable: -1, first: 112, last: 196, high: true}, {pin: 17, enable: -1, first: 0, last: 84, high: true}}}),
		none(fuseArray{name: "a16L2", part: "PAL16L2", pins: 20, fuses: 512, width: 32,
			columns: map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 11: 30, 12: 26, 13: 22, 14: 18, 17: 14, 18: 10, 19: 6},
			cells:   []cell{{pin: 15, enable: -1, first: 256, last: 480}, {pin: 16, enable: -1, first: 0, last: 224}}}),
		none(fuseArray{name: "a16C1", part: "PAL16C1", pins: 20, fuses: 512, width: 32,
			columns: map[int]int{1: 2, 2: 0, 3: 4, 4: 8, 5: 12, 6: 16, 7: 20, 8: 24, 9: 28, 11: 30, 12: 26, 13: 22, 14: 18, 17: 14, 18: 10, 19: 6},
			cells:   []cell{{pin: 15, enable: -1, first: 0, last: 480}, {pin: 16, enable: -1, first: 0, last: 480, high: true}}}),
		none(fuseArray{name: "a16L8", part: "PAL16L8", pins: 20, fuses: 2048, width: 32, columns: low20, cells: rows(19, 256, 32)}),
		none(fuseArray{name: "a16R4", part: "PAL16R4", pins: 20, fuses: 2048, width: 32, columns: reg20, cells: rows(19, 256, 32, 14, 15, 16, 17), clock: 1, oe: 11}),
		none(fuseArray{name: "a16R6", part: "PAL16R6", pins: 20, fuses: 2048, width: 32, columns: reg20, cells: rows(19, 256, 32, 13, 14, 15, 16, 17, 18), clock: 1, oe: 11}),
		none(fuseArray{name: "a16R8", part: "PAL16R8", pins: 20, fuses: 2048, width: 32, columns: reg20, cells: rows(19, 256, 32, 12, 13, 14, 15, 16, 17, 18, 19), clock: 1, oe: 11}),
		none(fuseArray{name: "a20L8", part: "PAL20L8", pins: 24, fuses: 2560, width: 40, columns: low24, cells: rows(22, 320, 40)}),
		none(fuseArray{name: "a20R4", part: "PAL20R4", pins: 24, fuses: 2560, width: 40, columns: reg24, cells: rows(22, 320, 40, 17, 18, 19, 20), clock: 1, oe: 13}),
		none(fuseArray{name: "a20R6", part: "PAL20R6", pins: 24, fuses: 2560, width: 40, columns: reg24, cells: rows(22, 320, 40, 16, 17, 18, 19, 20, 21), clock: 1, oe: 13}),
		none(fuseArray{name: "a20R8", part: "PAL20R8", pins: 24, fuses: 2560, width: 40, columns: reg24, cells: rows(22, 320, 40, 15, 16, 17, 18, 19, 20, 21, 22), clock: 1, oe: 13}),
		none(fuseArray{name: "g16simple", part: "GAL16V8", pins: 20, fuses: 2194, width: 32, columns: easy20, cells: bare(rows(19, 256, 32)), setup: mode(2048, 0, 1, 0)}),
		none(fuseArray{name: "g16complex", part: "GAL16V8", pins: 20, fuses: 2194, width: 32, columns: low20, cells: rows(19, 256, 32), setup: mode(2048, 0xFF, 1, 1)}),
		none(fuseArray{name: "g16registered", part: "GAL16V8", pins: 20, fuses: 2194, width: 32, columns: reg20, cells: rows(19, 256, 32, 12, 13, 14, 18, 19), clock: 1, oe: 11, setup: mode(2048, 0b00111000, 0, 1)}),
		none(fuseArray{name: "g20complex", part: "GAL20V8", pins: 24, fuses: 2706, width: 40, columns: low24, cells: rows(22, 320, 40), setup: mode(2560, 0xFF, 1, 1)}),
		none(fuseArray{name: "g20registered", part: "GAL20V8", pins: 24, fuses: 2706, width: 40, columns: reg24, cells: rows(22, 320, 40, 15, 16, 22), clock: 1, oe: 13, setup: mode(2560, 0b01111100, 0, 1)}),
		{name: "g22", part: "GAL22V10", pins: 24, fuses: 5892, width: 44, columns: big24, clock: 1, reset: 0, set: 5764, cells: []cell{
			{14, 5368, 5412, 5720, false, false}, {15, 4884, 4928, 5324, true, false}, {16, 4312, 4356, 4840, true, true}, {17, 3652, 3696, 4268, false, true}, {18, 2904, 2948, 3608, true, false},
			{19, 2156, 2200, 2860, true, true}, {20, 1496, 1540, 2112, false, false}, {21, 924, 968, 1452, true, true}, {22, 440, 484, 880, true, false}, {23, 44, 88, 396, false, true}}},
	}
	for i := range list {
		a := &list[i]
		if a.part == "GAL22V10" {
			a.setup = func(f []byte) {
				for _, c := range a.cells {
					at := 5808 + 2*(23-c.pin)
					f[at], f[at+1] = flag(c.high), flag(!c.register)
				}
			}
		}
	}
	return list
}

func flag(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// mode sets the architecture fuses of a GAL16V8 or 20V8: AC1 of each cell from the top pin down (highest bit first), SYN, AC0.
// All cells are active low; every row is used.
func mode(array int, ac1 int, syn, ac0 byte) func([]byte) {
	return func(f []byte) {
		for i := range 8 {
			f[array+i] = 0
			f[array+72+i] = byte(ac1 >> (7 - i) & 1)
		}
		for i := range 64 {
			f[array+80+i] = 1
		}
		f[array+144], f[array+145] = syn, ac0
	}
}

// randomMap sets the fuses of an array at random, sparsely, so that Verilog can try every completion of unknown leaves.
func (a *fuseArray) randomMap(random *rand.Rand) []byte {
	f := make([]byte, a.fuses)
	pins := sortedKeys(mapOf(a.columns))
	row := func(at int, from []int, literals int) {
		for i := range a.width {
			f[at+i] = 1
		}
		for range literals {
			p := from[random.Intn(len(from))]
			f[at+a.columns[p]+random.Intn(2)] = 0
		}
	}
	for i, c := range a.cells {
		var from []int // what the cell's terms use: a few leaves, and no loop of gates
		for len(from) < 5 {
			p := pins[random.Intn(len(pins))]
			if k := slices.IndexFunc(a.cells, func(c cell) bool { return c.pin == p }); k < 0 || a.cells[k].register || k < i {
				from = append(from, p)
			}
		}
		if c.enable >= 0 {
			switch random.Intn(4) {
			case 0: // never: the row stays intact as a whole
			case 1:
				row(c.enable, from[:2], 0)
			default:
				row(c.enable, from[:2], 1)
			}
		}
		for at := c.first; at <= c.last; at += a.width {
			if at == c.first || random.Intn(3) > 0 {
				row(at, from, 1+random.Intn(3))
			}
		}
	}
	if a.reset >= 0 {
		row(a.reset, pins[:3], 2)
		row(a.set, pins[3:6], 2)
	}
	if a.setup != nil {
		a.setup(f)
	}
	return f
}

func mapOf(m map[int]int) map[int]bool {
	out := map[int]bool{}
	for k := range m {
		out[k] = true
	}
	return out
}

// record writes the array with its fuses as a table of this package: Verilog expressions over pins p1, p2 … and registers s1, s2 ….
func (a *fuseArray) record(name string, fuses []byte) string {
	var b strings.Builder
	fmt.Fprintf(&b, "part %s\nsupply %d=5 %d=0\npins", name, a.pins, a.pins/2)
	used := map[int]bool{}
	lit := func(pin int, inverted bool) string {
		s := fmt.Sprintf("p%d", pin)
		for _, c := range a.cells {
			if c.pin == pin && c.register { // the register feeds back its inverted output
				s, inverted = fmt.Sprintf("s%d", pin), !inverted
			}
		}
		if s[0] == 'p' {
			used[pin] = true
		}
		if inverted {
			return "~" + s
		}
		return s
	}
	term := func(at int) string {
		text := "1'b1"
		for _, p := range sortedKeys(mapOf(a.columns)) {
			if fuses[at+a.columns[p]] == 0 && fuses[at+a.columns[p]+1] == 0 {
				return "1'b0"
			}
		}
		for _, p := range sortedKeys(mapOf(a.columns)) {
			for k := range 2 {
				if fuses[at+a.columns[p]+k] == 0 {
					text += " & " + lit(p, k == 1)
				}
			}
		}
		return "(" + text + ")"
	}
	var body strings.Builder
	driven := map[int]bool{}
	for _, c := range a.cells {
		when := "1'b1"
		if c.enable >= 0 {
			when = term(c.enable)
		}
		if when == "1'b0" && !c.register {
			continue
		}
		var terms []string
		for at := c.first; at <= c.last; at += a.width {
			if s := term(at); s != "1'b0" {
				terms = append(terms, s)
			}
		}
		sum := "(" + strings.Join(append(terms, "1'b0"), " | ") + ")"
		if c.register {
			s := fmt.Sprintf("s%d", c.pin)
			fmt.Fprintf(&body, "state %s 1\n", s)
			if a.reset >= 0 {
				fmt.Fprintf(&body, "level %s : %s = 1'b0\n", term(a.reset), s)
				sum = "(" + term(a.set) + " | " + sum + ")"
			}
			used[a.clock] = true
			fmt.Fprintf(&body, "rise p%d : %s = %s\n", a.clock, s, sum)
			sum = s
			if a.oe > 0 {
				used[a.oe] = true
				when = fmt.Sprintf("~p%d", a.oe)
			}
		}
		if !c.high {
			sum = "~" + sum
		}
		if when == "1'b0" {
			continue
		}
		driven[c.pin] = true
		fmt.Fprintf(&body, "tri p%d = %s when %s\n", c.pin, sum, when)
	}
	var other []string
	for p := 1; p <= a.pins; p++ {
		switch {
		case p == a.pins || p == a.pins/2:
		case used[p] || driven[p]:
			fmt.Fprintf(&b, " p%d=%d", p, p)
		default:
			other = append(other, fmt.Sprint(p))
		}
	}
	fmt.Fprintf(&b, "\n")
	if len(other) > 0 {
		fmt.Fprintf(&b, "other %s\n", strings.Join(other, " "))
	}
	return b.String() + body.String()
}

// fplaRecord writes a map of an 82S100 or 82S101: 48 terms of 16 pairs (complement first) and eight outputs, then eight polarities.
func fplaRecord(name string, open bool, fuses []byte) string {
	in := []int{9, 8, 7, 6, 5, 4, 3, 2, 27, 26, 25, 24, 23, 22, 21, 20}
	sums := make([]string, 8)
	used := map[int]bool{19: true}
	for term := range 48 {
		f := fuses[40*term:]
		text := "1'b1"
		zero := false
		for i, pin := range in {
			zero = zero || f[2*i] == 0 && f[2*i+1] == 0
			if f[2*i] == 0 {
				text += fmt.Sprintf(" & ~p%d", pin)
			}
			if f[2*i+1] == 0 {
				text += fmt.Sprintf(" & p%d", pin)
			}
		}
		for k := range sums {
			if f[32+k] == 0 && !zero {
				sums[k] += " | (" + text + ")"
				for i, pin := range in {
					used[pin] = used[pin] || f[2*i] == 0 || f[2*i+1] == 0
				}
			}
		}
	}
	var b, body strings.Builder
	fmt.Fprintf(&b, "part %s\nsupply 28=5 14=0\npins", name)
	for k, pin := range []int{18, 17, 16, 15, 13, 12, 11, 10} {
		value := "(1'b0" + sums[k] + ")"
		if fuses[1920+k] == 1 {
			value = "~" + value
		}
		if open {
			fmt.Fprintf(&body, "oc p%d = %s | p19\n", pin, value)
		} else {
			fmt.Fprintf(&body, "tri p%d = %s when ~p19\n", pin, value)
		}
		fmt.Fprintf(&b, " p%d=%d", pin, pin)
	}
	other := "\nother 1"
	for _, pin := range append([]int{19}, in...) {
		if used[pin] {
			fmt.Fprintf(&b, " p%d=%d", pin, pin)
		} else {
			other += fmt.Sprintf(" %d", pin)
		}
	}
	return b.String() + other + "\n" + body.String()
}

// randomFPLA joins each of a few terms to a few inputs and outputs.
func randomFPLA(random *rand.Rand) []byte {
	f := make([]byte, 1928)
	for i := range f {
		f[i] = 1
	}
	from := random.Perm(16)[:7]
	for range 12 {
		at := 40 * random.Intn(48)
		for range 1 + random.Intn(3) {
			f[at+2*from[random.Intn(7)]+random.Intn(2)] = 0
		}
		for range 1 + random.Intn(3) {
			f[at+32+random.Intn(8)] = 0
		}
	}
	for k := range 8 {
		f[1920+k] = byte(random.Intn(2))
	}
	return f
}

// TestFuseMaps drives every array with random maps at random, with unknown levels and with faults, and compares every pin in every moment.
func TestFuseMaps(t *testing.T) {
	if err := Available(); err != nil {
		t.Fatal(err)
	}
	lib := library(t)
	l := &Library{models: map[string]*Model{}}
	var jobs []Job
	var boards []*circuit.Circuit
	random := rand.New(rand.NewSource(16))
	type sample struct {
		name, part, text string
		fuses            []byte
	}
	var samples []sample
	for k := range 3 {
		for _, a := range fuseArrays() {
			fuses, name := a.randomMap(random), fmt.Sprintf("%s_%d", a.name, k)
			samples = append(samples, sample{name, a.part, a.record(name, fuses), fuses})
		}
		for _, name := range []string{"82S100", "82S101"} {
			fuses, own := randomFPLA(random), fmt.Sprintf("f%s_%d", name, k)
			samples = append(samples, sample{own, name, fplaRecord(own, name == "82S101", fuses), fuses})
		}
	}
	for k, x := range samples {
		records, err := parseTables(x.name, x.text)
		if err != nil {
			t.Fatal(err)
		}
		m, err := Compile(records[0])
		if err != nil {
			t.Fatalf("%s: %v\n%s", x.name, err, x.text)
		}
		l.Records, l.models[x.name] = append(l.Records, records[0]), m
		family := "ttl"
		if strings.HasPrefix(x.part, "GAL") {
			family = "cmos"
		}
		b := Single(m, x.name, family)
		Stimulate(b, random, 60, k >= len(samples)/3, Free(m))
		c := fused(t, lib, b, x.part, x.fuses)
		faults := [][]Fault{nil}
		for _, p := range m.Driven() {
			faults = append(faults, []Fault{{Kind: []string{"output-low", "output-high", "output-open"}[random.Intn(3)], Ref: "U1", Pin: p}})
		}
		for _, p := range m.Heard() {
			faults = append(faults, []Fault{{Kind: []string{"input-low", "input-high", "input-open"}[random.Intn(3)], Ref: "U1", Pin: p}})
			faults = append(faults, []Fault{{Kind: "joint-open", Ref: "U1", Pin: p}})
		}
		random.Shuffle(len(faults)-1, func(i, j int) { faults[i+1], faults[j+1] = faults[j+1], faults[i+1] })
		for _, f := range faults[:min(5, len(faults))] {
			jobs, boards = append(jobs, Job{b, f}), append(boards, c)
		}
	}
	want := run(t, l, jobs)
	compared, known := 0, 0
	for i, j := range jobs {
		fast := simulate(t, boards[i], j.Board, [][]Fault{j.Faults})[0]
		if d := compare(fast, want[i]); d.first != "" {
			t.Errorf("%s %v: fast simulator: %d of %d differ, first %s", j.Board.Parts[0].Type, j.Faults, d.differ, d.all, d.first)
		}
		if d := compare(slowly(t, boards[i], j.Board, j.Faults), want[i]); d.first != "" {
			t.Errorf("%s %v: slow reference: %d of %d differ, first %s", j.Board.Parts[0].Type, j.Faults, d.differ, d.all, d.first)
		}
		for _, m := range want[i].Moments {
			compared += len(m)
			for _, v := range m {
				if v == '0' || v == '1' {
					known++
				}
			}
		}
	}
	t.Logf("%d boards, %d levels, %d of them known", len(jobs), compared, known)
	if len(jobs) < 315 || compared < 340_000 || known < compared/2 {
		t.Errorf("only %d boards, %d levels, %d known", len(jobs), compared, known)
	}
}

// fused joins a board of one part with the library, the part being programmed with these fuses.
func fused(t *testing.T, lib *part.Library, b *Board, name string, fuses []byte) *circuit.Circuit {
	t.Helper()
	cb := coreBoard(b)
	cb.Parts[0].Type, cb.Parts[0].Fuses, cb.Parts[0].ContentsFile = name, fuses, "map.jed"
	c, findings := circuit.Build(cb, lib)
	if c == nil {
		t.Fatal(findings)
	}
	return c
}
