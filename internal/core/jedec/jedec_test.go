package jedec

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"
)

// The worked example of JEDEC Standard No. 3A: a file for programming and testing, with options. Its fuse checksum 124E is the standard's own.
const standardExample = `File for PLD 12S8 Created on 8-Feb-85 3:05PM
6809 memory decode 123-0017-001
Joe Engineer   Advanced Logic Corp *
QP20*    N Number of pins*
QF0448*  N Number of fuses*
QV8*     N Number of vectors*
G1*      N Program security fuse*
F0*      N Default fuse state*
X0*      N Default test condition*

N Fuse RAM Data*
L0000
1111101111111111111111111111
1011111111111111111111111111
1110111111111111111111111111*
L0112
0101011101111011111111111111*
L0224
0101011110111011111111111111*
L0336
0101011101110111111111111111*
N Test Vectors*
V0001 000000XXXNXXXHHHLXXN*
V0002 010000XXXNXXXHHHLXXN*
V0003 100000XXXNXXXHHHLXXN*
V0004 110000XXXNXXXHHHLXXN*
V0005 111000XXXNXXXHLHHXXN*
V0006 111010XXXNXXXHHHHXXN*
V0007 111100XXXNXXXHHLHXXN*
V0008 111110XXXNXXXLHHHXXN*
N Fuse RAM checksum*
C124E*
N Signature Analysis test information*
T01*
S00000000000000000000*
R95E4B822*
`

func TestStandardExample(t *testing.T) {
	f, fl := Read("x.jed", []byte(standardExample))
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	if !strings.HasPrefix(f.Title, "File for PLD 12S8") || !strings.HasSuffix(f.Title, "Logic Corp") || f.Pins != 20 || len(f.Fuses) != 448 || !f.Secured || f.Idle != '0' || len(f.Vectors) != 8 {
		t.Errorf("%q %d pins %d fuses secured %v idle %c %d vectors", f.Title, f.Pins, len(f.Fuses), f.Secured, f.Idle, len(f.Vectors))
	}
	if v := f.Vectors[4]; v.Number != 5 || v.Line != 27 || v.At != "111000XXXNXXXHLHHXXN" {
		t.Errorf("%+v", v)
	}
	var intact []int
	for i, s := range f.Fuses[:112] {
		if s == 0 && i < 84 {
			intact = append(intact, i)
		}
	}
	if fmt.Sprint(intact) != "[5 29 59]" || f.Fuses[84] != 0 || f.Fuses[111] != 0 || f.Fuses[113] != 1 {
		t.Errorf("intact %v", intact)
	}
}

// The other examples of the standard: fuse checksum 021A of 500 fuses, transmission checksum 05C4, fields in any order,
// the last state of a fuse and the last vector of a number count, the P field.
func TestStandardFields(t *testing.T) {
	f, fl := Read("x.jed", []byte("*QF500*\nF0* L0000 01001110 00001000 11110000 11111111 01010001*\nC021A*\n"))
	if len(fl) > 0 || len(f.Fuses) != 500 || Checksum(f.Fuses) != 0x21A {
		t.Errorf("%v %04X", fl, Checksum(f.Fuses))
	}
	k, fl := Read("x.jed", []byte("*QF500*F0*K0 4E08F0FF51*C021A*"))
	if len(fl) > 0 || !slices.Equal(k.Fuses, f.Fuses) {
		t.Errorf("hexadecimal: %v %v", fl, k.Fuses)
	}
	if _, fl := Read("x.jed", []byte("\x02TEST*\r\nQF0384*\r\nF0*  \r\nL10 101*\r\n\x0305C4\r random text")); len(fl) != 1 || !strings.Contains(fl[0].Text, "no fuse checksum") {
		t.Errorf("transmission checksum of the standard: %v", fl)
	}
	if _, fl := Read("x.jed", []byte("\x02TEST*\nQF0384*\nF0*  \nL10 101*\n\x0305C4\n")); len(fl) != 2 || fl.Errors() {
		t.Errorf("ends of lines changed: %v", fl)
	}
	f, fl = Read("x.jed", []byte("t*QP20*QF448*QV8*F0*L84 11*L84 0000*V1 000000000N000HHHL00N*V8 1*V8 111110000N000LHHH00N*P 1 2 3 4 5 6 14 15 16 17 7 8 9 10 11 12 13 18 19 20*V2 111000HLHHNNNNNNNNNN*C0000*"))
	if len(fl) != 0 || f.Fuses[84] != 0 || len(f.Vectors) != 3 {
		t.Errorf("%v %+v", fl, f)
	}
	f, fl = Read("x.jed", []byte("*QF8*QP20*F0*P 1 2 3 4 5 6 14 15 16 17 7 8 9 10 11 12 13 18 19 20*V0001 111000HLHHNNNNNNNNNN*C0000*"))
	if len(fl) != 0 || f.Vectors[0].At != "111000NNNNNNNHLHHNNN" {
		t.Errorf("%v %+v", fl, f.Vectors)
	}
}

