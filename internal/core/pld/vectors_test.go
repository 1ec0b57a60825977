package pld_test

import (
	"fmt"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/jedec"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/sim"
)

// The worked example of JEDEC Standard No. 3A (its PLD 12S8 is the array of a PAL14L4: fourteen inputs, four outputs of four terms):
// fuses, fuse checksum and test vectors are the standard's own.
const standardExample = `File for PLD 12S8 Created on 8-Feb-85 3:05PM*
QP20* QF448* QV8* F0* X0*
L0000 1111101111111111111111111111* L0028 1011111111111111111111111111* L0056 1110111111111111111111111111*
L0112 0101011101111011111111111111* L0224 0101011110111011111111111111* L0336 0101011101110111111111111111*
V0001 000000XXXNXXXHHHLXXN*
V0002 010000XXXNXXXHHHLXXN*
V0003 100000XXXNXXXHHHLXXN*
V0004 110000XXXNXXXHHHLXXN*
V0005 111000XXXNXXXHLHHXXN*
V0006 111010XXXNXXXHHHHXXN*
V0007 111100XXXNXXXHHLHXXN*
V0008 111110XXXNXXXLHHHXXN*
C124E*`

// play applies the vectors of a map to a part with these fuses and returns what does not fit, and how many levels were compared.
func play(t *testing.T, lib *part.Library, name string, fuses []byte, f jedec.File) (wrong []string, compared int) {
	t.Helper()
	m, err := lib.Find(name)
	if err != nil {
		t.Fatal(err)
	}
	b := &board.Board{Title: "tester", Parts: []board.Part{{Ref: "U1", Type: name, Fuses: fuses, ContentsFile: "map.jed"}}}
	net := func(pin int) string { return fmt.Sprintf("p%d", pin) }
	for k, p := range m.Type.Pins {
		n := m.Type.Nodes[p.Node]
		b.Parts[0].Pins = append(b.Parts[0].Pins, board.Pin{Pin: fmt.Sprint(k + 1), Net: net(k + 1)})
		if n.Supply {
			b.Rails = append(b.Rails, board.Rail{Net: net(k + 1), Volts: map[bool]float64{true: 5}[n.Name == "VCC"]})
		} else {
			b.Inputs = append(b.Inputs, board.Name{Text: net(k + 1)})
		}
	}
	action := board.Action{Name: "vectors"}
	last := make([]int, len(f.Vectors)) // moment that ends each vector
	for i, v := range f.Vectors {
		for _, clock := range phases(v.At) {
			var step board.Step
			for k, p := range m.Type.Pins {
				n := m.Type.Nodes[p.Node]
				if n.Supply {
					continue
				}
				step.Sets = append(step.Sets, board.Set{Net: net(k + 1), Value: drive(v.At[k], clock, n.Use&part.Driven != 0, f.Idle)})
			}
			action.Steps = append(action.Steps, step)
		}
		last[i] = len(action.Steps)
	}
	b.Actions = []board.Action{action}
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl)
	}
	program := sim.Compile(c)
	engine := sim.NewEngine(program)
	levels := map[int]string{}
	engine.Run(program.Unknown(nil).Extend(0), program.Overlay(nil, nil), nil, func(moment int) {
		var s strings.Builder
		for k := range m.Type.Pins {
			n, _ := c.Net(net(k + 1))
			s.WriteByte(engine.NetLevel(n).Sign(0))
		}
		levels[moment] = s.String()
	})
	for i, v := range f.Vectors {
		for k := range v.At {
			want, tested := map[byte]byte{'H': '1', 'L': '0', 'Z': 'Z'}[v.At[k]]
			if !tested {
				continue
			}
			compared++
			if got := levels[last[i]][k]; got != want {
				wrong = append(wrong, fmt.Sprintf("vector %d pin %d: %c, expected %c", v.Number, k+1, got, want))
			}
		}
	}
	return wrong, compared
}

// phases are the levels that a clock takes during a vector.
func phases(at string) []byte {
	switch {
	case strings.Contains(at, "C"):
		return []byte("010")
	case strings.Contains(at, "K"):
		return []byte("101")
	}
	return []byte("0")
}