// What editors, transfers and compilers do to files is read, with the same fuses.
func TestToleratedForms(t *testing.T) {
	want, _ := Read("x.jed", []byte(standardExample))
	cr := strings.ReplaceAll(standardExample, "\n", "\r")
	mixed := strings.Replace(strings.ReplaceAll(standardExample, "\n", "\r\n"), "\r\n", "\r", 3)
	utf := []byte{0xFF, 0xFE}
	for _, w := range utf16.Encode([]rune(standardExample)) {
		utf = append(utf, byte(w), byte(w>>8))
	}
	forms := map[string]string{"carriage returns": cr, "mixed ends of lines": mixed, "UTF-16": string(utf), "UTF-8 mark": "\xef\xbb\xbf" + standardExample,
		"STX and ETX": "sent by\n\x02" + standardExample + "\x030000\n", "padding": standardExample + "\x1a\x1a\x00", "checksum without ETX": standardExample + "\nA1B2\n",
		"no title": standardExample[strings.Index(standardExample, "QP20"):], "small letters": strings.Replace(standardExample, "C124E", "C124e", 1)}
	for name, text := range forms {
		f, fl := Read("x.jed", []byte(text))
		if fl.Errors() || !slices.Equal(f.Fuses, want.Fuses) || len(f.Vectors) != 8 {
			t.Errorf("%s: %v", name, fl)
		}
		if name != "no title" && name != "STX and ETX" && f.Vectors[4].Line != 27 {
			t.Errorf("%s: vector 5 on line %d", name, f.Vectors[4].Line)
		}
	}
}

// Mistakes are named with their line and a way out, and give no fuses.
func TestMistakes(t *testing.T) {
	cases := []struct {
		text, say string
		line      int
	}{
		{strings.Replace(standardExample, "C124E", "C124F", 1), "124F, but the fuses add up to 124E", 32},
		{strings.Replace(standardExample, "L0224\n0101", "L0224\n0121", 1), `fuse 226 has the state '2'`, 19},
		{strings.Replace(standardExample, "QF0448", "QF0320", 1), "fuse 336 is given, but the file says that the part has 320", 21},
		{strings.Replace(standardExample, "F0*  ", "     ", 1), "280 of 448 fuses are not given", 0},
		{strings.Replace(standardExample, "L0336\n", "L0336", 1), "has no states", 20},
		{standardExample[:strings.Index(standardExample, "C124E*")+3], "cut off", 32},
		{standardExample[:600], "cut off", 25},
		{"title*QF8*QF9*L0 11111111*", "given twice, 8 and 9", 1},
		{"title*\nF2*", "F is followed by", 2},
		{"title*\nC12*\nCxyz*", "no fuse checksum", 3},
		{"title*QF999999999*", "out of range", 1},
		{"title*F0*L5 1*QF3*", "fuse 5 is given, but the file says that the part has 3", 0},
		{"title*N nothing here*", "gives no fuses", 0},
		{":00000001FF\n", "no fuse map file", 1},
		{"", "gives no fuses", 0},
		{"title*Lx 1*", "does not begin with a fuse number", 1},
	}
	for _, c := range cases {
		f, fl := Read("x.jed", []byte(c.text))
		found := false
		for _, x := range fl {
			found = found || strings.Contains(x.Text, c.say) && x.Pos.Line == c.line && x.Hint != ""
		}
		if !found || !fl.Errors() || f.Fuses != nil {
			t.Errorf("%.60q: %v, expected %q on line %d", c.text, fl, c.say, c.line)
		}
	}
	if len(cases) != 16 {
		t.Error(len(cases))
	}
}

// Every changed state of the example changes the sum, so that a single flipped fuse never passes.
func TestFlippedFuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	from, to := strings.Index(standardExample, "L0000")+5, strings.Index(standardExample, "N Test")
	n := 0
	for i := from; i < to; i++ {
		c := standardExample[i]
		if c != '0' && c != '1' || strings.LastIndexByte(standardExample[:i], 'L') > strings.LastIndexByte(standardExample[:i], '\n') {
			continue
		}
		bad := []byte(standardExample)
		bad[i] ^= 1
		if _, fl := Read("x.jed", bad); !fl.Errors() {
			t.Errorf("a flipped state at %d passes", i)
		}
		n++
	}
	for range 200 { // two at once are only caught when they do not cancel: none may crash
		bad := []byte(standardExample)
		for range 3 {
			bad[rng.IntN(len(bad))] = byte(rng.Uint32())
		}
		Read("x.jed", bad)
	}
	if n != 6*28 {
		t.Error(n)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(standardExample))
	f.Add([]byte("\x02t*QF500*F0*K0 4E08F0FF51*C021A*\x030000"))
	f.Add([]byte("*P 1 2*V1 01*L0 1*"))
	f.Add([]byte{0xFE, 0xFF, 0, '*'})
	f.Fuzz(func(t *testing.T, data []byte) {
		file, fl := Read("x.jed", data)
		if fl.Errors() != (file.Fuses == nil) || len(file.Fuses) > Largest {
			t.Fatalf("%d fuses with %v", len(file.Fuses), fl)
		}
		for _, b := range file.Fuses {
			if b > 1 {
				t.Fatal(b)
			}
		}
		for _, x := range fl {
			if x.Text == "" || x.Hint == "" {
				t.Fatalf("%+v", x)
			}
		}
	})
}