func drive(condition, clock byte, output bool, idle byte) board.Value {
	switch condition {
	case '0', '1':
		return board.Value{Number: uint64(condition - '0')}
	case 'C', 'K':
		return board.Value{Number: uint64(clock - '0')}
	case 'X':
		if !output && idle != 0 {
			return board.Value{Number: uint64(idle - '0')}
		}
	}
	return board.Value{Letter: 'z'}
}

func library(t *testing.T) *part.Library {
	t.Helper()
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	return lib
}

func TestStandardVectors(t *testing.T) {
	lib := library(t)
	f, fl := jedec.Read("example", []byte(standardExample))
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	wrong, compared := play(t, lib, "PAL14L4", f.Fuses, f)
	if len(wrong) > 0 || compared != 32 {
		t.Errorf("%d levels compared, %v", compared, wrong)
	}
	if wrong, _ := play(t, lib, "PAL14H4", f.Fuses, f); len(wrong) != 32 {
		t.Errorf("the active-high part differs in %d levels, not in all 32", len(wrong))
	}
	// The vectors see a wrong fuse: ten of the eighteen that join a line to a term, by our count; eight vectors cannot see all.
	seen, flipped := 0, 0
	for i, s := range f.Fuses {
		if s == 1 || f.Fuses[i/28*28] == 0 && f.Fuses[i/28*28+1] == 0 {
			continue
		}
		flipped++
		bad := append([]byte(nil), f.Fuses...)
		bad[i] = 1
		if wrong, _ := play(t, lib, "PAL14L4", bad, f); len(wrong) > 0 {
			seen++
		}
	}
	if flipped != 18 || seen != 10 {
		t.Errorf("%d of %d blown fuses seen by the vectors", seen, flipped)
	}
}

// A PAL16R4 as a counter of four bits with clear, of which the equations are written out and the fuses set by hand from the row and
// column numbers of the logic diagram; the vectors follow from what a counter does.
func TestCounterVectors(t *testing.T) {
	const size = 2048
	fuses := make([]byte, size)
	column := map[int]int{2: 0, 14: 22, 15: 18, 16: 14, 17: 10} // true line; the complement is one higher
	term := func(first int, lines ...int) {                     // a negative pin is its complement
		for i := range 32 {
			fuses[first+i] = 1
		}
		for _, l := range lines {
			if l > 0 {
				fuses[first+column[l]] = 0
			} else {
				fuses[first+column[-l]+1] = 0
			}
		}
	}
	// /Qn := /clear + what keeps or makes it low. Pin 17 is the lowest bit; pins are high when their bit is 1.
	bits := []int{17, 16, 15, 14}
	start := map[int]int{17: 512, 16: 768, 15: 1024, 14: 1280}
	for k, q := range bits {
		row := start[q]
		next := func(lines ...int) { term(row, lines...); row += 32 }
		next(-2) // clear is active low on pin 2
		all := []int{q}
		for _, lower := range bits[:k] {
			next(-q, -lower) // low and some lower bit low: stays low
			all = append(all, lower)
		}
		next(all...) // all ones: turns low
	}
	var f jedec.File
	vector := func(clear, oe byte, value int, shown bool) {
		at := []byte("C" + string(clear) + "XXXXXXXN" + string(oe) + "XXHHHHXXN")
		for k := range 4 {
			at[13+k] = "LH"[value>>(3-k)&1]
			if !shown {
				at[13+k] = 'Z'
			}
		}
		f.Vectors = append(f.Vectors, jedec.Vector{Number: len(f.Vectors) + 1, At: string(at)})
	}
	f.Idle = '0'
	vector('0', '0', 0, true)
	for n := 1; n <= 18; n++ {
		vector('1', '0', n%16, true)
	}
	vector('1', '1', 0, false)
	vector('1', '0', 4, true)
	vector('0', '0', 0, true)
	wrong, compared := play(t, library(t), "PAL16R4", fuses, f)
	if len(wrong) > 0 || compared != 4*len(f.Vectors) || compared != 88 {
		t.Errorf("%d levels compared, %v", compared, wrong)
	}
}
